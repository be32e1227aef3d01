//! The standard normal distribution.
//!
//! The tail is worked out from the error function: its power series with positive terms near zero, its
//! continued fraction farther out (Abramowitz and Stegun 1964, formulas 7.1.6 and 7.1.14).

/// Returns the complementary error function; 1 at zero, 0 far out, NaN for NaN.
fn erfc(x: f64) -> f64 {
    if x.is_nan() {
        return f64::NAN;
    }
    if x < 0.0 {
        return 2.0 - erfc(-x);
    }
    if x > 30.0 {
        return 0.0;
    }
    if x < 2.0 { 1.0 - erf_series(x) } else { erfc_fraction(x) }
}

/// Sums 2/sqrt(pi) * exp(-x^2) * sum of 2^n x^(2n+1) / (1*3*...*(2n+1)).
fn erf_series(x: f64) -> f64 {
    let mut term = x;
    let mut sum = x;
    for n in 1..200 {
        term *= 2.0 * x * x / f64::from(2 * n + 1);
        sum += term;
        if term <= sum * 1e-17 {
            break;
        }
    }
    std::f64::consts::FRAC_2_SQRT_PI * (-x * x).exp() * sum
}

/// Works out exp(-x^2)/sqrt(pi) * 1/(x + (1/2)/(x + 1/(x + (3/2)/(x + ...)))) from the inside out.
fn erfc_fraction(x: f64) -> f64 {
    let mut inner = x;
    for k in (1..=120).rev() {
        inner = x + f64::from(k) / 2.0 / inner;
    }
    std::f64::consts::FRAC_2_SQRT_PI / 2.0 * (-x * x).exp() / inner
}

/// Returns the chance that a standard normal value lies above `z`, 0 to 1; NaN for NaN.
pub fn above(z: f64) -> f64 {
    erfc(z / std::f64::consts::SQRT_2) / 2.0
}

/// Returns the `z` that a standard normal value exceeds with chance `p`; `None` unless 0 < p < 1.
pub fn exceeded_with(p: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    if p == 0.5 {
        return Some(0.0);
    }
    // The smaller tail keeps its digits.
    if p > 0.5 {
        return exceeded_with(1.0 - p).map(|z| -z);
    }
    let (mut low, mut high) = (-40.0_f64, 40.0_f64);
    for _ in 0..120 {
        let middle = (low + high) / 2.0;
        if above(middle) > p {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some((low + high) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::{above, exceeded_with};

    #[test]
    fn series_and_fraction_agree_where_they_meet() {
        let x = 2.0;
        assert!((1.0 - super::erf_series(x) - super::erfc_fraction(x)).abs() < 1e-15);
    }

    #[test]
    fn two_and_a_half_percent_lie_above_1_96() {
        // From memory, tabulated everywhere: 1.959963984540054.
        let z = exceeded_with(0.025).unwrap();
        assert!((z - 1.959_963_984_540_054).abs() < 1e-12, "{z}");
        assert!((above(0.0) - 0.5).abs() < 1e-16);
    }

    #[test]
    fn both_tails_are_alike() {
        for p in [-1, -2, -10, -30, -50].map(|power| 2.0_f64.powi(power)) {
            let (far, near) = (exceeded_with(p).unwrap(), exceeded_with(1.0 - p).unwrap());
            assert!((far + near).abs() <= 1e-15 * far.abs().max(1.0), "{p}: {far} {near}");
        }
    }

    #[test]
    fn chances_outside_0_to_1_have_no_limit() {
        for p in [0.0, 1.0, -0.1, f64::NAN, f64::INFINITY] {
            assert_eq!(exceeded_with(p), None);
        }
        assert!(above(f64::NAN).is_nan());
        assert_eq!(above(f64::INFINITY), 0.0);
        assert_eq!(above(f64::NEG_INFINITY), 1.0);
    }
}
