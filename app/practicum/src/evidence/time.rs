//! Times of services: which may stand beside each other, and where they are going.

use super::Books;
use crate::course_book::CourseBook;
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

/// Returns the hands-on seconds of stages that only a tint brings.
fn tint_only(service: &Service, book: &CourseBook) -> Seconds {
    let only_tint = |stage: &crate::ids::StageId| book.stage(stage).is_some_and(|stage| stage.only_with_tint);
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
