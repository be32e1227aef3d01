//! The straight combination of columns nearest to what was measured: linear least squares.
//!
//! Columns are scaled and made orthogonal one after the other (modified Gram-Schmidt: Björck 1967, BIT
//! 7:1-21) with twice the working precision, so that nearly dependent columns keep their digits. Standard
//! errors and intervals: Draper and Smith (1998), Applied Regression Analysis, chapters 1 and 5.

use crate::distribution;
use crate::twice::Twice;

/// Share of a column that must be left after the columns before it; less is rounding of the data.
const LEAST_LEFT: f64 = 1e-13;

/// Why no line can be laid through the points.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// No more points than coefficients: nothing would be left to tell the error from.
    #[error("{points} points cannot tell {coefficients} coefficients and their error apart")]
    TooFew {
        /// Points given.
        points: usize,
        /// Coefficients asked for.
        coefficients: usize,
    },
    /// A column is not as long as the response.
    #[error("column {column} has {found} values, the response has {expected}")]
    Lengths {
        /// Place of the column, from 0.
        column: usize,
        /// Its length.
        found: usize,
        /// Length of the response.
        expected: usize,
    },
    /// A value, or something worked out from the values, is not a finite number.
    #[error("a value is not finite or too large")]
    NotFinite,
    /// A column is zero or a combination of those before it.
    #[error("column {column} says nothing that the columns before it do not say")]
    Dependent {
        /// Place of the column, from 0, the intercept counted as a column where there is one.
        column: usize,
    },
}

/// Whether the line may start anywhere or must pass through zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Intercept {
    /// A constant is added as the first column.
    Free,
    /// No constant is added.
    Zero,
}

/// A fitted combination of columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// One for each column, the intercept first where there is one.
    pub coefficients: Vec<f64>,
    /// Standard errors of the coefficients, at least 0.
    pub standard_errors: Vec<f64>,
    /// Covariance of the coefficients, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// Measured minus fitted, point by point.
    pub residuals: Vec<f64>,
    /// Sum of the squared residuals (weighted, where weights were given).
    pub sum_of_squares: f64,
    /// Root of the sum of squares over the degrees of freedom.
    pub residual_sd: f64,
    /// Points minus coefficients, at least 1.
    pub degrees_of_freedom: usize,
    /// Share of the variation explained, at most 1: about the mean with an intercept, about zero without
    /// (the convention of the NIST reference datasets). `None` when the response does not vary.
    pub r_squared: Option<f64>,
}

/// A value read off a fitted line, with what is known of its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// Height of the line.
    pub mean: f64,
    /// Standard error of that height.
    pub se_mean: f64,
    /// Standard deviation of one further measurement about that height.
    pub se_single: f64,
    /// Degrees of freedom of both errors.
    pub degrees_of_freedom: usize,
}

impl Prediction {
    /// Takes the height, its variance (what rounding leaves below 0 is 0) and the scatter about it; `None` when a
    /// result is not finite.
    pub(crate) fn new(mean: f64, variance: f64, residual_sd: f64, degrees_of_freedom: usize) -> Option<Self> {
        let variance = variance.max(0.0);
        let se_single = (variance + residual_sd * residual_sd).sqrt();
        let found = Self { mean, se_mean: variance.sqrt(), se_single, degrees_of_freedom };
        (mean.is_finite() && se_single.is_finite()).then_some(found)
    }

    /// Returns the interval of the line's height; `level` is a confidence level, 0 to 1.
    pub fn interval_of_mean(&self, level: f64) -> Option<(f64, f64)> {
        self.interval(self.se_mean, level)
    }

    /// Returns the interval of one further measurement; `level` is a confidence level, 0 to 1.
    pub fn interval_of_single(&self, level: f64) -> Option<(f64, f64)> {
        self.interval(self.se_single, level)
    }

    fn interval(&self, error: f64, level: f64) -> Option<(f64, f64)> {
        if !(level > 0.0 && level < 1.0) {
            return None;
        }
        let t = distribution::t_quantile(1.0 - (1.0 - level) / 2.0, self.degrees_of_freedom as f64)?;
        Some((self.mean - t * error, self.mean + t * error))
    }
}

impl Fit {
    /// Reads the line off at `row`: one value for each coefficient, 1 first where there is an intercept.
    ///
    /// `None` when the row is not as long as the coefficients or a result is not finite.
    pub fn predict(&self, row: &[f64]) -> Option<Prediction> {
        if row.len() != self.coefficients.len() {
            return None;
        }
        // Covariances nearly cancel for values far from zero.
        let mean: Twice = row.iter().zip(&self.coefficients).map(|(x, b)| Twice::from(*x) * Twice::from(*b)).sum();
        let variance: Twice = (row.iter().zip(&self.covariance))
            .flat_map(|(x, line)| {
                line.iter().zip(row).map(|(c, z)| Twice::from(*x) * Twice::from(*c) * Twice::from(*z))
            })
            .sum();
        Prediction::new(mean.nearest(), variance.nearest(), self.residual_sd, self.degrees_of_freedom)
    }
}

