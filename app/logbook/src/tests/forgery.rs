//! What was changed after it was written is found, and hostile text does no harm.

use proptest::collection::vec;
use proptest::prelude::*;

use super::{academy, at, logbook, written};
use crate::draft::Draft;
use crate::entry::Unverified;
use crate::log::Log;
use crate::logbook::Logbook;
use crate::records::Records;
use crate::store::Store;
use crate::wire::any;

#[test]
fn every_single_flipped_bit_is_found() {
    let drafts = [
        Draft::academy_founded(academy("Zoë’s", false)),
        Draft::device_admitted(&"owner".into(), "d".into(), "phone".to_owned()),
        Draft::person_left(&"owner".into(), "p".into(), at("2026-03-02T10:00:00+00:00").date_naive()),
    ];
    let (_, mut store) = logbook(&drafts);
    let stored = store.load().unwrap();
    let whole = Logbook::open("d".into(), &stored.lines, &stored.head);
    assert_eq!(whole.problems(), []);
    for (number, line) in stored.lines.iter().enumerate() {
        for bit in 0..line.len() * 8 {
            let mut bytes = line.clone().into_bytes();
            bytes[bit / 8] ^= 1 << (bit % 8);
            let Ok(flipped) = String::from_utf8(bytes) else { continue };
            let mut lines = stored.lines.clone();
            lines[number] = flipped;
            let opened = Logbook::open("d".into(), &lines, &stored.head);
            assert!(!opened.problems().is_empty(), "line {number}, bit {bit} of {line}");
        }
    }
}

#[test]
fn a_changed_body_is_kept_and_never_believed() {
    let (book, _) = logbook(&[Draft::academy_founded(academy("True", false))]);
    let line = book.log().lines().next().unwrap().replace("True", "Fake");
    let opened = Logbook::open("d".into(), std::slice::from_ref(&line), &book.head());
    assert!(opened.records().academy().is_none());
    assert_eq!(opened.log().lines().collect::<Vec<_>>(), [line.as_str()]);
    assert_eq!(opened.problems().len(), 1);
    let mut healed = opened.log().clone();
    healed.merge(book.log());
    assert_eq!(healed.problems(), []);
    assert_eq!(Records::of(&healed).academy().unwrap().name, "True");
}

proptest! {
    #[test]
    fn hostile_lines_never_panic(
        author in any::text(),
        fact in any::fact(),
        when in any::moment(),
        changes in vec((any::<prop::sample::Index>(), any::<u8>(), 0..4_u8), 1..6),
    ) {
        let draft = Draft::new(&"a".into(), fact);
        let mut bytes = written(&[(draft, when)], 1)[0].line().as_bytes().to_vec();
        for (place, byte, how) in changes {
            let place = place.index(bytes.len());
            match how {
                0 => bytes[place] = byte,
                1 => bytes.insert(place, b"{}[]\",:0-9e."[usize::from(byte) % 11]),
                2 if bytes.len() > 2 => { bytes.remove(place); }
                _ => bytes.truncate(place.max(1)),
            }
        }
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let mut log = Log::default();
        for line in [text.as_str(), author.as_str()] {
            log.insert_line(line);
        }
        let _ = Records::of(&log);
        let _ = log.problems();
        let _ = crate::backup::read(&text);
        let _ = crate::tap_wire::read_tap(&text);
        let _ = crate::tap_wire::read_opening(&text);
    }

    #[test]
    fn a_body_with_a_right_hash_and_any_content_never_panics(kind in 0..crate::kind::Kind::KNOWN.len(), fact in any::fact(), drop in any::<prop::sample::Index>()) {
        let kind = &crate::kind::Kind::KNOWN[kind];
        let mut content = crate::wire::encode(&fact).unwrap();
        if let Some(object) = content.as_object_mut() {
            let key = object.keys().nth(drop.index(object.len())).cloned();
            object.remove(&key.unwrap_or_default());
        }
        let _ = crate::wire::decode(kind, 1, content, &"e".into());
    }

    #[test]
    fn a_tap_and_an_opening_come_back_from_their_texts(tap in any::tap(), opening in any::opening()) {
        let text = crate::tap_wire::tap_text(&tap).unwrap();
        prop_assert_eq!(format!("{:?}", crate::tap_wire::read_tap(&text).unwrap()), format!("{tap:?}"));
        prop_assert!(crate::tap_wire::read_opening(&text).is_err());
        let text = crate::tap_wire::opening_text(&opening).unwrap();
        prop_assert_eq!(crate::tap_wire::read_opening(&text).unwrap(), opening);
    }
}

#[test]
fn nesting_length_and_doubled_keys_are_refused_in_words() {
    for line in [
        "",
        "null",
        "[]",
        "{}",
        &"[".repeat(200_000),
        &format!("{{\"header\":{}{}}}", "{\"a\":".repeat(5_000), "}".repeat(5_000)),
        r#"{"header":{},"header":{},"body":null,"signature":null}"#,
        r#"{"header":{},"body":null,"signature":7}"#,
    ] {
        assert!(Unverified::read(line).is_err());
    }
    let (book, _) = logbook(&[Draft::academy_founded(academy("A", false))]);
    let line = book.log().lines().next().unwrap();
    assert!(Unverified::read(&line.replacen("\"name\":", "\"name\":\"B\",\"name\":", 1)).is_err());
    assert!(Unverified::read(&line.replacen("\"sequence\":1", "\"sequence\":9007199254740993", 1)).is_err());
    assert!(Unverified::read(&line.replacen("\"sequence\":1", "\"sequence\":0", 1)).is_err());
    assert!(Unverified::read(&line.replacen("\"signature\":null", "\"signature\":null,\"more\":1", 1)).is_err());
}

#[test]
fn a_tap_of_a_later_version_says_so() {
    assert!(crate::tap_wire::read_tap(r#"{"version":2,"tap":{}}"#).unwrap_err().contains("later version"));
    assert!(crate::tap_wire::read_tap(r#"{"tap":{}}"#).is_err());
}
