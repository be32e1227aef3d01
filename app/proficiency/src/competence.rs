//! Whether skill is demonstrated: decisions on a run of pass or fail, or of scores, with known error rates.
//!
//! A failure rate is the chance, 0 to 1, that a service is not acceptable. Everything here is worked out
//! exactly (to rounding) by following all that may happen service by service; where a number is only nearly
//! exact its function says how nearly. Chances are of what a rule does, never of what a trainee is: a run
//! that has not passed has *not demonstrated* skill, and says nothing more.
//!
//! Reading order: this file (rates and what is wrong with them), [`course`] (what a rule does over a run),
//! [`learning`] (the learning CUSUM on pass and fail), [`normal_chart`] and [`rubric`] (on a score),
//! [`rules`] and [`comparison`] (simpler rules, and which to choose), [`sequential`], [`surgical`],
//! [`monitor`] (after the pass), [`trial`] (bookkeeping).

pub mod comparison;
pub mod course;
pub mod learning;
pub mod monitor;
pub mod normal_chart;
pub mod rubric;
pub mod rules;
pub mod sequential;
pub mod surgical;
pub mod trial;

use thiserror::Error;

/// Most services that a rule is followed over.
pub const MOST_SERVICES: u32 = 1000;

/// Why nothing can be worked out.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum CompetenceError {
    /// Rates that do not tell acceptable from unacceptable.
    #[error(
        "an unacceptable failure rate of {unacceptable} must lie below 1 and above the acceptable one, {acceptable}, which is at least 0"
    )]
    Rates {
        /// Unacceptable failure rate given.
        unacceptable: f64,
        /// Acceptable failure rate given.
        acceptable: f64,
    },
    /// A chance outside 0 to 1, or at an end where that says nothing.
    #[error("{0} is not a chance that can be worked with")]
    Chance(f64),
    /// No services, or more than [`MOST_SERVICES`].
    #[error("{0} services cannot be followed")]
    Services(u32),
    /// Even an unbroken run is too likely at the unacceptable rate.
    #[error("within {services} services no rule keeps a false pass to {alpha}; it takes at least {needed}")]
    TooFewServices {
        /// Services given.
        services: u32,
        /// False-pass chance asked for.
        alpha: f64,
        /// Fewest services with which some rule can keep it.
        needed: u32,
    },
    /// A limit that no chart can have.
    #[error("{0} is not a limit that a chart can have")]
    Limit(f64),
    /// Scores that do not tell acceptable from unacceptable.
    #[error("a mean score of {acceptable} with a spread of {spread} cannot be told from {unacceptable}")]
    Scores {
        /// Unacceptable mean score given.
        unacceptable: f64,
        /// Acceptable mean score given.
        acceptable: f64,
        /// Standard deviation given.
        spread: f64,
    },
    /// A rule that would need more memory than it is worth.
    #[error("a rule over the last {window} services with {failures} failures is too large to be followed")]
    TooLarge {
        /// Length of its window.
        window: u32,
        /// Failures allowed in it.
        failures: u32,
    },
}

/// An unacceptable and an acceptable failure rate, told apart: 0 <= acceptable < unacceptable < 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    unacceptable: f64,
    acceptable: f64,
}

impl Rates {
    /// Checks two failure rates.
    ///
    /// # Errors
    /// When they do not lie in this order between 0 and 1, or are the same to nine digits.
    pub fn new(unacceptable: f64, acceptable: f64) -> Result<Self, CompetenceError> {
        let apart = 0.0 <= acceptable && acceptable + 1e-9 < unacceptable && unacceptable < 1.0;
        if apart {
            Ok(Self { unacceptable, acceptable })
        } else {
            Err(CompetenceError::Rates { unacceptable, acceptable })
        }
    }

    /// Returns the unacceptable failure rate.
    pub fn unacceptable(&self) -> f64 {
        self.unacceptable
    }

    /// Returns the acceptable failure rate.
    pub fn acceptable(&self) -> f64 {
        self.acceptable
    }

