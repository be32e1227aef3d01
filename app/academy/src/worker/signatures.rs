//! Signatures to be checked, as plain numbers: a key, what it signed and the signature go to the worker, six bytes in
//! a number, and whether each holds comes back.

use logbook::entry::SignatureCheck;

/// First numbers of a question and of an answer.
const ASK: f64 = 7103.0;
const ANSWER: f64 = 7203.0;
/// Bytes in one number: six fit into the whole numbers that are kept exactly.
const PACKED: usize = 6;
/// Bytes of one check: key, bytes signed, signature.
const LENGTH: usize = 32 + 64 + 64;
/// Numbers of one check.
const NUMBERS: usize = LENGTH.div_ceil(PACKED);

/// Writes a question.
pub(crate) fn write_ask(checks: &[SignatureCheck]) -> Vec<f64> {
    let mut numbers = Vec::with_capacity(1 + checks.len() * NUMBERS);
    numbers.push(ASK);
    for check in checks {
        let bytes = [&check.key[..], &check.bytes, &check.signature].concat();
        let pack = |six: &[u8]| six.iter().rev().fold(0.0, |sum, byte| sum * 256.0 + f64::from(*byte));
        numbers.extend(bytes.chunks(PACKED).map(pack));
    }
    numbers
}

/// Reads a question; `None` for anything else.
pub(crate) fn read_ask(numbers: &[f64]) -> Option<Vec<SignatureCheck>> {
    let [form, packed @ ..] = numbers else { return None };
    if *form != ASK || packed.len() % NUMBERS != 0 {
        return None;
    }
    packed.chunks(NUMBERS).map(one).collect()
}

fn one(numbers: &[f64]) -> Option<SignatureCheck> {
    let mut bytes = Vec::with_capacity(NUMBERS * PACKED);
    for number in numbers {
        // Whole and far below what a number keeps exactly: nothing is cut off.
        let mut rest = *number as u64;
        for _ in 0..PACKED {
            bytes.push((rest % 256) as u8);
            rest /= 256;
        }
    }
    let part = |from: usize, to: usize| bytes.get(from..to);
    Some(SignatureCheck {
        key: part(0, 32)?.try_into().ok()?,
        bytes: part(32, 96)?.try_into().ok()?,
        signature: part(96, LENGTH)?.try_into().ok()?,
    })
}

/// Writes an answer: whether each signature holds.
pub(crate) fn write_answer(checks: &[SignatureCheck]) -> Vec<f64> {
    let mut numbers = vec![ANSWER];
    numbers.extend(checks.iter().map(|check| f64::from(u8::from(check.holds()))));
    numbers
}

/// Reads the answer to a question of so many signatures; `None` for anything else.
pub(crate) fn read_answer(numbers: &[f64], asked: usize) -> Option<Vec<bool>> {
    let [form, holds @ ..] = numbers else { return None };
    (*form == ANSWER && holds.len() == asked).then(|| holds.iter().map(|holds| *holds == 1.0).collect())
}

#[cfg(test)]
mod tests {
    use super::{read_answer, read_ask, write_answer, write_ask};
    use logbook::Logbook;
    use logbook::entry::SignatureCheck;

    const SIGNED: &str = include_str!("../../../../tests/compatibility/data/log-v1-signed.ndjson");

    #[test]
    fn checks_come_through_and_are_answered_one_by_one() {
        let logbook = Logbook::open_own("reader".into(), &[SIGNED], "");
        let mut checks: Vec<SignatureCheck> = logbook.unchecked(9).into_iter().map(|(_, check)| check).collect();
        assert!(checks.len() > 2);
        checks[1].signature[0] ^= 1;
        let asked = read_ask(&write_ask(&checks));
        assert_eq!(asked.as_deref(), Some(checks.as_slice()));
        let answer = read_answer(&write_answer(&checks), checks.len()).unwrap();
        assert!(answer.iter().enumerate().all(|(place, holds)| *holds == (place != 1)));
        assert_eq!(read_answer(&[7203.0, 1.0], 2), None);
        assert_eq!(read_ask(&[7103.0, 1.0]), None);
        assert_eq!(read_ask(&[7101.0]), None);
    }
}
