//! Fits the curve and reads off it what was asked: numbers in, numbers out, whole or in steps.

use proficiency::forecast::{self, ForecastError, Gap, Outlooks, Place, Question};
use proficiency::group_curve::{self, Curve, Fitting, LearningError, Options, Service, Shape};
use proficiency::mixed::MixedError;

use super::{
    Answer, Ask, Basis, Dropped, Effect, Forecast, Merged, Needed, NoForecast, PlanCurve, PlanForecast, Point,
    Residual, Row, ShapeFamily, ShapeShare, Term, TooLittle, alone, place,
};
use crate::order::InOrder;
use crate::section::Plan;

/// Band that is drawn: 4 chances in 5.
pub(super) const BAND: f64 = 0.8;
/// Spread of the logarithm below which times are too alike to tell how much they vary: half a percent. Proposal,
/// no source; hands and clocks do not repeat a service to a few seconds.
pub(super) const LEAST_SCATTER: f64 = 0.005;

/// Points that one step reads off the curve.
const POINTS_A_STEP: usize = 3;

/// Fits the learning curve and reads off it what was asked.
///
/// Pure and heavy: a group of 300 trainees with 30 services each takes seconds in a browser. The order of the rows
/// does not matter. There is always an answer; where nothing can be said it says why. The same in steps is
/// [`Answering`].
pub fn answer(ask: &Ask) -> Answer {
    let mut answering = Answering::new(ask);
    loop {
        if let Some(answer) = answering.step() {
            return answer;
        }
    }
}

/// An answer in the making, for where nothing but the page itself can do the work: a step is a short stretch of it.
#[derive(Debug, Clone)]
pub struct Answering {
    ask: Ask,
    work: Work,
}

/// How far an answer is.
#[derive(Debug, Clone)]
enum Work {
    Fitting(Box<Fitting>),
    Reading(Box<Reading>),
    Done(Box<Answer>),
}

impl Answering {
    /// Takes in a question.
    pub fn new(ask: &Ask) -> Self {
        let services: Vec<Service> = ask.rows.iter().map(service).collect();
        let work = match Fitting::new(&services, &Options::default()) {
            Ok(fitting) => Work::Fitting(Box::new(fitting)),
            Err(why) => Work::Done(Box::new(without_curve(ask, &why))),
        };
        Self { ask: ask.clone(), work }
    }

    /// Takes one step; the answer once it is whole.
    pub fn step(&mut self) -> Option<Answer> {
        let done = |answer: Answer| Some(Work::Done(Box::new(answer)));
        let next = match &mut self.work {
            Work::Fitting(fitting) => match fitting.step() {
                Ok(None) => None,
                Ok(Some(curve)) if scatter(&curve) >= LEAST_SCATTER => {
                    Some(Work::Reading(Box::new(Reading::new(&self.ask, curve))))
                }
                Ok(Some(_)) => done(nothing(&self.ask, TooLittle::Alike)),
                Err(why) => done(without_curve(&self.ask, &why)),
            },
            Work::Reading(reading) => reading.step(&self.ask).and_then(done),
            Work::Done(answer) => return Some((**answer).clone()),
        };
        if let Some(next) = next {
            self.work = next;
        }
        None
    }
}

/// What can be said where the group has no curve.
fn without_curve(ask: &Ask, why: &LearningError) -> Answer {
    match why {
        LearningError::Fit(MixedError::NoScatter) => nothing(ask, TooLittle::Alike),
        LearningError::TooFewTrainees { .. } => alone::answer(ask),
        // Three trainees with a service or two each: the trainee's own may still say something.
        LearningError::Fit(_) | LearningError::NoShape => match alone::answer(ask) {
            own if own.basis == Basis::Alone => own,
            _ => nothing(ask, TooLittle::NotFitted),
        },
    }
}

