//! Claims about evidence and sign-offs.

use super::*;
use crate::couch::Analysis;
use crate::course_book::{CourseBook, EvidenceNeeded};
use crate::evidence::example::*;
use crate::section::Plan;

fn competency(evidence: EvidenceNeeded, whole_service: bool) -> Competency {
    Competency { id: "c".into(), label: "C".into(), evidence, whole_service }
}

fn state(competency: &Competency, services: &[Service], outcomes: &[Outcome]) -> EvidenceState {
    with(services, outcomes, &book(), |input| evidence_state(competency, input))
}

fn with<T>(services: &[Service], outcomes: &[Outcome], book: &CourseBook, ask: impl FnOnce(&EvidenceInput) -> T) -> T {
    let services: Vec<&Service> = services.iter().collect();
    let outcomes: Vec<&Outcome> = outcomes.iter().collect();
    ask(&EvidenceInput {
        trainee: &"trainee".into(),
        books: Books { present: book, adopted: &[] },
        services: &services,
        outcomes: &outcomes,
        trials: &[],
    })
}

fn have(state: &EvidenceState) -> Vec<(u32, u32)> {
    state.lines.iter().map(|line| (line.have, line.need)).collect()
}

#[test]
fn every_requirement_is_a_line_with_its_services() {
    let mut services: Vec<Service> = (1..=4).map(|n| service(n, u64::from(n), Plan::Quarters, 1800)).collect();
    services[1].worked = service(1, 1, Plan::Halves, 1).worked;
    services[1].tint = Tint::Own;
    services[2].practice_model = services[1].practice_model.clone();
    let weak = |analysis: &Analysis| Analysis { condition: LashCondition::Weak, ..analysis.clone() };
    services[2].analysis.left = services[2].analysis.left.as_ref().map(weak);
    services[0].shields.left =
        services[0].shields.left.clone().map(|shield| crate::couch::ShieldChoice { chosen: "l".into(), ..shield });
    let markers = ["one", "two", "one", "trainee"];
    let mut outcomes: Vec<Outcome> =
        services.iter().zip(markers).map(|(one, who)| outcome(one, who, Mark::Meets, &[])).collect();
    outcomes[2].observed = false;
    let strip = drill(service(9, 9, Plan::Quarters, 300));
    outcomes.push(outcome(&strip, "one", Mark::Meets, &[]));
    services.push(strip);
    let needed = EvidenceNeeded {
        live: 3,
        acceptable: 4,
        at_plan: vec![(Plan::Quarters, 2), (Plan::Halves, 2)],
        practice_models: 2,
        each_condition: 1,
        shield_sizes: 2,
        with_tint: 1,
        without_tint: 3,
        observed: 2,
        observed_days: 0,
        real_environment: false,
        assessors: 2,
        strips: 1,
        heads: 1,
        criteria: Vec::new(),
        level_at_least: 4,
    };
    let found = state(&competency(needed, false), &services, &outcomes);
    let expected = [
        (3, 3),
        (3, 4),
        (2, 2),
        (1, 2),
        (2, 2),
        (1, 1),
        (2, 1),
        (0, 1),
        (2, 2),
        (1, 1),
        (2, 3),
        (2, 2),
        (2, 2),
        (1, 1),
        (0, 1),
    ];
    assert_eq!(have(&found), expected, "{found:#?}");
    assert!(!found.met && found.not_worked_out.is_none());
    assert!(found.lines.iter().all(|line| line.met == (line.have >= line.need)));
    assert_eq!(found.lines[1].services.len(), 3);
    assert!(found.check_level(3).is_err() && found.check_level(7).is_err() && found.check_level(4).is_ok());
}

#[test]
fn named_criteria_replace_the_rule_of_an_acceptable_service() {
    let services = [service(1, 1, Plan::Quarters, 1800), service(2, 2, Plan::Quarters, 1800)];
    let outcomes = [
        outcome(&services[0], "one", Mark::Meets, &[("symmetry", Mark::NotYet)]),
        outcome(&services[1], "one", Mark::Meets, &[("hygiene", Mark::NotYet)]),
    ];
    let needed = EvidenceNeeded { live: 1, acceptable: 1, criteria: vec!["curl".into()], ..Default::default() };
    let found = state(&competency(needed, false), &services, &outcomes);
    assert_eq!(have(&found), [(2, 1), (1, 1)]);
    assert_eq!(found.lines[1].services, [ServiceId::from("s001")], "a breach never passes");
    assert!(found.met);
}

