//! Bookkeeping of a trial: assessors who err, second trials, services left unassessed, safety breaches.

use super::{CompetenceError, Rates};
use crate::special::beta_tails;

/// How often assessors are assumed to err: an assumption of the academy, never estimated here.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AssessorErrors {
    /// Chance that a service that is not acceptable is marked acceptable, 0 to 1.
    pub false_accept: f64,
    /// Chance that an acceptable service is marked not acceptable, 0 to 1.
    pub false_reject: f64,
}

impl AssessorErrors {
    /// Returns the failure rate that is seen when the true one is `rate`: rate (1 - a) + (1 - rate) r, with a
    /// the false-accept and r the false-reject chance (two-state misclassification).
    ///
    /// # Errors
    /// When the rate or an error is no chance.
    pub fn seen(&self, rate: f64) -> Result<f64, CompetenceError> {
        for value in [rate, self.false_accept, self.false_reject] {
            if !(0.0..=1.0).contains(&value) {
                return Err(CompetenceError::Chance(value));
            }
        }
        Ok(rate * (1.0 - self.false_accept) + (1.0 - rate) * self.false_reject)
    }

    /// Returns the rates as they are seen: a rule calibrated to them keeps its false-pass chance if assessors
    /// err so often.
    ///
    /// # Errors
    /// When an error is no chance, or assessors err so often that the rates cannot be told apart.
    pub fn rates(&self, rates: Rates) -> Result<Rates, CompetenceError> {
        Rates::new(self.seen(rates.unacceptable())?, self.seen(rates.acceptable())?)
    }
}

/// Returns the chance that at least one of several trials passes falsely, each with its own false-pass
/// chance (0 to 1) and all independent: 1 - product of (1 - chance); 0 without trials.
///
/// # Errors
/// When one is no chance.
pub fn combined(false_passes: &[f64]) -> Result<f64, CompetenceError> {
    let mut none = 1.0;
    for chance in false_passes {
        if !(0.0..=1.0).contains(chance) {
            return Err(CompetenceError::Chance(*chance));
        }
        none *= 1.0 - chance;
    }
    Ok(1.0 - none)
}

/// Whether so many services of a trial were left unassessed that its error bound is withdrawn: strictly more
/// than a share (0 to 1) of all. A share that is no number withdraws it as soon as one is unassessed.
pub fn bound_withdrawn(unassessed: u32, services: u32, share: f64) -> bool {
    let allowed = share * f64::from(services) + 1e-9;
    unassessed > 0 && (allowed.is_nan() || f64::from(unassessed) > allowed)
}

/// Returns the chance of at most `hits` in `tries`, each with chance `rate`; `None` when that is no chance.
pub fn at_most(hits: u32, tries: u32, rate: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&rate) {
        return None;
    }
    if hits >= tries || rate == 0.0 {
        return Some(1.0);
    }
    if rate == 1.0 {
        return Some(0.0);
    }
    Some(beta_tails(f64::from(tries - hits), f64::from(hits) + 1.0, 1.0 - rate, rate)?.lower)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn assessor_errors_pull_the_rates_together() {
        let errors = AssessorErrors { false_accept: 0.2, false_reject: 0.05 };
        let seen = errors.rates(Rates::new(0.3, 0.1).unwrap()).unwrap();
        assert!((seen.unacceptable() - 0.275).abs() < 1e-12);
        assert!((seen.acceptable() - 0.125).abs() < 1e-12);
        let useless = AssessorErrors { false_accept: 0.5, false_reject: 0.5 };
        assert!(useless.rates(Rates::new(0.3, 0.1).unwrap()).is_err());
        assert!(AssessorErrors { false_accept: f64::NAN, ..errors }.seen(0.1).is_err());
    }

    #[test]
    fn a_second_trial_nearly_doubles_the_chance_of_a_false_pass() {
        assert!((combined(&[0.1, 0.1]).unwrap() - 0.19).abs() < 1e-15);
        assert_eq!(combined(&[]), Ok(0.0));
        assert!(combined(&[0.1, f64::NAN]).is_err());
    }

    #[test]
    fn one_in_five_unassessed_keeps_the_bound_and_one_more_loses_it() {
        assert!(!bound_withdrawn(4, 20, 0.2));
        assert!(bound_withdrawn(5, 20, 0.2));
        assert!(!bound_withdrawn(1, 5, 0.2));
        assert!(bound_withdrawn(1, 4, 0.2));
        assert!(!bound_withdrawn(0, 0, 0.2));
        assert!(bound_withdrawn(1, 20, f64::NAN));
    }

    #[test]
    fn counts_of_any_size_have_a_chance() {
        assert_eq!(at_most(u32::MAX, u32::MAX, 0.5), Some(1.0));
        assert!(at_most(0, u32::MAX, 1e-9).is_some());
        assert_eq!(at_most(0, 5, f64::NAN), None);
        // 3 in 5 or fewer at one half: 26/32.
        assert!((at_most(3, 5, 0.5).unwrap() - 26.0 / 32.0).abs() < 1e-14);
    }
}
