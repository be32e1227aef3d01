//! Records as they should not be: every question still gets a true answer.

use super::*;
use crate::competency::{EvidenceInput, evidence_state};
use crate::couch::times::StageTime;
use crate::course_book::{self, text};
use crate::evidence::two_eyes::{NoLayout, present};
use crate::evidence::{TrialInput, trial_states};
use crate::eye::Eye;

/// The bundled course book, under the name that the records carry.
fn bundled() -> CourseBook {
    let book = text::read(&course_book::example::files()).unwrap();
    CourseBook { id: "Example 1".into(), ..book }
}

/// Gives a service the same hands-on time in every stage.
fn with_stages(mut service: Service, book: &CourseBook, seconds: u32) -> Service {
    for stage in &book.stages {
        let eyes: &[Option<Eye>] = if stage.per_eye { &[Some(Eye::Left), Some(Eye::Right)] } else { &[None] };
        let time = |eye: &Option<Eye>| StageTime { stage: stage.id.clone(), eye: *eye, hands_on: seconds };
        service.times.stages.extend(eyes.iter().map(time));
    }
    service
}

/// Asks everything that the screens ask; gives the standing and why nothing is laid out at a plan.
fn asked(case: &Case, plan: Plan) -> (Standing, Option<NoLayout>) {
    let (services, outcomes): (Vec<_>, Vec<_>) = (case.services.iter().collect(), case.outcomes.iter().collect());
    let books = Books { present: &case.book, adopted: &[] };
    let trainee = &"trainee".into();
    let input = EvidenceInput { trainee, books, services: &services, outcomes: &outcomes, trials: &[] };
    for competency in &case.book.competencies {
        let state = evidence_state(competency, &input);
        assert!(!state.met, "{}", competency.label);
    }
    let input = TrialInput { trainee, books, services: &services, outcomes: &outcomes, trials: &[] };
    assert_eq!(trial_states(&input), Ok(Vec::new()));
    let laid = present(trainee, &services, &books, plan).laid;
    (case.now(), laid.err())
}

fn of(services: Vec<Service>) -> Case {
    let outcomes = services.iter().map(|one| outcome(one, "one", Mark::Meets, &[])).collect();
    Case { book: bundled(), services, outcomes, decisions: Vec::new() }
}

#[test]
fn a_trainee_with_one_service_is_told_what_is_missing() {
    let mut case = of(vec![with_stages(service(1, 1, Plan::Quarters, 3000), &bundled(), 200)]);
    let (found, laid) = asked(&case, Plan::Quarters);
    assert_eq!(found.advice, Advice::Stay);
    assert!(found.missing.iter().any(|need| need.words.contains("1 of 3 assessed services")), "{:?}", found.missing);
    // No lotion was timed, so that putting on and taking off are not known.
    assert!(matches!(laid, Some(NoLayout::NoTimes(stages)) if stages.len() == 2));
    case.services.clear();
    case.outcomes.clear();
    assert_eq!(asked(&case, Plan::Quarters).1, Some(NoLayout::NoServices));
}

#[test]
fn two_plans_skipped_leave_the_new_one_to_be_shown() {
    let mut case = of((1..=3).map(|day| service(day, u64::from(day), Plan::Quarters, 3000)).collect());
    case.decisions.push(decision(3, Plan::Whole));
    let (found, laid) = asked(&case, Plan::Whole);
    assert_eq!((found.plan, found.advice), (Plan::Whole, Advice::Stay));
    assert!(found.missing.iter().any(|need| need.words.contains("3 more needed")), "{:?}", found.missing);
    assert_eq!(laid, Some(NoLayout::NoServices), "the pace at quarters says nothing of the whole line");
    let thirds = found.counts.iter().find(|count| count.plan == Some(Plan::Thirds)).unwrap();
    assert!(thirds.services.is_empty() && thirds.quality_met.is_none());
}

#[test]
fn services_all_at_the_same_time_are_each_counted_once() {
    let mut services: Vec<Service> = (1..=3).map(|number| service(number, 1, Plan::Quarters, 3000)).collect();
    let began = services[0].began;
    services.iter_mut().for_each(|service| service.began = began);
    let (found, _) = asked(&of(services), Plan::Quarters);
    let quarters = found.counts.iter().find(|count| count.plan == Some(Plan::Quarters)).unwrap();
    assert_eq!((quarters.services.len(), quarters.assessed.len()), (3, 3));
    assert!(found.missing.iter().all(|need| !need.words.contains("more needed")), "{:?}", found.missing);
}

#[test]
fn a_service_of_no_time_and_one_of_nine_hours_are_said_and_not_believed() {
    let book = bundled();
    let nothing = service(1, 1, Plan::Quarters, 0);
    let endless = with_stages(service(2, 2, Plan::Quarters, 32_400), &book, 3_000);
    let (found, laid) = asked(&of(vec![nothing, endless.clone()]), Plan::Quarters);
    assert!(found.notes.iter().any(|note| note.words.contains("no hands-on time")), "{:?}", found.notes);
    assert!(laid.is_some());
    // With a lotion on it for as long: the window is said, and no dwell is drawn past it.
    let mut endless = endless;
    for (stage, product) in
        [("lift", crate::product::ProductKind::Lift), ("setting", crate::product::ProductKind::Setting)]
    {
        for eye in Eye::BOTH {
            let mut late = past_label(endless.clone()).times.dwells.remove(0);
            (late.stage, late.product, late.eye) = (stage.into(), product, eye);
            late.last_contact = Some(late.first_contact + 2_000);
            endless.times.dwells.push(late);
        }
    }
    let (_, laid) = asked(&of(vec![endless]), Plan::Quarters);
    assert!(matches!(&laid, Some(NoLayout::Window(why)) if why.contains("past the longest dwell")), "{laid:?}");
}

#[test]
fn imported_totals_are_shown_and_stand_for_nothing() {
    let services = (1..=4).map(|day| imported(service(day, u64::from(day), Plan::Quarters, 3000))).collect();
    let (found, laid) = asked(&of(services), Plan::Quarters);
    assert_eq!(found.advice, Advice::NotAssessed);
    assert_eq!(laid, Some(NoLayout::NoServices));
    assert!(laid.unwrap().to_string().contains("imported rows"));
    let quarters = found.counts.iter().find(|count| count.plan == Some(Plan::Quarters)).unwrap();
    assert_eq!((quarters.imported.len(), quarters.services.len()), (4, 0));
}
