//! The learning CUSUM on pass and fail: a chart that rises with passes and signals skill at its limit.
//!
//! Biau, Williams, Schlup, Nizard and Porcher (2008), British Journal of Surgery 95:925-929; Biau and Porcher
//! (2010), Statistics in Medicine 29:1900-1909. A pass adds ln((1 - a)/(1 - u)), a failure adds ln(a/u), with
//! a the acceptable and u the unacceptable failure rate; the chart never falls below zero and signals once it
//! reaches its limit, for good.

use super::course::Course;
use super::{CompetenceError, MOST_SERVICES, Rates, chance, check_path, steady};

/// How far below its limit, in pass scores, a chart counts as having reached it: rounding.
const REACHED: f64 = 1e-9;
/// Chart values, in pass scores, nearer than this are one.
const SAME: f64 = 1e-10;

/// A learning CUSUM with its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearningCusum {
    rates: Rates,
    limit: f64,
}

/// A learning CUSUM whose limit keeps the chance of a false pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibrated {
    /// The chart.
    pub chart: LearningCusum,
    /// Most services.
    pub horizon: u32,
    /// Chance, at the unacceptable rate throughout, of a pass within the horizon: at most what was asked.
    pub false_pass: f64,
    /// The same chance had the limit been any lower: above what was asked.
    pub false_pass_below: f64,
    /// Chance of a pass within the horizon at the acceptable rate.
    pub power: f64,
    /// Passes in a row, from the start, that reach the limit.
    pub shortest_clean_run: u32,
}

impl LearningCusum {
    /// Returns a chart with a limit, in units of the log-likelihood ratio.
    ///
    /// # Errors
    /// When the limit is not a number above zero.
    pub fn new(rates: Rates, limit: f64) -> Result<Self, CompetenceError> {
        if limit.is_finite() && limit > 0.0 { Ok(Self { rates, limit }) } else { Err(CompetenceError::Limit(limit)) }
    }

    /// Returns the rates it tells apart.
    pub fn rates(&self) -> Rates {
        self.rates
    }

    /// Returns the limit.
    pub fn limit(&self) -> f64 {
        self.limit
    }

    /// Returns what a pass adds, above zero.
    pub fn pass_score(&self) -> f64 {
        pass_score(self.rates)
    }

    /// Returns what a failure adds, below zero; minus infinity when no failure is acceptable.
    pub fn fail_score(&self) -> f64 {
        (self.rates.acceptable() / self.rates.unacceptable()).ln()
    }

    /// Returns the chart after each service; `true` is a failure.
    pub fn path(&self, failures: &[bool]) -> Vec<f64> {
        let mut value = 0.0_f64;
        let next = |failed: &bool| {
            value = (value + if *failed { self.fail_score() } else { self.pass_score() }).max(0.0);
            value
        };
        failures.iter().map(next).collect()
    }

    /// Returns the service, counted from 1, at which the chart first reaches its limit: the pass stands from
    /// then on, whatever follows.
    pub fn first_signal(&self, failures: &[bool]) -> Option<usize> {
        let reached = self.limit - REACHED * self.pass_score();
        self.path(failures).iter().position(|value| *value >= reached).map(|at| at + 1)
    }

    /// Returns how many passes in a row from the start reach the limit; `None` above [`MOST_SERVICES`].
    pub fn shortest_clean_run(&self) -> Option<u32> {
        self.passes_needed(0.0)
    }

    /// Returns how many passes in a row lead from a chart value to the limit; 0 when it is reached.
    pub fn passes_needed(&self, value: f64) -> Option<u32> {
        let (step, limit) = (self.pass_score(), self.limit - REACHED * self.pass_score());
        (0..=MOST_SERVICES).find(|run| value.max(0.0) + f64::from(*run) * step >= limit)
    }

    /// Returns what happens over a run of services, each with its own failure rate (0 to 1); exact.
    ///
    /// # Errors
    /// When a rate is no chance or the run is longer than [`MOST_SERVICES`].
    pub fn course(&self, path: &[f64]) -> Result<Course, CompetenceError> {
        check_path(path)?;
        Ok(follow(self.drop(), self.limit / self.pass_score(), path).0)
    }

    /// What a failure takes away, in pass scores.
    fn drop(&self) -> f64 {
        -self.fail_score() / self.pass_score()
    }
}

