//! Whether a series of single values stays as it was: the chart of individuals and moving ranges, and the
//! Western Electric run rules.
//!
//! Chart: Shewhart (1931); constants for moving ranges of two: NIST/SEMATECH e-Handbook, section 6.3.2.2.
//! Rules: Western Electric (1956), Statistical Quality Control Handbook.
//!
//! Feed standardised residuals of a fit rather than raw times, which fall as people learn, and never a series
//! that runs across a change of plan.

use crate::middle;

/// Why there is no chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// Fewer than 2 values to take limits from.
    #[error("limits need at least 2 values")]
    TooFew,
    /// A value is not finite or too large.
    #[error("value {place} is not finite or too large")]
    NotFinite {
        /// Place of the value, from 0.
        place: usize,
    },
}

/// Which constants turn the mean moving range into limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Constants {
    /// To the last digit: 2/sqrt(pi) and 1 + 3 sqrt(2 - 4/pi) / (2/sqrt(pi)).
    Exact,
    /// As printed in tables: 1.128 and 3.267.
    Printed,
}

impl Constants {
    /// Returns the mean range of two standard normal values (d2).
    pub fn mean_range(self) -> f64 {
        match self {
            Self::Exact => std::f64::consts::FRAC_2_SQRT_PI,
            Self::Printed => 1.128,
        }
    }

    /// Returns the upper limit of a moving range in mean moving ranges (D4).
    pub fn range_limit(self) -> f64 {
        match self {
            Self::Exact => 1.0 + 3.0 * (2.0 - 4.0 / std::f64::consts::PI).sqrt() / self.mean_range(),
            Self::Printed => 3.267,
        }
    }
}

/// Centre and limits of a chart, in the unit of the values.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Mean of the values.
    pub mean: f64,
    /// Distances between neighbours, at least 0, one fewer than values.
    pub moving_ranges: Vec<f64>,
    /// Mean of the distances.
    pub mean_range: f64,
    /// Median of the distances.
    pub median_range: f64,
    /// Standard deviation that the distances speak of; 0 when all values are the same.
    pub sigma: f64,
    /// Mean plus 3 sigma.
    pub upper: f64,
    /// Mean less 3 sigma.
    pub lower: f64,
    /// Upper limit of a moving range.
    pub range_upper: f64,
}

/// Takes limits from `values` in their order.
///
/// # Errors
/// With fewer than 2 values, or when one is not finite.
pub fn limits(values: &[f64], constants: Constants) -> Result<Limits, Error> {
    if let Some(place) = values.iter().position(|value| !value.is_finite() || value.abs() > 1e300) {
        return Err(Error::NotFinite { place });
    }
    if values.len() < 2 {
        return Err(Error::TooFew);
    }
    let mean = values.iter().map(|value| value / values.len() as f64).sum::<f64>();
    // Divided at the end where that cannot overflow: it keeps the last digit.
    let whole = values.iter().sum::<f64>();
    let mean = if whole.is_finite() { whole / values.len() as f64 } else { mean };
    let moving_ranges: Vec<f64> =
        values.iter().zip(values.iter().skip(1)).map(|(one, next)| (next - one).abs()).collect();
    let total = moving_ranges.iter().sum::<f64>();
    if !total.is_finite() {
        return Err(Error::NotFinite { place: 0 });
    }
    let mean_range = total / moving_ranges.len() as f64;
    let median_range = middle::median(&moving_ranges).unwrap_or(0.0);
    let sigma = mean_range / constants.mean_range();
    Ok(Limits {
        mean,
        mean_range,
        median_range,
        sigma,
        upper: mean + 3.0 * sigma,
        lower: mean - 3.0 * sigma,
        range_upper: constants.range_limit() * mean_range,
        moving_ranges,
    })
}

