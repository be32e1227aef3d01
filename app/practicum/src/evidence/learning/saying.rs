//! Says what an answer means, in words that need no statistics.

use super::{Answer, Basis, Needed, NoForecast, PlanForecast, Pool, Term, TooLittle};
use crate::section::Plan;

/// Says seconds as a target is said: whole minutes where it is, else minutes and seconds.
pub fn say_time(seconds: f64) -> String {
    let whole = seconds.round().clamp(0.0, 1e9);
    let (minutes, rest) = ((whole / 60.0).floor(), whole % 60.0);
    match (minutes > 0.0, rest > 0.0) {
        (true, false) => format!("{minutes} min"),
        (true, true) => format!("{minutes} min {rest} s"),
        (false, _) => format!("{rest} s"),
    }
}

/// Says at which plan services are worked: "in halves", "on the whole lash line".
pub fn in_plan(plan: Plan) -> &'static str {
    match plan {
        Plan::Quarters => "in quarters",
        Plan::Thirds => "in thirds",
        Plan::Halves => "in halves",
        Plan::Whole => "on the whole lash line",
    }
}

/// Says the forecast of a plan: after how many more services the trainee's typical service is within the target,
/// with three chances and never one alone; or why that cannot be said.
///
/// The form: "as likely as not after 3 more services in halves, 4 chances in 5 after 7, 19 in 20 after 9 (chance
/// that this trainee's typical service is within 45 min)".
pub fn sentence(forecast: &PlanForecast) -> String {
    match &forecast.outcome {
        Err(why) => say_no_forecast(why, forecast.plan),
        Ok(found) => {
            let within = say_time(forecast.target);
            let chance = format!("(chance that this trainee's typical service is within {within})");
            format!("{} {chance}", say_needed(found.typical, forecast.plan))
        }
    }
}

fn say_needed(needed: Needed, plan: Plan) -> String {
    let at = in_plan(plan);
    let more = |ahead: u32| if ahead == 1 { "1 more service".into() } else { format!("{ahead} more services") };
    match (needed.even, needed.four_in_five, needed.nineteen_in_twenty) {
        (None, ..) => {
            format!("not reached on the present trend, with 200 more services {at} not even as likely as not")
        }
        (Some(_), _, Some(1)) => format!("already within: at the next service {at} with 19 chances in 20 or more"),
        (Some(even), None, _) => format!(
            "as likely as not after {} {at}; 4 chances in 5 and 19 in 20 not reached on the present trend",
            more(even)
        ),
        (Some(even), Some(four), None) => format!(
            "as likely as not after {} {at}, 4 chances in 5 after {four}; 19 in 20 not reached on the present trend",
            more(even)
        ),
        (Some(even), Some(four), Some(nineteen)) => {
            format!(
                "as likely as not after {} {at}, 4 chances in 5 after {four}, 19 in 20 after {nineteen}",
                more(even)
            )
        }
    }
}

/// Says why there is no forecast for a plan, and what would help.
pub fn say_no_forecast(why: &NoForecast, plan: Plan) -> String {
    let at = in_plan(plan);
    match why {
        NoForecast::NoFigures => {
            "the course book in force has no [forecast] part in rules.toml, so nothing is forecast: see the example \
             course book"
                .into()
        }
        NoForecast::NoTarget => format!(
            "the course book has no hands-on target {at}, neither of its own nor from every stage: nothing to forecast"
        ),
        NoForecast::RefresherFirst { weeks, limit } => format!(
            "a refresher comes first: {} since the last service, and after {} nothing is forecast",
            say_weeks(*weeks),
            say_weeks(*limit)
        ),
        NoForecast::PlanUnseen => {
            format!("nobody has a service {at} yet whose time counts, so nothing can be said of it")
        }
        NoForecast::StepUnknown => format!(
            "nobody has worked both {at} and in smaller sections yet, so how much slower the change makes is not known"
        ),
        NoForecast::PracticeUnknown => {
            "nobody has enough services one after another yet to tell what practice does".into()
        }
        NoForecast::NoTrend => format!(
            "the times {at} neither fall nor rise clearly, so it cannot be said after how many services the target is met"
        ),
        NoForecast::TooLittle(why) => say_too_little(*why, Some(plan)),
    }
}

