//! What a trial amounts to: the charts with their limits, what would settle it, and the verdict.
//!
//! A verdict is "demonstrated" or "not demonstrated", never more. Services begun after a trial was opened and
//! before the next one, at its plan, belong to it in the order begun: finished, or stopped after lotion (then
//! not acceptable). Those without an assessor's mark that counts are passed over, and counted against the
//! share that may stay unassessed.

#[cfg(test)]
mod tests;

use proficiency::competence::monitor::MonitoringCusum;
use proficiency::competence::rubric::{self, CalibratedScores, Scores};
use proficiency::competence::rules::Rule;
use proficiency::competence::trial::{bound_withdrawn, combined};
use proficiency::proportion::exact_upper_limit;

use super::choosing::{Decided, decided, percent, words_of};
use super::{Assessed, Books, assessed, breaches, records_of};
use crate::course_book::{Mark, TrialRule, TrialRules};
use crate::ids::{EntryId, PersonId, ServiceId};
use crate::moment::{Day, Moment};
use crate::order::InOrder;
use crate::outcome::{Marked, Outcome, Verdict, applicable};
use crate::service::{Ending, Service};
use crate::trial::{Terms, Trial};

/// Services that the chart after a pass runs on average until a false alarm. Proposal, no source.
const QUIET_FOR: f64 = 300.0;
/// Confidence of the upper limit of the rate of safety breaches.
const LEVEL: f64 = 0.95;

/// Everything that a trial is worked out from. The order of the lists does not matter.
#[derive(Debug, Clone, Copy)]
pub struct TrialInput<'a> {
    /// Whose.
    pub trainee: &'a PersonId,
    /// Course books.
    pub books: Books<'a>,
    /// Services and drills in force, of anybody.
    pub services: &'a [&'a Service],
    /// Outcomes in force, of anybody.
    pub outcomes: &'a [&'a Outcome],
    /// Trials in force, of anybody.
    pub trials: &'a [&'a Trial],
}

/// A service of a trial.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialService {
    /// The service.
    pub service: ServiceId,
    /// The day it was worked.
    pub day: Day,
    /// Acceptable or not; `None` while no mark counts.
    pub acceptable: Option<bool>,
    /// Mean mark, 0 to 3; `None` while no mark counts.
    pub score: Option<f64>,
    /// A safety breach.
    pub breach: bool,
}

/// A chart that rises towards a limit, over the assessed services of a trial in the order begun.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialChart {
    /// Value at which it passes.
    pub limit: f64,
    /// Value after each assessed service.
    pub values: Vec<f64>,
    /// The service that reached the limit: the pass stands from then on.
    pub passed: Option<ServiceId>,
    /// Assessed services until then.
    pub passed_after: Option<u32>,
    /// Services with a good result in a row that would reach the limit from here; 0 once passed, `None` when
    /// too many to count.
    pub needed: Option<u32>,
    /// Chance, at the unacceptable level throughout, of a pass within the trial.
    pub false_pass: f64,
    /// Chance of a pass within the trial at the acceptable level.
    pub power: f64,
    /// Fewest services with which it can pass from the start.
    pub shortest: Option<u32>,
}

/// Safety breaches in the services of a trial's plan since it was opened, apart from the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Safety {
    /// Services with a breach.
    pub breaches: Vec<ServiceId>,
    /// Services looked at: assessed, or with a breach that a clock recorded.
    pub services: u32,
    /// Exact upper 95 % limit of the rate of services with a breach, 0 to 1; `None` without services.
    pub upper_limit: Option<f64>,
    /// Services in a row without a breach up to now.
    pub clean: u32,
    /// How many the course book asks for.
    pub needed: u32,
}

/// Watching after the pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Watch {
    /// Value of the chart after each assessed service since the pass.
    pub values: Vec<u32>,
    /// Value at which it signals.
    pub limit: u32,
    /// The service at which it signalled first.
    pub signalled: Option<ServiceId>,
    /// Mean services to a false alarm at the acceptable failure rate.
    pub quiet_for: f64,
    /// Mean services to the signal at the unacceptable failure rate.
    pub found_after: f64,
}

