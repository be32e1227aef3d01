//! The curve of a given form nearest to what was measured: nonlinear least squares.
//!
//! Levenberg (1944), Quarterly of Applied Mathematics 2:164-168, and Marquardt (1963), SIAM Journal on
//! Applied Mathematics 11:431-441; each step is solved by QR of the scaled slopes, never by their squares,
//! and the damping follows Nielsen (1999), report IMM-REP-1999-05. Standard errors and intervals by the
//! first-order (delta) method: Seber and Wild (1989), Nonlinear Regression, chapter 5.

use nalgebra::{DMatrix, DVector};

use crate::linear::Prediction;
use crate::number::{Number, Sloped};

/// Most steps from one start.
const MOST_STEPS: usize = 1_500;
/// Share of the scaled parameters below which a step no longer counts.
const SMALL_STEP: f64 = 1e-14;

/// The form of a curve: how a value follows from where it is measured and from the parameters.
pub trait Curve {
    /// Returns how many parameters the curve has.
    fn parameters(&self) -> usize;
    /// Returns the curve's value at `x` (one or more predictors) for `parameters`.
    fn at<N: Number>(&self, x: &[f64], parameters: &[N]) -> N;
}

/// Why no curve was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// No more points than parameters.
    #[error("{points} points cannot tell {parameters} parameters and their error apart")]
    TooFew {
        /// Points given.
        points: usize,
        /// Parameters of the curve.
        parameters: usize,
    },
    /// The rows of predictors and the response do not pair up, or the start has the wrong length.
    #[error("{found} values where {expected} are needed")]
    Lengths {
        /// Values found.
        found: usize,
        /// Values needed.
        expected: usize,
    },
    /// A value given is not finite, or the curve has no value at a point for the start.
    #[error("a value is not finite, or the curve has no value at the start")]
    NotFinite,
    /// The search ended where the points do not tell the parameters apart.
    #[error("the points do not tell the parameters apart")]
    NotIdentified {
        /// Where the search ended.
        parameters: Vec<f64>,
        /// Sum of the squared residuals there.
        sum_of_squares: f64,
    },
    /// The search had not settled after the most steps allowed.
    #[error("the search did not settle")]
    NotSettled {
        /// Where the search ended.
        parameters: Vec<f64>,
        /// Sum of the squared residuals there.
        sum_of_squares: f64,
    },
}

/// A fitted curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The parameters with the least sum of squares found.
    pub parameters: Vec<f64>,
    /// Standard errors of the parameters, at least 0.
    pub standard_errors: Vec<f64>,
    /// Covariance of the parameters, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// Sum of the squared residuals.
    pub sum_of_squares: f64,
    /// Root of the sum of squares over the degrees of freedom.
    pub residual_sd: f64,
    /// Points minus parameters, at least 1.
    pub degrees_of_freedom: usize,
    /// Steps taken.
    pub steps: usize,
}

impl Fit {
    /// Reads the curve off at `x`, with errors by the delta method; `None` when a result is not finite.
    pub fn predict<C: Curve>(&self, curve: &C, x: &[f64]) -> Option<Prediction> {
        let slopes = slopes_at(curve, x, &self.parameters);
        let mean = curve.at(x, &self.parameters);
        let variance: f64 = (slopes.iter().zip(&self.covariance))
            .map(|(slope, line)| slope * line.iter().zip(&slopes).map(|(c, other)| c * other).sum::<f64>())
            .sum();
        Prediction::new(mean, variance, self.residual_sd, self.degrees_of_freedom)
    }
}

fn slopes_at<C: Curve>(curve: &C, x: &[f64], parameters: &[f64]) -> Vec<f64> {
    let mut sloped: Vec<Sloped> = parameters.iter().copied().map(Sloped::constant).collect();
    (0..parameters.len())
        .map(|along| {
            for (place, number) in sloped.iter_mut().enumerate() {
                number.slope = f64::from(u8::from(place == along));
            }
            curve.at(x, &sloped).slope
        })
        .collect()
}

/// The points of one search, checked.
struct Points<'a, C> {
    curve: &'a C,
    x: &'a [Vec<f64>],
    y: &'a [f64],
}

