//! Watching after the pass: a chart that rises with failures and signals when skill has gone.
//!
//! Bernoulli CUSUM of Reynolds and Stoumbos (1999), Journal of Quality Technology 31:87-108, with the
//! reference value r1/r2 rounded to 1/m so that the chart moves on whole numbers: a pass takes 1, a failure
//! adds m - 1, never below 0, signal at the limit.

use super::CompetenceError;

/// Largest product of limit and m that is worked out.
const MOST_WORK: u64 = 100_000_000;

/// A chart for deterioration, in steps of 1/m.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonitoringCusum {
    /// One over the reference value, at least 2.
    pub m: u32,
    /// Value at which it signals, in steps of 1/m, at least 1.
    pub limit: u32,
}

/// The reference value of a monitoring chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reference {
    /// ln((1 - p0)/(1 - p1)).
    pub r1: f64,
    /// ln(p1 (1 - p0)/(p0 (1 - p1))).
    pub r2: f64,
    /// r1/r2: failure rate between the two at which the chart neither rises nor falls.
    pub gamma: f64,
    /// 1/gamma rounded to a whole number, at least 2.
    pub m: u32,
}

/// Returns the reference value between a failure rate in control `p0` and one to be found out, `p1`.
///
/// # Errors
/// Unless 0 < p0 < p1 < 1.
pub fn reference(p0: f64, p1: f64) -> Result<Reference, CompetenceError> {
    if !(0.0 < p0 && p0 < p1 && p1 < 1.0) {
        return Err(CompetenceError::Rates { unacceptable: p1, acceptable: p0 });
    }
    let r1 = ((1.0 - p0) / (1.0 - p1)).ln();
    let r2 = (p1 * (1.0 - p0) / (p0 * (1.0 - p1))).ln();
    let gamma = r1 / r2;
    let nearest = (1.0 / gamma).round().max(2.0);
    let m = (2..=1_000_000_u32).find(|m| f64::from(*m) >= nearest).ok_or(CompetenceError::Chance(p0))?;
    Ok(Reference { r1, r2, gamma, m })
}

impl MonitoringCusum {
    /// Returns the chart for these rates with the smallest limit at which, in control, it takes at least
    /// `services` services on average until a false alarm.
    ///
    /// # Errors
    /// When the rates are not told apart, or no limit up to 10,000 m is high enough.
    pub fn quiet_for(p0: f64, p1: f64, services: f64) -> Result<Self, CompetenceError> {
        let m = reference(p0, p1)?.m;
        if !services.is_finite() {
            return Err(CompetenceError::Limit(services));
        }
        let enough = |limit: u32| -> Result<bool, CompetenceError> {
            Ok(MonitoringCusum { m, limit }.services_to_signal(p0)? >= services)
        };
        let (mut low, mut high) = (0_u32, m);
        while !enough(high)? {
            if high >= m.saturating_mul(10_000) {
                return Err(CompetenceError::Limit(services));
            }
            (low, high) = (high, high.saturating_mul(2));
        }
        while low + 1 < high {
            let middle = low + (high - low) / 2;
            if enough(middle)? { high = middle } else { low = middle }
        }
        Ok(Self { m, limit: high })
    }

    /// Returns the chart after each service, in steps of 1/m, started at 0; `true` is a failure.
    pub fn path(&self, failures: &[bool]) -> Vec<u32> {
        let mut value = 0_u32;
        let next = |failed: &bool| {
            value = if *failed { value.saturating_add(self.m.saturating_sub(1)) } else { value.saturating_sub(1) };
            value
        };
        failures.iter().map(next).collect()
    }

    /// Returns the service, counted from 1, at which the chart first signals.
    pub fn first_signal(&self, failures: &[bool]) -> Option<usize> {
        self.path(failures).iter().position(|value| *value >= self.limit).map(|at| at + 1)
    }

