//! Who may write what, asked of the logbook itself: no page stands in between.

use practicum::competency::{Decision, SignOff};
use practicum::couch::Override;
use practicum::outcome::Outcome;
use practicum::person::Role;
use practicum::section::Plan;
use practicum::service::Service;
use practicum::standing::PlanDecision;
use practicum::trial::{Millionths, Terms, Trial};

use super::corrections::late;
use super::{academy, at, fresh, person, staff, staffed};
use crate::draft::Draft;
use crate::fact::Fact;
use crate::logbook::Logbook;
use crate::store::MemoryStore;

pub(super) fn outcome(marker: &str, observed: bool) -> Outcome {
    Outcome {
        service: "s".into(),
        marker: marker.into(),
        at: at("2026-03-02T12:00:00+00:00"),
        marks: std::collections::BTreeMap::new(),
        faults: Vec::new(),
        comment: String::new(),
        independence_next: observed.then_some(2),
        observed,
    }
}

pub(super) fn decision(by: &str, trainee: &str) -> PlanDecision {
    PlanDecision {
        id: "".into(),
        trainee: trainee.into(),
        plan: Plan::Halves,
        at: at("2026-03-02T12:00:00+00:00"),
        by: by.into(),
        why: "even".to_owned(),
    }
}

fn trial(by: &str, trainee: &str) -> Trial {
    let share = Millionths::of(0.1);
    Trial {
        id: "".into(),
        trainee: trainee.into(),
        by: by.into(),
        at: at("2026-03-02T12:00:00+00:00"),
        terms: Terms {
            plan: Plan::Whole,
            unacceptable: Millionths::of(0.4),
            acceptable: share,
            horizon: 20,
            alpha: share,
            unassessed_share: share,
            breach_free_last: 8,
            score: None,
            false_accept: Millionths(0),
            false_reject: Millionths(0),
        },
        course_book: "A, edition 1".into(),
    }
}

pub(super) fn sign_off(by: &str, trainee: &str) -> SignOff {
    SignOff {
        id: "".into(),
        competency: "lash-up".into(),
        trainee: trainee.into(),
        by: by.into(),
        at: at("2026-03-02T12:00:00+00:00"),
        decision: Decision::NotYet,
        level: 2,
        comment: String::new(),
        services: Vec::new(),
        stands_on: None,
    }
}

fn claim(by: &str, confirmed: bool) -> Override {
    Override { reason_code: "test-interval-academy".to_owned(), by: by.into(), why: "label".to_owned(), confirmed }
}

/// An academy in which the trainee `t` has logged the service `s` with an override claimed in the name of `i`.
fn at_work() -> (Logbook, MemoryStore) {
    let service = Service { overrides: vec![claim("i", false)], ..late("s") };
    staffed(&[Draft::service_logged(&"t".into(), service)])
}

fn refused(drafts: &[Draft]) -> Option<String> {
    let (book, _) = at_work();
    let prepared = book.prepare(drafts, at("2026-03-03T09:00:00+00:00"), &mut fresh(3));
    prepared.err().map(|why| why.to_string())
}

#[track_caller]
fn assert_refused(draft: Draft, words: &str) {
    let said = refused(std::slice::from_ref(&draft));
    assert!(said.as_ref().is_some_and(|said| said.contains(words)), "{draft:?}: {said:?}");
}

#[track_caller]
fn assert_allowed(draft: Draft) {
    assert_eq!(refused(std::slice::from_ref(&draft)), None, "{draft:?}");
}

#[test]
fn only_an_instructor_or_the_owner_marks_as_an_assessor() {
    for marker in ["i", "i2", "owner"] {
        assert_allowed(Draft::outcome_marked(outcome(marker, true)));
    }
    assert_refused(Draft::outcome_marked(outcome("t2", false)), "t2 by name is a trainee, and marking as an assessor");
    assert_refused(Draft::outcome_marked(outcome("nobody", true)), "not enrolled");
}

