//! Curves of practice that level off: time = floor + gain * n^-rate, or floor + gain * exp(-rate * n).
//!
//! For a given rate, floor and gain follow by linear least squares, so the search is over the rate alone
//! (variable projection: Golub and Pereyra 1973, SIAM Journal on Numerical Analysis 10:413-432); the end is
//! polished over all three. Forms: Newell and Rosenbloom (1981); Heathcote, Brown and Mewhort (2000).
//! For display: whether 5 to 40 services carry a plateau is seldom clear, and the answer says so.

use crate::linear::Prediction;
use crate::nonlinear::{self, Curve};
use crate::number::Number;

/// Rates tried before the best is refined.
const RATES: u32 = 120;
/// Standard error of the floor, as a share of it, above which the floor is not known.
const MOST_DOUBT: f64 = 0.5;

/// Form of the fall towards the floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// gain * n^-rate: ever slower.
    Power,
    /// gain * exp(-rate * n): the same share of what remains at each service.
    Exponential,
}

/// Whether floor and gain may fall below 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bounds {
    /// Neither floor nor gain below 0, as times demand.
    AtLeastZero,
    /// Whatever fits best.
    Free,
}

/// Why the fitted floor is not to be taken as one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The best rate is the slowest or the fastest that was tried.
    RateAtEdge,
    /// Without the bound the floor would lie below 0.
    NoFloor,
    /// Times do not fall.
    NoGain,
    /// The standard error of the floor is over half of it, or cannot be told.
    FloorUncertain,
}

/// Why no curve was fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// Fewer than 4 services.
    #[error("{found} services, a curve with a plateau needs at least 4")]
    TooFew {
        /// Services given.
        found: usize,
    },
    /// A service number or a time is not above 0 or not finite.
    #[error("service {place} has a number or a time that is not above 0")]
    NotPositive {
        /// Place of the service in the list, from 0.
        place: usize,
    },
    /// Fewer than 3 different service numbers, or values too large to work with.
    #[error("the services do not tell floor, gain and rate apart")]
    NotIdentified,
}

/// A fitted curve with a plateau.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Form of the curve.
    pub shape: Shape,
    /// What no practice gets below, in the unit of time.
    pub floor: f64,
    /// What practice gains: at n = 1 for [`Shape::Power`], at n = 0 for [`Shape::Exponential`].
    pub gain: f64,
    /// Exponent or rate per service, above 0.
    pub rate: f64,
    /// Sum of the squared residuals.
    pub sum_of_squares: f64,
    /// Errors of floor, gain and rate; `None` where the services do not tell them apart or a bound holds.
    pub errors: Option<nonlinear::Fit>,
    /// Why the plateau is not identified; `None` when it is.
    pub doubt: Option<Doubt>,
}

impl Fit {
    /// Returns the time of service `n` (above 0) with its errors by the delta method; `None` where the fit
    /// has no errors.
    pub fn predict(&self, n: f64) -> Option<Prediction> {
        if n.is_nan() || n <= 0.0 {
            return None;
        }
        self.errors.as_ref()?.predict(&self.shape, &[n])
    }
}

impl Curve for Shape {
    fn parameters(&self) -> usize {
        3
    }

    fn at<N: Number>(&self, x: &[f64], parameters: &[N]) -> N {
        let (&[n], &[floor, gain, rate]) = (x, parameters) else { return N::constant(f64::NAN) };
        floor
            + gain
                * match self {
                    Self::Power => N::constant(n).power(-rate),
                    Self::Exponential => (-rate * N::constant(n)).exp(),
                }
    }
}

/// Floor and gain for one rate, and what they leave.
#[derive(Debug, Clone, Copy)]
struct Level {
    floor: f64,
    gain: f64,
    squares: f64,
}

/// Services with numbers counted from the first of them, where the fall is 1.
struct Services<'a> {
    points: &'a [(f64, f64)],
    shape: Shape,
    first: f64,
}

