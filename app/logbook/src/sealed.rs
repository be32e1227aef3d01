//! Sealed bytes: what only a passphrase opens, for private keys that are written down and for files on their way.
//!
//! A seal says by itself how it was made: the mark, the version, what Argon2id (RFC 9106) was asked for, the salt
//! and the nonce, then what XChaCha20-Poly1305 made of the content (draft-irtf-cfrg-xchacha-03). All that stands
//! before the content is authenticated with it. What a seal may ask for is bounded on reading: a hostile file
//! cannot make a device work for minutes or take all of its memory.

use argon2::{Algorithm, Argon2, Params, Version};
use chacha20poly1305::aead::{Aead, KeyInit, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use zeroize::Zeroizing;

/// What every seal begins with.
const MARK: &[u8; 8] = b"upsealed";
/// Version of the form.
const VERSION: u8 = 1;
/// Memory asked of Argon2id, in KiB: 19 MiB, as the OWASP password storage cheat sheet has it for two passes.
const MEMORY: u32 = 19 * 1024;
/// Passes asked of Argon2id.
const PASSES: u32 = 2;
/// Most memory that a seal may ask for, in KiB.
const MOST_MEMORY: u32 = 64 * 1024;
/// Least memory that a seal may ask for, in KiB: less would be no lock.
const LEAST_MEMORY: u32 = 8 * 1024;
/// Most passes that a seal may ask for.
const MOST_PASSES: u32 = 8;
/// Bytes of salt.
const SALT: usize = 16;
/// Bytes of the nonce.
const NONCE: usize = 24;
/// Bytes before the content.
const HEAD: usize = MARK.len() + 1 + 4 + 4 + SALT + NONCE;
/// Fewest characters of a new passphrase: proposal, no source.
pub const FEWEST: usize = 12;
/// Longest passphrase, in bytes.
const LONGEST: usize = 1024;

/// Random bytes that one seal needs.
pub type Fresh = [u8; SALT + NONCE];

/// Why something was not sealed or not opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// It does not begin as a seal does.
    #[error("this is not sealed with a passphrase")]
    NotSealed,
    /// A later version of the app made it.
    #[error("a later version of the app sealed this: reload the app to get the latest version")]
    Newer,
    /// It asks for more work than any seal of this app does, or for less than a lock needs.
    #[error("this seal asks for work that no seal of this app asks for: it is damaged or was made to do harm")]
    Unreasonable,
    /// The passphrase is another one, or a byte was changed. Nobody can tell which.
    #[error("the passphrase does not open this: type it again; if it is right, the copy is damaged")]
    Wrong,
    /// The new passphrase is too short.
    #[error("a passphrase has at least {FEWEST} characters: several words are easier to keep than odd signs")]
    TooShort,
    /// The passphrase is far too long.
    #[error("this passphrase is too long: at most {LONGEST} bytes are taken")]
    TooLong,
    /// There is not memory enough.
    #[error("this device has not memory enough to work with passphrases")]
    NoMemory,
}

/// Says what is wrong with a new passphrase.
///
/// # Errors
/// Returns [`SealError::TooShort`] or [`SealError::TooLong`].
pub fn check_passphrase(new: &str) -> Result<(), SealError> {
    if new.trim().chars().count() < FEWEST {
        return Err(SealError::TooShort);
    }
    if new.len() > LONGEST { Err(SealError::TooLong) } else { Ok(()) }
}

/// Whether bytes begin as sealed ones do.
pub fn is_sealed(bytes: &[u8]) -> bool {
    bytes.starts_with(MARK)
}

/// Seals bytes with a passphrase; spaces at its ends do not count. `fresh` is random and used for one seal only.
///
/// # Errors
/// Returns [`SealError::TooShort`], [`SealError::TooLong`] or [`SealError::NoMemory`].
pub fn seal(content: &[u8], passphrase: &str, fresh: &Fresh) -> Result<Vec<u8>, SealError> {
    check_passphrase(passphrase)?;
    let mut head = MARK.to_vec();
    head.push(VERSION);
    head.extend_from_slice(&MEMORY.to_le_bytes());
    head.extend_from_slice(&PASSES.to_le_bytes());
    head.extend_from_slice(fresh);
    let (salt, nonce) = fresh.split_at(SALT);
    let cipher = cipher(passphrase, salt, MEMORY, PASSES)?;
    let nonce = XNonce::try_from(nonce).map_err(|_| SealError::NoMemory)?;
    let sealed = cipher.encrypt(&nonce, Payload { msg: content, aad: &head }).map_err(|_| SealError::NoMemory)?;
    head.extend_from_slice(&sealed);
    Ok(head)
}

