//! Straight combinations of columns that single wild points cannot pull away.
//!
//! M-estimation: Huber (1964), Annals of Mathematical Statistics 35:73-101, by reweighted least squares from
//! the ordinary fit; the scale is the median distance from zero, divided by that of the normal distribution,
//! taken anew at each step. Standard errors: Huber (1981), Robust Statistics, section 7.6 (his first form).

use crate::linear::{self, Error, Intercept};
use crate::middle;

/// Median distance from zero of standard normal values.
const NORMAL_MEDIAN_DISTANCE: f64 = 0.674_489_750_196_081_7;
/// Most steps; a loss that rejects points may go round in a circle.
const MOST_STEPS: usize = 500;

/// How a point counts by its distance from the line, in scales.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Loss {
    /// Every point in full: ordinary least squares.
    Squares,
    /// In full up to `bend`, then by its distance only (Huber 1964; usual 1.345).
    Huber {
        /// Distance from which a point is held back.
        bend: f64,
    },
    /// Less and less, nothing from `reject` on (Tukey's bisquare; usual 4.685).
    Bisquare {
        /// Distance from which a point does not count.
        reject: f64,
    },
    /// As a sine, nothing from pi times `width` on (Andrews 1974; usual 1.339).
    Wave {
        /// Width of the sine.
        width: f64,
    },
    /// In three straight parts (Hampel 1974; usual 2, 4, 8).
    ThreePart {
        /// Distance from which a point is held back.
        bend: f64,
        /// Distance from which it counts less and less.
        fall: f64,
        /// Distance from which it does not count.
        reject: f64,
    },
    /// By exp(-`rate` times the distance) (Ramsay 1977; usual 0.3).
    Exponential {
        /// How fast the weight falls.
        rate: f64,
    },
    /// In full up to `reject`, then nothing (usual 2).
    Trimmed {
        /// Distance from which a point does not count.
        reject: f64,
    },
}

impl Loss {
    /// Returns the weight, 0 to 1, of a point `u` scales from the line.
    pub fn weight(self, u: f64) -> f64 {
        let u = u.abs();
        match self {
            Self::Squares => 1.0,
            Self::Huber { bend } => {
                if u <= bend {
                    1.0
                } else {
                    bend / u
                }
            }
            Self::Bisquare { reject } => {
                if u <= reject {
                    (1.0 - (u / reject).powi(2)).powi(2)
                } else {
                    0.0
                }
            }
            Self::Wave { width } => {
                let angle = u / width;
                if angle < f64::EPSILON {
                    1.0
                } else if angle <= std::f64::consts::PI {
                    angle.sin() / angle
                } else {
                    0.0
                }
            }
            Self::ThreePart { bend, fall, reject } => {
                if u <= bend {
                    1.0
                } else if u <= fall {
                    bend / u
                } else if u <= reject {
                    bend * (reject - u) / (reject - fall) / u
                } else {
                    0.0
                }
            }
            Self::Exponential { rate } => (-rate * u).exp(),
            Self::Trimmed { reject } => f64::from(u8::from(u <= reject)),
        }
    }

    /// Returns the slope of distance times weight at `u` scales from the line.
    fn slope(self, u: f64) -> f64 {
        let u = u.abs();
        match self {
            Self::Squares => 1.0,
            Self::Huber { bend } => f64::from(u8::from(u <= bend)),
            Self::Bisquare { reject } => {
                let share = (u / reject).powi(2);
                if u <= reject { (1.0 - share) * (1.0 - 5.0 * share) } else { 0.0 }
            }
            Self::Wave { width } => {
                if u <= width * std::f64::consts::PI {
                    (u / width).cos()
                } else {
                    0.0
                }
            }
            Self::ThreePart { bend, fall, reject } => {
                if u <= bend {
                    1.0
                } else if u <= fall || u > reject {
                    0.0
                } else {
                    -bend / (reject - fall)
                }
            }
            Self::Exponential { rate } => (-rate * u).exp() * (1.0 - rate * u),
            Self::Trimmed { reject } => f64::from(u8::from(u <= reject)),
        }
    }

    fn sound(self) -> bool {
        let above_zero = |value: f64| value.is_finite() && value > 0.0;
        match self {
            Self::Squares => true,
            Self::Huber { bend } => above_zero(bend),
            Self::Bisquare { reject } | Self::Trimmed { reject } => above_zero(reject),
            Self::Wave { width } => above_zero(width),
            Self::ThreePart { bend, fall, reject } => above_zero(bend) && fall >= bend && reject > fall,
            Self::Exponential { rate } => above_zero(rate),
        }
    }
}

/// A fit in which wild points count less.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// One for each column, the intercept first where there is one.
    pub coefficients: Vec<f64>,
    /// Standard errors of the coefficients, for many points; `None` where the weights leave nothing to tell
    /// them from.
    pub standard_errors: Option<Vec<f64>>,
    /// Typical distance of a point from the line, in the unit of the response; 0 when more than half of the
    /// points lie on it.
    pub scale: f64,
    /// Weight of each point, 0 to 1: a low one asks for a look at the point, which is never deleted.
    pub weights: Vec<f64>,
    /// Measured minus fitted, point by point.
    pub residuals: Vec<f64>,
    /// Whether the steps settled; a loss that rejects points may not.
    pub settled: bool,
}

