//! What opening a trial fixes and risks, said before it is opened.

use proficiency::competence::trial::combined;

use super::choosing::{decided, percent, words_of};
use super::decision::{TrialState, TrialVerdict, score_limits};
use crate::course_book::Rules;
use crate::trial::Terms;

/// What is to be known before a trial is opened.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// What is fixed from then on.
    pub fixed: String,
    /// What the trials before it make of opening another, worst first.
    pub warnings: Vec<String>,
    /// A trial before it is demonstrated, or suspended: its verdict is put aside.
    pub puts_aside: bool,
    /// Chance, 0 to 1, that a trainee who is not good enough passes this trial.
    pub false_pass: f64,
    /// The same of this trial or any before it, at least once.
    pub combined: f64,
}

/// Works out what opening a trial under a course book's rules fixes and risks, after the trials of `before` in the
/// order opened.
///
/// # Errors
/// Returns why no trial can be decided by these rules.
pub fn opening(rules: &Rules, before: &[TrialState]) -> Result<Opening, String> {
    let trial = &rules.trial;
    let terms = Terms::of(rules);
    let found = decided(trial)?;
    let scores = score_limits(&terms)?;
    let false_pass = scores.map_or(found.false_pass, |scores| found.false_pass.max(scores.false_pass));
    let earlier = before.last().map_or(0.0, |state| state.combined_false_pass);
    let combined = combined(&[earlier, false_pass]).map_err(|error| error.to_string())?;
    let score = match trial.score {
        Some(score) => format!(
            ", and a mean mark of {:.1} is too low, one of {:.1} good enough",
            score.unacceptable, score.acceptable
        ),
        None => String::new(),
    };
    let fixed = format!(
        "Fixed from now on: live services at {}, at most {}; {} not acceptable is too many, {} is good enough{score}. \
         Decided by this rule: {}. A trainee who is not good enough passes with chance {}, one who is good enough with chance {}{}.",
        rules.target_plan.word(),
        trial.horizon,
        percent(trial.unacceptable),
        percent(trial.acceptable),
        words_of(&found.rule),
        percent(false_pass),
        percent(found.power),
        if scores.is_some() { " as far as acceptable or not goes" } else { "" },
    );
    let mut warnings = Vec::new();
    let stands = |state: &&TrialState| matches!(state.verdict, TrialVerdict::Demonstrated | TrialVerdict::Suspended);
    let demonstrated = before.last().filter(stands);
    if let Some(state) = demonstrated {
        warnings.push(format!(
            "Trial {} has demonstrated the service. Opening another puts that verdict aside: a sign-off then stands on the \
             new trial, and is missing its evidence until that one passes too.",
            state.number
        ));
    }
    if let Some(state) = before.last() {
        if matches!(state.verdict, TrialVerdict::Open | TrialVerdict::SafetyOpen) {
            warnings.push(format!(
                "Trial {} is under way: it ends, not demonstrated, when another is opened.",
                state.number
            ));
        }
        warnings.push(format!(
            "This would be trial {}. A trainee who is not good enough passes at least one of {} trials with chance {}; \
             this one alone with chance {}.",
            state.number + 1,
            state.number + 1,
            percent(combined),
            percent(false_pass),
        ));
    }
    Ok(Opening { fixed, warnings, puts_aside: demonstrated.is_some(), false_pass, combined })
}