/// Says why there is no curve: of all plans, or of one.
pub(super) fn say_too_little(why: TooLittle, plan: Option<Plan>) -> String {
    let at = plan.map(|plan| format!(" {}", in_plan(plan))).unwrap_or_default();
    match why {
        TooLittle::NoTimes => "too little to go by: no service of this trainee has a time that counts".into(),
        TooLittle::FewOwn { have, need } => format!(
            "too little to go by: {have} of this trainee's services{at} {} a time that counts, and it takes {need} \
             at one plan, or three trainees with times",
            if have == 1 { "has" } else { "have" }
        ),
        TooLittle::Alike => {
            "the times are too alike to tell how much they vary, so no range can be given: look at how they were taken"
                .into()
        }
        TooLittle::NotFitted => {
            "too little to go by: the times are too few for the plans worked at, or nothing tells them apart".into()
        }
    }
}

fn say_weeks(weeks: f64) -> String {
    match weeks.floor() {
        1.0 => "1 week".into(),
        whole => format!("{whole} weeks"),
    }
}

/// Says everything that a reader of the curve has to know to take it for no more than it is, a sentence each.
pub fn notes(answer: &Answer) -> Vec<String> {
    let mut notes = Vec::new();
    match answer.basis {
        Basis::Nothing(why) => {
            let said = say_too_little(why, None);
            notes.push(format!("No curve: {said}. Only the services themselves are shown."));
            return notes;
        }
        Basis::Alone => notes.push(
            "From this trainee's services alone, each plan by itself: fewer than three trainees have times that \
             count."
                .into(),
        ),
        Basis::Pool => {
            let pool = match answer.pool {
                Pool::Group => "of this trainee's group",
                Pool::Academy => "of all trainees of the academy (fewer than three of the group have times that count)",
            };
            notes.push(format!("From {} services by {} trainees, {pool}.", answer.services, answer.trainees));
            if answer.newcomer {
                notes.push(
                    "No time of this trainee counts yet: what is said holds for any new trainee among them.".into(),
                );
            } else {
                notes.push(format!("{} of the services are this trainee's own.", answer.own));
            }
            if !answer.shape_known {
                notes.push(
                    "How the times go on falling is not known yet: fewer than three trainees have 12 services or \
                     more. All shapes count alike, and the ranges are wide for it."
                        .into(),
                );
            }
        }
    }
    for merged in &answer.merged {
        notes.push(format!(
            "Services {} are counted with those {}: {} of the trainees {} worked so, and it takes three.",
            in_plan(merged.plan),
            in_plan(merged.into),
            merged.trainees,
            if merged.trainees == 1 { "has" } else { "have" }
        ));
    }
    for dropped in answer.dropped.iter().filter(|dropped| !dropped.known) {
        match dropped.term {
            Term::Step(plan) => notes.push(format!(
                "How much slower the change makes work {} is not known: nobody has worked on both sides of it.",
                in_plan(plan)
            )),
            Term::Relearning => {
                notes.push(
                    "How times fall again after a change of plan is not known: nobody has two services there.".into(),
                );
            }
            Term::First | Term::Practice => {}
        }
    }
    let widens = answer.weeks >= 1.0 && answer.curves.iter().any(|curve| !curve.ahead.is_empty());
    if widens {
        notes.push(format!("{} without a service: the ranges ahead are wider for it.", say_weeks(answer.weeks)));
    }
    for forecast in &answer.forecasts {
        if let Ok(found) = &forecast.outcome
            && let Some(with) = found.counted_with
        {
            notes.push(format!(
                "What is said {} leans on services {}: too few have reached it.",
                in_plan(forecast.plan),
                in_plan(with)
            ));
        }
    }
    notes
}
