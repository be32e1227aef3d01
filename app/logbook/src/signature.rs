//! Signatures: Ed25519 (RFC 8032) over a header in its canonical form, so that anybody can check who wrote it.
//!
//! What is signed follows the suite `eddsa-jcs-2022` of the W3C (Data Integrity EdDSA Cryptosuites 1.0, section
//! 3.3): SHA-256 of the proof's particulars, then SHA-256 of the document, both in the canonical form of RFC
//! 8785. The document is the header, whose `academy`, `kind` and `version` keep a signature from being used
//! for anything else. A public key is written as in `did:key`: `z`, then base58 of `ed01` and 32 bytes.
//!
//! This module knows public keys and how to check; a private key stays where it was made, and signs the bytes
//! that [`proof_bytes`] gives.

use std::cell::RefCell;
use std::collections::HashMap;
use std::fmt;

use ed25519_dalek::{Signature as RawSignature, VerifyingKey};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::json;

/// Length of a signature in bytes.
const LENGTH: usize = 64;
/// What stands before the 32 bytes of an Ed25519 key in its multicodec form.
const ED25519: [u8; 2] = [0xed, 0x01];
/// Longest text taken for a key or a signature, in bytes.
const LONGEST: usize = 128;

/// Most keys that are remembered as read.
const MOST_KNOWN: usize = 256;

thread_local! {
    // A log has thousands of entries and few keys, and whether a text is a sound key takes some 50 µs to find out.
    static KNOWN: RefCell<HashMap<String, PublicKey>> = RefCell::default();
}

/// A public key, held only when it can have signed something: no point of small order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct PublicKey(VerifyingKey);

impl PartialOrd for PublicKey {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for PublicKey {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.as_bytes().cmp(other.0.as_bytes())
    }
}

impl PublicKey {
    /// Takes the 32 bytes of a key.
    ///
    /// # Errors
    /// Returns a sentence when they are no key, or one that would sign anything.
    pub fn of_bytes(bytes: &[u8]) -> Result<Self, String> {
        let bytes: [u8; 32] = bytes.try_into().map_err(|_| "an Ed25519 key has 32 bytes".to_owned())?;
        let key = VerifyingKey::from_bytes(&bytes).map_err(|_| "these bytes are no Ed25519 key".to_owned())?;
        let written_otherwise = key.to_edwards().compress().to_bytes() != bytes;
        match key.is_weak() || written_otherwise {
            true => Err("this key is weak: signatures by it would mean nothing".to_owned()),
            false => Ok(Self(key)),
        }
    }

    /// Reads a key as [`PublicKey::text`] writes it.
    ///
    /// # Errors
    /// Returns a sentence that says what is wrong with the text.
    pub fn read(text: &str) -> Result<Self, String> {
        if let Some(known) = KNOWN.with_borrow(|known| known.get(text).copied()) {
            return Ok(known);
        }
        let bytes = multibase(text)?;
        let key = match bytes.strip_prefix(&ED25519) {
            Some(key) => Self::of_bytes(key)?,
            None => return Err("this is not an Ed25519 key".to_owned()),
        };
        KNOWN.with_borrow_mut(|known| {
            if known.len() >= MOST_KNOWN {
                known.clear();
            }
            known.insert(text.to_owned(), key);
        });
        Ok(key)
    }

    /// Returns the key in multibase: `z6Mk…`.
    pub fn text(&self) -> String {
        format!("z{}", bs58::encode([&ED25519[..], self.0.as_bytes()].concat()).into_string())
    }

    /// Returns the 32 bytes.
    pub fn bytes(&self) -> &[u8; 32] {
        self.0.as_bytes()
    }

    /// Returns the fingerprint that people compare: the first 20 hex digits of the key's SHA-256, in fives.
    pub fn fingerprint(&self) -> String {
        let digest = json::sha256(self.0.as_bytes());
        let fives: Vec<&str> = (0..4).filter_map(|five| digest.get(five * 5..five * 5 + 5)).collect();
        fives.join("-")
    }

    /// Whether a signature over bytes is this key's. Strict: no second form of a signature passes.
    pub fn signed(&self, bytes: &[u8], signature: &Signature) -> bool {
        self.0.verify_strict(bytes, &RawSignature::from_bytes(&signature.0)).is_ok()
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text())
    }
}

/// A signature: 64 bytes, not yet checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signature([u8; LENGTH]);

impl Signature {
    /// Takes the 64 bytes of a signature.
    ///
    /// # Errors
    /// Returns a sentence when there are fewer or more.
    pub fn of_bytes(bytes: &[u8]) -> Result<Self, String> {
        bytes.try_into().map(Self).map_err(|_| "an Ed25519 signature has 64 bytes".to_owned())
    }

    /// Reads a signature as [`Signature::text`] writes it.
    ///
    /// # Errors
    /// Returns a sentence that says what is wrong with the text.
    pub fn read(text: &str) -> Result<Self, String> {
        Self::of_bytes(&multibase(text)?)
    }

