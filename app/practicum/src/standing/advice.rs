//! Advice to widen, stay or narrow, with its reasons.
//!
//! Widening looks at the last services at the present plan; after a narrowing only at those begun since.
//! A safety breach in any live service since the first of these holds widening back. Narrowing is advised
//! only for what happened after the last decision, and ends when enough services without a breach follow.

use super::{Advice, Due, Gap, Need, Reasoned, Sorted, counted};
use crate::course_book::{Mark, SectionPlan};
use crate::evidence::{Assessed, Breach, hands_on_trend, standard_time};
use crate::moment::{Moment, format_seconds};
use crate::section::Plan;
use crate::service::Service;

pub(super) struct Advised {
    pub(super) advice: Advice,
    pub(super) reasons: Vec<Reasoned>,
    pub(super) needs: Vec<Need>,
}

/// Returns the plans that may come next: the next in the course book, but from quarters halves first and
/// thirds as the smaller step.
pub(super) fn next_plans(plans: &[SectionPlan], present: Plan) -> Vec<Plan> {
    let has = |plan: Plan| plans.iter().any(|candidate| candidate.plan == plan);
    if present == Plan::Quarters && has(Plan::Thirds) && has(Plan::Halves) {
        return vec![Plan::Halves, Plan::Thirds];
    }
    Plan::ALL.into_iter().find(|plan| *plan > present && has(*plan)).into_iter().collect()
}

fn narrower(plans: &[SectionPlan], present: Plan) -> Option<Plan> {
    plans.iter().map(|plan| plan.plan).filter(|plan| *plan < present).max()
}

pub(super) fn advise(sorted: &Sorted, gap: &Gap) -> Advised {
    let window = Window::new(sorted);
    let needs = needs(sorted, &window, gap);
    let narrow = reasons_to_narrow(sorted, &window);
    let plans = &sorted.books.present.plans;
    let (advice, reasons) = if !narrow.is_empty() {
        match narrower(plans, window.plan) {
            Some(plan) => (Advice::Narrow(plan), narrow),
            None => (Advice::Stay, narrow),
        }
    } else if sorted.counting().next().is_none() {
        let words = "No live service is marked by an assessor yet. Own marks and imported rows do not count.";
        (Advice::NotAssessed, vec![Reasoned::new(words, [])])
    } else if gap.due >= Due::Reobserve {
        (Advice::ObserveAgain, vec![gap_says(sorted, gap)])
    } else if needs.iter().all(|need| need.met) {
        let advice = next_plans(plans, window.plan).first().map_or(Advice::Timed, |plan| Advice::Widen(*plan));
        (advice, widen_reasons(sorted, &needs, advice))
    } else {
        (Advice::Stay, needs.iter().filter(|need| !need.met).map(|need| need.says.clone()).collect())
    };
    Advised { advice, reasons, needs }
}

fn widen_reasons(sorted: &Sorted, needs: &[Need], advice: Advice) -> Vec<Reasoned> {
    let mut reasons: Vec<Reasoned> = needs.iter().map(|need| need.says.clone()).collect();
    let options = next_plans(&sorted.books.present.plans, sorted.plan());
    if advice == Advice::Widen(Plan::Halves) && options.contains(&Plan::Thirds) {
        reasons.push(Reasoned::new("Thirds are possible too, as a smaller step.", []));
    }
    reasons
}

/// The services that the rule for widening looks at.
struct Window<'a, 's> {
    plan: Plan,
    /// Counting services at the present plan since the last narrowing.
    at_plan: Vec<&'s Assessed<'a>>,
    /// The last of these that the rule asks for, or all when there are fewer.
    last: Vec<&'s Assessed<'a>>,
    /// Breaches that hold widening back.
    breaches: Vec<&'s Breach<'a>>,
    wanted: usize,
}

impl<'a, 's> Window<'a, 's> {
    fn new(sorted: &'s Sorted<'a>) -> Self {
        let plan = sorted.plan();
        let since = last_narrowing(sorted);
        let after = |service: &Service| since.is_none_or(|since| service.began > since);
        let at_plan: Vec<&Assessed> =
            sorted.counting().filter(|one| one.service.plan() == Some(plan) && after(one.service)).collect();
        let wanted = usize::try_from(sorted.books.present.rules.widen_last.max(1)).unwrap_or(usize::MAX);
        let last = at_plan.get(at_plan.len().saturating_sub(wanted)..).unwrap_or_default().to_vec();
        let first = last.first().filter(|_| last.len() >= wanted).map(|one| one.service);
        let recent = |breach: &&Breach| {
            after(breach.service)
                && first.is_none_or(|first| (breach.service.began, &breach.service.id) >= (first.began, &first.id))
        };
        let breaches = sorted.breaches.iter().filter(recent).collect();
        Self { plan, at_plan, last, breaches, wanted }
    }

    fn last_services(&self) -> impl Iterator<Item = &'a Service> {
        self.last.iter().map(|one| one.service)
    }
}

/// Returns when a decision last went back to a narrower plan.
fn last_narrowing(sorted: &Sorted) -> Option<Moment> {
    let mut before = sorted.beginner();
    let mut narrowed = None;
    for decision in &sorted.decisions {
        if decision.plan < before {
            narrowed = Some(decision.at);
        }
        before = decision.plan;
    }
    narrowed
}

