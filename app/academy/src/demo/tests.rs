//! Claims about the demo.

use practicum::couch::fold::Run;
use practicum::moment::parse_moment;
use practicum::service::Origin;

use super::group::invent;

/// The demo's records, and how many facts made them.
pub(crate) fn logbook_of_the_demo() -> (logbook::Logbook, usize) {
    let book = practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap();
    let facts = super::facts(&book, parse_moment("2026-11-25T12:00:00+00:00").unwrap());
    let mut logbook = logbook::Logbook::new("d".into());
    let mut number = 0_u128;
    let mut fresh = || {
        number += 1;
        format!("{number:032x}")
    };
    for together in facts.chunk_by(|one, next| one.at == next.at) {
        let drafts: Vec<_> =
            together.iter().map(|dated| logbook::Draft::new(&dated.author, dated.fact.clone())).collect();
        let prepared = logbook.prepare(&drafts, together[0].at, &mut fresh).unwrap();
        logbook.commit(prepared);
    }
    (logbook, facts.len())
}

#[test]
fn everybody_in_the_demo_writes_only_what_they_may() {
    let (logbook, facts) = logbook_of_the_demo();
    assert_eq!(logbook.log().len(), facts);
    assert!(logbook.records().is_demo());
    let trials = logbook.records().trials();
    assert!(!trials.is_empty(), "somebody in the demo is on trial");
    let named: std::collections::BTreeSet<_> = trials.iter().map(|trial| &trial.trainee).collect();
    assert_eq!(named.len(), trials.len(), "one each");
}

#[test]
fn the_demo_group_is_whole_and_its_taps_are_sound() {
    let book = practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap();
    let group = invent(&book, parse_moment("2026-11-25T12:00:00+00:00").unwrap());
    assert!(group.services.len() >= 8 * 11, "{} services", group.services.len());
    for service in &group.services {
        let Origin::Live { opening, taps } = &service.origin else { panic!("not live") };
        let run = Run::fold(&book, opening, taps);
        assert_eq!(run.ignored(), &[], "{}", service.id);
        assert_eq!(run.times(), service.times, "{}", service.id);
    }
    assert!(group.services.iter().any(|service| service.incident.is_some()));
    assert!(!group.decisions.is_empty());
}