    /// Returns the 64 bytes.
    pub fn bytes(&self) -> &[u8; LENGTH] {
        &self.0
    }

    /// Returns the signature in multibase, as a proof's `proofValue`.
    pub fn text(&self) -> String {
        format!("z{}", bs58::encode(self.0).into_string())
    }
}

/// Returns the bytes that are signed for a document: SHA-256 of the proof's particulars, then of the document.
///
/// `proof` holds the particulars without `proofValue`; `document` is without its proof.
///
/// # Errors
/// Returns why one of them has no canonical form.
pub fn proof_bytes(proof: &Value, document: &Value) -> Result<Vec<u8>, String> {
    let mut bytes = Sha256::digest(json::canonical(proof)?.as_bytes()).to_vec();
    bytes.extend_from_slice(&Sha256::digest(json::canonical(document)?.as_bytes()));
    Ok(bytes)
}

/// Returns the particulars of the proof that a key makes over a header.
pub fn particulars(key: &PublicKey) -> Value {
    let key = key.text();
    json!({
        "cryptosuite": "eddsa-jcs-2022",
        "proofPurpose": "assertionMethod",
        "type": "DataIntegrityProof",
        "verificationMethod": format!("did:key:{key}#{key}"),
    })
}

/// Returns the bytes that a key signs for a header whose canonical form hashes to `header_hash`, 64 hex digits.
///
/// # Errors
/// Returns why there are none.
pub(crate) fn signed_bytes(key: &PublicKey, header_hash: &str) -> Result<Vec<u8>, String> {
    let key = key.text();
    // The canonical form of `particulars`, without the way there.
    let particulars = format!(
        "{{\"cryptosuite\":\"eddsa-jcs-2022\",\"proofPurpose\":\"assertionMethod\",\"type\":\"DataIntegrityProof\",\
         \"verificationMethod\":\"did:key:{key}#{key}\"}}"
    );
    let mut bytes = Sha256::digest(particulars.as_bytes()).to_vec();
    for pair in header_hash.as_bytes().chunks(2) {
        let byte = std::str::from_utf8(pair).ok().and_then(|pair| u8::from_str_radix(pair, 16).ok());
        bytes.push(byte.ok_or_else(|| "the header has no hash".to_owned())?);
    }
    Ok(bytes)
}

fn multibase(text: &str) -> Result<Vec<u8>, String> {
    if text.len() > LONGEST {
        return Err("this text is too long for a key or a signature".to_owned());
    }
    let base58 = text.strip_prefix('z').ok_or_else(|| "this does not begin with “z”, as base58 does".to_owned())?;
    bs58::decode(base58).into_vec().map_err(|_| "this is not written in base58".to_owned())
}

#[cfg(test)]
mod tests {
    use super::{PublicKey, Signature};

    /// Key of test 1 of RFC 8032, section 7.1, from memory.
    const KEY: [u8; 32] = [
        0xd7, 0x5a, 0x98, 0x01, 0x82, 0xb1, 0x0a, 0xb7, 0xd5, 0x4b, 0xfe, 0xd3, 0xc9, 0x64, 0x07, 0x3a, 0x0e, 0xe1,
        0x72, 0xf3, 0xda, 0xa6, 0x23, 0x25, 0xaf, 0x02, 0x1a, 0x68, 0xf7, 0x07, 0x51, 0x1a,
    ];

    #[test]
    fn a_key_reads_as_it_is_written() {
        let key = PublicKey::of_bytes(&KEY).unwrap();
        assert_eq!(PublicKey::read(&key.text()), Ok(key));
        assert!(key.text().starts_with("z6Mk"));
        assert_eq!(key.fingerprint().len(), 23);
    }

    #[test]
    fn what_is_signed_is_the_canonical_form_of_the_particulars() {
        let key = PublicKey::of_bytes(&KEY).unwrap();
        let hash = crate::json::sha256(b"{}");
        let long = super::proof_bytes(&super::particulars(&key), &serde_json::json!({})).unwrap();
        assert_eq!(super::signed_bytes(&key, &hash), Ok(long));
    }

    #[test]
    fn weak_short_and_foreign_keys_are_refused() {
        let mut identity = [0_u8; 32];
        identity[0] = 1;
        for bytes in [&identity[..], &[0; 32], &[0xff; 32], &KEY[..31], &[]] {
            assert!(PublicKey::of_bytes(bytes).is_err(), "{bytes:?}");
        }
        for text in
            ["", "z", "6Mk", "z0OIl", "é", "zé", &"z1".repeat(200), &format!("z{}", bs58::encode(KEY).into_string())]
        {
            assert!(PublicKey::read(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_signature_has_64_bytes_and_reads_as_it_is_written() {
        let signature = Signature::of_bytes(&[7; 64]).unwrap();
        assert_eq!(Signature::read(&signature.text()), Ok(signature));
        assert!(Signature::of_bytes(&[7; 63]).is_err() && Signature::of_bytes(&[7; 65]).is_err());
    }
}
