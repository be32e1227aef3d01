//! Numbers that look drawn at random, the same for the same seed.
//!
//! SplitMix (Steele, Lea and Flood 2014, OOPSLA); normal values by Box and Muller (1958), Annals of
//! Mathematical Statistics 29:610-611.

/// A sequence of draws.
#[derive(Debug, Clone)]
pub struct Draw(u64);

impl Draw {
    /// The sequence of a seed and a number within it.
    pub fn new(seed: u64, number: u64) -> Self {
        let mut draw = Self(seed ^ number.wrapping_mul(0xD1B5_4A32_D192_ED03));
        draw.bits();
        draw
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly from 0 to 1, neither of them.
    pub fn even(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / 2.0_f64.powi(53)
    }

    /// Evenly among the whole numbers from `low` to `high`, both included.
    pub fn whole(&mut self, low: u32, high: u32) -> u32 {
        low + u32::try_from(self.bits() % u64::from(high - low + 1)).unwrap_or_default()
    }

    /// Normally, mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (std::f64::consts::TAU * self.even()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::Draw;

    #[test]
    fn a_seed_gives_the_same_and_draws_have_their_moments() {
        assert_eq!(Draw::new(3, 7).even(), Draw::new(3, 7).even());
        assert_ne!(Draw::new(3, 7).even(), Draw::new(3, 8).even());
        let mut draw = Draw::new(1, 1);
        let normals: Vec<f64> = (0..20_000).map(|_| draw.normal()).collect();
        let mean = normals.iter().sum::<f64>() / 20_000.0;
        let square = normals.iter().map(|value| value * value).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03 && (square - 1.0).abs() < 0.04, "{mean} {square}");
    }
}
