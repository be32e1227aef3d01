//! Stored forms of outcomes, plan decisions, trials and sign-offs.

use std::collections::BTreeMap;

use practicum::competency::{Decision, SignOff, StandsOn};
use practicum::course_book::Mark;
use practicum::ids::EntryId;
use practicum::outcome::{FaultSeen, Marked, Outcome};
use practicum::standing::PlanDecision;
use practicum::trial::{Millionths, ScoreTerms, Terms, Trial};
use serde::{Deserialize, Serialize};

use super::Twin;
use super::basics::{EyeV1, PlanV1};
use crate::answers::Answers;

/// A level, or that the criterion does not apply.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub(crate) enum MarkedV1 {
    #[serde(rename = "not yet")]
    NotYet,
    #[serde(rename = "nearly")]
    Nearly,
    #[serde(rename = "meets")]
    Meets,
    #[serde(rename = "strong")]
    Strong,
    #[serde(rename = "not applicable")]
    NotApplicable,
}

impl Twin<Marked> for MarkedV1 {
    fn of(domain: &Marked) -> Self {
        match domain {
            Marked::Level(Mark::NotYet) => MarkedV1::NotYet,
            Marked::Level(Mark::Nearly) => MarkedV1::Nearly,
            Marked::Level(Mark::Meets) => MarkedV1::Meets,
            Marked::Level(Mark::Strong) => MarkedV1::Strong,
            Marked::NotApplicable => MarkedV1::NotApplicable,
        }
    }

    fn back(self) -> Result<Marked, String> {
        Ok(match self {
            MarkedV1::NotYet => Marked::Level(Mark::NotYet),
            MarkedV1::Nearly => Marked::Level(Mark::Nearly),
            MarkedV1::Meets => Marked::Level(Mark::Meets),
            MarkedV1::Strong => Marked::Level(Mark::Strong),
            MarkedV1::NotApplicable => Marked::NotApplicable,
        })
    }
}

twin!(FaultSeenV1 = FaultSeen { fault: String, eye: EyeV1, section: Option<u8> });
twin!(OutcomeV1 = Outcome {
    service: String,
    marker: String,
    at: String,
    marks: BTreeMap<String, MarkedV1>,
    faults: Vec<FaultSeenV1>,
    comment: String,
    independence_next: Option<u8>,
    observed: bool,
});
twin!(AnswersV1 = Answers {
    marks: BTreeMap<String, MarkedV1>,
    faults: Vec<FaultSeenV1>,
    comfort: String,
    aftercare: Option<bool>,
    note: String,
    swelling: Option<bool>,
    rinsed: String,
});
twin_words!(DecisionV1 = Decision { Signed "signed", NotYet "not yet", Withdrawn "withdrawn" });

/// A plan decision; its identifier is that of the entry.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct PlanDecisionV1 {
    trainee: String,
    plan: PlanV1,
    at: String,
    by: String,
    why: String,
}

impl PlanDecisionV1 {
    pub(crate) fn of(decision: &PlanDecision) -> Self {
        Self {
            trainee: Twin::of(&decision.trainee),
            plan: Twin::of(&decision.plan),
            at: Twin::of(&decision.at),
            by: Twin::of(&decision.by),
            why: decision.why.clone(),
        }
    }

    pub(crate) fn back(self, id: &EntryId) -> Result<PlanDecision, String> {
        Ok(PlanDecision {
            id: id.clone(),
            trainee: self.trainee.back()?,
            plan: self.plan.back()?,
            at: self.at.back()?,
            by: self.by.back()?,
            why: self.why,
        })
    }
}

/// A trial as opened; its identifier is that of the entry. Chances and marks are in millionths.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct TrialV1 {
    trainee: String,
    by: String,
    at: String,
    course_book: String,
    plan: PlanV1,
    unacceptable: u32,
    acceptable: u32,
    horizon: u32,
    alpha: u32,
    unassessed_share: u32,
    breach_free_last: u32,
    score: Option<ScoreTermsV1>,
    false_accept: u32,
    false_reject: u32,
}

/// Thresholds on the mean mark, in millionths.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct ScoreTermsV1 {
    unacceptable: u32,
    acceptable: u32,
    spread: u32,
}