#[test]
fn who_worked_a_service_gives_an_own_view_and_never_assesses_it() {
    assert_allowed(Draft::outcome_marked(outcome("t", false)));
    assert_refused(Draft::outcome_marked(outcome("t", true)), "somebody else assesses it");
    let own = Service { trainee: "i".into(), ..late("own") };
    let marked = Outcome { service: "own".into(), ..outcome("i", true) };
    let said = refused(&[Draft::service_logged(&"i".into(), own), Draft::outcome_marked(marked)]);
    assert!(said.is_some_and(|said| said.contains("i by name worked this service")));
}

#[test]
fn nobody_marks_or_decides_in_the_name_of_another() {
    let marked = Draft::new(&"t".into(), Fact::OutcomeMarked(outcome("i", true)));
    assert_refused(marked, "in the name of somebody else");
    let decided = Draft::new(&"i2".into(), Fact::PlanDecided(decision("i", "t")));
    assert_refused(decided, "in the name of somebody else");
}

#[test]
fn a_trainee_decides_no_plan_and_signs_nothing_off() {
    assert_refused(Draft::plan_decided(decision("t", "t")), "t by name is a trainee");
    assert_refused(Draft::plan_decided(decision("t2", "t")), "deciding about a section plan");
    assert_refused(Draft::signed_off(sign_off("t2", "t")), "signing off");
    assert_allowed(Draft::plan_decided(decision("i", "t")));
    assert_refused(Draft::trial_opened(trial("t", "t")), "t by name is a trainee");
    assert_refused(Draft::trial_opened(trial("t2", "t")), "opening a trial");
    assert_refused(Draft::trial_opened(trial("i", "i")), "cannot decide about themself");
    assert_allowed(Draft::trial_opened(trial("i", "t")));
    assert_allowed(Draft::signed_off(sign_off("owner", "t")));
    assert_refused(Draft::signed_off(sign_off("i", "i")), "cannot decide about themself");
    assert_refused(Draft::signed_off(sign_off("i", "nobody")), "not enrolled");
}

#[test]
fn an_override_is_confirmed_or_refused_by_the_instructor_it_names() {
    let confirm = |author: &str, by: &str| Draft::override_noted(&author.into(), "s".into(), claim(by, true));
    assert_allowed(confirm("i", "i"));
    assert_refused(confirm("i2", "i"), "Only i by name confirms");
    assert_refused(confirm("t", "i"), "is a trainee, and confirming an override");
    assert_refused(confirm("i2", "i2"), "holds no such override");
    let refuse =
        |why: &str| Draft::override_refused(&"i".into(), "s".into(), claim("i", false).reason_code, why.into());
    assert_allowed(refuse("I was not asked"));
    assert_refused(refuse(" "), "Say why");
}

#[test]
fn a_refused_override_stays_unconfirmed_until_the_instructor_says_otherwise() {
    let (mut book, mut store) = at_work();
    let (mut names, mut now) = (fresh(3), at("2026-03-03T09:00:00+00:00"));
    let refuse = Draft::override_refused(&"i".into(), "s".into(), claim("i", false).reason_code, "not asked".into());
    let confirm = Draft::override_noted(&"i".into(), "s".into(), claim("i", true));
    let mut seen = Vec::new();
    for draft in [confirm.clone(), refuse, confirm] {
        book.record(&mut store, &[draft], now, &mut names).unwrap();
        now += chrono::TimeDelta::minutes(1);
        let records = book.records();
        let service = &records.service(&"s".into()).unwrap().value;
        seen.push((service.overrides[0].confirmed, records.refusals_of(&service.id).len()));
        assert_eq!(super::reopened(&mut store).records(), records);
    }
    assert_eq!(seen, [(true, 0), (false, 1), (true, 0)]);
}

