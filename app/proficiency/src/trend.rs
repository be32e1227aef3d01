//! Whether numbers in a row go up or down, and how steeply, without trusting any single one of them.
//!
//! Slope: Theil (1950), Proceedings KNAW 53; Sen (1968), Journal of the American Statistical
//! Association 63:1379-1389. Test: Mann (1945), Econometrica 13:245-259; Kendall (1975).

use crate::rank::finite;
use crate::{middle, normal};

/// A line through points: the median slope, and the intercept that goes with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Change of y for one more of x.
    pub slope: f64,
    /// y at x = 0: the median of y minus the slope times the median of x.
    pub intercept: f64,
}

/// Slopes between all pairs of points with different x.
fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let mut slopes = Vec::new();
    for (number, (x1, y1)) in points.iter().enumerate() {
        for (x2, y2) in points.iter().skip(number + 1) {
            if x1 != x2 {
                slopes.push((y2 - y1) / (x2 - x1));
            }
        }
    }
    slopes
}

/// Sum over groups of equal values of k (k - 1) (2 k + 5), which ties take from the variance of the pairs.
fn taken_by_ties(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    sorted.chunk_by(|a, b| a == b).map(|tied| weight(tied.len())).sum()
}

fn weight(count: usize) -> f64 {
    let n = count as f64;
    n * (n - 1.0) * (2.0 * n + 5.0)
}

/// Returns Sen's interval of the Theil-Sen slope; `level` is a confidence level, 0 to 1.
///
/// Its limits are slopes between pairs of points, chosen by the variance of Kendall's statistic (Sen 1968,
/// section 4); `None` as for [`theil_sen`] and with a level outside 0 to 1.
pub fn slope_interval(points: &[(f64, f64)], level: f64) -> Option<(f64, f64)> {
    if !(level > 0.0 && level < 1.0) {
        return None;
    }
    let finite = finite(points);
    let mut slopes: Vec<f64> = slopes(&finite).into_iter().filter(|slope| slope.is_finite()).collect();
    slopes.sort_by(f64::total_cmp);
    let ties = taken_by_ties(finite.iter().map(|point| point.0)) + taken_by_ties(finite.iter().map(|point| point.1));
    let sigma = ((weight(finite.len()) - ties) / 18.0).max(0.0).sqrt();
    let half = normal::exceeded_with((1.0 - level) / 2.0)?.max(0.0) * sigma;
    let count = slopes.len() as f64;
    let last = slopes.len().checked_sub(1)?;
    let low = (((count - half) / 2.0).round_ties_even() - 1.0).max(0.0) as usize;
    let high = (((count + half) / 2.0).round_ties_even().max(0.0) as usize).min(last);
    Some((*slopes.get(low.min(last))?, *slopes.get(high)?))
}

/// Returns the Theil-Sen line: the median of the slopes between all pairs of points.
///
/// Points with a value that is not finite are left out; `None` unless two points with different x remain.
/// Work grows with the square of the number of points.
pub fn theil_sen(points: &[(f64, f64)]) -> Option<Line> {
    let finite = finite(points);
    let slope = middle::median(&slopes(&finite))?;
    let xs: Vec<f64> = finite.iter().map(|point| point.0).collect();
    let ys: Vec<f64> = finite.iter().map(|point| point.1).collect();
    let intercept = middle::median(&ys)? - slope * middle::median(&xs)?;
    Some(Line { slope, intercept })
}

/// Result of the Mann-Kendall test for a trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Pairs that go up minus pairs that go down.
    pub s: i64,
    /// Variance of `s` without a trend, corrected for ties.
    pub variance: f64,
    /// `s` in standard deviations, moved toward zero by one half step (continuity correction).
    pub z: f64,
    /// Chance of a `z` at least as far from zero without a trend, 0 to 1.
    pub p_two_sided: f64,
}

/// Tests a series in its order for a trend; `None` with fewer than two finite values.
pub fn mann_kendall(series: &[f64]) -> Option<MannKendall> {
    let finite: Vec<f64> = series.iter().copied().filter(|value| value.is_finite()).collect();
    if finite.len() < 2 {
        return None;
    }
    let mut s = 0_i64;
    for (number, first) in finite.iter().enumerate() {
        for second in finite.iter().skip(number + 1) {
            s += i64::from(second > first) - i64::from(second < first);
        }
    }
    let variance = (weight(finite.len()) - taken_by_ties(finite.iter().copied())) / 18.0;
    let z = if s == 0 || variance <= 0.0 { 0.0 } else { (s - s.signum()) as f64 / variance.sqrt() };
    let p_two_sided = (2.0 * normal::above(z.abs())).min(1.0);
    Some(MannKendall { s, variance, z, p_two_sided })
}

#[cfg(test)]
mod tests {
    use super::{mann_kendall, slope_interval, theil_sen};

    #[test]
    fn one_wild_value_does_not_turn_the_slope() {
        let points = [(1.0, 10.0), (2.0, 9.0), (3.0, 200.0), (4.0, 7.0), (5.0, 6.0)];
        let line = theil_sen(&points).unwrap();
        assert!((line.slope + 1.0).abs() < 1e-12, "{line:?}");
    }

    #[test]
    fn the_interval_holds_the_slope_and_grows_with_the_level() {
        let points: Vec<(f64, f64)> =
            (1..=12).map(|n| (f64::from(n), (f64::from(n) * 2.3).sin() * 4.0 - f64::from(n))).collect();
        let slope = theil_sen(&points).unwrap().slope;
        let (narrow, wide) = (slope_interval(&points, 0.5).unwrap(), slope_interval(&points, 0.99).unwrap());
        assert!(wide.0 <= narrow.0 && narrow.0 <= slope && slope <= narrow.1 && narrow.1 <= wide.1);
        assert_eq!(slope_interval(&points, 1.0), None);
        assert_eq!(slope_interval(&[(1.0, 2.0), (1.0, 3.0)], 0.9), None);
        assert_eq!(slope_interval(&[(1.0, 2.0), (2.0, 3.0)], 0.9), Some((1.0, 1.0)));
    }

    #[test]
    fn too_little_gives_no_answer() {
        assert_eq!(theil_sen(&[]), None);
        assert_eq!(theil_sen(&[(1.0, 2.0)]), None);
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)]), None);
        assert_eq!(theil_sen(&[(1.0, 2.0), (f64::NAN, 3.0)]), None);
        assert_eq!(mann_kendall(&[f64::NAN, 1.0]), None);
    }
}
