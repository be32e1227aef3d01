//! What a second of an operation is worth: the shortest timeline solved again with the operation changed.

use super::{Side, Timeline, TimelineError, real};

/// What shortening some operations brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// Seconds taken off each operation named, or all of it where it was shorter.
    pub taken_off: i64,
    /// Seconds by which the shortest timeline gets shorter; below zero when a window moves the wrong way.
    pub saved: i64,
    /// Seconds saved for each second taken off each operation named; 0 when nothing was taken off.
    pub per_second: f64,
}

/// Returns what it brings to take `seconds` off each of the operations named.
///
/// Name the same stage in both chains to learn what the stage is worth: 2 then means that a second less of
/// it on either side makes the whole two seconds shorter. Below zero seconds makes the operations longer.
///
/// # Errors
/// [`TimelineError::Starts`] when an operation is not there; otherwise when the changed operations leave a
/// window that cannot be met.
pub fn worth(timeline: &Timeline, operations: &[(Side, usize)], seconds: i64) -> Result<Worth, TimelineError> {
    let now = timeline.shortest(None)?.schedule.makespan;
    change(timeline, now, operations, seconds)
}

/// Returns what it brings to shorten each operation by some percent of itself (at least one second, at most
/// all of it), in the order of the chains; an operation of no length is worth nothing.
///
/// # Errors
/// When the changed operations leave a window that cannot be met.
pub fn each(timeline: &Timeline, percent: u32) -> Result<Vec<(Side, usize, Worth)>, TimelineError> {
    let now = timeline.shortest(None)?.schedule.makespan;
    let mut worths = Vec::new();
    for side in Side::BOTH {
        for (at, seconds) in timeline.chains().of(side).operations.iter().enumerate() {
            let step = (seconds * i64::from(percent.min(100)) / 100).max(1);
            worths.push((side, at, change(timeline, now, &[(side, at)], step)?));
        }
    }
    Ok(worths)
}

fn change(timeline: &Timeline, now: i64, operations: &[(Side, usize)], seconds: i64) -> Result<Worth, TimelineError> {
    let mut chains = timeline.chains().clone();
    let mut taken_off = 0;
    for (side, at) in operations {
        let operation = chains.of_mut(*side).operations.get_mut(*at).ok_or(TimelineError::Starts)?;
        let less = seconds.min(*operation);
        *operation = operation.saturating_sub(less);
        taken_off = if seconds < 0 { taken_off.min(less) } else { taken_off.max(less) };
    }
    let then = Timeline::new(chains.first, chains.second)?.shortest(None)?.schedule.makespan;
    let saved = now - then;
    let per_second = if taken_off == 0 { 0.0 } else { real(saved) / real(taken_off) };
    Ok(Worth { taken_off, saved, per_second })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::timeline::{Chain, Lag};

    fn chain(operations: &[i64], lags: &[Lag]) -> Chain {
        Chain { operations: operations.to_vec(), lags: lags.to_vec(), final_dwell: 0 }
    }

    #[test]
    fn hands_that_never_rest_make_a_second_worth_a_second_and_twice_on_both_sides() {
        let one = chain(&[100, 50], &[Lag::FREE]);
        let timeline = Timeline::new(one.clone(), one).unwrap();
        let alone = worth(&timeline, &[(Side::First, 0)], 10).unwrap();
        assert_eq!((alone.saved, alone.per_second), (10, 1.0));
        let both = worth(&timeline, &[(Side::First, 0), (Side::Second, 0)], 10).unwrap();
        assert_eq!((both.saved, both.taken_off, both.per_second), (20, 10, 2.0));
    }

    #[test]
    fn work_hidden_in_a_dwell_is_worth_nothing() {
        let long = chain(&[10, 10], &[Lag::between(600, 600)]);
        let timeline = Timeline::new(long, chain(&[100], &[])).unwrap();
        assert_eq!(worth(&timeline, &[(Side::Second, 0)], 50).unwrap().saved, 0);
        let each = each(&timeline, 10).unwrap();
        let per_second: Vec<f64> = each.iter().map(|(_, _, worth)| worth.per_second).collect();
        assert_eq!(per_second, [1.0, 1.0, 0.0]);
    }

    #[test]
    fn operations_that_are_not_there_and_huge_shares_are_answered() {
        let timeline = Timeline::new(chain(&[5], &[]), Chain::default()).unwrap();
        assert_eq!(worth(&timeline, &[(Side::Second, 0)], 1), Err(TimelineError::Starts));
        assert_eq!(worth(&timeline, &[(Side::First, 0)], i64::MAX).unwrap().saved, 5);
        assert!(worth(&timeline, &[(Side::First, 0)], i64::MIN).is_err());
        assert_eq!(worth(&timeline, &[(Side::First, 0)], -5).unwrap().saved, -5);
        for percent in [0, 100, u32::MAX] {
            assert!(each(&timeline, percent).is_ok(), "{percent}");
        }
    }
}
