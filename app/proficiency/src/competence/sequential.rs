//! Wald's sequential test of a failure rate, cut off after a number of services; exact.
//!
//! Wald (1947), Sequential Analysis. The log-likelihood ratio of the unacceptable against the acceptable rate
//! is summed without ever being reset; at or below the lower bound the acceptable rate is accepted (a pass),
//! at or above the upper one it is rejected.

use super::course::{Bounds, Course};
use super::{CompetenceError, MOST_SERVICES, Rates, chance, check_path, steady};

/// How far short of a bound a sum counts as having reached it: rounding.
const REACHED: f64 = 1e-12;

/// A sequential test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sequential {
    rates: Rates,
    reject: f64,
    accept: f64,
}

impl Sequential {
    /// Returns the test with Wald's bounds: `alpha` the chance of rejecting the acceptable rate, `beta` that
    /// of passing the unacceptable one, as far as Wald's approximation goes.
    ///
    /// # Errors
    /// When the acceptable rate is 0, or the chances do not lie between 0 and 1 and together below 1.
    pub fn wald(rates: Rates, alpha: f64, beta: f64) -> Result<Self, CompetenceError> {
        let (alpha, beta) = (chance(alpha)?, chance(beta)?);
        if alpha + beta >= 1.0 {
            return Err(CompetenceError::Chance(alpha + beta));
        }
        Self::new(rates, ((1.0 - beta) / alpha).ln(), (beta / (1.0 - alpha)).ln())
    }

    fn new(rates: Rates, reject: f64, accept: f64) -> Result<Self, CompetenceError> {
        if rates.acceptable() <= 0.0 {
            return Err(CompetenceError::Chance(rates.acceptable()));
        }
        Ok(Self { rates, reject, accept })
    }

    /// Returns the test cut off after `horizon` services whose chance of a false pass within them is, exactly,
    /// at most `alpha`, with Wald's upper bound for a chance `risk` of rejecting the acceptable rate.
    ///
    /// # Errors
    /// As [`Self::wald`]; also when the horizon is out of range or too short.
    pub fn calibrated(rates: Rates, horizon: u32, alpha: f64, risk: f64) -> Result<Self, CompetenceError> {
        let wald = Self::wald(rates, risk, alpha)?;
        let bad = steady(rates.unacceptable(), horizon)?;
        let needed = rates.fewest_services(alpha).ok_or(CompetenceError::Services(horizon))?;
        if needed > horizon {
            return Err(CompetenceError::TooFewServices { services: horizon, alpha, needed });
        }
        let (mut low, mut high) = (0.0, -wald.pass_score() * f64::from(horizon));
        for _ in 0..60 {
            let middle = low + (high - low) / 2.0;
            if Self::new(rates, wald.reject, -middle)?.course(&bad)?.passes() <= alpha {
                high = middle;
            } else {
                low = middle;
            }
        }
        let found = Self::new(rates, wald.reject, -high)?;
        Self::new(rates, wald.reject, found.apart_from_sums(horizon))
    }

    /// Returns a lower bound that decides as this one does over so many services, and lies so far from every sum
    /// there can be that the rounding of a sum does not matter.
    fn apart_from_sums(&self, horizon: u32) -> f64 {
        let (mut passing, mut next) = (f64::NEG_INFINITY, f64::INFINITY);
        for services in 1..=horizon.min(MOST_SERVICES) {
            for failures in 0..=services {
                let sum = self.sum(services, failures);
                if sum <= self.accept + REACHED {
                    passing = passing.max(sum);
                } else {
                    next = next.min(sum);
                }
            }
        }
        if passing.is_finite() && next.is_finite() {
            (passing + 1e-6).min(passing + (next - passing) / 2.0)
        } else {
            self.accept
        }
    }

    /// The sum after so many services with so many failures, at most as many.
    fn sum(&self, services: u32, failures: u32) -> f64 {
        f64::from(failures) * self.fail_score() + f64::from(services.saturating_sub(failures)) * self.pass_score()
    }

    /// Returns the rates it tells apart.
    pub fn rates(&self) -> Rates {
        self.rates
    }

    /// Returns the upper bound, at which it rejects.
    pub fn reject_bound(&self) -> f64 {
        self.reject
    }

    /// Returns the lower bound, at which it passes.
    pub fn pass_bound(&self) -> f64 {
        self.accept
    }

    /// Returns what a failure adds: ln(p1/p0).
    pub fn fail_score(&self) -> f64 {
        (self.rates.unacceptable() / self.rates.acceptable()).ln()
    }

    /// Returns what a pass adds, below zero: ln((1 - p1)/(1 - p0)).
    pub fn pass_score(&self) -> f64 {
        ((1.0 - self.rates.unacceptable()) / (1.0 - self.rates.acceptable())).ln()
    }

    /// Returns the failures that end the test after `services` services (at most
    /// [`MOST_SERVICES`]), had it gone on until then.
    pub fn bounds(&self, services: u32) -> Bounds {
        let services = services.min(MOST_SERVICES);
        let sum = |failures: &u32| self.sum(services, *failures);
        Bounds {
            pass_at_most: (0..=services).rev().find(|failures| sum(failures) <= self.accept + REACHED),
            reject_at_least: (0..=services).find(|failures| sum(failures) >= self.reject - REACHED),
        }
    }

    /// Returns what happens over a run of services, each with its own failure rate (0 to 1); exact.
    ///
    /// # Errors
    /// When a rate is no chance or the run is longer than [`MOST_SERVICES`].
    pub fn course(&self, path: &[f64]) -> Result<Course, CompetenceError> {
        check_path(path)?;
        Ok(Course::by_failures(path, |services| self.bounds(services)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn calibrated_bounds_keep_the_chance_they_promise() {
        let rates = Rates::new(0.4, 0.05).unwrap();
        let test = Sequential::calibrated(rates, 20, 0.1, 0.1).unwrap();
        let passes = |rate| test.course(&steady(rate, 20).unwrap()).unwrap().passes();
        assert!(passes(0.4) <= 0.1 && passes(0.05) > 0.8, "{} {}", passes(0.4), passes(0.05));
    }

    /// Sums added up one by one differ from products in their last digits: a bound must not lie on one.
    #[test]
    fn a_calibrated_bound_lies_apart_from_every_sum() {
        for (unacceptable, acceptable, horizon, alpha) in [(0.4, 0.05, 20, 0.1), (0.3, 0.1, 40, 0.05)] {
            let rates = Rates::new(unacceptable, acceptable).unwrap();
            let test = Sequential::calibrated(rates, horizon, alpha, alpha).unwrap();
            for services in 1..=horizon {
                for failures in 0..=services {
                    let apart = (test.sum(services, failures) - test.pass_bound()).abs();
                    assert!(apart > 1e-8, "{services} {failures}: {apart:e}");
                }
            }
        }
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        let rates = Rates::new(0.4, 0.05).unwrap();
        assert!(Sequential::wald(Rates::new(0.4, 0.0).unwrap(), 0.1, 0.1).is_err());
        assert!(Sequential::wald(rates, 0.5, 0.5).is_err());
        assert!(Sequential::wald(rates, f64::NAN, 0.1).is_err());
        assert!(Sequential::calibrated(rates, 3, 0.1, 0.1).is_err());
        assert!(Sequential::wald(rates, 0.1, 0.1).unwrap().course(&[2.0]).is_err());
        let huge = Sequential::wald(rates, 0.1, 0.1).unwrap().bounds(u32::MAX);
        assert!(huge.pass_at_most.is_some());
    }
}
