//! What each rule of decision costs and risks, for the academy's own thresholds.

#[cfg(test)]
mod tests;

use proficiency::competence::comparison::{Figures, Row, at_equal_alpha, compare, recommend};
use proficiency::competence::learning::{Calibrated, calibrate};
use proficiency::competence::rules::{Rule, Widening};
use proficiency::competence::sequential::Sequential;
use proficiency::competence::trial::AssessorErrors;
use proficiency::competence::{CompetenceError, Rates, learner, steady};

use crate::course_book::{AssessorRules, Rules, TrialRule, TrialRules};

/// A made-up learner to compare rules by: failure rate at the first service, and the services in which its
/// distance to the acceptable rate shrinks to about a third. Proposal, no source.
const FIRST_RATE: f64 = 0.6;
const PACE: f64 = 8.0;
/// Live services that a course has at most as a rule. Proposal, no source.
pub const COURSE_SERVICES: u32 = 14;
/// Chance of passing at the acceptable rate that a recommended rule should have. Proposal, no source.
const WANTED_POWER: f64 = 0.8;

/// A rule, in words and figures. Chances are 0 to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleFigures {
    /// The rule, as the course book's `rule` writes it.
    pub rule: TrialRule,
    /// The rule in words.
    pub words: String,
    /// It is the one that the course book names.
    pub in_force: bool,
    /// Fewest services with which it can pass; `None` when it cannot within the trial.
    pub at_least: Option<u32>,
    /// Chance of a pass at the unacceptable failure rate: a false pass.
    pub false_pass: f64,
    /// Chance of a pass at the acceptable failure rate.
    pub pass: f64,
    /// Mean services until it passes or ends, at the acceptable rate.
    pub services: f64,
    /// Mean services at the unacceptable rate.
    pub services_unacceptable: f64,
    /// Chance that a made-up learner passes.
    pub learner_passes: f64,
    /// Mean services of that learner.
    pub learner_services: f64,
    /// Chance that the learner passes while the failure rate is still unacceptable.
    pub learner_too_early: f64,
    /// Its chance of a false pass is within what the academy allows.
    pub keeps_alpha: bool,
    /// The one to recommend.
    pub recommended: bool,
}

/// Rules beside each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Every rule, the one in force among them; the learning chart is the first.
    pub rules: Vec<RuleFigures>,
    /// The learner that was made up, in words.
    pub learner: String,
    /// Which is recommended and why, in a sentence.
    pub advice: String,
}

/// How often the rule for widening advises, marks alone. Chances are 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WideningChances {
    /// One look at the unacceptable failure rate.
    pub unacceptable: f64,
    /// One look at the acceptable failure rate.
    pub acceptable: f64,
    /// At least once within the services of [`Self::services`], at the unacceptable rate.
    pub within_unacceptable: f64,
    /// The same at the acceptable rate.
    pub within_acceptable: f64,
    /// Services looked at, one after the other.
    pub services: u32,
}

/// Returns the failure rates as they are seen when assessors err as assumed.
pub(super) fn rates(unacceptable: f64, acceptable: f64, assessors: AssessorRules) -> Result<Rates, String> {
    let AssessorRules { false_accept, false_reject } = assessors;
    let rates = Rates::new(unacceptable, acceptable).map_err(|error| error.to_string())?;
    AssessorErrors { false_accept, false_reject }.rates(rates).map_err(|error| error.to_string())
}

/// The rule of a trial, with what it does within the trial.
pub(super) struct Decided {
    pub(super) rule: Rule,
    /// Rates as they are seen.
    pub(super) rates: Rates,
    pub(super) false_pass: f64,
    pub(super) power: f64,
    pub(super) shortest: u32,
}

/// Works out the rule that decides under a course book's thresholds.
pub(super) fn decided(rules: &TrialRules) -> Result<Decided, String> {
    let rates = rates(rules.unacceptable, rules.acceptable, rules.assessors)?;
    let words = |error: CompetenceError| error.to_string();
    if rules.rule == TrialRule::Learning {
        let found = calibrate(rates, rules.horizon, rules.alpha).map_err(words)?;
        let Calibrated { chart, false_pass, power, shortest_clean_run: shortest, .. } = found;
        return Ok(Decided { rule: Rule::Learning(chart), rates, false_pass, power, shortest });
    }
    let rule = exact(rules.rule, rates, rules)?;
    let shortest = rule.shortest_clean_run().filter(|run| *run <= rules.horizon);
    let shortest = shortest.ok_or_else(|| format!("“{}” cannot pass within {} services", rules.rule, rules.horizon))?;
    let passes = |rate: f64| Ok(rule.course(&steady(rate, rules.horizon)?)?.passes());
    let false_pass = passes(rates.unacceptable()).map_err(words)?;
    let power = passes(rates.acceptable()).map_err(words)?;
    Ok(Decided { rule, rates, false_pass, power, shortest })
}

