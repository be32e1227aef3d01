//! A group of trainees at a glance: one row each, on one scale, and what the whole group is weak in.
//!
//! Nobody is ranked: rows are in the order of names or of what is due, never of speed. What compares people is
//! not said for fewer than the course book asks for ([`GroupRules::compare_from`]).

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use crate::course_book::{CourseBook, GroupRules, Mark};
use crate::evidence::{self, Books, TrialInput, TrialState, TrialVerdict, trial_states};
use crate::ids::{CriterionId, FaultId, PersonId, ServiceId};
use crate::moment::{Day, Moment, Seconds};
use crate::order::InOrder;
use crate::outcome::Outcome;
use crate::person::Person;
use crate::section::Plan;
use crate::service::Service;
use crate::standing::{Advice, Due, PlanDecision, Standing, StandingInput, quality_met_since, standing};
use crate::trial::Trial;

/// Services and outcomes sorted out by trainee in one pass, so that each trainee's row looks at their own only.
#[derive(Debug, Clone, Default)]
pub struct ByTrainee<'a> {
    services: BTreeMap<&'a PersonId, Vec<&'a Service>>,
    outcomes: BTreeMap<&'a PersonId, Vec<&'a Outcome>>,
}

impl<'a> ByTrainee<'a> {
    /// Sorts services and drills, and the outcomes of these. Each list keeps its order.
    pub fn of(services: &[&'a Service], outcomes: &[&'a Outcome]) -> Self {
        let mut sorted = Self::default();
        let mut whose: BTreeMap<&ServiceId, &PersonId> = BTreeMap::new();
        for service in services {
            whose.insert(&service.id, &service.trainee);
            sorted.services.entry(&service.trainee).or_default().push(service);
        }
        for outcome in outcomes {
            if let Some(trainee) = whose.get(&outcome.service) {
                sorted.outcomes.entry(trainee).or_default().push(outcome);
            }
        }
        sorted
    }

    /// Returns a trainee's services and drills.
    pub fn services(&self, trainee: &PersonId) -> &[&'a Service] {
        self.services.get(trainee).map_or(&[], Vec::as_slice)
    }

    /// Returns the outcomes of a trainee's services and drills.
    pub fn outcomes(&self, trainee: &PersonId) -> &[&'a Outcome] {
        self.outcomes.get(trainee).map_or(&[], Vec::as_slice)
    }
}

/// Everything that a row is worked out from.
#[derive(Debug, Clone, Copy)]
pub struct RowInput<'a> {
    /// Whose.
    pub trainee: &'a Person,
    /// Now.
    pub now: &'a Moment,
    /// Course books.
    pub books: Books<'a>,
    /// The trainee's services and drills in force.
    pub services: &'a [&'a Service],
    /// The outcomes of these.
    pub outcomes: &'a [&'a Outcome],
    /// Plan decisions, of anybody.
    pub decisions: &'a [&'a PlanDecision],
    /// Trials, of anybody.
    pub trials: &'a [&'a Trial],
}

/// A service in a small chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// Number of the live service, from 1.
    pub number: u32,
    /// Its section plan.
    pub plan: Option<Plan>,
    /// Hands-on time of both eyes together, where a clock took it.
    pub hands_on: Option<Seconds>,
    /// Acceptable or not, by an assessor's marks that count; `None` where there are none.
    pub acceptable: Option<bool>,
    /// With a safety breach.
    pub breach: bool,
}

/// Somebody is not getting on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stall {
    /// Since when.
    pub since: Day,
    /// How that shows, in words.
    pub words: String,
}

/// Something that somebody ought to do about a trainee. The order is that of what comes first.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum ToDo {
    /// Going back to a narrower plan is to be decided.
    Narrow,
    /// To be observed again, or sign-offs have lapsed.
    Observe,
    /// A fault that touches safety is to be talked about.
    SafetyFault(FaultId),
    /// The trial has passed: the competency can be looked at.
    TrialPassed,
    /// Widening is to be decided.
    Widen,
    /// A refresher is due.
    Refresher,
    /// A fault repeats itself.
    Fault(FaultId),
    /// Services wait for an assessor.
    Unassessed(usize),
}

impl ToDo {
    /// Says it in a few words.
    pub fn say(&self, book: &CourseBook) -> String {
        let fault = |id: &FaultId| book.fault(id).map_or_else(|| id.to_string(), |fault| fault.label.clone());
        match self {
            ToDo::Narrow => "going back to a narrower plan: decide".to_owned(),
            ToDo::Observe => "to be observed again from end to end".to_owned(),
            ToDo::SafetyFault(id) => format!("touches safety: {}", fault(id)),
            ToDo::TrialPassed => "the trial has passed: look at the competency".to_owned(),
            ToDo::Widen => "ready for the next plan: decide".to_owned(),
            ToDo::Refresher => "a refresher is due".to_owned(),
            ToDo::Fault(id) => format!("repeats itself: {}", fault(id)),
            ToDo::Unassessed(1) => "1 service to assess".to_owned(),
            ToDo::Unassessed(count) => format!("{count} services to assess"),
        }
    }
}