/// Places of the values, from 0, at which each rule speaks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Signals {
    /// Rule 1: beyond 3 sigma.
    pub beyond_three: Vec<usize>,
    /// Rule 2: beyond 2 sigma, and so are at least 2 of the last 3 on the same side.
    pub two_of_three: Vec<usize>,
    /// Rule 3: beyond 1 sigma, and so are at least 4 of the last 5 on the same side.
    pub four_of_five: Vec<usize>,
    /// Rule 4: the last 8 on the same side of the centre.
    pub eight_in_a_row: Vec<usize>,
}

impl Signals {
    /// Returns whether no rule speaks.
    pub fn is_empty(&self) -> bool {
        [&self.beyond_three, &self.two_of_three, &self.four_of_five, &self.eight_in_a_row]
            .iter()
            .all(|all| all.is_empty())
    }
}

/// Applies the run rules to `values` against a centre and a standard deviation (0 or more).
///
/// A value that is not finite counts as on the centre and so breaks every run. With a `sigma` of 0 each value
/// off the centre lies beyond every limit.
pub fn signals(values: &[f64], centre: f64, sigma: f64) -> Signals {
    let distances: Vec<f64> = values
        .iter()
        .map(|value| if value.is_finite() && *value != centre { (value - centre) / sigma } else { 0.0 })
        .collect();
    // Whether at least `enough` of the last `window` values, the present one among them, lie beyond `limit` on
    // one side; a window at the start may be shorter.
    let run = |at: usize, window: usize, enough: usize, limit: f64| {
        [1.0, -1.0].into_iter().any(|side| {
            let last = || distances.iter().take(at + 1).rev();
            let beyond = |distance: &&f64| side * **distance > limit;
            last().take(1).any(|distance| beyond(&distance)) && last().take(window).filter(beyond).count() >= enough
        })
    };
    let places = |window, enough, limit| (0..distances.len()).filter(|at| run(*at, window, enough, limit)).collect();
    Signals {
        beyond_three: places(1, 1, 3.0),
        two_of_three: places(3, 2, 2.0),
        four_of_five: places(5, 4, 1.0),
        eight_in_a_row: places(8, 8, 0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_rule_speaks_at_its_place() {
        assert_eq!(signals(&[0.0, 3.1, 0.0, -3.5], 0.0, 1.0).beyond_three, [1, 3]);
        assert_eq!(signals(&[2.1, 0.0, 2.1, 2.1, -2.1, -2.1], 0.0, 1.0).two_of_three, [2, 3, 5]);
        assert_eq!(signals(&[1.1, 1.1, -1.1, 1.1, 1.1, 0.5], 0.0, 1.0).four_of_five, [4]);
        assert_eq!(signals(&[0.1; 9], 0.0, 1.0).eight_in_a_row, [7, 8]);
        assert_eq!(signals(&[3.0, 1.0, 2.0], 0.0, 1.0), Signals::default());
        assert!(signals(&[], 0.0, 1.0).is_empty());
    }

    #[test]
    fn a_value_on_the_centre_or_missing_breaks_a_run() {
        for gap in [0.0, f64::NAN, f64::INFINITY] {
            let mut values = vec![0.1; 12];
            values[5] = gap;
            assert!(signals(&values, 0.0, 1.0).is_empty(), "{gap}");
        }
    }

    #[test]
    fn without_spread_whatever_differs_is_beyond() {
        let level = limits(&[5.0; 6], Constants::Exact).unwrap();
        assert_eq!((level.sigma, level.upper, level.lower), (0.0, 5.0, 5.0));
        assert_eq!(signals(&[5.0, 5.1, 5.0], level.mean, level.sigma).beyond_three, [1]);
    }

    #[test]
    fn what_has_no_limits_is_refused() {
        assert_eq!(limits(&[], Constants::Exact), Err(Error::TooFew));
        assert_eq!(limits(&[1.0], Constants::Exact), Err(Error::TooFew));
        assert_eq!(limits(&[1.0, f64::NAN], Constants::Exact), Err(Error::NotFinite { place: 1 }));
        assert_eq!(limits(&[f64::MAX, 0.0], Constants::Exact), Err(Error::NotFinite { place: 0 }));
    }
}