impl TrialV1 {
    pub(crate) fn of(trial: &Trial) -> Self {
        let terms = &trial.terms;
        Self {
            trainee: Twin::of(&trial.trainee),
            by: Twin::of(&trial.by),
            at: Twin::of(&trial.at),
            course_book: Twin::of(&trial.course_book),
            plan: Twin::of(&terms.plan),
            unacceptable: terms.unacceptable.0,
            acceptable: terms.acceptable.0,
            horizon: terms.horizon,
            alpha: terms.alpha.0,
            unassessed_share: terms.unassessed_share.0,
            breach_free_last: terms.breach_free_last,
            score: terms.score.map(|score| ScoreTermsV1 {
                unacceptable: score.unacceptable.0,
                acceptable: score.acceptable.0,
                spread: score.spread.0,
            }),
            false_accept: terms.false_accept.0,
            false_reject: terms.false_reject.0,
        }
    }

    pub(crate) fn back(self, id: &EntryId) -> Result<Trial, String> {
        Ok(Trial {
            id: id.clone(),
            trainee: self.trainee.back()?,
            by: self.by.back()?,
            at: self.at.back()?,
            course_book: self.course_book.back()?,
            terms: Terms {
                plan: self.plan.back()?,
                unacceptable: Millionths(self.unacceptable),
                acceptable: Millionths(self.acceptable),
                horizon: self.horizon,
                alpha: Millionths(self.alpha),
                unassessed_share: Millionths(self.unassessed_share),
                breach_free_last: self.breach_free_last,
                score: self.score.map(|score| ScoreTerms {
                    unacceptable: Millionths(score.unacceptable),
                    acceptable: Millionths(score.acceptable),
                    spread: Millionths(score.spread),
                }),
                false_accept: Millionths(self.false_accept),
                false_reject: Millionths(self.false_reject),
            },
        })
    }
}

/// A sign-off; its identifier is that of the entry.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct SignOffV1 {
    competency: String,
    trainee: String,
    by: String,
    at: String,
    decision: DecisionV1,
    level: u8,
    comment: String,
    services: Vec<String>,
}

impl SignOffV1 {
    pub(crate) fn of(sign_off: &SignOff) -> Self {
        Self {
            competency: Twin::of(&sign_off.competency),
            trainee: Twin::of(&sign_off.trainee),
            by: Twin::of(&sign_off.by),
            at: Twin::of(&sign_off.at),
            decision: Twin::of(&sign_off.decision),
            level: sign_off.level,
            comment: sign_off.comment.clone(),
            services: Twin::of(&sign_off.services),
        }
    }

    pub(crate) fn back(self, id: &EntryId) -> Result<SignOff, String> {
        Ok(SignOff {
            id: id.clone(),
            competency: self.competency.back()?,
            trainee: self.trainee.back()?,
            by: self.by.back()?,
            at: self.at.back()?,
            decision: self.decision.back()?,
            level: self.level,
            comment: self.comment,
            services: self.services.back()?,
            stands_on: None,
        })
    }
}

/// A sign-off of the second version, which says what it stands on; its identifier is that of the entry.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct SignOffV2 {
    competency: String,
    trainee: String,
    by: String,
    at: String,
    decision: DecisionV1,
    level: u8,
    comment: String,
    services: Vec<String>,
    course_book: String,
    evidence: Vec<String>,
}

impl SignOffV2 {
    pub(crate) fn of(sign_off: &SignOff, stands_on: &StandsOn) -> Self {
        let SignOffV1 { competency, trainee, by, at, decision, level, comment, services } = SignOffV1::of(sign_off);
        let (course_book, evidence) = (Twin::of(&stands_on.course_book), stands_on.evidence.clone());
        Self { competency, trainee, by, at, decision, level, comment, services, course_book, evidence }
    }

    pub(crate) fn back(self, id: &EntryId) -> Result<SignOff, String> {
        let Self { competency, trainee, by, at, decision, level, comment, services, course_book, evidence } = self;
        let first = SignOffV1 { competency, trainee, by, at, decision, level, comment, services }.back(id)?;
        Ok(SignOff { stands_on: Some(StandsOn { course_book: course_book.back()?, evidence }), ..first })
    }
}
