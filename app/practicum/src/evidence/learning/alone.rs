//! The curve of one trainee alone, plan by plan: what can be said while fewer than three trainees have times.
//!
//! The jump to another plan cannot be told from one trainee's times, so that each plan stands for itself: a
//! straight line through the logarithms of its times (`proficiency::own_curve`). A plan without times of the
//! trainee has no curve and no forecast.

use proficiency::distribution::{t_below, t_quantile};
use proficiency::forecast::FARTHEST;
use proficiency::linear::Prediction;
use proficiency::mixed::WEIGHT_FLAGGED;
use proficiency::own_curve::{self, OwnCurve};

use super::answering::{BAND, LEAST_SCATTER, no_forecast, nothing, own_rows, plans};
use super::{
    Answer, Ask, Basis, Forecast, Needed, NoForecast, PlanCurve, PlanForecast, Point, Residual, Row, TooLittle,
};
use crate::order::InOrder;
use crate::section::Plan;

/// Fewest services at a plan for a line.
const LEAST: u32 = 3;
/// Degrees of freedom of the weight by which a service counts as far off, as in the group's curve.
const NU: f64 = 4.0;
/// Confidence with which the numbers of services that meet the target are given.
const MEETS: f64 = 0.95;

/// The line of a plan, or why there is none.
struct Line {
    plan: Plan,
    rows: Vec<(u32, Row)>,
    curve: Result<OwnCurve, TooLittle>,
}

pub(super) fn answer(ask: &Ask) -> Answer {
    let lines: Vec<Line> = plans(ask).map(|plan| line(ask, plan)).collect();
    let longest = lines.iter().filter(|line| line.curve.is_ok()).max_by_key(|line| line.rows.len());
    let Some(longest) = longest else {
        return nothing(ask, why_none(ask, &lines));
    };
    let (scatter, freedom) = longest.curve.as_ref().map_or((0.0, 0.0), |curve| {
        (curve.line.residual_sd, f64::from(u32::try_from(curve.line.degrees_of_freedom).unwrap_or(u32::MAX)))
    });
    let curves = lines.iter().map(|line| curve_of(ask, line)).collect();
    let forecasts = ask.plans.iter().filter_map(|plan| {
        let line = lines.iter().find(|line| line.plan == *plan)?;
        Some(PlanForecast { plan: *plan, target: ask.target(*plan).unwrap_or(0.0), outcome: forecast(ask, line) })
    });
    let mut residuals: Vec<Residual> = lines.iter().flat_map(residuals).collect();
    residuals.order_by_key(|residual| residual.number);
    Answer {
        basis: Basis::Alone,
        scatter,
        freedom,
        forecasts: forecasts.collect(),
        curves,
        residuals,
        ..nothing(ask, TooLittle::NoTimes)
    }
}

fn line(ask: &Ask, plan: Plan) -> Line {
    let rows: Vec<(u32, Row)> = own_rows(ask)
        .filter(|(_, row)| row.plan == plan)
        .map(|(at, row)| (u32::try_from(at).unwrap_or(u32::MAX), *row))
        .collect();
    let have = u32::try_from(rows.len()).unwrap_or(u32::MAX);
    let few = TooLittle::FewOwn { have, need: LEAST };
    let points: Vec<(f64, f64)> = rows.iter().map(|(_, row)| (f64::from(row.number), row.seconds)).collect();
    let curve = if have < LEAST { Err(few) } else { own_curve::fit(&points).map_err(|_| TooLittle::NotFitted) };
    let varies = |curve: OwnCurve| {
        let varies = curve.line.residual_sd >= LEAST_SCATTER;
        if varies { Ok(curve) } else { Err(TooLittle::Alike) }
    };
    Line { plan, rows, curve: curve.and_then(varies) }
}

fn why_none(ask: &Ask, lines: &[Line]) -> TooLittle {
    let own = own_rows(ask).count();
    if own == 0 {
        return TooLittle::NoTimes;
    }
    let longest = lines.iter().max_by_key(|line| line.rows.len());
    longest.and_then(|line| line.curve.as_ref().err().copied()).unwrap_or(TooLittle::NotFitted)
}

/// Place on the line with the variance that a gap adds.
fn at(curve: &OwnCurve, number: u32, widening: f64) -> Option<Prediction> {
    let found = curve.ln_time(f64::from(number))?;
    let wider = |error: f64| (error * error + widening).sqrt();
    Some(Prediction { se_mean: wider(found.se_mean), se_single: wider(found.se_single), ..found })
}

