//! What a mixed fit says: effects, their variances, and predictions.
//!
//! The joint variance of fixed and random effects is that of Henderson's equations (Henderson 1975,
//! Biometrics 31:423-447), read off the factors of the criterion.

use super::Fit;
use super::criterion::{GroupFactor, backward, forward, group_factor};
use super::minimise::dot;

/// An estimated effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// Label of its group or level.
    pub label: usize,
    /// The effect, in units of the response.
    pub value: f64,
    /// Standard error of the effect's prediction, the uncertainty of the fixed effects included.
    pub error: f64,
}

/// What a fit expects of a row, in units of the response.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// Expected value.
    pub mean: f64,
    /// Variance of the expected value: of fixed and random effects jointly.
    pub variance: f64,
    /// Residual variance: a single new row varies by both.
    pub residual: f64,
}

impl Prediction {
    /// Variance of a single new row.
    pub fn single(&self) -> f64 {
        self.variance + self.residual
    }
}

/// Predictions of one group, its own factor worked out once.
#[derive(Debug, Clone)]
pub struct Predictor<'a> {
    fit: &'a Fit,
    /// Factor and scaled effects; none for a new group.
    group: Option<(GroupFactor, Vec<f64>)>,
    lambda: Vec<Vec<f64>>,
}

impl Predictor<'_> {
    /// Predicts a row of the group from its fixed and random columns.
    pub fn at(&self, fixed: &[f64], random: &[f64]) -> Prediction {
        let fit = self.fit;
        let mut row = fit.row(fixed);
        let scale = fit.frame.response_scale;
        let residual = fit.variance * scale * scale;
        let start = row.iter().skip(fit.frame.extra()).zip(&fit.frame.start);
        let mut mean = start.map(|(cell, effect)| cell * effect).sum::<f64>() + scale * dot(&row, &fit.solution);
        // Lambda' z, and for a known group what its own rows leave of it.
        let mut shares = vec![0.0; fit.frame.random];
        for (line, value) in self.lambda.iter().zip(random) {
            shares.iter_mut().zip(line).for_each(|(share, cell)| *share += cell * value);
        }
        if let Some((factor, effects)) = &self.group {
            let scaled = random.iter().zip(&fit.frame.random_scale).map(|(value, own)| value / own);
            mean += scale * scaled.zip(effects).map(|(value, effect)| value * effect).sum::<f64>();
            shares = solve_square(&factor.lower, &shares);
            for (cell, reduced) in row.iter_mut().zip(factor.reduced.chunks_exact(fit.frame.random)) {
                *cell -= dot(reduced, &shares);
            }
        }
        forward(&fit.factor, &mut row);
        Prediction { mean, variance: residual * (dot(&shares, &shares) + dot(&row, &row)), residual }
    }
}

impl Fit {
    /// Fixed effects, one per given column; 0 for a column that was left out.
    pub fn beta(&self) -> Vec<f64> {
        let scale = self.frame.response_scale;
        let fixed = self.solution.iter().skip(self.frame.extra());
        let effects: Vec<f64> =
            fixed.zip(&self.frame.start).map(|(effect, start)| effect.mul_add(scale, *start)).collect();
        self.frame.to_given(&effects)
    }

    /// Covariance of the fixed effects, row after row; 0 for a column that was left out.
    pub fn beta_covariance(&self) -> Vec<Vec<f64>> {
        let size = self.frame.fixed;
        let unit = |at: usize| (0..size).map(|place| if place == at { 1.0 } else { 0.0 }).collect::<Vec<f64>>();
        let halves: Vec<Vec<f64>> = (0..size)
            .map(|at| {
                let mut row = self.row(&unit(at));
                forward(&self.factor, &mut row);
                row
            })
            .collect();
        self.covariance(&halves)
    }

    /// Covariance of a group's random effects, row after row.
    pub fn group_covariance(&self) -> Vec<Vec<f64>> {
        self.covariance(&self.lambda_rows())
    }

    /// Sigma squared times the products of all pairs of rows.
    fn covariance(&self, halves: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let variance = self.sigma().powi(2);
        halves.iter().map(|a| halves.iter().map(|b| variance * dot(a, b)).collect()).collect()
    }

    /// Standard deviation of each crossed factor's effects.
    pub fn crossed_sd(&self) -> Vec<f64> {
        let sigma = self.sigma();
        self.theta.iter().skip(self.frame.places.len()).map(|theta| theta * sigma).collect()
    }

    /// Expected random effects of a group, one per random column; `None` for an unknown group.
    pub fn group_effects(&self, label: usize) -> Option<Vec<f64>> {
        let (_, effects) = self.group(label)?;
        let scale = self.frame.response_scale;
        Some(effects.iter().zip(&self.frame.random_scale).map(|(effect, own)| effect * scale / own).collect())
    }