impl Services<'_> {
    fn fall(&self, n: f64, rate: f64) -> f64 {
        match self.shape {
            Shape::Power => (n / self.first).powf(-rate),
            Shape::Exponential => (-rate * (n - self.first)).exp(),
        }
    }

    /// The gain at n = 1 or n = 0 for a gain at the first service.
    fn gain_at_origin(&self, gain: f64, rate: f64) -> f64 {
        match self.shape {
            Shape::Power => gain * self.first.powf(rate),
            Shape::Exponential => gain * (rate * self.first).exp(),
        }
    }

    fn level(&self, rate: f64, bounds: Bounds) -> Level {
        let count = self.points.len() as f64;
        let falls: Vec<f64> = self.points.iter().map(|(n, _)| self.fall(*n, rate)).collect();
        let mean_fall = falls.iter().sum::<f64>() / count;
        let mean_time = self.points.iter().map(|(_, time)| time).sum::<f64>() / count;
        let pairs = || falls.iter().zip(self.points).map(|(fall, (_, time))| (*fall, *time));
        let across: f64 = pairs().map(|(fall, time)| (fall - mean_fall) * (time - mean_time)).sum();
        let along: f64 = pairs().map(|(fall, _)| (fall - mean_fall).powi(2)).sum();
        let mut gain = if along > 0.0 { across / along } else { 0.0 };
        let mut floor = mean_time - gain * mean_fall;
        if bounds == Bounds::AtLeastZero {
            if gain < 0.0 {
                (gain, floor) = (0.0, mean_time);
            } else if floor < 0.0 {
                let squares: f64 = pairs().map(|(fall, _)| fall * fall).sum();
                (gain, floor) = (pairs().map(|(fall, time)| fall * time).sum::<f64>() / squares, 0.0);
            }
        }
        let squares = pairs().map(|(fall, time)| (time - floor - gain * fall).powi(2)).sum();
        Level { floor, gain, squares }
    }
}

/// Fits a curve with a plateau to pairs of service number (from 1) and time (above 0, any unit).
///
/// # Errors
/// When a number or a time is not above 0, there are fewer than 4 services, or fewer than 3 different
/// numbers. A plateau that the services do not show is no error: see [`Fit::doubt`].
pub fn fit(services: &[(f64, f64)], shape: Shape, bounds: Bounds) -> Result<Fit, Error> {
    let sound = |value: f64| value.is_finite() && value > 0.0;
    if let Some(place) = services.iter().position(|(n, time)| !sound(*n) || !sound(*time)) {
        return Err(Error::NotPositive { place });
    }
    if services.len() < 4 {
        return Err(Error::TooFew { found: services.len() });
    }
    let mut numbers: Vec<f64> = services.iter().map(|(n, _)| *n).collect();
    numbers.sort_by(f64::total_cmp);
    numbers.dedup();
    let (&[first, second, .., last], true) = (numbers.as_slice(), numbers.len() > 2) else {
        return Err(Error::NotIdentified);
    };
    let search = Services { points: services, shape, first };
    // From hardly bent over all services to all but over at the second.
    let (slowest, fastest) = match shape {
        Shape::Power => (0.01 / (last / first).ln(), 12.0 / (second / first).ln()),
        Shape::Exponential => (0.01 / (last - first), 12.0 / (second - first)),
    };
    let (rate, at_edge) = best_rate(&search, slowest, fastest, bounds);
    let level = search.level(rate, bounds);
    let held = bounds == Bounds::AtLeastZero && (level.floor <= 0.0 || level.gain <= 0.0);
    let gain = search.gain_at_origin(level.gain, rate);
    let mut fit =
        Fit { shape, floor: level.floor, gain, rate, sum_of_squares: level.squares, errors: None, doubt: None };
    if ![fit.floor, fit.gain, fit.rate, fit.sum_of_squares].iter().all(|value| value.is_finite()) {
        return Err(Error::NotIdentified);
    }
    if !held && !at_edge {
        polish(&mut fit, services, bounds);
    }
    fit.doubt = doubt(&fit, at_edge);
    Ok(fit)
}

/// The rate that leaves least, and whether it is the first or the last tried.
fn best_rate(search: &Services, slowest: f64, fastest: f64, bounds: Bounds) -> (f64, bool) {
    let rate_of = |step: f64| slowest * (fastest / slowest).powf(step / f64::from(RATES));
    let left = |step: f64| {
        let squares = search.level(rate_of(step), bounds).squares;
        if squares.is_finite() { squares } else { f64::INFINITY }
    };
    let mut best = (0, f64::INFINITY);
    for step in 0..=RATES {
        let squares = left(f64::from(step));
        if squares < best.1 {
            best = (step, squares);
        }
    }
    let at_edge = best.0 == 0 || best.0 == RATES;
    let centre = f64::from(best.0);
    let (mut low, mut high) = ((centre - 1.0).max(0.0), (centre + 1.0).min(f64::from(RATES)));
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    for _ in 0..60 {
        let (inner_low, inner_high) = (high - golden * (high - low), low + golden * (high - low));
        if left(inner_low) <= left(inner_high) {
            high = inner_high;
        } else {
            low = inner_low;
        }
    }
    (rate_of((low + high) / 2.0), at_edge)
}

