//! Numbers with twice the working precision, about 32 digits, for sums that would lose theirs.
//!
//! A value is the exact sum of two ordinary numbers. Sum without error: Knuth (1969), The Art of Computer
//! Programming 2, section 4.2.2; product without error: Dekker (1971), Numerische Mathematik 18:224-242.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number kept as the sum of a high part and a much smaller low part.
///
/// What overflows becomes not finite, as with ordinary numbers; the low part then means nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Twice {
    high: f64,
    low: f64,
}

impl Twice {
    /// Nothing.
    pub(crate) const ZERO: Self = Self { high: 0.0, low: 0.0 };

    /// Returns the nearest ordinary number.
    pub(crate) fn nearest(self) -> f64 {
        self.high
    }

    /// Returns the square root; not a number below 0.
    pub(crate) fn sqrt(self) -> Self {
        if self.high <= 0.0 || !self.high.is_finite() {
            return Self::from(self.high.sqrt());
        }
        // One step of Newton's method from the ordinary root doubles its digits.
        let root = Self::from(self.high.sqrt());
        (root + self / root) * Self::from(0.5)
    }

    fn normal(high: f64, low: f64) -> Self {
        let sum = high + low;
        Self { high: sum, low: low - (sum - high) }
    }
}

impl From<f64> for Twice {
    fn from(high: f64) -> Self {
        Self { high, low: 0.0 }
    }
}

fn exact_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let of_b = sum - a;
    (sum, (a - (sum - of_b)) + (b - of_b))
}

fn halves(a: f64) -> (f64, f64) {
    let shifted = 134_217_729.0 * a;
    let high = shifted - (shifted - a);
    (high, a - high)
}

fn exact_product(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    let ((a_high, a_low), (b_high, b_low)) = (halves(a), halves(b));
    (product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low)
}

impl Add for Twice {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let (high, error) = exact_sum(self.high, other.high);
        let (low, last) = exact_sum(self.low, other.low);
        let first = Self::normal(high, error + low);
        Self::normal(first.high, first.low + last)
    }
}

impl Neg for Twice {
    type Output = Self;
    fn neg(self) -> Self {
        Self { high: -self.high, low: -self.low }
    }
}

impl Sub for Twice {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for Twice {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let (high, error) = exact_product(self.high, other.high);
        Self::normal(high, error + (self.high * other.low + self.low * other.high))
    }
}

impl Div for Twice {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let first = self.high / other.high;
        let rest = self - other * Self::from(first);
        let second = rest.high / other.high;
        let rest = rest - other * Self::from(second);
        Self::normal(first, second) + Self::from(rest.high / other.high)
    }
}

impl std::iter::Sum for Twice {
    fn sum<I: Iterator<Item = Self>>(values: I) -> Self {
        values.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::Twice;

    #[test]
    fn a_small_part_survives_beside_a_large_one() {
        let sum = Twice::from(1e16) + Twice::from(1.0) + Twice::from(1e-10) - Twice::from(1e16);
        let small = (sum - Twice::from(1.0)).nearest();
        assert!((small - 1e-10).abs() < 1e-15, "{small}");
    }

    #[test]
    fn thirds_and_roots_come_back_to_thirty_digits() {
        let third = Twice::from(1.0) / Twice::from(3.0);
        let back = third * Twice::from(3.0) - Twice::from(1.0);
        assert!(back.nearest().abs() < 1e-31, "{back:?}");
        let root = Twice::from(2.0).sqrt();
        assert!((root * root - Twice::from(2.0)).nearest().abs() < 1e-31);
    }

    #[test]
    fn roots_below_zero_and_overflow_are_not_finite() {
        assert!(Twice::from(-1.0).sqrt().nearest().is_nan());
        assert_eq!(Twice::ZERO.sqrt().nearest(), 0.0);
        assert!(!(Twice::from(1e300) * Twice::from(1e300)).nearest().is_finite());
    }
}
