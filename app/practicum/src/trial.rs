//! A trial: the run of services that a decision on the whole service stands on.
//!
//! Everything is fixed by the entry that opens it: plan, thresholds, error rates, horizon and course book.
//! What the services since then amount to is worked out by [`crate::evidence`], and never stored: a
//! correction of a service or of its marks changes it, a pass included.

use crate::course_book::{AssessorRules, Rules, ScoreRules};
use crate::ids::{CourseBookId, EntryId, PersonId};
use crate::moment::Moment;
use crate::section::Plan;

/// A trial as opened.
#[derive(Debug, Clone, PartialEq)]
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

/// What a trial fixes when it is opened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Plan at which services count.
    pub plan: Plan,
    /// Unacceptable failure rate, 0 to 1.
    pub unacceptable: f64,
    /// Acceptable failure rate, 0 to 1.
    pub acceptable: f64,
    /// Most services.
    pub horizon: u32,
    /// Chance of a false pass allowed, 0 to 1.
    pub alpha: f64,
    /// Share of unassessed services above which the error bound is withdrawn, 0 to 1.
    pub unassessed_share: f64,
    /// Services at the plan in a row without a safety breach.
    pub breach_free_last: u32,
    /// Thresholds on the mean mark, when it is looked at too.
    pub score: Option<ScoreRules>,
    /// How often assessors are assumed to err.
    pub assessors: AssessorRules,
}

impl Terms {
    /// Returns what a trial opened under these rules fixes.
    pub fn of(rules: &Rules) -> Self {
        Terms {
            plan: rules.target_plan,
            unacceptable: rules.trial.unacceptable,
            acceptable: rules.trial.acceptable,
            horizon: rules.trial.horizon,
            alpha: rules.trial.alpha,
            unassessed_share: rules.trial.unassessed_share,
            breach_free_last: rules.breach_free_last,
            score: rules.trial.score,
            assessors: rules.trial.assessors,
        }
    }

    /// Returns what is fixed, in a sentence for the person who opens the trial.
    pub fn say(&self) -> String {
        let percent = |share: f64| format!("{:.0} in 100", share * 100.0);
        let score = match self.score {
            Some(score) => format!(
                ", and on a mean mark of {:.1} that is too low against {:.1} that is good enough",
                score.unacceptable, score.acceptable
            ),
            None => String::new(),
        };
        format!(
            "Fixed from now on: live services at {}, at most {}; {} not acceptable is too many, {} is good enough{score}; \
             a trainee who is not good enough passes at most {} times.",
            self.plan.word(),
            self.horizon,
            percent(self.unacceptable),
            percent(self.acceptable),
            percent(self.alpha),
        )
    }
}
