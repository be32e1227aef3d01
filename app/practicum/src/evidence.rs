//! What the marked services show, in numbers. This module alone calls the statistics.
//!
//! Only marks by someone other than the trainee who did the service count. Of each assessor the latest
//! view of a service counts; of several assessors the latest of all, unless any of them saw a safety
//! breach: then that one counts. Late entries count for quality only when they were observed, and never
//! for time; imported rows never count, nor do services stopped before lotion. A service stopped later
//! is not acceptable. A mark that watches the clocks counts for no more than they allow.

pub mod agreement;
mod choosing;
mod composing;
mod decision;
mod lately;
pub mod learning;
mod opening;
pub mod pace;
mod residuals;
mod share;
mod time;
pub mod two_eyes;

#[cfg(test)]
pub(crate) mod example;
#[cfg(test)]
mod tests;

pub use choosing::{
    COURSE_SERVICES, Choice, RuleFigures, WideningChances, choose, false_pass, percent, shortest_run, widening_chances,
};
pub use composing::{Composed, Ways, composed};
pub use decision::{
    Safety, TrialChart, TrialInput, TrialService, TrialState, TrialVerdict, Watch, trial_state, trial_states,
};
pub use lately::{Direction, Lately, lately};
pub use opening::{Opening, opening};
pub use residuals::{Individuals, Reading, Unusual, individuals};
pub use share::{LIKELY_SHARE, likely_share};
pub use time::{LeftOut, Trend, curve_time, hands_on_trend, standard_time};

use std::collections::BTreeMap;

use crate::couch::Stop;
use crate::course_book::{CourseBook, Criterion, Mark};
use crate::ids::{CourseBookId, CriterionId, PersonId, ServiceId};
use crate::moment::Day;
use crate::order::{InOrder, map_of};
use crate::outcome::{Marked, Outcome, Verdict, applicable, verdict};
use crate::section::Plan;
use crate::service::{Ending, Origin, Service};

/// The course book in force and the earlier ones: a service is judged by the one it was made under.
#[derive(Debug, Clone, Copy)]
pub struct Books<'a> {
    /// In force now: its rules of progression hold.
    pub present: &'a CourseBook,
    /// Every other that the academy ever adopted; the present one may stand here too.
    pub adopted: &'a [&'a CourseBook],
}

impl<'a> Books<'a> {
    /// Returns the course book that a service was made under, or the present one when that is unknown.
    pub fn of(&self, service: &Service) -> &'a CourseBook {
        self.named(&service.course_book).unwrap_or(self.present)
    }

    /// Returns the course book of a name.
    pub fn named(&self, id: &CourseBookId) -> Option<&'a CourseBook> {
        self.adopted.iter().copied().chain([self.present]).find(|book| book.id == *id)
    }
}

/// A service or drill with the assessor's view that counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessed<'a> {
    /// The service or drill.
    pub service: &'a Service,
    /// The view that counts.
    pub outcome: &'a Outcome,
    /// Its marks on the criteria that apply, none above what the clocks allow.
    pub marks: BTreeMap<CriterionId, Marked>,
    /// What it amounts to; a service stopped after lotion is never acceptable, then with no criterion named.
    pub verdict: Verdict,
    /// Everybody other than the trainee who marked it, in order, each once.
    pub assessors: Vec<&'a PersonId>,
    /// Somebody watched from end to end, and no override is merely claimed.
    pub observed: bool,
}

impl Assessed<'_> {
    /// Whether it is a live service that counts for advice and evidence.
    pub fn counts(&self) -> bool {
        self.service.is_service() && (self.service.is_live_entry() || self.observed)
    }

    /// Whether it is acceptable.
    pub fn acceptable(&self) -> bool {
        self.verdict == Verdict::Acceptable
    }

    /// Returns the level of a criterion; `None` where it has none or does not apply.
    pub fn mark(&self, criterion: &CriterionId) -> Option<Mark> {
        match self.marks.get(criterion) {
            Some(Marked::Level(mark)) => Some(*mark),
            _ => None,
        }
    }
}

/// Returns a trainee's services and drills that may stand as evidence, in the order begun: not imported,
/// and not stopped before lotion.
pub fn records_of<'a>(trainee: &PersonId, services: &[&'a Service]) -> Vec<&'a Service> {
    let stands = |service: &&'a Service| {
        service.trainee == *trainee
            && !matches!(service.origin, Origin::Imported { .. })
            && !matches!(service.ending, Ending::Stopped(Stop::BeforeLotion(_)))
    };
    let mut records: Vec<&Service> = services.iter().copied().filter(stands).collect();
    records.order_by(|a, b| a.began.cmp(&b.began).then_with(|| a.id.cmp(&b.id)));
    records
}