    /// Returns the average number of services to a signal from 0 at a failure rate, infinite when it never
    /// comes; exact, by taking the chart's states out one by one from the highest (Grassmann, Taksar and
    /// Heyman 1985, Operations Research 33:1107-1116: nothing is ever subtracted, so no digits are lost).
    ///
    /// # Errors
    /// When the rate is no chance, the chart cannot rise, or it is too large to be worked out.
    pub fn services_to_signal(&self, failing: f64) -> Result<f64, CompetenceError> {
        if !(0.0..=1.0).contains(&failing) {
            return Err(CompetenceError::Chance(failing));
        }
        if self.m < 2 || self.limit == 0 || u64::from(self.m) * u64::from(self.limit) > MOST_WORK {
            return Err(CompetenceError::Limit(f64::from(self.limit)));
        }
        if failing == 0.0 {
            return Ok(f64::INFINITY);
        }
        let too_large = || CompetenceError::Limit(f64::from(self.limit));
        let states = usize::try_from(self.limit).map_err(|_| too_large())?;
        let rise = usize::try_from(self.m - 1).map_err(|_| too_large())?;
        let passing = 1.0 - failing;
        // Of each state: chance of the highest state left, chance of a signal, services spent.
        let mut all: Vec<State> = (0..states)
            .map(|state| {
                let signals = state + rise >= states;
                let (up, signal) = if signals { (0.0, failing) } else { (failing, 0.0) };
                State { up, signal, services: 1.0 }
            })
            .collect();
        for top in (1..states).rev() {
            let Some(taken) = all.pop() else { break };
            // What is left of the highest state goes one down or signals; its way back to itself is cut.
            let leaves = passing + taken.signal;
            if leaves <= 0.0 {
                return Ok(f64::INFINITY);
            }
            let (down, signal, services) = (passing / leaves, taken.signal / leaves, taken.services / leaves);
            for state in all.iter_mut().skip(top.saturating_sub(rise)) {
                state.signal += state.up * signal;
                state.services += state.up * services;
                state.up *= down;
            }
        }
        let start = all.pop().ok_or_else(too_large)?;
        if start.signal > 0.0 { Ok(start.services / start.signal) } else { Ok(f64::INFINITY) }
    }
}

struct State {
    up: f64,
    signal: f64,
    services: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_failures_in_a_row_signal_as_the_textbook_says() {
        // m 2, limit 2: a pass takes 1, a failure adds 1: the mean time to +2 from a floor at 0 with p = 1/2
        // is 2 + 4 = 6.
        let chart = MonitoringCusum { m: 2, limit: 2 };
        assert!((chart.services_to_signal(0.5).unwrap() - 6.0).abs() < 1e-12);
        assert_eq!(chart.services_to_signal(1.0), Ok(2.0));
        assert_eq!(chart.services_to_signal(0.0), Ok(f64::INFINITY));
        assert_eq!(chart.first_signal(&[true, false, true, true]), Some(4));
    }

    #[test]
    fn a_quiet_chart_is_quiet_and_no_limit_lower_is() {
        let chart = MonitoringCusum::quiet_for(0.05, 0.15, 300.0).unwrap();
        assert_eq!(chart.m, 11);
        assert!(chart.services_to_signal(0.05).unwrap() >= 300.0);
        let lower = MonitoringCusum { limit: chart.limit - 1, ..chart };
        assert!(lower.services_to_signal(0.05).unwrap() < 300.0);
    }

    #[test]
    fn a_chart_that_almost_never_signals_keeps_its_digits() {
        // At p = .001 only close runs of failures count; the answer must be finite, huge and rise with the limit.
        let far = |limit| MonitoringCusum { m: 7, limit }.services_to_signal(0.001).unwrap();
        assert!(far(28) > 1e9 && far(42) > far(28) * 1e3, "{} {}", far(28), far(42));
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        for (p0, p1) in [(0.0, 0.1), (0.2, 0.1), (0.1, 1.0), (f64::NAN, 0.1)] {
            assert!(reference(p0, p1).is_err(), "{p0} {p1}");
            assert!(MonitoringCusum::quiet_for(p0, p1, 300.0).is_err(), "{p0} {p1}");
        }
        assert!(MonitoringCusum::quiet_for(0.05, 0.15, f64::INFINITY).is_err());
        for (m, limit) in [(0, 5), (1, 5), (7, 0), (u32::MAX, u32::MAX)] {
            assert!(MonitoringCusum { m, limit }.services_to_signal(0.1).is_err(), "{m} {limit}");
        }
        assert!(MonitoringCusum { m: 7, limit: 14 }.services_to_signal(f64::NAN).is_err());
        assert_eq!(MonitoringCusum { m: 0, limit: 0 }.path(&[true, false]), [0, 0]);
    }
}
