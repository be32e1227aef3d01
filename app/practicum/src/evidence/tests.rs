//! Claims about evidence.

use super::example::*;
use super::*;
use crate::service::Ending;

fn joined<'a>(services: &'a [Service], outcomes: &'a [Outcome], book: &CourseBook) -> Vec<Assessed<'a>> {
    let services: Vec<&Service> = services.iter().collect();
    let outcomes: Vec<&Outcome> = outcomes.iter().collect();
    let records = records_of(&"trainee".into(), &services);
    assessed(&records, &outcomes, &Books { present: book, adopted: &[] })
}

#[test]
fn own_marks_never_count() {
    let services = [service(1, 0, Plan::Quarters, 1800)];
    let own = [outcome(&services[0], "trainee", Mark::Strong, &[])];
    assert!(joined(&services, &own, &book()).is_empty());
}

#[test]
fn the_latest_view_counts_unless_somebody_saw_a_breach() {
    let services = [service(1, 0, Plan::Quarters, 1800)];
    let early = outcome(&services[0], "one", Mark::Nearly, &[]);
    let mut late = outcome(&services[0], "two", Mark::Strong, &[]);
    late.at += chrono::TimeDelta::hours(1);
    let views = [late.clone(), early.clone()];
    assert!(joined(&services, &views, &book())[0].acceptable());
    let breach = outcome(&services[0], "one", Mark::Strong, &[("hygiene", Mark::NotYet)]);
    let views = [breach, late];
    let book = book();
    let found = joined(&services, &views, &book);
    assert!(matches!(found[0].verdict, Verdict::SafetyBreach(_)));
    assert_eq!(found[0].assessors.len(), 2);
}

#[test]
fn an_assessors_later_view_replaces_the_earlier_one() {
    let services = [service(1, 0, Plan::Quarters, 1800)];
    let first = outcome(&services[0], "one", Mark::Strong, &[("hygiene", Mark::NotYet)]);
    let mut second = outcome(&services[0], "one", Mark::Meets, &[]);
    second.at += chrono::TimeDelta::hours(1);
    assert!(joined(&services, &[second, first], &book())[0].acceptable());
}

#[test]
fn a_timing_mark_counts_for_no_more_than_the_clocks_allow() {
    let mut slow = service(1, 0, Plan::Quarters, 1800);
    slow = past_label(slow);
    slow.times.dwells[0].off = Some(1460); // 460 s from first contact: past 420 + 30, within the label's 480
    let services = [slow];
    let marks = [outcome(&services[0], "one", Mark::Strong, &[])];
    let book = book();
    let found = joined(&services, &marks, &book);
    assert_eq!(found[0].mark(&"timing".into()), Some(Mark::NotYet));
    assert!(!found[0].acceptable());
}

#[test]
fn a_stopped_service_is_not_acceptable_and_one_stopped_before_lotion_is_no_record() {
    let mut services = [service(1, 0, Plan::Quarters, 1800), service(2, 1, Plan::Quarters, 1800)];
    services[0].ending = Ending::Stopped(Stop::Reaction);
    services[1].ending = Ending::Stopped(Stop::BeforeLotion("eye infection".into()));
    let views = [outcome(&services[0], "one", Mark::Strong, &[]), outcome(&services[1], "one", Mark::Strong, &[])];
    let book = book();
    let found = joined(&services, &views, &book);
    assert_eq!(found.len(), 1);
    assert!(!found[0].acceptable());
}

#[test]
fn a_late_entry_counts_only_when_observed_and_never_for_time() {
    let services = [late(service(1, 0, Plan::Quarters, 1800))];
    let mut view = outcome(&services[0], "one", Mark::Meets, &[]);
    let book = book();
    assert!(joined(&services, std::slice::from_ref(&view), &book)[0].counts());
    view.observed = false;
    assert!(!joined(&services, std::slice::from_ref(&view), &book)[0].counts());
    let books = Books { present: &book, adopted: &[] };
    assert_eq!(standard_time(&services[0], &books), Err(vec![LeftOut::Late]));
}