/// Joins records with the assessors' views that count; records nobody else marked are left out.
///
/// The order of `records` is kept; that of `outcomes` does not matter.
pub fn assessed<'a>(records: &[&'a Service], outcomes: &[&'a Outcome], books: &Books) -> Vec<Assessed<'a>> {
    let mut by_service: BTreeMap<&ServiceId, Vec<&'a Outcome>> = BTreeMap::new();
    for outcome in outcomes {
        by_service.entry(&outcome.service).or_default().push(outcome);
    }
    let views = |service: &Service| by_service.get(&service.id).map_or(&[][..], Vec::as_slice);
    records.iter().filter_map(|service| one(service, views(service), books)).collect()
}

fn one<'a>(service: &'a Service, views: &[&'a Outcome], books: &Books) -> Option<Assessed<'a>> {
    let book = books.of(service);
    let criteria = applicable(book, service);
    let breaches = service.times.breaches(book.rules.late_seconds);
    let cap = service.times.timing_cap(book.rules.late_seconds);
    let marks_of = |outcome: &Outcome| -> BTreeMap<CriterionId, Marked> {
        let marked = |criterion: &&Criterion| {
            let marked = *outcome.marks.get(&criterion.id)?;
            Some((criterion.id.clone(), capped(criterion, marked, cap)))
        };
        map_of(criteria.iter().filter_map(marked))
    };
    let mut latest: BTreeMap<&PersonId, (&'a Outcome, Verdict)> = BTreeMap::new();
    for outcome in views.iter().copied().filter(|outcome| outcome.marker != service.trainee) {
        let found = (outcome, verdict(&criteria, &marks_of(outcome), &breaches));
        match latest.get(&outcome.marker) {
            Some(known) if !goes_before(&found, known) => {}
            _ => {
                latest.insert(&outcome.marker, found);
            }
        }
    }
    let claimed = service.overrides.iter().any(|made| !made.confirmed);
    let observed = !claimed && latest.values().any(|(outcome, _)| outcome.observed);
    let assessors = latest.keys().copied().collect();
    let chosen = latest.into_values().reduce(|a, b| {
        let breach = |view: &(&Outcome, Verdict)| matches!(view.1, Verdict::SafetyBreach(_));
        match (breach(&a), breach(&b)) {
            (true, false) => a,
            (false, true) => b,
            _ if goes_before(&a, &b) => a,
            _ => b,
        }
    });
    let (outcome, mut verdict) = chosen?;
    if verdict == Verdict::Acceptable && service.ending != Ending::Finished {
        verdict = Verdict::NotAcceptable(Vec::new());
    }
    Some(Assessed { service, outcome, marks: marks_of(outcome), verdict, assessors, observed })
}

/// Lowers the mark of a criterion that watches the clocks to what they allow.
fn capped(criterion: &Criterion, marked: Marked, cap: Mark) -> Marked {
    match marked {
        Marked::Level(mark) if criterion.watches_clocks => Marked::Level(mark.min(cap)),
        other => other,
    }
}

/// Whether `a` counts rather than `b`: the later, then the stricter, then any fixed order.
fn goes_before(a: &(&Outcome, Verdict), b: &(&Outcome, Verdict)) -> bool {
    let strict = |verdict: &Verdict| match verdict {
        Verdict::SafetyBreach(_) => 2,
        Verdict::NotAcceptable(_) => 1,
        Verdict::Acceptable => 0,
    };
    let order = a.0.at.cmp(&b.0.at).then_with(|| strict(&a.1).cmp(&strict(&b.1)));
    order.then_with(|| format!("{:?}", a.0).cmp(&format!("{:?}", b.0))).is_gt()
}

/// A safety breach in a live service, marked by an assessor or recorded by a clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Breach<'a> {
    /// The service.
    pub service: &'a Service,
    /// What happened, in words.
    pub what: Vec<String>,
}

/// Returns the safety breaches of live services, in the order of `records`: a clock's word needs no mark.
pub fn breaches<'a>(records: &[&'a Service], assessed: &[Assessed<'a>], books: &Books) -> Vec<Breach<'a>> {
    let marked = map_of(assessed.iter().map(|one| (&one.service.id, &one.verdict)));
    let breach = |service: &&'a Service| {
        let what = match marked.get(&service.id) {
            Some(Verdict::SafetyBreach(what)) => what.clone(),
            _ => service.times.breaches(books.of(service).rules.late_seconds),
        };
        (!what.is_empty()).then_some(Breach { service, what })
    };
    records.iter().filter(|service| service.is_service()).filter_map(breach).collect()
}

/// Returns the day since which quality has been met at a plan, or `None` while it is not.
///
/// Met when the last `last` assessed services at the plan are all acceptable; since the day of the service
/// that completed this number in the present unbroken run. A breach recorded by a clock ends the run even
/// before anybody marked the service. `assessed` and `breaches` are in the order begun.
pub fn quality_met(assessed: &[Assessed], breaches: &[Breach], plan: Plan, last: u32) -> Option<Day> {
    let mut run: Vec<(&Service, bool)> = assessed
        .iter()
        .filter(|one| one.counts() && one.service.plan() == Some(plan))
        .map(|one| (one.service, one.acceptable()))
        .collect();
    let unmarked = breaches
        .iter()
        .map(|breach| breach.service)
        .filter(|service| service.plan() == Some(plan) && !run.iter().any(|(known, _)| known.id == service.id));
    let unmarked: Vec<(&Service, bool)> = unmarked.map(|service| (service, false)).collect();
    run.extend(unmarked);
    run.order_by(|a, b| (a.0.began, &a.0.id).cmp(&(b.0.began, &b.0.id)));
    let clean = run.iter().rev().take_while(|(_, acceptable)| *acceptable).count();
    let needed = usize::try_from(last.max(1)).ok()?;
    let first = run.len() - clean;
    if clean < needed {
        return None;
    }
    run.get(first + needed - 1).map(|(service, _)| service.day())
}

/// Returns the exact upper 95 % limit of the rate of services with a safety breach, in percent; `None` when none
/// was looked at. Source: Clopper and Pearson 1934.
pub(crate) fn breach_limit(breaches: usize, looked_at: usize) -> Option<f64> {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    proficiency::proportion::exact_upper_limit(count(breaches), count(looked_at), 0.95).map(|limit| limit * 100.0)
}
