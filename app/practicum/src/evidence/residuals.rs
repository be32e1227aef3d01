//! Which services lie unusually far from the trainee's own curve: the chart of individuals with its run rules.
//!
//! What is charted are the residuals of the curve in standard deviations, above 0 where the service was slower. A
//! run of services at one plan is judged by itself: neither a moving range nor a run rule crosses a change of plan.
//! The centre is the curve, 0; the spread comes from the moving ranges of all runs together.

use proficiency::chart::{Constants, limits, signals};

use super::learning::{Answer, Residual};
use crate::section::Plan;

/// Fewest moving ranges that limits are drawn from. Proposal, no source; fewer say too little of the spread.
const LEAST_RANGES: usize = 6;
/// Spread, in standard deviations of the curve, below which the times are too alike for limits.
const LEAST_SPREAD: f64 = 1e-6;

/// Why a service is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unusual {
    /// The curve gives it less weight, as it lies so far off.
    FarOff,
    /// Beyond three spreads.
    Beyond,
    /// Beyond two spreads, as at least two of the last three are on this side.
    TwoOfThree,
    /// Beyond one spread, as at least four of the last five are on this side.
    FourOfFive,
    /// The last eight lie on this side.
    EightInARow,
}

impl Unusual {
    /// Says it in plain words.
    pub fn say(self, slower: bool) -> &'static str {
        match (self, slower) {
            (Self::FarOff | Self::Beyond, true) => "much slower than this trainee’s own curve",
            (Self::FarOff | Self::Beyond, false) => "much quicker than this trainee’s own curve",
            (Self::TwoOfThree, true) => "two of three in a row clearly slower",
            (Self::TwoOfThree, false) => "two of three in a row clearly quicker",
            (Self::FourOfFive, true) => "four of five in a row slower",
            (Self::FourOfFive, false) => "four of five in a row quicker",
            (Self::EightInARow, true) => "eight in a row slower than the curve",
            (Self::EightInARow, false) => "eight in a row quicker than the curve",
        }
    }
}

/// One service against the curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Place of the service in [`super::learning::Ask::rows`].
    pub row: u32,
    /// Which of the trainee's live services, from 1.
    pub number: u32,
    /// Its plan.
    pub plan: Plan,
    /// Distance from the curve in standard deviations, above 0 where slower.
    pub distance: f64,
    /// What is unusual about it; empty for most.
    pub unusual: Vec<Unusual>,
}

impl Reading {
    /// Says in plain words what is unusual about it; empty for most.
    pub fn say(&self) -> String {
        let mut said: Vec<&str> = self.unusual.iter().map(|unusual| unusual.say(self.distance > 0.0)).collect();
        said.dedup();
        said.join("; ")
    }
}

/// The chart of a trainee's services against the curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Individuals {
    /// Services whose time counts, in the order begun.
    pub readings: Vec<Reading>,
    /// Distance of either limit from the curve: three spreads; `None` while there is too little for limits.
    pub limit: Option<f64>,
    /// How it was worked out, a line each.
    pub workings: Vec<String>,
}

/// Judges each service against the curve and its neighbours at the same plan.
pub fn individuals(answer: &Answer) -> Individuals {
    let known: Vec<&Residual> = answer.residuals.iter().filter(|residual| residual.residual.is_finite()).collect();
    let runs: Vec<&[&Residual]> = known.chunk_by(|one, next| one.plan == next.plan).collect();
    let values = |run: &[&Residual]| run.iter().map(|residual| residual.residual).collect::<Vec<f64>>();
    let ranges: Vec<f64> = runs
        .iter()
        .filter_map(|run| limits(&values(run), Constants::Exact).ok())
        .flat_map(|limits| limits.moving_ranges)
        .collect();
    let spread = ranges.iter().sum::<f64>() / ranges.len().max(1) as f64 / Constants::Exact.mean_range();
    let enough = ranges.len() >= LEAST_RANGES && spread.is_finite() && spread > LEAST_SPREAD;
    let spread = enough.then_some(spread);
    let readings = runs.iter().flat_map(|run| judge(run, spread)).collect();
    Individuals { readings, limit: spread.map(|spread| 3.0 * spread), workings: workings(ranges.len(), spread) }
}

fn judge(run: &[&Residual], spread: Option<f64>) -> Vec<Reading> {
    let values: Vec<f64> = run.iter().map(|residual| residual.residual).collect();
    let found = spread.map(|spread| signals(&values, 0.0, spread)).unwrap_or_default();
    let reading = |(at, residual): (usize, &&Residual)| {
        let said = [
            (Unusual::FarOff, residual.flagged),
            (Unusual::Beyond, found.beyond_three.contains(&at)),
            (Unusual::TwoOfThree, found.two_of_three.contains(&at)),
            (Unusual::FourOfFive, found.four_of_five.contains(&at)),
            (Unusual::EightInARow, found.eight_in_a_row.contains(&at)),
        ];
        Reading {
            row: residual.row,
            number: residual.number,
            plan: residual.plan,
            distance: residual.residual,
            unusual: said.into_iter().filter(|(_, holds)| *holds).map(|(unusual, _)| unusual).collect(),
        }
    };
    run.iter().enumerate().map(reading).collect()
}

