//! Saved first, shown after: whatever the store does.

use super::{at, fresh, reopened, staffed};
use crate::draft::Draft;
use crate::log::Problem;
use crate::logbook::{Logbook, NotRecorded};
use crate::store::{Faults, MemoryStore, Store, StoreFault, Trouble};

fn note(number: u32) -> Draft {
    Draft::follow_up(&"t".into(), crate::subject::Subject::Academy, format!("note {number}"), None)
}

/// Writes with faults until so many have happened: what was acknowledged is there, what was refused is not, what
/// was lost is there whole or not at all, two tabs never lose each other's entries, and nobody ever reads a part.
///
/// `FAULTS=1000000 cargo test --profile study -p logbook every_write_fault -- --nocapture` runs as many as asked;
/// a failure names its seed, and `SEED=n` begins there.
#[test]
fn every_write_fault_is_survived() {
    let number = |name: &str| std::env::var(name).ok().and_then(|text| text.parse::<u64>().ok());
    let wanted = number("FAULTS").unwrap_or(600);
    let mut seed = number("SEED").unwrap_or(1);
    let mut happened = Faults::default();
    while happened.iter().sum::<u64>() < wanted {
        for (sum, more) in happened.iter_mut().zip(faults_of(seed)) {
            *sum += more;
        }
        seed += 1;
    }
    let counts: Vec<String> =
        Trouble::ALL.iter().zip(&happened).map(|(trouble, count)| format!("{trouble:?} {count}")).collect();
    println!("{} faults in {} histories: {}", happened.iter().sum::<u64>(), seed - 1, counts.join(", "));
    assert!(wanted < 500 || happened.iter().all(|count| *count > 0), "{happened:?}");
}

fn faults_of(seed: u64) -> Faults {
    let (logbook, sound) = staffed(&[]);
    let mut store = MemoryStore::new(seed, 300);
    for line in &sound.stored().lines {
        store.written_elsewhere(line, &logbook.head());
    }
    let mut tabs = [logbook.clone(), logbook];
    let (mut names, mut acknowledged) = (fresh(7), Vec::new());
    for number in 0..30_u32 {
        let tab = &mut tabs[usize::from(number.wrapping_mul(7) % 5 < 2)];
        let before = store.stored().lines.len();
        let drafts = [note(number), note(number + 1000)];
        let count = usize::try_from(number % 2 + 1).unwrap();
        let now = at("2026-03-02T10:00:00+00:00") + chrono::TimeDelta::seconds(i64::from(number));
        let shown = tab.log().len();
        let recorded = tab.record(&mut store, &drafts[..count], now, &mut names);
        let new = store.stored().lines.len() - before;
        match &recorded {
            Ok(ids) => {
                assert_eq!((ids.len(), new), (count, count), "seed {seed}, write {number}");
                acknowledged.extend(ids.iter().cloned());
            }
            Err(NotRecorded::Store(fault)) => {
                assert_eq!(tab.log().len(), shown, "seed {seed}: shown before it was saved");
                let whole = new == 0 || *fault == StoreFault::Lost && new == count;
                assert!(whole, "seed {seed}, write {number}: {new} of {count} lines after {fault:?}");
                if *fault == StoreFault::HeadMoved {
                    store.note(Trouble::Overtaken);
                }
            }
            Err(other) => panic!("seed {seed}: {other}"),
        }
        // Whoever reads before the word comes that all is saved reads all of it, as whoever reads after it.
        if let Some(early) = store.read_early() {
            assert_eq!(&early, store.stored(), "seed {seed}, write {number}: read too early");
        }
        let torn = store.is_torn();
        if (recorded.is_err() || torn)
            && let Ok(stored) = store.load()
        {
            assert!(!store.is_torn() && stored.lines.len() == before + new, "seed {seed}: a part of a write is read");
            tab.catch_up(&stored.lines, &stored.head);
        }
        let stored = store.stored();
        let again = Logbook::open("d".into(), &stored.lines, &stored.head);
        assert_eq!(again.problems(), [], "seed {seed}, write {number}");
        for id in &acknowledged {
            assert!(again.log().entry(id).is_some(), "seed {seed}: {id} was acknowledged and is gone");
        }
        if recorded.is_ok() {
            assert!(again.records() == tab.records(), "seed {seed}: shown and stored differ");
            assert_eq!(again.head(), tab.head());
        }
    }
    *store.faults()
}

/// A store that breaks its word and keeps a part of a write is found out, wherever it tore.
#[test]
fn a_torn_write_would_be_shown() {
    let notes: Vec<Draft> = (0..5).map(note).collect();
    let (before, old) = staffed(&[]);
    let (_, new) = staffed(&notes);
    let (old, new) = (old.stored().clone(), new.stored().clone());
    let problems = |lines: &[String], head: &str| Logbook::open("d".into(), lines, head).problems().len();
    assert_eq!(problems(&new.lines, &new.head), 0);
    assert_eq!(before.head(), old.head);
    for kept in old.lines.len()..=new.lines.len() {
        // All lines with the old head, a part with either.
        let part = &new.lines[..kept];
        let old_shows = problems(part, &old.head) > 0;
        let new_shows = problems(part, &new.head) > 0;
        assert_eq!(old_shows, kept != old.lines.len(), "{kept} lines and the old head");
        assert_eq!(new_shows, kept != new.lines.len(), "{kept} lines and the new head");
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