/// Fits `response` as a combination of `columns`.
///
/// ```
/// use proficiency::linear::{Intercept, fit};
///
/// let line = fit(&[vec![1.0, 2.0, 3.0]], &[1.0, 3.0, 5.0], Intercept::Free).unwrap();
/// assert_eq!(line.coefficients, [-1.0, 2.0]);
/// ```
///
/// # Errors
/// When there are no more points than coefficients, a value is not finite, lengths differ, or a column
/// depends on those before it.
pub fn fit(columns: &[Vec<f64>], response: &[f64], intercept: Intercept) -> Result<Fit, Error> {
    fit_weighted(columns, response, intercept, &vec![1.0; response.len()])
}

/// Fits `response` as a combination of `columns`, each point's squared residual counted by its weight, 0 or
/// more.
///
/// # Errors
/// As for [`fit`]; a weight below 0 counts as not finite.
pub fn fit_weighted(
    columns: &[Vec<f64>],
    response: &[f64],
    intercept: Intercept,
    weights: &[f64],
) -> Result<Fit, Error> {
    let columns = columns.iter().map(|column| column.iter().copied().map(Twice::from).collect());
    fit_twice(columns.collect(), response, intercept, weights)
}

/// Fits a polynomial in `x` of this `degree`, coefficients by rising power.
///
/// # Errors
/// As for [`fit`].
pub fn fit_polynomial(x: &[f64], response: &[f64], degree: usize, intercept: Intercept) -> Result<Fit, Error> {
    if degree >= x.len() {
        return Err(Error::TooFew { points: x.len(), coefficients: degree.saturating_add(1) });
    }
    let mut columns: Vec<Vec<Twice>> = Vec::new();
    let mut power = vec![Twice::from(1.0); x.len()];
    for _ in 0..degree {
        power = power.iter().zip(x).map(|(power, x)| *power * Twice::from(*x)).collect();
        columns.push(power.clone());
    }
    fit_twice(columns, response, intercept, &vec![1.0; response.len()])
}

fn dot(a: &[Twice], b: &[Twice]) -> Twice {
    a.iter().zip(b).map(|(a, b)| *a * *b).sum()
}

/// Takes `share` times `direction` away from `from`.
fn take(from: &mut [Twice], share: Twice, direction: &[Twice]) {
    for (value, step) in from.iter_mut().zip(direction) {
        *value = *value - share * *step;
    }
}

/// Returns the power of two nearest to the largest value, to divide by without rounding.
fn size(column: &[Twice]) -> Option<f64> {
    let largest = column.iter().map(|value| value.nearest().abs()).fold(0.0, f64::max);
    if !column.iter().all(|value| value.nearest().is_finite()) {
        return None;
    }
    if largest == 0.0 {
        return Some(1.0);
    }
    let power = largest.log2().floor().clamp(-1000.0, 1000.0).exp2();
    (power > 0.0 && power.is_finite()).then_some(power)
}

