//! Whether numbers in a row go up or down, and how steeply, without trusting any single one of them.
//!
//! Slope: Theil (1950), Proceedings KNAW 53; Sen (1968), Journal of the American Statistical
//! Association 63:1379-1389. Test: Mann (1945), Econometrica 13:245-259; Kendall (1975).

use crate::{middle, normal};

/// A line through points: the median slope, and the intercept that goes with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Change of y for one more of x.
    pub slope: f64,
    /// y at x = 0: the median of y minus the slope times the median of x.
    pub intercept: f64,
}

/// Returns the Theil-Sen line: the median of the slopes between all pairs of points.
///
/// Points with a value that is not finite are left out; `None` unless two points with different x remain.
/// Work grows with the square of the number of points.
pub fn theil_sen(points: &[(f64, f64)]) -> Option<Line> {
    let finite: Vec<(f64, f64)> = points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
    let mut slopes = Vec::new();
    for (number, (x1, y1)) in finite.iter().enumerate() {
        for (x2, y2) in finite.iter().skip(number + 1) {
            if x1 != x2 {
                slopes.push((y2 - y1) / (x2 - x1));
            }
        }
    }
    let slope = middle::median(&slopes)?;
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
    let weight = |count: usize| {
        let n = count as f64;
        n * (n - 1.0) * (2.0 * n + 5.0)
    };
    let mut sorted = finite.clone();
    sorted.sort_by(f64::total_cmp);
    let ties: f64 = sorted.chunk_by(|a, b| a == b).map(|tied| weight(tied.len())).sum();
    let variance = (weight(finite.len()) - ties) / 18.0;
    let z = if s == 0 || variance <= 0.0 { 0.0 } else { (s - s.signum()) as f64 / variance.sqrt() };
    let p_two_sided = (2.0 * normal::above(z.abs())).min(1.0);
    Some(MannKendall { s, variance, z, p_two_sided })
}

#[cfg(test)]
mod tests {
    use super::{mann_kendall, theil_sen};

    #[test]
    fn one_wild_value_does_not_turn_the_slope() {
        let points = [(1.0, 10.0), (2.0, 9.0), (3.0, 200.0), (4.0, 7.0), (5.0, 6.0)];
        let line = theil_sen(&points).unwrap();
        assert!((line.slope + 1.0).abs() < 1e-12, "{line:?}");
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
