//! A trainee's present service: which of the services give the pace, the dwell figures and the look.

use super::{NoLayout, TwoEyes, Wanted, two_eyes};
use crate::couch::{DwellPlan, Tint};
use crate::course_book::{CourseBook, Part, Work};
use crate::evidence::pace::paces;
use crate::evidence::{Books, records_of, standard_time};
use crate::ids::{PersonId, ServiceId};
use crate::moment::Seconds;
use crate::product::ProductKind;
use crate::section::Plan;
use crate::service::Service;

/// A trainee's service laid out, and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Present {
    /// The layout, or why there is none.
    pub laid: Result<TwoEyes, NoLayout>,
    /// The services at the plan that give the pace, in the order begun.
    pub rests_on: Vec<ServiceId>,
    /// Tint, as in the last of them.
    pub tint: Tint,
}

/// Lays out a trainee's service at a plan, at the pace of the last services there whose time stands.
///
/// Tint, the dwell figures of each product and the usual length of an instructor's look are those of the
/// trainee's last services that have any.
pub fn present(trainee: &PersonId, services: &[&Service], books: &Books, plan: Plan) -> Present {
    let records: Vec<&Service> = records_of(trainee, services).into_iter().filter(|one| one.is_service()).collect();
    let book = books.present;
    let last = book.rules.two_eyes.map_or(0, |figures| usize::try_from(figures.last).unwrap_or(usize::MAX));
    let stands = |service: &&&Service| service.plan() == Some(plan) && standard_time(service, books).is_ok();
    let mut at_plan: Vec<&Service> = records.iter().rev().filter(stands).take(last).copied().collect();
    at_plan.reverse();
    let tint = at_plan.last().map_or(Tint::None, |service| service.tint);
    let laid = match at_plan.is_empty() && book.rules.two_eyes.is_some() {
        true => Err(NoLayout::NoServices),
        false => two_eyes(&Wanted {
            book,
            plan,
            tint,
            paces: &paces(&records, books, plan, last),
            dwells: &figures(&records),
            check: usual_look(&records, book, last),
        }),
    };
    Present { laid, rests_on: at_plan.iter().map(|service| service.id.clone()).collect(), tint }
}

/// Returns the dwell figures that were in force in the last service with each product.
fn figures(records: &[&Service]) -> Vec<(ProductKind, DwellPlan)> {
    let mut figures: Vec<(ProductKind, DwellPlan)> = Vec::new();
    for dwell in records.iter().rev().flat_map(|service| &service.times.dwells) {
        if let Some(plan) = dwell.plan
            && figures.iter().all(|(kind, _)| *kind != dwell.product)
        {
            figures.push((dwell.product, plan));
        }
    }
    figures
}

/// Returns the middle of the last services' looks by an instructor, shared out over the stages that are one.
fn usual_look(records: &[&Service], book: &CourseBook, last: usize) -> Seconds {
    let mut checks: Vec<Seconds> = records.iter().rev().filter_map(|service| service.times.checks).take(last).collect();
    checks.sort_unstable();
    let looks = book.stages.iter().filter(|stage| stage.part == Part::Service && stage.work == Work::Check).count();
    let looks = Seconds::try_from(looks.max(1)).unwrap_or(1);
    checks.get(checks.len() / 2).map_or(0, |middle| middle / looks)
}
