//! The CUSUM of a normal score: its average run length, and the chance of a signal within a horizon.
//!
//! Page (1954), Biometrika 41:100-115. S = max(0, S + z - k), z normal with spread 1, signal above h. Run
//! lengths solve an integral equation, by Gauss-Legendre quadrature (Nystroem's method); the approximation by
//! a Markov chain of Brook and Evans (1972), Biometrika 59:539-549, is here for comparison.

use super::{CompetenceError, MOST_SERVICES};
use crate::normal;

/// Highest limit, in spreads of the score, that the quadrature is fine enough for.
pub const HIGHEST_LIMIT: f64 = 40.0;

/// A one-sided chart on scores with spread 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalCusum {
    reference: f64,
    limit: f64,
}

impl NormalCusum {
    /// Returns the chart with reference value `reference` (k) and limit `limit` (h), in spreads of the score.
    ///
    /// # Errors
    /// When the reference is not finite, or the limit not above 0 and at most [`HIGHEST_LIMIT`].
    pub fn new(reference: f64, limit: f64) -> Result<Self, CompetenceError> {
        if !reference.is_finite() {
            return Err(CompetenceError::Limit(reference));
        }
        let fine = 0.0 < limit && limit <= HIGHEST_LIMIT;
        if fine { Ok(Self { reference, limit }) } else { Err(CompetenceError::Limit(limit)) }
    }

    /// Returns the limit, in spreads of the score.
    pub fn limit(&self) -> f64 {
        self.limit
    }

    /// Returns the average number of scores with mean `mean` until a signal, started at `head_start`; relative
    /// error below 1e-9, infinite when it is beyond what a number holds.
    ///
    /// # Errors
    /// When the mean is not finite or the head start lies outside 0 to the limit.
    pub fn run_length(&self, mean: f64, head_start: f64) -> Result<f64, CompetenceError> {
        if !mean.is_finite() {
            return Err(CompetenceError::Limit(mean));
        }
        if !(0.0..=self.limit).contains(&head_start) {
            return Err(CompetenceError::Limit(head_start));
        }
        let drift = mean - self.reference;
        let nodes = nodes(self.limit);
        // The first state is the start, to which nothing returns; the second is zero.
        let places = [head_start, 0.0].into_iter().chain(nodes.iter().map(|node| node.0));
        let row = |from: f64| {
            let spread = nodes.iter().map(|(to, weight)| weight * density(to - from - drift));
            let moves: Vec<f64> = [0.0, below(-from - drift)].into_iter().chain(spread).collect();
            State { moves, signal: below(from + drift - self.limit), scores: 1.0 }
        };
        Ok(until_signal(places.map(row).collect()))
    }

    /// Returns the average number of scores until either of two mirrored charts signals, both started at
    /// `head_start` (van Dobben de Bruyn 1968; Lucas and Crosier 1982, Technometrics 24:199-205).
    ///
    /// Their formula holds where the other chart is back at zero whenever one signals: for a reference of 0 or more,
    /// and a head start of at most half the limit and the reference together.
    ///
    /// # Errors
    /// As [`Self::run_length`], and where the formula does not hold.
    pub fn run_length_two_sided(&self, mean: f64, head_start: f64) -> Result<f64, CompetenceError> {
        if self.reference < 0.0 {
            return Err(CompetenceError::Limit(self.reference));
        }
        if head_start > self.limit / 2.0 + self.reference {
            return Err(CompetenceError::Limit(head_start));
        }
        let (up, down) = (self.run_length(mean, 0.0)?, self.run_length(-mean, 0.0)?);
        if head_start == 0.0 {
            return Ok(1.0 / (1.0 / up + 1.0 / down));
        }
        let (up_start, down_start) = (self.run_length(mean, head_start)?, self.run_length(-mean, head_start)?);
        // Divided through by `up` or `down`, so that a run length without end on one side is no trouble.
        let ((larger, larger_start), (smaller, smaller_start)) =
            if up >= down { ((up, up_start), (down, down_start)) } else { ((down, down_start), (up, up_start)) };
        if smaller.is_infinite() {
            return Ok(f64::INFINITY);
        }
        let share = if larger.is_finite() { larger_start / larger } else { 1.0 };
        Ok((share * smaller + smaller_start - smaller) / (1.0 + smaller / larger))
    }

