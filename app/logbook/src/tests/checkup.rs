//! What does not hold together, in words.

use practicum::moment::Moment;

use super::trust::{Device, World, note, sign_off};
use super::{at, log_of, staff, written};
use crate::checkup::{Finding, findings};
use crate::draft::Draft;
use crate::entry::{Entry, Place};
use crate::fact::{Admission, Fact, Scope};
use crate::logbook::Logbook;

fn now() -> Moment {
    at("2026-03-10T10:00:00+00:00")
}

fn book<'e>(entries: impl IntoIterator<Item = &'e Entry>) -> Logbook {
    let log = log_of(entries);
    let lines: Vec<&str> = log.lines().collect();
    Logbook::open("reader".into(), &lines, "")
}

fn found(book: &Logbook) -> Vec<Finding> {
    findings(book, &now())
}

/// The academy's people on one device at ten, then notes on a phone at these moments.
fn phone_at(moments: &[&str]) -> Vec<Entry> {
    let drafts: Vec<(Draft, Moment)> =
        staff().into_iter().map(|draft| (draft, at("2026-03-02T10:00:00+00:00"))).collect();
    let mut entries = written(&drafts, 1);
    let mut previous = String::new();
    for (place, when) in moments.iter().enumerate() {
        let place = Place {
            id: format!("p{place}").as_str().into(),
            device: "phone".into(),
            sequence: place as u64 + 1,
            previous: previous.clone(),
            at: at(when),
            salt: format!("{:032x}", place + 99),
        };
        let entry = Entry::write(&Draft::new(&"t".into(), note("a note")), place).unwrap();
        previous = entry.hash().to_owned();
        entries.push(entry);
    }
    entries
}

#[test]
fn clocks_that_disagree_are_said_and_nothing_else() {
    let cases: [(&[&str], Option<&str>); 5] = [
        (&["2026-03-02T11:00:00+00:00", "2026-03-02T10:59:30+00:00"], None),
        (&["2026-03-02T11:00:00+00:00", "2026-03-02T10:30:00+00:00"], Some("went back")),
        (&["1970-01-01T00:00:10+00:00"], Some("was not set")),
        (&["2026-03-01T11:00:00+00:00"], Some("before the academy was founded")),
        (&["2026-03-12T11:00:00+00:00"], Some("ahead of this device’s clock")),
    ];
    for (moments, wanted) in cases {
        let found = found(&book(&phone_at(moments)));
        let said: Vec<&str> = found.iter().map(|one| one.what.as_str()).collect();
        match wanted {
            None => assert_eq!(said, [""; 0]),
            Some(words) => {
                assert!(said.len() == 1 && said[0].contains(words), "{said:?}");
                assert_eq!(found[0].entries.len(), 1);
                assert!(!found[0].to_do.is_empty());
            }
        }
    }
}

#[test]
fn both_sides_of_a_fork_are_shown_with_what_they_say() {
    let mut world = World::new();
    let mut copy = world.phone.clone();
    let (one, other) = (world.phone.write("t", note("one")), copy.write("t", note("other")));
    world.take(&one);
    world.take(&other);
    let entries: Vec<Entry> = world.log.entries().map(|entry| entry.as_ref().clone()).collect();
    let found = found(&book(&entries));
    let fork = found.iter().find(|one| one.what.contains("different entries with the number")).unwrap();
    assert_eq!(fork.entries.len(), 2);
    assert!(fork.entries.iter().all(|shown| shown.words.contains("follow-up noted")), "{:?}", fork.entries);
}

#[test]
fn a_key_admitted_twice_a_strangers_word_and_whoever_left_are_said() {
    let mut world = World::new();
    let again = Admission {
        key: world.phone.key(),
        device: "phone".into(),
        person: Some("t".into()),
        scope: Scope::Owning,
        label: "phone again".to_owned(),
    };
    let again = world.academy.write("owner", Fact::KeyAdmitted(again));
    let stranger = Device::new("stranger", 9).write("i", sign_off("i"));
    let left = Fact::PersonLeft { person: "i".into(), on: at("2026-03-01T10:00:00+00:00").date_naive() };
    let left = world.tablet.write("i", left);
    let after = world.tablet.write("i", sign_off("i"));
    for entry in [&again, &stranger, &left, &after] {
        world.take(entry);
    }
    let entries: Vec<Entry> = world.log.entries().map(|entry| entry.as_ref().clone()).collect();
    let found = found(&book(&entries));
    for words in ["was admitted 2 times", "a key that this academy never admitted", "i left on 2026-03-01 and wrote"] {
        assert!(found.iter().any(|one| one.what.contains(words)), "{words} is not in {found:?}");
    }
}