/// Returns the chart with the smallest limit at which the chance of a pass within `horizon` services, at the
/// unacceptable rate throughout, is at most `alpha`; exact.
///
/// The chance falls in steps, each at a value the chart can take. The limit returned lies just above the
/// highest such value at which the chance is still above `alpha`.
///
/// # Errors
/// When `alpha` is not between 0 and 1, the horizon is 0 or above [`MOST_SERVICES`], or so short that even an
/// unbroken run is likelier than `alpha`.
pub fn calibrate(rates: Rates, horizon: u32, alpha: f64) -> Result<Calibrated, CompetenceError> {
    chance(alpha)?;
    let bad = steady(rates.unacceptable(), horizon)?;
    let needed = rates.fewest_services(alpha).ok_or(CompetenceError::Services(horizon))?;
    if needed > horizon {
        return Err(CompetenceError::TooFewServices { services: horizon, alpha, needed });
    }
    let unit = pass_score(rates);
    let drop = (rates.unacceptable() / rates.acceptable()).ln() / unit;
    // A limit that is high enough, in pass scores; one of as many passes as there are services always is.
    let mut high = 1.0_f64;
    let (course, mut values) = loop {
        let (course, values) = follow(drop, high, &bad);
        if course.passes() <= alpha || high >= f64::from(horizon) {
            break (course, values);
        }
        high = (high * 2.0).min(f64::from(horizon));
    };
    values.retain(|value| *value > SAME);
    // The lowest value that may be asked for, by halving: the chance never rises with the limit.
    let (mut low, mut enough) = (0, values.len().saturating_sub(1));
    let (mut false_pass, mut below) = (course.passes(), 1.0);
    while low < enough {
        let middle = low + (enough - low) / 2;
        let passes = follow(drop, values.get(middle).copied().unwrap_or(high), &bad).0.passes();
        if passes <= alpha {
            enough = middle;
            false_pass = passes;
        } else {
            low = middle + 1;
            below = passes;
        }
    }
    let value = values.get(enough).copied().unwrap_or(high);
    let beneath = enough.checked_sub(1).and_then(|at| values.get(at)).copied().unwrap_or_default();
    let limit = beneath * unit + (1e-6_f64).min((value - beneath) * unit / 2.0);
    let chart = LearningCusum::new(rates, limit)?;
    let good = steady(rates.acceptable(), horizon)?;
    Ok(Calibrated {
        horizon,
        false_pass,
        false_pass_below: below,
        power: chart.course(&good)?.passes(),
        shortest_clean_run: chart.shortest_clean_run().ok_or(CompetenceError::Limit(limit))?,
        chart,
    })
}

fn pass_score(rates: Rates) -> f64 {
    ((1.0 - rates.acceptable()) / (1.0 - rates.unacceptable())).ln()
}

/// Follows the chart in pass scores: a pass adds 1, a failure takes `drop`, never below 0.
///
/// Returns the course, and every value the chart can have at the end, those at which it passes included.
fn follow(drop: f64, limit: f64, path: &[f64]) -> (Course, Vec<f64>) {
    let mut course = Course::new(path.len());
    // Values in ascending order with their chances.
    let mut now: Vec<(f64, f64)> = vec![(0.0, 1.0)];
    let mut landed = Vec::new();
    for (at, failing) in path.iter().enumerate() {
        let reached = now.partition_point(|(value, _)| value + 1.0 < limit - REACHED);
        let (below, over) = now.split_at_checked(reached).unwrap_or((&now, &[]));
        landed = over.iter().map(|(value, _)| value + 1.0).collect();
        course.pass_at(at, over.iter().map(|(_, chance)| chance * (1.0 - failing)).sum());
        let up = below.iter().map(|(value, chance)| (value + 1.0, chance * (1.0 - failing)));
        let down = now.iter().map(|(value, chance)| ((value - drop).max(0.0), chance * failing));
        now = merge(up, down);
    }
    let mut values: Vec<f64> = now.into_iter().map(|(value, _)| value).collect();
    values.extend(landed);
    (course, values)
}

