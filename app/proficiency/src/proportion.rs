//! What a count of hits says about a rate.
//!
//! Wilson's score interval: Wilson (1927), Journal of the American Statistical Association 22:209-212;
//! exact limits: Clopper and Pearson (1934), Biometrika 26:404-413. Compared by Newcombe (1998), Statistics in
//! Medicine 17:857-872, and, with Jeffreys' interval, by Brown, Cai and DasGupta (2001), Statistical Science
//! 16:101-133.
//!
//! Each function takes `hits` of `tries` and a confidence level above 0 and below 1, e.g. 0.95, and gives
//! limits 0 to 1; `None` without tries, with more hits than tries, or with a level outside 0 to 1.

use crate::{distribution, normal};

/// Checks counts and level; gives the chance that each side of a two-sided interval leaves out.
fn side(hits: u32, tries: u32, level: f64) -> Option<f64> {
    let side = (1.0 - level) / 2.0;
    (tries > 0 && hits <= tries && side > 0.0 && side < 0.5).then_some(side)
}

/// Returns the Wilson score interval of a rate, both limits 0 to 1, without continuity correction.
///
/// Good for few tries: it covers about as often as it says.
pub fn wilson(hits: u32, tries: u32, level: f64) -> Option<(f64, f64)> {
    let z = normal::exceeded_with(side(hits, tries, level)?)?;
    let (n, share) = (f64::from(tries), f64::from(hits) / f64::from(tries));
    let z2 = z * z;
    let centre = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
    let low = if hits == 0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if hits == tries { 1.0 } else { (centre + half).min(1.0) };
    Some((low, high))
}

/// Returns the Wilson score interval with continuity correction, which covers at least about as often as it
/// says (Newcombe 1998, method 4).
pub fn wilson_corrected(hits: u32, tries: u32, level: f64) -> Option<(f64, f64)> {
    let z = normal::exceeded_with(side(hits, tries, level)?)?;
    let (n, x) = (f64::from(tries), f64::from(hits));
    let (share, z2) = (x / n, z * z);
    let root = |sign: f64| (z2 - sign * 2.0 - 1.0 / n + 4.0 * share * (n * (1.0 - share) + sign)).max(0.0).sqrt();
    let low = (2.0 * x + z2 - 1.0 - z * root(1.0)) / (2.0 * (n + z2));
    let high = (2.0 * x + z2 + 1.0 + z * root(-1.0)) / (2.0 * (n + z2));
    let low = if hits == 0 { 0.0 } else { low.max(0.0) };
    let high = if hits == tries { 1.0 } else { high.min(1.0) };
    Some((low, high))
}

/// Returns the exact interval of Clopper and Pearson: each limit is missed with at most half of 1 - `level`.
pub fn clopper_pearson(hits: u32, tries: u32, level: f64) -> Option<(f64, f64)> {
    let side = side(hits, tries, level)?;
    Some((exact_low(hits, tries, side)?, exact_high(hits, tries, side)?))
}

/// Returns the exact lower limit alone: the rate is at least this, wrong with at most 1 - `level`.
pub fn exact_lower_limit(hits: u32, tries: u32, level: f64) -> Option<f64> {
    side(hits, tries, level)?;
    exact_low(hits, tries, 1.0 - level)
}

/// Returns the exact upper limit alone: the rate is at most this, wrong with at most 1 - `level`.
///
/// ```
/// // No breach in 8 services still allows a rate of about three in ten.
/// let most = proficiency::proportion::exact_upper_limit(0, 8, 0.95).unwrap();
/// assert!((most - (1.0 - 0.05_f64.powf(1.0 / 8.0))).abs() < 1e-12);
/// ```
pub fn exact_upper_limit(hits: u32, tries: u32, level: f64) -> Option<f64> {
    side(hits, tries, level)?;
    exact_high(hits, tries, 1.0 - level)
}

fn exact_low(hits: u32, tries: u32, out: f64) -> Option<f64> {
    if hits == 0 {
        return Some(0.0);
    }
    distribution::beta_quantile(out, f64::from(hits), f64::from(tries - hits) + 1.0)
}

