//! Two-eye timelines made at random.

use proficiency::timeline::overrun::{Spread, overrun};
use proficiency::timeline::{Both, Chain, Counted, Lag, Side, Timeline, worth};
use proptest::prelude::*;

fn chain(most_operations: usize) -> impl Strategy<Value = Chain> {
    let lag = (prop_oneof![Just(0_i64), 0..500_i64], prop::option::of(0..300_i64)).prop_map(|(least, wider)| Lag {
        least,
        most: wider.map(|wider| least + wider),
        counted: Counted::FromEnd,
    });
    let operations = prop::collection::vec(0..300_i64, 0..=most_operations);
    (operations, prop::collection::vec(lag, most_operations), prop_oneof![Just(0_i64), 0..200_i64]).prop_map(
        |(operations, mut lags, final_dwell)| {
            lags.truncate(operations.len().saturating_sub(1));
            Chain { operations, lags, final_dwell }
        },
    )
}

fn timelines(most_operations: usize) -> impl Strategy<Value = Timeline> {
    (chain(most_operations), chain(most_operations))
        .prop_map(|(first, second)| Timeline::new(first, second).expect("windows are as wide as they are long"))
}

/// Tries every order, each with starts raised until all constraints hold.
fn shortest_of_all_orders(chains: &Both<Chain>) -> i64 {
    fn orders(left: (usize, usize), so_far: &mut Vec<Side>, out: &mut Vec<Vec<Side>>) {
        if left == (0, 0) {
            out.push(so_far.clone());
        }
        for side in Side::BOTH {
            let next = match side {
                Side::First => left.0.checked_sub(1).map(|first| (first, left.1)),
                Side::Second => left.1.checked_sub(1).map(|second| (left.0, second)),
            };
            if let Some(next) = next {
                so_far.push(side);
                orders(next, so_far, out);
                so_far.pop();
            }
        }
    }
    let mut all = Vec::new();
    orders((chains.first.operations.len(), chains.second.operations.len()), &mut Vec::new(), &mut all);
    all.iter().filter_map(|order| makespan(chains, order)).min().unwrap()
}

fn makespan(chains: &Both<Chain>, order: &[Side]) -> Option<i64> {
    let mut starts =
        Both { first: vec![0; chains.first.operations.len()], second: vec![0; chains.second.operations.len()] };
    for _ in 0..=order.len() * 2 {
        let before = starts.clone();
        let mut free = 0;
        let mut done = Both { first: 0, second: 0 };
        for side in order {
            let at = *done.of(*side);
            *done.of_mut(*side) += 1;
            let start = &mut starts.of_mut(*side)[at];
            *start = free.max(*start);
            free = *start + chains.of(*side).operations[at];
        }
        for side in Side::BOTH {
            let chain = chains.of(side);
            let starts = starts.of_mut(side);
            for (after, lag) in chain.lags.iter().enumerate() {
                let end = starts[after] + chain.operations[after];
                starts[after + 1] = starts[after + 1].max(end + lag.least);
                if let Some(most) = lag.most {
                    starts[after] = starts[after].max(starts[after + 1] - most - chain.operations[after]);
                }
            }
        }
        if starts == before {
            let end = |side: Side| {
                let last = starts.of(side).last().zip(chains.of(side).operations.last());
                last.map_or(0, |(start, operation)| start + operation + chains.of(side).final_dwell)
            };
            return Some(end(Side::First).max(end(Side::Second)));
        }
    }
    None
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_timeline_holds_and_lies_between_its_bounds(timeline in timelines(10)) {
        let solution = timeline.shortest(None).unwrap();
        prop_assert!(solution.proven);
        prop_assert_eq!(timeline.check(&solution.schedule.starts), Ok(solution.schedule.makespan));
        prop_assert!(solution.lower_bound <= solution.schedule.makespan);
        prop_assert!(solution.schedule.makespan <= solution.sequential);
        for window in &solution.windows {
            prop_assert!(window.spare.is_none_or(|spare| 0 <= spare));
        }
        let sequential = timeline.one_after_the_other().unwrap();
        prop_assert_eq!(timeline.check(&sequential.starts), Ok(solution.sequential));
    }

    #[test]
    fn no_order_of_operations_is_shorter(timeline in timelines(5)) {
        let solution = timeline.shortest(None).unwrap();
        prop_assert_eq!(solution.schedule.makespan, shortest_of_all_orders(timeline.chains()));
    }

    #[test]
    fn shifting_all_starts_keeps_a_timeline_valid_and_adds_the_shift(timeline in timelines(8), shift in 0..1000_i64) {
        let solution = timeline.shortest(None).unwrap();
        let mut starts = solution.schedule.starts;
        for side in Side::BOTH {
            starts.of_mut(side).iter_mut().for_each(|start| *start += shift);
        }
        let empty = Side::BOTH.iter().all(|side| starts.of(*side).is_empty());
        let shifted = solution.schedule.makespan + if empty { 0 } else { shift };
        prop_assert_eq!(timeline.check(&starts), Ok(shifted));
    }

    #[test]
    fn the_two_sides_may_change_places(timeline in timelines(8)) {
        let chains = timeline.chains().clone();
        let swapped = Timeline::new(chains.second, chains.first).unwrap();
        let makespan = |timeline: &Timeline| timeline.shortest(None).unwrap().schedule.makespan;
        prop_assert_eq!(makespan(&timeline), makespan(&swapped));
    }

    #[test]
    fn steady_times_keep_the_plan(timeline in timelines(6)) {
        let solution = timeline.shortest(None).unwrap();
        let steady = |side: Side| {
            let seconds = timeline.chains().of(side).operations.iter();
            seconds.map(|seconds| Spread { median: f64::from(i32::try_from(*seconds).unwrap()), log_sd: 0.0 }).collect()
        };
        let spreads = Both { first: steady(Side::First), second: steady(Side::Second) };
        let kept = overrun(&timeline, &solution.schedule, solution.even_spare, &spreads, 1, 0).unwrap();
        prop_assert_eq!(kept.any, 0.0);
        prop_assert_eq!(kept.typical, f64::from(i32::try_from(solution.schedule.makespan).unwrap()));
    }

    #[test]
    fn nothing_given_makes_it_panic(
        operations in prop::collection::vec(any::<i64>(), 0..5),
        lags in prop::collection::vec((any::<i64>(), any::<Option<i64>>()), 0..5),
        final_dwell in any::<i64>(),
        deadline in any::<Option<i64>>(),
    ) {
        let lags = lags.into_iter().map(|(least, most)| Lag { least, most, counted: Counted::FromStart }).collect();
        let chain = Chain { operations, lags, final_dwell };
        if let Ok(timeline) = Timeline::new(chain.clone(), chain) {
            let _ = timeline.shortest(deadline);
            let _ = worth::each(&timeline, u32::MAX);
        }
    }
}

#[test]
fn long_chains_come_to_an_end_with_an_answer_that_holds() {
    let lags = vec![Lag { least: 7, most: Some(90), counted: Counted::FromEnd }; 63];
    let operations = (0..64).map(|at| 10 + (at * 37) % 50).collect();
    let chain = Chain { operations, lags, final_dwell: 0 };
    let timeline = Timeline::new(chain.clone(), chain).unwrap();
    let solution = timeline.shortest(None).unwrap();
    assert_eq!(timeline.check(&solution.schedule.starts), Ok(solution.schedule.makespan));
}
