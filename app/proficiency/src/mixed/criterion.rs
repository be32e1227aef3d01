//! The profiled likelihood criterion of a mixed fit at a given covariance factor, and what it leaves behind.
//!
//! Formulas: Bates, Maechler, Bolker and Walker (2015), Journal of Statistical Software 67(1), section 3,
//! worked per group. With L L' = Lambda' Z'Z Lambda + I and R = L^-1 Lambda' Z'[W | X | y] of each group,
//! one Cholesky factor of [W | X | y]'[W | X | y] + diag(I, 0, 0) - sum of R'R holds everything else:
//! the factor of the crossed effects, of the fixed effects, and as its last pivot the penalised residual
//! sum of squares.
#![allow(clippy::needless_range_loop, reason = "cells of small square arrays, of a size known when compiling")]

use super::Criterion;
use super::design::{Frame, Products};

/// Products of diagonals are turned into a logarithm before they pass this.
const LARGE: f64 = 1e150;

/// Room that evaluations use again and again.
#[derive(Debug, Clone, Default)]
pub(super) struct Scratch {
    /// Packed lower triangle of the other columns; after an evaluation, its Cholesky factor.
    pub factor: Vec<f64>,
    reduced: Vec<f64>,
    scale: Vec<f64>,
    theta: Vec<f64>,
    slope: Slope,
}

/// Room for the slope of the criterion.
#[derive(Debug, Clone, Default)]
struct Slope {
    /// What the factor was made of.
    whole: Vec<f64>,
    /// Derivative of the criterion in the cells of `whole`, square.
    weight: Vec<f64>,
    row: Vec<f64>,
    projected: Vec<f64>,
}

/// One group at a covariance factor.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct GroupFactor {
    /// Lower Cholesky factor of Lambda' Z'Z Lambda + I, row after row, square.
    pub lower: Vec<f64>,
    /// R, column after column.
    pub reduced: Vec<f64>,
}

/// Parts of the criterion, all in scaled columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parts {
    /// Logarithm of the determinant of the random part.
    pub log_random: f64,
    /// Logarithm of the determinant of the fixed part, scaled columns.
    pub log_fixed: f64,
    /// Penalised residual sum of squares, scaled response.
    pub squares: f64,
}

impl Parts {
    /// The criterion: -2 log (restricted) likelihood, on the scale of the given columns and response.
    pub(super) fn criterion(&self, frame: &Frame, kind: Criterion) -> f64 {
        let (n, p) = (frame.rows as f64, frame.kept.len() as f64);
        let squares = self.squares.ln() + 2.0 * frame.response_scale.ln();
        let fit = |df: f64| df * (1.0 + std::f64::consts::TAU.ln() + squares - df.ln());
        match kind {
            Criterion::Ml => self.log_random + fit(n),
            Criterion::Reml => self.log_random + self.log_fixed + 2.0 * frame.log_triangle() + fit(n - p),
        }
    }
}

/// Evaluates at a covariance factor of scaled random columns; `None` where it cannot be factored.
///
/// No memory is taken after the first call with the same scratch.
pub(super) fn evaluate(frame: &Frame, products: &Products, theta: &[f64], scratch: &mut Scratch) -> Option<Parts> {
    scratch.theta.clear();
    scratch.theta.extend_from_slice(theta);
    let columns = frame.columns();
    scratch.scale.clear();
    scratch.scale.extend(frame.scales(theta));
    scratch.factor.clear();
    scratch.factor.extend_from_slice(&products.base);
    let extra = frame.extra();
    if extra > 0 {
        let mut rest = scratch.factor.as_mut_slice();
        for (row, own) in scratch.scale.iter().enumerate() {
            let (line, after) = rest.split_at_mut_checked(row + 1)?;
            line.iter_mut().zip(&scratch.scale).for_each(|(cell, other)| *cell *= own * other);
            if row < extra
                && let Some(diagonal) = line.last_mut()
            {
                *diagonal += 1.0;
            }
            rest = after;
        }
    }
    let log_groups = match frame.random {
        1 => sweep::<1>(frame, products, scratch),
        2 => sweep::<2>(frame, products, scratch),
        3 => sweep::<3>(frame, products, scratch),
        4 => sweep::<4>(frame, products, scratch),
        _ => None,
    }?;
    scratch.slope.whole.clone_from(&scratch.factor);
    factor(&mut scratch.factor)?;
    let mut logs = (0.0, 0.0);
    let mut squares = f64::NAN;
    for (row, line) in lines(&scratch.factor).enumerate() {
        let pivot = line.last()?;
        match row {
            _ if row < extra => logs.0 += pivot.ln(),
            _ if row + 1 < columns => logs.1 += pivot.ln(),
            _ => squares = pivot * pivot,
        }
    }
    let parts = Parts { log_random: 2.0 * (log_groups + logs.0), log_fixed: 2.0 * logs.1, squares };
    (parts.log_random.is_finite() && parts.log_fixed.is_finite() && parts.squares.is_finite()).then_some(parts)
}

