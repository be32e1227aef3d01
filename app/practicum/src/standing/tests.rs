//! Claims about standing.

mod coaching;
mod odd_records;

use proptest::prelude::*;

use super::*;
use crate::course_book::{CourseBook, Mark};
use crate::evidence::example::{self, *};

#[derive(Debug, Clone)]
struct Case {
    book: CourseBook,
    services: Vec<Service>,
    outcomes: Vec<Outcome>,
    decisions: Vec<PlanDecision>,
}

impl Case {
    fn new() -> Self {
        Self { book: example::book(), services: Vec::new(), outcomes: Vec::new(), decisions: Vec::new() }
    }

    /// Services at one plan, one a day from day 1, marked with these levels by two assessors in turn.
    fn marked(levels: &[Mark], plan: Plan) -> Self {
        let mut case = Self::new();
        for level in levels {
            case.add(plan, 1800, *level, &[]);
        }
        case
    }

    fn add(&mut self, plan: Plan, hands_on: u32, level: Mark, but: &[(&str, Mark)]) {
        let number = self.services.len() as u32 + 1;
        let one = service(number, u64::from(number), plan, hands_on);
        let marker = if number.is_multiple_of(2) { "one" } else { "two" };
        self.outcomes.push(outcome(&one, marker, level, but));
        self.services.push(one);
    }

    fn on(&self, day: u64) -> Standing {
        let services: Vec<&Service> = self.services.iter().collect();
        let outcomes: Vec<&Outcome> = self.outcomes.iter().collect();
        let decisions: Vec<&PlanDecision> = self.decisions.iter().collect();
        standing(&StandingInput {
            trainee: &trainee(),
            now: &on_day(day),
            books: Books { present: &self.book, adopted: &[] },
            services: &services,
            outcomes: &outcomes,
            decisions: &decisions,
        })
    }

    fn now(&self) -> Standing {
        self.on(self.services.len() as u64 + 1)
    }
}

#[test]
fn a_new_trainee_starts_at_quarters_not_assessed() {
    let found = Case::new().now();
    assert_eq!((found.plan, found.advice), (Plan::Quarters, Advice::NotAssessed));
    assert_eq!(found.gap.due, Due::Nothing);
    assert!(found.missing.iter().any(|line| line.words.contains("3 more needed")), "{:?}", found.missing);
}

#[test]
fn own_marks_and_imports_leave_it_not_assessed() {
    let mut case = Case::marked(&[Mark::Strong; 4], Plan::Quarters);
    for view in &mut case.outcomes {
        view.marker = "trainee".into();
    }
    assert_eq!(case.now().advice, Advice::NotAssessed);
    let mut case = Case::marked(&[Mark::Strong; 4], Plan::Quarters);
    case.services = case.services.into_iter().map(imported).collect();
    let found = case.now();
    assert_eq!(found.advice, Advice::NotAssessed);
    assert_eq!((found.counts[0].imported.len(), found.counts[0].services.len()), (4, 0));
}

#[test]
fn three_good_steady_services_advise_halves_and_name_them() {
    let found = Case::marked(&[Mark::Meets; 3], Plan::Quarters).now();
    assert_eq!(found.advice, Advice::Widen(Plan::Halves));
    assert_eq!(found.next, [Plan::Halves, Plan::Thirds]);
    assert!(found.missing.is_empty());
    assert_eq!(found.reasons[0].services.len(), 3);
    assert!(found.reasons.iter().any(|line| line.words.contains("+0.0 % a service") && line.words.contains("30:00")));
    assert!(may_show_targets(&found, Plan::Quarters));
    assert!(!may_show_targets(&found, Plan::Halves));
}

#[test]
fn two_services_are_not_enough() {
    let found = Case::marked(&[Mark::Strong; 2], Plan::Quarters).now();
    assert_eq!(found.advice, Advice::Stay);
    assert!(found.missing[0].words.contains("1 more needed"), "{:?}", found.missing);
    assert!(!may_show_targets(&found, Plan::Quarters));
}

