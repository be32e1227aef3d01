//! How a trainee's times fall with practice, what services to come may take, and how many are still needed.
//!
//! In two halves, so that a worker can do the heavy one: [`ask`] gathers plain numbers from the records (light),
//! [`answer`] fits the learning curve of the group to them (heavy, and nothing but numbers in and out). What is
//! said of an answer stands in [`sentence`], how it was worked out in [`workings`], and the time standard beside a
//! trial in [`time_standard`].
//!
//! The response is hands-on time of the whole service or of one stage. A service's number counts all live services
//! of its trainee, imported ones included; its place within the plan those of the plan that were not imported.
//! Drills never count. What is fitted is `proficiency::group_curve`; a trainee of fewer than three with times
//! is fitted alone, plan by plan, with `proficiency::own_curve`.

mod alone;
mod answering;
mod asking;
mod saying;
mod standard;
mod workings;

#[cfg(test)]
mod tests;

pub use answering::{Answering, answer};
pub use asking::{Asked, Wanted, ask};
pub use saying::{in_plan, notes, say_no_forecast, say_time, sentence};
pub use standard::{TimeStandard, standard_times, time_standard};
pub use workings::workings;

use crate::ids::StageId;
use crate::section::Plan;

/// Which time is looked at.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Response {
    /// Hands-on time of the whole service, without stages that only tint brings.
    #[default]
    Whole,
    /// Hands-on time of one stage, both eyes together.
    Stage(StageId),
}

/// A service whose time counts in the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Whose: a place in [`Asked::trainees`].
    pub trainee: u32,
    /// Which of the trainee's live services, from 1.
    pub number: u32,
    /// Level of the plan.
    pub plan: Plan,
    /// Which of the trainee's services at this level, from 1.
    pub within: u32,
    /// Hands-on time, seconds above 0.
    pub seconds: f64,
}

/// A service of the trainee asked about, with a time that counts or without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Past {
    /// Which of the trainee's live services, from 1.
    pub number: u32,
    /// Level of the plan.
    pub plan: Plan,
    /// Which of the trainee's services at this level, from 1.
    pub within: u32,
}

/// Whose services the curve is fitted to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pool {
    /// The trainee's group.
    Group,
    /// All trainees of the academy: fewer than three of the group have times that count.
    Academy,
}

/// What is asked, in plain numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// Services whose time counts.
    pub rows: Vec<Row>,
    /// Whose they are.
    pub pool: Pool,
    /// The trainee asked about, as in [`Row::trainee`]; `None` while no time of this trainee counts.
    pub trainee: Option<u32>,
    /// The trainee's services at a plan, in the order begun.
    pub past: Vec<Past>,
    /// Live services that the trainee has done.
    pub done: u32,
    /// Those at each plan, imported ones not counted, in the order of [`Plan::ALL`].
    pub done_at: [u32; 4],
    /// Weeks since the last live service, 0 or more.
    pub weeks: f64,
    /// The trainee's present plan.
    pub present: Plan,
    /// Plans that services to come are asked about, the beginner's first: present, next and the target plan.
    pub plans: Vec<Plan>,
    /// Hands-on target of each plan in seconds, both eyes together, in the order of [`Plan::ALL`].
    pub targets: [Option<f64>; 4],
    /// Weeks after which a refresher comes first.
    pub refresher_weeks: f64,
    /// How much a gap widens and how far ahead to look; `None` when the course book has no figures.
    pub figures: Option<Figures>,
}

/// The course book's figures for a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Widening by a gap, 0 to 1; see [`crate::course_book::ForecastRules`].
    pub tau: f64,
    /// Services to come that a curve is drawn over.
    pub ahead: u32,
}

impl Ask {
    /// Returns the hands-on target of a plan in seconds.
    pub fn target(&self, plan: Plan) -> Option<f64> {
        self.targets.get(place(plan)).copied().flatten()
    }

    /// Returns the services done at a plan.
    pub fn done_at(&self, plan: Plan) -> u32 {
        self.done_at.get(place(plan)).copied().unwrap_or(0)
    }
}

/// Place of a plan in [`Plan::ALL`]; the finest is 0, which is also its level in the curve.
pub(super) fn place(plan: Plan) -> usize {
    Plan::ALL.iter().position(|other| *other == plan).unwrap_or(0)
}

/// What an answer stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Basis {
    /// The curve of the pool.
    Pool,
    /// The trainee's own services alone, plan by plan: fewer than three trainees have times that count.
    Alone,
    /// Nothing: only the raw points can be shown.
    Nothing(TooLittle),
}

/// Why there is no curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TooLittle {
    /// No service has a time that counts.
    NoTimes,
    /// The trainee's own services whose time counts are too few, all plans together or at the plan asked about.
    FewOwn {
        /// How many there are.
        have: u32,
        /// How many it takes.
        need: u32,
    },
    /// The times are so alike that nothing can be told of how much they vary.
    Alike,
    /// The times cannot be fitted: too few for so many plans, or nothing tells them apart.
    NotFitted,
}

/// What the curve says of one service.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Which of the trainee's live services, from 1.
    pub number: u32,
    /// Typical time in seconds: half of the services stay within it.
    pub typical: f64,
    /// Seconds between which the typical time lies with 4 chances in 5.
    pub typical_band: (f64, f64),
    /// Seconds between which one service lies with 4 chances in 5.
    pub single_band: (f64, f64),
}

/// The curve at one plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanCurve {
    /// The plan.
    pub plan: Plan,
    /// At the trainee's services so far, in order; empty where the trainee has none at this plan.
    pub past: Vec<Point>,
    /// At services to come, all of them at this plan; empty for a plan that none is asked about.
    pub ahead: Vec<Point>,
    /// Why there are no points ahead of a plan that was asked about.
    pub no_ahead: Option<NoForecast>,
}

