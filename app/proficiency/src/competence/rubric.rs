//! The learning CUSUM on a score: rises with good scores and signals skill at its limit, for good.
//!
//! The score of a service is taken as normal with a known spread; a mean of whole marks is nearly so. Each
//! adds d (x - (u + a)/2)/s with d = (a - u)/s, u the unacceptable and a the acceptable mean score and s the
//! spread: the log-likelihood ratio, as in Biau and Porcher (2010), Statistics in Medicine 29:1900-1909, for a
//! normal outcome.

use super::normal_chart::{HIGHEST_LIMIT, NormalCusum};
use super::{CompetenceError, MOST_SERVICES, chance};

/// An unacceptable and an acceptable mean score, and the spread of a trainee's scores around their mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scores {
    unacceptable: f64,
    acceptable: f64,
    spread: f64,
}

/// A learning CUSUM on scores with its limit, in units of the log-likelihood ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoreCusum {
    scores: Scores,
    limit: f64,
}

/// A chart whose limit keeps the chance of a false pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibratedScores {
    /// The chart.
    pub chart: ScoreCusum,
    /// Most services.
    pub horizon: u32,
    /// Chance of a pass within the horizon at the unacceptable mean.
    pub false_pass: f64,
    /// Chance of a pass within the horizon at the acceptable mean.
    pub power: f64,
}

impl Scores {
    /// Checks two mean scores and a standard deviation.
    ///
    /// # Errors
    /// Unless the acceptable mean is the higher and lies between 1/100 and 100 standard deviations above.
    pub fn new(unacceptable: f64, acceptable: f64, spread: f64) -> Result<Self, CompetenceError> {
        let apart = (acceptable - unacceptable) / spread;
        if spread > 0.0 && (0.01..=100.0).contains(&apart) && unacceptable.is_finite() {
            Ok(Self { unacceptable, acceptable, spread })
        } else {
            Err(CompetenceError::Scores { unacceptable, acceptable, spread })
        }
    }

    /// Returns how many spreads the means lie apart.
    pub fn apart(&self) -> f64 {
        (self.acceptable - self.unacceptable) / self.spread
    }

    /// Returns the unacceptable mean score.
    pub fn unacceptable(&self) -> f64 {
        self.unacceptable
    }

    /// Returns the acceptable mean score.
    pub fn acceptable(&self) -> f64 {
        self.acceptable
    }

    /// Returns the mean score above the unacceptable one, in spreads.
    fn standardised(&self, mean: f64) -> f64 {
        (mean - self.unacceptable) / self.spread
    }
}

impl ScoreCusum {
    /// Returns a chart with a limit, in units of the log-likelihood ratio.
    ///
    /// # Errors
    /// When the limit is not above zero, or more than [`HIGHEST_LIMIT`] times the distance of the means.
    pub fn new(scores: Scores, limit: f64) -> Result<Self, CompetenceError> {
        NormalCusum::new(scores.apart() / 2.0, limit / scores.apart()).map_err(|_| CompetenceError::Limit(limit))?;
        Ok(Self { scores, limit })
    }

    /// Returns the limit.
    pub fn limit(&self) -> f64 {
        self.limit
    }

    /// Returns what a score adds; 0 for one that is no number.
    pub fn score(&self, score: f64) -> f64 {
        let middle = (self.scores.unacceptable + self.scores.acceptable) / 2.0;
        let adds = self.scores.apart() * (score - middle) / self.scores.spread;
        if adds.is_finite() { adds } else { 0.0 }
    }

    /// Returns the chart after each service.
    pub fn path(&self, scores: &[f64]) -> Vec<f64> {
        let mut value = 0.0_f64;
        let next = |score: &f64| {
            value = (value + self.score(*score)).max(0.0);
            value
        };
        scores.iter().map(next).collect()
    }

    /// Returns the service, counted from 1, at which the chart first reaches its limit: the pass stands from
    /// then on, whatever follows.
    pub fn first_signal(&self, scores: &[f64]) -> Option<usize> {
        let reached = self.limit - 1e-12;
        self.path(scores).iter().position(|value| *value >= reached).map(|at| at + 1)
    }

    /// Returns how many services with the best score there is reach the limit; `None` when none do within
    /// [`MOST_SERVICES`].
    pub fn shortest_run(&self, best_score: f64) -> Option<u32> {
        let step = self.score(best_score);
        (1..=MOST_SERVICES).find(|run| f64::from(*run) * step >= self.limit - 1e-12)
    }

    /// Returns the chance of a pass at exactly each service of a run with these mean scores; absolute error
    /// below 1e-9.
    ///
    /// # Errors
    /// When a mean is not finite or the run is longer than [`MOST_SERVICES`].
    pub fn signals(&self, means: &[f64]) -> Result<Vec<f64>, CompetenceError> {
        let apart = self.scores.apart();
        let means: Vec<f64> = means.iter().map(|mean| self.scores.standardised(*mean)).collect();
        NormalCusum::new(apart / 2.0, self.limit / apart)?.signals(&means)
    }