fn needs(sorted: &Sorted, window: &Window, gap: &Gap) -> Vec<Need> {
    let plan = window.plan.word();
    let short = window.wanted.saturating_sub(window.last.len());
    let enough = match short {
        0 => format!("The last {} at {plan} are looked at.", counted(window.wanted, "assessed service")),
        _ => format!(
            "{} of {} at {plan}: {short} more needed.",
            window.last.len(),
            counted(window.wanted, "assessed service")
        ),
    };
    let mut needs = vec![Need { says: Reasoned::new(enough, window.last_services()), met: short == 0 }];
    needs.push(if window.breaches.is_empty() {
        let words = if window.last.is_empty() { "No safety breach." } else { "No safety breach in them or since." };
        Need { says: Reasoned::new(words, window.last_services()), met: true }
    } else {
        let what: Vec<&str> = window.breaches.iter().flat_map(|b| &b.what).map(String::as_str).collect();
        let words = format!("Safety breach: {}.", what.join("; "));
        Need { says: Reasoned::new(words, window.breaches.iter().map(|b| b.service)), met: false }
    });
    needs.push(core_need(sorted, window));
    if sorted.books.present.rules.widen_last >= 2 {
        needs.push(time_need(sorted, window));
    }
    if gap.due >= Due::SupervisedRefresher {
        needs.push(Need { says: gap_says(sorted, gap), met: false });
    }
    needs
}

fn gap_says(sorted: &Sorted, gap: &Gap) -> Reasoned {
    let words = format!("{} since the last service: {}.", counted(gap.days as usize, "day"), gap.due.say());
    Reasoned::new(words, sorted.live.last().copied())
}

/// Returns the names of the core criteria below Meets, or without a mark, in a service.
fn low_core<'b>(sorted: &'b Sorted, one: &Assessed) -> Vec<&'b str> {
    let book = sorted.books.of(one.service);
    let applies = crate::outcome::applicable(book, one.service);
    let low = |criterion: &&&crate::course_book::Criterion| {
        criterion.core && one.mark(&criterion.id).is_none_or(|mark| mark < Mark::Meets)
    };
    applies.iter().filter(low).map(|criterion| criterion.label.as_str()).collect()
}

fn core_need(sorted: &Sorted, window: &Window) -> Need {
    let low: Vec<(&Service, Vec<&str>)> = window
        .last
        .iter()
        .map(|one| (one.service, low_core(sorted, one)))
        .filter(|(service, low)| !low.is_empty() || service.ending != crate::service::Ending::Finished)
        .collect();
    if window.last.is_empty() {
        let words = "Core criteria at least Meets: no assessed service at this plan yet.";
        return Need { says: Reasoned::new(words, []), met: false };
    }
    if low.is_empty() {
        let words = "Every core criterion at least Meets in them.";
        return Need { says: Reasoned::new(words, window.last_services()), met: true };
    }
    let mut names: Vec<&str> = Vec::new();
    for name in low.iter().flat_map(|(_, names)| names).copied() {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let words = match names.is_empty() {
        true => format!("Stopped before the end: {}.", counted(low.len(), "service")),
        false => format!("Below Meets in {}: {}.", counted(low.len(), "service"), names.join(", ")),
    };
    Need { says: Reasoned::new(words, low.iter().map(|(service, _)| *service)), met: false }
}

fn time_need(sorted: &Sorted, window: &Window) -> Need {
    let times: Vec<(&Service, u32)> = window
        .at_plan
        .iter()
        .filter_map(|one| standard_time(one.service, &sorted.books).ok().map(|seconds| (one.service, seconds)))
        .collect();
    let last = times.get(times.len().saturating_sub(window.wanted)..).unwrap_or_default();
    let services = || last.iter().map(|(service, _)| *service);
    let seconds: Vec<u32> = last.iter().map(|(_, seconds)| *seconds).collect();
    let trend = hands_on_trend(&seconds).filter(|_| last.len() >= window.wanted);
    let Some(trend) = trend else {
        let words =
            format!("Steady hands-on time: {} of {} whose time counts.", last.len(), counted(window.wanted, "service"));
        return Need { says: Reasoned::new(words, services()), met: false };
    };
    let allowed = sorted.books.present.rules.widen_steady_percent;
    let met = trend.percent_per_service <= allowed;
    let median = format_seconds(trend.median.round() as u32);
    let way = if met { "steady" } else { "getting longer" };
    let words = format!(
        "Hands-on time is {way}: {:+.1} % a service (at most {allowed:+.1} %), median {median}.",
        trend.percent_per_service
    );
    Need { says: Reasoned::new(words, services()), met }
}

fn reasons_to_narrow(sorted: &Sorted, window: &Window) -> Vec<Reasoned> {
    let rules = &sorted.books.present.rules;
    let decided = sorted.decisions.last().map(|decision| decision.at);
    let undecided = |service: &Service| decided.is_none_or(|decided| service.began > decided);
    let mut reasons = Vec::new();
    if rules.narrow_after_breach {
        for breach in window.breaches.iter().filter(|breach| undecided(breach.service)) {
            let words = format!("Safety breach on {}: {}.", breach.service.day(), breach.what.join("; "));
            reasons.push(Reasoned::new(words, [breach.service]));
        }
    }
    let times = usize::try_from(rules.narrow_after_low).unwrap_or(usize::MAX);
    let since: Vec<&&Assessed> = window.at_plan.iter().filter(|one| undecided(one.service)).collect();
    let row = since.get(since.len().saturating_sub(times)..).unwrap_or_default();
    if times > 0 && row.len() == times {
        for criterion in sorted.books.present.criteria.iter().filter(|criterion| criterion.core) {
            if row.iter().all(|one| one.mark(&criterion.id).is_some_and(|mark| mark < Mark::Meets)) {
                let words = format!("{} below Meets in the last {}.", criterion.label, counted(times, "service"));
                reasons.push(Reasoned::new(words, row.iter().map(|one| one.service)));
            }
        }
    }
    reasons
}
