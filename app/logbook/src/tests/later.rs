//! A device's own log is opened before its signatures are checked; checked beside the page, it comes to the same.

use super::{at, fresh, staffed};
use crate::draft::Draft;
use crate::entry::Unverified;
use crate::json;
use crate::log::Problem;
use crate::logbook::Logbook;

/// An academy that its key founds, with signed entries.
const SIGNED: &str = include_str!("../../../../tests/compatibility/data/log-v1-signed.ndjson");

/// Checks what is left to check, a few at a time.
fn check_all(logbook: &mut Logbook) -> bool {
    let mut refused = false;
    loop {
        let left = logbook.unchecked(2);
        if left.is_empty() {
            return refused;
        }
        let found: Vec<(String, bool)> = left.into_iter().map(|(hash, check)| (hash, check.holds())).collect();
        refused |= logbook.checked(&found);
    }
}

fn same(one: &Logbook, other: &Logbook) {
    assert_eq!(one.log().header_set_hash(), other.log().header_set_hash());
    assert_eq!(one.problems(), other.problems());
    assert!(one.records() == other.records());
    assert!(one.log().lines().eq(other.log().lines()));
}

#[test]
fn sound_signatures_change_nothing_when_they_are_checked() {
    let checked = Logbook::open("reader".into(), &[SIGNED], "");
    let mut own = Logbook::open_own("reader".into(), &[SIGNED], "");
    assert!(own.unchecked(usize::MAX).len() > 2);
    same(&own, &checked);
    assert!(!check_all(&mut own));
    same(&own, &checked);
}

#[test]
fn a_bad_signature_is_found_whichever_entry_has_it() {
    let lines: Vec<&str> = SIGNED.lines().collect();
    for (place, line) in lines.iter().enumerate() {
        let other = lines[(place + 1) % lines.len()];
        let signature = |line: &str| line.rsplit_once(r#","signature":"#).unwrap().1.to_owned();
        if signature(line) == "null}" || signature(other) == "null}" {
            continue;
        }
        let forged = line.replace(&signature(line), &signature(other));
        let mut packs: Vec<&str> = lines.clone();
        packs[place] = &forged;
        let checked = Logbook::open("reader".into(), &packs, "");
        let id = Unverified::read(line).unwrap().header().id.clone();
        assert!(checked.problems().contains(&Problem::SignatureBad(id)));
        let mut own = Logbook::open_own("reader".into(), &packs, "");
        check_all(&mut own);
        same(&own, &checked);
    }
}

/// Of two copies the one that holds stays, in whichever order they stand.
#[test]
fn a_bad_copy_does_not_take_the_place_of_a_good_one() {
    let lines: Vec<&str> = SIGNED.lines().collect();
    for (place, line) in lines.iter().enumerate() {
        let other = lines[(place + 1) % lines.len()];
        let signature = |line: &str| line.rsplit_once(r#","signature":"#).unwrap().1.to_owned();
        let forged = line.replace(&signature(line), &signature(other));
        for packs in [[SIGNED, forged.as_str()], [forged.as_str(), SIGNED]] {
            let checked = Logbook::open("reader".into(), &packs, "");
            let mut own = Logbook::open_own("reader".into(), &packs, "");
            let mut again = own.opened_again(&packs, "");
            check_all(&mut own);
            same(&own, &checked);
            check_all(&mut again);
            same(&again, &checked);
        }
    }
}

#[test]
fn a_signature_that_is_missing_or_written_otherwise_needs_no_checking() {
    let line = SIGNED.lines().find(|line| !line.ends_with("null}")).unwrap();
    let (start, _) = line.rsplit_once(r#","signature":"#).unwrap();
    for end in ["null", "\"z1\"", "\"\"", "\"z1111\""] {
        let line = format!(r#"{start},"signature":{end}}}"#);
        let own = Logbook::open_own("reader".into(), &[&line], "");
        assert!(own.unchecked(9).is_empty());
        same(&own, &Logbook::open("reader".into(), &[&line], ""));
        assert!(own.problems().iter().any(|problem| matches!(problem, Problem::SignatureBad(_))));
    }
}

#[test]
fn opened_again_it_takes_what_is_new_and_lets_go_of_what_is_gone() {
    let note = |number: u32| Draft::follow_up(&"t".into(), crate::subject::Subject::Academy, number.to_string(), None);
    let (logbook, mut store) = staffed(&[note(1), note(2)]);
    let mut other = logbook.clone();
    other.record(&mut store, &[note(3)], at("2026-03-02T11:00:00+00:00"), &mut fresh(9)).unwrap();
    let stored = store.stored().clone();
    let open = |lines: &[String]| Logbook::open("d".into(), lines, &stored.head);
    same(&logbook.opened_again(&stored.lines, &stored.head), &open(&stored.lines));
    // A body that was taken away meanwhile is not kept in mind.
    let mut lines = stored.lines.clone();
    let value = json::read(lines.last().unwrap()).unwrap();
    lines.pop();
    lines.push(format!(r#"{{"body":null,"header":{},"signature":null}}"#, json::canonical_value(&value["header"])));
    let without = other.opened_again(&lines, &stored.head);
    same(&without, &open(&lines));
    assert_eq!(without.records().follow_ups().len(), 2);
    // What was left to check is still left.
    let own = Logbook::open_own("reader".into(), &[SIGNED], "");
    let again = own.opened_again(&[SIGNED], "");
    assert_eq!(again.unchecked(usize::MAX), own.unchecked(usize::MAX));
    same(&again, &own);
}

/// The short way to read a canonical line and the long way give the same.
#[test]
fn canonical_lines_are_read_alike_by_either_way() {
    let plain = include_str!("../../../../tests/compatibility/data/log-v1.ndjson");
    for line in plain.lines().chain(SIGNED.lines()) {
        let long = Unverified::from_value(json::read(line).unwrap()).unwrap();
        assert_eq!(Unverified::canonical(line), Some(Ok(long)), "{line}");
        // Letters left out or others: the same again, or the long way alone says what is wrong.
        for at in (0..line.len()).step_by(9).filter(|at| line.is_char_boundary(*at) && line.is_char_boundary(at + 1)) {
            for put in ["", "0", "\"", "}"] {
                let changed = [&line[..at], put, &line[at + 1..]].concat();
                let Some(short) = Unverified::canonical(&changed) else { continue };
                let long = json::read(&changed).map_err(|why| why.to_string()).and_then(Unverified::from_value);
                assert_eq!(short, long, "{changed}");
            }
        }
    }
}
