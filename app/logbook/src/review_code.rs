//! The code on a printed review: who signed which competencies off, and the hash of the full record, signed.
//!
//! It is a text for a QR code, short enough for paper ([`LONGEST`]), and names nobody: the trainee is a code that is
//! worked out from the record. It is signed by the owner's or an instructor's own key, never by the academy's key,
//! which only admits; the code carries the fingerprint of the academy's key, and the record file shows that this key
//! admitted the one that signed. Alone the code shows that one key signed it and nothing was changed since.

use practicum::ids::PersonId;
use practicum::moment::Day;
use sha2::{Digest, Sha256};

use crate::signature::{PublicKey, Signature};

/// Longest text, in bytes.
pub const LONGEST: usize = 600;
/// What the text begins with.
const BEGINS: &str = "UPSWEEP-REVIEW-1";
/// What stands before the signed text, so that no signature over anything else passes for one of these.
const DOMAIN: &str = "upsweep review code 1\n";
/// Letters of a trainee's code: without those that are read as others.
const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// A competency that is signed off and in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedCompetency {
    /// Identifier in the course book; signs that the text uses otherwise are replaced by `_`.
    pub competency: String,
    /// Independence level, 0 to 6.
    pub level: u8,
    /// On which day.
    pub on: Day,
}

/// What a code says, before it is signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// The key that signs it.
    pub key: PublicKey,
    /// Fingerprint of the academy's key, 20 hex digits without spaces.
    pub academy: String,
    /// The trainee's code: [`trainee_code`].
    pub trainee: String,
    /// Day of the review.
    pub on: Day,
    /// SHA-256 of the full record file, 64 hex digits.
    pub record_hash: String,
    /// Sign-offs in force.
    pub sign_offs: Vec<SignedCompetency>,
    /// Further sign-offs that found no room; they stand in the record.
    pub more: u32,
}

/// A code whose signature holds under the key that it names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReviewCode {
    /// What it says.
    pub said: Said,
}

/// Returns the code of a trainee: eight letters that tell nobody a name, the same on every review of one academy.
pub fn trainee_code(trainee: &PersonId, academy: &PublicKey) -> String {
    let hash = Sha256::digest(format!("upsweep trainee code\n{}\n{trainee}", academy.text()));
    hash.iter().take(8).map(|byte| char::from(LETTERS[usize::from(byte % 32)])).collect()
}

/// Returns a fingerprint without its spaces.
pub fn plain_fingerprint(key: &PublicKey) -> String {
    key.fingerprint().chars().filter(char::is_ascii_hexdigit).collect()
}