fn point(curve: &OwnCurve, number: u32, widening: f64) -> Option<Point> {
    let at = at(curve, number, widening)?;
    let t = t_quantile(0.5 + BAND / 2.0, at.degrees_of_freedom as f64)?;
    let band = |error: f64| ((at.mean - t * error).exp(), (at.mean + t * error).exp());
    let point =
        Point { number, typical: at.mean.exp(), typical_band: band(at.se_mean), single_band: band(at.se_single) };
    (point.single_band.0.is_finite() && point.single_band.1.is_finite()).then_some(point)
}

fn widening(ask: &Ask) -> f64 {
    ask.figures.map_or(0.0, |figures| figures.tau * figures.tau * ask.weeks.max(0.0).ln_1p())
}

fn curve_of(ask: &Ask, line: &Line) -> PlanCurve {
    let (mut past, mut ahead, mut no_ahead) = (Vec::new(), Vec::new(), None);
    let asked = ask.plans.contains(&line.plan);
    match (&line.curve, no_forecast(ask)) {
        (Ok(curve), why) => {
            let own = ask.past.iter().filter(|past| past.plan == line.plan);
            past = own.filter_map(|past| point(curve, past.number, 0.0)).collect();
            let why = why.or_else(|| (!told(curve)).then_some(NoForecast::NoTrend));
            if asked && why.is_none() {
                let far = ask.figures.map_or(0, |figures| figures.ahead);
                let numbers = (1..=far).map(|ahead| ask.done.saturating_add(ahead));
                ahead = numbers.filter_map(|number| point(curve, number, widening(ask))).collect();
            }
            no_ahead = why.filter(|_| asked);
        }
        (Err(too_little), why) if asked => no_ahead = Some(why.unwrap_or(NoForecast::TooLittle(*too_little))),
        _ => {}
    }
    PlanCurve { plan: line.plan, past, ahead, no_ahead }
}

/// Whether the slope is told from none with 4 chances in 5: then there is a finite interval for any time.
fn told(curve: &OwnCurve) -> bool {
    curve.meets_interval(curve.ln_first().exp(), BAND).is_some()
}

fn forecast(ask: &Ask, line: &Line) -> Result<Forecast, NoForecast> {
    let target = ask.target(line.plan).ok_or(NoForecast::NoTarget)?;
    if let Some(why) = no_forecast(ask) {
        return Err(why);
    }
    let curve = line.curve.as_ref().map_err(|why| NoForecast::TooLittle(*why))?;
    let chances = |ahead: u32| {
        let at = at(curve, ask.done.saturating_add(ahead), widening(ask))?;
        let within = |error: f64| t_below((target.ln() - at.mean) / error, at.degrees_of_freedom as f64);
        Some((within(at.se_mean)?, within(at.se_single)?))
    };
    let (typical_next, single_next) = chances(1).ok_or(NoForecast::PracticeUnknown)?;
    // A slope that is not told from none says nothing of when, unless the target is met as it is.
    if typical_next < MEETS && !told(curve) {
        return Err(NoForecast::NoTrend);
    }
    let (mut typical, mut single) = ([None; 3], [None; 3]);
    for ahead in 1..=FARTHEST {
        let Some(found) = chances(ahead) else { break };
        for (needed, chance) in [(&mut typical, found.0), (&mut single, found.1)] {
            for (needed, level) in needed.iter_mut().zip([0.5, 0.8, 0.95]) {
                if needed.is_none() && chance >= level {
                    *needed = Some(ahead);
                }
            }
        }
    }
    let needed =
        |[even, four_in_five, nineteen_in_twenty]: [Option<u32>; 3]| Needed { even, four_in_five, nineteen_in_twenty };
    let meets = curve.reaches(target).and_then(|_| curve.meets_interval(target, MEETS));
    Ok(Forecast {
        typical: needed(typical),
        single: needed(single),
        typical_next,
        single_next,
        counted_with: None,
        meets,
    })
}

fn residuals(line: &Line) -> Vec<Residual> {
    let Ok(curve) = &line.curve else { return Vec::new() };
    let of = |((row, known), residual): (&(u32, Row), &f64)| {
        let residual = residual / curve.line.residual_sd;
        let weight = (NU + 1.0) / (NU + residual * residual);
        Residual { row: *row, number: known.number, plan: known.plan, residual, flagged: weight < WEIGHT_FLAGGED }
    };
    line.rows.iter().zip(&curve.line.residuals).map(of).collect()
}