    /// Returns the fewest services with which any rule can keep the chance of a false pass to `alpha`: as
    /// many as an unbroken run at the unacceptable rate needs to be that rare.
    pub fn fewest_services(&self, alpha: f64) -> Option<u32> {
        chance(alpha).ok()?;
        let mut run = 1.0;
        (1..=MOST_SERVICES).find(|_| {
            run *= 1.0 - self.unacceptable;
            run <= alpha
        })
    }
}

/// Checks a chance strictly between 0 and 1.
fn chance(value: f64) -> Result<f64, CompetenceError> {
    if 0.0 < value && value < 1.0 { Ok(value) } else { Err(CompetenceError::Chance(value)) }
}

/// Checks a failure rate for each of a run of services.
fn check_path(path: &[f64]) -> Result<(), CompetenceError> {
    let length = u32::try_from(path.len()).unwrap_or(u32::MAX);
    if length > MOST_SERVICES {
        return Err(CompetenceError::Services(length));
    }
    match path.iter().find(|rate| !(0.0..=1.0).contains(*rate)) {
        Some(rate) => Err(CompetenceError::Chance(*rate)),
        None => Ok(()),
    }
}

/// Returns a run of services that all fail with the same chance.
///
/// # Errors
/// When the rate is no chance, or there are no services or more than [`MOST_SERVICES`].
pub fn steady(rate: f64, services: u32) -> Result<Vec<f64>, CompetenceError> {
    if services == 0 || services > MOST_SERVICES {
        return Err(CompetenceError::Services(services));
    }
    let path: Vec<f64> = (0..services).map(|_| rate).collect();
    check_path(&path)?;
    Ok(path)
}

/// Returns the run of a learner whose failure rate falls from `first` towards `last`, the distance shrinking
/// by a factor e every `pace` services.
///
/// # Errors
/// When a rate is no chance, the pace is not above zero, or there are no services or more than
/// [`MOST_SERVICES`].
pub fn learner(first: f64, last: f64, pace: f64, services: u32) -> Result<Vec<f64>, CompetenceError> {
    if services == 0 || services > MOST_SERVICES {
        return Err(CompetenceError::Services(services));
    }
    if pace.is_nan() || pace <= 0.0 {
        return Err(CompetenceError::Chance(pace));
    }
    let rate = |service: u32| last + (first - last) * (-f64::from(service) / pace).exp();
    let path: Vec<f64> = (0..services).map(rate).collect();
    check_path(&path)?;
    Ok(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_that_say_nothing_are_refused() {
        for (unacceptable, acceptable) in
            [(0.1, 0.1), (0.1, 0.3), (1.0, 0.1), (0.3, -0.1), (f64::NAN, 0.1), (0.3, f64::NAN), (f64::INFINITY, 0.0)]
        {
            assert!(Rates::new(unacceptable, acceptable).is_err(), "{unacceptable} {acceptable}");
        }
        assert!(Rates::new(0.3, 0.0).is_ok());
    }

    #[test]
    fn the_fewest_services_are_those_of_an_unbroken_run() {
        // .6^4 = .1296 and .6^5 = .0778.
        assert_eq!(Rates::new(0.4, 0.05).unwrap().fewest_services(0.1), Some(5));
        assert_eq!(Rates::new(1e-8, 0.0).unwrap().fewest_services(0.1), None);
        assert_eq!(Rates::new(0.4, 0.05).unwrap().fewest_services(f64::NAN), None);
    }

    #[test]
    fn runs_that_cannot_be_are_refused() {
        assert!(steady(0.1, 0).is_err());
        assert!(steady(0.1, MOST_SERVICES + 1).is_err());
        assert!(steady(f64::NAN, 5).is_err());
        assert!(learner(0.6, 0.05, 0.0, 5).is_err());
        assert!(learner(0.6, 0.05, f64::NAN, 5).is_err());
        assert!(learner(1.6, 0.05, 8.0, 5).is_err());
        assert_eq!(learner(0.6, 0.05, 8.0, 1).unwrap(), [0.6]);
    }
}