impl<C: Curve> Points<'_, C> {
    /// Measured minus curve; `None` where a value is not finite.
    fn residuals(&self, parameters: &[f64]) -> Option<DVector<f64>> {
        let residuals = self.x.iter().zip(self.y).map(|(x, y)| y - self.curve.at(x, parameters));
        let residuals = DVector::from_iterator(self.y.len(), residuals);
        residuals.norm_squared().is_finite().then_some(residuals)
    }

    /// Slopes of the curve along each parameter, a row for each point; `None` where one is not finite.
    fn slopes(&self, parameters: &[f64]) -> Option<DMatrix<f64>> {
        let rows = self.x.iter().flat_map(|x| slopes_at(self.curve, x, parameters));
        let slopes = DMatrix::from_row_iterator(self.y.len(), parameters.len(), rows);
        slopes.iter().all(|slope| slope.is_finite()).then_some(slopes)
    }
}

/// Where a search stands.
struct Standing {
    parameters: Vec<f64>,
    residuals: DVector<f64>,
    squares: f64,
    /// Triangle of the scaled slopes, and the residuals along it.
    triangle: DMatrix<f64>,
    along: DVector<f64>,
    /// Length of each column of slopes, never shrinking from step to step (Moré 1978).
    scale: Vec<f64>,
}

impl Standing {
    fn new<C: Curve>(points: &Points<C>, parameters: Vec<f64>, before: Option<&[f64]>) -> Option<Self> {
        let residuals = points.residuals(&parameters)?;
        let mut slopes = points.slopes(&parameters)?;
        let scale: Vec<f64> = (slopes.column_iter().enumerate())
            .map(|(place, column)| {
                let length = column.norm().max(before.and_then(|all| all.get(place).copied()).unwrap_or(0.0));
                if length > 0.0 && length.is_finite() { length } else { 1.0 }
            })
            .collect();
        for (mut column, scale) in slopes.column_iter_mut().zip(&scale) {
            column /= *scale;
        }
        let decomposition = slopes.qr();
        let along = decomposition.q().transpose() * &residuals;
        Some(Self {
            squares: residuals.norm_squared(),
            triangle: decomposition.r(),
            along,
            parameters,
            residuals,
            scale,
        })
    }

    /// The damped step in scaled parameters; `None` when it cannot be solved.
    fn step(&self, damping: f64) -> Option<DVector<f64>> {
        let p = self.scale.len();
        let mut stacked = DMatrix::zeros(2 * p, p);
        stacked.view_mut((0, 0), (p, p)).copy_from(&self.triangle);
        for place in 0..p {
            if let Some(entry) = stacked.get_mut((p + place, place)) {
                *entry = damping.sqrt();
            }
        }
        let mut right = DVector::zeros(2 * p);
        right.rows_mut(0, p).copy_from(&self.along);
        let decomposition = stacked.qr();
        let step = decomposition.r().solve_upper_triangular(&(decomposition.q().transpose() * right))?;
        step.iter().all(|value| value.is_finite()).then_some(step)
    }

    fn moved(&self, step: &DVector<f64>) -> Vec<f64> {
        let steps = step.iter().zip(&self.scale).map(|(step, scale)| step / scale);
        self.parameters.iter().zip(steps).map(|(value, step)| value + step).collect()
    }

    fn scaled_length(&self) -> f64 {
        let squares = self.parameters.iter().zip(&self.scale).map(|(value, scale)| (value * scale).powi(2));
        squares.sum::<f64>().sqrt()
    }
}

