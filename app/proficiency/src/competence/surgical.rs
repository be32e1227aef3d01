//! The standard competency CUSUM: an unreset chart with two limits, after Wald's sequential test.
//!
//! Bolsin and Colson (2000), International Journal for Quality in Health Care 12:433-438. It is here to be
//! compared with, not to decide: it rejects learners for the failures they began with.

use super::{CompetenceError, chance};

/// The parameters of a chart, under the names of the source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurgicalCusum {
    /// ln(p1/p0).
    pub p: f64,
    /// ln((1 - p0)/(1 - p1)).
    pub q: f64,
    /// What is taken off for each service: Q/(P + Q).
    pub s: f64,
    /// ln((1 - beta)/alpha).
    pub a: f64,
    /// ln((1 - alpha)/beta).
    pub b: f64,
    /// Distance of the lower limit: b/(P + Q).
    pub h0: f64,
    /// Distance of the upper limit: a/(P + Q).
    pub h1: f64,
}

/// Which limit a chart reaches first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crossing {
    /// The lower: the acceptable rate is accepted, at this service counted from 1.
    Competent(usize),
    /// The upper: the unacceptable rate is accepted, at this service counted from 1.
    Unacceptable(usize),
}

impl SurgicalCusum {
    /// Returns the chart for an acceptable failure rate `p0`, an unacceptable one `p1`, the chance `alpha` of
    /// calling p0 unacceptable and the chance `beta` of calling p1 acceptable.
    ///
    /// # Errors
    /// Unless 0 < p0 < p1 < 1, and both chances lie between 0 and 1 and together below 1.
    pub fn new(p0: f64, p1: f64, alpha: f64, beta: f64) -> Result<Self, CompetenceError> {
        if !(0.0 < p0 && p0 < p1 && p1 < 1.0) {
            return Err(CompetenceError::Rates { unacceptable: p1, acceptable: p0 });
        }
        let (alpha, beta) = (chance(alpha)?, chance(beta)?);
        if alpha + beta >= 1.0 {
            return Err(CompetenceError::Chance(alpha + beta));
        }
        let (p, q) = ((p1 / p0).ln(), ((1.0 - p0) / (1.0 - p1)).ln());
        let (a, b) = (((1.0 - beta) / alpha).ln(), ((1.0 - alpha) / beta).ln());
        Ok(Self { p, q, s: q / (p + q), a, b, h0: b / (p + q), h1: a / (p + q) })
    }

    /// Returns the chart after each service; `true` is a failure.
    pub fn path(&self, failures: &[bool]) -> Vec<f64> {
        let mut value = 0.0;
        let next = |failed: &bool| {
            value += if *failed { 1.0 } else { 0.0 } - self.s;
            value
        };
        failures.iter().map(next).collect()
    }

    /// Returns the first limit reached.
    pub fn first_crossing(&self, failures: &[bool]) -> Option<Crossing> {
        const ROUNDING: f64 = 1e-12;
        self.path(failures).iter().zip(1..).find_map(|(value, service)| {
            if *value <= -self.h0 + ROUNDING {
                Some(Crossing::Competent(service))
            } else if *value >= self.h1 - ROUNDING {
                Some(Crossing::Unacceptable(service))
            } else {
                None
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn early_failures_and_long_clean_runs_cross() {
        let chart = SurgicalCusum::new(0.1, 0.2, 0.1, 0.1).unwrap();
        assert_eq!(chart.first_crossing(&[true; 5]), Some(Crossing::Unacceptable(4)));
        assert_eq!(chart.first_crossing(&[false; 30]), Some(Crossing::Competent(19)));
        assert_eq!(chart.first_crossing(&[]), None);
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        for (p0, p1, alpha, beta) in [
            (0.2, 0.1, 0.1, 0.1),
            (0.0, 0.1, 0.1, 0.1),
            (0.1, 0.2, 0.0, 0.1),
            (0.1, 0.2, 0.6, 0.6),
            (0.1, f64::NAN, 0.1, 0.1),
            (0.1, 0.2, f64::NAN, 0.1),
        ] {
            assert!(SurgicalCusum::new(p0, p1, alpha, beta).is_err());
        }
    }
}
