//! Windows told from contacts: something begins to work at a first contact and must be taken off in time.
//!
//! An operation puts something on between its first and its last contact. Whoever got it last must have had
//! it for a minimum, whoever got it first may have had it for no more than a maximum; both end when the next
//! operation starts to take it off.

use thiserror::Error;

use super::{Counted, Lag, MOST_SECONDS, Used};

/// How long something put on by an operation may work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dwell {
    /// Least seconds from the last contact to the start of the next operation.
    pub minimum: i64,
    /// Most seconds from the first contact to the start of the next operation.
    pub maximum: i64,
    /// Seconds from the start of the operation to the first contact.
    pub before_first: i64,
    /// Seconds from the last contact to the end of the operation.
    pub after_last: i64,
}

/// A dwell that no operation can keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error(
    "a dwell of {} to {} s with {} s before first and {} s after last contact cannot be planned with",
    .0.minimum, .0.maximum, .0.before_first, .0.after_last
)]
pub struct DwellError(
    /// What was given.
    pub Dwell,
);

/// How long a dwell lasts in a timeline, seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lasts {
    /// From first contact, judged against the maximum.
    pub from_first: i64,
    /// From last contact, judged against the minimum.
    pub from_last: i64,
    /// Earliest start of the next operation, from the end of this one.
    pub earliest: i64,
    /// Latest start of the next operation, from the end of this one.
    pub latest: i64,
}

impl Dwell {
    /// Returns the window after the operation: the minimum from its end less what passed since last contact,
    /// the maximum from its start plus what passed until first contact.
    ///
    /// # Errors
    /// When a number is below zero or above [`MOST_SECONDS`], or the minimum is above the maximum.
    pub fn lag(&self) -> Result<Lag, DwellError> {
        let sane = |seconds: &i64| (0..=MOST_SECONDS / 2).contains(seconds);
        let all = [self.minimum, self.maximum, self.before_first, self.after_last];
        if !all.iter().all(sane) || self.maximum < self.minimum {
            return Err(DwellError(*self));
        }
        Ok(Lag {
            least: (self.minimum - self.after_last).max(0),
            most: Some(self.before_first + self.maximum),
            counted: Counted::FromStart,
        })
    }

    /// Returns how long the dwell lasts when the operation takes `operation` seconds and its window is used
    /// as `used` says.
    pub fn lasts(&self, operation: i64, used: &Used) -> Lasts {
        Lasts {
            from_first: operation.saturating_sub(self.before_first).saturating_add(used.waited),
            from_last: self.after_last.saturating_add(used.waited),
            earliest: self.minimum.saturating_sub(self.after_last).max(0),
            latest: self.before_first.saturating_add(self.maximum).saturating_sub(operation),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::timeline::{Chain, Side, Timeline, TimelineError};

    const DWELL: Dwell = Dwell { minimum: 300, maximum: 480, before_first: 10, after_last: 5 };

    fn one(operation: i64, dwell: Dwell) -> Result<Timeline, TimelineError> {
        let lags = vec![dwell.lag().unwrap()];
        Timeline::new(Chain { operations: vec![operation, 60], lags, final_dwell: 0 }, Chain::default())
    }

    #[test]
    fn the_minimum_counts_from_last_contact_and_the_maximum_from_first() {
        let timeline = one(120, DWELL).unwrap();
        let solution = timeline.shortest(None).unwrap();
        let used = &solution.windows[0];
        let lasts = DWELL.lasts(120, used);
        assert_eq!((lasts.from_last, lasts.from_first), (300, 110 + 295));
        assert_eq!((used.lag.least, used.lag.most), (295, Some(370)));
        assert_eq!((lasts.earliest, lasts.latest), (295, 370));
    }

    #[test]
    fn an_application_that_eats_the_window_is_named() {
        assert!(one(195, DWELL).is_ok());
        let error = one(196, DWELL).unwrap_err();
        let named = TimelineError::Operation { chain: Side::First, after: 0, operation: 196, least: 295, most: 490 };
        assert_eq!(error, named);
        assert!(error.to_string().contains("operation 1"), "{error}");
    }

    #[test]
    fn a_dwell_that_was_never_checked_lasts_no_longer_than_a_number_can() {
        let far = Dwell { minimum: i64::MAX, maximum: i64::MAX, before_first: i64::MIN, after_last: i64::MAX };
        let used = Used { chain: Side::First, after: 0, lag: Lag::FREE, waited: i64::MAX, spare: None };
        assert_eq!(far.lasts(i64::MAX, &used).from_last, i64::MAX);
    }

    #[test]
    fn dwells_that_make_no_sense_are_refused() {
        for dwell in [
            Dwell { minimum: 500, ..DWELL },
            Dwell { minimum: -1, ..DWELL },
            Dwell { maximum: i64::MAX, ..DWELL },
            Dwell { before_first: i64::MIN, ..DWELL },
        ] {
            assert_eq!(dwell.lag(), Err(DwellError(dwell)));
        }
    }
}