/// Returns a rule with the limits that follow from a course book's thresholds.
fn exact(rule: TrialRule, rates: Rates, rules: &TrialRules) -> Result<Rule, String> {
    let words = |error: CompetenceError| error.to_string();
    Ok(match rule {
        TrialRule::Learning => Rule::Learning(calibrate(rates, rules.horizon, rules.alpha).map_err(words)?.chart),
        TrialRule::Sequential => {
            Rule::Sequential(Sequential::calibrated(rates, rules.horizon, rules.alpha, rules.alpha).map_err(words)?)
        }
        TrialRule::Fixed { services, failures } => Rule::Fixed { services, failures },
        TrialRule::Curtailed { services, failures } => Rule::Curtailed { services, failures },
        TrialRule::InAll { passes } => Rule::InAll { passes },
        TrialRule::InARow { passes } => Rule::InARow { passes },
        TrialRule::OfLast { window, failures } => Rule::OfLast { window, failures },
    })
}

/// Returns how a course book writes a rule.
fn written(rule: &Rule) -> TrialRule {
    match *rule {
        Rule::Learning(_) => TrialRule::Learning,
        Rule::Sequential(_) => TrialRule::Sequential,
        Rule::Fixed { services, failures } => TrialRule::Fixed { services, failures },
        Rule::Curtailed { services, failures } => TrialRule::Curtailed { services, failures },
        Rule::InAll { passes } => TrialRule::InAll { passes },
        Rule::InARow { passes } => TrialRule::InARow { passes },
        Rule::OfLast { window, failures } => TrialRule::OfLast { window, failures },
    }
}

/// Works out how many acceptable services in a row, from the first, pass a trial under these rules.
///
/// # Errors
/// Returns why no trial can be decided by these figures.
pub fn shortest_run(rules: &TrialRules) -> Result<u32, String> {
    decided(rules).map(|found| found.shortest)
}

/// Works out the exact chance, 0 to 1, that the rule of these thresholds passes a trainee whose failure rate is
/// the unacceptable one throughout, marks on acceptable or not alone.
///
/// # Errors
/// Returns why no trial can be decided by these figures.
pub fn false_pass(rules: &TrialRules) -> Result<f64, String> {
    decided(rules).map(|found| found.false_pass)
}

/// Works out what each rule costs and risks at the thresholds of a course book: exact but for rounding.
///
/// Compared are one rule of each kind at the academy's chance of a false pass, and what an awarding body's
/// "three observed" amounts to.
///
/// # Errors
/// Returns why nothing can be compared.
pub fn choose(rules: &TrialRules) -> Result<Choice, String> {
    let seen = rates(rules.unacceptable, rules.acceptable, rules.assessors)?;
    let words = |error: CompetenceError| error.to_string();
    let first = FIRST_RATE.max(seen.unacceptable());
    let run = learner(first, seen.acceptable(), PACE, rules.horizon).map_err(words)?;
    let mut compared = at_equal_alpha(seen, rules.horizon, rules.alpha).map_err(words)?;
    compared.extend([Rule::InAll { passes: 3 }, Rule::InARow { passes: 3 }]);
    if !compared.iter().any(|rule| written(rule) == rules.rule) {
        compared.push(exact(rules.rule, seen, rules)?);
    }
    let rows = compare(seen, &run, &compared).map_err(words)?;
    let recommended = recommend(&rows, rules.alpha, WANTED_POWER);
    let figures: Vec<RuleFigures> =
        rows.iter().enumerate().map(|(place, row)| figures_of(row, rules, recommended == Some(place))).collect();
    let advice = match recommended.and_then(|place| figures.get(place)) {
        Some(rule) if rule.pass >= WANTED_POWER => format!(
            "Of the rules that keep a false pass to {}, “{}” passes the learner most often, or as often with fewer services.",
            percent(rules.alpha),
            rule.words
        ),
        Some(rule) => format!(
            "No rule passes {} of those who are good enough within {} services at these figures; “{}” comes nearest with {}. \
             Allow more services, a larger chance of a false pass, or thresholds farther apart.",
            percent(WANTED_POWER),
            rules.horizon,
            rule.words,
            percent(rule.pass)
        ),
        None => "No rule keeps the chance of a false pass at these figures.".to_owned(),
    };
    let learner = format!(
        "A made-up learner who begins with {} not acceptable and comes nearer to {} by about two thirds of the way every \
         {PACE:.0} services (proposal, no source)",
        percent(first),
        percent(seen.acceptable()),
    );
    Ok(Choice { rules: figures, learner, advice })
}