#[test]
fn a_time_that_grows_by_five_percent_holds_widening_back() {
    let mut case = Case::new();
    for hands_on in [2000, 2100, 2205] {
        case.add(Plan::Quarters, hands_on, Mark::Meets, &[]);
    }
    let found = case.now();
    assert_eq!(found.advice, Advice::Stay);
    assert!(found.missing[0].words.contains("+5.0 % a service"), "{:?}", found.missing);
    assert_eq!(found.missing[0].services.len(), 3);
}

#[test]
fn a_core_criterion_below_meets_is_named() {
    let mut case = Case::marked(&[Mark::Meets; 2], Plan::Quarters);
    case.add(Plan::Quarters, 1800, Mark::Meets, &[("symmetry", Mark::Nearly)]);
    let found = case.now();
    assert_eq!(found.advice, Advice::Stay);
    let line = &found.missing[0];
    assert!(line.words.contains("symmetry"), "{line:?}");
    assert_eq!(line.services, [ServiceId::from("s003")]);
}

#[test]
fn a_breach_after_the_decision_advises_one_plan_narrower() {
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Quarters);
    case.decisions.push(decision(3, Plan::Halves));
    case.add(Plan::Halves, 1700, Mark::Meets, &[("hygiene", Mark::NotYet)]);
    let found = case.now();
    assert_eq!((found.plan, found.advice), (Plan::Halves, Advice::Narrow(Plan::Thirds)));
    assert_eq!(found.reasons[0].services, [ServiceId::from("s004")]);
    case.decisions.push(decision(4, Plan::Quarters));
    let found = case.now();
    assert_eq!((found.plan, found.advice), (Plan::Quarters, Advice::Stay), "old good services do not widen again");
}

#[test]
fn a_breach_that_only_a_clock_saw_narrows_too() {
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Halves);
    case.decisions.push(decision(0, Plan::Halves));
    case.services.push(past_label(service(4, 4, Plan::Halves, 1800)));
    let found = case.now();
    assert_eq!(found.advice, Advice::Narrow(Plan::Thirds));
    assert!(found.reasons[0].words.contains("past the label maximum"));
}

#[test]
fn the_same_core_criterion_low_twice_narrows() {
    let mut case = Case::new();
    case.decisions.push(decision(0, Plan::Thirds));
    case.add(Plan::Thirds, 1800, Mark::Meets, &[("curl", Mark::Nearly)]);
    assert_eq!(case.now().advice, Advice::Stay);
    case.add(Plan::Thirds, 1800, Mark::Meets, &[("symmetry", Mark::Nearly)]);
    assert_eq!(case.now().advice, Advice::Stay, "not the same criterion");
    case.add(Plan::Thirds, 1800, Mark::Meets, &[("symmetry", Mark::NotYet)]);
    assert_eq!(case.now().advice, Advice::Narrow(Plan::Quarters));
}

#[test]
fn enough_clean_services_after_a_breach_end_the_advice_to_narrow() {
    let mut case = Case::new();
    case.decisions.push(decision(0, Plan::Halves));
    case.add(Plan::Halves, 1800, Mark::Meets, &[("hygiene", Mark::NotYet)]);
    for _ in 0..2 {
        case.add(Plan::Halves, 1800, Mark::Meets, &[]);
    }
    assert_eq!(case.now().advice, Advice::Narrow(Plan::Thirds));
    case.add(Plan::Halves, 1800, Mark::Meets, &[]);
    assert_eq!(case.now().advice, Advice::Widen(Plan::Whole));
}

#[test]
fn a_breach_at_the_narrowest_plan_means_stay() {
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Quarters);
    case.add(Plan::Quarters, 1800, Mark::Meets, &[("hygiene", Mark::NotYet)]);
    let found = case.now();
    assert_eq!(found.advice, Advice::Stay);
    assert!(found.reasons[0].words.starts_with("Safety breach"));
}

#[test]
fn the_widest_plan_mastered_turns_targets_on() {
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Whole);
    case.decisions.push(decision(0, Plan::Whole));
    assert_eq!(case.now().advice, Advice::Timed);
    assert!(case.now().next.is_empty());
}

