//! The times of a service: what they mean, and how a dwell is judged.
//!
//! Service time runs from the start of cleansing to the end of the final check, pauses included.
//! Every second of it belongs to exactly one of hands-on, pauses, instructor checks and waiting, so
//! that the four always add up to it.

use crate::couch::DwellPlan;
use crate::course_book::Mark;
use crate::eye::Eye;
use crate::ids::StageId;
use crate::moment::Seconds;
use crate::product::ProductKind;

/// All times of a service or drill. `None` where nobody knows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Times {
    /// Service time.
    pub service: Option<Seconds>,
    /// Hands-on time within the service time.
    pub hands_on: Option<Seconds>,
    /// Pauses within the service time.
    pub pauses: Option<Seconds>,
    /// Instructor checks within the service time.
    pub checks: Option<Seconds>,
    /// Waiting: service time minus hands-on, pauses and checks.
    pub waiting: Option<Seconds>,
    /// Hands-on time by stage and eye, in working order, consultation and clear-down included.
    pub stages: Vec<StageTime>,
    /// Hands-on time by finished section.
    pub sections: Vec<SectionTime>,
    /// Every dwell.
    pub dwells: Vec<Dwell>,
    /// Pauses with their reasons.
    pub pause_reasons: Vec<(String, Seconds)>,
    /// Stretches of time that the clocks disagree about, in words. A service with any is left out of
    /// the time standard until a person has confirmed them.
    pub doubts: Vec<String>,
    /// Reasons why an alarm may not have sounded.
    pub alarms_lost: Vec<String>,
    /// A person set a time right by hand.
    pub edited: bool,
}

/// Hands-on time of a stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageTime {
    /// The stage.
    pub stage: StageId,
    /// The eye, or both together.
    pub eye: Option<Eye>,
    /// Seconds of work.
    pub hands_on: Seconds,
}

/// Hands-on time of a finished section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionTime {
    /// The stage.
    pub stage: StageId,
    /// The eye.
    pub eye: Eye,
    /// Number of the section on this eye, from 1 in the order worked.
    pub number: u8,
    /// Seconds of work.
    pub hands_on: Seconds,
}

/// One dwell of a product on one eye.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dwell {
    /// The stage.
    pub stage: StageId,
    /// The product.
    pub product: ProductKind,
    /// The eye.
    pub eye: Eye,
    /// Seconds from the run's beginning to first contact.
    pub first_contact: Seconds,
    /// Seconds from the run's beginning to last contact, if tapped.
    pub last_contact: Option<Seconds>,
    /// Seconds from the run's beginning to off, started; `None` while the product is on.
    pub off: Option<Seconds>,
    /// Ended by a reaction, not by the trainee's plan.
    pub interrupted: bool,
    /// Figures in force; `None` for written times.
    pub plan: Option<DwellPlan>,
}

/// How a finished dwell stands to its window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DwellJudgement {
    /// Inside the window.
    Within,
    /// Shorter than the least dwell, from last contact. Never progress.
    Short,
    /// Past the maximum by no more than the course book's late seconds.
    Late,
    /// Past the maximum by more than that.
    Overrun,
    /// Past the label maximum: a safety breach.
    PastLabel,
    /// Interrupted by a reaction.
    Interrupted,
    /// No figures to judge it by.
    NotJudged,
}

impl DwellJudgement {
    /// Returns the plain word.
    pub fn word(self) -> &'static str {
        match self {
            DwellJudgement::Within => "within",
            DwellJudgement::Short => "short",
            DwellJudgement::Late => "late",
            DwellJudgement::Overrun => "overrun",
            DwellJudgement::PastLabel => "past the label maximum",
            DwellJudgement::Interrupted => "interrupted",
            DwellJudgement::NotJudged => "not judged",
        }
    }
}

impl Dwell {
    /// Returns the seconds from first contact to off, or to `now` while the product is on.
    pub fn from_first(&self, now: Seconds) -> Seconds {
        self.off.unwrap_or(now).saturating_sub(self.first_contact)
    }