fn figures_of(row: &Row, rules: &TrialRules, recommended: bool) -> RuleFigures {
    let Figures { pass: learner_passes, services: learner_services, premature, .. } = row.learner;
    let rule = written(&row.rule);
    RuleFigures {
        rule,
        words: words_of(&row.rule),
        in_force: rule == rules.rule,
        at_least: row.shortest,
        false_pass: row.unacceptable.pass,
        pass: row.acceptable.pass,
        services: row.acceptable.services,
        services_unacceptable: row.unacceptable.services,
        learner_passes,
        learner_services,
        learner_too_early: premature,
        keeps_alpha: row.unacceptable.pass <= rules.alpha,
        recommended,
    }
}

pub(super) fn words_of(rule: &Rule) -> String {
    match rule {
        Rule::Fixed { services, failures } => {
            format!("{services} services, at most {failures} of them not acceptable, decided at the end")
        }
        Rule::Curtailed { services, failures } => {
            format!("{services} services, at most {failures} of them not acceptable, decided as soon as it is certain")
        }
        Rule::InAll { passes } => format!("{passes} acceptable services in all, whatever lies between"),
        Rule::InARow { passes } => format!("{passes} acceptable services in a row"),
        Rule::OfLast { window, failures } => format!("at most {failures} not acceptable of the last {window}"),
        Rule::Learning(_) => "the learning chart: rises with each acceptable service, falls with each other".to_owned(),
        Rule::Sequential(_) => {
            "the sequential test: ends with a pass or without as soon as the marks say enough".to_owned()
        }
    }
}

/// Returns the exact chances that the rule for widening is fulfilled, marks alone, in one look and at least
/// once over the services of a trial; `None` when the course book's figures are no chances.
///
/// The failure rate is the share of services that break the rule. Asking for a steady time as well can
/// only make the advice rarer.
pub fn widening_chances(rules: &Rules) -> Option<WideningChances> {
    let rule = Widening { last: rules.widen_last, failures: 0 };
    let services = rules.trial.horizon;
    let within = |rate: f64| rule.within(&steady(rate, services).ok()?).ok();
    Some(WideningChances {
        unacceptable: rule.one_look(rules.trial.unacceptable).ok()?,
        acceptable: rule.one_look(rules.trial.acceptable).ok()?,
        within_unacceptable: within(rules.trial.unacceptable)?,
        within_acceptable: within(rules.trial.acceptable)?,
        services,
    })
}

impl WideningChances {
    /// Says in plain words how often the advice to widen is wrong, under the rules it was worked out for.
    pub fn say(&self, rules: &Rules) -> String {
        format!(
            "Of trainees with {} services not acceptable, this advice comes to {} at one look by luck alone, and to {} at \
             least once in {} services; of those with {} not acceptable, to {} and {}.",
            percent(rules.trial.unacceptable),
            percent(self.unacceptable),
            percent(self.within_unacceptable),
            self.services,
            percent(rules.trial.acceptable),
            percent(self.acceptable),
            percent(self.within_acceptable),
        )
    }
}

/// Writes a chance as `12 in 100`; never as 0 or 100 in 100 when it is neither.
pub fn percent(chance: f64) -> String {
    match chance * 100.0 {
        share if share > 0.0 && share < 0.5 => "fewer than 1 in 100".to_owned(),
        share if (99.5..100.0).contains(&share) => "more than 99 in 100".to_owned(),
        share => format!("{share:.0} in 100"),
    }
}