/// Services still needed until a target is met with three chances; `None`: not reached on the present trend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Needed {
    /// As likely as not.
    pub even: Option<u32>,
    /// 4 chances in 5.
    pub four_in_five: Option<u32>,
    /// 19 chances in 20.
    pub nineteen_in_twenty: Option<u32>,
}

/// How long until a target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Until the typical service is within it.
    pub typical: Needed,
    /// Until a single service is.
    pub single: Needed,
    /// Chance that the typical time is within it at the very next service, 0 to 1.
    pub typical_next: f64,
    /// Chance that the very next service is, 0 to 1.
    pub single_next: f64,
    /// The plan whose times this one is counted with, where too few have reached it.
    pub counted_with: Option<Plan>,
    /// Of a trainee alone: numbers of the services between which the line meets the target, with 19 chances in 20.
    pub meets: Option<(f64, f64)>,
}

/// Why there is no forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoForecast {
    /// The course book has no figures for it.
    NoFigures,
    /// The course book has no hands-on target for this plan.
    NoTarget,
    /// Too long without a service.
    RefresherFirst {
        /// Weeks since the last service.
        weeks: f64,
        /// Weeks after which a refresher comes first.
        limit: f64,
    },
    /// Nobody of the pool has worked at this plan.
    PlanUnseen,
    /// Nobody of the pool has worked both at this plan and at a finer one.
    StepUnknown,
    /// The services do not tell what practice does.
    PracticeUnknown,
    /// The trainee's own times neither fall nor rise clearly.
    NoTrend,
    /// Too little to go by.
    TooLittle(TooLittle),
}

/// The forecast of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanForecast {
    /// The plan.
    pub plan: Plan,
    /// Its hands-on target in seconds; 0 where the course book has none.
    pub target: f64,
    /// Services still needed, or why that cannot be said.
    pub outcome: Result<Forecast, NoForecast>,
}

/// How far a service of the trainee lies from the trainee's own curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Place of the service in [`Ask::rows`] and [`Asked::services`].
    pub row: u32,
    /// Which of the trainee's live services, from 1.
    pub number: u32,
    /// Level of the plan.
    pub plan: Plan,
    /// In standard deviations; above 0 is slower than the curve.
    pub residual: f64,
    /// So far off that it counts for less; for a person to look at, never deleted.
    pub flagged: bool,
}

/// A plan that too few have reached to stand alone in the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Merged {
    /// The plan.
    pub plan: Plan,
    /// The one that it is counted with.
    pub into: Plan,
    /// Trainees who have reached it.
    pub trainees: u32,
}

/// A part of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Term {
    /// Time of the first service.
    First,
    /// What practice does.
    Practice,
    /// What changing to this plan does.
    Step(Plan),
    /// Getting used to a new plan.
    Relearning,
}

/// A part of the curve that was left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dropped {
    /// The part.
    pub term: Term,
    /// The other parts already say the same; otherwise no trainee has services on both sides.
    pub known: bool,
}

/// Size of a part of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// The part: a step or relearning.
    pub term: Term,
    /// On the natural logarithm of the time; for relearning, for each unit of ln(services at the plan).
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

/// A shape of the curve and its share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapeShare {
    /// The family.
    pub family: ShapeFamily,
    /// Its parameter: 0 for the power law, p or k for the others.
    pub parameter: f64,
    /// Share in the average, 0 to 1.
    pub share: f64,
}

/// Family of curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShapeFamily {
    /// Falls for ever, by the same share with each doubling.
    Power,
    /// A power law that comes to rest.
    PowerPlateau,
    /// An exponential that comes to rest.
    Exponential,
}

/// What the services say.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What it stands on.
    pub basis: Basis,
    /// Whose services were fitted.
    pub pool: Pool,
    /// No time of this trainee counts yet: said as of any new trainee of the pool.
    pub newcomer: bool,
    /// Trainees with a time that counts.
    pub trainees: u32,
    /// Services whose time counts.
    pub services: u32,
    /// Those of this trainee.
    pub own: u32,
    /// Whether the services tell the curve's shape; otherwise all shapes count alike.
    pub shape_known: bool,
    /// Shapes with a share, the largest first.
    pub shapes: Vec<ShapeShare>,
    /// Spread of single services around a trainee's curve: standard deviation of the natural logarithm.
    pub scatter: f64,
    /// Degrees of freedom of the intervals.
    pub freedom: f64,
    /// Plans counted with a neighbour.
    pub merged: Vec<Merged>,
    /// Parts left out.
    pub dropped: Vec<Dropped>,
    /// Steps and relearning.
    pub effects: Vec<Effect>,
    /// Curves by plan, the beginner's first: of the plans worked at, and of those asked about.
    pub curves: Vec<PlanCurve>,
    /// Forecasts of the plans asked about, the beginner's first.
    pub forecasts: Vec<PlanForecast>,
    /// The trainee's services whose time counts, in the order begun.
    pub residuals: Vec<Residual>,
    /// Weeks since the last service that widen the forecasts.
    pub weeks: f64,
    /// The trainee's present plan.
    pub present: Plan,
}

impl Answer {
    /// Returns the forecast of a plan that was asked about.
    pub fn forecast(&self, plan: Plan) -> Option<&PlanForecast> {
        self.forecasts.iter().find(|forecast| forecast.plan == plan)
    }

    /// Returns the curve of a plan.
    pub fn curve(&self, plan: Plan) -> Option<&PlanCurve> {
        self.curves.iter().find(|curve| curve.plan == plan)
    }
}
