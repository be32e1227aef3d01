//! From services to the points of charts.

use practicum::course_book::CourseBook;
use practicum::eye::Eye;
use practicum::moment::Seconds;
use practicum::section::Plan;
use practicum::service::Service;
use practicum::standing::{Standing, may_show_targets, quality_met_since};

use crate::charts::{DwellPoint, EyePoint, TargetStep, TimePoint};

/// The points of the chart of service times.
pub fn time_points(services: &[(u32, Service)]) -> Vec<TimePoint> {
    let point = |(number, service): &(u32, Service)| TimePoint {
        number: *number,
        plan: service.plan(),
        mixed: service.worked.is_some_and(|worked| worked.mixed),
        service: service.times.service,
        hands_on: service.times.hands_on,
        waiting: service.times.waiting,
        checks: service.times.checks,
        pauses: service.times.pauses,
    };
    services.iter().map(point).collect()
}

/// The points of the chart of dwells; `late` is the course book's leeway in seconds.
pub fn dwell_points(services: &[(u32, Service)], late: Seconds) -> Vec<DwellPoint> {
    let of = |(number, service): &(u32, Service)| {
        let number = *number;
        let dwells = service.times.dwells.clone();
        dwells.into_iter().filter(|dwell| dwell.off.is_some()).map(move |dwell| DwellPoint {
            number,
            product: dwell.product,
            eye: dwell.eye,
            seconds: dwell.from_first(0),
            judgement: dwell.judge(0, late),
        })
    };
    services.iter().flat_map(of).collect()
}

/// Hands-on time of each eye in the stages that are worked eye by eye, within the service.
pub(super) fn eye_points(services: &[(u32, Service)]) -> Vec<EyePoint> {
    let of = |(number, service): &(u32, Service)| {
        let (number, plan) = (*number, service.plan());
        let times = service.times.stages.clone();
        Eye::BOTH.into_iter().filter_map(move |eye| {
            let own = times.iter().filter(|time| time.eye == Some(eye));
            let seconds = own.map(|time| time.hands_on).fold(0, Seconds::saturating_add);
            (seconds > 0).then_some(EyePoint { number, plan, eye, seconds })
        })
    };
    services.iter().flat_map(of).collect()
}

/// What the course book allows for an eye's hands-on work at a plan: the targets of its stages that are worked eye by
/// eye; `None` where it has none.
pub(super) fn eye_target(book: &CourseBook, plan: Plan) -> Option<Seconds> {
    let plan = book.plan(plan)?;
    let per_eye = plan.stage_targets.iter().filter(|(stage, target)| {
        target.per_eye && book.stage(stage).is_some_and(|stage| stage.part == practicum::course_book::Part::Service)
    });
    let sum = per_eye.map(|(_, target)| target.seconds).fold(0, Seconds::saturating_add);
    (sum > 0).then_some(sum)
}

/// Returns the steps of a target: over the services since the day quality was met at their plan, and over no other.
pub fn target_steps(
    services: &[(u32, Service)],
    standing: &Standing,
    target: impl Fn(Plan) -> Option<Seconds>,
) -> Vec<TargetStep> {
    let mut steps: Vec<TargetStep> = Vec::new();
    for (number, service) in services {
        let Some(plan) = service.plan().filter(|plan| may_show_targets(standing, *plan)) else { continue };
        let since = quality_met_since(standing, plan);
        let shown = standing.shown_early || since.is_some_and(|since| since <= service.day());
        let Some(seconds) = target(plan).filter(|_| shown) else { continue };
        match steps.last_mut() {
            Some(last) if last.plan == plan && last.to.checked_add(1) == Some(*number) => last.to = *number,
            _ => steps.push(TargetStep { from: *number, to: *number, seconds, plan }),
        }
    }
    steps
}