fn service(row: &Row) -> Service {
    Service {
        trainee: usize::try_from(row.trainee).unwrap_or(usize::MAX),
        number: row.number,
        level: level(row.plan),
        within: row.within,
        seconds: row.seconds,
        other_medium: false,
    }
}

fn level(plan: Plan) -> u8 {
    u8::try_from(place(plan)).unwrap_or(0)
}

fn plan_of(level: u8) -> Plan {
    Plan::ALL.get(usize::from(level)).copied().unwrap_or(Plan::Quarters)
}

/// An answer that says only how much there is, and why there is no more.
pub(super) fn nothing(ask: &Ask, why: TooLittle) -> Answer {
    let mut trainees: Vec<u32> = ask.rows.iter().map(|row| row.trainee).collect();
    trainees.sort_unstable();
    trainees.dedup();
    let why_not = no_forecast(ask).unwrap_or(NoForecast::TooLittle(why));
    let ahead = |plan: Plan| PlanCurve { plan, past: Vec::new(), ahead: Vec::new(), no_ahead: Some(why_not) };
    let forecast = |plan: Plan| PlanForecast {
        plan,
        target: ask.target(plan).unwrap_or(0.0),
        outcome: Err(if ask.target(plan).is_none() { NoForecast::NoTarget } else { why_not }),
    };
    Answer {
        basis: Basis::Nothing(why),
        pool: ask.pool,
        newcomer: ask.trainee.is_none(),
        trainees: trainees.len().try_into().unwrap_or(u32::MAX),
        services: ask.rows.len().try_into().unwrap_or(u32::MAX),
        own: own_rows(ask).count().try_into().unwrap_or(u32::MAX),
        shape_known: false,
        shapes: Vec::new(),
        scatter: 0.0,
        freedom: 0.0,
        merged: Vec::new(),
        dropped: Vec::new(),
        effects: Vec::new(),
        curves: ask.plans.iter().copied().map(ahead).collect(),
        forecasts: ask.plans.iter().copied().map(forecast).collect(),
        residuals: Vec::new(),
        weeks: ask.weeks,
        present: ask.present,
    }
}

/// The trainee's own rows with their places, in the order of their numbers.
pub(super) fn own_rows(ask: &Ask) -> impl Iterator<Item = (usize, &Row)> {
    let mut rows: Vec<(usize, &Row)> = ask.rows.iter().enumerate().collect();
    rows.retain(|(_, row)| Some(row.trainee) == ask.trainee);
    rows.order_by_key(|(_, row)| row.number);
    rows.into_iter()
}

/// Why no plan has a forecast, whatever its curve is.
pub(super) fn no_forecast(ask: &Ask) -> Option<NoForecast> {
    if ask.figures.is_none() {
        return Some(NoForecast::NoFigures);
    }
    (ask.weeks > ask.refresher_weeks)
        .then_some(NoForecast::RefresherFirst { weeks: ask.weeks, limit: ask.refresher_weeks })
}

/// The plans of an answer's curves: those worked at and those asked about, the beginner's first.
pub(super) fn plans(ask: &Ask) -> impl Iterator<Item = Plan> {
    Plan::ALL.into_iter().filter(|plan| ask.plans.contains(plan) || ask.past.iter().any(|past| past.plan == *plan))
}

fn scatter(curve: &Curve) -> f64 {
    let heaviest = curve.shapes.iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
    heaviest.map_or(0.0, |shape| shape.fit.sigma())
}

/// A curve that is read off, point by point.
#[derive(Debug, Clone)]
struct Reading {
    curve: Curve,
    trainee: Option<usize>,
    answer: Answer,
    /// Points still to be read, the next one last: plan, place, gap, and whether ahead.
    points: Vec<(Plan, Place, Gap, bool)>,
    /// Plans whose forecast is still to be read, the next one last.
    plans: Vec<Plan>,
}

