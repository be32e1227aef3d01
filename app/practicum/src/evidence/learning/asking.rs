//! Gathers from the records what the learning curve is asked.

use std::collections::BTreeMap;

use super::{Ask, Figures, Past, Pool, Response, Row, place};
use crate::couch::Stop;
use crate::course_book::{CourseBook, Measure, Part, SectionPlan, Stage, Work};
use crate::evidence::{Books, LeftOut, curve_time};
use crate::ids::{PersonId, ServiceId, StageId};
use crate::moment::Moment;
use crate::order::InOrder;
use crate::person::{Person, Role};
use crate::section::Plan;
use crate::service::{Ending, Service};
use crate::standing::gap::days_between;

/// Fewest trainees with times for a group to be fitted by itself.
const LEAST_TRAINEES: usize = proficiency::group_curve::LEAST_TRAINEES;

/// About whom and what is asked. The order of the lists does not matter.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// The trainee.
    pub trainee: &'a PersonId,
    /// People of the academy; those who left count too.
    pub people: &'a [&'a Person],
    /// Services and drills in force, of anybody.
    pub services: &'a [&'a Service],
    /// Course books.
    pub books: &'a Books<'a>,
    /// Which time.
    pub response: &'a Response,
    /// Now.
    pub now: &'a Moment,
    /// The trainee's present plan.
    pub present: Plan,
}

/// What is asked, and what it belongs to on this side.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The question.
    pub ask: Ask,
    /// The trainees by their number in [`Row::trainee`].
    pub trainees: Vec<PersonId>,
    /// The service of each row.
    pub services: Vec<ServiceId>,
    /// Live services of the trainee asked about whose time does not count, and why, in the order begun.
    pub left_out: Vec<(ServiceId, Vec<LeftOut>)>,
}

impl Asked {
    /// Returns the service of a row, as named by [`super::Residual::row`].
    pub fn service(&self, row: u32) -> Option<&ServiceId> {
        self.services.get(usize::try_from(row).ok()?)
    }
}

/// A service with its place in the trainee's way.
struct Counted<'a> {
    service: &'a Service,
    number: u32,
    /// Plan and place within it; not of imported services, and not where the plan is unknown.
    at: Option<(Plan, u32)>,
    time: Result<u32, Vec<LeftOut>>,
}