/// Rows of a packed lower triangle.
pub(super) fn lines(packed: &[f64]) -> impl Iterator<Item = &[f64]> {
    let mut rest = packed;
    (1..).map_while(move |length| {
        let (line, after) = rest.split_at_checked(length)?;
        rest = after;
        Some(line)
    })
}

/// Turns a packed symmetric matrix into its lower Cholesky factor; `None` unless it is positive definite.
pub(super) fn factor(packed: &mut [f64]) -> Option<()> {
    let mut start = 0;
    let mut row = 0;
    while start < packed.len() {
        let (before, from) = packed.split_at_mut_checked(start)?;
        let line = from.get_mut(..=row)?;
        for (column, above) in lines(before).enumerate() {
            let (left, right) = line.split_at_mut_checked(column)?;
            let sum: f64 = left.iter().zip(above).map(|(a, b)| a * b).sum();
            let cell = right.first_mut()?;
            *cell = (*cell - sum) / above.last()?;
        }
        let (last, left) = line.split_last_mut()?;
        let pivot = *last - left.iter().map(|value| value * value).sum::<f64>();
        if pivot <= 0.0 || !pivot.is_finite() {
            return None;
        }
        *last = pivot.sqrt();
        row += 1;
        start += row;
    }
    Some(())
}

/// The factor from its parameters, zero above the diagonal.
pub(super) fn lambda<const Q: usize>(frame: &Frame, theta: &[f64]) -> [[f64; Q]; Q] {
    let mut lambda = [[0.0; Q]; Q];
    for ((row, column), value) in frame.places.iter().zip(theta) {
        if let Some(cell) = lambda.get_mut(*row).and_then(|line| line.get_mut(*column)) {
            *cell = *value;
        }
    }
    lambda
}

/// Takes R'R of every group out of the other columns' products; returns the sum of ln |L|.
fn sweep<const Q: usize>(frame: &Frame, products: &Products, scratch: &mut Scratch) -> Option<f64> {
    let columns = frame.columns();
    let lambda = lambda::<Q>(frame, &scratch.theta);
    scratch.reduced.resize(columns * Q, 0.0);
    let mut log = 0.0;
    let mut product = 1.0_f64;
    for group in products.groups.chunks_exact(Q * (Q + columns)) {
        let Reduced { lower, .. } = reduce::<Q>(&lambda, &scratch.scale, group, &mut scratch.reduced)?;
        for (at, line) in lower.iter().enumerate() {
            product *= line.get(at)?;
        }
        if product > LARGE {
            log += product.ln();
            product = 1.0;
        }
        let (reduced, _) = scratch.reduced.as_chunks::<Q>();
        let mut rest = scratch.factor.as_mut_slice();
        for (at, own) in reduced.iter().enumerate() {
            let (line, after) = rest.split_at_mut_checked(at + 1)?;
            for (cell, other) in line.iter_mut().zip(reduced) {
                let mut sum = 0.0;
                for k in 0..Q {
                    sum += own[k] * other[k];
                }
                *cell -= sum;
            }
            rest = after;
        }
    }
    Some(log + product.ln())
}

/// Small squares of one group: L, and Z'Z Lambda.
struct Reduced<const Q: usize> {
    lower: [[f64; Q]; Q],
    half: [[f64; Q]; Q],
}

/// Works out L and R of one group from its products.
fn reduce<const Q: usize>(
    lambda: &[[f64; Q]; Q],
    scale: &[f64],
    group: &[f64],
    reduced: &mut [f64],
) -> Option<Reduced<Q>> {
    let (cells, _) = group.as_chunks::<Q>();
    let (own, others) = cells.split_at_checked(Q)?;
    let own: &[[f64; Q]; Q] = own.try_into().ok()?;
    let mut half = [[0.0; Q]; Q];
    for j in 0..Q {
        for k in 0..Q {
            for l in k..Q {
                half[j][k] += own[j][l] * lambda[l][k];
            }
        }
    }
    let mut lower = [[0.0; Q]; Q];
    for i in 0..Q {
        for k in 0..=i {
            let mut sum = if i == k { 1.0 } else { 0.0 };
            for j in i..Q {
                sum += lambda[j][i] * half[j][k];
            }
            for l in 0..k {
                sum -= lower[i][l] * lower[k][l];
            }
            lower[i][k] = if i == k { sum.sqrt() } else { sum / lower[k][k] };
        }
    }
    let mut inverse = [0.0; Q];
    for k in 0..Q {
        inverse[k] = 1.0 / lower[k][k];
    }
    let (reduced, _) = reduced.as_chunks_mut::<Q>();
    for ((out, cells), scale) in reduced.iter_mut().zip(others).zip(scale) {
        for k in 0..Q {
            let mut sum = 0.0;
            for j in k..Q {
                sum += lambda[j][k] * cells[j];
            }
            sum *= scale;
            for l in 0..k {
                sum -= lower[k][l] * out[l];
            }
            out[k] = sum * inverse[k];
        }
    }
    Some(Reduced { lower, half })
}