    /// Covariance of a group's random effects, the fixed effects taken as known; `None` for an unknown group.
    pub fn group_effects_covariance(&self, label: usize) -> Option<Vec<Vec<f64>>> {
        let (factor, _) = self.group(label)?;
        let halves: Vec<Vec<f64>> = self.lambda_rows().iter().map(|row| solve_square(&factor.lower, row)).collect();
        Some(self.covariance(&halves))
    }

    /// Effects of the levels of a crossed factor, counted from 0, with their standard errors.
    pub fn crossed_effects(&self, factor: usize) -> Vec<Effect> {
        let skipped = self.frame.crossed.iter().take(factor).map(Vec::len).sum::<usize>();
        let theta = self.theta.iter().skip(self.frame.places.len()).nth(factor).copied().unwrap_or(0.0);
        let labels = self.frame.crossed.get(factor).map(Vec::as_slice).unwrap_or_default();
        let scale = theta * self.frame.response_scale;
        let effects = self.solution.iter().skip(skipped);
        let effect = |(at, (label, value)): (usize, (&usize, &f64))| {
            let mut unit = vec![0.0; self.solution.len()];
            if let Some(cell) = unit.get_mut(skipped + at) {
                *cell = 1.0;
            }
            forward(&self.factor, &mut unit);
            let error = self.variance.sqrt() * dot(&unit, &unit).sqrt() * scale;
            Effect { label: *label, value: value * scale, error }
        };
        labels.iter().zip(effects).enumerate().map(effect).collect()
    }

    /// Predicts a row of a known group, or of a new one; crossed effects count as zero.
    ///
    /// `fixed` and `random` are the row's columns. For a group without rows the random effects add their
    /// whole variance. An unknown label gives the same answer as `None`.
    pub fn predict(&self, group: Option<usize>, fixed: &[f64], random: &[f64]) -> Prediction {
        self.predictor(group).at(fixed, random)
    }

    /// Prepares predictions of many rows of one group; see [`Fit::predict`].
    pub fn predictor(&self, group: Option<usize>) -> Predictor<'_> {
        Predictor { fit: self, group: group.and_then(|label| self.group(label)), lambda: self.lambda_rows() }
    }

    /// The row of crossed (zero) and orthonormal columns of given fixed columns.
    pub(super) fn row(&self, fixed: &[f64]) -> Vec<f64> {
        let mut row = vec![0.0; self.frame.extra()];
        row.extend(self.frame.to_orthonormal(fixed));
        row
    }

    /// Rows of Lambda, of given columns.
    fn lambda_rows(&self) -> Vec<Vec<f64>> {
        let mut rows = vec![vec![0.0; self.frame.random]; self.frame.random];
        for ((row, column), value) in self.frame.places.iter().zip(self.theta()) {
            if let Some(cell) = rows.get_mut(*row).and_then(|line| line.get_mut(*column)) {
                *cell = value;
            }
        }
        rows
    }

    /// Factor and scaled random effects of a group.
    pub(super) fn group(&self, label: usize) -> Option<(GroupFactor, Vec<f64>)> {
        let at = self.frame.groups.binary_search(&label).ok()?;
        let factor = group_factor(&self.frame, &self.products, &self.theta, at)?;
        let q = self.frame.random;
        let columns = factor.reduced.chunks_exact(q);
        let mut left = columns.clone().next_back()?.to_vec();
        for (reduced, effect) in columns.zip(&self.solution) {
            left.iter_mut().zip(reduced).for_each(|(cell, value)| *cell -= value * effect);
        }
        let packed: Vec<f64> = factor
            .lower
            .chunks_exact(q)
            .enumerate()
            .flat_map(|(row, line)| line.iter().take(row + 1))
            .copied()
            .collect();
        backward(&packed, &mut left);
        let mut effects = vec![0.0; q];
        for ((row, column), value) in self.frame.places.iter().zip(&self.theta) {
            if let (Some(cell), Some(own)) = (effects.get_mut(*row), left.get(*column)) {
                *cell += value * own;
            }
        }
        Some((factor, effects))
    }

    /// Scaled effects of all groups, then of crossed and fixed columns with the crossed ones unscaled.
    pub(super) fn all_effects(&self) -> (Vec<Vec<f64>>, Vec<f64>) {
        let groups = self.frame.groups.iter();
        let groups = groups.map(|label| self.group(*label).map(|found| found.1).unwrap_or_default()).collect();
        let scales = self.frame.scales(&self.theta);
        (groups, self.solution.iter().zip(scales).map(|(effect, scale)| effect * scale).collect())
    }
}

/// Solves `lower x = right` for a square lower factor, row after row.
fn solve_square(lower: &[f64], right: &[f64]) -> Vec<f64> {
    let mut solved: Vec<f64> = Vec::with_capacity(right.len());
    for (row, (line, value)) in lower.chunks_exact(right.len().max(1)).zip(right).enumerate() {
        let before = dot(line, &solved);
        solved.push((value - before) / line.get(row).copied().unwrap_or(f64::NAN));
    }
    solved
}