/// How a trial stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrialVerdict {
    /// Under way.
    Open,
    /// Quality is shown; services without a safety breach are missing.
    SafetyOpen,
    /// Demonstrated.
    Demonstrated,
    /// Demonstrated, and suspended by a later safety breach until a service is observed again.
    Suspended,
    /// Over, or no longer able to pass: not demonstrated.
    NotDemonstrated,
}

/// A trial, worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialState {
    /// The entry that opened it.
    pub trial: EntryId,
    /// Which of this trainee's trials it is, from 1.
    pub number: u32,
    /// What was fixed.
    pub terms: Terms,
    /// The rule that decides on acceptable or not: that of the course book it was opened under.
    pub rule: TrialRule,
    /// Its services, in the order begun.
    pub services: Vec<TrialService>,
    /// Acceptable or not.
    pub quality: TrialChart,
    /// Mean marks, when the trial looks at them.
    pub score: Option<TrialChart>,
    /// Services of the trial that no mark counts for.
    pub unassessed: u32,
    /// Too many are unassessed: the chance of a false pass is not known.
    pub bound_withdrawn: bool,
    /// Chance that at least one of this trainee's trials passes falsely.
    pub combined_false_pass: f64,
    /// Assessed services left.
    pub left: u32,
    /// Safety.
    pub safety: Safety,
    /// Watching after the pass; `None` before.
    pub watch: Option<Watch>,
    /// How it stands.
    pub verdict: TrialVerdict,
    /// The verdict in a sentence.
    pub sentence: String,
    /// What would settle it, in a sentence; empty when it is settled.
    pub settles: String,
    /// How this was worked out: method, numbers, source.
    pub workings: Vec<String>,
}

impl TrialState {
    /// Says in plain words how often the trial passes who is not good enough, beside what the academy allows, and
    /// what the mean marks say.
    pub fn say_risk(&self) -> String {
        let figures = self.terms.figures();
        let chance = charts(self).map(|chart| chart.false_pass).fold(0.0, f64::max);
        let risk = match self.bound_withdrawn {
            true => "How often a trainee who is not good enough would pass is not known here.".to_owned(),
            false => format!(
                "A trainee with {} services not acceptable would pass such a trial with chance {}; the academy allows {}.",
                percent(figures.unacceptable),
                percent(chance),
                percent(figures.alpha)
            ),
        };
        let risk = match self.number {
            0 | 1 => risk,
            number => format!(
                "{risk} At least one of the {number} trials: with chance {}.",
                percent(self.combined_false_pass)
            ),
        };
        let side = |chart: &TrialChart| if chart.passed.is_some() { "shown" } else { "not shown yet" };
        match &self.score {
            Some(score) => format!(
                "{risk} Acceptable services in number: {}; marks high enough on average: {}. Both are needed.",
                side(&self.quality),
                side(score)
            ),
            None => risk,
        }
    }
}

/// Works out a trainee's latest trial; `None` when none was opened by somebody else than the trainee.
///
/// # Errors
/// Returns a sentence when the figures that a trial fixed cannot decide anything.
pub fn trial_state(input: &TrialInput) -> Result<Option<TrialState>, String> {
    trial_states(input).map(|mut states| states.pop())
}

/// Works out all trials of a trainee that somebody else opened, in the order opened: each has the services
/// begun after it was opened and before the next one was.
///
/// # Errors
/// Returns a sentence when the figures that a trial fixed cannot decide anything.
pub fn trial_states(input: &TrialInput) -> Result<Vec<TrialState>, String> {
    let about = |trial: &&Trial| trial.trainee == *input.trainee && trial.by != *input.trainee;
    let mut trials: Vec<&Trial> = input.trials.iter().copied().filter(about).collect();
    trials.order_by(|a, b| (a.at, &a.id).cmp(&(b.at, &b.id)));
    let (mut states, mut false_passes) = (Vec::with_capacity(trials.len()), Vec::with_capacity(trials.len()));
    for (place, trial) in trials.iter().enumerate() {
        let until = trials.get(place + 1).map(|next| next.at);
        let mut state = state_of(input, trial, until)?;
        // Whoever falls short in either chart passes by that one's chance at most.
        false_passes.push(charts(&state).map(|chart| chart.false_pass).fold(0.0, f64::max));
        state.number = count(place + 1);
        state.combined_false_pass = combined(&false_passes).map_err(|error| error.to_string())?;
        if state.number > 1 {
            state.workings.push(format!(
                "This is trial {}. The chance that at least one of {} trials passes falsely is {:.1} %.",
                state.number,
                state.number,
                state.combined_false_pass * 100.0
            ));
        }
        states.push(state);
    }
    Ok(states)
}

