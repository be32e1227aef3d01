//! Fits of small numbers of groups: a penalty that keeps variances off zero, and averaging over them.
//!
//! The penalty is the gamma(2) one of Chung, Rabe-Hesketh, Dorie, Gelman and Liu (2013), Psychometrika
//! 78:685-709: minus 2 ln of each standard deviation over sigma. Averaging takes the penalised restricted
//! likelihood as a density over the logarithms of the standard deviations (and the cells beside the
//! diagonal as they are), which is the same as a flat density over the standard deviations, and sums over
//! a grid along the principal axes of its curvature: the places of the three-point Gauss-Hermite rule,
//! each weighed anew by the density itself (Naylor and Smith 1982, Applied Statistics 31:214-225).

use nalgebra::{DMatrix, SymmetricEigen};

use super::criterion::{Scratch, evaluate, slope};
use super::design::Frame;
use super::minimise::{self, Function, Least};
use super::{Criterion, Fit, Mixed, MixedError, normalised, on_diagonal};

/// Square root of three: the outer places along an axis, in standard deviations of the density.
const OUTER: f64 = 1.732_050_807_568_877_2;
/// Places along each axis, and the logarithm of their weight over the normal density there (less a constant).
const STEPS: [(f64, f64); 3] =
    [(-OUTER, 1.5 - 1.386_294_361_119_890_6), (0.0, 0.0), (OUTER, 1.5 - 1.386_294_361_119_890_6)];
/// Parts that weigh less than this share of the heaviest are left out.
const LEAST_SHARE: f64 = 5e-3;
/// Largest and smallest standard deviation over sigma, as logarithms: beyond lies a wall.
const WALL: f64 = 7.0;
/// Width of the differences for the curvature.
const WIDTH: f64 = 1e-2;
/// Least curvature of an axis: a density wider than this along it is cut.
const LEAST_CURVATURE: f64 = 0.5;
/// More parameters than this and the grid would be too large: the penalised fit stands alone.
const MOST_PARAMETERS: usize = 3;

/// Fits at several covariances, with what each weighs; the weights sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Averaged {
    /// Where the penalised criterion is least.
    pub mode: Fit,
    /// Weight and fit, the heaviest of them first.
    pub parts: Vec<(f64, Fit)>,
}

impl Averaged {
    /// One fit that stands alone.
    pub(crate) fn alone(fit: Fit) -> Self {
        Self { parts: vec![(1.0, fit.clone())], mode: fit }
    }
}

impl Mixed {
    /// Fits by restricted maximum likelihood with the penalty that keeps variances off zero.
    ///
    /// [`Fit::objective`] is the criterion without its penalty.
    ///
    /// # Errors
    /// [`MixedError::NoFit`] when the search ends nowhere.
    pub fn fit_penalised(&self) -> Result<Fit, MixedError> {
        Ok(self.mode()?.1)
    }

    /// Averages over the covariance parameters; with more than 3 of them the penalised fit stands alone.
    ///
    /// # Errors
    /// [`MixedError::NoFit`] when the search ends nowhere.
    pub fn averaged(&self) -> Result<Averaged, MixedError> {
        let (found, mode) = self.mode()?;
        let size = found.at.len();
        if size > MOST_PARAMETERS {
            return Ok(Averaged::alone(mode));
        }
        let mut function = self.penalised();
        let curvature = minimise::curvature(&found.at, WIDTH, |place| function.value(place));
        if curvature.iter().any(|cell| !cell.is_finite()) {
            return Ok(Averaged::alone(mode));
        }
        let axes = SymmetricEigen::new(DMatrix::from_row_slice(size, size, &curvature));
        // The criterion is twice a logarithm: along an axis of curvature c the density's variance is 2 / c.
        let spread = axes.eigenvalues.iter().map(|value| (2.0 / value.max(LEAST_CURVATURE)).sqrt());
        let axes: Vec<Vec<f64>> = axes
            .eigenvectors
            .column_iter()
            .zip(spread)
            .map(|(axis, spread)| axis.iter().map(|cell| cell * spread).collect())
            .collect();
        let mut places = vec![(0.0, found.at.clone())];
        for axis in &axes {
            let moved = |(log, place): &(f64, Vec<f64>)| {
                let to = |(step, own): &(f64, f64)| {
                    (log + own, place.iter().zip(axis).map(|(at, cell)| at + step * cell).collect::<Vec<f64>>())
                };
                STEPS.iter().map(to).collect::<Vec<_>>()
            };
            places = places.iter().flat_map(moved).collect();
        }
        let mut weighed: Vec<(f64, Vec<f64>)> = places
            .into_iter()
            .map(|(log, place)| ((log - (function.value(&place) - found.value) / 2.0).exp(), place))
            .filter(|(weight, _)| weight.is_finite() && *weight > 0.0)
            .collect();
        weighed.sort_by(|a, b| b.0.total_cmp(&a.0));
        let least = weighed.first().map_or(0.0, |heaviest| heaviest.0 * LEAST_SHARE);
        let fits = weighed.iter().filter(|(weight, _)| *weight >= least);
        let mut parts: Vec<(f64, Fit)> =
            fits.filter_map(|(weight, place)| Some((*weight, self.at_logs(place)?))).collect();
        let total: f64 = parts.iter().map(|part| part.0).sum();
        if parts.is_empty() || total.is_nan() || total <= 0.0 {
            return Ok(Averaged::alone(mode));
        }
        parts.iter_mut().for_each(|part| part.0 /= total);
        Ok(Averaged { mode, parts })
    }

