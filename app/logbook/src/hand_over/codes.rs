//! Codes: a small file as a run of texts that fit into pictures of squares, in any order, and back.
//!
//! Each text stands for itself: `UPSWEEP/1/RUN/3/9/DATA`, with the run's name, the number of this text and of all,
//! and a part of the file in base 45 (RFC 9285), whose 45 signs are the ones that such a picture packs best. The run
//! is named after the file's own hash, so that texts of two runs are never mixed and a wrong one is found.

use std::collections::BTreeMap;

use super::HandOverError;
use crate::json::sha256;

/// What each text begins with.
const NAME: &str = "UPSWEEP";
/// The form written now.
const FORM: &str = "1";
/// Bytes of the file in one text: with its head it fits into a picture of version 20 at level M, which holds 970
/// of these signs (ISO/IEC 18004, from memory; checked against the picture library by a test).
pub const BYTES_IN_CODE: usize = 600;
/// Most texts in a run: more are not looked at by anybody with a phone in hand.
pub const MOST_CODES: usize = 40;

/// The 45 signs (RFC 9285, table 1).
const SIGNS: &[u8; 45] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";

/// Cuts a file into the texts of its run.
///
/// # Errors
/// Returns how many would be needed when that is more than [`MOST_CODES`].
pub fn cut(file: &[u8]) -> Result<Vec<String>, usize> {
    let parts: Vec<&[u8]> = file.chunks(BYTES_IN_CODE).collect();
    let total = parts.len();
    if total > MOST_CODES {
        return Err(total);
    }
    let run = run_of(file);
    let text = |(place, part): (usize, &&[u8])| format!("{NAME}/{FORM}/{run}/{}/{total}/{}", place + 1, base45(part));
    Ok(parts.iter().enumerate().map(text).collect())
}

/// Returns the name of a file's run: the beginning of its SHA-256, in capital letters.
fn run_of(file: &[u8]) -> String {
    sha256(file).get(..8).unwrap_or_default().to_ascii_uppercase()
}

/// What came of a text that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// It is none of a hand-over run.
    Other,
    /// It belongs to a later version's run.
    Newer,
    /// It was read before.
    Again,
    /// It belongs to another run than those before.
    OtherRun,
    /// It was new; some are missing still.
    More,
    /// It was the last one: the file.
    Whole(Vec<u8>),
    /// All are here and do not make the file that they were cut from: reading starts again.
    Wrong,
}

/// Texts of one run being collected.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Collecting {
    run: String,
    total: usize,
    parts: BTreeMap<usize, Vec<u8>>,
}

impl Collecting {
    /// Takes a text that was read.
    pub fn hear(&mut self, text: &str) -> Heard {
        let text = text.trim_matches(['\r', '\n']);
        let mut words = text.splitn(6, '/');
        if words.next() != Some(NAME) {
            return Heard::Other;
        }
        if words.next() != Some(FORM) {
            return Heard::Newer;
        }
        let (Some(run), Some(place), Some(total), Some(data)) =
            (words.next(), words.next(), words.next(), words.next())
        else {
            return Heard::Other;
        };
        let number = |text: &str| text.parse::<usize>().ok().filter(|number| (1..=MOST_CODES).contains(number));
        let (Some(place), Some(total), Some(part)) = (number(place), number(total), from_base45(data)) else {
            return Heard::Other;
        };
        if place > total || run.len() != 8 || part.len() > BYTES_IN_CODE {
            return Heard::Other;
        }
        if self.parts.is_empty() {
            (self.run, self.total) = (run.to_owned(), total);
        }
        if self.run != run || self.total != total {
            return Heard::OtherRun;
        }
        if self.parts.insert(place, part).is_some() {
            return Heard::Again;
        }
        if self.parts.len() < self.total {
            return Heard::More;
        }
        let file: Vec<u8> = std::mem::take(&mut self.parts).into_values().flatten().collect();
        if run_of(&file) == self.run { Heard::Whole(file) } else { Heard::Wrong }
    }

    /// Returns how many texts are here, and of how many; nothing of nothing before the first.
    pub fn progress(&self) -> (usize, usize) {
        (self.parts.len(), if self.parts.is_empty() { 0 } else { self.total })
    }

    /// Returns the numbers that are missing still.
    pub fn missing(&self) -> Vec<usize> {
        (1..=self.progress().1).filter(|place| !self.parts.contains_key(place)).collect()
    }
}

/// Says how many codes would be needed, for whoever has to choose a file instead.
pub fn too_many(needed: usize) -> String {
    format!(
        "This would need {needed} codes, and at most {MOST_CODES} are shown: hand over a file instead, or only what the \
         other device lacks."
    )
}

