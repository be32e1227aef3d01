//! Mixed fits that trust far-off rows less: Student-t weights.
//!
//! Each row weighs (nu + 1) / (nu + r^2 / sigma^2), r its residual from fixed and random effects, and the
//! fit is repeated with error variance sigma^2 / weight until the weights stand still (Lange, Little and
//! Taylor 1989, Journal of the American Statistical Association 84:881-896; for mixed fits Pinheiro, Liu
//! and Wu 2001, Journal of Computational and Graphical Statistics 10:249-276). No row is left out.

use std::sync::Arc;

use super::design::Products;
use super::minimise::dot;
use super::{Criterion, Fit, Mixed, MixedError, search};

/// A row that weighs less than this is shown to a person.
pub const WEIGHT_FLAGGED: f64 = 0.45;
/// The weights stand still when none changes by more.
const STILL: f64 = 1e-6;
/// Between two searches for the covariance the weights need not stand stiller than this share of their move.
const STILL_ENOUGH: f64 = 0.1;
/// Most searches for the covariance, and most steps between two of them.
const MOST_SEARCHES: usize = 60;
const MOST_STEPS: usize = 50;

/// A fit with Student-t weights.
#[derive(Debug, Clone, PartialEq)]
pub struct Robust {
    /// The rows with their final weights, to be fitted further.
    pub rows: Mixed,
    /// The fit at the final weights.
    pub fit: Fit,
    /// Weight of each row, in the order given: above 0, at most (nu + 1) / nu.
    pub weights: Vec<f64>,
    /// Rows that weigh less than [`WEIGHT_FLAGGED`], counted from 0.
    pub flagged: Vec<usize>,
}

impl Mixed {
    /// Fits with Student-t weights of `nu` degrees of freedom (4 is usual); `nu` not above 0 counts as 4.
    ///
    /// # Errors
    /// [`MixedError::NoFit`] when a search ends nowhere.
    pub fn fit_student(&self, criterion: Criterion, nu: f64) -> Result<Robust, MixedError> {
        let nu = if nu > 0.0 && nu.is_finite() { nu } else { 4.0 };
        let mut fit = self.fit(criterion)?;
        let mut weights = vec![1.0; self.frame.rows];
        let mut products = self.products.clone();
        for _ in 0..MOST_SEARCHES {
            // Weights first, at a covariance that stands: cheap, and most of the way.
            let mut first: Option<f64> = None;
            for _ in 0..MOST_STEPS {
                let next = self.weights(&fit, nu);
                let moved = largest_change(&next, &weights);
                weights = next;
                products = Arc::new(self.design.products(Some(&weights)));
                fit = Fit::at(&self.frame, &products, criterion, &fit.theta).ok_or(MixedError::NoFit)?;
                if moved < STILL.max(*first.get_or_insert(moved) * STILL_ENOUGH) {
                    break;
                }
            }
            let theta = self.warm(&products, criterion, &fit.theta);
            let still = largest_change(&theta, &fit.theta) < STILL;
            fit = Fit::at(&self.frame, &products, criterion, &theta).ok_or(MixedError::NoFit)?;
            if still && first.is_some_and(|moved| moved < STILL) {
                break;
            }
        }
        let flagged = weights.iter().enumerate().filter(|(_, weight)| **weight < WEIGHT_FLAGGED).map(|(at, _)| at);
        let flagged = flagged.collect();
        let rows = Self { design: self.design.clone(), frame: self.frame.clone(), products };
        Ok(Robust { rows, fit, weights, flagged })
    }

    fn warm(&self, products: &Products, criterion: Criterion, theta: &[f64]) -> Vec<f64> {
        // A parameter at zero is a place from which the search cannot move: it starts a little beside.
        let start: Vec<f64> = theta.iter().map(|value| if value.abs() < 1e-3 { 0.05 } else { *value }).collect();
        search(&self.frame, products, criterion, Some(&start))
    }

    fn weights(&self, fit: &Fit, nu: f64) -> Vec<f64> {
        let mut weights = vec![1.0; self.frame.rows];
        for (weight, residual) in weights.iter_mut().zip(self.scaled_residuals(fit)) {
            *weight = (nu + 1.0) / (nu + residual * residual / fit.variance);
        }
        weights
    }

    fn scaled_residuals(&self, fit: &Fit) -> Vec<f64> {
        let (groups, others) = fit.all_effects();
        let mut residuals = vec![0.0; self.frame.rows];
        self.design.each_row(|row, group, random, columns| {
            let own = groups.get(group).map_or(0.0, |effects| dot(effects, random));
            let response = columns.last().copied().unwrap_or(f64::NAN);
            if let Some(cell) = residuals.get_mut(row) {
                *cell = response - dot(columns, &others) - own;
            }
        });
        residuals
    }

    /// Residuals from fixed and random effects, in units of the response and the order given.
    pub fn residuals(&self, fit: &Fit) -> Vec<f64> {
        self.scaled_residuals(fit).into_iter().map(|residual| residual * self.frame.response_scale).collect()
    }
}

fn largest_change(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}