/// Opens sealed bytes.
///
/// # Errors
/// Returns why they do not open; nothing of the content is given out then.
pub fn open(sealed: &[u8], passphrase: &str) -> Result<Zeroizing<Vec<u8>>, SealError> {
    if !is_sealed(sealed) {
        return Err(SealError::NotSealed);
    }
    if sealed.get(MARK.len()).is_some_and(|version| *version > VERSION) {
        return Err(SealError::Newer);
    }
    let (head, content) = sealed.split_at_checked(HEAD).ok_or(SealError::Wrong)?;
    let (memory, passes) = match head.get(MARK.len() + 1..MARK.len() + 9) {
        Some([a, b, c, d, e, f, g, h]) => (u32::from_le_bytes([*a, *b, *c, *d]), u32::from_le_bytes([*e, *f, *g, *h])),
        _ => return Err(SealError::Wrong),
    };
    if !(LEAST_MEMORY..=MOST_MEMORY).contains(&memory) || !(1..=MOST_PASSES).contains(&passes) {
        return Err(SealError::Unreasonable);
    }
    if passphrase.len() > LONGEST {
        return Err(SealError::TooLong);
    }
    let (salt, nonce) =
        head.get(MARK.len() + 9..).and_then(|rest| rest.split_at_checked(SALT)).ok_or(SealError::Wrong)?;
    let cipher = cipher(passphrase, salt, memory, passes)?;
    let nonce = XNonce::try_from(nonce).map_err(|_| SealError::Wrong)?;
    let opened = cipher.decrypt(&nonce, Payload { msg: content, aad: head }).map_err(|_| SealError::Wrong)?;
    Ok(Zeroizing::new(opened))
}

fn cipher(passphrase: &str, salt: &[u8], memory: u32, passes: u32) -> Result<XChaCha20Poly1305, SealError> {
    let params = Params::new(memory, passes, 1, Some(32)).map_err(|_| SealError::Unreasonable)?;
    let mut key = Zeroizing::new([0_u8; 32]);
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
        .hash_password_into(passphrase.trim().as_bytes(), salt, key.as_mut())
        .map_err(|_| SealError::NoMemory)?;
    XChaCha20Poly1305::new_from_slice(key.as_ref()).map_err(|_| SealError::NoMemory)
}

#[cfg(test)]
mod tests {
    use super::{HEAD, MARK, SealError, check_passphrase, open, seal};

    const WORDS: &str = "four small sections first";

    #[test]
    fn what_was_sealed_opens_with_its_passphrase_only() {
        let sealed = seal(b"a private key", WORDS, &[7; 40]).unwrap();
        assert_eq!(open(&sealed, WORDS).unwrap().as_slice(), b"a private key");
        assert_eq!(open(&sealed, &format!(" {WORDS}\n")).unwrap().as_slice(), b"a private key");
        assert_eq!(open(&sealed, "Four small sections first"), Err(SealError::Wrong));
        assert_eq!(open(&sealed, ""), Err(SealError::Wrong));
        assert!(!sealed.windows(13).any(|bytes| bytes == b"a private key"));
    }

    #[test]
    fn no_flipped_bit_of_a_seal_passes() {
        let sealed = seal(b"k", WORDS, &[9; 40]).unwrap();
        // Each opening works for tens of milliseconds: one bit of every part of the head, every byte after it.
        let places = (0..MARK.len() + 9).chain([20, 40]).chain(HEAD..sealed.len());
        for place in places {
            let mut changed = sealed.clone();
            changed[place] ^= 1;
            assert!(open(&changed, WORDS).is_err(), "byte {place}");
        }
    }

    #[test]
    fn a_seal_that_asks_for_gigabytes_or_is_cut_is_refused_at_once() {
        let sealed = seal(b"k", WORDS, &[1; 40]).unwrap();
        for (place, bytes) in [(9, 4_000_000_u32), (9, 0), (13, 1_000_000), (13, 0)] {
            let mut hostile = sealed.clone();
            hostile[place..place + 4].copy_from_slice(&bytes.to_le_bytes());
            assert_eq!(open(&hostile, WORDS), Err(SealError::Unreasonable));
        }
        let mut newer = sealed.clone();
        newer[8] = 2;
        assert_eq!(open(&newer, WORDS), Err(SealError::Newer));
        for end in 0..HEAD {
            assert!(open(&sealed[..end], WORDS).is_err());
        }
        assert_eq!(open(b"{}", WORDS), Err(SealError::NotSealed));
    }

    #[test]
    fn a_short_passphrase_is_no_lock() {
        assert_eq!(check_passphrase("   twelve   "), Err(SealError::TooShort));
        assert_eq!(check_passphrase(&"x".repeat(2_000)), Err(SealError::TooLong));
        assert!(check_passphrase("zwölf Zeichen").is_ok());
    }
}