#[test]
fn a_claimed_override_takes_observed_away() {
    let mut one = service(1, 0, Plan::Quarters, 1800);
    one.overrides.push(crate::couch::Override {
        reason_code: "x".into(),
        by: "instructor".into(),
        why: "y".into(),
        confirmed: false,
    });
    let mut services = [one];
    let views = [outcome(&services[0], "one", Mark::Meets, &[])];
    assert!(!joined(&services, &views, &book())[0].observed);
    services[0].overrides[0].confirmed = true;
    assert!(joined(&services, &views, &book())[0].observed);
}

#[test]
fn every_reason_keeps_a_time_out_of_the_standard() {
    let book = book();
    let books = Books { present: &book, adopted: &[] };
    let good = service(1, 0, Plan::Quarters, 1800);
    assert_eq!(standard_time(&good, &books), Ok(1800));
    let changed = |change: &dyn Fn(&mut Service)| {
        let mut one = good.clone();
        change(&mut one);
        standard_time(&one, &books).unwrap_err()
    };
    assert_eq!(standard_time(&imported(good.clone()), &books), Err(vec![LeftOut::Imported]));
    assert_eq!(standard_time(&drill(good.clone()), &books), Err(vec![LeftOut::Drill]));
    assert_eq!(changed(&|s| s.ending = Ending::Stopped(Stop::Reaction)), [LeftOut::Stopped]);
    assert_eq!(changed(&|s| s.worked = None), [LeftOut::MixedPlan]);
    assert_eq!(changed(&|s| s.times.pauses = Some(181)), [LeftOut::Pauses]);
    assert_eq!(changed(&|s| s.times.doubts.push("clock set back".into())), [LeftOut::Doubtful]);
    assert_eq!(changed(&|s| s.times.edited = true), [LeftOut::Edited]);
    assert_eq!(changed(&|s| s.times.hands_on = None), [LeftOut::NoTime]);
    let mut at_limit = good.clone();
    at_limit.times.pauses = Some(180);
    assert_eq!(standard_time(&at_limit, &books), Ok(1800));
}

#[test]
fn ten_percent_less_each_time_is_a_trend_of_minus_ten() {
    let trend = hands_on_trend(&[10_000, 9_000, 8_100, 7_290]).unwrap();
    assert!((trend.percent_per_service + 10.0).abs() < 1e-9, "{trend:?}");
    assert!((trend.median - 8_550.0).abs() < 1e-9);
    assert_eq!(hands_on_trend(&[0, 100]), None);
    assert_eq!(hands_on_trend(&[]), None);
}

#[test]
fn quality_is_met_since_the_service_that_completed_the_run() {
    let services: Vec<Service> = (1..=5).map(|n| service(n, u64::from(n), Plan::Quarters, 1800)).collect();
    let levels = [Mark::Nearly, Mark::Meets, Mark::Meets, Mark::Strong, Mark::Meets];
    let views: Vec<Outcome> = services.iter().zip(levels).map(|(s, level)| outcome(s, "one", level, &[])).collect();
    let book = book();
    let found = joined(&services, &views, &book);
    assert_eq!(quality_met(&found, &[], Plan::Quarters, 3), Some(on_day(4).date_naive()));
    assert_eq!(quality_met(&found, &[], Plan::Quarters, 5), None);
    assert_eq!(quality_met(&found, &[], Plan::Halves, 3), None);
    let unmarked = past_label(service(6, 6, Plan::Quarters, 1800));
    let breach = [Breach { service: &unmarked, what: vec!["past".into()] }];
    assert_eq!(quality_met(&found, &breach, Plan::Quarters, 3), None);
}

#[test]
fn the_chance_of_widening_is_that_of_a_clean_run() {
    let chances = widening_chances(&book().rules).unwrap();
    let (bad, good) = (chances.unacceptable, chances.acceptable);
    assert!((bad - 0.343).abs() < 1e-12 && (good - 0.857_375).abs() < 1e-12, "{bad} {good}");
}