fn fit_twice(
    mut columns: Vec<Vec<Twice>>,
    response: &[f64],
    intercept: Intercept,
    weights: &[f64],
) -> Result<Fit, Error> {
    let n = response.len();
    if intercept == Intercept::Free {
        columns.insert(0, vec![Twice::from(1.0); n]);
    }
    let p = columns.len();
    let lengths = columns.iter().map(Vec::len).chain([weights.len()]);
    if let Some((column, found)) = lengths.enumerate().find(|(_, found)| *found != n) {
        return Err(Error::Lengths { column, found, expected: n });
    }
    let counted = weights.iter().filter(|weight| **weight > 0.0).count();
    if p == 0 || counted <= p {
        return Err(Error::TooFew { points: counted, coefficients: p });
    }
    if !weights.iter().all(|weight| weight.is_finite() && *weight >= 0.0) {
        return Err(Error::NotFinite);
    }
    let roots: Vec<Twice> = weights.iter().map(|weight| Twice::from(*weight).sqrt()).collect();
    let measured: Vec<Twice> = response.iter().copied().map(Twice::from).collect();
    let mut sizes = Vec::with_capacity(p);
    for column in &mut columns {
        let size = size(column).ok_or(Error::NotFinite)?;
        for value in column.iter_mut() {
            *value = *value / Twice::from(size);
        }
        sizes.push(size);
    }
    let response_size = size(&measured).ok_or(Error::NotFinite)?;
    let scaled: Vec<Twice> = measured.iter().map(|value| *value / Twice::from(response_size)).collect();

    let weigh = |column: &[Twice]| -> Vec<Twice> { column.iter().zip(&roots).map(|(x, root)| *x * *root).collect() };
    let mut rest = weigh(&scaled);
    let mut directions: Vec<Vec<Twice>> = Vec::with_capacity(p);
    let mut triangle: Vec<Vec<Twice>> = Vec::with_capacity(p);
    let mut along = Vec::with_capacity(p);
    for (place, column) in columns.iter().enumerate() {
        let mut left = weigh(column);
        let whole = dot(&left, &left).sqrt().nearest();
        let mut shares = Vec::with_capacity(place + 1);
        for direction in &directions {
            let share = dot(direction, &left);
            take(&mut left, share, direction);
            shares.push(share);
        }
        let length = dot(&left, &left).sqrt();
        if !length.nearest().is_finite() {
            return Err(Error::NotFinite);
        }
        if length.nearest() <= LEAST_LEFT * whole {
            return Err(Error::Dependent { column: place });
        }
        let direction: Vec<Twice> = left.iter().map(|value| *value / length).collect();
        shares.push(length);
        let share = dot(&direction, &rest);
        take(&mut rest, share, &direction);
        along.push(share);
        triangle.push(shares);
        directions.push(direction);
    }
    let scaled_coefficients = solve(&triangle, &along).ok_or(Error::NotFinite)?;
    let inverse: Vec<Vec<Twice>> = (0..p)
        .map(|unit| {
            let unit: Vec<Twice> = (0..p).map(|row| Twice::from(f64::from(u8::from(row == unit)))).collect();
            solve(&triangle, &unit)
        })
        .collect::<Option<_>>()
        .ok_or(Error::NotFinite)?;

    let degrees_of_freedom = counted - p;
    let squares = dot(&rest, &rest);
    let variance = squares / Twice::from(degrees_of_freedom as f64);
    let back = |value: Twice, size: f64| value * Twice::from(response_size) / Twice::from(size);
    let coefficients: Vec<f64> =
        scaled_coefficients.iter().zip(&sizes).map(|(value, size)| back(*value, *size).nearest()).collect();
    // Column `unit` of the inverse triangle is `inverse[unit]`: the covariance sums over units.
    let entry = |row: usize, column: usize| -> Twice {
        inverse.iter().filter_map(|unit| Some(*unit.get(row)? * *unit.get(column)?)).sum()
    };
    let mut covariance = Vec::with_capacity(p);
    let mut standard_errors = Vec::with_capacity(p);
    for (row, row_size) in sizes.iter().enumerate() {
        let line = sizes
            .iter()
            .enumerate()
            .map(|(column, column_size)| back(back(entry(row, column) * variance, *row_size), *column_size).nearest());
        covariance.push(line.collect::<Vec<f64>>());
        standard_errors.push(back((entry(row, row) * variance).sqrt(), *row_size).nearest());
    }
    let fitted = |row: usize| -> Twice {
        scaled_coefficients.iter().zip(&columns).filter_map(|(b, column)| Some(*b * *column.get(row)?)).sum()
    };
    let residuals: Vec<f64> = (scaled.iter().enumerate())
        .map(|(row, value)| ((*value - fitted(row)) * Twice::from(response_size)).nearest())
        .collect();
    let sum_of_squares = (squares * Twice::from(response_size) * Twice::from(response_size)).nearest();
    let residual_sd = (variance.sqrt() * Twice::from(response_size)).nearest();
    let all = coefficients.iter().chain(&standard_errors).chain(covariance.iter().flatten()).chain(&residuals);
    if !all.chain([&sum_of_squares, &residual_sd]).all(|value| value.is_finite()) {
        return Err(Error::NotFinite);
    }
    let r_squared = share_explained(&scaled, weights, intercept, squares);
    Ok(Fit {
        coefficients,
        standard_errors,
        covariance,
        residuals,
        sum_of_squares,
        residual_sd,
        degrees_of_freedom,
        r_squared,
    })
}

fn share_explained(scaled: &[Twice], weights: &[f64], intercept: Intercept, squares: Twice) -> Option<f64> {
    let weight = |place: usize| Twice::from(weights.get(place).copied().unwrap_or(0.0));
    let centre = if intercept == Intercept::Free {
        let total: Twice = (0..scaled.len()).map(weight).sum();
        scaled.iter().enumerate().map(|(place, value)| *value * weight(place)).sum::<Twice>() / total
    } else {
        Twice::ZERO
    };
    let deviations = scaled.iter().enumerate().map(|(place, value)| {
        let from_centre = *value - centre;
        from_centre * from_centre * weight(place)
    });
    let about: Twice = deviations.sum();
    // A constant response leaves rounding only.
    (about.nearest() > 1e-30 * scaled.len() as f64).then(|| (Twice::from(1.0) - squares / about).nearest())
}