impl Reading {
    fn new(ask: &Ask, curve: Curve) -> Self {
        let trainee = ask.trainee.and_then(|trainee| usize::try_from(trainee).ok());
        let trainee = trainee.filter(|trainee| curve.knows_trainee(*trainee));
        let (mut points, mut curves) = (Vec::new(), Vec::new());
        for plan in plans(ask) {
            let seen = trainee.is_some() && curve.knows_level(level(plan));
            for past in ask.past.iter().filter(|past| seen && past.plan == plan) {
                let place = Place { number: past.number, level: level(plan), within: past.within, other_medium: false };
                points.push((plan, place, Gap::NONE, false));
            }
            let mut no_ahead = None;
            if ask.plans.contains(&plan) {
                match answerable(ask, &curve, trainee, plan) {
                    Ok(gap) => {
                        let far = ask.figures.map_or(0, |figures| figures.ahead);
                        let question = question(ask, trainee, plan, 1.0, gap);
                        let places = (1..=far).map(|ahead| forecast::ahead_by(&question, ahead));
                        points.extend(places.map(|place| (plan, place, gap, true)));
                    }
                    Err(why) => no_ahead = Some(why),
                }
            }
            curves.push(PlanCurve { plan, past: Vec::new(), ahead: Vec::new(), no_ahead });
        }
        points.reverse();
        let mut answer = of_curve(ask, &curve);
        answer.newcomer = trainee.is_none();
        answer.curves = curves;
        Self { curve, trainee, answer, points, plans: ask.plans.iter().rev().copied().collect() }
    }

    fn step(&mut self, ask: &Ask) -> Option<Answer> {
        if !self.points.is_empty() {
            let outlooks = forecast::outlooks(&self.curve, self.trainee);
            for _ in 0..POINTS_A_STEP {
                let Some((plan, place, gap, ahead)) = self.points.pop() else { break };
                let curve = self.answer.curves.iter_mut().find(|curve| curve.plan == plan);
                if let (Some(curve), Some(point)) = (curve, point(&outlooks, place, gap)) {
                    if ahead { curve.ahead.push(point) } else { curve.past.push(point) }
                }
            }
            return None;
        }
        let Some(plan) = self.plans.pop() else { return Some(self.answer.clone()) };
        let target = ask.target(plan);
        let outcome = target.ok_or(NoForecast::NoTarget).and_then(|target| {
            let gap = answerable(ask, &self.curve, self.trainee, plan)?;
            let found = forecast::forecast(&self.curve, &question(ask, self.trainee, plan, target, gap));
            found.map(|found| taken_over(&found)).map_err(|why| reason(&why))
        });
        self.answer.forecasts.push(PlanForecast { plan, target: target.unwrap_or(0.0), outcome });
        None
    }
}

fn point(outlooks: &Outlooks<'_>, place: Place, gap: Gap) -> Option<Point> {
    let outlook = outlooks.at(place, gap);
    let typical_band = outlook.typical_band(BAND)?;
    let (low, high) = outlook.single_band(BAND)?;
    Some(Point {
        number: place.number,
        typical: outlook.typical(0.5)?,
        typical_band,
        // One service is never surer than the typical one; the two are worked out to different last digits.
        single_band: (low.min(typical_band.0), high.max(typical_band.1)),
    })
}

