//! Distribution functions and quantiles: Student t, beta, gamma, chi-squared and F.
//!
//! Definitions: Abramowitz and Stegun (1964), chapter 26. The normal distribution stands in
//! [`crate::normal`]. A quantile is found by halving between neighbouring numbers until none lies between,
//! on the tail that is smaller, so that it is as good as the tail itself.
//!
//! Chances are 0 to 1. Whatever lies outside a distribution's domain gives `None`.

use crate::normal;
use crate::special::{Tails, beta_tails, gamma_tails};

/// Degrees of freedom above which Student's t is told from the normal by less than one part in 1e9.
const AS_GOOD_AS_NORMAL: f64 = 1e9;

/// Finds the first number from `low` to `high`, both at least 0, from which on `reached` holds.
fn first(low: f64, high: f64, reached: impl Fn(f64) -> Option<bool>) -> Option<f64> {
    // Bits of numbers that are at least 0 are in the order of the numbers.
    let (mut below, mut above) = (low.to_bits(), high.to_bits());
    while above.saturating_sub(below) > 1 {
        let middle = below + (above - below) / 2;
        if reached(f64::from_bits(middle))? {
            above = middle;
        } else {
            below = middle;
        }
    }
    Some(f64::from_bits(above))
}

/// Finds the value of a distribution above 0 with chance `p` below it, on the smaller tail.
fn find(p: f64, low: f64, high: f64, tails: impl Fn(f64) -> Option<Tails>) -> Option<f64> {
    if !(0.0..=1.0).contains(&p) {
        return None;
    }
    if p == 0.0 || p == 1.0 {
        return Some(if p == 0.0 { low } else { high });
    }
    first(low, high, |x| {
        let tails = tails(x)?;
        Some(if p <= 0.5 { tails.lower >= p } else { tails.upper <= 1.0 - p })
    })
}

/// Returns the chance that Student's t with `freedom` degrees of freedom (above 0, whole or not, infinite for
/// the normal) lies above `t`.
pub fn t_above(t: f64, freedom: f64) -> Option<f64> {
    if t.is_nan() || freedom.is_nan() || freedom <= 0.0 {
        return None;
    }
    if freedom > AS_GOOD_AS_NORMAL {
        return Some(normal::above(t));
    }
    if t.is_infinite() {
        return Some(if t > 0.0 { 0.0 } else { 1.0 });
    }
    let square = t * t / freedom;
    let (x, y) = if square.is_finite() { (1.0 / (1.0 + square), square / (1.0 + square)) } else { (0.0, 1.0) };
    let both = beta_tails(freedom / 2.0, 0.5, x, y)?.lower;
    Some(if t >= 0.0 { both / 2.0 } else { 1.0 - both / 2.0 })
}

/// Returns the chance that Student's t with `freedom` degrees of freedom lies at or below `t`.
pub fn t_below(t: f64, freedom: f64) -> Option<f64> {
    t_above(-t, freedom)
}

/// Returns the `t` below which Student's t with `freedom` degrees of freedom lies with chance `p`, 0 < `p` < 1.
///
/// ```
/// let t = proficiency::distribution::t_quantile(0.975, 10.0).unwrap();
/// assert!((t - 2.228_138_851_986_275).abs() < 1e-12);
/// ```
pub fn t_quantile(p: f64, freedom: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) || freedom.is_nan() || freedom <= 0.0 {
        return None;
    }
    if p < 0.5 {
        return t_quantile_upper(p, freedom).map(|t| -t);
    }
    t_quantile_upper(1.0 - p, freedom)
}

/// Returns the `t` at or above 0 that Student's t exceeds with chance `p`, 0 < `p` <= 0.5.
fn t_quantile_upper(p: f64, freedom: f64) -> Option<f64> {
    if freedom > AS_GOOD_AS_NORMAL {
        return normal::exceeded_with(p);
    }
    if p == 0.5 {
        return Some(0.0);
    }
    first(0.0, f64::MAX, |t| Some(t_above(t, freedom)? <= p))
}

/// Returns the chance that a beta value with shapes `a` and `b` (above 0) lies at or below `x`.
pub fn beta_below(x: f64, a: f64, b: f64) -> Option<f64> {
    let x = if x.is_nan() { return None } else { x.clamp(0.0, 1.0) };
    Some(beta_tails(a, b, x, 1.0 - x)?.lower)
}

/// Returns the value below which a beta value with shapes `a` and `b` lies with chance `p`.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> Option<f64> {
    if p.is_nan() {
        return None;
    }
    // Near 1 the distance from 1 is what keeps its digits: solve on the side of the smaller half.
    let lower_half = beta_tails(a, b, 0.5, 0.5)?.lower;
    if p <= lower_half {
        return find(p, 0.0, 0.5, |x| beta_tails(a, b, x, 1.0 - x));
    }
    if !(0.0..=1.0).contains(&p) {
        return None;
    }
    if p == 1.0 {
        return Some(1.0);
    }
    let from_one = first(0.0, 0.5, |y| {
        let tails = beta_tails(a, b, 1.0 - y, y)?;
        Some(if p <= 0.5 { tails.lower <= p } else { tails.upper >= 1.0 - p })
    })?;
    Some(1.0 - from_one)
}