/// Returns the SHA-256 of a record file in 64 hex digits.
pub fn hash_of(record: &[u8]) -> String {
    Sha256::digest(record).iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Said {
    /// Leaves out the last sign-offs until the code is short enough, and counts them.
    #[must_use]
    pub fn shortened(mut self) -> Self {
        // A signature in multibase has at most 89 letters.
        while self.text().len() + 1 + 89 > LONGEST && self.sign_offs.pop().is_some() {
            self.more = self.more.saturating_add(1);
        }
        self
    }

    fn text(&self) -> String {
        let plain = |text: &str| text.replace(|c: char| !(c.is_ascii_alphanumeric() || c == '-' || c == '.'), "_");
        let sign_off =
            |one: &SignedCompetency| format!("{}:{}:{}", plain(&one.competency), one.level, one.on.format("%Y%m%d"));
        let sign_offs: Vec<String> = self.sign_offs.iter().map(sign_off).collect();
        format!(
            "{BEGINS}|{}|{}|{}|{}|{}|{}|{}",
            self.key.text(),
            self.academy,
            self.trainee,
            self.on.format("%Y%m%d"),
            self.record_hash,
            sign_offs.join(","),
            self.more
        )
    }

    /// Returns the bytes that its key signs.
    pub fn to_sign(&self) -> Vec<u8> {
        format!("{DOMAIN}{}", self.text()).into_bytes()
    }

    /// Writes the code.
    ///
    /// # Errors
    /// Returns a sentence when the signature is not its key's, or the text is too long for paper.
    pub fn signed(&self, signature: &Signature) -> Result<String, String> {
        if !self.key.signed(&self.to_sign(), signature) {
            return Err("The signature of the code does not hold. Nothing was printed.".to_owned());
        }
        let text = format!("{}|{}", self.text(), signature.text());
        match text.len() <= LONGEST {
            true => Ok(text),
            false => Err(format!("The code would have {} bytes, and {LONGEST} fit on paper.", text.len())),
        }
    }
}

/// Whether a text is meant to be such a code; [`read`] says whether it holds.
pub fn looks_like(text: &str) -> bool {
    text.trim().starts_with("UPSWEEP-REVIEW-")
}

/// Reads a code and checks its signature.
///
/// # Errors
/// Returns a sentence that says what is wrong and what to do.
pub fn read(text: &str) -> Result<ReviewCode, String> {
    let text = text.trim();
    let parts: Vec<&str> = text.split('|').collect();
    let [begins, key, academy, trainee, on, record_hash, sign_offs, more, signature] = parts[..] else {
        return Err(match looks_like(text) {
            true => "This code is cut short: read it again from the paper.".to_owned(),
            false => "This is no code of a review.".to_owned(),
        });
    };
    if begins != BEGINS {
        return Err(match looks_like(text) {
            true => "A newer version of the app wrote this code: update this one, then read it again.".to_owned(),
            false => "This is no code of a review.".to_owned(),
        });
    }
    let damaged = |_| "This code is damaged: read it again from the paper.".to_owned();
    let (key, signature) = (PublicKey::read(key).map_err(damaged)?, Signature::read(signature).map_err(damaged)?);
    let day = |text: &str| Day::parse_from_str(text, "%Y%m%d").map_err(|_| damaged(String::new()));
    let one = |text: &str| {
        let mut parts = text.rsplitn(3, ':');
        let (on, level, competency) = (parts.next(), parts.next(), parts.next());
        let level = level.and_then(|level| level.parse().ok()).filter(|level: &u8| *level <= 6);
        match (on, level, competency) {
            (Some(on), Some(level), Some(competency)) => {
                Ok(SignedCompetency { competency: competency.to_owned(), level, on: day(on)? })
            }
            _ => Err(damaged(String::new())),
        }
    };
    let sign_offs =
        sign_offs.split(',').filter(|part| !part.is_empty()).map(one).collect::<Result<Vec<_>, String>>()?;
    let more = more.parse().map_err(|_| damaged(String::new()))?;
    let (academy, trainee, record_hash) = (academy.to_owned(), trainee.to_owned(), record_hash.to_owned());
    let said = Said { key, academy, trainee, on: day(on)?, record_hash, sign_offs, more };
    // What was read is what is shown: written again it must be the same text.
    let same = text.rsplit_once('|').is_some_and(|(signed, _)| signed == said.text());
    match same && key.signed(&said.to_sign(), &signature) {
        true => Ok(ReviewCode { said }),
        false => Err("The signature of this code does not hold: it was changed, or read wrongly.".to_owned()),
    }
}

/// How a code and a record file go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SameRecord {
    /// The file is the record that the code names, to the last byte.
    Same,
    /// It is of the same trainee and academy, and another file: of another day, or changed.
    Another,
    /// It is of somebody else or of another academy.
    SomebodyElse,
}

impl ReviewCode {
    /// Says whether a record file is the one that the code names. `trainee` and `academy` are what the file says.
    pub fn compare(&self, file: &[u8], trainee: &PersonId, academy: Option<&PublicKey>) -> SameRecord {
        let theirs = academy.is_some_and(|key| {
            plain_fingerprint(key) == self.said.academy && trainee_code(trainee, key) == self.said.trainee
        });
        match (theirs, hash_of(file) == self.said.record_hash) {
            (false, _) => SameRecord::SomebodyElse,
            (true, true) => SameRecord::Same,
            (true, false) => SameRecord::Another,
        }
    }
}

