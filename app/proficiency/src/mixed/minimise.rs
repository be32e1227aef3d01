//! Finds where a smooth function of a few numbers is least.
//!
//! Quasi-Newton with the update of Broyden, Fletcher, Goldfarb and Shanno (Nocedal and Wright 2006,
//! Numerical Optimization, chapter 6), steps halved until they go down.

/// Most steps from one start.
const MOST_STEPS: usize = 200;
/// The search ends when the next step would gain less than this.
const GAIN: f64 = 1e-11;

/// A function of a few numbers.
pub(super) trait Function {
    /// Its value; not finite where there is a wall.
    fn value(&mut self, at: &[f64]) -> f64;
    /// Its value, and its slope in each number.
    fn slope(&mut self, at: &[f64], slope: &mut Vec<f64>) -> f64;
}

/// A place and the value of the function there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Least {
    pub at: Vec<f64>,
    pub value: f64,
}

/// Searches downhill from `start`.
pub(super) fn minimise(start: &[f64], function: &mut impl Function) -> Least {
    let size = start.len();
    let mut at = start.to_vec();
    let mut slope = Vec::new();
    let mut value = function.slope(&at, &mut slope);
    let mut inverse = identity(size);
    let mut fresh = true;
    for _ in 0..MOST_STEPS {
        if !value.is_finite() || slope.len() != size {
            break;
        }
        let mut step: Vec<f64> = inverse.chunks_exact(size.max(1)).map(|row| -dot(row, &slope)).collect();
        let mut down = dot(&step, &slope);
        if down >= 0.0 || !down.is_finite() {
            step = slope.iter().map(|cell| -cell).collect();
            down = -dot(&slope, &slope);
            inverse = identity(size);
            fresh = true;
        }
        if -down < GAIN {
            break;
        }
        // A first step knows no curvature: it moves by at most one half.
        let longest = step.iter().fold(0.0_f64, |most, cell| most.max(cell.abs()));
        let limit = if fresh { 0.5 } else { 4.0 };
        let mut share = (limit / longest).min(1.0);
        // Below this a difference of two values is rounding.
        let grain = value.abs() * 1e-14;
        let mut next = None;
        for _ in 0..40 {
            let tried: Vec<f64> = at.iter().zip(&step).map(|(a, s)| a + share * s).collect();
            let found = function.value(&tried);
            if found.is_finite() && found <= value + 1e-4 * share * down + grain {
                next = Some(tried);
                break;
            }
            share *= 0.5;
        }
        let Some(tried) = next else {
            if fresh {
                break;
            }
            inverse = identity(size);
            fresh = true;
            continue;
        };
        let mut new_slope = Vec::new();
        let found = function.slope(&tried, &mut new_slope);
        let moved: Vec<f64> = tried.iter().zip(&at).map(|(a, b)| a - b).collect();
        let change: Vec<f64> = new_slope.iter().zip(&slope).map(|(a, b)| a - b).collect();
        if fresh {
            let ratio = dot(&moved, &change) / dot(&change, &change);
            if ratio.is_finite() && ratio > 0.0 {
                inverse.iter_mut().for_each(|cell| *cell *= ratio);
            }
        }
        update(&mut inverse, &moved, &change);
        fresh = false;
        (at, value, slope) = (tried, found, new_slope);
    }
    Least { at, value }
}

/// Second derivatives by central differences of width `width`, row after row.
pub(super) fn curvature(at: &[f64], width: f64, mut function: impl FnMut(&[f64]) -> f64) -> Vec<f64> {
    let size = at.len();
    let mut all = vec![0.0; size * size];
    let mut value = |moves: [(usize, f64); 2]| {
        let mut moved = at.to_vec();
        for (place, offset) in moves {
            if let Some(cell) = moved.get_mut(place) {
                *cell += offset;
            }
        }
        function(&moved)
    };
    let centre = value([(0, 0.0), (0, 0.0)]);
    for row in 0..size {
        for column in 0..=row {
            let second = if row == column {
                let sides = value([(row, width), (0, 0.0)]) + value([(row, -width), (0, 0.0)]);
                (sides - 2.0 * centre) / (width * width)
            } else {
                let same = value([(row, width), (column, width)]) + value([(row, -width), (column, -width)]);
                let other = value([(row, width), (column, -width)]) + value([(row, -width), (column, width)]);
                (same - other) / (4.0 * width * width)
            };
            for place in [row * size + column, column * size + row] {
                if let Some(cell) = all.get_mut(place) {
                    *cell = second;
                }
            }
        }
    }
    all
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn identity(size: usize) -> Vec<f64> {
    (0..size * size).map(|cell| if cell % (size + 1) == 0 { 1.0 } else { 0.0 }).collect()
}

/// The update of the inverse curvature after a move and the change of slope it brought.
fn update(inverse: &mut [f64], moved: &[f64], change: &[f64]) {
    let product = dot(moved, change);
    if product.is_nan() || product <= 1e-14 * (dot(moved, moved) * dot(change, change)).sqrt() {
        return;
    }
    let size = moved.len();
    let turned: Vec<f64> = inverse.chunks_exact(size).map(|row| dot(row, change)).collect();
    let factor = (1.0 + dot(change, &turned) / product) / product;
    for (row, (m_row, t_row)) in inverse.chunks_exact_mut(size).zip(moved.iter().zip(&turned)) {
        for (cell, (m, t)) in row.iter_mut().zip(moved.iter().zip(&turned)) {
            *cell += factor * m_row * m - (t_row * m + m_row * t) / product;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Function, minimise};

    /// A function and its slope, as two closures.
    struct Pair<V, S>(V, S);

    impl<V: Fn(&[f64]) -> f64, S: Fn(&[f64]) -> Vec<f64>> Function for Pair<V, S> {
        fn value(&mut self, at: &[f64]) -> f64 {
            (self.0)(at)
        }

        fn slope(&mut self, at: &[f64], slope: &mut Vec<f64>) -> f64 {
            *slope = (self.1)(at);
            (self.0)(at)
        }
    }

    #[test]
    fn a_curved_valley_is_followed_to_its_end() {
        let value = |x: &[f64]| (1.0 - x[0]).powi(2) + 100.0 * (x[1] - x[0] * x[0]).powi(2);
        let slope = |x: &[f64]| {
            let across = 200.0 * (x[1] - x[0] * x[0]);
            vec![-2.0 * (1.0 - x[0]) - 2.0 * x[0] * across, across]
        };
        let least = minimise(&[-1.2, 1.0], &mut Pair(value, slope));
        assert!((least.at[0] - 1.0).abs() < 1e-4 && (least.at[1] - 1.0).abs() < 1e-4, "{least:?}");
    }

    #[test]
    fn a_wall_stops_the_search_without_harm() {
        let value = |x: &[f64]| if x[0] < 1.0 { f64::INFINITY } else { x[0] };
        let least = minimise(&[2.0], &mut Pair(value, |_: &[f64]| vec![1.0]));
        assert!(least.at[0] >= 1.0 && least.at[0] < 1.001, "{least:?}");
        assert!(minimise(&[0.0], &mut Pair(|_: &[f64]| f64::NAN, |_: &[f64]| Vec::new())).value.is_nan());
    }
}
