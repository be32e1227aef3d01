//! Codes that people read to each other: an override's challenge at the couch, and an instructor's answer to it.
//!
//! The couch shows a challenge, which stands for the academy, the service, the reason and the instructor that are
//! meant. The instructor's own device signs it with the instructor's key and shows an answer. Scanned, the answer is
//! the signed entry itself and confirms at once. Typed, it is eight characters that only this signature gives: the
//! couch keeps them, and they are compared when the instructor's entries arrive. Until then nobody has confirmed.
//!
//! Letters and digits are Crockford's base 32, in which no two are mistaken for each other.

use practicum::ids::{EntryId, PersonId, ServiceId};
use sha2::{Digest, Sha256};

use crate::entry::Entry;

/// Characters of a challenge: 60 bits, so that nobody makes another service whose code is the same.
pub const CHALLENGE: usize = 12;
/// Characters of an answer: 40 bits, which nobody guesses at a couch.
pub const ANSWER: usize = 8;

const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Returns the challenge of an override: twelve characters.
pub fn of(academy: &EntryId, service: &ServiceId, reason_code: &str, by: &PersonId) -> String {
    let parts = ["upsweep override", academy.as_str(), service.as_str(), reason_code, by.as_str()];
    code(&parts, CHALLENGE)
}

/// Returns the answer that an instructor's signed entry gives: eight characters; `None` for an entry that nobody signed.
pub fn answer(entry: &Entry) -> Option<String> {
    entry.signature().map(|signature| code(&["upsweep answer", signature], ANSWER))
}

/// What a couch asks an instructor, as it stands in the picture of its code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// The challenge.
    pub challenge: String,
    /// Whose service.
    pub trainee: PersonId,
    /// Code of the gate reason.
    pub reason_code: String,
}

/// First line of the text in the picture.
const ASKS: &str = "upsweep override 1";

impl Asked {
    /// Writes the text for the picture: four lines.
    pub fn text(&self) -> String {
        [ASKS, &self.challenge, self.trainee.as_str(), &self.reason_code].join("\n")
    }

    /// Reads the text of a picture.
    ///
    /// # Errors
    /// Returns a sentence when it is something else.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut lines = text.lines();
        match (lines.next(), lines.next(), lines.next(), lines.next(), lines.next()) {
            (Some(ASKS), Some(challenge), Some(trainee), Some(reason), None) if text.len() <= 600 => Ok(Self {
                challenge: read(challenge, CHALLENGE)?,
                trainee: trainee.into(),
                reason_code: reason.to_owned(),
            }),
            _ => Err("This is not the code of an override: scan the one that the couch shows.".to_owned()),
        }
    }
}

/// Writes a code as people read it: in fours.
pub fn in_fours(code: &str) -> String {
    let letters: Vec<char> = code.chars().collect();
    letters.chunks(4).map(String::from_iter).collect::<Vec<_>>().join("-")
}

/// Reads a typed code: small letters, spaces and dashes do not matter, nor which of 0 and O, or of 1, I and L.
///
/// # Errors
/// Returns a sentence when it has not `length` characters, or one that no code has.
pub fn read(typed: &str, length: usize) -> Result<String, String> {
    let mut code = String::new();
    for letter in typed.chars().filter(|letter| !letter.is_whitespace() && !matches!(letter, '-' | '–' | '—')) {
        let letter = match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        };
        if !u8::try_from(letter).is_ok_and(|byte| LETTERS.contains(&byte)) {
            return Err(format!("“{letter}” is in no code: look at it again."));
        }
        code.push(letter);
    }
    match code.len() {
        len if len == length => Ok(code),
        len => Err(format!("A code has {length} characters; these are {len}.")),
    }
}

/// Draws characters from the SHA-256 of parts, each led by its length so that no two lists read alike.
fn code(parts: &[&str], length: usize) -> String {
    let mut digest = Sha256::new();
    for part in parts {
        digest.update((part.len() as u64).to_be_bytes());
        digest.update(part.as_bytes());
    }
    let digest = digest.finalize();
    let bits = |place: usize| {
        let (byte, shift) = (place * 5 / 8, place * 5 % 8);
        let two =
            digest.get(byte..byte + 2).map_or(0, |two| two.iter().fold(0_u16, |two, byte| two << 8 | u16::from(*byte)));
        usize::from(two >> (11 - shift) & 31)
    };
    (0..length).map(|place| LETTERS.get(bits(place)).map_or('0', |letter| char::from(*letter))).collect()
}

#[cfg(test)]
mod tests {
    use super::{ANSWER, Asked, CHALLENGE, in_fours, of, read};

    #[test]
    fn a_challenge_stands_for_all_that_is_meant() {
        let code =
            |academy: &str, service: &str, reason, by: &str| of(&academy.into(), &service.into(), reason, &by.into());
        let one = code("a", "s", "r", "i");
        assert_eq!(one.len(), CHALLENGE);
        for other in
            [code("b", "s", "r", "i"), code("a", "t", "r", "i"), code("a", "s", "q", "i"), code("a", "s", "r", "j")]
        {
            assert_ne!(one, other);
        }
        assert_ne!(code("a", "sr", "", "i"), code("a", "s", "r", "i"));
        assert_eq!(read(&in_fours(&one), CHALLENGE), Ok(one));
    }

    #[test]
    fn what_a_couch_asks_reads_as_it_was_written() {
        let asked = Asked {
            challenge: of(&"a".into(), &"s".into(), "r", &"i".into()),
            trainee: "t".into(),
            reason_code: "r:p".to_owned(),
        };
        assert_eq!(Asked::read(&asked.text()), Ok(asked.clone()));
        for odd in [
            "",
            "upsweep override 2\nA\nt\nr",
            "{}",
            &format!("{}\nmore", asked.text()),
            &asked.text().replace('\n', " "),
        ] {
            assert!(Asked::read(odd).is_err(), "{odd}");
        }
    }

    #[test]
    fn a_code_is_read_as_people_type_it() {
        assert_eq!(read(" o1il-abcd ", ANSWER).as_deref(), Ok("0111ABCD"));
        assert!(read("0111ABC", ANSWER).is_err());
        assert!(read("0111ABCU", ANSWER).is_err_and(|why| why.contains('U')));
        assert!(read("0111ABCÉ", ANSWER).is_err());
    }
}
