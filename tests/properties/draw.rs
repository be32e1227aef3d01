//! A generator whose draws follow from its seed, and numbers that a run is given from outside.

/// Draws that follow from a seed (splitmix64; Steele, Lea and Flood 2014).
pub(crate) struct Draw(pub(crate) u64);

impl Draw {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    pub(crate) fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    pub(crate) fn chance(&mut self, in_100: u64) -> bool {
        self.next() % 100 < in_100
    }

    pub(crate) fn mixed<T>(&mut self, mut list: Vec<T>) -> Vec<T> {
        for place in (1..list.len()).rev() {
            let other = self.below(place + 1);
            list.swap(place, other);
        }
        list
    }
}

/// A number from the environment, such as how many times to try.
pub(crate) fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok().and_then(|text| text.parse().ok())
}
