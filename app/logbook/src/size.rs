//! How large a file is, in words that a person reads.

/// Writes a number of bytes as bytes, kB or MB, rounded up, so that what is over a limit never reads like the limit.
///
/// ```
/// use logbook::size::in_words;
/// assert_eq!(in_words(5_000_000), "5 MB");
/// assert_eq!(in_words(5_000_001), "5.1 MB");
/// ```
pub fn in_words(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..=999_000 => format!("{} kB", bytes.div_ceil(1_000)),
        _ => match bytes.div_ceil(100_000) {
            tenths if tenths % 10 == 0 => format!("{} MB", tenths / 10),
            tenths => format!("{}.{} MB", tenths / 10, tenths % 10),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::in_words;

    #[test]
    fn sizes_are_rounded_up() {
        assert_eq!(in_words(0), "0 bytes");
        assert_eq!(in_words(999), "999 bytes");
        assert_eq!(in_words(1_001), "2 kB");
        assert_eq!(in_words(999_000), "999 kB");
        assert_eq!(in_words(999_001), "1 MB");
        assert_eq!(in_words(12_345_678), "12.4 MB");
        assert_eq!(in_words(u64::MAX), "18446744073709.6 MB");
    }
}
