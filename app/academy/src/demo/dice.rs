//! Seeded dice: the demo is the same every time.

/// A small generator of repeatable numbers (SplitMix64, public domain algorithm by S. Vigna).
#[derive(Debug, Clone)]
pub(super) struct Dice(u64);

impl Dice {
    /// Makes dice from a seed.
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Returns a number from 0 up to, not including, `limit`.
    pub(super) fn below(&mut self, limit: u64) -> u64 {
        self.next() % limit.max(1)
    }

    /// Whether something happens that happens `percent` times in a hundred.
    pub(super) fn percent(&mut self, percent: u64) -> bool {
        self.below(100) < percent
    }

    /// Returns seconds within a tenth of `seconds`.
    pub(super) fn about(&mut self, seconds: u32) -> u32 {
        self.about_f(f64::from(seconds))
    }

    /// Returns seconds within a tenth of `seconds`, at least 1.
    pub(super) fn about_f(&mut self, seconds: f64) -> u32 {
        let share = u32::try_from(self.below(201)).unwrap_or(100);
        let value = seconds * (0.9 + f64::from(share) / 1000.0);
        // Whole seconds of an invented time: the fraction is dropped on purpose, and `as` saturates.
        (value as u32).clamp(1, 36_000)
    }
}