/// Fits `curve` to the points (`x`, `y`), searching downhill from `start`.
///
/// # Errors
/// When there are no more points than parameters, lengths differ, a value is not finite, the search does
/// not settle, or it settles where the points do not tell the parameters apart.
pub fn fit<C: Curve>(curve: &C, x: &[Vec<f64>], y: &[f64], start: &[f64]) -> Result<Fit, Error> {
    let p = curve.parameters();
    for (found, expected) in [(x.len(), y.len()), (start.len(), p)] {
        if found != expected {
            return Err(Error::Lengths { found, expected });
        }
    }
    if p == 0 || y.len() <= p {
        return Err(Error::TooFew { points: y.len(), parameters: p });
    }
    if !x.iter().flatten().chain(y).chain(start).all(|value| value.is_finite()) {
        return Err(Error::NotFinite);
    }
    let points = Points { curve, x, y };
    let mut now = Standing::new(&points, start.to_vec(), None).ok_or(Error::NotFinite)?;
    let (mut damping, mut factor) = (1e-3, 2.0);
    let mut settled = false;
    let mut steps = 0;
    while steps < MOST_STEPS && !settled {
        steps += 1;
        let better = now.step(damping).and_then(|step| {
            let small = step.norm() <= SMALL_STEP * now.scaled_length();
            settled |= small;
            let parameters = now.moved(&step);
            let foreseen = now.along.norm_squared() - (&now.along - &now.triangle * &step).norm_squared();
            let residuals = points.residuals(&parameters)?;
            let gained = difference_of_squares(&now.residuals, &residuals);
            settled |= foreseen <= 1e-28 * now.squares && gained <= 0.0;
            (gained > 0.0 && foreseen > 0.0).then_some(())?;
            let next = Standing::new(&points, parameters, Some(&now.scale))?;
            Some((next, gained / foreseen))
        });
        if let Some((next, ratio)) = better {
            now = next;
            damping *= (1.0 - (2.0 * ratio - 1.0).powi(3)).clamp(1.0 / 3.0, 2.0);
            damping = damping.max(1e-30);
            factor = 2.0;
        } else {
            damping *= factor;
            factor *= 2.0;
            settled |= damping > 1e40;
        }
        settled |= now.squares == 0.0;
    }
    if !settled {
        return Err(Error::NotSettled { parameters: now.parameters, sum_of_squares: now.squares });
    }
    finish(&points, now, steps)
}

/// Returns how much smaller the second sum of squares is, without losing digits where they nearly agree.
fn difference_of_squares(before: &DVector<f64>, after: &DVector<f64>) -> f64 {
    before.iter().zip(after).map(|(before, after)| (before - after) * (before + after)).sum()
}

/// Takes undamped steps while they still shrink, then works out the errors.
fn finish<C: Curve>(points: &Points<C>, standing: Standing, steps: usize) -> Result<Fit, Error> {
    let parameters = standing.parameters.clone();
    let mut now = Standing::new(points, parameters, None).ok_or(Error::NotFinite)?;
    let mut last = f64::INFINITY;
    for _ in 0..60 {
        let Some(step) = now.step(0.0) else { break };
        if step.norm() >= last / 2.0 {
            break;
        }
        last = step.norm();
        let Some(next) = Standing::new(points, now.moved(&step), None) else { break };
        if next.squares > now.squares * (1.0 + 1e-10) {
            break;
        }
        now = next;
    }
    let p = now.scale.len();
    let not_identified = || Error::NotIdentified { parameters: now.parameters.clone(), sum_of_squares: now.squares };
    let largest = now.triangle.diagonal().amax();
    if now.triangle.diagonal().iter().any(|entry| entry.abs() <= 1e-14 * largest) {
        return Err(not_identified());
    }
    let inverse = now.triangle.solve_upper_triangular(&DMatrix::identity(p, p)).ok_or_else(not_identified)?;
    let degrees_of_freedom = points.y.len() - p;
    let variance = now.squares / degrees_of_freedom as f64;
    let entry = |row: usize, column: usize| -> f64 {
        let scales = now.scale.get(row).zip(now.scale.get(column)).map_or(1.0, |(one, other)| one * other);
        inverse.row(row).dot(&inverse.row(column)) / scales * variance
    };
    let covariance: Vec<Vec<f64>> = (0..p).map(|row| (0..p).map(|column| entry(row, column)).collect()).collect();
    if !covariance.iter().flatten().all(|value| value.is_finite()) {
        return Err(not_identified());
    }
    let standard_errors = (0..p).map(|place| entry(place, place).sqrt()).collect();
    Ok(Fit {
        standard_errors,
        covariance,
        sum_of_squares: now.squares,
        residual_sd: variance.sqrt(),
        degrees_of_freedom,
        steps,
        parameters: now.parameters,
    })
}

/// Fits from several starts and returns the fit with the least sum of squares, the first among equals.
///
/// # Errors
/// Those of [`fit`] from the last start when none leads to a fit; [`Error::NotFinite`] without any start.
pub fn fit_best<C: Curve>(curve: &C, x: &[Vec<f64>], y: &[f64], starts: &[Vec<f64>]) -> Result<Fit, Error> {
    let mut best: Result<Fit, Error> = Err(Error::NotFinite);
    for start in starts {
        let found = fit(curve, x, y, start);
        best = match (best, found) {
            (Ok(best), Ok(found)) if found.sum_of_squares < best.sum_of_squares => Ok(found),
            (Err(_), found) => found,
            (best, _) => best,
        };
    }
    best
}