/// Moves to the exact end over all three and takes the errors from there.
fn polish(fit: &mut Fit, services: &[(f64, f64)], bounds: Bounds) {
    let x: Vec<Vec<f64>> = services.iter().map(|(n, _)| vec![*n]).collect();
    let y: Vec<f64> = services.iter().map(|(_, time)| *time).collect();
    let Ok(found) = nonlinear::fit(&fit.shape, &x, &y, &[fit.floor, fit.gain, fit.rate]) else { return };
    let &[floor, gain, rate] = found.parameters.as_slice() else { return };
    let inside = bounds == Bounds::Free || (floor >= 0.0 && gain >= 0.0);
    // A search that runs off to another place has left the range of rates.
    if inside && rate > 0.0 && found.sum_of_squares <= fit.sum_of_squares * (1.0 + 1e-9) {
        (fit.floor, fit.gain, fit.rate, fit.sum_of_squares) = (floor, gain, rate, found.sum_of_squares);
        fit.errors = Some(found);
    }
}

fn doubt(fit: &Fit, at_edge: bool) -> Option<Doubt> {
    if fit.gain <= 0.0 {
        return Some(Doubt::NoGain);
    }
    if fit.floor <= 0.0 {
        return Some(Doubt::NoFloor);
    }
    if at_edge {
        return Some(Doubt::RateAtEdge);
    }
    let error = fit.errors.as_ref().and_then(|errors| errors.standard_errors.first().copied());
    error.is_none_or(|error| error > MOST_DOUBT * fit.floor).then_some(Doubt::FloorUncertain)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(count: u32, time: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (1..=count).map(|n| (f64::from(n), time(f64::from(n)))).collect()
    }

    #[test]
    fn exact_curves_are_found_again() {
        for (shape, rate) in [(Shape::Power, 0.7), (Shape::Exponential, 0.15)] {
            let services = curve(20, |n| Curve::at::<f64>(&shape, &[n], &[1500.0, 2500.0, rate]));
            for bounds in [Bounds::Free, Bounds::AtLeastZero] {
                let found = fit(&services, shape, bounds).unwrap();
                assert!((found.floor - 1500.0).abs() < 1e-5, "{found:?}");
                assert!((found.gain - 2500.0).abs() < 1e-5, "{found:?}");
                assert!((found.rate - rate).abs() < 1e-9, "{found:?}");
                assert_eq!(found.doubt, None);
            }
        }
    }

    #[test]
    fn a_plain_power_law_shows_no_plateau() {
        let wobble = |n: f64| 1.0 + 0.03 * (n * 12.9).sin();
        let services = curve(15, |n| 4000.0 * n.powf(-0.3) * wobble(n));
        let found = fit(&services, Shape::Power, Bounds::AtLeastZero).unwrap();
        assert!(found.doubt.is_some(), "{found:?}");
        assert!(found.floor >= 0.0 && found.gain >= 0.0);
    }

    #[test]
    fn times_that_do_not_fall_gain_nothing() {
        for services in [curve(8, |_| 1800.0), curve(8, |n| 1800.0 + 20.0 * n)] {
            for shape in [Shape::Power, Shape::Exponential] {
                let found = fit(&services, shape, Bounds::AtLeastZero).unwrap();
                assert_eq!(found.doubt, Some(Doubt::NoGain), "{found:?}");
                assert_eq!(found.predict(9.0), None);
            }
        }
    }

    #[test]
    fn too_little_is_refused() {
        let few = curve(3, |n| 100.0 / n);
        assert_eq!(fit(&few, Shape::Power, Bounds::Free), Err(Error::TooFew { found: 3 }));
        let same = [(1.0, 5.0), (1.0, 6.0), (2.0, 4.0), (2.0, 3.0)];
        assert_eq!(fit(&same, Shape::Power, Bounds::Free), Err(Error::NotIdentified));
        let bad = [(1.0, 5.0), (2.0, f64::NAN), (3.0, 4.0), (4.0, 3.0)];
        assert_eq!(fit(&bad, Shape::Power, Bounds::Free), Err(Error::NotPositive { place: 1 }));
    }
}
