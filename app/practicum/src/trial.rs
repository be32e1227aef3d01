//! A trial: the run of services that a decision on the whole service stands on.
//!
//! Everything is fixed by the entry that opens it: plan, thresholds, error rates, horizon, and the course book,
//! which names the rule that decides.
//! What the services since then amount to is worked out by [`crate::evidence`], and never stored: a
//! correction of a service or of its marks changes it, a pass included.

use crate::course_book::{AssessorRules, Rules, ScoreRules, TrialRule, TrialRules};
use crate::ids::{CourseBookId, EntryId, PersonId};
use crate::moment::Moment;
use crate::section::Plan;

/// A trial as opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trial {
    /// The entry that opened it.
    pub id: EntryId,
    /// Whose.
    pub trainee: PersonId,
    /// By whom; a trial that a trainee opened for themselves never counts.
    pub by: PersonId,
    /// When: services begun later belong to it, until the next trial is opened.
    pub at: Moment,
    /// What was fixed.
    pub terms: Terms,
    /// Course book in force when it was opened.
    pub course_book: CourseBookId,
}

/// A number from 0 in whole millionths, as a record fixes it: what was fixed stays the same to the last digit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Millionths(pub u32);

impl Millionths {
    /// Returns the nearest to a number from 0 to 4000; 0 for what is no number or below, 4000 for what is above.
    pub fn of(number: f64) -> Self {
        Self((number.clamp(0.0, 4000.0) * 1e6).round() as u32)
    }

    /// Returns the number.
    pub fn value(self) -> f64 {
        f64::from(self.0) / 1e6
    }
}

/// What a trial fixes when it is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Terms {
    /// Plan at which services count.
    pub plan: Plan,
    /// Unacceptable failure rate, 0 to 1.
    pub unacceptable: Millionths,
    /// Acceptable failure rate, 0 to 1.
    pub acceptable: Millionths,
    /// Most services.
    pub horizon: u32,
    /// Chance of a false pass allowed, 0 to 1.
    pub alpha: Millionths,
    /// Share of unassessed services above which the error bound is withdrawn, 0 to 1.
    pub unassessed_share: Millionths,
    /// Services at the plan in a row without a safety breach.
    pub breach_free_last: u32,
    /// Thresholds on the mean mark, when it is looked at too.
    pub score: Option<ScoreTerms>,
    /// Assumed chance that assessors accept what is not acceptable, 0 to 1.
    pub false_accept: Millionths,
    /// Assumed chance that assessors do not accept what is acceptable, 0 to 1.
    pub false_reject: Millionths,
}

/// Thresholds on the mean mark of a service, 0 to 3.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScoreTerms {
    /// Unacceptable mean.
    pub unacceptable: Millionths,
    /// Acceptable mean.
    pub acceptable: Millionths,
    /// Spread of a trainee's services around their mean.
    pub spread: Millionths,
}

impl Terms {
    /// Returns what a trial opened under these rules fixes.
    pub fn of(rules: &Rules) -> Self {
        let trial = &rules.trial;
        Terms {
            plan: rules.target_plan,
            unacceptable: Millionths::of(trial.unacceptable),
            acceptable: Millionths::of(trial.acceptable),
            horizon: trial.horizon,
            alpha: Millionths::of(trial.alpha),
            unassessed_share: Millionths::of(trial.unassessed_share),
            breach_free_last: rules.breach_free_last,
            score: trial.score.map(|score| ScoreTerms {
                unacceptable: Millionths::of(score.unacceptable),
                acceptable: Millionths::of(score.acceptable),
                spread: Millionths::of(score.spread),
            }),
            false_accept: Millionths::of(trial.assessors.false_accept),
            false_reject: Millionths::of(trial.assessors.false_reject),
        }
    }

    /// Returns the thresholds as numbers. The shortest run, which follows from them, is 0; the rule, which the
    /// course book of the trial fixes, is the learning chart.
    pub fn figures(&self) -> TrialRules {
        TrialRules {
            unacceptable: self.unacceptable.value(),
            acceptable: self.acceptable.value(),
            horizon: self.horizon,
            alpha: self.alpha.value(),
            shortest_run: 0,
            unassessed_share: self.unassessed_share.value(),
            score: self.score.map(|score| ScoreRules {
                unacceptable: score.unacceptable.value(),
                acceptable: score.acceptable.value(),
                spread: score.spread.value(),
            }),
            assessors: AssessorRules {
                false_accept: self.false_accept.value(),
                false_reject: self.false_reject.value(),
            },
            rule: TrialRule::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Millionths;

    #[test]
    fn a_number_fixed_stays_the_same() {
        for number in [0.0, 0.05, 0.4, 0.1, 2.2, 1.0] {
            let fixed = Millionths::of(number);
            assert_eq!(fixed.value(), number);
            assert_eq!(Millionths::of(fixed.value()), fixed);
        }
        for millionths in (0..4_000_000_000).step_by(7_654_321) {
            assert_eq!(Millionths::of(Millionths(millionths).value()), Millionths(millionths));
        }
        assert_eq!([f64::NAN, -1.0, f64::NEG_INFINITY].map(|number| Millionths::of(number).0), [0, 0, 0]);
        assert_eq!(Millionths::of(f64::INFINITY).value(), 4000.0);
    }
}