#[test]
fn a_trainees_own_decision_is_no_decision() {
    let mut case = Case::new();
    case.decisions.push(PlanDecision { by: "trainee".into(), ..decision(1, Plan::Whole) });
    assert_eq!(case.now().plan, Plan::Quarters);
}

#[test]
fn gaps_become_due_on_the_day_after_the_limit() {
    let case = Case::marked(&[Mark::Meets; 3], Plan::Quarters); // the last on day 3
    for (days, due) in [
        (56, Due::Nothing),
        (57, Due::Refresher),
        (91, Due::Refresher),
        (92, Due::SupervisedRefresher),
        (184, Due::Reobserve),
        (365, Due::Reobserve),
        (366, Due::Lapsed),
    ] {
        let found = case.on(3 + days);
        assert_eq!((found.gap.days, found.gap.due), (days as u32, due), "{days}");
    }
    let found = case.on(3 + 57);
    assert_eq!(found.gap.since, Some(on_day(60).date_naive()));
    assert_eq!(found.gap.next, Some((Due::SupervisedRefresher, on_day(95).date_naive())));
    assert_eq!(found.advice, Advice::Widen(Plan::Halves));
    assert_eq!(case.on(3 + 92).advice, Advice::Stay);
    assert_eq!(case.on(3 + 184).advice, Advice::ObserveAgain);
    assert_eq!(case.on(0).gap.days, 0, "a clock set back gives no gap");
}

#[test]
fn an_observation_stays_due_until_a_service_is_observed() {
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Quarters);
    case.services.push(service(4, 203, Plan::Quarters, 1800));
    assert_eq!(case.on(204).gap.due, Due::Reobserve);
    let seen = outcome(&case.services[3], "one", Mark::Meets, &[]);
    case.outcomes.push(seen);
    assert_eq!(case.on(204).gap.due, Due::Nothing);
}

#[test]
fn safety_breaches_are_said_apart_with_their_services_and_how_often_they_may_come() {
    assert_eq!(Case::new().now().safety.words, "No safety breach in 0 live services looked at.");
    assert!(Case::new().now().notes.is_empty(), "nothing to say of a rate");
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Quarters);
    assert_eq!(case.now().safety.words, "No safety breach in 3 live services looked at.");
    case.add(Plan::Quarters, 1800, Mark::Meets, &[("hygiene", Mark::NotYet)]);
    // A clock's word needs no mark.
    case.services.push(past_label(service(5, 5, Plan::Quarters, 1800)));
    let found = case.now();
    assert_eq!(found.safety.words, "Safety breached in 2 of 5 live services looked at:");
    assert_eq!(found.safety.services, ["s004".into(), "s005".into()]);
    // Two or fewer of five come with chance .05 at a rate of .811: one-sided.
    let said = found.notes.iter().find(|note| note.words.starts_with("Safety")).unwrap();
    assert!(said.words.contains("up to 81 %"), "{}", said.words);
}

#[test]
fn notes_say_what_was_left_out() {
    let mut case = Case::marked(&[Mark::Meets; 3], Plan::Quarters);
    case.services[0] = late(case.services[0].clone());
    case.outcomes[0].observed = false;
    case.services[1].worked =
        case.services[1].worked.map(|worked| crate::section::WorkedPlan { mixed: true, ..worked });
    case.services.push(service(4, 4, Plan::Quarters, 1800));
    let found = case.now();
    let said: Vec<&str> = found.notes.iter().map(|note| note.words.as_str()).collect();
    assert_eq!(said.len(), 4, "{said:?}");
    assert_eq!(found.advice, Advice::Stay);
    assert_eq!(found.counts[0].services.len(), 4);
    assert_eq!(found.counts[0].assessed.len(), 2);
}

fn any_plan() -> impl Strategy<Value = Plan> {
    prop::sample::select(Plan::ALL.to_vec())
}

