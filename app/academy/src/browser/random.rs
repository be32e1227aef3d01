//! Random numbers from the browser's own source for keys and names.

use std::fmt::Write;

/// Draws 16 random bytes.
///
/// Where the browser has no such source (none in use lacks it) the bytes come from its plain random
/// numbers: good enough to tell two things apart, and [`has_strong_source`] says so.
pub fn bytes() -> [u8; 16] {
    let mut drawn = [0; 16];
    if !fill(&mut drawn) {
        drawn.fill_with(|| (js_sys::Math::random() * 256.0) as u8);
    }
    drawn
}

/// Returns whether random bytes come from a source that is fit for secrets.
pub fn has_strong_source() -> bool {
    fill(&mut [0; 1])
}

/// Draws a random name of 32 hexadecimal digits.
pub fn hex_id() -> String {
    hex(&bytes())
}

/// Draws a random whole number.
pub fn number() -> u32 {
    let [a, b, c, d, ..] = bytes();
    u32::from_le_bytes([a, b, c, d])
}

/// Writes bytes as lower-case hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

fn fill(into: &mut [u8]) -> bool {
    web_sys::window()
        .and_then(|window| window.crypto().ok())
        .is_some_and(|crypto| crypto.get_random_values_with_u8_array(into).is_ok())
}

#[cfg(test)]
mod tests {
    #[test]
    fn hexadecimal_digits_keep_leading_noughts() {
        assert_eq!(super::hex(&[0, 10, 255]), "000aff");
    }
}
