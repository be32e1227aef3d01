//! The time standard beside a trial: a standard, stated apart, that decides nothing by itself.

use super::{Answer, in_plan, say_no_forecast, say_time};
use crate::course_book::ForecastRules;
use crate::evidence::{Books, records_of, standard_time};
use crate::ids::PersonId;
use crate::moment::Seconds;
use crate::section::Plan;
use crate::service::Service;

/// How a trainee stands to the time standard of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeStandard {
    /// The plan.
    pub plan: Plan,
    /// Hands-on target in seconds; `None` where the course book has none.
    pub target: Option<f64>,
    /// Chance that the next service is within the target, 0 to 1; `None` where that cannot be said.
    pub chance: Option<f64>,
    /// Whether the last services were within the target and its leeway; `None` while there are too few.
    pub last_within: Option<bool>,
    /// Whether the standard holds now.
    pub holds: bool,
    /// All of it in one sentence.
    pub sentence: String,
}

/// Returns the hands-on seconds of a trainee's services at a plan whose time stands, in the order begun.
pub fn standard_times(trainee: &PersonId, services: &[&Service], books: &Books<'_>, plan: Plan) -> Vec<Seconds> {
    let own = records_of(trainee, services).into_iter().filter(|service| service.plan() == Some(plan));
    own.filter_map(|service| standard_time(service, books).ok()).collect()
}

/// Works out how a trainee stands to the time standard of a plan that was asked about.
///
/// It holds when the next service at the plan is within the hands-on target with the course book's chance, and each
/// of the last services there was within the target and the leeway (proposal, no source). `last_times` are those of
/// [`standard_times`].
pub fn time_standard(
    answer: &Answer,
    plan: Plan,
    last_times: &[Seconds],
    rules: Option<&ForecastRules>,
) -> TimeStandard {
    let forecast = answer.forecast(plan);
    let target = forecast.map(|forecast| forecast.target).filter(|target| *target > 0.0);
    let mut found =
        TimeStandard { plan, target, chance: None, last_within: None, holds: false, sentence: String::new() };
    let at = in_plan(plan);
    let (Some(rules), Some(target), Some(forecast)) = (rules, target, forecast) else {
        found.sentence = if rules.is_none() {
            "No time standard: the course book in force has no [forecast] part in rules.toml.".into()
        } else {
            format!("No time standard {at}: the course book has no hands-on target there.")
        };
        return found;
    };
    let needed = usize::try_from(rules.standard_last).unwrap_or(usize::MAX);
    let most = target * (1.0 + rules.standard_leeway_percent / 100.0);
    let last: Vec<&Seconds> = last_times.iter().rev().take(needed).collect();
    found.last_within = (last.len() >= needed).then(|| last.iter().all(|seconds| f64::from(**seconds) <= most));
    found.chance = forecast.outcome.as_ref().ok().map(|forecast| forecast.single_next);
    found.holds = found.chance.is_some_and(|chance| chance >= rules.standard_chance) && found.last_within == Some(true);

    let chance = match (&forecast.outcome, found.chance) {
        (Ok(_), Some(chance)) => format!(
            "the next service {at} is within {} with a chance of {}, and it takes {}",
            say_time(target),
            percent(chance),
            percent(rules.standard_chance)
        ),
        (Err(why), _) => format!("{} ({at})", say_no_forecast(why, plan)),
        (Ok(_), None) => format!("nothing can be said of the next service {at}"),
    };
    let within = match found.last_within {
        Some(true) => format!("the last {needed} were within {}", say_time(most)),
        Some(false) => format!("not all of the last {needed} were within {}", say_time(most)),
        None => format!("{} of {needed} services {at} have a time that stands", last.len()),
    };
    let verdict = if found.holds { "The time standard holds" } else { "The time standard does not hold yet" };
    found.sentence = format!("{verdict}: {chance}; {within}.");
    found
}

/// Whole percent, cut off rather than rounded: 79.6 % never reads as the 80 % that it takes.
fn percent(chance: f64) -> String {
    format!("{:.0} %", (chance * 100.0 + 1e-9).floor())
}