fn any_mark() -> impl Strategy<Value = Mark> {
    // Mostly good, so that widening is often advised.
    prop::sample::select(vec![
        Mark::NotYet,
        Mark::Nearly,
        Mark::Meets,
        Mark::Meets,
        Mark::Meets,
        Mark::Strong,
        Mark::Strong,
    ])
}

prop_compose! {
    fn any_case()(
        rows in prop::collection::vec((any_plan(), 1700_u32..1760, any_mark(), any::<bool>(), 0_u8..10), 0..14),
        decisions in prop::collection::vec((0_u64..14, any_plan()), 0..3),
        start in any_plan(),
    ) -> Case {
        let mut case = Case::new();
        case.decisions.push(decision(0, start));
        for (plan, hands_on, mark, at_start, kind) in rows {
            let plan = if at_start { start } else { plan };
            let but = if mark == Mark::NotYet && kind > 2 { vec![("hygiene", Mark::Meets)] } else { vec![] };
            case.add(plan, hands_on, mark, &but);
            if kind == 0 {
                case.outcomes.pop();
            } else if kind == 1 {
                let one = case.services.pop().unwrap();
                case.services.push(late(one));
            }
        }
        for (number, (day, plan)) in decisions.into_iter().enumerate() {
            let id = crate::ids::EntryId::new(format!("later {number}"));
            case.decisions.push(PlanDecision { id, ..decision(day + 1, plan) });
        }
        case
    }
}

proptest! {
    #[test]
    fn the_order_of_the_lists_does_not_matter(case in any_case(), turn in 0_usize..14) {
        let before = case.now();
        let mut other = case;
        other.services.reverse();
        other.decisions.reverse();
        if !other.outcomes.is_empty() {
            let by = turn % other.outcomes.len();
            other.outcomes.rotate_left(by);
        }
        prop_assert_eq!(before, other.now());
    }

    #[test]
    fn imports_and_drills_change_no_advice(case in any_case(), plan in any_plan(), mark in any_mark(), day in 0_u64..20) {
        let before = case.now();
        let days = case.services.len() as u64 + 1;
        let mut other = case;
        for extra in [imported(service(101, day, plan, 900)), drill(past_label(service(102, day, plan, 900)))] {
            other.outcomes.push(outcome(&extra, "one", mark, &[]));
            other.services.push(extra);
        }
        let after = other.on(days);
        prop_assert_eq!((before.advice, &before.reasons, &before.needs), (after.advice, &after.reasons, &after.needs));
        prop_assert_eq!((&before.gap, &before.coaching), (&after.gap, &after.coaching));
        for (a, b) in before.counts.iter().zip(&after.counts) {
            prop_assert_eq!((&a.services, &a.assessed, &a.acceptable), (&b.services, &b.assessed, &b.acceptable));
        }
    }

    #[test]
    fn a_new_breach_never_ends_in_widening(case in any_case(), plan in any_plan(), marked in any::<bool>()) {
        let mut case = case;
        if marked {
            case.add(plan, 1750, Mark::Strong, &[("hygiene", Mark::NotYet)]);
        } else {
            let number = case.services.len() as u32 + 1;
            case.services.push(past_label(service(number, u64::from(number), plan, 1750)));
        }
        // A decision made afterwards may narrow or stay, and starts the count anew; only widening may not follow.
        case.decisions.retain(|decision| decision.at < on_day(case.services.len() as u64));
        let advice = case.now().advice;
        prop_assert!(!matches!(advice, Advice::Widen(_) | Advice::Timed), "{advice:?}");
    }

    #[test]
    fn a_breach_anywhere_never_brings_widening_about(case in any_case(), at in 0_usize..14) {
        prop_assume!(!case.outcomes.is_empty());
        let before = case.now().advice;
        let mut other = case;
        let at = at % other.outcomes.len();
        let id = other.outcomes[at].service.clone();
        for one in other.services.iter_mut().filter(|one| one.id == id) {
            *one = past_label(one.clone());
        }
        let after = other.now().advice;
        if matches!(after, Advice::Widen(_) | Advice::Timed) {
            prop_assert_eq!(before, after);
        }
    }
}