/// How often a trainee's latest marks on a criterion were below Meets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BelowMeets {
    /// The criterion.
    pub criterion: CriterionId,
    /// Marks below Meets.
    pub below: u32,
    /// Marks in all.
    pub marks: u32,
}

/// One trainee at a glance.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Whose.
    pub trainee: Person,
    /// Present plan.
    pub plan: Plan,
    /// What the rules advise, in a few words.
    pub advice: String,
    /// What the next plan still needs, in sentences.
    pub missing: Vec<String>,
    /// What the trial says, or whether quality is met at the present plan.
    pub quality: String,
    /// Day of the last live service.
    pub last: Option<Day>,
    /// Who does not get on, and since when.
    pub stall: Option<Stall>,
    /// What is to be done, the first first.
    pub to_do: Vec<ToDo>,
    /// Live services in the order begun.
    pub points: Vec<Point>,
    /// Latest marks by criterion.
    pub below: Vec<BelowMeets>,
}

/// Works out a trainee's row.
pub fn row(input: &RowInput) -> Row {
    let RowInput { trainee, now, books, services, outcomes, decisions, trials } = *input;
    let standing = standing(&StandingInput { trainee, now, books, services, outcomes, decisions });
    let live: Vec<&Service> =
        evidence::records_of(&trainee.id, services).into_iter().filter(|service| service.is_service()).collect();
    let assessed = evidence::assessed(&live, outcomes, &books);
    let breaches = evidence::breaches(&live, &assessed, &books);
    let point = |(number, service): (u32, &&Service)| {
        let marked = assessed.iter().find(|one| one.service.id == service.id);
        Point {
            number,
            plan: service.plan(),
            hands_on: evidence::curve_time(service, &books, None).ok(),
            acceptable: marked.filter(|one| one.counts()).map(|one| one.acceptable()),
            breach: breaches.iter().any(|breach| breach.service.id == service.id),
        }
    };
    let points: Vec<Point> = (1..).zip(live.iter()).map(point).collect();
    let trial = trial_states(&TrialInput { trainee: &trainee.id, books, services, outcomes, trials });
    let trial = trial.ok().and_then(|mut states| states.pop());
    let unassessed = live.iter().filter(|service| !assessed.iter().any(|one| one.service.id == service.id)).count();
    let passed = trial.as_ref().is_some_and(|trial| trial.verdict == TrialVerdict::Demonstrated);
    let quality = quality_sentence(trial.as_ref(), &standing);
    let last_marks = usize::try_from(books.present.rules.widen_last.max(1)).unwrap_or(usize::MAX);
    let counting: Vec<_> = assessed.iter().filter(|one| one.counts()).collect();
    let latest = counting.get(counting.len().saturating_sub(last_marks)..).unwrap_or_default();
    let below = books.present.criteria.iter().filter_map(|criterion| {
        let marks: Vec<Mark> = latest.iter().filter_map(|one| one.mark(&criterion.id)).collect();
        let below = marks.iter().filter(|mark| **mark < Mark::Meets).count();
        let (criterion, marks, below) = (criterion.id.clone(), as_u32(marks.len()), as_u32(below));
        (marks > 0).then_some(BelowMeets { criterion, below, marks })
    });
    Row {
        plan: standing.plan,
        advice: standing.advice.say(),
        missing: standing.missing.iter().map(|needed| needed.words.clone()).collect(),
        quality,
        last: standing.gap.last.as_ref().map(|(_, day)| *day),
        stall: stall(&standing, &counting_at_plan(&standing, &live), books.present.rules.group, now.date_naive()),
        to_do: to_do(&standing, passed, unassessed),
        points,
        below: below.collect(),
        trainee: trainee.clone(),
    }
}

/// Says in a sentence what the statistics say of a trainee's quality: the last trial's verdict, or without a trial
/// whether quality is met at the present plan.
pub fn quality_sentence(trial: Option<&TrialState>, standing: &Standing) -> String {
    if let Some(trial) = trial {
        return format!("Trial {}: {}", trial.number, trial.sentence);
    }
    let plan = standing.plan.word();
    match quality_met_since(standing, standing.plan) {
        Some(day) => format!("Quality met at {plan} since {day}."),
        None => format!("Quality not met at {plan} yet."),
    }
}

/// Returns the days of the services at the present plan whose marks count, since the decision for it.
fn counting_at_plan(standing: &Standing, live: &[&Service]) -> Vec<Day> {
    let since = standing.decision.as_ref().map(|decision| decision.at);
    let here = standing.counts.iter().find(|count| count.plan == Some(standing.plan));
    let counted = |service: &&&Service| {
        here.is_some_and(|here| here.assessed.contains(&service.id)) && since.is_none_or(|since| service.began > since)
    };
    live.iter().filter(counted).map(|service| service.day()).collect()
}