    /// Returns the run length by the Markov chain of Brook and Evans with `states` values (2 to 400) of the
    /// chart, from zero: width w = 2h/(2t - 1), the first state up to w/2, the others centred at j w.
    ///
    /// # Errors
    /// When the number of states is out of range or the mean not finite.
    pub fn run_length_by_chain(&self, mean: f64, states: u32) -> Result<f64, CompetenceError> {
        if !(2..=400).contains(&states) {
            return Err(CompetenceError::Services(states));
        }
        if !mean.is_finite() {
            return Err(CompetenceError::Limit(mean));
        }
        let drift = mean - self.reference;
        let width = 2.0 * self.limit / (2.0 * f64::from(states) - 1.0);
        let row = |from: u32| {
            let edge = |to: u32| (f64::from(to) - f64::from(from) + 0.5) * width - drift;
            let lower = |to: u32| if to == 0 { 0.0 } else { below(edge(to) - width) };
            let moves = (0..states).map(|to| (below(edge(to)) - lower(to)).max(0.0)).collect();
            State { moves, signal: below(-edge(states - 1)), scores: 1.0 }
        };
        Ok(until_signal((0..states).map(row).collect()))
    }

    /// Returns the limit with which the average run length from zero at mean 0 is `length`.
    ///
    /// # Errors
    /// When the length is not above that of the lowest limit, or beyond that of [`HIGHEST_LIMIT`].
    pub fn limit_for(reference: f64, length: f64) -> Result<f64, CompetenceError> {
        if !length.is_finite() || length > 1e12 {
            return Err(CompetenceError::Limit(length));
        }
        let long_enough = |limit: f64| -> Result<bool, CompetenceError> {
            Ok(Self::new(reference, limit)?.run_length(0.0, 0.0)? >= length)
        };
        let (mut low, mut high) = (1e-9, 1.0);
        if long_enough(low)? {
            return Err(CompetenceError::Limit(length));
        }
        while !long_enough(high)? {
            if high >= HIGHEST_LIMIT {
                return Err(CompetenceError::Limit(length));
            }
            (low, high) = (high, (high + 1.0).min(HIGHEST_LIMIT));
        }
        for _ in 0..60 {
            let middle = low + (high - low) / 2.0;
            if long_enough(middle)? { high = middle } else { low = middle }
        }
        Ok(low + (high - low) / 2.0)
    }

    /// Returns the chance of a signal at exactly each of a run of scores with these means, from zero, by the
    /// same quadrature carried forward; absolute error below 1e-9.
    ///
    /// # Errors
    /// When a mean is not finite or the run is longer than [`MOST_SERVICES`].
    pub fn signals(&self, means: &[f64]) -> Result<Vec<f64>, CompetenceError> {
        self.signals_with(means, &nodes(self.limit))
    }

