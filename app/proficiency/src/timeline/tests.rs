//! Timelines small enough to be checked by hand.

use super::overrun::{Spread, SpreadError, overrun};
use super::*;

fn chain(operations: &[i64], lags: &[(i64, i64)]) -> Chain {
    let lags = lags.iter().map(|(least, most)| Lag::between(*least, *most)).collect();
    Chain { operations: operations.to_vec(), lags, final_dwell: 0 }
}

fn coupled() -> Timeline {
    Timeline::new(chain(&[120, 60], &[(300, 330)]), chain(&[100, 80], &[(200, 220)])).unwrap()
}

fn makespan(timeline: &Timeline) -> i64 {
    let solution = timeline.shortest(None).unwrap();
    assert!(solution.proven);
    assert_eq!(timeline.check(&solution.schedule.starts), Ok(solution.schedule.makespan));
    solution.schedule.makespan
}

#[test]
fn two_coupled_tasks_interleave() {
    // 120 on, then 100 + 200 + 80 = 380 end at 500; the first needs its last 60 by 450 + 60, so the second
    // chain starts late enough: 560 by hand as by full enumeration.
    let timeline = coupled();
    assert_eq!(makespan(&timeline), 560);
    assert_eq!(timeline.sequential(), 480 + 380);
    assert_eq!(timeline.shortest(None).unwrap().saved(), 300);
}

#[test]
fn nothing_to_do_takes_no_time() {
    let nothing = Timeline::new(Chain::default(), Chain::default()).unwrap();
    assert_eq!(makespan(&nothing), 0);
    let one = Timeline::new(Chain::default(), chain(&[5, 7], &[(10, 20)])).unwrap();
    assert_eq!(makespan(&one), 22);
    assert_eq!((one.sequential(), one.lower_bound()), (22, 22));
}

#[test]
fn a_final_dwell_of_one_side_is_worked_through() {
    let long = Chain { final_dwell: 100, ..chain(&[10], &[]) };
    assert_eq!(makespan(&Timeline::new(long.clone(), chain(&[60], &[])).unwrap()), 110);
    assert_eq!(makespan(&Timeline::new(long.clone(), long).unwrap()), 120);
    let idle = Chain { final_dwell: 100, ..Chain::default() };
    assert_eq!(makespan(&Timeline::new(idle, chain(&[60], &[])).unwrap()), 60);
}

#[test]
fn the_window_that_cannot_be_met_is_named() {
    let error = Timeline::new(chain(&[1, 1, 1], &[(0, 5), (50, 40)]), Chain::default()).unwrap_err();
    assert_eq!(error, TimelineError::Window { chain: Side::First, after: 1, least: 50, most: 40 });
    assert!(error.to_string().contains("after operation 2 of the First chain"), "{error}");
}

#[test]
fn a_deadline_holds_to_the_second() {
    let timeline = coupled();
    assert_eq!(timeline.shortest(Some(560)).unwrap().schedule.makespan, 560);
    assert_eq!(timeline.shortest(Some(559)), Err(TimelineError::Deadline { deadline: 559, shortest: 560 }));
}

#[test]
fn input_that_makes_no_sense_is_refused() {
    let bad = [
        chain(&[-1], &[]),
        chain(&[i64::MAX], &[]),
        chain(&[1, 1], &[]),
        chain(&[], &[(0, 1)]),
        chain(&[1, 1], &[(i64::MIN, 5)]),
        chain(&[1, 1], &[(0, i64::MAX)]),
        chain(&[1; MOST_OPERATIONS + 1], &[(0, 1); MOST_OPERATIONS]),
        Chain { final_dwell: -5, ..chain(&[1], &[]) },
    ];
    for chain in bad {
        assert!(Timeline::new(chain.clone(), Chain::default()).is_err(), "{chain:?}");
        assert!(Timeline::new(Chain::default(), chain.clone()).is_err(), "{chain:?}");
    }
}

#[test]
fn starts_that_break_a_rule_are_found() {
    let timeline = coupled();
    let check =
        |first: [i64; 2], second: [i64; 2]| timeline.check(&Both { first: first.to_vec(), second: second.to_vec() });
    assert_eq!(check([0, 420], [480, 780]), Ok(860));
    assert!(check([0, 419], [480, 780]).is_err(), "before its window opens");
    assert!(check([0, 451], [511, 811]).is_err(), "after its window closes");
    assert!(check([0, 430], [430, 730]).is_err(), "two things at once");
    assert!(check([-1, 420], [480, 780]).is_err(), "before the beginning");
    assert_eq!(timeline.check(&Both::default()), Err(TimelineError::Starts));
}

#[test]
fn one_after_the_other_waits_for_the_final_dwell() {
    let first = Chain { final_dwell: 30, ..chain(&[10, 10], &[(5, 9)]) };
    let timeline = Timeline::new(first, chain(&[20], &[])).unwrap();
    let schedule = timeline.one_after_the_other().unwrap();
    assert_eq!(schedule.starts, Both { first: vec![0, 15], second: vec![55] });
    assert_eq!(timeline.check(&schedule.starts), Ok(75));
    assert_eq!((schedule.makespan, timeline.sequential()), (75, 75));
}