/// Solves a triangular system: row `i` of `triangle` holds the entries of column `i` from the top down to
/// the diagonal. `None` where a diagonal entry is missing.
fn solve(triangle: &[Vec<Twice>], right: &[Twice]) -> Option<Vec<Twice>> {
    let mut rest = right.to_vec();
    let mut solution = vec![Twice::ZERO; right.len()];
    for (place, column) in triangle.iter().enumerate().rev() {
        let (diagonal, above) = column.split_last()?;
        let value = *rest.get(place)? / *diagonal;
        *solution.get_mut(place)? = value;
        take(&mut rest, value, above);
    }
    Some(solution)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_too_little_or_too_much_is_said() {
        let x = vec![1.0, 2.0, 3.0];
        assert_eq!(fit(&[], &[], Intercept::Free), Err(Error::TooFew { points: 0, coefficients: 1 }));
        assert_eq!(fit(&[], &[1.0], Intercept::Zero), Err(Error::TooFew { points: 1, coefficients: 0 }));
        let two = fit(&[vec![1.0, 2.0]], &[1.0, 2.0], Intercept::Free);
        assert_eq!(two, Err(Error::TooFew { points: 2, coefficients: 2 }));
        let short = fit(std::slice::from_ref(&x), &[1.0, 2.0, 3.0, 4.0], Intercept::Free);
        assert_eq!(short, Err(Error::Lengths { column: 1, found: 3, expected: 4 }));
        for bad in [f64::NAN, f64::INFINITY, -f64::INFINITY] {
            assert_eq!(fit(std::slice::from_ref(&x), &[1.0, bad, 3.0], Intercept::Free), Err(Error::NotFinite));
            assert_eq!(fit(&[vec![1.0, bad, 3.0]], &[1.0, 2.0, 3.0], Intercept::Free), Err(Error::NotFinite));
        }
        assert!(matches!(fit_polynomial(&x, &x, usize::MAX, Intercept::Free), Err(Error::TooFew { .. })));
    }

    #[test]
    fn a_column_that_repeats_another_is_named() {
        let x = vec![0.1, 0.2, 0.3, 0.7];
        let same: Vec<f64> = x.iter().map(|x| x * 3.0 + 1.0).collect();
        let found = fit(&[x.clone(), same], &[1.0, 2.0, 4.0, 3.0], Intercept::Free);
        assert_eq!(found, Err(Error::Dependent { column: 2 }));
        let level = fit(&[vec![5.0; 4]], &[1.0, 2.0, 4.0, 3.0], Intercept::Free);
        assert_eq!(level, Err(Error::Dependent { column: 1 }));
        assert_eq!(fit(&[vec![0.0; 4]], &x, Intercept::Zero), Err(Error::Dependent { column: 0 }));
    }

    #[test]
    fn a_level_response_has_a_level_line_and_no_share_explained() {
        let line = fit(&[vec![1.0, 2.0, 3.0, 4.0]], &[7.0; 4], Intercept::Free).unwrap();
        assert_eq!((line.sum_of_squares, line.r_squared), (0.0, None));
        assert_eq!(line.coefficients, [7.0, 0.0]);
        assert_eq!(line.predict(&[1.0, 9.0]).unwrap().interval_of_single(0.95), Some((7.0, 7.0)));
    }

    #[test]
    fn a_point_of_no_weight_does_not_count() {
        let (x, y) = (vec![1.0, 2.0, 3.0, 4.0, 9.0], [1.0, 2.5, 2.5, 4.0, -50.0]);
        let weighted = fit_weighted(&[x], &y, Intercept::Free, &[1.0, 1.0, 1.0, 1.0, 0.0]).unwrap();
        let without = fit(&[vec![1.0, 2.0, 3.0, 4.0]], &y[..4], Intercept::Free).unwrap();
        assert_eq!(weighted.degrees_of_freedom, 2);
        for (one, other) in weighted.coefficients.iter().zip(&without.coefficients) {
            assert!((one - other).abs() < 1e-14);
        }
        assert!((weighted.residual_sd - without.residual_sd).abs() < 1e-14);
    }

    #[test]
    fn huge_and_tiny_values_are_fitted_or_refused() {
        let x = vec![1e300, 2e300, 3e300];
        let line = fit(std::slice::from_ref(&x), &[1e-300, 2e-300, 3.1e-300], Intercept::Free);
        assert!(line.is_err() || line.is_ok_and(|line| line.coefficients.iter().all(|b| b.is_finite())));
        let steep = fit(&[vec![1e-300, 2e-300, 3e-300]], &[1e300, 2e300, 4e300], Intercept::Free);
        assert_eq!(steep, Err(Error::NotFinite));
    }
}
