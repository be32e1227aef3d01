//! A line that is canonical already is recognised as such, and its parts are used as they stand.
//!
//! Everything the app writes is canonical. To recognise it takes a tenth of the time that it takes to read it and write
//! it anew; whatever is not recognised, a float or a key beyond ASCII among it, goes that longer way.

/// Deepest nesting that is recognised.
const DEEPEST: usize = 64;
/// Most digits of a whole number that every reader takes exactly.
const DIGITS: usize = 16;

/// A member of an object: its key without quotes, and its value as it stands.
pub(crate) type Member<'t> = (&'t str, &'t str);

/// Returns the members of an object in canonical form, whose values are canonical too; `None` for any other text.
pub(crate) fn members(text: &str) -> Option<Vec<Member<'_>>> {
    let mut members = Vec::with_capacity(12);
    let end = object(text, 0, 0, &mut |key, value| members.push((key, value)))?;
    (end == text.len()).then_some(members)
}

/// Returns the text of a string in canonical form, where it has no escape.
pub(crate) fn plain(value: &str) -> Option<&str> {
    value.strip_prefix('"')?.strip_suffix('"').filter(|inner| !inner.contains('\\'))
}

/// Returns where the value that begins here ends.
fn value(text: &str, at: usize, depth: usize) -> Option<usize> {
    match text.as_bytes().get(at)? {
        b'{' => object(text, at, depth, &mut |_, _| {}),
        b'[' => array(text, at, depth),
        b'"' => string(text, at),
        b't' => word(text, at, "true"),
        b'f' => word(text, at, "false"),
        b'n' => word(text, at, "null"),
        _ => number(text, at),
    }
}

fn word(text: &str, at: usize, word: &str) -> Option<usize> {
    text.get(at..)?.starts_with(word).then_some(at + word.len())
}

fn object<'t>(text: &'t str, at: usize, depth: usize, found: &mut dyn FnMut(&'t str, &'t str)) -> Option<usize> {
    let bytes = text.as_bytes();
    if depth >= DEEPEST || *bytes.get(at)? != b'{' {
        return None;
    }
    if *bytes.get(at + 1)? == b'}' {
        return Some(at + 2);
    }
    let (mut at, mut before) = (at + 1, None);
    loop {
        let key_end = string(text, at)?;
        let key = text.get(at + 1..key_end - 1)?;
        // Ascending, so none stands twice; sorted by bytes as by UTF-16 as long as all of it is ASCII.
        if !key.is_ascii() || key.contains('\\') || before.is_some_and(|before| before >= key) {
            return None;
        }
        before = Some(key);
        if *bytes.get(key_end)? != b':' {
            return None;
        }
        let end = value(text, key_end + 1, depth + 1)?;
        found(key, text.get(key_end + 1..end)?);
        match bytes.get(end)? {
            b',' => at = end + 1,
            b'}' => return Some(end + 1),
            _ => return None,
        }
    }
}

fn array(text: &str, at: usize, depth: usize) -> Option<usize> {
    let bytes = text.as_bytes();
    if depth >= DEEPEST {
        return None;
    }
    if *bytes.get(at + 1)? == b']' {
        return Some(at + 2);
    }
    let mut at = at + 1;
    loop {
        let end = value(text, at, depth + 1)?;
        match bytes.get(end)? {
            b',' => at = end + 1,
            b']' => return Some(end + 1),
            _ => return None,
        }
    }
}

fn string(text: &str, at: usize) -> Option<usize> {
    let bytes = text.as_bytes();
    if *bytes.get(at)? != b'"' {
        return None;
    }
    let mut at = at + 1;
    loop {
        match bytes.get(at)? {
            b'"' => return Some(at + 1),
            0..0x20 => return None,
            b'\\' => {
                at += match bytes.get(at + 1)? {
                    b'"' | b'\\' | b'b' | b't' | b'n' | b'f' | b'r' => 2,
                    b'u' if control(text.get(at + 2..at + 6)?) => 6,
                    _ => return None,
                }
            }
            _ => at += 1,
        }
    }
}

/// Whether four digits name a control character that has no shorter escape, in lower case.
fn control(digits: &str) -> bool {
    let lower = digits.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'));
    let code = u32::from_str_radix(digits, 16).unwrap_or(u32::MAX);
    lower && code < 0x20 && !matches!(code, 0x08 | 0x09 | 0x0a | 0x0c | 0x0d)
}

fn number(text: &str, at: usize) -> Option<usize> {
    let bytes = text.as_bytes();
    let begin = at + usize::from(*bytes.get(at)? == b'-');
    let digits = bytes.get(begin..)?.iter().take(DIGITS + 1).take_while(|byte| byte.is_ascii_digit()).count();
    let end = begin + digits;
    let leading_zero = bytes.get(begin) == Some(&b'0') && (digits > 1 || begin > at);
    let goes_on = matches!(bytes.get(end), Some(b'.' | b'e' | b'E' | b'0'..=b'9'));
    let exact = digits < DIGITS || text.get(begin..end)?.parse::<u64>().is_ok_and(|number| number <= super::LARGEST);
    (digits > 0 && exact && !leading_zero && !goes_on).then_some(end)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::members;

    /// What is recognised is exactly what the longer way would write.
    fn agrees(text: &str) {
        if members(text).is_some() {
            let value = crate::json::read(text).unwrap_or_else(|why| panic!("{text}: {why}"));
            assert_eq!(crate::json::canonical_value(&value), text);
        }
    }

    #[test]
    fn canonical_objects_are_recognised_and_others_are_not() {
        for text in
            ["{}", r#"{"a":1,"b":[true,{"c":null}],"c":"\u0001\n\\ Zoë"}"#, r#"{"a":-5,"b":0,"c":9007199254740991}"#]
        {
            assert!(members(text).is_some(), "{text}");
            agrees(text);
        }
        for text in [
            r#"{"b":1,"a":2}"#,
            r#"{"a":1,"a":2}"#,
            r#"{"a": 1}"#,
            r#"{"a":1.0}"#,
            r#"{"a":-0}"#,
            r#"{"a":01}"#,
            r#"{"a":1e2}"#,
            r#"{"a":"\u0041"}"#,
            r#"{"a":"\u000A"}"#,
            r#"{"a":"\u000a"}"#,
            r#"{"a":"\/"}"#,
            r#"{"a":1}x"#,
            "[]",
            r#"{"a":}"#,
            r#"{"a":"}"#,
            r#"{"a":1"#,
            r#"{"a":1,}"#,
            "",
            "{",
            r#"{"a":9007199254740992}"#,
            r#"{"a":10000000000000000}"#,
            "{\"a\":\"\n\"}",
        ] {
            assert_eq!(members(text), None, "{text}");
        }
        let deep = format!("{}{}{}", "{\"a\":".repeat(100), 1, "}".repeat(100));
        assert_eq!(members(&deep), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(3000))]

        #[test]
        fn whatever_is_recognised_is_canonical(text in "\\{(\"[a-c]{0,2}\":(-?[0-9.e]{1,3}|\"[a\\\\u0n\"é]{0,6}\"|null|\\[\\]|\\{\\}),?){0,3}\\}?") {
            agrees(&text);
        }
    }
}