/// Gathers the question.
///
/// The pool is the trainee's group when at least three of it have a time that counts; otherwise all trainees of
/// the academy.
pub fn ask(wanted: &Wanted<'_>) -> Asked {
    let mut ways: BTreeMap<&PersonId, Vec<&Service>> = BTreeMap::new();
    for service in wanted.services.iter().copied().filter(|service| counts(service)) {
        ways.entry(&service.trainee).or_default().push(service);
    }
    let stage = match wanted.response {
        Response::Whole => None,
        Response::Stage(stage) => Some(stage),
    };
    let ways: BTreeMap<&PersonId, Vec<Counted<'_>>> =
        ways.into_iter().map(|(trainee, services)| (trainee, count(services, wanted.books, stage))).collect();

    let group = wanted.people.iter().find(|person| person.id == *wanted.trainee).map(|person| person.group.trim());
    let group = group.filter(|group| !group.is_empty());
    let member = |id: &PersonId| {
        let person = wanted.people.iter().find(|person| person.id == *id);
        person.is_some_and(|person| person.role == Role::Trainee && Some(person.group.trim()) == group)
    };
    let learns = |id: &PersonId| {
        let person = wanted.people.iter().find(|person| person.id == *id);
        person.is_none_or(|person| person.role == Role::Trainee)
    };
    let timed = |way: &[Counted<'_>]| way.iter().any(|one| one.time.is_ok() && one.at.is_some());
    let together = ways.iter().filter(|(id, way)| group.is_some() && member(id) && timed(way)).count();
    let pool = if together >= LEAST_TRAINEES { Pool::Group } else { Pool::Academy };

    let (mut rows, mut services, mut trainees) = (Vec::new(), Vec::new(), Vec::new());
    let mut own = None;
    for (id, way) in &ways {
        let asked_about = *id == wanted.trainee;
        let in_pool = match pool {
            Pool::Group => member(id),
            Pool::Academy => learns(id),
        };
        if !timed(way) || !(in_pool || asked_about) {
            continue;
        }
        let trainee = u32::try_from(trainees.len()).unwrap_or(u32::MAX);
        trainees.push((*id).clone());
        if asked_about {
            own = Some(trainee);
        }
        for one in way {
            if let (Ok(seconds), Some((plan, within))) = (&one.time, one.at) {
                rows.push(Row { trainee, number: one.number, plan, within, seconds: f64::from(*seconds) });
                services.push(one.service.id.clone());
            }
        }
    }

    let way = ways.get(wanted.trainee).map_or(&[][..], Vec::as_slice);
    let past: Vec<Past> =
        way.iter().filter_map(|one| one.at.map(|(plan, within)| Past { number: one.number, plan, within })).collect();
    let mut done_at = [0; 4];
    for one in &past {
        if let Some(done) = done_at.get_mut(place(one.plan)) {
            *done = one.within;
        }
    }
    // In whole days, so that the same question stays the same all day.
    let days = way.last().map_or(0, |last| days_between(last.service.day(), wanted.now.date_naive()));
    let left_out = way.iter().filter_map(|one| {
        let why = match (&one.time, one.at) {
            (Err(why), _) => why.clone(),
            (Ok(_), None) => vec![LeftOut::MixedPlan],
            _ => return None,
        };
        Some((one.service.id.clone(), why))
    });
    let left_out = left_out.collect();

    let book = wanted.books.present;
    let rules = &book.rules;
    let ask = Ask {
        rows,
        pool,
        trainee: own,
        past,
        done: u32::try_from(way.len()).unwrap_or(u32::MAX),
        done_at,
        weeks: f64::from(days) / 7.0,
        present: wanted.present,
        plans: plans(book, wanted.present),
        targets: Plan::ALL.map(|plan| book.plan(plan).and_then(|plan| target(book, plan, stage)).map(f64::from)),
        refresher_weeks: f64::from(rules.refresher_days) / 7.0,
        figures: rules.forecast.map(|figures| Figures { tau: figures.tau, ahead: figures.ahead }),
    };
    Asked { ask, trainees, services, left_out }
}

/// Whether a record counts as a service done: live, and not stopped before lotion.
fn counts(service: &Service) -> bool {
    service.is_service() && !matches!(service.ending, Ending::Stopped(Stop::BeforeLotion(_)))
}

fn count<'a>(mut services: Vec<&'a Service>, books: &Books<'_>, stage: Option<&StageId>) -> Vec<Counted<'a>> {
    services.order_by(|a, b| a.began.cmp(&b.began).then_with(|| a.id.cmp(&b.id)));
    let (mut number, mut within) = (0_u32, [0_u32; 4]);
    let one = |service: &'a Service| {
        number = number.saturating_add(1);
        let at = service.plan().filter(|_| !service.is_imported()).map(|plan| {
            let mut at = 1;
            if let Some(done) = within.get_mut(place(plan)) {
                *done = done.saturating_add(1);
                at = *done;
            }
            (plan, at)
        });
        Counted { service, number, at, time: curve_time(service, books, stage) }
    };
    services.into_iter().map(one).collect()
}

/// The plans that services to come are asked about: present, next wider one of the book, target.
fn plans(book: &CourseBook, present: Plan) -> Vec<Plan> {
    let target = book.rules.target_plan;
    let next = Plan::ALL.into_iter().find(|plan| *plan > present && book.plan(*plan).is_some());
    let wanted = |plan: &Plan| *plan == present || Some(*plan) == next || *plan == target;
    Plan::ALL.into_iter().filter(wanted).collect()
}

/// The hands-on target at a plan in seconds, both eyes together: the book's own, or the sum of its stages'.
///
/// `None` where the book has no such target, and for a sum where a stage of the service has none.
fn target(book: &CourseBook, plan: &SectionPlan, stage: Option<&StageId>) -> Option<u32> {
    let of = |id: &StageId| {
        let (_, target) = plan.stage_targets.iter().find(|(stage, _)| stage == id)?;
        (target.measure == Measure::HandsOn).then(|| target.both_eyes())
    };
    let seconds = match stage {
        Some(stage) => of(stage),
        None if plan.service_target.measure == Measure::HandsOn => Some(plan.service_target.both_eyes()),
        None => {
            let works = |stage: &&Stage| {
                stage.part == Part::Service && !stage.only_with_tint && !matches!(stage.work, Work::Check)
            };
            let parts = book.stages.iter().filter(works).map(|stage| of(&stage.id));
            parts.collect::<Option<Vec<u32>>>().map(|parts| parts.into_iter().fold(0, u32::saturating_add))
        }
    };
    seconds.filter(|seconds| *seconds > 0)
}