/// Returns the chance that a gamma value with this `shape` (above 0) and scale 1 lies at or below `x`.
pub fn gamma_below(x: f64, shape: f64) -> Option<f64> {
    Some(gamma_tails(shape, x)?.lower)
}

/// Returns the value below which a gamma value with this `shape` and scale 1 lies with chance `p` (infinite
/// for 1).
pub fn gamma_quantile(p: f64, shape: f64) -> Option<f64> {
    gamma_tails(shape, 1.0)?;
    find(p, 0.0, f64::INFINITY, |x| gamma_tails(shape, x))
}

/// Returns the chance that a chi-squared value with `freedom` degrees of freedom (above 0) lies at or below `x`.
pub fn chi_squared_below(x: f64, freedom: f64) -> Option<f64> {
    gamma_below(x / 2.0, freedom / 2.0)
}

/// Returns the value below which a chi-squared value with `freedom` degrees of freedom lies with chance `p`.
pub fn chi_squared_quantile(p: f64, freedom: f64) -> Option<f64> {
    Some(gamma_quantile(p, freedom / 2.0)? * 2.0)
}

/// Returns the chance that an F value with `top` and `bottom` degrees of freedom (above 0, whole or not) lies
/// above `f`.
pub fn f_above(f: f64, top: f64, bottom: f64) -> Option<f64> {
    Some(f_tails(f, top, bottom)?.upper)
}

/// Returns the value below which an F value with `top` and `bottom` degrees of freedom lies with chance `p`.
pub fn f_quantile(p: f64, top: f64, bottom: f64) -> Option<f64> {
    f_tails(1.0, top, bottom)?;
    find(p, 0.0, f64::INFINITY, |f| f_tails(f, top, bottom))
}

fn f_tails(f: f64, top: f64, bottom: f64) -> Option<Tails> {
    if f.is_nan() {
        return None;
    }
    let ratio = f.max(0.0) * (top / bottom);
    let (x, y) = if ratio.is_finite() { (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio)) } else { (1.0, 0.0) };
    beta_tails(top / 2.0, bottom / 2.0, x, y)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_and_its_chance_undo_each_other() {
        for p in [1e-12, 0.001, 0.3, 0.5, 0.77, 0.999_999] {
            for freedom in [0.3, 1.0, 4.5, 60.0, 1e6] {
                let back = t_below(t_quantile(p, freedom).unwrap(), freedom).unwrap();
                assert!((back - p).abs() <= 1e-13_f64.max(1e-12 * p), "t {p} {freedom}: {back}");
                let x = chi_squared_quantile(p, freedom).unwrap();
                assert!((chi_squared_below(x, freedom).unwrap() - p).abs() <= 1e-12, "chi {p} {freedom}");
                let f = f_quantile(p, freedom, 7.0).unwrap();
                assert!((f_above(f, freedom, 7.0).unwrap() - (1.0 - p)).abs() <= 1e-12, "F {p} {freedom}");
                let x = beta_quantile(p, freedom, 2.0).unwrap();
                // Near 1 the last digit of x moves the chance by the density.
                let slack = 1e-12_f64.max(1e-15 * freedom);
                assert!((beta_below(x, freedom, 2.0).unwrap() - p).abs() <= slack, "beta {p} {freedom}");
            }
        }
    }

    #[test]
    fn t_with_one_degree_of_freedom_is_cauchy() {
        for p in [0.51, 0.9, 0.999_999, 1.0 - 1e-12] {
            let exact = 1.0 / (std::f64::consts::PI * (1.0 - p)).tan();
            let found = t_quantile(p, 1.0).unwrap();
            assert!((found / exact - 1.0).abs() < 1e-12, "{p}: {found} {exact}");
        }
    }

    #[test]
    fn the_ends_are_the_ends() {
        assert_eq!(beta_quantile(0.0, 2.0, 3.0), Some(0.0));
        assert_eq!(beta_quantile(1.0, 2.0, 3.0), Some(1.0));
        assert_eq!(gamma_quantile(0.0, 2.0), Some(0.0));
        assert_eq!(gamma_quantile(1.0, 2.0), Some(f64::INFINITY));
        assert_eq!(t_quantile(0.5, 3.0), Some(0.0));
        assert_eq!(t_quantile(1.0, 3.0), None);
    }

    #[test]
    fn outside_the_domain_there_is_no_answer() {
        for bad in [f64::NAN, -1.0, 0.0] {
            assert_eq!(t_quantile(0.9, bad), None);
            assert_eq!(t_above(1.0, bad), None);
            assert_eq!(beta_quantile(0.9, bad, 1.0), None);
            assert_eq!(gamma_quantile(0.9, bad), None);
            assert_eq!(f_quantile(0.9, bad, 1.0), None);
        }
        for bad in [f64::NAN, -0.1, 1.1] {
            assert_eq!(t_quantile(bad, 3.0), None);
            assert_eq!(beta_quantile(bad, 1.0, 1.0), None);
            assert_eq!(gamma_quantile(bad, 1.0), None);
        }
    }
}