fn state_of(input: &TrialInput, trial: &Trial, until: Option<Moment>) -> Result<TrialState, String> {
    let terms = trial.terms;
    let book = input.books.named(&trial.course_book).ok_or_else(|| {
        format!(
            "the course book “{}” that a trial was opened under, and which names its rule, cannot be read here",
            trial.course_book
        )
    })?;
    let figures = TrialRules { rule: book.rules.trial.rule, ..terms.figures() };
    let limits = decided(&figures)?;
    let score_limits = score_limits(&terms)?;
    let found = Found::of(input, trial, until);
    let marked: Vec<&TrialService> = found.services.iter().filter(|one| one.acceptable.is_some()).collect();
    let tested = usize::try_from(terms.horizon).ok().and_then(|horizon| marked.get(..horizon)).unwrap_or(&marked);
    let unassessed = count(found.services.len() - marked.len());
    let mut state = TrialState {
        trial: trial.id.clone(),
        number: 1,
        terms,
        rule: figures.rule,
        unassessed,
        bound_withdrawn: bound_withdrawn(unassessed, count(found.services.len()), figures.unassessed_share),
        combined_false_pass: 0.0,
        left: terms.horizon.saturating_sub(count(marked.len())),
        safety: found.safety.clone(),
        watch: None,
        verdict: TrialVerdict::Open,
        sentence: String::new(),
        settles: String::new(),
        workings: Vec::new(),
        services: found.services.clone(),
        quality: quality_chart(&limits, terms.horizon, tested),
        score: score_limits.as_ref().map(|limits| score_chart(limits, tested)),
    };
    state.verdict = verdict(&state, &found, until.is_some());
    state.watch = pass_of(&state).and_then(|passed| watch(&figures, &marked, passed));
    state.sentence = sentence(&state, tested);
    state.settles = settles(&state);
    state.workings = workings(&state, &limits, score_limits.as_ref());
    Ok(state)
}

/// The services that belong to a trial, and what they say about safety.
struct Found {
    services: Vec<TrialService>,
    safety: Safety,
    /// Each service of the plan that was looked at, with the number in a row without a breach up to it.
    clean_runs: Vec<(ServiceId, u32)>,
    /// An acceptable observed service followed the last breach.
    seen_again: bool,
}

impl Found {
    fn of(input: &TrialInput, trial: &Trial, until: Option<Moment>) -> Self {
        let within = |service: &&Service| {
            service.is_service() && service.began > trial.at && until.is_none_or(|until| service.began <= until)
        };
        let records: Vec<&Service> = records_of(input.trainee, input.services).into_iter().filter(within).collect();
        let marked = assessed(&records, input.outcomes, &input.books);
        let broken: Vec<&ServiceId> =
            breaches(&records, &marked, &input.books).into_iter().map(|breach| &breach.service.id).collect();
        let mut found = Found {
            services: Vec::new(),
            safety: Safety {
                breaches: broken.iter().map(|id| (*id).clone()).collect(),
                services: 0,
                upper_limit: None,
                clean: 0,
                needed: trial.terms.breach_free_last,
            },
            clean_runs: Vec::new(),
            seen_again: true,
        };
        let mut broke = 0_u32;
        for service in records {
            let view = marked.iter().find(|one| one.service.id == service.id).filter(|one| one.counts());
            let breach = broken.contains(&&service.id);
            if breach {
                found.safety.clean = 0;
                found.seen_again = false;
            } else if view.is_some_and(|one| one.observed && one.acceptable()) {
                found.seen_again = true;
            }
            if service.plan() != Some(trial.terms.plan) {
                continue;
            }
            found.services.push(TrialService {
                service: service.id.clone(),
                day: service.day(),
                acceptable: view.map(|one| one.acceptable()),
                score: view.map(|one| mean_mark(one, &input.books)),
                breach,
            });
            if view.is_some() || breach {
                broke += u32::from(breach);
                found.safety.services += 1;
                found.safety.clean += u32::from(!breach);
                found.clean_runs.push((service.id.clone(), found.safety.clean));
            }
        }
        found.safety.upper_limit = exact_upper_limit(broke, found.safety.services, LEVEL);
        found
    }

