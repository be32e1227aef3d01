//! What a learning curve says: factors of the log-linear law, and the two laws of practice as functions.
//!
//! Log-linear law: Wright (1936), Journal of the Aeronautical Sciences 3:122-128 (the average over all units
//! falls); its unit form is ascribed to Crawford (1944). Laws of practice and relative learning rates: Newell
//! and Rosenbloom (1981); Heathcote, Brown and Mewhort (2000), Psychonomic Bulletin and Review 7:185-207.
//!
//! Whatever is not finite or lies outside a function's range gives `None`.

/// Most units a total is summed over.
const MOST_UNITS: u32 = 1_000_000;

/// Returns the exponent of the law in which each doubling leaves `rate` of the time; 0.8 is "an 80 % curve".
///
/// `rate` is above 0; below 1 times fall and the exponent is negative.
///
/// ```
/// let exponent = proficiency::learning_curve::exponent_of_rate(0.5).unwrap();
/// assert_eq!(exponent, -1.0);
/// ```
pub fn exponent_of_rate(rate: f64) -> Option<f64> {
    (rate.is_finite() && rate > 0.0).then(|| rate.log2())
}

/// Returns the share of the time that each doubling leaves, for an exponent of the law.
pub fn rate_of_exponent(exponent: f64) -> Option<f64> {
    finite(exponent.exp2())
}

/// Returns the time of unit `n` (1 or more, whole or not) as a share of the first.
pub fn unit_factor(exponent: f64, n: f64) -> Option<f64> {
    if n.is_nan() || n < 1.0 {
        return None;
    }
    finite(n.powf(exponent))
}

/// Returns the time of the first `n` units together in shares of the first, each by [`unit_factor`]; `n` is 1
/// to 1,000,000.
pub fn total_factor(exponent: f64, n: u32) -> Option<f64> {
    if n == 0 || n > MOST_UNITS {
        return None;
    }
    // Smallest terms first; what rounding loses is carried along (Kahan 1965).
    let (mut sum, mut carried) = (0.0, 0.0);
    for unit in (1..=n).rev() {
        let term = f64::from(unit).powf(exponent) - carried;
        let next = sum + term;
        carried = (next - sum) - term;
        sum = next;
    }
    finite(sum)
}

/// Returns the time of unit `n` (1 or more) as a share of the first when the average over all units so far
/// follows the law: n^(b+1) - (n-1)^(b+1).
pub fn unit_factor_under_average(exponent: f64, n: f64) -> Option<f64> {
    if n.is_nan() || n < 1.0 {
        return None;
    }
    if n == 1.0 {
        return finite(exponent).map(|_| 1.0);
    }
    let total = exponent + 1.0;
    // The difference of two neighbours, without losing their common digits.
    finite(-n.powf(total) * (total * (-1.0 / n).ln_1p()).exp_m1())
}

/// The power law of practice: time = first * n^exponent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerLaw {
    /// Time of the first service, above 0, in seconds or any unit.
    pub first: f64,
    /// Exponent, below 0 when times fall.
    pub exponent: f64,
}

impl PowerLaw {
    /// Returns the time of service `n`, above 0.
    pub fn at(&self, n: f64) -> Option<f64> {
        if n.is_nan() || n <= 0.0 {
            return None;
        }
        finite(self.first * n.powf(self.exponent))
    }

    /// Returns the share by which the time falls per service at service `n`: -exponent / n.
    pub fn relative_learning_rate(&self, n: f64) -> Option<f64> {
        if n.is_nan() || n <= 0.0 {
            return None;
        }
        finite(-self.exponent / n)
    }

    /// Returns the service, whole or not, at which the curve is down at `target`; `None` when times do not
    /// fall or the answer is beyond all numbers.
    pub fn reaches(&self, target: f64) -> Option<f64> {
        if !(self.exponent < 0.0 && self.first > 0.0 && target > 0.0) {
            return None;
        }
        finite((target / self.first).powf(1.0 / self.exponent))
    }
}

/// The exponential law of practice: time = floor + gain * exp(-rate * n).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExponentialLaw {
    /// What no practice gets below, in the unit of time.
    pub floor: f64,
    /// What practice can gain, as it would be before the first service.
    pub gain: f64,
    /// Share of the remaining gain made per service, above 0 when times fall.
    pub rate: f64,
}

impl ExponentialLaw {
    /// Returns the time of service `n`.
    pub fn at(&self, n: f64) -> Option<f64> {
        finite(self.floor + self.gain * (-self.rate * n).exp())
    }

    /// Returns the share of what remains above the floor that one service takes away: the same at every service.
    pub fn relative_learning_rate(&self) -> f64 {
        self.rate
    }

    /// Returns the service, whole or not, at which the curve is down at `target`; `None` when it never is.
    pub fn reaches(&self, target: f64) -> Option<f64> {
        if !(self.rate > 0.0 && self.gain > 0.0 && target > self.floor) {
            return None;
        }
        finite((self.gain / (target - self.floor)).ln() / self.rate)
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_average_form_adds_up_to_n_times_the_average() {
        let exponent = exponent_of_rate(0.8).unwrap();
        let total: f64 = (1..=50).map(|n| unit_factor_under_average(exponent, f64::from(n)).unwrap()).sum();
        assert!((total - 50.0 * unit_factor(exponent, 50.0).unwrap()).abs() < 1e-12);
    }

    #[test]
    fn a_curve_that_does_not_fall_reaches_nothing() {
        assert_eq!(PowerLaw { first: 100.0, exponent: 0.0 }.reaches(50.0), None);
        assert_eq!(PowerLaw { first: 100.0, exponent: 0.3 }.reaches(50.0), None);
        assert_eq!(PowerLaw { first: 100.0, exponent: -1e-9 }.reaches(50.0), None);
        let level = ExponentialLaw { floor: 60.0, gain: 40.0, rate: 0.1 };
        assert_eq!(level.reaches(60.0), None);
        assert_eq!(level.reaches(59.0), None);
        assert!((level.reaches(80.0).unwrap() - 2.0_f64.ln() / 0.1).abs() < 1e-12);
    }

    #[test]
    fn outside_the_range_there_is_no_answer() {
        for bad in [f64::NAN, 0.0, -1.0, f64::INFINITY] {
            assert_eq!(exponent_of_rate(bad), None);
        }
        assert_eq!(unit_factor(-0.3, 0.5), None);
        assert_eq!(unit_factor_under_average(f64::NAN, 1.0), None);
        assert_eq!(total_factor(-0.3, 0), None);
        assert_eq!(total_factor(-0.3, u32::MAX), None);
        assert_eq!(total_factor(f64::NAN, 3), None);
        assert_eq!(PowerLaw { first: f64::NAN, exponent: -0.2 }.at(3.0), None);
    }
}
