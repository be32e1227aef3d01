//! Whether the stage targets of a course book can add up to its service targets.

use super::pace::{Pace, Piece};
use super::two_eyes::{NoLayout, Wanted, lengths};
use crate::couch::{DwellPlan, Tint};
use crate::course_book::{CourseBook, DwellExample, Measure, SectionPlan, Work};
use crate::moment::Seconds;
use crate::product::ProductKind;
use crate::section::Plan;

/// What the stage targets of a plan come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Composed {
    /// The plan.
    pub plan: Plan,
    /// Its service target.
    pub target: Seconds,
    /// Service times with every stage at its target, or the window that cannot be met then.
    pub ways: Result<Ways, NoLayout>,
}

/// Shortest service times in the two ways of working, seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ways {
    /// Both eyes overlapping: the shortest there is.
    pub shortest: Seconds,
    /// One eye after the other.
    pub apart: Seconds,
}

/// Works out the shortest service that each plan's stage targets allow, without tint, in no more than the
/// shortest planned dwells of the book's examples, and with no time for the instructor's check.
///
/// A dwell stage's target is shared out evenly between putting on and taking off. Plans without a target on
/// service time, and books without examples for a product they use, are left out: nothing can be said.
pub fn composed(book: &CourseBook) -> Vec<Composed> {
    let dwells = shortest_dwells(book);
    let of = |plan: &SectionPlan| {
        let target = Some(plan.service_target).filter(|target| target.measure == Measure::ServiceTime)?;
        let paces = paces(book, plan);
        let wanted = Wanted { book, plan: plan.plan, tint: Tint::None, paces: &paces, dwells: &dwells, check: 0 };
        let ways = match lengths(&wanted) {
            Ok((apart, shortest)) => Ok(Ways { shortest, apart }),
            Err(why @ NoLayout::Window(_)) => Err(why),
            Err(_) => return None,
        };
        Some(Composed { plan: plan.plan, target: target.both_eyes(), ways })
    };
    book.plans.iter().filter_map(of).collect()
}

fn paces(book: &CourseBook, plan: &SectionPlan) -> Vec<Pace> {
    let mut paces = Vec::new();
    for stage in &book.stages {
        let target = plan.stage_targets.iter().find(|(id, _)| *id == stage.id).map(|(_, target)| target);
        let both = target.map_or(0.0, |target| f64::from(target.both_eyes()));
        let seconds = if stage.per_eye { both / 2.0 } else { both };
        let mut pace = |piece: Piece, typical: f64| {
            paces.push(Pace { stage: stage.id.clone(), piece, typical, log_sd: 0.0, times: 0 });
        };
        match stage.work {
            Work::HandsOn => pace(Piece::Work, seconds),
            Work::Dwell(_) => {
                pace(Piece::PutOn, seconds / 2.0);
                pace(Piece::TakeOff, seconds / 2.0);
            }
            Work::Check => {}
        }
    }
    paces
}

fn shortest_dwells(book: &CourseBook) -> Vec<(ProductKind, DwellPlan)> {
    let shortest = |kind: ProductKind| {
        let fits = |example: &&DwellExample| example.product == kind && !example.with_tint;
        let example = book.dwell_examples.iter().filter(fits).min_by_key(|example| example.planned)?;
        let DwellExample { planned, minimum, maximum, .. } = *example;
        Some((kind, DwellPlan { planned, minimum, maximum, label_maximum: maximum }))
    };
    let kinds = book.stages.iter().filter_map(|stage| match stage.work {
        Work::Dwell(kind) => Some(kind),
        _ => None,
    });
    kinds.filter_map(shortest).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::course_book::{example, text};

    fn book() -> CourseBook {
        text::read(&example::files()).unwrap()
    }

    #[test]
    fn the_example_course_book_composes_and_its_widest_plan_only_by_overlapping() {
        let found = composed(&book());
        assert_eq!(found.len(), 4);
        for plan in &found {
            let ways = plan.ways.as_ref().unwrap();
            assert!(ways.shortest <= plan.target, "{plan:?}");
            assert!(ways.shortest < ways.apart, "{plan:?}");
        }
        let whole = found.iter().find(|found| found.plan == Plan::Whole).unwrap();
        assert!(whole.ways.as_ref().unwrap().apart > whole.target, "{whole:?}");
    }

    #[test]
    fn a_book_without_dwell_examples_says_nothing() {
        let mut book = book();
        book.dwell_examples.clear();
        assert_eq!(composed(&book), Vec::new());
    }

    #[test]
    fn a_window_that_the_targets_cannot_meet_is_said() {
        let mut book = book();
        for (stage, target) in book.plans.iter_mut().flat_map(|plan| &mut plan.stage_targets) {
            if stage.as_str() == "lift" {
                target.seconds = 1200;
            }
        }
        for plan in composed(&book) {
            assert!(
                plan.ways.as_ref().is_err_and(|why| why.to_string().contains("past the longest dwell")),
                "{plan:?}"
            );
        }
    }

    #[test]
    fn a_slower_stage_makes_the_shortest_service_longer() {
        let mut book = book();
        let before = composed(&book);
        for plan in &mut book.plans {
            for (stage, target) in &mut plan.stage_targets {
                if stage.as_str() == "lash-up" {
                    target.seconds += 60;
                }
            }
        }
        for (before, after) in before.iter().zip(composed(&book)) {
            let (after, before) = (after.ways.unwrap(), before.ways.as_ref().unwrap());
            assert_eq!(after.shortest, before.shortest + 120, "a minute on each eye, hands on");
        }
    }
}