    /// Whether enough services in a row were without a breach at some time from a service on.
    fn was_clean_from(&self, passed: &ServiceId) -> bool {
        let from = self.clean_runs.iter().skip_while(|(id, _)| id != passed);
        from.into_iter().any(|(_, clean)| *clean >= self.safety.needed)
    }
}

/// Returns the mean of the marks on what is core or not safety-critical, 0 to 3; 0 when the service was stopped
/// or breached safety, as the whole is then Not yet.
fn mean_mark(one: &Assessed, books: &Books) -> f64 {
    if one.service.ending != Ending::Finished || matches!(one.verdict, Verdict::SafetyBreach(_)) {
        return 0.0;
    }
    let criteria = applicable(books.of(one.service), one.service);
    let counted = criteria.iter().filter(|criterion| criterion.core || !criterion.safety_critical);
    let level = |criterion: &crate::course_book::Criterion| match one.marks.get(&criterion.id) {
        Some(Marked::Level(mark)) => Some(f64::from(Mark::number(*mark))),
        _ => None,
    };
    let levels: Vec<f64> = counted.filter_map(|criterion| level(criterion)).collect();
    if levels.is_empty() { 0.0 } else { levels.iter().sum::<f64>() / f64::from(count(levels.len())) }
}

/// Returns the limits of the chart on the mean mark, where a trial looks at it.
pub(super) fn score_limits(terms: &Terms) -> Result<Option<CalibratedScores>, String> {
    let figures = terms.figures();
    let limits = figures.score.map(|score| {
        let scores = Scores::new(score.unacceptable, score.acceptable, score.spread);
        scores.and_then(|scores| rubric::calibrate(scores, terms.horizon, figures.alpha))
    });
    limits.transpose().map_err(|error| error.to_string())
}

fn quality_chart(limits: &Decided, horizon: u32, tested: &[&TrialService]) -> TrialChart {
    let failures: Vec<bool> = tested.iter().map(|one| one.acceptable == Some(false)).collect();
    let first = limits.rule.first_pass(&failures);
    TrialChart {
        limit: limits.rule.limit(),
        values: limits.rule.path(&failures),
        passed: first.and_then(|at| tested.get(at - 1)).map(|one| one.service.clone()),
        passed_after: first.map(count),
        needed: limits.rule.passes_needed(&failures, horizon),
        false_pass: limits.false_pass,
        power: limits.power,
        shortest: Some(limits.shortest),
    }
}

/// The best mark there is.
const BEST: f64 = 3.0;

fn score_chart(limits: &CalibratedScores, tested: &[&TrialService]) -> TrialChart {
    let scores: Vec<f64> = tested.iter().map(|one| one.score.unwrap_or_default()).collect();
    let values = limits.chart.path(&scores);
    let passed = limits.chart.first_signal(&scores).and_then(|at| tested.get(at - 1));
    let left = limits.chart.limit() - values.last().copied().unwrap_or_default();
    let best = limits.chart.score(BEST);
    let needed = (0..=limits.horizon).find(|run| f64::from(*run) * best >= left - 1e-12);
    TrialChart {
        limit: limits.chart.limit(),
        needed: if passed.is_some() { Some(0) } else { needed },
        passed: passed.map(|one| one.service.clone()),
        passed_after: limits.chart.first_signal(&scores).map(count),
        false_pass: limits.false_pass,
        power: limits.power,
        shortest: limits.chart.shortest_run(BEST),
        values,
    }
}

fn charts(state: &TrialState) -> impl Iterator<Item = &TrialChart> {
    [Some(&state.quality), state.score.as_ref()].into_iter().flatten()
}