/// Fits `response` as a combination of `columns`, each point counted by `loss`.
///
/// When more than half of the points lie on the line their scale is 0: the fit stops there, with weight 1 for
/// points on the line and 0 for all others.
///
/// # Errors
/// As for [`linear::fit`]; [`Error::NotFinite`] too when a constant of `loss` is not above 0.
pub fn fit(columns: &[Vec<f64>], response: &[f64], intercept: Intercept, loss: Loss) -> Result<Fit, Error> {
    if !loss.sound() {
        return Err(Error::NotFinite);
    }
    let mut line = linear::fit(columns, response, intercept)?;
    let plain = line.clone();
    let largest = response.iter().fold(0.0_f64, |largest, y| largest.max(y.abs()));
    let mut weights = vec![1.0; response.len()];
    let mut settled = false;
    for _ in 0..MOST_STEPS {
        let scale = scale_of(&line.residuals);
        if scale <= largest * 1e-15 {
            return Ok(without_scale(line, largest));
        }
        let next_weights: Vec<f64> = line.residuals.iter().map(|residual| loss.weight(residual / scale)).collect();
        let next = linear::fit_weighted(columns, response, intercept, &next_weights)?;
        let moved = weights.iter().zip(&next_weights).fold(0.0_f64, |most, (one, other)| most.max((one - other).abs()));
        (line, weights) = (next, next_weights);
        if moved <= 1e-13 {
            settled = true;
            break;
        }
    }
    let scale = scale_of(&line.residuals);
    let standard_errors = errors(&plain, &line.residuals, scale, loss);
    Ok(Fit { coefficients: line.coefficients, standard_errors, scale, weights, residuals: line.residuals, settled })
}

fn scale_of(residuals: &[f64]) -> f64 {
    let distances: Vec<f64> = residuals.iter().map(|residual| residual.abs()).collect();
    middle::median(&distances).unwrap_or(0.0) / NORMAL_MEDIAN_DISTANCE
}

fn without_scale(line: linear::Fit, largest: f64) -> Fit {
    let on_the_line = |residual: &f64| f64::from(u8::from(residual.abs() <= largest * 1e-14));
    Fit {
        weights: line.residuals.iter().map(on_the_line).collect(),
        coefficients: line.coefficients,
        standard_errors: None,
        scale: 0.0,
        residuals: line.residuals,
        settled: true,
    }
}

fn errors(plain: &linear::Fit, residuals: &[f64], scale: f64, loss: Loss) -> Option<Vec<f64>> {
    let n = residuals.len() as f64;
    let freedom = plain.degrees_of_freedom as f64;
    let slopes: Vec<f64> = residuals.iter().map(|residual| loss.slope(residual / scale)).collect();
    let mean = slopes.iter().sum::<f64>() / n;
    let spread = slopes.iter().map(|slope| (slope - mean).powi(2)).sum::<f64>() / n;
    let correction = 1.0 + (n - freedom) / n * spread / (mean * mean);
    let pulls = residuals.iter().map(|residual| (residual / scale * loss.weight(residual / scale)).powi(2));
    let variance = correction * correction * pulls.sum::<f64>() / freedom * scale * scale / (mean * mean);
    let ratio = variance.sqrt() / plain.residual_sd;
    let errors: Vec<f64> = plain.standard_errors.iter().map(|error| error * ratio).collect();
    errors.iter().all(|error| error.is_finite()).then_some(errors)
}

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: [Loss; 7] = [
        Loss::Squares,
        Loss::Huber { bend: 1.345 },
        Loss::Bisquare { reject: 4.685 },
        Loss::Wave { width: 1.339 },
        Loss::ThreePart { bend: 2.0, fall: 4.0, reject: 8.0 },
        Loss::Exponential { rate: 0.3 },
        Loss::Trimmed { reject: 2.0 },
    ];

    #[test]
    fn slopes_agree_with_differences() {
        for loss in USUAL {
            for u in [0.3, 1.1, 2.9, 5.5, 9.0] {
                let pull = |u: f64| u * loss.weight(u);
                let numeric = (pull(u + 1e-6) - pull(u - 1e-6)) / 2e-6;
                assert!((loss.slope(u) - numeric).abs() < 1e-6, "{loss:?} at {u}");
                assert!((0.0..=1.0).contains(&loss.weight(u)));
            }
        }
    }

    #[test]
    fn one_wild_point_does_not_turn_the_line() {
        let x: Vec<f64> = (1..=12).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 10.0 - 0.5 * x + 0.05 * (x * 7.0).sin()).collect();
        y[10] = 60.0;
        let plain = linear::fit(std::slice::from_ref(&x), &y, Intercept::Free).unwrap();
        assert!(plain.coefficients[1] > 0.5);
        for loss in USUAL.into_iter().skip(1) {
            let held = fit(std::slice::from_ref(&x), &y, Intercept::Free, loss).unwrap();
            assert!((held.coefficients[1] + 0.5).abs() < 0.05, "{loss:?}: {held:?}");
            assert!(held.weights[10] < 0.1, "{loss:?}: {held:?}");
        }
    }

    #[test]
    fn more_than_half_on_the_line_is_said_with_scale_0() {
        let x: Vec<f64> = (1..=9).map(f64::from).collect();
        let found = fit(std::slice::from_ref(&x), &[4.0; 9], Intercept::Free, Loss::Huber { bend: 1.345 }).unwrap();
        assert_eq!((found.scale, found.standard_errors), (0.0, None));
        assert_eq!(found.weights, [1.0; 9]);
    }

    #[test]
    fn a_constant_of_no_use_is_refused() {
        for bend in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let found = fit(&[vec![1.0, 2.0, 3.0]], &[1.0, 2.0, 4.0], Intercept::Free, Loss::Huber { bend });
            assert_eq!(found, Err(Error::NotFinite));
        }
    }
}