#[test]
fn imports_and_own_marks_are_no_evidence() {
    let services = [imported(service(1, 1, Plan::Quarters, 1800)), service(2, 2, Plan::Quarters, 1800)];
    let outcomes =
        [outcome(&services[0], "one", Mark::Meets, &[]), outcome(&services[1], "trainee", Mark::Strong, &[])];
    let needed = EvidenceNeeded { live: 1, ..Default::default() };
    assert_eq!(have(&state(&competency(needed, false), &services, &outcomes)), [(0, 1)]);
}

/// Three observed occasions in the real working environment, simulation refused: what VTCT unit UV20473 asks for.
#[test]
fn three_observed_occasions_in_the_real_environment_refuse_drills_and_imported_rows() {
    let needed = EvidenceNeeded {
        live: 3,
        acceptable: 3,
        observed: 3,
        observed_days: 3,
        real_environment: true,
        ..Default::default()
    };
    let unit = competency(needed, false);
    let occasion = |number, day| service(number, day, Plan::Quarters, 1800);
    let mut services = vec![occasion(1, 1), occasion(2, 2), occasion(3, 2)];
    services.push(imported(occasion(4, 4)));
    services.extend([drill(occasion(5, 5)), drill(occasion(6, 6))]);
    let marked = |services: &[Service]| {
        services.iter().map(|one| outcome(one, "one", Mark::Strong, &[])).collect::<Vec<Outcome>>()
    };
    // Observed and marked strong as they are, the drills and the imported row add to no line.
    let found = state(&unit, &services, &marked(&services));
    assert_eq!(have(&found), [(3, 3), (3, 3), (3, 3), (2, 3)], "two occasions fell on one day: {found:#?}");
    assert!(!found.met);
    let words = &found.lines[0].words;
    assert!(words.contains("not counted: 2 drills (simulation), 1 imported row (nobody here observed it)"), "{words}");
    services.push(occasion(7, 7));
    let found = state(&unit, &services, &marked(&services));
    assert!(found.met, "{found:#?}");
    assert_eq!(found.lines[3].services, ["s001", "s002", "s007"].map(ServiceId::from));
    // Marked by an assessor who did not watch it, an occasion is not an observed one.
    let mut unseen = marked(&services);
    unseen[0].observed = false;
    let found = state(&unit, &services, &unseen);
    assert_eq!((have(&found)[2], have(&found)[3]), ((3, 3), (2, 3)));
    // Without anything refused nothing is said of it.
    let live = [occasion(1, 1)];
    let found = state(&unit, &live, &marked(&live));
    assert!(found.lines[0].words.ends_with("in the real working environment"), "{:?}", found.lines[0]);
}

#[test]
fn the_whole_service_counts_anew_after_a_breach_and_asks_for_a_trial() {
    let mut services: Vec<Service> = (1..=5).map(|n| service(n, u64::from(n), Plan::Whole, 1800)).collect();
    let outcomes: Vec<Outcome> = services.iter().map(|one| outcome(one, "one", Mark::Meets, &[])).collect();
    let whole = competency(EvidenceNeeded::default(), true);
    let found = state(&whole, &services, &outcomes);
    assert_eq!(have(&found), [(5, 4), (0, 1)]);
    assert!(!found.met, "no trial is opened");
    assert!(found.lines[1].words.contains("none is opened yet"), "{:?}", found.lines[1]);
    services[1] = past_label(services[1].clone());
    assert_eq!(have(&state(&whole, &services, &outcomes)), [(3, 4), (0, 1)]);
}

