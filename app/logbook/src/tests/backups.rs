//! A backup gives back what it took, and a bad file changes nothing.

use proptest::collection::vec;
use proptest::prelude::*;

use super::{academy, at, logbook, written};
use crate::backup::{BackupError, export, read};
use crate::draft::Draft;
use crate::logbook::Logbook;
use crate::wire::any;

fn exported(logbook: &Logbook) -> String {
    export(logbook, &at("2026-04-01T12:00:00+01:00")).unwrap()
}

fn sample(demo: bool) -> Logbook {
    let person = practicum::person::Person {
        id: "t".into(),
        name: "<script>alert(1)</script> 🌸".to_owned(),
        role: practicum::person::Role::Trainee,
        group: "Spring".to_owned(),
        since: None,
        left: None,
        show_times_early: false,
    };
    let drafts = [Draft::academy_founded(academy("Invented", demo)), Draft::person_enrolled(&"owner".into(), person)];
    logbook(&drafts).0
}

proptest! {
    #[test]
    fn a_restore_on_an_empty_device_gives_the_same_records(facts in vec((any::fact(), any::moment()), 0..8)) {
        let founded = |fact: &crate::Fact| matches!(fact, crate::Fact::AcademyFounded(_) | crate::Fact::Corrected { .. });
        let founding = (Draft::academy_founded(academy("Invented", false)), at("2020-01-01T09:00:00+00:00"));
        let facts = facts.into_iter().filter(|(fact, _)| !founded(fact));
        let drafts: Vec<_> = std::iter::once(founding)
            .chain(facts.map(|(fact, at)| (Draft::new(&"a".into(), fact), at)))
            .collect();
        let lines: Vec<String> = written(&drafts, 2).iter().map(|entry| entry.line().to_owned()).collect();
        let before = Logbook::open("d0".into(), &lines, "");
        let restored = read(&exported(&before)).unwrap().restore(&Logbook::new("new".into()), false).unwrap();
        prop_assert_eq!(restored.logbook.log().header_set_hash(), before.log().header_set_hash());
        prop_assert_eq!(format!("{:?}", restored.logbook.records()), format!("{:?}", before.records()));
        prop_assert_eq!(restored.logbook.problems(), before.log().problems());
    }
}

#[test]
fn a_file_without_its_founding_is_refused_so_that_no_demo_slips_in() {
    let note = Draft::follow_up(&"demo-owner".into(), crate::subject::Subject::Academy, "invented".to_owned(), None);
    let lines: Vec<String> =
        written(&[(note, at("2026-03-02T10:00:00+00:00"))], 1).iter().map(|entry| entry.line().to_owned()).collect();
    let file = exported(&Logbook::open("d0".into(), &lines, ""));
    assert!(matches!(read(&file), Err(BackupError::Broken(why)) if why.contains("which academy")));
    assert!(read(&exported(&Logbook::new("d0".into()))).is_ok());
}

#[test]
fn a_restore_of_the_same_file_twice_adds_nothing() {
    let before = sample(false);
    let backup = read(&exported(&before)).unwrap();
    let once = backup.restore(&Logbook::new("new".into()), false).unwrap();
    assert_eq!((once.new, once.known), (2, 0));
    let twice = backup.restore(&once.logbook, false).unwrap();
    assert_eq!((twice.new, twice.known), (0, 2));
    assert_eq!(once.lines, twice.lines);
    assert_eq!(exported(&once.logbook), exported(&before));
}

#[test]
fn the_copy_of_a_broken_app_gives_the_same_entries() {
    let before = sample(false);
    let packs = [before.log().lines().collect::<Vec<_>>().join("\n")];
    let copy = |packs: &[String]| {
        serde_json::json!({
            "format": "upsweep-rescue", "version": 1, "database": "upsweep", "demo": false,
            "saved_at": "2026-04-01T11:00:00.000Z", "head": before.head(), "packs": packs, "couch": [],
        })
        .to_string()
    };
    let restored = read(&copy(&packs)).unwrap().restore(&Logbook::new("new".into()), false).unwrap();
    assert_eq!(restored.logbook.log().header_set_hash(), before.log().header_set_hash());
    for bad in [&[][..], &["{}".to_owned()], &["<script>".to_owned()]] {
        assert!(matches!(read(&copy(bad)), Err(BackupError::Broken(_))), "{bad:?}");
    }
}