/// Evaluates the criterion and its slope in every covariance parameter.
///
/// With P = Z'V^-1 [W | X | y] of each group and Omega the derivative of the criterion in the cells of the
/// reduced products, the slope in Lambda is 2 sum Z'Z Lambda (L L')^-1 - 2 (sum P Omega P') Lambda.
pub(super) fn slope(
    frame: &Frame,
    products: &Products,
    kind: Criterion,
    theta: &[f64],
    scratch: &mut Scratch,
    slope: &mut Vec<f64>,
) -> Option<f64> {
    let parts = evaluate(frame, products, theta, scratch)?;
    weigh(frame, kind, parts.squares, scratch)?;
    slope.clear();
    match frame.random {
        1 => sweep_slope::<1>(frame, products, scratch, slope),
        2 => sweep_slope::<2>(frame, products, scratch, slope),
        3 => sweep_slope::<3>(frame, products, scratch, slope),
        4 => sweep_slope::<4>(frame, products, scratch, slope),
        _ => None,
    }?;
    // Crossed factors scale rows and columns of the reduced products.
    let columns = frame.columns();
    let mut start = 0;
    for (labels, theta) in frame.crossed.iter().zip(theta.iter().skip(frame.places.len())) {
        let mut sum = 0.0;
        for at in start..start + labels.len() {
            for other in 0..columns {
                let (low, high) = (at.min(other), at.max(other));
                let cell = scratch.slope.whole.get(high * (high + 1) / 2 + low)? - if at == other { 1.0 } else { 0.0 };
                sum += cell * scratch.slope.weight.get(at * columns + other)?;
            }
        }
        slope.push(if *theta == 0.0 { 0.0 } else { 2.0 * sum / theta });
        start += labels.len();
    }
    Some(parts.criterion(frame, kind))
}

/// Fills in the derivative of the criterion in the cells of the reduced products.
fn weigh(frame: &Frame, kind: Criterion, squares: f64, scratch: &mut Scratch) -> Option<()> {
    let columns = frame.columns();
    let (n, p) = (frame.rows as f64, frame.kept.len() as f64);
    let (logs, df) = match kind {
        Criterion::Ml => (frame.extra(), n),
        Criterion::Reml => (columns - 1, n - p),
    };
    let Slope { weight, row, .. } = &mut scratch.slope;
    weight.clear();
    weight.resize(columns * columns, 0.0);
    // The residual sum of squares: minimal over all effects, so its slope needs the effects alone.
    row.clear();
    row.extend(lines(&scratch.factor).nth(columns - 1)?.iter().take(columns - 1));
    backward(&scratch.factor, row);
    row.iter_mut().for_each(|cell| *cell = -*cell);
    row.push(1.0);
    add_square(weight, row, df / squares);
    // The logarithms of the leading determinant: its inverse, one column of the inverse factor at a time.
    for at in 0..logs {
        row.clear();
        row.resize(logs, 0.0);
        *row.get_mut(at)? = 1.0;
        forward(scratch.factor.get(..logs * (logs + 1) / 2)?, row);
        backward(scratch.factor.get(..logs * (logs + 1) / 2)?, row);
        let line = weight.get_mut(at * columns..(at + 1) * columns)?;
        line.iter_mut().zip(row.iter()).for_each(|(cell, value)| *cell += value);
    }
    Some(())
}

/// Adds `share` times the products of all pairs of `values` to a square.
fn add_square(square: &mut [f64], values: &[f64], share: f64) {
    for (line, own) in square.chunks_exact_mut(values.len()).zip(values) {
        line.iter_mut().zip(values).for_each(|(cell, other)| *cell += share * own * other);
    }
}

