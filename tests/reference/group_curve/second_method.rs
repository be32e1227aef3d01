//! Student-t weights and penalised fits by another road than the crate's.
//!
//! The crate repeats weighted fits, each from products per group. Here nothing is weighted: for a given
//! covariance and sigma the fixed and random effects are those that make
//! sum of (nu + 1) sigma^2 ln(1 + r^2 / (nu sigma^2)) + |u|^2 least, found by Newton's method with its
//! exact second derivatives from a start of zero; the restricted likelihood is worked out from the whole
//! covariance matrix of all rows by a dense factorisation; and the covariance is where the slope of that
//! likelihood, taken by differences, is zero.

use nalgebra::{Cholesky, DMatrix, DVector};
use proficiency::mixed::{Criterion, Mixed, Rows, Structure};

const NU: f64 = 4.0;

/// Rows of a small group, made without a random source: wavy scatter, three rows far off.
struct Case {
    response: Vec<f64>,
    fixed: Vec<Vec<f64>>,
    group: Vec<usize>,
    random: Vec<Vec<f64>>,
}

impl Case {
    fn new() -> Self {
        let mut case = Self { response: Vec::new(), fixed: vec![Vec::new(); 3], group: Vec::new(), random: Vec::new() };
        for trainee in 0..6_u32 {
            for number in 1..=(6 + trainee) {
                let (i, n) = (f64::from(trainee), f64::from(number));
                let step = if number > 4 { 1.0 } else { 0.0 };
                let wave = (3.7 * i + 2.3 * n + 0.9 * i * n).sin() * 0.1 + (1.3 * i * i + 5.1 * n).cos() * 0.05;
                let own = 0.3 * (2.1 * i).sin() + 0.08 * (4.4 * i + 1.0).cos() * n.ln();
                let far = if (trainee * 7 + number) % 29 == 3 { 0.8 } else { 0.0 };
                case.response.push(8.5 - 0.2 * n.ln() + 0.1 * step + own + wave + far);
                case.fixed[0].push(1.0);
                case.fixed[1].push(n.ln());
                case.fixed[2].push(step);
                case.group.push(trainee as usize);
            }
        }
        case.random = case.fixed[..2].to_vec();
        case
    }

    fn rows(&self) -> Rows<'_> {
        Rows {
            response: &self.response,
            fixed: &self.fixed,
            group: &self.group,
            random: &self.random,
            structure: Structure::Full,
            crossed: &[],
        }
    }

    fn x(&self) -> DMatrix<f64> {
        DMatrix::from_fn(self.response.len(), self.fixed.len(), |row, column| self.fixed[column][row])
    }

    /// Z Lambda of all groups.
    fn z(&self, theta: &[f64]) -> DMatrix<f64> {
        let lambda = [[theta[0], 0.0], [theta[1], theta[2]]];
        let groups = self.group.iter().max().unwrap() + 1;
        DMatrix::from_fn(self.response.len(), 2 * groups, |row, column| {
            let own = self.group[row] == column / 2;
            if own { (0..2).map(|k| self.random[k][row] * lambda[k][column % 2]).sum() } else { 0.0 }
        })
    }

    /// Residuals at the effects that make the robust sum least; searched from `effects`, or near zero.
    fn residuals(&self, theta: &[f64], sigma: f64, effects: &mut Option<DVector<f64>>) -> DVector<f64> {
        let (x, z) = (self.x(), self.z(theta));
        let all = DMatrix::from_fn(x.nrows(), x.ncols() + z.ncols(), |row, column| {
            if column < x.ncols() { x[(row, column)] } else { z[(row, column - x.ncols())] }
        });
        let y = DVector::from_column_slice(&self.response);
        let penalty = |at: usize| if at < x.ncols() { 0.0 } else { 1.0 };
        let square = sigma * sigma;
        let value = |effects: &DVector<f64>| -> f64 {
            let r = &y - &all * effects;
            let rows: f64 = r.iter().map(|r| (NU + 1.0) * square * (r * r / (NU * square)).ln_1p()).sum();
            rows + effects.iter().enumerate().map(|(at, effect)| penalty(at) * effect * effect).sum::<f64>()
        };
        let effects =
            effects.get_or_insert_with(|| DVector::from_fn(all.ncols(), |at, _| 8.0 * (1.0 - penalty(at)) / 3.0));
        for _ in 0..500 {
            let r = &y - &all * &*effects;
            let first = r.map(|r| (NU + 1.0) * square * 2.0 * r / (NU * square + r * r));
            let second = r.map(|r| {
                let below = NU * square + r * r;
                2.0 * (NU + 1.0) * square * (NU * square - r * r) / (below * below)
            });
            let slope =
                -(all.transpose() * first) + DVector::from_fn(effects.len(), |at, _| 2.0 * penalty(at) * effects[at]);
            let bent = DMatrix::from_fn(all.nrows(), all.ncols(), |row, column| second[row] * all[(row, column)]);
            let mut curve = all.tr_mul(&bent);
            for at in 0..effects.len() {
                curve[(at, at)] += 2.0 * penalty(at);
            }
            // Far-off rows bend the sum the wrong way: more of the unit matrix until it is convex.
            let mut more = 0.0;
            let step = loop {
                let tried = &curve + DMatrix::identity(effects.len(), effects.len()) * more;
                if let Some(factor) = Cholesky::new(tried) {
                    break factor.solve(&slope);
                }
                more = if more == 0.0 { 1e-3 } else { more * 4.0 };
            };
            let before = value(effects);
            let mut share = 1.0;
            while value(&(&*effects - &step * share)) > before && share > 1e-9 {
                share *= 0.5;
            }
            *effects -= &step * share;
            if step.amax() < 1e-9 {
                break;
            }
        }
        &y - &all * &*effects
    }

    /// -2 log restricted likelihood with error variance sigma^2 / weight, sigma profiled, and that sigma^2;
    /// the sum of the weights' logarithms is left out as the check file says.
    fn dense(&self, theta: &[f64], weights: &DVector<f64>) -> (f64, f64) {
        let (x, z) = (self.x(), self.z(theta));
        let y = DVector::from_column_slice(&self.response);
        let v = &z * z.transpose() + DMatrix::from_diagonal(&weights.map(|weight| 1.0 / weight));
        let factor = Cholesky::new(v).unwrap();
        let inside = x.transpose() * factor.solve(&x);
        let beta = Cholesky::new(inside.clone()).unwrap().solve(&(x.transpose() * factor.solve(&y)));
        let r = &y - &x * beta;
        let df = (y.len() - x.ncols()) as f64;
        let square = r.dot(&factor.solve(&r)) / df;
        let log_v = 2.0 * factor.l().diagonal().map(f64::ln).sum() + weights.map(f64::ln).sum();
        let log_x = inside.determinant().ln();
        (log_v + log_x + df * (1.0 + (std::f64::consts::TAU * square).ln()), square)
    }
}