/// Returns the service with which the last of the charts passed; `None` while one has not.
fn pass_of(state: &TrialState) -> Option<&ServiceId> {
    let passed = charts(state).map(|chart| chart.passed_after.zip(chart.passed.as_ref()));
    let passed: Option<Vec<(u32, &ServiceId)>> = passed.collect();
    passed?.into_iter().max_by_key(|(after, _)| *after).map(|(_, id)| id)
}

fn verdict(state: &TrialState, found: &Found, closed: bool) -> TrialVerdict {
    let Some(passed) = pass_of(state) else {
        let reachable = charts(state).all(|chart| chart.needed.is_some_and(|needed| needed <= state.left));
        return if reachable && !closed { TrialVerdict::Open } else { TrialVerdict::NotDemonstrated };
    };
    match (state.safety.clean >= state.safety.needed, found.was_clean_from(passed), found.seen_again) {
        (true, ..) | (_, true, true) => TrialVerdict::Demonstrated,
        (false, true, false) => TrialVerdict::Suspended,
        (false, false, _) => TrialVerdict::SafetyOpen,
    }
}

fn watch(figures: &TrialRules, marked: &[&TrialService], passed: &ServiceId) -> Option<Watch> {
    let chart = MonitoringCusum::quiet_for(figures.acceptable, figures.unacceptable, QUIET_FOR).ok()?;
    let place = marked.iter().position(|one| one.service == *passed)?;
    let since = marked.get(place + 1..).unwrap_or_default();
    let failures: Vec<bool> = since.iter().map(|one| one.acceptable == Some(false)).collect();
    Some(Watch {
        values: chart.path(&failures),
        limit: chart.limit,
        signalled: chart.first_signal(&failures).and_then(|at| since.get(at - 1)).map(|one| one.service.clone()),
        quiet_for: chart.services_to_signal(figures.acceptable).ok()?,
        found_after: chart.services_to_signal(figures.unacceptable).ok()?,
    })
}

fn sentence(state: &TrialState, tested: &[&TrialService]) -> String {
    let good = tested.iter().filter(|one| one.acceptable == Some(true)).count();
    let plan = state.terms.plan.word();
    let so_far = format!("{good} of {} marked services at {plan} acceptable", tested.len());
    let day = pass_of(state).and_then(|id| tested.iter().find(|one| one.service == *id)).map(|one| one.day);
    let when = day.map(|day| format!(" on {}", day.format("%-d %B %Y"))).unwrap_or_default();
    let mut sentence = match state.verdict {
        TrialVerdict::Open => format!("Not demonstrated yet: {so_far}, {} left in this trial.", state.left),
        TrialVerdict::SafetyOpen => format!(
            "Quality demonstrated{when}, safety not yet: {} of {} services in a row without a safety breach.",
            state.safety.clean, state.safety.needed
        ),
        TrialVerdict::Demonstrated => format!("Demonstrated{when}: {so_far}."),
        TrialVerdict::Suspended => {
            format!("Demonstrated{when}, and suspended after a safety breach until a service is observed again.")
        }
        TrialVerdict::NotDemonstrated => format!(
            "Not demonstrated in this trial: {so_far}. That is all it says; practice goes on, and a new trial may be opened."
        ),
    };
    if state.bound_withdrawn {
        sentence.push_str(&format!(
            " {} of its {} services are not marked, too many for the chance of a wrong pass to be known.",
            state.unassessed,
            count(tested.len()) + state.unassessed
        ));
    }
    sentence
}

fn settles(state: &TrialState) -> String {
    match state.verdict {
        TrialVerdict::Open => {
            let acceptable = state.quality.needed.unwrap_or_default();
            let mut parts = Vec::new();
            if acceptable > 0 {
                parts.push(format!("{acceptable} more acceptable in a row"));
            }
            match state.score.as_ref().and_then(|score| score.needed) {
                Some(needed) if needed > 0 => parts.push(format!("at least {needed} more with the best marks")),
                _ => {}
            }
            format!("The shortest way from here: {}.", parts.join(", and "))
        }
        TrialVerdict::SafetyOpen => {
            format!("{} more services without a safety breach.", state.safety.needed.saturating_sub(state.safety.clean))
        }
        TrialVerdict::Suspended => "An acceptable service observed from end to end.".to_owned(),
        TrialVerdict::Demonstrated | TrialVerdict::NotDemonstrated => String::new(),
    }
}

