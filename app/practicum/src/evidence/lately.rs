//! Whether a trainee is getting quicker lately: the last services at one plan, looked at without any curve.

use proficiency::trend::mann_kendall;

use super::hands_on_trend;
use super::learning::{Ask, Row, in_plan};
use crate::moment::Seconds;
use crate::order::InOrder;
use crate::section::Plan;

/// Most services that are looked at. Proposal, no source.
const LAST: usize = 10;
/// Fewest; with four even the clearest order is no proof.
const LEAST: usize = 5;
/// Chance that a direction is claimed where there is none.
const CLAIMED_WRONGLY: f64 = 0.05;

/// Where the times have been going.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Getting quicker.
    Quicker,
    /// Getting slower.
    Slower,
    /// Neither is shown.
    Unclear,
}

/// What the last services say.
#[derive(Debug, Clone, PartialEq)]
pub struct Lately {
    /// Where the times have been going.
    pub direction: Direction,
    /// Places of the services in [`Ask::rows`], in the order begun.
    pub rows: Vec<u32>,
    /// In one sentence.
    pub sentence: String,
    /// How it was worked out, a line each; empty where nothing was.
    pub workings: Vec<String>,
}

/// Looks at the trainee's last services in a row at one plan whose time counts, ten at most.
pub fn lately(ask: &Ask) -> Lately {
    let mut own: Vec<(usize, &Row)> = ask.rows.iter().enumerate().collect();
    own.retain(|(_, row)| Some(row.trainee) == ask.trainee);
    own.order_by_key(|(_, row)| row.number);
    let plan = own.last().map(|(_, row)| row.plan);
    let tail = own.iter().rev().take_while(|(_, row)| Some(row.plan) == plan).take(LAST);
    let mut tail: Vec<&(usize, &Row)> = tail.collect();
    tail.reverse();
    let rows = tail.iter().filter_map(|(at, _)| u32::try_from(*at).ok()).collect();
    let times: Vec<f64> = tail.iter().map(|(_, row)| row.seconds).collect();
    let whole: Vec<Seconds> = times.iter().map(|seconds| seconds.round().clamp(0.0, 1e9) as Seconds).collect();
    let unclear = |sentence: String| Lately { direction: Direction::Unclear, rows, sentence, workings: Vec::new() };
    let Some(plan) = plan else {
        return unclear("No service of this trainee has a time that counts yet.".into());
    };
    let (count, at) = (times.len(), in_plan(plan));
    let (Some(test), Some(trend), true) = (mann_kendall(&times), hands_on_trend(&whole), count >= LEAST) else {
        return unclear(format!(
            "Quicker or slower lately cannot be said yet: {count} in a row {at} whose time counts, and it takes {LEAST}."
        ));
    };
    let direction = match (test.p_two_sided <= CLAIMED_WRONGLY, test.s.signum()) {
        (true, 1) => Direction::Slower,
        (true, -1) => Direction::Quicker,
        _ => Direction::Unclear,
    };
    Lately {
        direction,
        sentence: say(direction, trend.percent_per_service, count, plan),
        workings: vec![
            format!(
                "Mann-Kendall test on {count} times in their order: S = {}, z = {:.2}, two-sided p = {:.3}; a direction is \
                 said at {CLAIMED_WRONGLY} or less (Mann 1945; Kendall 1975).",
                test.s, test.z, test.p_two_sided
            ),
            format!(
                "Change from service to service: {:+.1} %, the Theil-Sen slope of the logarithms (Theil 1950; Sen 1968); \
                 median {:.0} s.",
                trend.percent_per_service, trend.median
            ),
        ],
        ..unclear(String::new())
    }
}

fn say(direction: Direction, percent: f64, count: usize, plan: Plan) -> String {
    let at = in_plan(plan);
    let size = percent.abs();
    let size = if size < 1.0 { "less than 1 %".to_owned() } else { format!("about {size:.0} %") };
    match direction {
        Direction::Quicker => {
            format!("Getting quicker now: {size} from one service to the next, over the last {count} {at}.")
        }
        Direction::Slower => format!("Slower lately: {size} from one service to the next, over the last {count} {at}."),
        Direction::Unclear => format!(
            "Neither quicker nor slower over the last {count} {at}: the times differ no more than they do by chance."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::learning::{Figures, Pool};

    fn of(times: &[(Plan, f64)]) -> Lately {
        let row = |(number, (plan, seconds)): (u32, &(Plan, f64))| Row {
            trainee: 3,
            number,
            plan: *plan,
            within: number,
            seconds: *seconds,
        };
        lately(&Ask {
            rows: (1..).zip(times).map(row).collect(),
            pool: Pool::Academy,
            trainee: Some(3),
            past: Vec::new(),
            done: 0,
            done_at: [0; 4],
            weeks: 0.0,
            present: Plan::Quarters,
            plans: Vec::new(),
            targets: [None; 4],
            refresher_weeks: 8.0,
            figures: Some(Figures { tau: 0.05, ahead: 10 }),
        })
    }

    fn halves(times: impl IntoIterator<Item = f64>) -> Vec<(Plan, f64)> {
        times.into_iter().map(|seconds| (Plan::Halves, seconds)).collect()
    }

    #[test]
    fn a_steady_fall_is_called_quicker_and_a_rise_slower() {
        let quicker = of(&halves((0..8).map(|n| 3000.0 * 0.97_f64.powi(n))));
        assert_eq!(quicker.direction, Direction::Quicker);
        assert_eq!(
            quicker.sentence,
            "Getting quicker now: about 3 % from one service to the next, over the last 8 in halves."
        );
        assert_eq!(of(&halves((0..8).map(|n| 3000.0 + 60.0 * f64::from(n)))).direction, Direction::Slower);
    }

    #[test]
    fn no_order_and_all_the_same_are_called_neither() {
        for times in [vec![3000.0; 9], vec![3000.0, 3100.0, 2900.0, 3050.0, 2950.0, 3010.0]] {
            let found = of(&halves(times));
            assert_eq!(found.direction, Direction::Unclear);
            assert!(found.sentence.starts_with("Neither"), "{}", found.sentence);
        }
    }

    #[test]
    fn only_the_last_services_at_one_plan_are_looked_at() {
        let mut times: Vec<(Plan, f64)> = (0..20).map(|n| (Plan::Quarters, 4000.0 - 50.0 * f64::from(n))).collect();
        times.extend(halves([3600.0, 3500.0, 3400.0, 3300.0]));
        let few = of(&times);
        assert!(few.sentence.contains("4 in a row in halves") && few.rows == [20, 21, 22, 23], "{few:?}");
        times.extend(halves([3200.0; 30]));
        assert_eq!(of(&times).rows.len(), 10);
    }

    #[test]
    fn odd_times_say_something_true() {
        for times in [vec![], vec![1.0], vec![f64::NAN; 7], vec![f64::INFINITY, 0.0, -1.0, 1e300, 32_400.0, 1.0]] {
            let found = of(&halves(times));
            assert!(!found.sentence.is_empty() && !found.sentence.contains("NaN"), "{found:?}");
        }
    }
}
