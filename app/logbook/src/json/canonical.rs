//! The canonical form of a JSON value (RFC 8785): one text for one value.
//!
//! Members are sorted by the UTF-16 code units of their keys (section 3.2.3), numbers are written as ECMAScript writes
//! them (3.2.2.3), strings with the fewest escapes (3.2.2.2), and nothing stands between the parts. Every line of a
//! log passes here: the package that does the same by way of a serializer takes some ten times as long.

use serde_json::{Number, Value};

/// Whole numbers up to this size are the same in either way of writing: 2^53.
const EXACT: u64 = 1 << 53;

/// Appends the canonical form of a value.
pub(super) fn write(value: &Value, text: &mut String) {
    match value {
        Value::Null => text.push_str("null"),
        Value::Bool(true) => text.push_str("true"),
        Value::Bool(false) => text.push_str("false"),
        Value::Number(number) => write_number(number, text),
        Value::String(string) => write_string(string, text),
        Value::Array(items) => {
            text.push('[');
            for (place, item) in items.iter().enumerate() {
                if place > 0 {
                    text.push(',');
                }
                write(item, text);
            }
            text.push(']');
        }
        Value::Object(members) => {
            text.push('{');
            // A map keeps its keys in the order of their code points, which differs from that of UTF-16 code units
            // only where a key has characters beyond the first 65,536.
            if members.keys().all(|key| key.is_ascii()) && members.keys().is_sorted() {
                write_members(members.iter(), text);
            } else {
                let mut sorted: Vec<(&String, &Value)> = members.iter().collect();
                sorted.sort_by(|(one, _), (other, _)| one.encode_utf16().cmp(other.encode_utf16()));
                write_members(sorted.into_iter(), text);
            }
            text.push('}');
        }
    }
}

fn write_members<'v>(members: impl Iterator<Item = (&'v String, &'v Value)>, text: &mut String) {
    for (place, (key, value)) in members.enumerate() {
        if place > 0 {
            text.push(',');
        }
        write_string(key, text);
        text.push(':');
        write(value, text);
    }
}

fn write_number(number: &Number, text: &mut String) {
    match (number.as_u64(), number.as_i64()) {
        (Some(whole), _) if whole <= EXACT => write_whole(whole, text),
        (None, Some(whole)) if whole.unsigned_abs() <= EXACT => {
            text.push('-');
            write_whole(whole.unsigned_abs(), text);
        }
        // A number of JSON is finite, and without the arbitrary ones of a feature every number is a float.
        _ => text.push_str(ryu_js::Buffer::new().format_finite(number.as_f64().unwrap_or_default())),
    }
}

fn write_whole(mut whole: u64, text: &mut String) {
    let mut digits = [b'0'; 20];
    let mut first = digits.len();
    for place in digits.iter_mut().rev() {
        first -= 1;
        // A remainder of ten fits a byte.
        *place = b'0' + (whole % 10) as u8;
        whole /= 10;
        if whole == 0 {
            break;
        }
    }
    text.extend(digits.get(first..).unwrap_or_default().iter().map(|digit| char::from(*digit)));
}

fn write_string(string: &str, text: &mut String) {
    text.push('"');
    let mut plain = 0;
    for (place, byte) in string.bytes().enumerate() {
        if byte >= b' ' && byte != b'"' && byte != b'\\' {
            continue;
        }
        text.push_str(string.get(plain..place).unwrap_or_default());
        plain = place + 1;
        match byte {
            b'"' => text.push_str("\\\""),
            b'\\' => text.push_str("\\\\"),
            0x08 => text.push_str("\\b"),
            0x09 => text.push_str("\\t"),
            0x0a => text.push_str("\\n"),
            0x0c => text.push_str("\\f"),
            0x0d => text.push_str("\\r"),
            control => {
                let digit = |nibble: u8| char::from_digit(u32::from(nibble), 16).unwrap_or('0');
                text.push_str("\\u00");
                text.push(digit(control >> 4));
                text.push(digit(control & 15));
            }
        }
    }
    text.push_str(string.get(plain..).unwrap_or_default());
    text.push('"');
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::{Map, Value};

    fn any_value() -> impl Strategy<Value = Value> {
        let text = prop_oneof![any::<String>(), "[a-zA-Z\\x00-\\x20\"\\\\\u{e000}\u{ffff}\u{10000}\u{10ffff}]{0,4}"];
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<u64>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            (0..100_u64).prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            prop::sample::select(vec![0.0, -0.0, 1.0, 1e21, 1e-7, 5e-324, f64::MAX, 9_007_199_254_740_992.0])
                .prop_map(Value::from),
            text.clone().prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 6, move |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
                prop::collection::vec((text.clone(), inner), 0..6)
                    .prop_map(|members| Value::Object(members.into_iter().collect::<Map<_, _>>())),
            ]
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// What is written reads the same again, to the last digit: else a line would change its hash on its way.
        #[test]
        fn what_is_written_reads_the_same(value in any_value()) {
            let written = crate::json::canonical_value(&value);
            if let Ok(read) = crate::json::read(&written) {
                prop_assert_eq!(crate::json::canonical_value(&read), written);
            }
        }

        /// Another's implementation of the same standard writes every value alike.
        #[test]
        fn another_implementation_writes_the_same(value in any_value()) {
            prop_assert_eq!(crate::json::canonical_value(&value), serde_jcs::to_string(&value).unwrap());
        }
    }
}
