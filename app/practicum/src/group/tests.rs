//! Claims about a group.

use super::*;
use crate::evidence::example::{self, *};

fn rules() -> GroupRules {
    GroupRules { stall_services: 4, stall_days: 28, weak_share: 0.34, compare_from: 5 }
}

fn named(name: &str) -> Person {
    Person { id: name.into(), name: name.to_owned(), ..trainee() }
}

/// A trainee's row after services at quarters, one a day from day 1, marked with these levels in symmetry and Meets
/// elsewhere; looked at on a day.
fn row_of(name: &str, symmetry: &[Mark], on: u64) -> Row {
    let mut book = example::book();
    book.rules.group = Some(rules());
    let work = |(number, mark): (u32, &Mark)| {
        let mut one = service(number, u64::from(number), Plan::Quarters, 1800 - number * 10);
        one.trainee = name.into();
        one.id = ServiceId::new(format!("{name}{number}"));
        let marked = outcome(&one, "one", Mark::Meets, &[("symmetry", *mark)]);
        (one, marked)
    };
    let (services, outcomes): (Vec<Service>, Vec<Outcome>) = (1..).zip(symmetry).map(work).unzip();
    row(&RowInput {
        trainee: &named(name),
        now: &on_day(on),
        books: Books { present: &book, adopted: &[] },
        services: &services.iter().collect::<Vec<_>>(),
        outcomes: &outcomes.iter().collect::<Vec<_>>(),
        decisions: &[],
        trials: &[],
    })
}

#[test]
fn a_row_has_a_point_for_each_live_service_and_says_what_is_missing() {
    let row = row_of("a", &[Mark::Meets, Mark::Nearly], 3);
    assert_eq!(row.points.iter().map(|point| point.acceptable).collect::<Vec<_>>(), [Some(true), Some(false)]);
    assert_eq!(row.points.iter().map(|point| point.number).collect::<Vec<_>>(), [1, 2]);
    assert!(row.missing.iter().any(|words| words.contains("more needed")), "{:?}", row.missing);
    assert!(row.quality.starts_with("Quality not met"), "{}", row.quality);
    assert_eq!(row.stall, None);
}

#[test]
fn three_good_services_ask_for_a_decision() {
    let row = row_of("a", &[Mark::Meets; 3], 4);
    assert_eq!(row.to_do.first(), Some(&ToDo::Widen));
    assert!(row.missing.is_empty());
}

#[test]
fn somebody_stalls_after_many_services_at_a_plan_or_many_days_without_one() {
    let weak = row_of("a", &[Mark::Nearly; 4], 5);
    let stall = weak.stall.expect("a stall");
    assert_eq!(stall.since, on_day(1).date_naive());
    assert!(stall.words.contains("4 marked services at"), "{}", stall.words);
    assert_eq!(row_of("a", &[Mark::Nearly; 3], 5).stall, None);
    assert_eq!(row_of("a", &[Mark::Meets; 4], 5).stall, None, "ready for the next plan");
    let away = row_of("a", &[Mark::Nearly], 30).stall.expect("a stall");
    assert_eq!(away.since, on_day(1).date_naive());
    assert_eq!(row_of("a", &[Mark::Nearly], 29).stall, None);
}

#[test]
fn without_figures_nobody_stalls_and_nothing_is_said_of_the_group() {
    let mut rows = vec![row_of("a", &[Mark::Nearly; 9], 90)];
    assert!(rows[0].stall.is_some());
    assert_eq!(whole(&rows, None), Whole::NotAsked);
    rows.clear();
    assert_eq!(whole(&rows, Some(rules())), Whole::TooFew { have: 0, need: 5 });
}

#[test]
fn a_group_is_compared_from_five_people_on() {
    let mut rows: Vec<Row> = ["a", "b", "c", "d"].map(|name| row_of(name, &[Mark::Nearly; 3], 5)).into();
    // Somebody without marks is no fifth person.
    rows.push(row_of("e", &[], 5));
    assert_eq!(whole(&rows, Some(rules())), Whole::TooFew { have: 4, need: 5 });
    rows.push(row_of("f", &[Mark::Meets; 3], 5));
    let Whole::WeakIn(weak) = whole(&rows, Some(rules())) else { panic!("five people have marks") };
    let found: Vec<_> = weak.iter().map(|weak| (weak.criterion.as_str(), weak.below, weak.marks)).collect();
    assert_eq!(found, [("symmetry", 12, 15)]);
    assert_eq!(weak[0].trainees, (4, 5));
}

#[test]
fn rows_are_in_the_order_of_names_or_of_what_is_due_and_never_of_speed() {
    let quick = |name: &str, seconds: Seconds| {
        let mut row = row_of(name, &[Mark::Meets], 2);
        row.points[0].hands_on = Some(seconds);
        row
    };
    let mut rows = vec![quick("b", 600), quick("C", 1200), quick("a", 2400), row_of("z", &[Mark::Meets; 3], 4)];
    let names = |rows: &[Row]| rows.iter().map(|row| row.trainee.name.clone()).collect::<Vec<_>>();
    in_order(&mut rows, Order::Name);
    assert_eq!(names(&rows), ["a", "b", "C", "z"]);
    in_order(&mut rows, Order::Due);
    assert_eq!(names(&rows), ["z", "a", "b", "C"]);
}

#[test]
fn each_trainee_has_their_own_services_and_outcomes_only() {
    let (mut one, mut two) = (service(1, 1, Plan::Quarters, 1800), service(2, 1, Plan::Quarters, 1800));
    one.trainee = "a".into();
    two.trainee = "b".into();
    let (marked, other) = (outcome(&one, "i", Mark::Meets, &[]), outcome(&two, "i", Mark::Nearly, &[]));
    let sorted = ByTrainee::of(&[&one, &two], &[&other, &marked]);
    assert_eq!(sorted.services(&"a".into()), [&one]);
    assert_eq!(sorted.outcomes(&"a".into()), [&marked]);
    assert!(sorted.services(&"c".into()).is_empty() && sorted.outcomes(&"c".into()).is_empty());
}