#[test]
fn a_trainee_corrects_only_what_is_their_own() {
    let (book, _) = at_work();
    let of = book.records().service(&"s".into()).unwrap().latest.clone();
    let known = book.records().service(&"s".into()).unwrap().value.clone();
    let correct =
        |by: &str, service: Service| Draft::service_corrected(&by.into(), of.clone(), "typing".to_owned(), service);
    let fixed = Service { note: "fixed".to_owned(), ..known.clone() };
    assert_allowed(correct("t", fixed.clone()));
    assert_allowed(correct("i", fixed.clone()));
    assert_refused(correct("t2", fixed), "correcting what somebody else wrote");
    assert_refused(correct("t", Service { trainee: "t2".into(), ..known.clone() }), "somebody else worked");
    let raised = Service { overrides: vec![claim("i", true)], ..known };
    assert_refused(correct("t", raised.clone()), "cannot confirm an override");
    assert_refused(correct("i", raised), "cannot confirm an override");
}

#[test]
fn an_own_view_is_not_corrected_into_an_assessment() {
    let (mut book, mut store) = at_work();
    let (mut names, now) = (fresh(3), at("2026-03-03T09:00:00+00:00"));
    let id =
        book.record(&mut store, &[Draft::outcome_marked(outcome("t", false))], now, &mut names).unwrap()[0].clone();
    let fact = Fact::OutcomeMarked(outcome("t", true));
    let draft = Draft::correction(&"t".into(), id, "x".to_owned(), fact);
    assert!(book.prepare(&[draft], now, &mut names).is_err());
}

#[test]
fn people_products_and_imports_are_not_for_trainees() {
    let t = "t".into();
    assert_refused(Draft::person_enrolled(&t, person("new", Role::Instructor)), "enrolling somebody");
    assert_refused(Draft::person_left(&t, "i".into(), chrono::NaiveDate::MIN), "has left");
    assert_refused(Draft::times_shown(&t, "t".into(), true), "showing times");
    assert_refused(Draft::device_admitted(&t, "d".into(), "x".to_owned()), "naming a device");
    assert_allowed(Draft::person_enrolled(&"i".into(), person("new", Role::Trainee)));
    assert_allowed(Draft::follow_up(&t, crate::subject::Subject::Academy, "note".to_owned(), None));
}

#[test]
fn only_the_owner_changes_the_academy_and_nobody_changes_the_owner() {
    let amended = academy("New name", false);
    assert_allowed(Draft::academy_amended(&"owner".into(), amended.clone()));
    assert_refused(Draft::academy_amended(&"i".into(), amended.clone()), "Only the owner");
    let grab = crate::fact::Academy { owner: "i".into(), ..amended };
    assert_refused(Draft::academy_amended(&"owner".into(), grab.clone()), "stays the one who founded it");
    assert_refused(Draft::person_enrolled(&"i".into(), person("i3", Role::Owner)), "stays the one who founded it");
    assert_refused(Draft::person_enrolled(&"i".into(), person("owner", Role::Trainee)), "stays the one");
    assert_refused(Draft::person_left(&"i".into(), "owner".into(), chrono::NaiveDate::MIN), "cannot leave");
    let (book, _) = at_work();
    let founding = book.records().founding().unwrap().latest.clone();
    assert_refused(
        Draft::correction(&"i".into(), founding, "x".to_owned(), Fact::AcademyFounded(grab)),
        "Only the owner",
    );
}

#[test]
fn who_has_left_writes_no_more() {
    let left = Draft::person_left(&"owner".into(), "i".into(), chrono::NaiveDate::MIN);
    let (mut book, mut store) = at_work();
    let (mut names, now) = (fresh(3), at("2026-03-03T09:00:00+00:00"));
    book.record(&mut store, &[left], now, &mut names).unwrap();
    let why = book.prepare(&[Draft::outcome_marked(outcome("i", true))], now, &mut names).unwrap_err();
    assert!(why.to_string().contains("has left"), "{why}");
}

