//! What a sign-off stands on, and what became of it.

use practicum::competency::StandsOn;

use super::corrections::late;
use super::rights::{outcome, sign_off};
use super::{at, fresh, staffed};
use crate::draft::Draft;
use crate::evidence::{State, of_services, of_sign_off};
use crate::fact::{Fact, Settlement};
use crate::logbook::Logbook;
use crate::store::{MemoryStore, Store};

fn write(book: &mut Logbook, store: &mut MemoryStore, salt: u128, draft: Draft) -> practicum::ids::EntryId {
    let when = at("2026-03-03T10:00:00+00:00") + chrono::TimeDelta::minutes(i64::try_from(salt).unwrap());
    book.record(store, &[draft], when, &mut fresh(20 + salt)).unwrap().remove(0)
}

#[test]
fn evidence_is_fixed_when_signed_and_later_changes_show() {
    let drafts = [
        Draft::service_logged(&"t".into(), late("s")),
        Draft::service_logged(&"t".into(), late("s2")),
        Draft::outcome_marked(outcome("i", true)),
    ];
    let (mut book, mut store) = staffed(&drafts);
    let services = vec!["s".into(), "s2".into()];
    let evidence = of_services(book.log(), book.records(), &services);
    assert_eq!(evidence.len(), 3, "two services and one mark");
    let marked = book.records().outcomes_of(&"s".into())[0].clone();
    assert_eq!(evidence[1], marked.hash);
    let stands_on = Some(StandsOn { course_book: "A, edition 1".into(), evidence: evidence.clone() });
    let signed = practicum::competency::SignOff { services, stands_on, ..sign_off("i", "t") };
    let id = write(&mut book, &mut store, 1, Draft::signed_off(signed));
    let stored = book.log().entry(&id).unwrap().header().clone();
    assert_eq!(stored.version, 2);
    let signed = book.records().sign_offs()[0].clone();
    let look = |book: &Logbook| of_sign_off(book.log(), book.trust(), book.records(), &signed).unwrap();
    let states = |book: &Logbook| look(book).pieces.into_iter().map(|piece| piece.state).collect::<Vec<_>>();
    assert_eq!(states(&book), [State::Unchanged, State::Unchanged, State::Unchanged]);
    assert!(look(&book).unchanged() && look(&book).since.is_empty());

    // A second opinion changes nothing of what stood; a correction does.
    let second = write(&mut book, &mut store, 2, Draft::outcome_marked(outcome("i2", true)));
    assert_eq!(look(&book).since, [second]);
    assert!(look(&book).unchanged());
    let of = marked.latest.clone();
    let corrected = write(
        &mut book,
        &mut store,
        3,
        Draft::correction(&"i".into(), of, "wrong row".to_owned(), Fact::OutcomeMarked(outcome("i", false))),
    );
    assert_eq!(states(&book), [State::Unchanged, State::Corrected(corrected), State::Unchanged]);
    assert!(!look(&book).unchanged());
    let settlement = Settlement { keep: "s".into(), other: "s2".into(), same: true, why: String::new() };
    write(&mut book, &mut store, 4, Draft::duplicate_settled(&"i".into(), settlement));
    assert!(matches!(states(&book)[2], State::Withdrawn(_)));

    // Without the entry of a mark it is missing, without its body it is withheld.
    let lines = store.load().unwrap().lines.join("\n");
    let lines: Vec<&str> = lines.lines().collect();
    let entry = book.log().by_hash(&marked.hash).unwrap();
    let without: Vec<&str> = lines.iter().copied().filter(|line| *line != entry.line()).collect();
    assert_eq!(states(&Logbook::open("d".into(), &without, ""))[1], State::Missing);
    let first = book.log().by_hash(&evidence[0]).unwrap();
    let withheld = first.without_body();
    let without: Vec<&str> =
        lines.iter().map(|line| if *line == first.line() { withheld.line() } else { line }).collect();
    assert_eq!(states(&Logbook::open("d".into(), &without, ""))[0], State::Withheld);
}

#[test]
fn a_sign_off_of_the_first_version_stands_as_it_was() {
    let (book, _) = staffed(&[Draft::signed_off(sign_off("i", "t"))]);
    let signed = book.records().sign_offs()[0].clone();
    assert_eq!(
        (signed.stands_on.clone(), of_sign_off(book.log(), book.trust(), book.records(), &signed)),
        (None, None)
    );
    assert_eq!(book.log().entries().last().unwrap().header().version, 1);
}
