//! JSON as the log takes and writes it: strict when read, canonical when written (RFC 8785).

mod canonical;
pub(crate) mod scan;
mod typed;

use std::fmt;

pub(crate) use typed::typed;

use serde::Serialize;
use serde::de::{DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::map::Entry;
use serde_json::{Map, Number, Value};
use sha2::{Digest, Sha256};

/// Largest whole number that every JSON reader takes exactly.
pub(crate) const LARGEST: u64 = 9_007_199_254_740_991;

/// From here on ECMAScript writes a number with an exponent (RFC 8785, section 3.2.2.3).
const WRITTEN_OUT: f64 = 1e21;

/// Reads one JSON value and refuses what two readers could take differently: a key that stands twice in
/// an object, and whole numbers beyond 2^53 - 1, however they are written.
///
/// # Errors
/// Returns what is wrong and where.
pub(crate) fn read(text: &str) -> Result<Value, serde_json::Error> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = Strict.deserialize(&mut reader)?;
    reader.end()?;
    Ok(value)
}

/// Writes a value in its canonical form.
///
/// # Errors
/// Returns why it cannot be written, which no value read by [`read`] gives cause for.
pub(crate) fn canonical<T: Serialize + ?Sized>(value: &T) -> Result<String, String> {
    // By way of a value: the canonical writer is then written for values alone.
    Ok(canonical_value(&serde_json::to_value(value).map_err(|error| error.to_string())?))
}

/// Writes a value in its canonical form.
pub(crate) fn canonical_value(value: &Value) -> String {
    let mut text = String::with_capacity(512);
    canonical::write(value, &mut text);
    text
}

/// Returns the SHA-256 of bytes as 64 lower-case hex digits.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Writes bytes as lower-case hex digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |nibble: u8| DIGITS.get(usize::from(nibble)).map_or('0', |digit| char::from(*digit));
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        text.push(digit(byte >> 4));
        text.push(digit(byte & 15));
    }
    text
}

/// Whether a text is made of lower-case hex digits only, as many as allowed.
pub(crate) fn is_hex(text: &str, length: std::ops::RangeInclusive<usize>) -> bool {
    length.contains(&text.len()) && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

struct Strict;

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Value, E> {
        match value <= LARGEST {
            true => Ok(Value::from(value)),
            false => Err(E::custom(format!("the number {value} is larger than can be kept exactly"))),
        }
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Value, E> {
        match value.unsigned_abs() <= LARGEST {
            true => Ok(Value::from(value)),
            false => Err(E::custom(format!("the number {value} is larger than can be kept exactly"))),
        }
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Value, E> {
        // Its canonical form would be a whole number that is refused when it is read again.
        if value.fract() == 0.0 && value.abs() > LARGEST as f64 && value.abs() < WRITTEN_OUT {
            return Err(E::custom(format!("the number {value} is larger than can be kept exactly")));
        }
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("a number is not finite"))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Value, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element_seed(Strict)? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let mut object = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            let value = map.next_value_seed(Strict)?;
            match object.entry(key) {
                Entry::Vacant(place) => {
                    place.insert(value);
                }
                Entry::Occupied(place) => {
                    let shown: String = place.key().chars().take(40).collect();
                    return Err(serde::de::Error::custom(format!("“{shown}” stands twice in one object")));
                }
            }
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::{is_hex, read, sha256};

    #[test]
    fn a_key_that_stands_twice_is_refused() {
        assert!(read(r#"{"a":{"b":1,"b":2}}"#).unwrap_err().to_string().contains("stands twice"));
        assert!(read(r#"{"a":1,"\u0061":2}"#).is_err());
        assert!(read(r#"{"a":1,"b":2}"#).is_ok());
    }

    #[test]
    fn numbers_that_cannot_be_kept_exactly_are_refused() {
        assert!(read("9007199254740991").is_ok());
        assert!(read("9007199254740992").is_err());
        assert!(read("-9007199254740992").is_err());
        assert!(read("1e400").is_err());
    }

    #[test]
    fn deep_nesting_and_trailing_text_are_refused() {
        assert!(read(&"[".repeat(100_000)).is_err());
        assert!(read("{} {}").is_err());
    }

    #[test]
    fn sha256_of_abc_is_the_published_digest() {
        let digest = sha256(b"abc");
        assert_eq!(digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert!(is_hex(&digest, 64..=64));
        assert!(!is_hex("AB", 1..=2));
    }
}