#[cfg(test)]
mod tests {
    use ed25519_dalek::{Signer, SigningKey};

    use super::*;

    fn key(seed: u8) -> (SigningKey, PublicKey) {
        let secret = SigningKey::from_bytes(&[seed; 32]);
        let public = PublicKey::of_bytes(secret.verifying_key().as_bytes()).unwrap();
        (secret, public)
    }

    fn said(sign_offs: usize) -> Said {
        let (academy, on) = (key(2).1, "2026-05-30".parse().unwrap());
        let one = |n: usize| SignedCompetency { competency: format!("competency-{n}"), level: 4, on };
        Said {
            key: key(1).1,
            academy: plain_fingerprint(&academy),
            trainee: trainee_code(&"t".into(), &academy),
            on,
            record_hash: hash_of(b"the record"),
            sign_offs: (0..sign_offs).map(one).collect(),
            more: 0,
        }
    }

    fn written(said: &Said) -> String {
        let signature = Signature::of_bytes(&key(1).0.sign(&said.to_sign()).to_bytes()).unwrap();
        said.signed(&signature).unwrap()
    }

    #[test]
    fn a_code_comes_back_as_it_was_written() {
        for sign_offs in [0, 1, 9] {
            let said = said(sign_offs).shortened();
            let text = written(&said);
            assert!(text.len() <= LONGEST, "{}", text.len());
            assert_eq!(read(&text).unwrap().said, said);
        }
    }

    #[test]
    fn what_finds_no_room_is_counted() {
        let said = said(60).shortened();
        assert!(said.more > 0 && said.sign_offs.len() + said.more as usize == 60);
        assert!(written(&said).len() <= LONGEST);
    }

    #[test]
    fn no_letter_of_a_code_can_be_changed() {
        let text = written(&said(2));
        for at in 0..text.len() {
            let mut bytes = text.clone().into_bytes();
            bytes[at] = if bytes[at] == b'1' { b'2' } else { b'1' };
            let changed = String::from_utf8(bytes).unwrap();
            assert!(read(&changed).is_err(), "{changed}");
        }
        for cut in [0, 5, 40, text.len() - 1] {
            assert!(read(&text[..cut]).is_err());
        }
        assert!(read(&text.replace("|t", "|T|")).is_err() || !text.contains("|t"));
        assert!(read("UPSWEEP-REVIEW-2|a|b|c|d|e|f|g|h").unwrap_err().contains("newer"));
    }

    #[test]
    fn the_record_is_the_one_that_was_hashed() {
        let code = read(&written(&said(1))).unwrap();
        let academy = key(2).1;
        assert_eq!(code.compare(b"the record", &"t".into(), Some(&academy)), SameRecord::Same);
        assert_eq!(code.compare(b"a newer one", &"t".into(), Some(&academy)), SameRecord::Another);
        assert_eq!(code.compare(b"the record", &"t2".into(), Some(&academy)), SameRecord::SomebodyElse);
        assert_eq!(code.compare(b"the record", &"t".into(), Some(&key(3).1)), SameRecord::SomebodyElse);
        assert_eq!(code.compare(b"the record", &"t".into(), None), SameRecord::SomebodyElse);
    }

    #[test]
    fn a_signature_of_something_else_is_none_of_a_code() {
        let said = said(1);
        let bare = Signature::of_bytes(&key(1).0.sign(said.text().as_bytes()).to_bytes()).unwrap();
        assert!(said.signed(&bare).is_err());
        let other = Signature::of_bytes(&key(4).0.sign(&said.to_sign()).to_bytes()).unwrap();
        assert!(said.signed(&other).is_err());
    }
}
