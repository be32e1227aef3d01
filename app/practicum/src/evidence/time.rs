//! Times of services: which may stand beside each other, and where they are going.

use super::Books;
use crate::course_book::CourseBook;
use crate::eye::Eye;
use crate::ids::StageId;
use crate::moment::Seconds;
use crate::service::{Ending, Origin, Service};

/// Why a service's time is left out of the time standard of its plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LeftOut {
    /// It is a drill.
    Drill,
    /// It was imported.
    Imported,
    /// It was written down after the fact.
    Late,
    /// It was stopped before its end.
    Stopped,
    /// The plan was mixed, or is not known.
    MixedPlan,
    /// Pauses took too large a share.
    Pauses,
    /// The clocks disagreed, and nobody confirmed the time.
    Doubtful,
    /// A person set a time right by hand.
    Edited,
    /// There is no hands-on time.
    NoTime,
}

impl LeftOut {
    /// Returns the reason in a few words.
    pub fn say(self) -> &'static str {
        match self {
            LeftOut::Drill => "a drill",
            LeftOut::Imported => "imported, not observed",
            LeftOut::Late => "a late entry",
            LeftOut::Stopped => "stopped before its end",
            LeftOut::MixedPlan => "sections were mixed",
            LeftOut::Pauses => "long pauses",
            LeftOut::Doubtful => "a doubtful time",
            LeftOut::Edited => "a time set by hand",
            LeftOut::NoTime => "no hands-on time",
        }
    }
}

/// Returns the hands-on seconds that stand for a service in the time standard of its plan: without the
/// stages that only tint brings.
///
/// # Errors
/// Returns every reason why its time is left out.
pub fn standard_time(service: &Service, books: &Books) -> Result<Seconds, Vec<LeftOut>> {
    let times = &service.times;
    let mut reasons = Vec::new();
    let mut leave_out = |when: bool, why: LeftOut| {
        if when {
            reasons.push(why);
        }
    };
    let hands_on = times.hands_on.unwrap_or(0);
    let pauses = u64::from(times.pauses.unwrap_or(0)) * 100;
    let allowed = u64::from(hands_on) * u64::from(books.present.rules.pause_percent);
    leave_out(!service.is_service(), LeftOut::Drill);
    leave_out(service.is_imported(), LeftOut::Imported);
    leave_out(matches!(service.origin, Origin::Late(_)), LeftOut::Late);
    leave_out(service.ending != Ending::Finished, LeftOut::Stopped);
    leave_out(service.worked.is_none_or(|worked| worked.mixed), LeftOut::MixedPlan);
    leave_out(pauses > allowed, LeftOut::Pauses);
    leave_out(!times.doubts.is_empty(), LeftOut::Doubtful);
    leave_out(times.edited, LeftOut::Edited);
    let standard = hands_on.saturating_sub(tint_only(service, books.of(service)));
    leave_out(standard == 0, LeftOut::NoTime);
    if reasons.is_empty() { Ok(standard) } else { Err(reasons) }
}

/// Returns the hands-on seconds with which a service counts in the learning curve, of the whole (without the stages
/// that only tint brings) or of one stage, both eyes together.
///
/// The curve takes more times than the time standard does: a mixed plan has the time that it took, and pauses are
/// no part of hands-on time. What nobody's clock took (imported, late, set by hand), what the clocks disagree
/// about, and what was not worked to its end stays out.
///
/// # Errors
/// Returns every reason why its time is left out.
pub fn curve_time(service: &Service, books: &Books, stage: Option<&StageId>) -> Result<Seconds, Vec<LeftOut>> {
    let mut reasons = standard_time(service, books).err().unwrap_or_default();
    let bearable = |why: &LeftOut| match why {
        LeftOut::MixedPlan => service.worked.is_some(),
        LeftOut::Pauses | LeftOut::NoTime => true,
        _ => false,
    };
    reasons.retain(|why| !bearable(why));
    let seconds = match stage {
        None => service.times.hands_on.unwrap_or(0).saturating_sub(tint_only(service, books.of(service))),
        Some(stage) => of_stage(service, stage, books.of(service)),
    };
    if seconds == 0 {
        reasons.push(LeftOut::NoTime);
    }
    if reasons.is_empty() { Ok(seconds) } else { Err(reasons) }
}

/// Returns the hands-on seconds of a stage, both eyes together; 0 when an eye that has its own clock has none.
fn of_stage(service: &Service, stage: &StageId, book: &CourseBook) -> Seconds {
    let worked = |eye: Option<Eye>| {
        let parts = service.times.stages.iter().filter(|time| time.stage == *stage && time.eye == eye);
        parts.map(|time| time.hands_on).fold(0, Seconds::saturating_add)
    };
    let eyes = Eye::BOTH.map(|eye| worked(Some(eye)));
    if book.stage(stage).is_some_and(|stage| stage.per_eye) && eyes.contains(&0) {
        return 0;
    }
    eyes.into_iter().fold(worked(None), Seconds::saturating_add)
}

/// Returns the hands-on seconds of stages that only a tint brings.
fn tint_only(service: &Service, book: &CourseBook) -> Seconds {
    let only_tint = |stage: &StageId| book.stage(stage).is_some_and(|stage| stage.only_with_tint);
    let parts = service.times.stages.iter().filter(|time| only_tint(&time.stage)).map(|time| time.hands_on);
    parts.fold(0, Seconds::saturating_add)
}

/// Where hands-on times in a row are going.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Change from one service to the next in percent; below zero is quicker.
    pub percent_per_service: f64,
    /// Median in seconds.
    pub median: f64,
}

/// Works out the trend of hands-on times in the order worked: the Theil-Sen slope of their logarithms.
///
/// `None` with fewer than two times above zero.
pub fn hands_on_trend(times: &[Seconds]) -> Option<Trend> {
    let points: Vec<(f64, f64)> = times
        .iter()
        .enumerate()
        .filter(|(_, seconds)| **seconds > 0)
        .map(|(number, seconds)| (number as f64, f64::from(*seconds).ln()))
        .collect();
    let slope = proficiency::trend::theil_sen(&points)?.slope;
    let seconds: Vec<f64> = times.iter().filter(|seconds| **seconds > 0).map(|seconds| f64::from(*seconds)).collect();
    Some(Trend { percent_per_service: slope.exp_m1() * 100.0, median: proficiency::middle::median(&seconds)? })
}
