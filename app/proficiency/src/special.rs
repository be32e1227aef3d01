//! Incomplete gamma and beta functions, both tails, to nearly the last digit.
//!
//! The factor in front of each series is worked out through Stirling's remainder and a deviance, so that it
//! keeps its digits for large arguments (Loader 2000, "Fast and accurate computation of binomial
//! probabilities"). Series and continued fractions: Abramowitz and Stegun (1964), formulas 6.5.29, 6.5.31
//! and 26.5.8; evaluated after Lentz (1976), Applied Optics 15:668-671.

/// Most terms of a series or fraction; enough for shapes as large as any count (`u32`).
const MOST_TERMS: u32 = 700_000;
/// Smallest and largest shape; beyond, a step no longer moves a sum.
const SHAPES: std::ops::Range<f64> = 1e-100..5e9;
/// Stands in for a zero in a denominator of a continued fraction.
const NEARLY_ZERO: f64 = 1e-300;
/// How far from 1 or 2 the logarithm of the gamma function is taken from its power series.
const NEAR_ZERO: f64 = 0.1;
/// Euler's constant.
const EULER: f64 = 0.577_215_664_901_532_9;
/// Values of the zeta function from 2 on.
const ZETAS: [f64; 18] = [
    1.644_934_066_848_226_4,
    1.202_056_903_159_594_3,
    1.082_323_233_711_138_2,
    1.036_927_755_143_37,
    1.017_343_061_984_449,
    1.008_349_277_381_922_8,
    1.004_077_356_197_944_3,
    1.002_008_392_826_082_2,
    1.000_994_575_127_818,
    1.000_494_188_604_119_5,
    1.000_246_086_553_308,
    1.000_122_713_347_578_5,
    1.000_061_248_135_058_7,
    1.000_030_588_236_307,
    1.000_015_282_259_408_7,
    1.000_007_637_197_637_9,
    1.000_003_817_293_265,
    1.000_001_908_212_716_6,
];
/// Half the natural logarithm of two pi.
const HALF_LN_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// Both tails of a distribution at one point; they add up to 1, and each keeps its own digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tails {
    /// Chance of a value at most as large, 0 to 1.
    pub lower: f64,
    /// Chance of a larger value, 0 to 1.
    pub upper: f64,
}

impl Tails {
    fn from_lower(lower: f64) -> Self {
        let lower = lower.clamp(0.0, 1.0);
        Self { lower, upper: 1.0 - lower }
    }

    fn from_upper(upper: f64) -> Self {
        Self::from_lower(upper).swapped()
    }

    fn swapped(self) -> Self {
        Self { lower: self.upper, upper: self.lower }
    }
}

/// Returns what Stirling's formula leaves out of ln(gamma(x)), for x > 0: about 1/(12 x) for large x.
fn stirling_remainder(x: f64) -> f64 {
    let (mut at, mut sum) = (x, 0.0);
    while at < 16.0 {
        sum += (at + 0.5) * (1.0 / at).ln_1p() - 1.0;
        at += 1.0;
    }
    let inverse = 1.0 / (at * at);
    let series = [1.0 / 1188.0, -1.0 / 1680.0, 1.0 / 1260.0, -1.0 / 360.0, 1.0 / 12.0];
    let tail = series.iter().fold(-691.0 / 360_360.0, |sum, term| sum * inverse + term);
    sum + tail / at
}

/// Returns the natural logarithm of the gamma function; `None` unless `x` is finite and above 0.
///
/// ```
/// let ln_six = proficiency::special::ln_gamma(4.0).unwrap();
/// assert!((ln_six - 6.0_f64.ln()).abs() < 1e-15);
/// ```
pub fn ln_gamma(x: f64) -> Option<f64> {
    if !(x.is_finite() && x > 0.0) {
        return None;
    }
    // About 1 and 2 the logarithm passes through zero, and its terms cancel.
    let (from_one, from_two) = (x - 1.0, x - 2.0);
    if from_one.abs() < NEAR_ZERO {
        return Some(ln_gamma_one_plus(from_one));
    }
    if from_two.abs() < NEAR_ZERO {
        return Some(ln_gamma_one_plus(from_two) + from_two.ln_1p());
    }
    Some((x - 0.5) * x.ln() - x + HALF_LN_TWO_PI + stirling_remainder(x))
}