fn weights(residuals: &DVector<f64>, sigma: f64) -> DVector<f64> {
    residuals.map(|r| (NU + 1.0) / (NU + (r / sigma).powi(2)))
}

#[test]
fn a_dense_factorisation_gives_the_same_criterion() {
    let case = Case::new();
    let rows = Mixed::new(&case.rows()).unwrap();
    let ones = DVector::from_element(case.response.len(), 1.0);
    for theta in [[1.0, 0.0, 1.0], [2.0, -0.4, 0.3], [0.3, 0.2, 0.0], [0.0, 0.0, 0.7]] {
        let ours = rows.objective(Criterion::Reml, &theta).unwrap();
        let dense = case.dense(&theta, &ones).0;
        assert!((ours - dense).abs() < 1e-8, "{theta:?}: {ours} and {dense}");
    }
}

#[test]
fn student_weights_stand_where_a_direct_search_ends() {
    let case = Case::new();
    let robust = Mixed::new(&case.rows()).unwrap().fit_student(Criterion::Reml, NU).unwrap();
    let (theta, sigma) = (robust.fit.theta(), robust.fit.sigma());
    assert!(!robust.flagged.is_empty() && robust.flagged.len() < 8, "{:?}", robust.flagged);

    // Effects: the direct search over all of them ends at the same residuals.
    let direct = weights(&case.residuals(&theta, sigma, &mut None), sigma);
    for (row, (ours, theirs)) in robust.weights.iter().zip(direct.iter()).enumerate() {
        assert!((ours - theirs).abs() < 1e-5, "row {row}: {ours} and {theirs}");
    }
    // Sigma: what the dense likelihood gives at those weights.
    let (least, square) = case.dense(&theta, &direct);
    assert!((square.sqrt() / sigma - 1.0).abs() < 1e-5, "{} and {sigma}", square.sqrt());
    // Covariance: the dense likelihood is flat there, and higher all around.
    for at in 0..3 {
        let side = |offset: f64| {
            let mut moved = theta.clone();
            moved[at] += offset;
            case.dense(&moved, &direct).0
        };
        let slope = (side(1e-4) - side(-1e-4)) / 2e-4;
        assert!(slope.abs() < 1e-3, "slope {slope} in parameter {at}");
        assert!(side(0.05) > least && side(-0.05) > least, "parameter {at}");
    }
}

#[test]
fn a_search_from_elsewhere_meets_the_same_fixed_point() {
    // The fixed point by damped steps in covariance and sigma alone, never by the crate.
    let case = Case::new();
    let robust = Mixed::new(&case.rows()).unwrap().fit_student(Criterion::Reml, NU).unwrap();
    let mut theta = vec![1.0, 0.0, 1.0];
    let mut sigma = 0.2;
    let mut effects = None;
    for _ in 0..400 {
        let w = weights(&case.residuals(&theta, sigma, &mut effects), sigma);
        let slope: Vec<f64> = (0..3)
            .map(|at| {
                let side = |offset: f64| {
                    let mut moved = theta.clone();
                    moved[at] += offset;
                    case.dense(&moved, &w).0
                };
                (side(1e-4) - side(-1e-4)) / 2e-4
            })
            .collect();
        let moved = slope.iter().map(|cell| cell.abs()).fold(0.0, f64::max);
        let next = case.dense(&theta, &w).1.sqrt();
        let still = moved < 1e-4 && (next - sigma).abs() < 1e-8;
        sigma = next;
        if still {
            break;
        }
        for (cell, slope) in theta.iter_mut().zip(&slope) {
            *cell -= (0.06 * slope).clamp(-0.1, 0.1);
        }
    }
    for (ours, theirs) in robust.fit.theta().iter().zip(&theta) {
        assert!((ours - theirs).abs() < 2e-3, "{:?} and {theta:?}", robust.fit.theta());
    }
    assert!((robust.fit.sigma() / sigma - 1.0).abs() < 1e-4);
}
