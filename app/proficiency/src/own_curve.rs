//! The learning curve of one trainee alone: a straight line through the logarithms.
//!
//! ln time = ln first + exponent * ln n, by least squares. Intervals: Draper and Smith (1998), Applied
//! Regression Analysis, chapter 3. Service at which a target is met: Fieller (1954), Journal of the Royal
//! Statistical Society B 16:175-185.

use crate::distribution;
use crate::linear::{self, Intercept, Prediction};

/// Why one trainee's services carry no curve.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// A service number or a time is not above 0 or not finite.
    #[error("service {place} has a number or a time that is not above 0")]
    NotPositive {
        /// Place of the service in the list, from 0.
        place: usize,
    },
    /// The line cannot be laid: fewer than 3 services, or all with the same number.
    #[error(transparent)]
    Line(#[from] linear::Error),
}

/// A power law fitted to one trainee's services.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnCurve {
    /// The line through the logarithms: intercept ln first, slope the exponent.
    pub line: linear::Fit,
}

/// Fits the curve to pairs of service number (from 1) and time (above 0, any unit).
///
/// # Errors
/// When a number or a time is not above 0, with fewer than 3 services, or when all have the same number.
pub fn fit(services: &[(f64, f64)]) -> Result<OwnCurve, Error> {
    let sound = |value: f64| value.is_finite() && value > 0.0;
    if let Some(place) = services.iter().position(|(n, time)| !sound(*n) || !sound(*time)) {
        return Err(Error::NotPositive { place });
    }
    let numbers: Vec<f64> = services.iter().map(|(n, _)| n.ln()).collect();
    let times: Vec<f64> = services.iter().map(|(_, time)| time.ln()).collect();
    Ok(OwnCurve { line: linear::fit(&[numbers], &times, Intercept::Free)? })
}

impl OwnCurve {
    /// Returns the logarithm of the time of the first service.
    pub fn ln_first(&self) -> f64 {
        self.line.coefficients.first().copied().unwrap_or(f64::NAN)
    }

    /// Returns the exponent, below 0 when times fall.
    pub fn exponent(&self) -> f64 {
        self.line.coefficients.get(1).copied().unwrap_or(f64::NAN)
    }

    /// Returns the logarithm of the time of service `n` (above 0) with its errors; `exp` of the mean is the
    /// median time, not the mean time.
    pub fn ln_time(&self, n: f64) -> Option<Prediction> {
        if n.is_nan() || n <= 0.0 {
            return None;
        }
        self.line.predict(&[1.0, n.ln()])
    }

    /// Returns the interval of the median time of service `n`; `level` is a confidence level, 0 to 1.
    pub fn median_interval(&self, n: f64, level: f64) -> Option<(f64, f64)> {
        exponentials(self.ln_time(n)?.interval_of_mean(level)?)
    }

    /// Returns the interval of the time of one service with number `n`; `level` as above.
    pub fn single_interval(&self, n: f64, level: f64) -> Option<(f64, f64)> {
        exponentials(self.ln_time(n)?.interval_of_single(level)?)
    }

    /// Returns the chance that one service with number `n` takes at most `target` (above 0), 0 to 1.
    pub fn chance_within(&self, n: f64, target: f64) -> Option<f64> {
        if target.is_nan() || target <= 0.0 {
            return None;
        }
        let at = self.ln_time(n)?;
        let room = target.ln() - at.mean;
        // Without any scatter the line itself is the time.
        let t = if room == 0.0 { 0.0 } else { room / at.se_single };
        distribution::t_below(t, at.degrees_of_freedom as f64)
    }

    /// Returns the service, whole or not, at which the median time is down at `target`; `None` when times do
    /// not fall: not reached on the present trend.
    pub fn reaches(&self, target: f64) -> Option<f64> {
        if !(target > 0.0 && self.exponent() < 0.0) {
            return None;
        }
        let n = ((target.ln() - self.ln_first()) / self.exponent()).exp();
        n.is_finite().then_some(n)
    }

    /// Returns the Fieller interval of the service at which the line meets `target`; `level` as above.
    ///
    /// `None` when the exponent is not told from 0 at this level: then no finite interval exists and none may
    /// be shown. Where times rise, the line met the target in the past; ask [`Self::reaches`] first.
    pub fn meets_interval(&self, target: f64, level: f64) -> Option<(f64, f64)> {
        if !(target > 0.0 && level > 0.0 && level < 1.0) {
            return None;
        }
        let t = distribution::t_quantile(1.0 - (1.0 - level) / 2.0, self.line.degrees_of_freedom as f64)?;
        let [v00, v01, v11] = match self.line.covariance.as_slice() {
            [first, second] => [*first.first()?, *first.get(1)?, *second.get(1)?],
            _ => return None,
        };
        let (room, slope) = (self.ln_first() - target.ln(), self.exponent());
        // (room + slope u)^2 = t^2 (v00 + 2 u v01 + u^2 v11), u = ln n
        let square = slope * slope - t * t * v11;
        let half = room * slope - t * t * v01;
        let rest = room * room - t * t * v00;
        if square.is_nan() || square <= 0.0 {
            return None;
        }
        let root = (half * half - square * rest).max(0.0).sqrt();
        exponentials(((-half - root) / square, (-half + root) / square))
    }
}

fn exponentials((low, high): (f64, f64)) -> Option<(f64, f64)> {
    let (low, high) = (low.exp(), high.exp());
    (low.is_finite() && high.is_finite()).then_some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_little_carries_no_curve() {
        assert!(matches!(fit(&[]), Err(Error::Line(linear::Error::TooFew { points: 0, .. }))));
        assert!(matches!(fit(&[(1.0, 3000.0), (2.0, 2500.0)]), Err(Error::Line(linear::Error::TooFew { .. }))));
        let same = fit(&[(2.0, 3000.0), (2.0, 2500.0), (2.0, 2600.0)]);
        assert_eq!(same, Err(Error::Line(linear::Error::Dependent { column: 1 })));
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(fit(&[(1.0, 3000.0), (2.0, bad)]), Err(Error::NotPositive { place: 1 }));
            assert_eq!(fit(&[(bad, 3000.0)]), Err(Error::NotPositive { place: 0 }));
        }
    }

    #[test]
    fn equal_times_reach_nothing_lower() {
        let level = fit(&[(1.0, 60.0), (2.0, 60.0), (3.0, 60.0), (4.0, 60.0)]).unwrap();
        assert_eq!(level.exponent(), 0.0);
        assert_eq!((level.reaches(50.0), level.meets_interval(50.0, 0.95)), (None, None));
        assert_eq!((level.chance_within(5.0, 59.0), level.chance_within(5.0, 61.0)), (Some(0.0), Some(1.0)));
    }

    #[test]
    fn an_exact_power_law_has_an_interval_of_no_width() {
        let services: Vec<(f64, f64)> = (1..=8).map(|n| (f64::from(n), 4000.0 / f64::from(n).sqrt())).collect();
        let curve = fit(&services).unwrap();
        assert!((curve.reaches(1000.0).unwrap() - 16.0).abs() < 1e-9);
        let (low, high) = curve.meets_interval(1000.0, 0.95).unwrap();
        assert!((low - 16.0).abs() < 1e-6 && (high - 16.0).abs() < 1e-6);
    }
}