    /// Returns the seconds from last contact to off, or to `now` while the product is on.
    pub fn from_last(&self, now: Seconds) -> Option<Seconds> {
        self.last_contact.map(|last| self.off.unwrap_or(now).saturating_sub(last))
    }

    /// Returns the second, from the run's beginning, at which the alarm is due: whichever comes first of
    /// planned dwell from last contact, maximum from first contact, and label maximum from first contact.
    pub fn alarm_at(&self) -> Option<Seconds> {
        let plan = self.plan?;
        let planned = self.last_contact.unwrap_or(self.first_contact).saturating_add(plan.planned);
        let longest = self.first_contact.saturating_add(plan.maximum.min(plan.label_maximum));
        Some(planned.min(longest))
    }

    /// Returns the limits that each call for an alarm of their own, in order: when the alarm is first due, the
    /// maximum, the label maximum. Whoever let one pass unheeded is called again at the next.
    pub fn alarms(&self) -> Vec<Seconds> {
        let Some(plan) = self.plan else { return Vec::new() };
        let from_first = |seconds: Seconds| self.first_contact.saturating_add(seconds);
        let mut limits: Vec<Seconds> =
            self.alarm_at().into_iter().chain([from_first(plan.maximum), from_first(plan.label_maximum)]).collect();
        limits.sort_unstable();
        limits.dedup();
        limits
    }

    /// Judges the dwell as it stands at `now`; `late_seconds` is the course book's margin.
    pub fn judge(&self, now: Seconds, late_seconds: Seconds) -> DwellJudgement {
        let Some(plan) = self.plan else {
            return DwellJudgement::NotJudged;
        };
        let first = self.from_first(now);
        if first > plan.label_maximum {
            DwellJudgement::PastLabel
        } else if first > plan.maximum.saturating_add(late_seconds) {
            DwellJudgement::Overrun
        } else if first > plan.maximum {
            DwellJudgement::Late
        } else if self.interrupted {
            DwellJudgement::Interrupted
        } else if self.off.is_some() && self.from_last(now).unwrap_or(first) < plan.minimum {
            // Without a tapped last contact even the longer time, from first contact, is too short.
            DwellJudgement::Short
        } else {
            DwellJudgement::Within
        }
    }
}

impl Times {
    /// Returns the highest mark that the clocks allow for the criterion that watches them.
    ///
    /// A breach or an overrun allows Not yet; a late or short dwell allows Nearly.
    pub fn timing_cap(&self, late_seconds: Seconds) -> Mark {
        let cap = |dwell: &Dwell| match dwell.judge(dwell.off.unwrap_or(0), late_seconds) {
            DwellJudgement::PastLabel | DwellJudgement::Overrun => Mark::NotYet,
            DwellJudgement::Late | DwellJudgement::Short => Mark::Nearly,
            _ => Mark::Strong,
        };
        self.dwells.iter().map(cap).min().unwrap_or(Mark::Strong)
    }

    /// Returns the safety breaches that the clocks recorded, in words.
    pub fn breaches(&self, late_seconds: Seconds) -> Vec<String> {
        let past = |dwell: &&Dwell| dwell.judge(dwell.off.unwrap_or(0), late_seconds) == DwellJudgement::PastLabel;
        let say =
            |dwell: &Dwell| format!("{} on the {} eye past the label maximum", dwell.product.word(), dwell.eye.word());
        self.dwells.iter().filter(past).map(say).collect()
    }

    /// Returns the hands-on time of a stage, both eyes together; `None` when it was not worked.
    pub fn stage_hands_on(&self, stage: &StageId) -> Option<Seconds> {
        let mut parts = self.stages.iter().filter(|time| time.stage == *stage).map(|time| time.hands_on).peekable();
        parts.peek().is_some().then(|| parts.sum())
    }
}