/// Returns ln(gamma(1 + z)) for |z| below [`NEAR_ZERO`] by its power series: -gamma z + sum over k from 2 of
/// zeta(k) (-z)^k / k (NIST Digital Library of Mathematical Functions, 5.7.3).
fn ln_gamma_one_plus(z: f64) -> f64 {
    let (mut power, mut sum) = (-z, EULER * -z);
    for (zeta, k) in ZETAS.iter().zip(2_u32..) {
        power *= -z;
        sum += zeta * power / f64::from(k);
    }
    sum
}

/// Returns x ln(x/m) + m - x for positive x and m, without loss of digits where they nearly agree.
fn deviance(x: f64, m: f64) -> f64 {
    let difference = x - m;
    if difference.abs() < 0.1 * (x + m) {
        let v = difference / (x + m);
        let (mut sum, mut term) = (difference * v, 2.0 * x * v);
        for odd in (3..2001).step_by(2) {
            term *= v * v;
            let next = sum + term / f64::from(odd);
            if next == sum {
                break;
            }
            sum = next;
        }
        return sum;
    }
    x * (x / m).ln() + m - x
}

/// Returns both tails of the gamma distribution with scale 1; `None` unless `shape` is 1e-100 to 5e9 and `x` is
/// a number.
pub fn gamma_tails(shape: f64, x: f64) -> Option<Tails> {
    if !SHAPES.contains(&shape) || x.is_nan() {
        return None;
    }
    if x <= 0.0 {
        return Some(Tails { lower: 0.0, upper: 1.0 });
    }
    if x.is_infinite() {
        return Some(Tails { lower: 1.0, upper: 0.0 });
    }
    // x^shape exp(-x) / gamma(shape + 1)
    let ln_front = -stirling_remainder(shape) - deviance(shape, x) - 0.5 * shape.ln() - HALF_LN_TWO_PI;
    let front = ln_front.exp();
    if x < shape + 1.0 {
        let (mut term, mut sum) = (1.0, 1.0);
        for n in 1..MOST_TERMS {
            term *= x / (shape + f64::from(n));
            sum += term;
            if term < sum * 1e-17 {
                break;
            }
        }
        return Some(Tails::from_lower(front * sum));
    }
    let mut b = x + 1.0 - shape;
    let mut c = 1.0 / NEARLY_ZERO;
    let mut d = 1.0 / b;
    let mut fraction = d;
    for n in 1..MOST_TERMS {
        let n = f64::from(n);
        let a = -n * (n - shape);
        b += 2.0;
        d = 1.0 / away_from_zero(a * d + b);
        c = away_from_zero(b + a / c);
        fraction *= c * d;
        if (c * d - 1.0).abs() < 1e-16 {
            break;
        }
    }
    Some(Tails::from_upper(front * shape * fraction))
}

/// Returns both tails of the beta distribution at `x`; `y` is 1 - `x`, handed in so that it keeps its digits.
///
/// `None` unless both shapes are 1e-100 to 5e9 and `x` and `y` are 0 to 1.
pub fn beta_tails(a: f64, b: f64, x: f64, y: f64) -> Option<Tails> {
    if !SHAPES.contains(&a) || !SHAPES.contains(&b) || !(0.0..=1.0).contains(&x) || !(0.0..=1.0).contains(&y) {
        return None;
    }
    if x == 0.0 {
        return Some(Tails { lower: 0.0, upper: 1.0 });
    }
    if y == 0.0 {
        return Some(Tails { lower: 1.0, upper: 0.0 });
    }
    let total = a + b;
    // x^a y^b / beta(a, b)
    let ln_front = stirling_remainder(total)
        - stirling_remainder(a)
        - stirling_remainder(b)
        - deviance(a, total * x)
        - deviance(b, total * y)
        + 0.5 * (a.ln() + b.ln() - total.ln())
        - HALF_LN_TWO_PI;
    if x < (a + 1.0) / (total + 2.0) {
        return Some(Tails::from_lower((ln_front - a.ln()).exp() * beta_fraction(a, b, x)));
    }
    Some(Tails::from_upper((ln_front - b.ln()).exp() * beta_fraction(b, a, y)))
}

fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for m in 1..MOST_TERMS {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away_from_zero(1.0 + even * d);
        c = away_from_zero(1.0 + even / c);
        fraction *= c * d;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away_from_zero(1.0 + odd * d);
        c = away_from_zero(1.0 + odd / c);
        fraction *= c * d;
        if (c * d - 1.0).abs() < 1e-16 {
            break;
        }
    }
    fraction
}

fn away_from_zero(value: f64) -> f64 {
    if value.abs() < NEARLY_ZERO { NEARLY_ZERO } else { value }
}

#[cfg(test)]
mod tests {
    use super::{beta_tails, gamma_tails, ln_gamma};

    #[test]
    fn whole_numbers_give_the_logarithm_of_a_factorial() {
        let mut factorial = 1.0_f64;
        for n in 1..30 {
            factorial *= f64::from(n);
            let found = ln_gamma(f64::from(n) + 1.0).unwrap();
            assert!((found - factorial.ln()).abs() <= 2e-14, "{n}: {found}");
        }
    }

    /// Values of mpmath with 30 digits.
    #[test]
    fn no_digits_are_lost_where_the_logarithm_passes_through_zero() {
        assert_eq!((ln_gamma(1.0), ln_gamma(2.0)), (Some(0.0), Some(0.0)));
        for (x, expected) in [
            (1.000_001, -5.772_148_423_874_15e-7),
            (0.999, 5.780_385_328_913_8e-4),
            (1.099_9, -4.983_005_859_899_26e-2),
            (2.000_1, 4.228_165_811_291_99e-5),
            (1.95, -2.032_449_914_957_77e-2),
        ] {
            let found = ln_gamma(x).unwrap();
            assert!((found / expected - 1.0).abs() < 1e-9, "{x}: {found:e} instead of {expected:e}");
        }
    }

    #[test]
    fn a_second_library_finds_the_same_tails() {
        for shape in [0.3, 1.0, 2.5, 17.0, 140.0] {
            for x in [0.2, 1.0, 3.0, 20.0, 150.0] {
                let ours = gamma_tails(shape, x).unwrap().lower;
                let theirs = statrs::function::gamma::gamma_lr(shape, x);
                assert!((ours - theirs).abs() < 1e-12, "gamma {shape} {x}: {ours} {theirs}");
                let at = x / 200.0;
                let ours = beta_tails(shape, 4.5, at, 1.0 - at).unwrap().lower;
                let theirs = statrs::function::beta::beta_reg(shape, 4.5, at);
                assert!((ours - theirs).abs() < 1e-12, "beta {shape} {at}: {ours} {theirs}");
            }
        }
    }

    #[test]
    fn far_tails_keep_their_digits() {
        // Chance of 3 or fewer of 1000 at one in two: a sum of four binomial terms.
        let exact = (1.0 + 1000.0 + 499_500.0 + 166_167_000.0) * 0.5_f64.powi(1000);
        let found = beta_tails(997.0, 4.0, 0.5, 0.5).unwrap().lower;
        assert!((found / exact - 1.0).abs() < 1e-12, "{found} {exact}");
        let far = gamma_tails(1.0, 600.0).unwrap().upper;
        assert!((far / (-600.0_f64).exp() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn large_shapes_end_and_stay_between_0_and_1() {
        let tails = gamma_tails(9e8, 9e8).unwrap();
        assert!((tails.lower - 0.5).abs() < 1e-4, "{tails:?}");
        let tails = beta_tails(5e8, 5e8, 0.5, 0.5).unwrap();
        assert!((tails.lower - 0.5).abs() < 1e-9, "{tails:?}");
    }

    #[test]
    fn outside_the_domain_there_is_no_answer() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(ln_gamma(bad), None);
            assert_eq!(gamma_tails(bad, 1.0), None);
            assert_eq!(beta_tails(bad, 1.0, 0.5, 0.5), None);
            assert_eq!(beta_tails(1.0, bad, 0.5, 0.5), None);
        }
        assert_eq!(gamma_tails(1.0, f64::NAN), None);
        assert_eq!(beta_tails(1.0, 1.0, 1.5, -0.5), None);
    }
}
