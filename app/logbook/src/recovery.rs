//! The recovery sheet: sealed bytes as letters that people can keep on paper and type again.
//!
//! Letters are Crockford's base 32 in groups of four, ten groups to a line; two letters at the end check the rest, so
//! that a slip of the hand is found before a passphrase is tried.

use sha2::{Digest, Sha256};

const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Most letters taken.
const MOST: usize = 4_000;
/// Letters that check the rest.
const CHECK: usize = 2;

/// Writes sealed bytes as the sheet shows them.
pub fn letters(sealed: &[u8]) -> String {
    let mut letters = encode(sealed);
    letters.push_str(&check(sealed));
    let groups: Vec<&str> =
        (0..letters.len()).step_by(4).filter_map(|at| letters.get(at..(at + 4).min(letters.len()))).collect();
    let lines: Vec<String> = groups.chunks(10).map(|line| line.join(" ")).collect();
    lines.join("\n")
}

/// Reads the letters of a sheet: small letters, spaces and line ends do not matter, nor which of 0 and O, or of 1, I
/// and L.
///
/// # Errors
/// Returns a sentence that says what is wrong with them.
pub fn read(typed: &str) -> Result<Vec<u8>, String> {
    let mut values = Vec::new();
    for letter in typed.chars().filter(|letter| !letter.is_whitespace() && *letter != '-') {
        let letter = match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        };
        let place = LETTERS.iter().position(|known| char::from(*known) == letter);
        let group = values.len() / 4 + 1;
        values.push(
            place.ok_or_else(|| format!("“{letter}” in group {group} is on no recovery sheet: look at it again."))?,
        );
        if values.len() > MOST {
            return Err("These are far more letters than a recovery sheet has.".to_owned());
        }
    }
    let (bytes, checks) = match values.len().checked_sub(CHECK).and_then(|end| values.split_at_checked(end)) {
        Some((bytes, checks)) if !bytes.is_empty() => (bytes, checks),
        _ => return Err("No letters of a recovery sheet were typed yet.".to_owned()),
    };
    let decoded = decode(bytes);
    let same = check(&decoded).bytes().eq(checks.iter().filter_map(|value| LETTERS.get(*value).copied()));
    if !same {
        return Err("A letter is missing or mistyped: compare the groups with the sheet, one by one.".to_owned());
    }
    Ok(decoded)
}

fn check(bytes: &[u8]) -> String {
    encode(&Sha256::digest(bytes)).chars().take(CHECK).collect()
}

fn encode(bytes: &[u8]) -> String {
    let (mut letters, mut held, mut bits) = (String::new(), 0_u32, 0_u32);
    let letter = |value: u32| LETTERS.get((value & 31) as usize).map_or('0', |letter| char::from(*letter));
    for byte in bytes {
        (held, bits) = (held << 8 | u32::from(*byte), bits + 8);
        while bits >= 5 {
            bits -= 5;
            letters.push(letter(held >> bits));
        }
        held &= (1 << bits) - 1;
    }
    if bits > 0 {
        letters.push(letter(held << (5 - bits)));
    }
    letters
}

fn decode(values: &[usize]) -> Vec<u8> {
    let (mut bytes, mut held, mut bits) = (Vec::new(), 0_usize, 0_usize);
    for value in values {
        (held, bits) = (held << 5 | value, bits + 5);
        if bits >= 8 {
            bits -= 8;
            // Cut to the eight bits that are complete.
            bytes.push((held >> bits & 255) as u8);
            held &= (1 << bits) - 1;
        }
    }
    bytes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{letters, read};

    proptest! {
        #[test]
        fn a_sheet_reads_as_it_was_written(bytes in proptest::collection::vec(any::<u8>(), 1..200)) {
            let sheet = letters(&bytes);
            prop_assert_eq!(read(&sheet), Ok(bytes.clone()));
            prop_assert_eq!(read(&sheet.to_lowercase().replace('0', "o").replace('1', "l")), Ok(bytes));
        }

        #[test]
        fn anything_typed_is_read_or_said(typed in ".{0,80}") {
            let _ = read(&typed);
        }
    }

    #[test]
    fn a_slip_of_the_hand_is_found() {
        let sheet = letters(&[7; 100]);
        let wrong = sheet.replacen('W', "V", 1);
        assert_ne!(wrong, sheet);
        assert!(read(&wrong).is_err_and(|why| why.contains("mistyped")));
        assert!(read("").is_err());
        assert!(read("ABCU").is_err_and(|why| why.contains("group 1")));
    }
}
