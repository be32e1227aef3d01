//! Degrees of freedom of fixed effects.
//!
//! Satterthwaite (1946), Biometrics Bulletin 2:110-114, for mixed fits as in Giesbrecht and Burns (1985),
//! Biometrics 41:477-486: twice the squared variance of an effect over the variance of that variance, the
//! latter from the curvature of the criterion in the covariance parameters and sigma.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::criterion::{Scratch, evaluate, forward};
use super::minimise::{curvature, dot};
use super::{Criterion, Fit};
use crate::distribution::t_above;

/// Width of the differences, in scaled parameters; every derivative is taken at two widths and extrapolated.
const WIDTH: f64 = 4e-3;
/// Axes of the curvature below this share of the largest say nothing and are left out.
const LEAST_SHARE: f64 = 1e-8;

/// A fixed effect and its test against zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coefficient {
    /// The effect, in units of the response per unit of the column.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
    /// Degrees of freedom of its t statistic; NaN where the variance does not change.
    pub df: f64,
    /// Effect over standard error.
    pub t: f64,
    /// Chance of a t at least as far from zero without an effect, 0 to 1.
    pub p_two_sided: f64,
}

impl Fit {
    /// Fixed effects with Satterthwaite's degrees of freedom, one per given column; `None` for a column
    /// that was left out.
    pub fn coefficients(&self) -> Vec<Option<Coefficient>> {
        let mut place = self.theta.clone();
        place.push(self.variance.sqrt());
        let covariance = self.parameter_covariance(&place);
        let errors = self.beta_covariance();
        let errors = errors.iter().enumerate().map(|(at, row)| row.get(at).map_or(f64::NAN, |cell| cell.sqrt()));
        let dropped = self.dropped();
        let one = |(at, (value, error)): (usize, (f64, f64))| {
            if dropped.contains(&at) {
                return None;
            }
            let slope = self.slope_of_variance(&place, at);
            let spread = (slope.transpose() * &covariance * &slope).sum();
            let scaled = error / self.frame.response_scale;
            let df = 2.0 * scaled.powi(4) / spread;
            let t = value / error;
            let p_two_sided = t_above(t.abs(), df).map_or(f64::NAN, |above| 2.0 * above);
            Some(Coefficient { value, error, df, t, p_two_sided })
        };
        self.beta().into_iter().zip(errors).enumerate().map(one).collect()
    }

    /// Covariance of the covariance parameters and sigma, all scaled.
    fn parameter_covariance(&self, place: &[f64]) -> DMatrix<f64> {
        let size = place.len();
        let mut scratch = Scratch::default();
        let (n, p) = (self.frame.rows as f64, self.frame.kept.len() as f64);
        let mut deviance = |place: &[f64]| {
            let Some((sigma, theta)) = place.split_last() else { return f64::NAN };
            let Some(parts) = evaluate(&self.frame, &self.products, theta, &mut scratch) else { return f64::NAN };
            let variance = sigma * sigma;
            let (log, df) = match self.criterion {
                Criterion::Ml => (parts.log_random, n),
                Criterion::Reml => (parts.log_random + parts.log_fixed, n - p),
            };
            log + parts.squares / variance + df * variance.ln()
        };
        let wide = curvature(place, WIDTH, &mut deviance);
        let narrow = curvature(place, WIDTH / 2.0, &mut deviance);
        let cells = wide.iter().zip(&narrow).map(|(wide, narrow)| (4.0 * narrow - wide) / 3.0);
        let cells: Vec<f64> = cells.map(|cell| if cell.is_finite() { cell } else { 0.0 }).collect();
        let axes = SymmetricEigen::new(DMatrix::from_row_slice(size, size, &cells));
        let largest = axes.eigenvalues.iter().fold(0.0_f64, |most, value| most.max(*value));
        let mut covariance = DMatrix::zeros(size, size);
        for (value, axis) in axes.eigenvalues.iter().zip(axes.eigenvectors.column_iter()) {
            if *value > LEAST_SHARE * largest {
                covariance += axis * axis.transpose() * (2.0 / value);
            }
        }
        covariance
    }

    /// Slope of the scaled variance of a fixed effect in the covariance parameters and sigma.
    fn slope_of_variance(&self, place: &[f64], column: usize) -> DVector<f64> {
        let mut unit = vec![0.0; self.frame.fixed];
        if let Some(cell) = unit.get_mut(column) {
            *cell = 1.0;
        }
        let row = self.row(&unit);
        let mut scratch = Scratch::default();
        let mut variance = |place: &[f64]| {
            let Some((sigma, theta)) = place.split_last() else { return f64::NAN };
            if evaluate(&self.frame, &self.products, theta, &mut scratch).is_none() {
                return f64::NAN;
            }
            let mut half = row.clone();
            forward(&scratch.factor, &mut half);
            sigma * sigma * dot(&half, &half)
        };
        let slope = |at: usize, width: f64, variance: &mut dyn FnMut(&[f64]) -> f64| {
            let mut side = |offset: f64| {
                let mut moved = place.to_vec();
                if let Some(cell) = moved.get_mut(at) {
                    *cell += offset;
                }
                variance(&moved)
            };
            (side(width) - side(-width)) / (2.0 * width)
        };
        let cells = (0..place.len()).map(|at| {
            let wide = slope(at, WIDTH, &mut variance);
            let narrow = slope(at, WIDTH / 2.0, &mut variance);
            (4.0 * narrow - wide) / 3.0
        });
        DVector::from_vec(cells.collect())
    }
}