    /// Where the penalised criterion is least, and the fit there.
    fn mode(&self) -> Result<(Least, Fit), MixedError> {
        let start = self.frame.start(1.5, 0.5, -0.1);
        let found = minimise::minimise(&self.logs(&start), &mut self.penalised());
        let fit = self.at_logs(&found.at).ok_or(MixedError::NoFit)?;
        Ok((found, fit))
    }

    /// Standard deviations over sigma as their logarithms, cells beside the diagonal as they are.
    fn logs(&self, theta: &[f64]) -> Vec<f64> {
        let value = |(at, value): (usize, &f64)| if on_diagonal(&self.frame, at) { value.ln() } else { *value };
        theta.iter().enumerate().map(value).collect()
    }

    fn at_logs(&self, place: &[f64]) -> Option<Fit> {
        let theta = plain(&self.frame, place).collect();
        Fit::at(&self.frame, &self.products, Criterion::Reml, &normalised(&self.frame, theta))
    }

    fn penalised(&self) -> Penalised<'_> {
        Penalised { rows: self, theta: Vec::new(), scratch: Scratch::default() }
    }
}

/// The penalised criterion over the logarithms of standard deviations.
struct Penalised<'a> {
    rows: &'a Mixed,
    theta: Vec<f64>,
    scratch: Scratch,
}

impl Penalised<'_> {
    /// Sets the plain parameters; `None` beyond the wall.
    fn plain(&mut self, place: &[f64]) -> Option<()> {
        if place.iter().any(|value| value.is_nan() || value.abs() > WALL) {
            return None;
        }
        self.theta.clear();
        self.theta.extend(plain(&self.rows.frame, place));
        Some(())
    }

    fn penalty(&self, place: &[f64]) -> f64 {
        let logs = place.iter().enumerate().filter(|(at, _)| on_diagonal(&self.rows.frame, *at));
        2.0 * logs.map(|(_, value)| value).sum::<f64>()
    }
}

impl Function for Penalised<'_> {
    fn value(&mut self, at: &[f64]) -> f64 {
        if self.plain(at).is_none() {
            return f64::INFINITY;
        }
        let Mixed { frame, products, .. } = self.rows;
        let parts = evaluate(frame, products, &self.theta, &mut self.scratch);
        parts.map_or(f64::INFINITY, |parts| parts.criterion(frame, Criterion::Reml)) - self.penalty(at)
    }

    fn slope(&mut self, at: &[f64], out: &mut Vec<f64>) -> f64 {
        if self.plain(at).is_none() {
            return f64::INFINITY;
        }
        let Mixed { frame, products, .. } = self.rows;
        let value = slope(frame, products, Criterion::Reml, &self.theta, &mut self.scratch, out);
        for (at, (cell, theta)) in out.iter_mut().zip(&self.theta).enumerate() {
            if on_diagonal(frame, at) {
                *cell = *cell * theta - 2.0;
            }
        }
        value.map_or(f64::INFINITY, |value| value - self.penalty(at))
    }
}

/// Parameters from the logarithms of those on the diagonal.
fn plain(frame: &Frame, place: &[f64]) -> impl Iterator<Item = f64> {
    place.iter().enumerate().map(|(at, value)| if on_diagonal(frame, at) { value.exp() } else { *value })
}