#[test]
fn a_trial_that_demonstrates_the_service_completes_its_evidence() {
    let services: Vec<Service> = (1..=14).map(|n| service(n, u64::from(n), Plan::Whole, 1800)).collect();
    let outcomes: Vec<Outcome> = services.iter().map(|one| outcome(one, "one", Mark::Meets, &[])).collect();
    let (services, outcomes): (Vec<&Service>, Vec<&Outcome>) = (services.iter().collect(), outcomes.iter().collect());
    let book = book();
    let trial = |day: u64| Trial {
        id: "t".into(),
        trainee: "trainee".into(),
        by: "one".into(),
        at: on_day(day),
        terms: crate::trial::Terms::of(&book.rules),
        course_book: book.id.clone(),
    };
    let whole = competency(EvidenceNeeded::default(), true);
    let found = |trial: &Trial| {
        let books = Books { present: &book, adopted: &[] };
        let trainee = "trainee".into();
        let input =
            EvidenceInput { trainee: &trainee, books, services: &services, outcomes: &outcomes, trials: &[trial] };
        evidence_state(&whole, &input)
    };
    // Of these thresholds the shortest run that passes is eleven.
    let passed = found(&trial(0));
    assert!(passed.met && passed.not_worked_out.is_none(), "{passed:?}");
    assert!(passed.lines[1].words.starts_with("Trial 1. Demonstrated on"), "{:?}", passed.lines[1]);
    let opened_late = found(&trial(9));
    assert_eq!((opened_late.met, opened_late.lines[1].services.len()), (false, 6));
    let mut broken = trial(0);
    broken.terms.horizon = 2;
    assert!(found(&broken).not_worked_out.is_some_and(|words| words.contains("cannot be worked out")));
}

fn signed(day: u64, decision: Decision) -> SignOff {
    SignOff {
        id: EntryId::new(format!("e{day}")),
        competency: "c".into(),
        trainee: "trainee".into(),
        by: "one".into(),
        at: on_day(day) + chrono::TimeDelta::hours(6),
        decision,
        level: 4,
        comment: String::new(),
        services: Vec::new(),
        stands_on: None,
    }
}

fn held_on(day: u64, whole: bool, sign_offs: &[SignOff], services: &[Service], outcomes: &[Outcome]) -> Held {
    let sign_offs: Vec<&SignOff> = sign_offs.iter().collect();
    let competency = competency(EvidenceNeeded::default(), whole);
    with(services, outcomes, &book(), |input| held(&competency, &sign_offs, input, &on_day(day)).state)
}

#[test]
fn the_last_decision_of_somebody_else_holds() {
    assert_eq!(held_on(1, false, &[], &[], &[]), Held::Undecided);
    let all = [signed(3, Decision::Withdrawn), signed(1, Decision::NotYet), signed(2, Decision::Signed)];
    assert_eq!(held_on(4, false, &all[1..2], &[], &[]), Held::NotYet);
    assert_eq!(held_on(4, false, &all[1..], &[], &[]), Held::Signed);
    assert_eq!(held_on(4, false, &all, &[], &[]), Held::Withdrawn);
    let own = [SignOff { by: "trainee".into(), ..signed(2, Decision::Signed) }];
    assert_eq!(held_on(4, false, &own, &[], &[]), Held::Undecided);
}

#[test]
fn a_sign_off_lapses_after_a_year_without_a_service_and_stays_lapsed() {
    let all = [signed(0, Decision::Signed)];
    assert_eq!(held_on(365, false, &all, &[], &[]), Held::Signed);
    let lapsed = Held::Lapsed(on_day(366).date_naive());
    assert_eq!(held_on(366, false, &all, &[], &[]), lapsed);
    let after = [service(1, 400, Plan::Whole, 1800)];
    assert_eq!(held_on(401, false, &all, &after, &[]), lapsed);
    let between = [service(1, 300, Plan::Whole, 1800)];
    assert_eq!(held_on(401, false, &all, &between, &[]), Held::Signed);
}

#[test]
fn a_later_breach_suspends_the_whole_service_until_observed_again() {
    let all = [signed(0, Decision::Signed)];
    let services = [past_label(service(1, 1, Plan::Whole, 1800)), service(2, 2, Plan::Whole, 1800)];
    let suspended = Held::Suspended(vec!["s001".into()]);
    assert_eq!(held_on(3, true, &all, &services, &[]), suspended);
    assert_eq!(held_on(3, false, &all, &services, &[]), Held::Signed);
    let seen = [outcome(&services[1], "one", Mark::Meets, &[])];
    assert_eq!(held_on(3, true, &all, &services, &seen), Held::Signed);
}
