//! PINs: kept as a slow hash (PBKDF2-HMAC-SHA256 with a random salt), never as digits.

use js_sys::{Array, Object, Promise, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::SubtleCrypto;

use super::{property, random};

const NAME: &str = "pbkdf2-sha256";
const ITERATIONS: u32 = 600_000;
/// A stored record may ask for no more work than this, nor be weaker than that.
const ALLOWED: std::ops::RangeInclusive<u32> = 100_000..=2_000_000;
const HASH_BYTES: usize = 32;

/// Why a PIN could not be kept or checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PinError {
    /// The browser offers its cryptography to secure pages only.
    #[error("This browser offers no cryptography on this page: open Upsweep through https or on this device itself")]
    NoCrypto,
    /// The stored record is damaged or asks for more work than is allowed.
    #[error("The stored PIN record is damaged: the owner has to set a new PIN")]
    Damaged,
}

/// Makes the record that a PIN is checked against: `pbkdf2-sha256$600000$salt$hash`, salt and hash in hexadecimal digits.
///
/// # Errors
/// Returns [`PinError::NoCrypto`] on a page that is not secure.
pub async fn make_record(pin: &str) -> Result<String, PinError> {
    if !random::has_strong_source() {
        return Err(PinError::NoCrypto);
    }
    let salt = random::bytes();
    let hash = derive(pin, &salt, ITERATIONS).await.ok_or(PinError::NoCrypto)?;
    Ok(format!("{NAME}${ITERATIONS}${}${}", random::hex(&salt), random::hex(&hash)))
}

/// Returns whether a PIN is the one the record was made from.
///
/// # Errors
/// Returns [`PinError::Damaged`] for a record that cannot be read and [`PinError::NoCrypto`] on a page that is not secure.
pub async fn check(pin: &str, record: &str) -> Result<bool, PinError> {
    let kept = Kept::read(record).ok_or(PinError::Damaged)?;
    let hash = derive(pin, &kept.salt, kept.iterations).await.ok_or(PinError::NoCrypto)?;
    Ok(same(&hash, &kept.hash))
}

/// A record, read.
#[derive(Debug, PartialEq, Eq)]
struct Kept {
    iterations: u32,
    salt: Vec<u8>,
    hash: Vec<u8>,
}

impl Kept {
    fn read(record: &str) -> Option<Self> {
        let mut parts = record.split('$');
        let (name, iterations) = (parts.next()?, parts.next()?.parse().ok()?);
        let (salt, hash) = (unhex(parts.next()?)?, unhex(parts.next()?)?);
        let sound = name == NAME
            && parts.next().is_none()
            && ALLOWED.contains(&iterations)
            && (8..=64).contains(&salt.len())
            && hash.len() == HASH_BYTES;
        sound.then_some(Self { iterations, salt, hash })
    }
}

async fn derive(pin: &str, salt: &[u8], iterations: u32) -> Option<Vec<u8>> {
    let crypto = property(&property(&js_sys::global(), "crypto")?, "subtle")?;
    let crypto: SubtleCrypto = crypto.unchecked_into();
    let uses = Array::of1(&"deriveBits".into());
    let secret = Uint8Array::from(pin.as_bytes());
    let key = crypto.import_key_with_str("raw", &secret, "PBKDF2", false, &uses).ok()?;
    let key = JsFuture::from(Promise::resolve(&key)).await.ok()?.unchecked_into();
    let how = Object::new();
    Reflect::set(&how, &"name".into(), &"PBKDF2".into()).ok()?;
    Reflect::set(&how, &"hash".into(), &"SHA-256".into()).ok()?;
    Reflect::set(&how, &"salt".into(), &Uint8Array::from(salt)).ok()?;
    Reflect::set(&how, &"iterations".into(), &JsValue::from(iterations)).ok()?;
    let bits = crypto.derive_bits_with_object(&how, &key, 256).ok()?;
    let bits = JsFuture::from(Promise::resolve(&bits)).await.ok()?;
    Some(Uint8Array::new(&bits).to_vec()).filter(|hash| hash.len() == HASH_BYTES)
}

/// Compares without stopping at the first difference.
fn same(one: &[u8], other: &[u8]) -> bool {
    one.len() == other.len() && one.iter().zip(other).fold(0, |differences, (a, b)| differences | (a ^ b)) == 0
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let digits: Vec<u32> = text.chars().map(|digit| digit.to_digit(16)).collect::<Option<_>>()?;
    if !digits.len().is_multiple_of(2) {
        return None;
    }
    digits.chunks_exact(2).map(|pair| u8::try_from(pair.iter().fold(0, |byte, digit| byte * 16 + digit)).ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::{Kept, same, unhex};

    fn record(iterations: &str, salt: &str, hash: &str) -> String {
        format!("pbkdf2-sha256${iterations}${salt}${hash}")
    }

    #[test]
    fn a_record_reads_back() {
        let kept = Kept::read(&record("600000", &"0a".repeat(16), &"ff".repeat(32)));
        assert_eq!(kept, Some(Kept { iterations: 600_000, salt: vec![10; 16], hash: vec![255; 32] }));
    }

    #[test]
    fn a_hostile_or_damaged_record_is_refused() {
        let (salt, hash) = ("0a".repeat(16), "ff".repeat(32));
        for bad in [
            String::new(),
            record("4000000000", &salt, &hash),
            record("1", &salt, &hash),
            record("-1", &salt, &hash),
            record("600000", "", &hash),
            record("600000", &salt, ""),
            record("600000", &salt, &"ff".repeat(31)),
            record("600000", &salt, &"é".repeat(32)),
            record("600000", &salt, &hash) + "$more",
            record("600000", &salt, &hash).replace("sha256", "sha1"),
        ] {
            assert_eq!(Kept::read(&bad), None, "{bad}");
        }
    }

    #[test]
    fn hashes_are_the_same_only_when_every_byte_is() {
        assert!(same(&[1, 2], &[1, 2]));
        assert!(!same(&[1, 2], &[1, 3]));
        assert!(!same(&[1, 2], &[1]));
        assert_eq!(unhex("0aFf"), Some(vec![10, 255]));
        assert_eq!(unhex("0af"), None);
    }
}
