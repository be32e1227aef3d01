//! Outcomes: marks, faults, and what an acceptable service is.

use std::collections::BTreeMap;

use crate::couch::Tint;
use crate::course_book::{CourseBook, Criterion, Mark};
use crate::eye::Eye;
use crate::ids::{CriterionId, FaultId, PersonId, ServiceId};
use crate::moment::Moment;
use crate::service::Service;

/// A mark for a criterion, or that it does not apply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marked {
    /// A level.
    Level(Mark),
    /// Not applicable here.
    NotApplicable,
}

/// A fault seen on an eye.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct FaultSeen {
    /// Which fault.
    pub fault: FaultId,
    /// On which eye.
    pub eye: Eye,
    /// In which section, counted from the inner corner from 1, if said.
    pub section: Option<u8>,
}

/// One person's view of a service's outcome.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    /// The service or drill.
    pub service: ServiceId,
    /// Who marked.
    pub marker: PersonId,
    /// When.
    pub at: Moment,
    /// Marks by criterion.
    pub marks: BTreeMap<CriterionId, Marked>,
    /// Faults seen.
    pub faults: Vec<FaultSeen>,
    /// Comment; may be empty.
    pub comment: String,
    /// Assessor: independence level for next time, 0 to 6.
    pub independence_next: Option<u8>,
    /// Assessor: watched from end to end.
    pub observed: bool,
}

/// What a set of marks amounts to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// A safety-critical criterion at Not yet, or a breach recorded by a clock or a gate: the whole is
    /// Not yet, whatever else. The reasons, in words.
    SafetyBreach(Vec<String>),
    /// Not acceptable; the criteria that keep it from being so.
    NotAcceptable(Vec<CriterionId>),
    /// Acceptable.
    Acceptable,
}

/// Returns the criteria that apply to a service or drill.
pub fn applicable<'a>(book: &'a CourseBook, service: &Service) -> Vec<&'a Criterion> {
    let drill = service.drill.as_ref().and_then(|kind| book.drill(kind));
    let applies = |criterion: &&Criterion| match drill {
        Some(kind) => kind.criteria.contains(&criterion.id),
        None if !service.is_service() => criterion.in_drills,
        None => criterion.without_tint || service.tint != Tint::None,
    };
    book.criteria.iter().filter(applies).collect()
}

/// Works out what marks amount to.
///
/// Acceptable: every applicable safety-critical and every core criterion at least Meets, no other at
/// Not yet, none without a mark. "Not applicable" counts as no mark on a safety-critical or core
/// criterion. `recorded_breaches` are breaches that a clock or a gate recorded, in words.
pub fn verdict(
    applicable: &[&Criterion],
    marks: &BTreeMap<CriterionId, Marked>,
    recorded_breaches: &[String],
) -> Verdict {
    let mut breaches = recorded_breaches.to_vec();
    let mut missing = Vec::new();
    for criterion in applicable {
        let decisive = criterion.safety_critical || criterion.core;
        match marks.get(&criterion.id) {
            Some(Marked::Level(Mark::NotYet)) if criterion.safety_critical => breaches.push(criterion.label.clone()),
            Some(Marked::Level(mark)) => {
                let least = if decisive { Mark::Meets } else { Mark::Nearly };
                if *mark < least {
                    missing.push(criterion.id.clone());
                }
            }
            Some(Marked::NotApplicable) if !decisive => {}
            Some(Marked::NotApplicable) | None => missing.push(criterion.id.clone()),
        }
    }
    if !breaches.is_empty() {
        Verdict::SafetyBreach(breaches)
    } else if !missing.is_empty() {
        Verdict::NotAcceptable(missing)
    } else {
        Verdict::Acceptable
    }
}