/// Reads a file from texts in any order, all of one run.
///
/// # Errors
/// Returns [`HandOverError::CutShort`] when some are missing, or why they make no file.
pub fn join<'t>(texts: impl IntoIterator<Item = &'t str>) -> Result<Vec<u8>, HandOverError> {
    let mut collecting = Collecting::default();
    for text in texts {
        match collecting.hear(text) {
            Heard::Whole(file) => return Ok(file),
            Heard::More | Heard::Again => {}
            Heard::Other => return Err(HandOverError::WrongKind),
            Heard::Newer => return Err(HandOverError::Newer(super::FORM + 1)),
            Heard::OtherRun => return Err(HandOverError::broken("codes of two runs are mixed")),
            Heard::Wrong => return Err(HandOverError::broken("its codes do not belong together")),
        }
    }
    Err(HandOverError::CutShort)
}

fn base45(bytes: &[u8]) -> String {
    let sign = |value: u32| SIGNS.get((value % 45) as usize).map_or(' ', |sign| char::from(*sign));
    let mut text = String::with_capacity(bytes.len().div_ceil(2) * 3);
    for pair in bytes.chunks(2) {
        match pair {
            [high, low] => {
                let value = u32::from(*high) * 256 + u32::from(*low);
                text.extend([sign(value), sign(value / 45), sign(value / 2025)]);
            }
            [one] => text.extend([sign(u32::from(*one)), sign(u32::from(*one) / 45)]),
            _ => {}
        }
    }
    text
}

fn from_base45(text: &str) -> Option<Vec<u8>> {
    let value = |sign: &u8| SIGNS.iter().position(|known| known == sign).and_then(|place| u32::try_from(place).ok());
    let mut bytes = Vec::with_capacity(text.len() / 3 * 2 + 1);
    for signs in text.as_bytes().chunks(3) {
        match signs {
            [a, b, c] => {
                let number = u16::try_from(value(a)? + value(b)? * 45 + value(c)? * 2025).ok()?;
                bytes.extend(number.to_be_bytes());
            }
            [a, b] => bytes.push(u8::try_from(value(a)? + value(b)? * 45).ok()?),
            _ => return None,
        }
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{BYTES_IN_CODE, Collecting, Heard, MOST_CODES, base45, cut, from_base45, join};

    #[test]
    fn base_45_is_that_of_rfc_9285() {
        for (plain, coded) in [("AB", "BB8"), ("Hello!!", "%69 VD92EX0"), ("base-45", "UJCLQE7W581")] {
            assert_eq!(base45(plain.as_bytes()), coded);
            assert_eq!(from_base45(coded).unwrap(), plain.as_bytes());
        }
        assert_eq!(from_base45("QED8WEX0").unwrap(), b"ietf!");
        // From the RFC, section 6: GGW stands for 65536, which no two bytes hold.
        assert_eq!(from_base45("GGW"), None);
        assert_eq!(from_base45("::"), None);
        assert_eq!(from_base45("a00"), None);
        assert_eq!(from_base45("A"), None);
    }

    proptest! {
        #[test]
        fn a_run_comes_back_in_any_order(
            (file, texts) in proptest::collection::vec(any::<u8>(), 1..4_000).prop_flat_map(|file| {
                let texts = cut(&file).unwrap();
                (Just(file), Just([texts.clone(), texts].concat()).prop_shuffle())
            })
        ) {
            prop_assert_eq!(join(texts.iter().map(String::as_str)).unwrap(), file);
        }

        #[test]
        fn any_text_is_taken_calmly(text in "(UPSWEEP/1/[0-9A-F]{8}/[0-9]{1,3}/[0-9]{1,3}/)?[0-9A-Z $%*+./:-]{0,40}|.{0,40}") {
            let mut collecting = Collecting::default();
            collecting.hear(&text);
            collecting.hear(&text);
            prop_assert!(collecting.missing().len() <= MOST_CODES);
        }
    }

    #[test]
    fn runs_are_not_mixed_and_a_wrong_code_is_found() {
        let (one, other) = (vec![1; BYTES_IN_CODE * 2], vec![2; BYTES_IN_CODE * 2]);
        let (one, other) = (cut(&one).unwrap(), cut(&other).unwrap());
        let mut collecting = Collecting::default();
        assert_eq!(collecting.hear(&one[0]), Heard::More);
        assert_eq!(collecting.hear(&one[0]), Heard::Again);
        assert_eq!(collecting.hear(&other[1]), Heard::OtherRun);
        assert_eq!((collecting.progress(), collecting.missing()), ((1, 2), vec![2]));
        assert_eq!(collecting.hear("https://example.org"), Heard::Other);
        assert_eq!(collecting.hear(&one[1].replacen("/1/", "/2/", 1)), Heard::Newer);
        let altered = format!("{}00", &one[1][..one[1].len() - 2]);
        assert_eq!(collecting.hear(&altered), Heard::Wrong);
        assert_eq!(collecting.progress(), (0, 0));
        assert_eq!(cut(&vec![0; BYTES_IN_CODE * MOST_CODES + 1]), Err(MOST_CODES + 1));
    }
}
