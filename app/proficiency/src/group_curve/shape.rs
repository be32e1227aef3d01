//! Shapes of a learning curve: how far practice has come after a number of services.
//!
//! The power law: Newell and Rosenbloom (1981), in Cognitive Skills and Their Acquisition, 1-55; the
//! exponential against it: Heathcote, Brown and Mewhort (2000), Psychonomic Bulletin and Review 7:185-207.
//! The power shapes with a plateau are the Box-Cox transform of n with a negative exponent (Box and Cox
//! 1964, Journal of the Royal Statistical Society B 26:211-252). All have one slope, so that their
//! likelihoods compare without a correction for the number of parameters.

/// How practice grows with the number of services.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// ln n: every doubling brings the same share, without end.
    Power,
    /// (1 - n^-p) / p: a power law that comes to rest at 1 / p; p above 0.
    PowerPlateau(f64),
    /// (1 - exp(-k (n - 1))) / k: an exponential that comes to rest at 1 / k; k above 0.
    Exponential(f64),
}

/// The eight shapes that are averaged.
pub const SHAPES: [Shape; 8] = [
    Shape::Power,
    Shape::PowerPlateau(0.3),
    Shape::PowerPlateau(0.6),
    Shape::PowerPlateau(1.0),
    Shape::Exponential(0.05),
    Shape::Exponential(0.1),
    Shape::Exponential(0.2),
    Shape::Exponential(0.4),
];

impl Shape {
    /// Practice after `number` services, counted from 1; 0 at the first.
    pub fn practice(self, number: f64) -> f64 {
        match self {
            Self::Power => number.ln(),
            Self::PowerPlateau(p) => (1.0 - number.powf(-p)) / p,
            Self::Exponential(k) => (1.0 - (-k * (number - 1.0)).exp()) / k,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::SHAPES;

    #[test]
    fn every_shape_starts_at_zero_with_slope_one_and_grows() {
        for shape in SHAPES {
            assert_eq!(shape.practice(1.0), 0.0, "{shape:?}");
            let slope = shape.practice(1.0 + 1e-6) / 1e-6;
            assert!((slope - 1.0).abs() < 1e-5, "{shape:?} {slope}");
            let grows = (1..200).all(|n| shape.practice(f64::from(n + 1)) >= shape.practice(f64::from(n)));
            assert!(grows, "{shape:?}");
        }
    }
}