/// Merges two ascending lists; values that are the same to rounding become one.
fn merge(first: impl Iterator<Item = (f64, f64)>, second: impl Iterator<Item = (f64, f64)>) -> Vec<(f64, f64)> {
    let (mut first, mut second) = (first.peekable(), second.peekable());
    let mut merged: Vec<(f64, f64)> = Vec::new();
    loop {
        let next = match (first.peek(), second.peek()) {
            (Some(a), Some(b)) if a.0 <= b.0 => first.next(),
            (_, Some(_)) => second.next(),
            (Some(_), None) => first.next(),
            (None, None) => return merged,
        };
        let Some((value, chance)) = next else { return merged };
        match merged.last_mut() {
            Some(last) if value - last.0 <= SAME => last.1 += chance,
            _ => merged.push((value, chance)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rates() -> Rates {
        Rates::new(0.4, 0.05).unwrap()
    }

    #[test]
    fn the_example_course_book_has_the_limit_it_states() {
        let found = calibrate(rates(), 20, 0.1).unwrap();
        assert!((found.chart.limit() - 3.435).abs() < 5e-4, "{found:?}");
        assert!((found.false_pass - 0.099).abs() < 5e-4, "{found:?}");
        assert!((found.power - 0.98).abs() < 5e-3, "{found:?}");
        assert_eq!(found.shortest_clean_run, 8);
        assert!(found.false_pass <= 0.1 && 0.1 < found.false_pass_below);
    }

    #[test]
    fn a_pass_is_latched() {
        let chart = LearningCusum::new(rates(), 0.9).unwrap();
        assert_eq!(chart.first_signal(&[false, false, true, true, true]), Some(2));
        assert_eq!(chart.first_signal(&[false, true, false]), None);
        assert_eq!(chart.first_signal(&[]), None);
    }

    #[test]
    fn where_no_failure_is_acceptable_only_an_unbroken_run_passes() {
        let found = calibrate(Rates::new(0.3, 0.0).unwrap(), 30, 0.05).unwrap();
        let run = found.shortest_clean_run;
        let mut failures = vec![false; 30];
        failures[usize::try_from(run).unwrap() - 1] = true;
        let course = found.chart.course(&steady(0.3, 30).unwrap()).unwrap();
        assert!((course.passes() - found.false_pass).abs() < 1e-15);
        assert_eq!(found.chart.path(&failures)[usize::try_from(run).unwrap() - 1], 0.0);
        assert_eq!(course.earliest_pass(), Some(run));
    }

    #[test]
    fn all_small_runs_counted_one_by_one_give_the_same_chance() {
        let chart = LearningCusum::new(Rates::new(0.3, 0.1).unwrap(), 1.1).unwrap();
        let path: Vec<f64> = (0..14).map(|at| 0.5 - 0.03 * f64::from(at)).collect();
        let mut by_hand = 0.0;
        for bits in 0_u32..1 << 14 {
            let failures: Vec<bool> = (0..14).map(|at| bits >> at & 1 == 1).collect();
            let chance: f64 = failures.iter().zip(&path).map(|(f, p)| if *f { *p } else { 1.0 - p }).product();
            by_hand += if chart.first_signal(&failures).is_some() { chance } else { 0.0 };
        }
        assert!((chart.course(&path).unwrap().passes() - by_hand).abs() < 1e-12);
    }

    #[test]
    fn a_horizon_too_short_says_how_long_it_must_be() {
        let error = calibrate(rates(), 4, 0.1).unwrap_err();
        assert_eq!(error, CompetenceError::TooFewServices { services: 4, alpha: 0.1, needed: 5 });
        assert_eq!(calibrate(rates(), 5, 0.1).unwrap().shortest_clean_run, 5);
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        for alpha in [0.0, 1.0, -1.0, f64::NAN] {
            assert!(calibrate(rates(), 20, alpha).is_err(), "{alpha}");
        }
        assert!(calibrate(rates(), 0, 0.1).is_err());
        assert!(calibrate(rates(), u32::MAX, 0.1).is_err());
        for limit in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(LearningCusum::new(rates(), limit).is_err(), "{limit}");
        }
        let chart = LearningCusum::new(rates(), 1e300).unwrap();
        assert_eq!(chart.shortest_clean_run(), None);
        assert!(chart.course(&[f64::NAN]).is_err());
        assert_eq!(chart.course(&[]).unwrap().passes(), 0.0);
    }

    #[test]
    fn nearly_everything_may_pass_when_that_is_asked_for() {
        // One pass in five is enough: .4^5 = .01 of all runs hold none.
        let found = calibrate(rates(), 5, 0.995).unwrap();
        assert_eq!((found.shortest_clean_run, found.false_pass_below), (1, 1.0));
        assert!((found.false_pass - (1.0 - 0.4_f64.powi(5))).abs() < 1e-12);
    }

    #[test]
    fn a_long_horizon_is_no_hang() {
        let found = calibrate(Rates::new(0.3, 0.1).unwrap(), 300, 0.05).unwrap();
        assert!(found.power > 0.999 && found.false_pass <= 0.05);
    }
}