fn workings(ranges: usize, spread: Option<f64>) -> Vec<String> {
    let mut lines = vec![
        "Each service’s distance from the trainee’s own curve, on the logarithm of the time, in standard deviations of \
         single services (standardised residuals); one far off is marked when its Student-t weight is below 0.45."
            .to_owned(),
    ];
    lines.push(match spread {
        Some(spread) => format!(
            "Chart of individuals (Shewhart 1931): centre the curve itself, spread {spread:.2} from {ranges} moving \
             ranges within a plan, limits three spreads either way. Run rules 1 to 4 (Western Electric 1956), none \
             across a change of plan. With the spread known \
             exactly, some 92 services go by on average before they mark one although nothing has changed (Champ and \
             Woodall 1987)."
        ),
        None => format!(
            "No limits are drawn: {ranges} moving ranges within a plan that differ, and it takes {LEAST_RANGES} \
             (proposal, no source)."
        ),
    });
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::learning::{Figures, Pool, answer};

    fn residual(number: u32, plan: Plan, residual: f64) -> Residual {
        Residual { row: number, number, plan, residual, flagged: residual.abs() > 4.0 }
    }

    fn of(residuals: Vec<Residual>) -> Individuals {
        let ask = crate::evidence::learning::Ask {
            rows: Vec::new(),
            pool: Pool::Group,
            trainee: None,
            past: Vec::new(),
            done: 0,
            done_at: [0; 4],
            weeks: 0.0,
            present: Plan::Quarters,
            plans: vec![Plan::Quarters],
            targets: [None; 4],
            refresher_weeks: 8.0,
            figures: Some(Figures { tau: 0.05, ahead: 10 }),
        };
        individuals(&Answer { residuals, ..answer(&ask) })
    }

    fn steady(count: u32, plan: Plan) -> impl Iterator<Item = Residual> {
        (1..=count).map(move |number| residual(number, plan, if number % 2 == 0 { 0.5 } else { -0.5 }))
    }

    #[test]
    fn a_service_far_off_is_named_and_its_neighbours_are_not() {
        let mut all: Vec<Residual> = steady(12, Plan::Halves).collect();
        all.push(residual(13, Plan::Halves, 5.0));
        let chart = of(all);
        let named: Vec<u32> =
            chart.readings.iter().filter(|one| !one.unusual.is_empty()).map(|one| one.number).collect();
        assert_eq!(named, [13]);
        let words = chart.readings.last().unwrap().say();
        assert_eq!(words, "much slower than this trainee’s own curve", "said once, however many rules speak");
    }

    #[test]
    fn no_rule_looks_across_a_change_of_plan() {
        let slow = |number, plan| residual(number, plan, 0.4 + f64::from(number % 2) * 0.3);
        let one_plan: Vec<Residual> = (1..=10).map(|number| slow(number, Plan::Halves)).collect();
        let speaks = |chart: &Individuals| chart.readings.iter().any(|one| one.unusual.contains(&Unusual::EightInARow));
        assert!(speaks(&of(one_plan)));
        let split = |number| if number <= 5 { Plan::Quarters } else { Plan::Halves };
        assert!(!speaks(&of((1..=10).map(|number| slow(number, split(number))).collect())));
        // The jump between two levels adds nothing to the spread.
        let levels = |number: u32| residual(number, split(number), if number <= 5 { -9.0 } else { 9.0 });
        let flat = of((1..=10).map(levels).collect());
        assert_eq!(flat.limit, None, "all alike within each plan");
    }

    #[test]
    fn without_a_change_the_rules_speak_after_some_ninety_services() {
        let mut state = 20_261_125_u64;
        let mut even = || {
            // Steele, Lea and Flood 2014.
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let z = (state ^ (state >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / 2.0_f64.powi(53)
        };
        let mut run = || {
            let mut values = Vec::new();
            loop {
                values.extend((0..100).map(|_| (0..12).map(|_| even()).sum::<f64>() - 6.0));
                let found = signals(&values, 0.0, 1.0);
                let all = [&found.beyond_three, &found.two_of_three, &found.four_of_five, &found.eight_in_a_row];
                if let Some(first) = all.into_iter().filter_map(|places| places.first()).min() {
                    return *first as f64 + 1.0;
                }
            }
        };
        let mean = (0..3_000).map(|_| run()).sum::<f64>() / 3_000.0;
        // Standard error about 1.7.
        assert!((mean - 91.75).abs() < 6.0, "{mean}");
    }

    #[test]
    fn too_little_or_all_alike_has_no_limits_and_still_says_something() {
        for residuals in [
            Vec::new(),
            vec![residual(1, Plan::Whole, 0.2)],
            steady(6, Plan::Whole).collect(),
            (1..=20).map(|number| residual(number, Plan::Whole, 0.0)).collect(),
            vec![residual(1, Plan::Whole, f64::NAN), residual(2, Plan::Whole, f64::INFINITY)],
        ] {
            let chart = of(residuals);
            assert_eq!(chart.limit, None);
            assert!(chart.readings.iter().all(|one| one.unusual.is_empty()));
            assert_eq!(chart.workings.len(), 2);
        }
        assert!(of(steady(7, Plan::Whole).collect()).limit.is_some());
    }
}
