//! Saved first, shown after: whatever the store does.

use proptest::prelude::*;

use super::{at, fresh, reopened, staffed};
use crate::draft::Draft;
use crate::log::Problem;
use crate::logbook::{Logbook, NotRecorded};
use crate::store::{MemoryStore, Store, StoreFault};

fn note(number: u32) -> Draft {
    Draft::follow_up(&"t".into(), crate::subject::Subject::Academy, format!("note {number}"), None)
}

proptest! {
    #[test]
    fn what_is_shown_is_what_is_stored(seed in any::<u64>(), acts in 1..40_u32) {
        let (mut logbook, mut sound) = staffed(&[]);
        let mut store = MemoryStore::new(seed, 300);
        for line in sound.load().unwrap().lines {
            store.written_elsewhere(&line, &logbook.head());
        }
        let mut names = fresh(7);
        for number in 0..acts {
            let before = logbook.log().len();
            let drafts = [note(number), note(number + 1000)];
            let count = usize::try_from(number % 2 + 1).unwrap();
            let now = at("2026-03-02T10:00:00+00:00") + chrono::TimeDelta::seconds(i64::from(number));
            match logbook.record(&mut store, &drafts[..count], now, &mut names) {
                Ok(ids) => prop_assert_eq!(ids.len(), count),
                Err(NotRecorded::Store(_)) => prop_assert_eq!(logbook.log().len(), before),
                Err(other) => prop_assert!(false, "{}", other),
            }
            let again = reopened(&mut store);
            prop_assert_eq!(again.problems(), []);
            prop_assert_eq!(again.records(), logbook.records());
            prop_assert_eq!(again.head(), logbook.head());
        }
    }
}

#[test]
fn a_write_after_another_tab_is_refused_until_it_has_been_read() {
    let (mut book, mut store) = staffed(&[note(1)]);
    let mut other = reopened(&mut store);
    let (mut names, now) = (fresh(9), at("2026-03-02T11:00:00+00:00"));
    other.record(&mut store, &[note(2)], now, &mut names).unwrap();
    let refused = book.record(&mut store, &[note(3)], now, &mut names).unwrap_err();
    assert_eq!(refused, NotRecorded::Store(StoreFault::HeadMoved));
    assert_eq!(book.records().follow_ups().len(), 1);
    let stored = store.load().unwrap();
    book.catch_up(&stored.lines, &stored.head);
    book.record(&mut store, &[note(3)], now, &mut names).unwrap();
    assert_eq!(book.records().follow_ups().len(), 3);
    assert_eq!(reopened(&mut store).problems(), []);
}

#[test]
fn an_end_that_is_missing_is_shown() {
    let (_, mut store) = staffed(&[note(1), note(2)]);
    let stored = store.load().unwrap();
    let opened = Logbook::open("d".into(), &stored.lines[..stored.lines.len() - 1], &stored.head);
    assert_eq!(opened.problems(), [Problem::EndMissing { device: "d".into() }]);
}

#[test]
fn every_fault_and_problem_has_its_sentence() {
    for fault in [StoreFault::Full, StoreFault::Lost, StoreFault::HeadMoved] {
        assert!(fault.to_string().ends_with('.'));
    }
}