#[test]
fn a_file_cut_short_anywhere_is_refused() {
    let text = exported(&sample(false));
    let end = text.trim_end().len();
    for cut in (0..end).filter(|cut| text.is_char_boundary(*cut)) {
        let refused = read(&text[..cut]).unwrap_err();
        let expected = if cut == 0 { BackupError::WrongKind } else { BackupError::CutShort };
        assert_eq!(refused, expected, "cut at {cut}");
    }
}

#[test]
fn every_flipped_bit_of_a_file_is_refused_or_shown() {
    let before = sample(false);
    let text = exported(&before);
    for bit in 0..text.len() * 8 {
        let mut bytes = text.clone().into_bytes();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let Ok(flipped) = String::from_utf8(bytes) else { continue };
        let Ok(backup) = read(&flipped) else { continue };
        let restored = backup.restore(&Logbook::new("new".into()), false);
        let same = restored.as_ref().is_ok_and(|r| r.logbook.records() == before.records());
        let shown = restored.as_ref().is_ok_and(|r| !r.logbook.problems().is_empty());
        let when_only = *backup.exported_at() != at("2026-04-01T12:00:00+01:00");
        assert!(same || shown || when_only || restored.is_err(), "bit {bit}");
    }
}

#[test]
fn files_of_another_kind_are_told_apart() {
    let text = exported(&sample(false));
    assert_eq!(read("name,date\nA,1").unwrap_err(), BackupError::WrongKind);
    assert_eq!(read("{\"format\":\"other\"}").unwrap_err(), BackupError::WrongKind);
    assert_eq!(read("[1,2]").unwrap_err(), BackupError::WrongKind);
    assert_eq!(read(&text.replace("\"version\": 1", "\"version\": 2")).unwrap_err(), BackupError::Newer(2));
    assert!(matches!(read(&text.replace("\"count\": 2", "\"count\": 3")).unwrap_err(), BackupError::Broken(_)));
    assert!(matches!(
        read(&text.replacen("\"kind\":", "\"kind\":1,\"kind\":", 1)).unwrap_err(),
        BackupError::Broken(_)
    ));
    let hostile = format!("{{\"format\":\"upsweep-log\",\"entries\":{}", "[".repeat(100_000));
    assert!(read(&hostile).is_err());
    let large = read(&" ".repeat(crate::backup::LARGEST_FILE + 1)).unwrap_err();
    assert_eq!(large.to_string(), "This file has 64.1 MB; at most 64 MB are taken. Nothing was changed.");
    assert!(read(&format!("\u{feff}{text}")).is_ok());
}

#[test]
fn demo_and_real_records_never_mix() {
    let (demo, real) = (sample(true), sample(false));
    let file = read(&exported(&demo)).unwrap();
    assert_eq!(file.restore(&Logbook::new("x".into()), false).unwrap_err(), BackupError::Demo { file_is_demo: true });
    let file = read(&exported(&real)).unwrap();
    assert_eq!(file.restore(&Logbook::new("x".into()), true).unwrap_err(), BackupError::Demo { file_is_demo: false });
    let lying = exported(&demo).replace("\"demo\": true", "\"demo\": false");
    assert!(matches!(read(&lying).unwrap_err(), BackupError::Broken(_)));
}

#[test]
fn another_academys_file_is_refused() {
    let other = logbook(&[Draft::academy_founded(academy("Other", false))]).0;
    let file = read(&exported(&other)).unwrap();
    assert_eq!(file.restore(&sample(false), false).unwrap_err(), BackupError::OtherAcademy);
}

#[test]
fn lines_that_cannot_be_read_travel_along() {
    let mut lines: Vec<String> = sample(false).log().lines().map(str::to_owned).collect();
    lines.push("{\"half\":\r".to_owned());
    let damaged = Logbook::open("d".into(), &lines, "");
    let file = read(&exported(&damaged)).unwrap();
    let restored = file.restore(&Logbook::new("new".into()), false).unwrap();
    assert!(restored.logbook.log().unreadable().iter().eq(["{\"half\":"]));
    assert_eq!(restored.lines.len(), 3);
}