/// What a curve says but for its points and forecasts.
fn of_curve(ask: &Ask, curve: &Curve) -> Answer {
    let residual = |(row, known): (usize, &Row)| {
        let residual = curve.residuals.get(row).copied().filter(|residual| residual.is_finite())?;
        Some(Residual {
            row: u32::try_from(row).ok()?,
            number: known.number,
            plan: known.plan,
            residual,
            flagged: curve.flagged.contains(&row),
        })
    };
    let mut shapes: Vec<ShapeShare> = curve.shapes.iter().map(|shape| share(shape.shape, shape.weight)).collect();
    shapes.order_by(|a, b| b.share.total_cmp(&a.share));
    let effect = |term: &group_curve::Term| {
        let own = Some(term_of(*term)?).filter(|term| matches!(term, Term::Step(_) | Term::Relearning))?;
        curve.effect(*term).map(|(value, error)| Effect { term: own, value, error })
    };
    let dropped = |dropped: &group_curve::Dropped| Some(Dropped { term: term_of(dropped.term)?, known: dropped.known });
    let merged = |merged: &group_curve::Merged| Merged {
        plan: plan_of(merged.level),
        into: plan_of(merged.into),
        trainees: merged.trainees.try_into().unwrap_or(u32::MAX),
    };
    Answer {
        basis: Basis::Pool,
        shape_known: curve.shape_known,
        shapes,
        scatter: scatter(curve),
        freedom: curve.freedom,
        merged: curve.merged.iter().map(merged).collect(),
        dropped: curve.dropped.iter().filter_map(dropped).collect(),
        effects: curve.terms().iter().filter_map(effect).collect(),
        curves: Vec::new(),
        forecasts: Vec::new(),
        residuals: own_rows(ask).filter_map(residual).collect(),
        ..nothing(ask, TooLittle::NoTimes)
    }
}

fn question(ask: &Ask, trainee: Option<usize>, plan: Plan, target: f64, gap: Gap) -> Question {
    Question { trainee, done: ask.done, level: level(plan), done_at_level: ask.done_at(plan), target, gap }
}

/// The gap that widens services to come at a plan, or why nothing is said of them.
fn answerable(ask: &Ask, curve: &Curve, trainee: Option<usize>, plan: Plan) -> Result<Gap, NoForecast> {
    if let Some(why) = no_forecast(ask) {
        return Err(why);
    }
    let tau = ask.figures.map_or(0.0, |figures| figures.tau);
    let gap = Gap { weeks: ask.weeks, tau, refresher_weeks: Some(ask.refresher_weeks) };
    let question = question(ask, trainee, plan, 1.0, gap);
    forecast::answerable(curve, &question).map(|()| gap).map_err(|why| reason(&why))
}

fn reason(why: &ForecastError) -> NoForecast {
    match why {
        ForecastError::LevelUnseen => NoForecast::PlanUnseen,
        ForecastError::StepUnknown => NoForecast::StepUnknown,
        ForecastError::PracticeUnknown => NoForecast::PracticeUnknown,
        ForecastError::Target(_) => NoForecast::NoTarget,
        ForecastError::RefresherFirst { weeks, limit } => NoForecast::RefresherFirst { weeks: *weeks, limit: *limit },
        ForecastError::UnknownTrainee => NoForecast::TooLittle(TooLittle::NoTimes),
        ForecastError::Gap => NoForecast::NoFigures,
    }
}

fn taken_over(found: &forecast::Forecast) -> Forecast {
    let needed = |needed: forecast::Needed| Needed {
        even: needed.even,
        four_in_five: needed.four_in_five,
        nineteen_in_twenty: needed.nineteen_in_twenty,
    };
    Forecast {
        typical: needed(found.typical),
        single: needed(found.single),
        typical_next: found.typical_next,
        single_next: found.single_next,
        counted_with: found.counted_with.map(plan_of),
        meets: None,
    }
}

fn share(shape: Shape, share: f64) -> ShapeShare {
    let (family, parameter) = match shape {
        Shape::Power => (ShapeFamily::Power, 0.0),
        Shape::PowerPlateau(p) => (ShapeFamily::PowerPlateau, p),
        Shape::Exponential(k) => (ShapeFamily::Exponential, k),
    };
    ShapeShare { family, parameter, share }
}

fn term_of(term: group_curve::Term) -> Option<Term> {
    match term {
        group_curve::Term::Intercept => Some(Term::First),
        group_curve::Term::Practice => Some(Term::Practice),
        group_curve::Term::Step(level) => Some(Term::Step(plan_of(level))),
        group_curve::Term::Relearning => Some(Term::Relearning),
        group_curve::Term::Medium => None,
    }
}