/// Says whether somebody does not get on: as many marked services at one plan as the course book says without being
/// ready for the next, or as many days without a live service.
fn stall(standing: &Standing, at_plan: &[Day], rules: Option<GroupRules>, today: Day) -> Option<Stall> {
    let rules = rules?;
    let many = usize::try_from(rules.stall_services.max(1)).unwrap_or(usize::MAX);
    if let Some((_, last)) = &standing.gap.last
        && (today - *last).num_days() > i64::from(rules.stall_days)
    {
        let words = format!("no live service since {last}, {} days", (today - *last).num_days());
        return Some(Stall { since: *last, words });
    }
    let ready = matches!(standing.advice, Advice::Widen(_) | Advice::Timed);
    match at_plan {
        [first, ..] if at_plan.len() >= many && !ready => {
            let words = format!(
                "{} marked services at {} and not ready for the next plan",
                at_plan.len(),
                standing.plan.word()
            );
            Some(Stall { since: *first, words })
        }
        _ => None,
    }
}

fn to_do(standing: &Standing, passed: bool, unassessed: usize) -> Vec<ToDo> {
    let mut list = Vec::new();
    match standing.advice {
        Advice::Narrow(_) => list.push(ToDo::Narrow),
        Advice::Widen(_) => list.push(ToDo::Widen),
        _ => {}
    }
    match standing.gap.due {
        Due::Nothing => {}
        Due::Refresher | Due::SupervisedRefresher => list.push(ToDo::Refresher),
        Due::Reobserve | Due::Lapsed => list.push(ToDo::Observe),
    }
    for line in &standing.coaching {
        list.push(match line.safety {
            true => ToDo::SafetyFault(line.fault.clone()),
            false => ToDo::Fault(line.fault.clone()),
        });
    }
    if passed {
        list.push(ToDo::TrialPassed);
    }
    if unassessed > 0 {
        list.push(ToDo::Unassessed(unassessed));
    }
    list.order_by(|a, b| a.cmp(b));
    list
}

/// How rows are ordered. There is no order by speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// By name.
    Name,
    /// By what is due first; those with nothing due by name at the end.
    Due,
}

/// Puts rows in order.
pub fn in_order(rows: &mut Vec<Row>, order: Order) {
    rows.order_by(|a, b| {
        let name = |row: &Row| (row.trainee.name.to_lowercase(), row.trainee.id.clone());
        let due = |row: &Row| (row.to_do.is_empty() && row.stall.is_none(), row.to_do.first().cloned());
        match order {
            Order::Name => name(a).cmp(&name(b)),
            Order::Due => first_due(due(a), due(b)).then_with(|| name(a).cmp(&name(b))),
        }
    });
}

fn first_due(a: (bool, Option<ToDo>), b: (bool, Option<ToDo>)) -> std::cmp::Ordering {
    a.0.cmp(&b.0).then_with(|| match (&a.1, &b.1) {
        (Some(a), Some(b)) => a.cmp(b),
        (Some(_), None) => std::cmp::Ordering::Less,
        (None, Some(_)) => std::cmp::Ordering::Greater,
        (None, None) => std::cmp::Ordering::Equal,
    })
}

/// A criterion that the group is weak in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weak {
    /// The criterion.
    pub criterion: CriterionId,
    /// Marks below Meets among the latest of everybody.
    pub below: u32,
    /// Marks in all.
    pub marks: u32,
    /// Trainees with at least one mark below Meets, of those with marks.
    pub trainees: (u32, u32),
}

/// What can be said of a group as a whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whole {
    /// The course book sets no figures for it.
    NotAsked,
    /// Too few people: nothing that compares them is said.
    TooFew {
        /// With marks.
        have: u32,
        /// Needed.
        need: u32,
    },
    /// The criteria that the group is weak in, the weakest first; none where it is weak in none.
    WeakIn(Vec<Weak>),
}

/// Works out what a group is weak in: criteria in which at least the course book's share of everybody's latest marks
/// is below Meets. Each trainee's latest marks at most as many services as the rule for widening looks at.
pub fn whole(rows: &[Row], rules: Option<GroupRules>) -> Whole {
    let Some(rules) = rules else { return Whole::NotAsked };
    let have = as_u32(rows.iter().filter(|row| !row.below.is_empty()).count());
    if have < rules.compare_from {
        return Whole::TooFew { have, need: rules.compare_from };
    }
    let mut all: BTreeMap<&CriterionId, Weak> = BTreeMap::new();
    for line in rows.iter().flat_map(|row| &row.below) {
        let weak = all.entry(&line.criterion).or_insert_with(|| Weak {
            criterion: line.criterion.clone(),
            below: 0,
            marks: 0,
            trainees: (0, 0),
        });
        weak.below += line.below;
        weak.marks += line.marks;
        weak.trainees.0 += u32::from(line.below > 0);
        weak.trainees.1 += 1;
    }
    let share = |weak: &Weak| f64::from(weak.below) / f64::from(weak.marks.max(1));
    let mut found: Vec<Weak> = all.into_values().filter(|weak| share(weak) >= rules.weak_share).collect();
    found.order_by(|a, b| share(b).total_cmp(&share(a)).then_with(|| a.criterion.cmp(&b.criterion)));
    Whole::WeakIn(found)
}

fn as_u32(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