    /// Returns the chance of a pass within `horizon` services at one mean score.
    ///
    /// # Errors
    /// As [`Self::signals`].
    pub fn passes(&self, mean: f64, horizon: u32) -> Result<f64, CompetenceError> {
        let means: Vec<f64> = (0..horizon.min(MOST_SERVICES + 1)).map(|_| mean).collect();
        Ok(self.signals(&means)?.iter().sum::<f64>().clamp(0.0, 1.0))
    }
}

/// Returns the chart with the smallest limit at which the chance of a pass within `horizon` services, at the
/// unacceptable mean throughout, is `alpha` (to 1e-9); a limit next to nothing, and a smaller chance, when the
/// means lie so far apart that any rise of the chart is rarer.
///
/// # Errors
/// When `alpha` is not between 0 and 1, the horizon is 0 or above [`MOST_SERVICES`], or no limit is high
/// enough.
pub fn calibrate(scores: Scores, horizon: u32, alpha: f64) -> Result<CalibratedScores, CompetenceError> {
    chance(alpha)?;
    if horizon == 0 || horizon > MOST_SERVICES {
        return Err(CompetenceError::Services(horizon));
    }
    let apart = scores.apart();
    let passes = |limit: f64| ScoreCusum::new(scores, limit * apart)?.passes(scores.unacceptable, horizon);
    let (mut low, mut high) = (1e-9, 1.0_f64);
    if passes(low)? <= alpha {
        high = low;
    }
    while high > low && passes(high)? > alpha {
        if high >= HIGHEST_LIMIT {
            return Err(CompetenceError::Limit(high * apart));
        }
        (low, high) = (high, (high + 2.0).min(HIGHEST_LIMIT));
    }
    while high - low > 1e-11 * high {
        let middle = low + (high - low) / 2.0;
        if passes(middle)? > alpha { low = middle } else { high = middle }
    }
    let chart = ScoreCusum::new(scores, high * apart)?;
    Ok(CalibratedScores {
        chart,
        horizon,
        false_pass: chart.passes(scores.unacceptable, horizon)?,
        power: chart.passes(scores.acceptable, horizon)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_agree_with_those_found_by_simulation() {
        // Distance of the means, limit and power for 30 services and alpha .05, simulated with 1e5 runs.
        for (apart, limit, power) in [(0.75, 4.02, 0.957), (1.0, 4.39, 0.996), (1.5, 4.69, 1.0)] {
            let found = calibrate(Scores::new(0.0, apart, 1.0).unwrap(), 30, 0.05).unwrap();
            assert!((found.chart.limit() - limit).abs() < 0.05, "{found:?}");
            assert!((found.power - power).abs() < 0.005, "{found:?}");
            assert!((found.false_pass - 0.05).abs() < 1e-9, "{found:?}");
        }
    }

    #[test]
    fn the_example_course_book_passes_good_scores() {
        let found = calibrate(Scores::new(1.5, 2.2, 0.5).unwrap(), 20, 0.1).unwrap();
        assert!(found.power > 0.98, "{found:?}");
        let best = found.chart.shortest_run(3.0).unwrap();
        let scores = vec![3.0; 20];
        assert_eq!(found.chart.first_signal(&scores), usize::try_from(best).ok());
        assert_eq!(found.chart.shortest_run(1.0), None);
    }

    #[test]
    fn a_score_that_is_no_number_adds_nothing() {
        let chart = ScoreCusum::new(Scores::new(1.5, 2.2, 0.5).unwrap(), 2.0).unwrap();
        assert_eq!(chart.path(&[f64::NAN, f64::INFINITY]), [0.0, 0.0]);
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        for (unacceptable, acceptable, spread) in [
            (2.0, 2.0, 0.5),
            (2.2, 1.5, 0.5),
            (1.5, 2.2, 0.0),
            (1.5, 2.2, -1.0),
            (1.5, 2.2, f64::NAN),
            (f64::NAN, 2.2, 0.5),
            (1.5, f64::INFINITY, 0.5),
        ] {
            assert!(Scores::new(unacceptable, acceptable, spread).is_err());
        }
        let scores = Scores::new(1.5, 2.2, 0.5).unwrap();
        assert!(calibrate(scores, 0, 0.1).is_err());
        assert!(calibrate(scores, 20, f64::NAN).is_err());
        assert!(calibrate(scores, u32::MAX, 0.1).is_err());
        assert!(ScoreCusum::new(scores, f64::NAN).is_err());
        assert!(calibrate(scores, 1, 1e-6).is_ok(), "one service with a very good score");
        let far = calibrate(Scores::new(0.0, 100.0, 1.0).unwrap(), 20, 0.1).unwrap();
        assert!(far.false_pass < 1e-9 && far.power > 0.999_999, "{far:?}");
    }
}
