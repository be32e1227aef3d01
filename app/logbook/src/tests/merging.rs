//! The same entries give the same records, in whatever order and however often they come.

use proptest::collection::vec;
use proptest::prelude::*;

use super::{log_of, read, written};
use crate::draft::Draft;
use crate::entry::{Checked, Content, Entry};
use crate::log::{Inserted, Log, Problem};
use crate::records::Records;
use crate::trust::Trust;
use crate::wire::any;

fn drafts() -> impl Strategy<Value = Vec<(Draft, practicum::moment::Moment)>> {
    let author = proptest::sample::select(vec!["a", "b", "c"]);
    vec((author, any::fact(), any::moment()), 1..12)
        .prop_map(|all| all.into_iter().map(|(author, fact, at)| (Draft::new(&author.into(), fact), at)).collect())
}

/// Entries in a drawn order, some of them twice.
fn shuffled() -> impl Strategy<Value = (Vec<Entry>, Vec<Entry>)> {
    drafts().prop_flat_map(|drafts| {
        let entries = written(&drafts, 2);
        let twice: Vec<Entry> = entries.iter().chain(&entries).cloned().collect();
        (Just(entries), Just(twice).prop_shuffle())
    })
}

proptest! {
    #[test]
    fn order_and_repetition_do_not_matter((entries, shuffled) in shuffled()) {
        let (told, mixed) = (log_of(&entries), log_of(&shuffled));
        prop_assert_eq!(told.header_set_hash(), mixed.header_set_hash());
        prop_assert_eq!(told.lines().collect::<Vec<_>>(), mixed.lines().collect::<Vec<_>>());
        prop_assert_eq!(format!("{:?}", Records::of(&told)), format!("{:?}", Records::of(&mixed)));
        prop_assert_eq!(told.problems(), mixed.problems());
    }

    #[test]
    fn records_told_one_by_one_are_those_worked_out_at_once((_, shuffled) in shuffled()) {
        let (mut log, mut trust, mut records) = (Log::default(), Trust::default(), Records::default());
        for entry in &shuffled {
            if let Inserted::Added(entry) = log.insert(Checked::Sound(entry.clone())) {
                if trust.take(&entry) {
                    records.apply(&log, &trust, &entry);
                } else {
                    trust = Trust::of(&log, None);
                    records.rebuild(&log, &trust);
                }
            }
            prop_assert_eq!(&records, &Records::of(&log));
        }
    }

    #[test]
    fn merging_is_a_union((entries, _) in shuffled(), cut in 0..12_usize) {
        let (left, right) = (log_of(entries.iter().take(cut)), log_of(entries.iter().skip(cut / 2)));
        let (mut one, mut other) = (left.clone(), right.clone());
        one.merge(&right);
        other.merge(&left);
        prop_assert_eq!(one.header_set_hash(), other.header_set_hash());
        let again = one.clone();
        one.merge(&again);
        prop_assert_eq!(one.header_set_hash(), log_of(&entries).header_set_hash());
        prop_assert_eq!(Records::of(&one), Records::of(&other));
    }

    #[test]
    fn entries_come_back_from_their_lines(drafts in drafts()) {
        for entry in written(&drafts, 1) {
            prop_assert_eq!(read(entry.line()), Checked::Sound(entry.clone()));
        }
    }
}

fn without_body(entry: &Entry) -> String {
    let mut value: serde_json::Value = serde_json::from_str(entry.line()).unwrap();
    value["body"] = serde_json::Value::Null;
    value.to_string()
}

#[test]
fn a_withheld_body_leaves_header_and_chain_whole() {
    let draft = Draft::device_ended(&"a".into(), "x".into());
    let when = super::at("2026-03-02T10:00:00+00:00");
    let entries = written(&[(draft.clone(), when), (draft, when)], 1);
    let mut log = Log::default();
    log.insert_line(&without_body(&entries[0]));
    log.insert_line(entries[1].line());
    assert_eq!(log.problems(), []);
    assert_eq!(log.header_set_hash(), log_of(&entries).header_set_hash());
    assert_eq!(log.entries().next().unwrap().content(), &Content::Withheld);
    assert_eq!(Records::of(&log).not_shown().len(), 1);
    assert!(matches!(log.insert_line(entries[0].line()), Some(Inserted::Completed(_))));
    assert_eq!(Records::of(&log), Records::of(&log_of(&entries)));
}

#[test]
fn what_a_later_version_wrote_is_kept_and_passed_on_untouched() {
    let draft = Draft::device_ended(&"a".into(), "x".into());
    let known = written(&[(draft, super::at("2026-03-02T10:00:00+00:00"))], 1).remove(0);
    for (key, value) in [("kind", serde_json::json!("weather noted")), ("version", serde_json::json!(7))] {
        let mut value_of: serde_json::Value = serde_json::from_str(known.line()).unwrap();
        value_of["header"][key] = value;
        value_of["header"]["scope"] = serde_json::json!({"later": [1, 2.5, "x"]});
        let line = serde_jcs::to_string(&value_of).unwrap();
        let mut log = Log::default();
        log.insert_line(&line);
        assert_eq!(log.lines().collect::<Vec<_>>(), [line.as_str()]);
        assert_eq!(log.problems(), []);
        assert_eq!(Records::of(&log).not_shown().len(), 1);
    }
}

#[test]
fn a_gap_and_a_fork_are_shown() {
    let draft = Draft::device_ended(&"a".into(), "x".into());
    let when = super::at("2026-03-02T10:00:00+00:00");
    let entries = written(&vec![(draft.clone(), when); 4], 1);
    let gap = log_of([&entries[0], &entries[3]]);
    assert_eq!(gap.problems(), [Problem::Gap { device: "d0".into(), from: 2, to: 3 }]);
    let place = crate::entry::Place {
        id: "other".into(),
        device: "d0".into(),
        sequence: 4,
        previous: entries[2].hash().to_owned(),
        at: when,
        salt: "0".repeat(32),
    };
    let mut fork = log_of(&entries);
    fork.insert(Checked::Sound(Entry::write(&draft, place).unwrap()));
    assert!(matches!(fork.problems().as_slice(), [Problem::Fork { sequence: 4, .. }]), "{:?}", fork.problems());
}