/// Slope in the leading parameters.
fn sweep_slope<const Q: usize>(
    frame: &Frame,
    products: &Products,
    scratch: &mut Scratch,
    slope: &mut Vec<f64>,
) -> Option<()> {
    let columns = frame.columns();
    let lambda = lambda::<Q>(frame, &scratch.theta);
    let mut own = [[0.0; Q]; Q];
    let mut fit = [[0.0; Q]; Q];
    scratch.slope.projected.resize(columns * Q, 0.0);
    for group in products.groups.chunks_exact(Q * (Q + columns)) {
        let Reduced { lower, half } = reduce::<Q>(&lambda, &scratch.scale, group, &mut scratch.reduced)?;
        // Z'Z Lambda L^-T, then its product with L^-1.
        let mut turned = half;
        for line in &mut turned {
            for k in 0..Q {
                for l in 0..k {
                    line[k] -= lower[k][l] * line[l];
                }
                line[k] /= lower[k][k];
            }
        }
        let mut both = turned;
        for line in &mut both {
            for k in (0..Q).rev() {
                for l in k + 1..Q {
                    line[k] -= lower[l][k] * line[l];
                }
                line[k] /= lower[k][k];
            }
        }
        for j in 0..Q {
            for k in 0..Q {
                own[j][k] += both[j][k];
            }
        }
        // P, column after column: what the group's own effects leave of the products.
        let (reduced, _) = scratch.reduced.as_chunks::<Q>();
        let (cells, _) = group.as_chunks::<Q>();
        let (_, others) = cells.split_at_checked(Q)?;
        let (projected, _) = scratch.slope.projected.as_chunks_mut::<Q>();
        let given = others.iter().zip(&scratch.scale).zip(reduced);
        for (out, ((cells, scale), reduced)) in projected.iter_mut().zip(given) {
            for j in 0..Q {
                out[j] = cells[j] * scale;
                for k in 0..Q {
                    out[j] -= turned[j][k] * reduced[k];
                }
            }
        }
        let weights = scratch.slope.weight.chunks_exact(columns);
        let (projected, _) = scratch.slope.projected.as_chunks::<Q>();
        for (one, weights) in projected.iter().zip(weights) {
            let mut sum = [0.0; Q];
            for (other, weight) in projected.iter().zip(weights) {
                for k in 0..Q {
                    sum[k] += weight * other[k];
                }
            }
            for j in 0..Q {
                for k in 0..Q {
                    fit[j][k] += one[j] * sum[k];
                }
            }
        }
    }
    for (row, column) in &frame.places {
        let mut cell = *own.get(*row)?.get(*column)?;
        for k in 0..Q {
            cell -= fit.get(*row)?[k] * lambda[k].get(*column)?;
        }
        slope.push(2.0 * cell);
    }
    Some(())
}

/// L and R of the group in place `at`, at a covariance factor of scaled random columns.
pub(super) fn group_factor(frame: &Frame, products: &Products, theta: &[f64], at: usize) -> Option<GroupFactor> {
    fn of<const Q: usize>(frame: &Frame, products: &Products, theta: &[f64], at: usize) -> Option<GroupFactor> {
        let group = products.groups.chunks_exact(Q * (Q + frame.columns())).nth(at)?;
        let scale: Vec<f64> = frame.scales(theta).collect();
        let mut reduced = vec![0.0; frame.columns() * Q];
        let Reduced { lower, .. } = reduce::<Q>(&lambda(frame, theta), &scale, group, &mut reduced)?;
        Some(GroupFactor { lower: lower.concat(), reduced })
    }
    match frame.random {
        1 => of::<1>(frame, products, theta, at),
        2 => of::<2>(frame, products, theta, at),
        3 => of::<3>(frame, products, theta, at),
        4 => of::<4>(frame, products, theta, at),
        _ => None,
    }
}

/// Solves `lower x = right` in place; `lower` packed.
pub(super) fn forward(lower: &[f64], right: &mut [f64]) {
    for (row, line) in lines(lower).enumerate() {
        let (Some((solved, rest)), Some((diagonal, left))) = (right.split_at_mut_checked(row), line.split_last())
        else {
            return;
        };
        let sum: f64 = left.iter().zip(solved.iter()).map(|(a, b)| a * b).sum();
        if let Some(cell) = rest.first_mut() {
            *cell = (*cell - sum) / diagonal;
        }
    }
}

/// Solves `lower' x = right` in place; `lower` packed.
pub(super) fn backward(lower: &[f64], right: &mut [f64]) {
    for row in (0..right.len()).rev() {
        let Some((diagonal, left)) = lines(lower).nth(row).and_then(<[f64]>::split_last) else { return };
        let Some((above, rest)) = right.split_at_mut_checked(row) else { return };
        let Some(cell) = rest.first_mut() else { return };
        *cell /= diagonal;
        above.iter_mut().zip(left).for_each(|(value, weight)| *value -= weight * *cell);
    }
}