fn exact_high(hits: u32, tries: u32, out: f64) -> Option<f64> {
    if hits == tries {
        return Some(1.0);
    }
    // Through the other tail, so that a tiny `out` keeps its digits.
    Some(1.0 - distribution::beta_quantile(out, f64::from(tries - hits), f64::from(hits) + 1.0)?)
}

/// Returns Jeffreys' interval: what counts and a prior of one half hit and one half miss leave in the middle;
/// 0 without hits, 1 without misses.
pub fn jeffreys(hits: u32, tries: u32, level: f64) -> Option<(f64, f64)> {
    let side = side(hits, tries, level)?;
    let (for_hits, for_misses) = (f64::from(hits) + 0.5, f64::from(tries - hits) + 0.5);
    let low = if hits == 0 { 0.0 } else { distribution::beta_quantile(side, for_hits, for_misses)? };
    let high = if hits == tries { 1.0 } else { 1.0 - distribution::beta_quantile(side, for_misses, for_hits)? };
    Some((low, high))
}

/// Returns the middle and the half width of the interval of Agresti and Coull (1998), The American Statistician
/// 52:119-126; its limits may lie outside 0 to 1.
pub fn agresti_coull(hits: u32, tries: u32, level: f64) -> Option<(f64, f64)> {
    let z = normal::exceeded_with(side(hits, tries, level)?)?;
    let n = f64::from(tries) + z * z;
    let middle = (f64::from(hits) + z * z / 2.0) / n;
    Some((middle, z * (middle * (1.0 - middle) / n).sqrt()))
}

/// Returns the chance that `run` independent tries in a row all succeed when each fails with chance
/// `failure`; `None` unless `failure` is 0 to 1.
pub fn chance_of_clean_run(failure: f64, run: u32) -> Option<f64> {
    (0.0..=1.0).contains(&failure).then(|| (1.0 - failure).powf(f64::from(run)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_counted_has_no_interval() {
        assert_eq!(wilson(0, 0, 0.95), None);
        assert_eq!(wilson(3, 2, 0.95), None);
        for level in [0.0, 1.0, -1.0, f64::NAN] {
            assert_eq!(wilson(1, 2, level), None, "{level}");
        }
    }

    #[test]
    fn every_interval_holds_the_share_and_narrows_with_more_tries() {
        for of in [wilson, wilson_corrected, clopper_pearson, jeffreys] {
            let mut before = 1.0;
            for factor in [1, 10, 100, 1000] {
                let (low, high) = of(3 * factor, 20 * factor, 0.9).unwrap();
                assert!(0.0 < low && low < 0.15 && 0.15 < high && high < 1.0, "{low} {high}");
                assert!(high - low < before);
                before = high - low;
            }
        }
    }

    #[test]
    fn the_ends_are_closed() {
        for of in [wilson, wilson_corrected, clopper_pearson, jeffreys] {
            assert_eq!(of(0, 12, 0.95).unwrap().0, 0.0);
            assert_eq!(of(12, 12, 0.95).unwrap().1, 1.0);
            assert_eq!(of(0, 0, 0.95), None);
            assert_eq!(of(u32::MAX, 3, 0.95), None);
            assert_eq!(of(1, 3, f64::NAN), None);
        }
        assert_eq!((exact_lower_limit(0, 5, 0.95), exact_upper_limit(5, 5, 0.95)), (Some(0.0), Some(1.0)));
        assert_eq!((exact_lower_limit(0, 0, 0.95), exact_upper_limit(1, 5, 1.0)), (None, None));
        assert_eq!((exact_upper_limit(3, 2, 0.95), exact_upper_limit(0, 5, f64::NAN)), (None, None));
        // From memory, tabulated: 1 in 20 has the one-sided upper limit .2161.
        assert!((exact_upper_limit(1, 20, 0.95).unwrap() - 0.2161).abs() < 5e-5);
    }

    #[test]
    fn three_clean_in_a_row_happen_half_the_time_at_one_failure_in_five() {
        let chance = chance_of_clean_run(0.2, 3).unwrap();
        assert!((chance - 0.512).abs() < 1e-12);
        assert_eq!(chance_of_clean_run(f64::NAN, 3), None);
        assert_eq!(chance_of_clean_run(1.5, 3), None);
    }
}