#[test]
fn marks_of_peers_from_elsewhere_count_for_nothing() {
    let mut drafts = staff();
    drafts.push(Draft::service_logged(&"t".into(), late("s")));
    drafts.extend(["t", "t2", "i"].map(|marker| Draft::outcome_marked(outcome(marker, marker != "t"))));
    drafts.push(Draft::plan_decided(decision("t2", "t")));
    drafts.extend(["t", "t2", "i"].map(|by| Draft::trial_opened(trial(by, "t"))));
    drafts.push(Draft::signed_off(sign_off("t", "t")));
    let start = at("2026-03-02T10:00:00+00:00");
    let drafts: Vec<_> = drafts
        .into_iter()
        .zip(0..)
        .map(|(draft, minute)| (draft, start + chrono::TimeDelta::minutes(minute)))
        .collect();
    // Written past the logbook, as a log from elsewhere may hold it.
    let records = crate::records::Records::of(&super::log_of(&super::written(&drafts, 1)));
    let markers: Vec<&str> = records.outcomes_in_force().iter().map(|outcome| outcome.marker.as_str()).collect();
    assert_eq!(markers, ["t", "i"]);
    let service = &records.service(&"s".into()).unwrap().value;
    assert_eq!(records.assessors_outcomes(service).len(), 1);
    assert!(records.decisions().is_empty() && records.sign_offs().is_empty());
    assert_eq!(records.trials().iter().map(|trial| trial.by.as_str()).collect::<Vec<_>>(), ["i"]);
    assert_eq!(records.outcomes_of(&service.id).len(), 3);
}

#[test]
fn what_a_trial_fixed_is_never_changed_here_or_by_a_log_from_elsewhere() {
    let opened = Draft::trial_opened(trial("i", "t"));
    let easier = |of: &practicum::ids::EntryId| {
        let mut easier = trial("i", "t");
        easier.terms.alpha = Millionths::of(0.9);
        Draft::correction(&"i".into(), of.clone(), "easier".to_owned(), Fact::TrialOpened(easier))
    };
    let (now, later) = (at("2026-03-02T10:00:00+00:00"), at("2026-03-03T09:00:00+00:00"));
    let (book, _) = staffed(std::slice::from_ref(&opened));
    let here = easier(&book.records().trials()[0].id);
    let refused = book.prepare(&[here], later, &mut fresh(3)).unwrap_err();
    assert!(refused.to_string().contains("open a new one"), "{refused}");
    // Written past the logbook, as a log from elsewhere may hold it.
    let mut drafts: Vec<_> = staff().into_iter().chain([opened]).map(|draft| (draft, now)).collect();
    let entry = super::written(&drafts, 1).last().unwrap().header().id.clone();
    drafts.push((easier(&entry), later));
    let records = crate::records::Records::of(&super::log_of(&super::written(&drafts, 1)));
    assert_eq!(records.trials().iter().map(|trial| trial.terms).collect::<Vec<_>>(), [trial("i", "t").terms]);
    let said = records.problems().iter().filter(|said| said.contains("changes nothing: it does not fit")).count();
    assert_eq!(said, 1, "{:?}", records.problems());
}

#[test]
fn overlapping_the_eyes_is_allowed_by_an_instructor_and_by_nobody_to_themself() {
    let allow = |author: &str, trainee: &str| {
        let fact =
            Fact::OverlapAllowed { trainee: trainee.into(), allowed: true, why: "keeps every window".to_owned() };
        Draft::new(&author.into(), fact)
    };
    assert_refused(allow("t", "t"), "allowing a trainee to overlap the eyes");
    assert_refused(allow("t2", "t"), "is a trainee");
    assert_refused(allow("i", "i"), "cannot decide about themself");
    let (mut book, mut store) = at_work();
    assert!(book.records().overlap_of(&"t".into()).is_none());
    let (mut names, now) = (fresh(9), at("2026-03-03T09:00:00+00:00"));
    for (author, allowed) in [("i", true), ("owner", false)] {
        let fact = Fact::OverlapAllowed { trainee: "t".into(), allowed, why: "seen".to_owned() };
        book.record(&mut store, &[Draft::new(&author.into(), fact)], now, &mut names).unwrap();
        let said = book.records().overlap_of(&"t".into()).unwrap().clone();
        assert_eq!((said.value.allowed, said.author.as_str()), (allowed, author));
    }
}