fn workings(state: &TrialState, limits: &Decided, scores: Option<&CalibratedScores>) -> Vec<String> {
    let terms = &state.terms.figures();
    let (bad, good) = (percent(limits.rates.unacceptable()), percent(limits.rates.acceptable()));
    let chances = format!(
        "within {} services, at a failure rate of {bad} throughout, the chance of a pass is exactly {:.1} % (the course \
         book allows {}); at {good} it is {:.1} %. Shortest run that passes: {}.",
        terms.horizon,
        state.quality.false_pass * 100.0,
        percent(terms.alpha),
        state.quality.power * 100.0,
        limits.shortest,
    );
    let mut lines = vec![match &limits.rule {
        Rule::Learning(chart) => format!(
            "Learning CUSUM on acceptable or not: an acceptable service adds {:.3}, another takes {:.3}, never below 0; \
             it passes at {:.3}, for good. The limit is the smallest that keeps the chance of a false pass: {chances} \
             Method: Biau and others 2008, Biau and Porcher 2010; limit and chances by exact recursion.",
            chart.pass_score(),
            -chart.fail_score(),
            state.quality.limit,
        ),
        Rule::Sequential(test) => format!(
            "Sequential test on acceptable or not: an acceptable service adds {:.3}, another takes {:.3}; it passes at \
             {:.3} and ends without a pass at {:.3}: {chances} Method: Wald 1947, cut off; chances by exact recursion.",
            -test.pass_score(),
            test.fail_score(),
            state.quality.limit,
            -test.reject_bound(),
        ),
        rule => format!(
            "The rule of the course book it was opened under: {}. The chart counts what the rule counts: {chances} \
             Method: all runs of services followed, exact.",
            words_of(rule)
        ),
    }];
    if let (Some(scores), Some(chart), Some(score)) = (scores, state.score.as_ref(), terms.score) {
        lines.push(format!(
            "The same on the mean mark: {:.2} is too low, {:.2} good enough, spread {:.2} (the course book's); it passes at \
             {:.3}. Chance of a false pass {:.1} %, of a pass {:.1} %, for marks spread like a bell curve. Both charts must \
             pass, which keeps the chance for a trainee who falls short in either (Berger 1982).",
            score.unacceptable,
            score.acceptable,
            score.spread,
            chart.limit,
            scores.false_pass * 100.0,
            scores.power * 100.0,
        ));
    }
    let errors = terms.assessors;
    if errors.false_accept == 0.0 && errors.false_reject == 0.0 {
        lines.push(
            "If assessors err so often: the academy assumes that they mark without error (not measured); if they do err, \
             the chances above are not kept."
                .to_owned(),
        );
    } else {
        lines.push(format!(
            "If assessors mark {} of what is not acceptable as acceptable, and {} the other way round (assumed by the \
             academy, not measured), failure rates of {} and {} are seen as {:.1} % and {:.1} %; the limit allows for it.",
            percent(errors.false_accept),
            percent(errors.false_reject),
            percent(terms.unacceptable),
            percent(terms.acceptable),
            limits.rates.unacceptable() * 100.0,
            limits.rates.acceptable() * 100.0,
        ));
    }
    let safety = &state.safety;
    if let Some(limit) = safety.upper_limit {
        let broke = safety.breaches.len();
        lines.push(format!(
            "Safety apart: {broke} breach{} since the trial was opened, {} services at its plan looked at; the rate may be \
             up to {:.0} % (exact upper 95 % limit, Clopper and Pearson 1934). Safety is no rate to be accepted: {} in a row \
             without a breach are asked for.",
            if broke == 1 { "" } else { "es" },
            safety.services,
            limit * 100.0,
            safety.needed,
        ));
    }
    if let Some(watch) = &state.watch {
        lines.push(format!(
            "After the pass a second chart watches for skill that goes: a false alarm every {:.0} services on average, and a \
             return to the unacceptable rate found after {:.0} (Reynolds and Stoumbos 1999).",
            watch.quiet_for, watch.found_after
        ));
    }
    lines
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
