//! What a count of hits says about a rate.
//!
//! Wilson's score interval: Wilson (1927), Journal of the American Statistical Association 22:209-212;
//! compared by Newcombe (1998), Statistics in Medicine 17:857-872.

use crate::normal;

/// Returns the Wilson score interval of a rate, both limits 0 to 1, without continuity correction.
///
/// `hits` of `tries`; `level` is the confidence level, e.g. 0.95. `None` without tries, with more hits
/// than tries, or with a level outside 0 to 1.
pub fn wilson(hits: u32, tries: u32, level: f64) -> Option<(f64, f64)> {
    if tries == 0 || hits > tries {
        return None;
    }
    let z = normal::exceeded_with((1.0 - level) / 2.0)?;
    if z <= 0.0 {
        return None;
    }
    let (n, share) = (f64::from(tries), f64::from(hits) / f64::from(tries));
    let z2 = z * z;
    let centre = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
    let low = if hits == 0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if hits == tries { 1.0 } else { (centre + half).min(1.0) };
    Some((low, high))
}

/// Returns the chance that `run` independent tries in a row all succeed when each fails with chance
/// `failure`; `None` unless `failure` is 0 to 1.
pub fn chance_of_clean_run(failure: f64, run: u32) -> Option<f64> {
    (0.0..=1.0).contains(&failure).then(|| (1.0 - failure).powf(f64::from(run)))
}

#[cfg(test)]
mod tests {
    use super::{chance_of_clean_run, wilson};

    #[test]
    fn what_cannot_be_counted_has_no_interval() {
        assert_eq!(wilson(0, 0, 0.95), None);
        assert_eq!(wilson(3, 2, 0.95), None);
        for level in [0.0, 1.0, -1.0, f64::NAN] {
            assert_eq!(wilson(1, 2, level), None, "{level}");
        }
    }

    #[test]
    fn three_clean_in_a_row_happen_half_the_time_at_one_failure_in_five() {
        let chance = chance_of_clean_run(0.2, 3).unwrap();
        assert!((chance - 0.512).abs() < 1e-12);
        assert_eq!(chance_of_clean_run(f64::NAN, 3), None);
        assert_eq!(chance_of_clean_run(1.5, 3), None);
    }
}
