//! Numbers that carry their own slope, so that a curve is written down once and its derivatives are exact.
//!
//! Forward differentiation: Wengert (1964), Communications of the ACM 7:463-464.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// What the formula of a curve may do with its parameters; [`f64`] and [`Sloped`] are such numbers.
///
/// Where a function has no value (a logarithm below 0), the result is not a number; nothing panics.
pub trait Number:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self> + Neg<Output = Self>
{
    /// Makes a number that does not depend on any parameter.
    fn constant(value: f64) -> Self;
    /// Returns e to the power of this.
    fn exp(self) -> Self;
    /// Returns the natural logarithm.
    fn ln(self) -> Self;
    /// Returns the sine of an angle in radians.
    fn sin(self) -> Self;
    /// Returns the cosine of an angle in radians.
    fn cos(self) -> Self;
    /// Returns the angle in radians, between plus and minus a quarter turn, with this tangent.
    fn atan(self) -> Self;
    /// Returns this to a power; a negative base takes whole exponents only.
    fn power(self, exponent: Self) -> Self;
}

impl Number for f64 {
    fn constant(value: f64) -> Self {
        value
    }
    fn exp(self) -> Self {
        f64::exp(self)
    }
    fn ln(self) -> Self {
        f64::ln(self)
    }
    fn sin(self) -> Self {
        f64::sin(self)
    }
    fn cos(self) -> Self {
        f64::cos(self)
    }
    fn atan(self) -> Self {
        f64::atan(self)
    }
    fn power(self, exponent: Self) -> Self {
        if exponent == 2.0 { self * self } else { self.powf(exponent) }
    }
}

/// A value and its slope along one parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sloped {
    /// The value.
    pub value: f64,
    /// Change of the value for one more of the parameter.
    pub slope: f64,
}

impl Add for Sloped {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { value: self.value + other.value, slope: self.slope + other.slope }
    }
}

impl Sub for Sloped {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { value: self.value - other.value, slope: self.slope - other.slope }
    }
}

impl Mul for Sloped {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self { value: self.value * other.value, slope: self.slope * other.value + self.value * other.slope }
    }
}

impl Div for Sloped {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let value = self.value / other.value;
        Self { value, slope: (self.slope - value * other.slope) / other.value }
    }
}

impl Neg for Sloped {
    type Output = Self;
    fn neg(self) -> Self {
        Self { value: -self.value, slope: -self.slope }
    }
}

impl Number for Sloped {
    fn constant(value: f64) -> Self {
        Self { value, slope: 0.0 }
    }
    fn exp(self) -> Self {
        let value = self.value.exp();
        Self { value, slope: value * self.slope }
    }
    fn ln(self) -> Self {
        Self { value: self.value.ln(), slope: self.slope / self.value }
    }
    fn sin(self) -> Self {
        Self { value: self.value.sin(), slope: self.value.cos() * self.slope }
    }
    fn cos(self) -> Self {
        Self { value: self.value.cos(), slope: -self.value.sin() * self.slope }
    }
    fn atan(self) -> Self {
        Self { value: self.value.atan(), slope: self.slope / (1.0 + self.value * self.value) }
    }
    fn power(self, exponent: Self) -> Self {
        let value = Number::power(self.value, exponent.value);
        // Each part only where it moves: 0 to the power of 0 and a negative base would spoil the other.
        let of_base = if self.slope == 0.0 || exponent.value == 0.0 {
            0.0
        } else {
            exponent.value * self.value.powf(exponent.value - 1.0) * self.slope
        };
        let of_exponent =
            if exponent.slope == 0.0 || self.value == 0.0 { 0.0 } else { value * self.value.ln() * exponent.slope };
        Self { value, slope: of_base + of_exponent }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, function: impl Fn(Sloped) -> Sloped, at: f64) {
        let value = |x: f64| function(Sloped { value: x, slope: 0.0 }).value;
        let step = 1e-5;
        let numeric = (value(at + step) - value(at - step)) / (2.0 * step);
        let found = function(Sloped { value: at, slope: 1.0 }).slope;
        assert!((found - numeric).abs() < 1e-8 * (1.0 + numeric.abs()), "{name} at {at}: {found} {numeric}");
    }

    #[test]
    fn slopes_agree_with_differences() {
        let c = Sloped::constant;
        for at in [0.3, 1.0, 2.4] {
            check("exp", Number::exp, at);
            check("ln", Number::ln, at);
            check("sin", Number::sin, at);
            check("cos", Number::cos, at);
            check("atan", Number::atan, at);
            check("power of x", |x| x.power(c(2.5)), at);
            check("x as power", |x| c(2.5).power(x), at);
            check("x to the x", |x| x.power(x), at);
            check("ratio", |x| (x * x + c(1.0)) / (c(3.0) - x * c(0.5)), at);
            check("negative base", |x| (x - c(5.0)).power(c(2.0)), at);
            check("negative base, cube", |x| (-x).power(c(3.0)), at);
        }
    }

    #[test]
    fn zero_to_a_power_has_a_slope() {
        let zero = Sloped { value: 0.0, slope: 1.0 };
        assert_eq!(zero.power(Sloped::constant(2.0)), Sloped { value: 0.0, slope: 0.0 });
        assert_eq!(zero.power(Sloped::constant(1.0)), Sloped { value: 0.0, slope: 1.0 });
        assert_eq!(zero.power(Sloped::constant(0.0)).value, 1.0);
    }
}