/// Returns `start` and `more` starts spread about it: each parameter multiplied by up to `spread` (above 1) or
/// divided by it, evenly over the logarithms and the same for every call.
///
/// The points are those of a sequence of low discrepancy: Roberts's generalisation of the golden ratio
/// (2018); Niederreiter (1992), Random Number Generation and Quasi-Monte Carlo Methods, chapter 3.
pub fn starts_about(start: &[f64], more: u16, spread: f64) -> Vec<Vec<f64>> {
    // The root above 1 of g^(p+1) = g + 1.
    let p = start.len() as f64;
    let mut root = 2.0_f64;
    for _ in 0..64 {
        root = (1.0 + root).powf(1.0 / (p + 1.0));
    }
    let about = (1..=more).map(|number| {
        let mut step = 1.0;
        let shifted = start.iter().map(|value| {
            step /= root;
            let share = (0.5 + f64::from(number) * step).fract();
            value * spread.powf(2.0 * share - 1.0)
        });
        shifted.collect()
    });
    std::iter::once(start.to_vec()).chain(about).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// b1 * exp(b2 * x)
    struct Growth;

    impl Curve for Growth {
        fn parameters(&self) -> usize {
            2
        }
        fn at<N: Number>(&self, x: &[f64], b: &[N]) -> N {
            let x = N::constant(x.first().copied().unwrap_or(f64::NAN));
            match b {
                [b1, b2] => *b1 * (*b2 * x).exp(),
                _ => N::constant(f64::NAN),
            }
        }
    }

    fn rows(x: &[f64]) -> Vec<Vec<f64>> {
        x.iter().map(|x| vec![*x]).collect()
    }

    #[test]
    fn an_exact_curve_is_found_again() {
        let x = [0.0, 1.0, 2.0, 3.0, 5.0];
        let y = x.map(|x| 3.0 * (-0.4 * x).exp());
        let found = fit(&Growth, &rows(&x), &y, &[1.0, 0.1]).unwrap();
        assert!((found.parameters[0] - 3.0).abs() < 1e-12, "{found:?}");
        assert!((found.parameters[1] + 0.4).abs() < 1e-12, "{found:?}");
        assert!(found.sum_of_squares < 1e-24);
    }

    #[test]
    fn what_cannot_be_fitted_is_refused_with_a_reason() {
        let x = rows(&[1.0, 2.0, 3.0]);
        let y = [1.0, 2.0, 3.0];
        assert_eq!(fit(&Growth, &[], &[], &[1.0, 1.0]), Err(Error::TooFew { points: 0, parameters: 2 }));
        assert_eq!(fit(&Growth, &x, &y, &[1.0]), Err(Error::Lengths { found: 1, expected: 2 }));
        assert_eq!(fit(&Growth, &x, &y[..2], &[1.0, 1.0]), Err(Error::Lengths { found: 3, expected: 2 }));
        assert_eq!(fit(&Growth, &x, &[1.0, f64::NAN, 2.0], &[1.0, 1.0]), Err(Error::NotFinite));
        assert_eq!(fit(&Growth, &x, &y, &[1.0, 1e6]), Err(Error::NotFinite));
        let level = fit(&Growth, &x, &[0.0, 0.0, 0.0], &[0.0, 1.0]);
        assert!(matches!(level, Err(Error::NotIdentified { .. })), "{level:?}");
        assert_eq!(fit_best(&Growth, &x, &y, &[]), Err(Error::NotFinite));
    }

    #[test]
    fn starts_are_spread_on_both_sides() {
        let starts = starts_about(&[2.0, -3.0], 40, 10.0);
        assert_eq!(starts.len(), 41);
        assert_eq!(starts[0], [2.0, -3.0]);
        assert!(starts.iter().all(|start| (0.2..=20.0).contains(&start[0]) && (-30.0..=-0.3).contains(&start[1])));
        assert!(starts.iter().any(|start| start[0] > 10.0) && starts.iter().any(|start| start[0] < 0.4));
    }
}