    fn signals_with(&self, means: &[f64], nodes: &[(f64, f64)]) -> Result<Vec<f64>, CompetenceError> {
        let scores = u32::try_from(means.len()).unwrap_or(u32::MAX);
        if scores > MOST_SERVICES {
            return Err(CompetenceError::Services(scores));
        }
        if let Some(mean) = means.iter().find(|mean| !mean.is_finite()) {
            return Err(CompetenceError::Limit(*mean));
        }
        let mut signals = Vec::with_capacity(means.len());
        let (mut at_zero, mut densities) = (1.0_f64, vec![0.0_f64; nodes.len()]);
        // The kernel depends on the mean alone: worked out again only when that changes.
        let mut kernel: Option<(f64, Vec<Vec<f64>>)> = None;
        for mean in means {
            let drift = mean - self.reference;
            let rows = match kernel.take().filter(|(known, _)| known == mean) {
                Some((_, rows)) => rows,
                None => {
                    let row =
                        |to: &(f64, f64)| nodes.iter().map(|(from, w)| w * density(to.0 - from - drift)).collect();
                    nodes.iter().map(row).collect()
                }
            };
            let weighted = |chance: &dyn Fn(f64) -> f64| -> f64 {
                let spread = nodes.iter().zip(&densities).map(|((from, w), density)| w * density * chance(*from));
                at_zero * chance(0.0) + spread.sum::<f64>()
            };
            signals.push(weighted(&|from| below(from + drift - self.limit)));
            let zero = weighted(&|from| below(-from - drift));
            let next = rows.iter().zip(nodes).map(|(row, (to, _))| {
                let spread: f64 = row.iter().zip(&densities).map(|(kernel, density)| kernel * density).sum();
                at_zero * density(to - drift) + spread
            });
            let next: Vec<f64> = next.collect();
            (at_zero, densities) = (zero, next);
            kernel = Some((*mean, rows));
        }
        Ok(signals)
    }
}

/// A value of the chart: chance of moving to each value, chance of a signal, scores spent.
struct State {
    moves: Vec<f64>,
    signal: f64,
    scores: f64,
}

/// Returns the mean number of scores from the first state to a signal, by taking the states out one by one
/// from the last (Grassmann, Taksar and Heyman 1985, Operations Research 33:1107-1116): nothing is ever
/// subtracted, so that run lengths of any size keep their digits. One beyond the largest number is infinite.
fn until_signal(mut states: Vec<State>) -> f64 {
    while let Some(taken) = states.pop() {
        let others: f64 = taken.moves.iter().take(states.len()).sum();
        let leaves = others + taken.signal;
        if states.is_empty() || leaves <= 0.0 {
            return if taken.signal > 0.0 { taken.scores / taken.signal } else { f64::INFINITY };
        }
        let place = states.len();
        for state in &mut states {
            let share = state.moves.get(place).copied().unwrap_or_default() / leaves;
            if share > 0.0 {
                state.moves.iter_mut().zip(&taken.moves).take(place).for_each(|(to, more)| *to += share * more);
                state.signal += share * taken.signal;
                state.scores += share * taken.scores;
                // A value that is reached and next to never left: nothing finite can be said from here on.
                if !(share.is_finite() && state.signal.is_finite() && state.scores.is_finite()) {
                    return f64::INFINITY;
                }
            }
        }
    }
    f64::INFINITY
}

fn density(z: f64) -> f64 {
    (-z * z / 2.0).exp() / std::f64::consts::TAU.sqrt()
}

/// The chance of a standard normal value below `z`.
fn below(z: f64) -> f64 {
    normal::above(-z)
}

/// Places and weights of a Gauss-Legendre rule from 0 to `limit`, about six places for each spread.
fn nodes(limit: f64) -> Vec<(f64, f64)> {
    let wanted = 24.0 + 6.0 * limit;
    let count = (24..=512_u32).find(|count| f64::from(*count) >= wanted).unwrap_or(512);
    gauss_legendre(count, limit)
}

