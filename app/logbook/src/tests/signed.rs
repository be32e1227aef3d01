//! Signed entries: what a key signed holds, and nothing that was changed, moved or signed by another does.

use ed25519_dalek::{Signer, SigningKey};

use super::academy;
use crate::draft::Draft;
use crate::entry::{Checked, Content, Entry, Place, Signing, Unverified};
use crate::log::{Log, Problem};
use crate::signature::{PublicKey, Signature};

fn secret(seed: u8) -> SigningKey {
    SigningKey::from_bytes(&[seed; 32])
}

fn public(secret: &SigningKey) -> PublicKey {
    PublicKey::of_bytes(secret.verifying_key().as_bytes()).unwrap()
}

fn place() -> Place {
    Place {
        id: "e".into(),
        device: "d".into(),
        sequence: 1,
        previous: String::new(),
        at: super::at("2026-03-02T10:00:00+00:00"),
        salt: "0".repeat(32),
    }
}

fn signed_by(secret: &SigningKey, in_academy: &str) -> Entry {
    let draft = Draft::academy_founded(academy("A", false));
    let signing = Signing { academy: in_academy.into(), key: public(secret) };
    let unsigned = Entry::draw_up(&draft, place(), signing).unwrap();
    let signature = secret.sign(&unsigned.bytes().unwrap());
    unsigned.sign(&Signature::of_bytes(&signature.to_bytes()).unwrap()).unwrap()
}

fn check(line: &str) -> Option<Checked> {
    Unverified::read(line).ok().map(Unverified::check)
}

#[test]
fn a_signed_entry_reads_as_it_was_written() {
    let entry = signed_by(&secret(1), "e");
    assert_eq!(entry.signer(), Some(&public(&secret(1))));
    assert_eq!(check(entry.line()), Some(Checked::Sound(entry.clone())));
    assert!(matches!(entry.content(), Content::Fact(_)));
}

#[test]
fn no_flipped_bit_of_a_signed_entry_passes() {
    let entry = signed_by(&secret(1), "e");
    let (mut looked, line) = (0, entry.line());
    for bit in 0..line.len() * 8 {
        let mut bytes = line.to_owned().into_bytes();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let Ok(flipped) = String::from_utf8(bytes) else { continue };
        looked += 1;
        assert!(!matches!(check(&flipped), Some(Checked::Sound(_))), "bit {bit}: {flipped}");
    }
    assert!(looked > line.len() * 6, "{looked} of {}", line.len() * 8);
}

#[test]
fn nobody_signs_for_another_key_academy_kind_or_version() {
    let entry = signed_by(&secret(1), "e");
    let other = signed_by(&secret(2), "e");
    let [mine, theirs] = [&entry, &other].map(|entry| entry.line().rsplit_once(",\"signature\":").unwrap().1);
    for (from, to) in [
        (mine, theirs),
        (mine, "null}"),
        ("\"academy\":\"e\"", "\"academy\":\"f\""),
        ("\"kind\":\"academy founded\"", "\"kind\":\"academy amended\""),
        ("\"version\":1", "\"version\":2"),
        (&public(&secret(1)).text(), &public(&secret(2)).text()),
    ] {
        let line = entry.line().replace(from, to);
        assert_ne!(line, entry.line(), "{from}");
        assert!(matches!(check(&line), Some(Checked::SignatureBad(_))), "{line}");
    }
    let stripped = entry.line().replace(&format!("\"key\":\"{}\",", public(&secret(1)).text()), "");
    assert!(check(&stripped).is_none(), "a header with an academy and no key: {stripped}");
    let unsigned = Entry::write(&Draft::academy_founded(academy("A", false)), place()).unwrap();
    let lent = unsigned.line().replace("\"signature\":null}", &format!("\"signature\":{mine}"));
    assert!(matches!(check(&lent), Some(Checked::SignatureBad(_))), "{lent}");
}

#[test]
fn a_bad_signature_is_kept_said_and_healed_by_the_true_line() {
    let entry = signed_by(&secret(1), "e");
    let bad = entry.line().rsplit_once(",\"signature\":").map(|(start, _)| format!("{start},\"signature\":null}}"));
    let mut log = Log::default();
    log.insert_line(&bad.clone().unwrap());
    assert_eq!(log.problems(), [Problem::SignatureBad("e".into())]);
    assert_eq!(log.lines().collect::<Vec<_>>(), [bad.unwrap().as_str()]);
    assert!(log.entry(&"e".into()).is_none(), "it is not believed");
    log.insert_line(entry.line());
    assert_eq!(log.problems(), []);
    assert_eq!(log.entry(&"e".into()).map(|known| known.line()), Some(entry.line()));
}

#[test]
fn a_key_signs_only_what_it_was_asked_to() {
    let draft = Draft::academy_founded(academy("A", false));
    let signing = Signing { academy: "e".into(), key: public(&secret(1)) };
    let unsigned = Entry::draw_up(&draft, place(), signing).unwrap();
    for wrong in [secret(2).sign(&unsigned.bytes().unwrap()), secret(1).sign(b"something else")] {
        let wrong = Signature::of_bytes(&wrong.to_bytes()).unwrap();
        assert!(unsigned.clone().sign(&wrong).is_err());
    }
}
