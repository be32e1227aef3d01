//! The time standard beside a trial.

use super::super::*;
use super::group;
use crate::evidence::Books;
use crate::evidence::example::{book, imported, late, service};

#[test]
fn the_standard_needs_the_chance_and_the_last_services() {
    let rules = book().rules.forecast.unwrap();
    let mut ask = group(12, 16, 7);
    ask.targets = [Some(20_000.0); 4];
    let easy = answer(&ask);
    let found = time_standard(&easy, Plan::Whole, &[30_000, 21_000, 21_900, 22_000], Some(&rules));
    assert!(found.holds && found.last_within == Some(true), "{found:?}");
    assert!(found.sentence.starts_with("The time standard holds: the next service on the whole lash line is within"));
    let slow = time_standard(&easy, Plan::Whole, &[20_000, 22_001, 20_000], Some(&rules));
    assert!(!slow.holds && slow.last_within == Some(false), "one beyond the leeway: {slow:?}");
    let few = time_standard(&easy, Plan::Whole, &[1000, 1000], Some(&rules));
    assert!(!few.holds && few.last_within.is_none());
    assert!(
        few.sentence.contains("2 of 3 services on the whole lash line have a time that stands"),
        "{}",
        few.sentence
    );

    ask.targets = [Some(100.0); 4];
    let hard = time_standard(&answer(&ask), Plan::Whole, &[90, 90, 90], Some(&rules));
    assert!(!hard.holds && hard.chance.is_some_and(|chance| chance < 0.8), "{hard:?}");
}

#[test]
fn a_chance_just_below_the_rule_never_reads_like_it() {
    let rules = book().rules.forecast.unwrap();
    let mut found = answer(&group(12, 16, 7));
    let Ok(forecast) = &mut found.forecasts[0].outcome else { panic!("a forecast") };
    forecast.single_next = 0.7996;
    let said = time_standard(&found, Plan::Whole, &[1, 1, 1], Some(&rules));
    assert!(!said.holds && said.sentence.contains("with a chance of 79 %, and it takes 80 %"), "{}", said.sentence);
}

#[test]
fn without_figures_target_or_times_it_says_so() {
    let rules = book().rules.forecast.unwrap();
    let found = answer(&group(12, 16, 7));
    assert!(time_standard(&found, Plan::Whole, &[], None).sentence.contains("no [forecast] part"));
    let unasked = time_standard(&found, Plan::Thirds, &[], Some(&rules));
    assert!(!unasked.holds && unasked.sentence.contains("no hands-on target"), "{unasked:?}");
    let mut away = group(12, 16, 7);
    away.weeks = 20.0;
    let away = time_standard(&answer(&away), Plan::Whole, &[1, 1, 1], Some(&rules));
    assert!(!away.holds && away.chance.is_none() && away.sentence.contains("a refresher comes first"), "{away:?}");
}

#[test]
fn only_times_that_stand_are_held_against_the_standard() {
    let book = book();
    let books = Books { present: &book, adopted: &[] };
    let mut long_pauses = service(4, 4, Plan::Whole, 1700);
    long_pauses.times.pauses = Some(900);
    let services = [
        service(5, 5, Plan::Whole, 1600),
        service(1, 1, Plan::Whole, 1900),
        imported(service(2, 2, Plan::Whole, 1000)),
        late(service(3, 3, Plan::Whole, 1000)),
        long_pauses,
        service(6, 6, Plan::Halves, 1500),
    ];
    let services: Vec<&crate::service::Service> = services.iter().collect();
    assert_eq!(standard_times(&"trainee".into(), &services, &books, Plan::Whole), [1900, 1600]);
}