#[test]
fn spare_is_shared_out_between_the_windows() {
    // 10 s of the other side fit into a window of 10 to 50 s in any of many ways; the schedule keeps 40 spare.
    let timeline = Timeline::new(chain(&[5, 5], &[(10, 50)]), chain(&[10], &[])).unwrap();
    let solution = timeline.shortest(None).unwrap();
    assert_eq!((solution.schedule.makespan, solution.even_spare), (20, 40));
    assert_eq!(
        solution.windows,
        [Used { chain: Side::First, after: 0, lag: Lag::between(10, 50), waited: 10, spare: Some(40) }]
    );
}

fn steady(timeline: &Timeline) -> Both<Vec<Spread>> {
    let of = |side: Side| {
        let seconds = timeline.chains().of(side).operations.iter();
        seconds.map(|seconds| Spread { median: f64::from(i32::try_from(*seconds).unwrap()), log_sd: 0.0 }).collect()
    };
    Both { first: of(Side::First), second: of(Side::Second) }
}

#[test]
fn times_that_never_vary_keep_the_plan_to_the_second() {
    let timeline = coupled();
    let solution = timeline.shortest(None).unwrap();
    let kept = overrun(&timeline, &solution.schedule, solution.even_spare, &steady(&timeline), 3, 1).unwrap();
    assert_eq!((kept.typical, kept.nine_in_ten, kept.any), (560.0, 560.0, 0.0));
    assert_eq!(kept.windows.len(), 2);
}

#[test]
fn one_operation_inside_a_window_overruns_it_as_its_distribution_says() {
    // The other side's only operation, median 100 s and log spread .3, stands inside a window of 0 to 150 s.
    let timeline = Timeline::new(chain(&[10, 10], &[(140, 150)]), chain(&[100], &[])).unwrap();
    let solution = timeline.shortest(None).unwrap();
    assert_eq!(solution.schedule.makespan, 160);
    let mut spreads = steady(&timeline);
    spreads.second[0].log_sd = 0.3;
    let draws = 40_000;
    let kept = overrun(&timeline, &solution.schedule, solution.even_spare, &spreads, draws, 7).unwrap();
    let expected = crate::normal::above((150.0_f64 / 100.0).ln() / 0.3);
    let found = kept.windows[0];
    assert!((found.chance - expected).abs() < 4.0 * found.error, "{found:?} instead of {expected}");
    assert_eq!(kept.above(0.05).count(), 1);
    assert_eq!(kept.above(0.2).count(), 0);
    let same = overrun(&timeline, &solution.schedule, solution.even_spare, &spreads, draws, 7).unwrap();
    assert_eq!(kept, same, "the same seed, the same answer");
}

#[test]
fn a_ninetieth_percentile_is_planned() {
    let spread = Spread { median: 100.0, log_sd: 0.2 };
    // 100 exp(.2 * 1.2815516) = 129.2.
    assert_eq!(spread.planned(0.9), Ok(130));
    assert_eq!(Spread { log_sd: 0.0, ..spread }.planned(0.9), Ok(100));
    assert_eq!(spread.planned(1.0), Err(SpreadError::Share(1.0)));
    for median in [f64::NAN, -1.0, f64::INFINITY, 1e9] {
        assert!(Spread { median, ..spread }.planned(0.9).is_err(), "{median}");
    }
    assert!(Spread { median: 1e6, log_sd: 5.0 }.planned(0.99).is_err());
}

#[test]
fn wild_starts_and_spares_overflow_nothing() {
    let timeline = coupled();
    let Solution { mut schedule, .. } = timeline.shortest(None).unwrap();
    for spare in [i64::MIN, i64::MAX] {
        assert!(overrun(&timeline, &schedule, spare, &steady(&timeline), 1, 1).is_ok());
    }
    schedule.starts = Both { first: vec![i64::MIN, i64::MAX], second: vec![i64::MAX, i64::MIN] };
    assert_eq!(timeline.windows(&schedule).len(), 2);
}

#[test]
fn draws_and_spreads_that_do_not_fit_are_refused() {
    let timeline = coupled();
    let solution = timeline.shortest(None).unwrap();
    let run = |spreads: &Both<Vec<Spread>>, draws| overrun(&timeline, &solution.schedule, 0, spreads, draws, 1);
    assert_eq!(run(&steady(&timeline), 0), Err(SpreadError::Draws(0)));
    assert_eq!(run(&Both::default(), 1), Err(SpreadError::Names));
    let mut spreads = steady(&timeline);
    spreads.first.push(Spread { median: 1.0, log_sd: 0.0 });
    assert_eq!(run(&spreads, 1), Err(SpreadError::Names));
    spreads.first.pop();
    spreads.first[0].log_sd = f64::NAN;
    assert!(matches!(run(&spreads, 1), Err(SpreadError::Spread { .. })));
}