/// Returns the Gauss-Legendre rule of `count` places from 0 to `limit`: zeros of the Legendre polynomial by
/// Newton's method from the usual cosine guess (Press et al., Numerical Recipes, section 4.6).
fn gauss_legendre(count: u32, limit: f64) -> Vec<(f64, f64)> {
    let n = f64::from(count);
    let place = |number: u32| {
        let mut x = (std::f64::consts::PI * (f64::from(number) + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..100 {
            let (mut before, mut value) = (0.0, 1.0);
            for degree in 0..count {
                let j = f64::from(degree);
                (before, value) = (value, ((2.0 * j + 1.0) * x * value - j * before) / (j + 1.0));
            }
            slope = n * (x * value - before) / (x * x - 1.0);
            let step = value / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        (limit * (1.0 - x) / 2.0, limit / ((1.0 - x * x) * slope * slope))
    };
    (0..count).map(place).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quadrature_of_twice_the_places_changes_nothing() {
        for (reference, limit) in [(0.5, 4.0), (0.1, 9.0), (0.75, 2.0), (0.01, 20.0)] {
            let chart = NormalCusum::new(reference, limit).unwrap();
            let means = vec![0.3; 60];
            let once: f64 = chart.signals(&means).unwrap().iter().sum();
            let nodes = gauss_legendre(2 * u32::try_from(nodes(limit).len()).unwrap(), limit);
            let twice: f64 = chart.signals_with(&means, &nodes).unwrap().iter().sum();
            assert!((once - twice).abs() < 1e-9, "{reference} {limit}: {once} {twice}");
        }
    }

    #[test]
    fn the_rule_integrates_a_polynomial() {
        let sum: f64 = gauss_legendre(7, 2.0).iter().map(|(x, w)| w * x.powi(13)).sum();
        assert!((sum - 2.0_f64.powi(14) / 14.0).abs() < 1e-9, "{sum}");
    }

    #[test]
    fn run_lengths_follow_from_the_chances_of_a_signal() {
        // The mean of the first signal, summed until next to nothing is left.
        let chart = NormalCusum::new(0.5, 2.0).unwrap();
        let signals = chart.signals(&vec![0.5; 400]).unwrap();
        let mean: f64 = signals.iter().zip(1_u32..).map(|(chance, at)| chance * f64::from(at)).sum();
        assert!((mean - chart.run_length(0.5, 0.0).unwrap()).abs() < 1e-6, "{mean}");
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        for (reference, limit) in
            [(f64::NAN, 4.0), (0.5, 0.0), (0.5, -1.0), (0.5, f64::NAN), (0.5, f64::INFINITY), (f64::INFINITY, 4.0)]
        {
            assert!(NormalCusum::new(reference, limit).is_err(), "{reference} {limit}");
        }
        let chart = NormalCusum::new(0.5, 4.0).unwrap();
        assert!(chart.run_length(f64::NAN, 0.0).is_err());
        assert!(chart.run_length(0.0, 5.0).is_err());
        assert!(chart.run_length(0.0, f64::NAN).is_err());
        assert!(chart.run_length_by_chain(0.0, 1).is_err());
        assert!(chart.run_length_by_chain(f64::INFINITY, 10).is_err());
        assert!(chart.signals(&[f64::NAN]).is_err());
        assert!(NormalCusum::limit_for(0.5, f64::INFINITY).is_err());
        assert!(NormalCusum::limit_for(0.5, 0.5).is_err());
        assert_eq!(chart.run_length(-1e9, 0.0), Ok(f64::INFINITY));
        assert_eq!(chart.run_length_two_sided(0.0, 2.5).map(|length| length > 1.0), Ok(true));
        let far = NormalCusum::new(27.827094733278628, 3.0).unwrap();
        for mean in [-7.0, 7.0] {
            assert!(far.run_length(mean, 0.0).unwrap() > 1e100, "beyond all numbers, and a number");
        }
        assert!(far.run_length_two_sided(7.0, 0.0).unwrap() > 1e100);
        // Both charts may be above zero when one signals: the formula would give a length below zero.
        assert!(chart.run_length_two_sided(0.0, 4.0).is_err());
        assert!(NormalCusum::new(-0.5, 4.0).unwrap().run_length_two_sided(0.0, 0.0).is_err());
        assert!((chart.run_length_two_sided(1e9, 2.0).unwrap() - 1.0).abs() < 1e-12);
        assert!((chart.run_length(1e9, 0.0).unwrap() - 1.0).abs() < 1e-12);
    }
}
