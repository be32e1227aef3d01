//! What a count of acceptable services says about the share that is acceptable: to describe, never to decide.

use proficiency::proportion::wilson;

/// Confidence of the interval.
const LEVEL: f64 = 0.95;

/// Returns between which limits, each 0 to 1, the share of acceptable services may well lie: Wilson's 95 %
/// interval (1927). `None` without services, or with more acceptable ones than services.
///
/// It holds for a number of services that was fixed beforehand. Looked at after every service it is wrong more
/// often than it says, which is why no decision stands on it.
pub fn likely_share(acceptable: u32, services: u32) -> Option<(f64, f64)> {
    wilson(acceptable, services, LEVEL)
}

/// How [`likely_share`] is worked out, in a sentence.
pub const LIKELY_SHARE: &str = "Range of the share acceptable: Wilson’s interval with 95 % confidence (1927). It is descriptive: it holds for a \
     number of services fixed beforehand, and looking after each one makes it wrong more often. No decision stands on it.";

#[cfg(test)]
mod tests {
    use super::likely_share;

    #[test]
    fn a_share_without_services_is_unknown_and_a_clean_row_is_no_certainty() {
        assert_eq!(likely_share(0, 0), None);
        assert_eq!(likely_share(3, 2), None);
        let (low, high) = likely_share(8, 8).unwrap();
        assert!(low > 0.6 && low < 0.7 && high == 1.0, "{low} {high}");
    }
}
