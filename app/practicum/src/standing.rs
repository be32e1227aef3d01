//! Where a trainee is now: present plan, advice with its reasons, what is missing, what is due.
//!
//! Derived from the log whenever it is asked for, never stored. Advice is reversible; the instructor
//! decides, and the decision is recorded as a [`PlanDecision`]. Every number names its services.

mod advice;
mod coaching;
pub(crate) mod gap;

#[cfg(test)]
mod tests;

pub use coaching::Coaching;
pub use gap::{Due, Gap};

use crate::evidence::{self, Assessed, Books, Breach, LeftOut};
use crate::ids::{EntryId, PersonId, ServiceId};
use crate::moment::{Day, Moment};
use crate::order::InOrder;
use crate::outcome::Outcome;
use crate::person::Person;
use crate::section::Plan;
use crate::service::{Origin, Service};

/// An instructor's decision about a trainee's section plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanDecision {
    /// The entry that records it.
    pub id: EntryId,
    /// About whom.
    pub trainee: PersonId,
    /// The plan from now on; the present one when the decision is to stay.
    pub plan: Plan,
    /// When.
    pub at: Moment,
    /// By whom; a trainee's own is never counted.
    pub by: PersonId,
    /// Why.
    pub why: String,
}

/// Everything that a standing is worked out from. The order of the lists does not matter.
#[derive(Debug, Clone, Copy)]
pub struct StandingInput<'a> {
    /// About whom.
    pub trainee: &'a Person,
    /// Now.
    pub now: &'a Moment,
    /// Course books.
    pub books: Books<'a>,
    /// Services and drills in force, of anybody.
    pub services: &'a [&'a Service],
    /// Outcomes in force, of anybody.
    pub outcomes: &'a [&'a Outcome],
    /// Plan decisions in force, of anybody.
    pub decisions: &'a [&'a PlanDecision],
}

/// What the rules advise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Advice {
    /// No live service that counts is marked by an assessor.
    NotAssessed,
    /// Stay at the present plan.
    Stay,
    /// Widen to this plan.
    Widen(Plan),
    /// The widest plan is mastered: go on with targets on.
    Timed,
    /// Go back to this narrower plan.
    Narrow(Plan),
    /// After a long gap: be observed again before anything else.
    ObserveAgain,
}

impl Advice {
    /// Returns the advice in a few words.
    pub fn say(self) -> String {
        match self {
            Advice::NotAssessed => "Not assessed".into(),
            Advice::Stay => "Stay at this plan".into(),
            Advice::Widen(plan) => format!("Widen to {}", plan.word()),
            Advice::Timed => "Go on with targets on".into(),
            Advice::Narrow(plan) => format!("Go back to {} for now", plan.word()),
            Advice::ObserveAgain => "Be observed again first".into(),
        }
    }
}

/// A sentence with the services it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reasoned {
    /// The sentence.
    pub words: String,
    /// The services behind it, in the order begun.
    pub services: Vec<ServiceId>,
}

impl Reasoned {
    fn new<'a>(words: impl Into<String>, services: impl IntoIterator<Item = &'a Service>) -> Self {
        Self { words: words.into(), services: services.into_iter().map(|service| service.id.clone()).collect() }
    }
}

/// One thing that the next plan needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Need {
    /// What is needed, and how far it is.
    pub says: Reasoned,
    /// It is there.
    pub met: bool,
}

/// Live services at one plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanCount {
    /// The plan; `None` where nobody recorded the sections.
    pub plan: Option<Plan>,
    /// Services logged live or late, in the order begun, unassessed ones included.
    pub services: Vec<ServiceId>,
    /// Of these, the ones whose marks count.
    pub assessed: Vec<ServiceId>,
    /// Of these, the acceptable ones.
    pub acceptable: Vec<ServiceId>,
    /// Imported ones: shown, never counted as evidence.
    pub imported: Vec<ServiceId>,
    /// Day since which quality has been met here; `None` while it is not.
    pub quality_met: Option<Day>,
}

/// Where a trainee is now.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Present plan: the last decision's, or the beginner's.
    pub plan: Plan,
    /// The decision it rests on, if any.
    pub decision: Option<PlanDecision>,
    /// Plans that may come next, the advised one first; empty at the widest.
    pub next: Vec<Plan>,
    /// Counts by plan in the order of the course book, then services without a plan if any.
    pub counts: Vec<PlanCount>,
    /// What the rules advise.
    pub advice: Advice,
    /// Why.
    pub reasons: Vec<Reasoned>,
    /// What the next plan needs, met or not.
    pub needs: Vec<Need>,
    /// What is missing for it.
    pub missing: Vec<Reasoned>,
    /// Safety breaches in live services, apart from everything else.
    pub safety: Reasoned,
    /// What was left out of the count, and why; then how often breaches may come.
    pub notes: Vec<Reasoned>,
    /// The gap since the last service and what is due after it.
    pub gap: Gap,
    /// Faults worth a word of coaching, safety first.
    pub coaching: Vec<Coaching>,
    /// An instructor chose to show targets before quality is met.
    pub shown_early: bool,
}

/// A trainee's records, sorted out once for all questions.
struct Sorted<'a> {
    books: Books<'a>,
    live: Vec<&'a Service>,
    assessed: Vec<Assessed<'a>>,
    breaches: Vec<Breach<'a>>,
    decisions: Vec<&'a PlanDecision>,
}

impl<'a> Sorted<'a> {
    fn new(input: &StandingInput<'a>) -> Self {
        let live: Vec<&Service> = evidence::records_of(&input.trainee.id, input.services)
            .into_iter()
            .filter(|service| service.is_service())
            .collect();
        let assessed = evidence::assessed(&live, input.outcomes, &input.books);
        let breaches = evidence::breaches(&live, &assessed, &input.books);
        let about = |decision: &&&PlanDecision| decision.trainee == input.trainee.id && decision.by != input.trainee.id;
        let mut decisions: Vec<&PlanDecision> = input.decisions.iter().filter(about).copied().collect();
        decisions.order_by(|a, b| (a.at, &a.id).cmp(&(b.at, &b.id)));
        Self { books: input.books, live, assessed, breaches, decisions }
    }

    fn counting(&self) -> impl DoubleEndedIterator<Item = &Assessed<'a>> {
        self.assessed.iter().filter(|one| one.counts())
    }

    fn beginner(&self) -> Plan {
        self.books.present.plans.first().map_or(Plan::Quarters, |plan| plan.plan)
    }

    fn plan(&self) -> Plan {
        self.decisions.last().map_or(self.beginner(), |decision| decision.plan)
    }
}

/// Works out where a trainee is now.
pub fn standing(input: &StandingInput) -> Standing {
    let sorted = Sorted::new(input);
    let plan = sorted.plan();
    let gap = gap::gap(&sorted, input.now);
    let advised = advice::advise(&sorted, &gap);
    let missing = advised.needs.iter().filter(|need| !need.met).map(|need| need.says.clone()).collect();
    Standing {
        plan,
        decision: sorted.decisions.last().map(|decision| (*decision).clone()),
        next: advice::next_plans(&sorted.books.present.plans, plan),
        counts: counts(&sorted, input),
        advice: advised.advice,
        reasons: advised.reasons,
        needs: advised.needs,
        missing,
        safety: safety(&sorted),
        notes: notes(&sorted),
        gap,
        coaching: coaching::coaching(&sorted),
        shown_early: input.trainee.show_times_early,
    }
}

/// Whether own times may be shown against targets at a plan: quality is met there, or an instructor chose
/// to show them.
pub fn may_show_targets(standing: &Standing, plan: Plan) -> bool {
    standing.shown_early || quality_met_since(standing, plan).is_some()
}

/// Returns the day since which quality has been met at a plan; `None` while it is not.
pub fn quality_met_since(standing: &Standing, plan: Plan) -> Option<Day> {
    standing.counts.iter().find(|count| count.plan == Some(plan))?.quality_met
}

fn counts(sorted: &Sorted, input: &StandingInput) -> Vec<PlanCount> {
    let imported_of = |service: &&&Service| {
        service.trainee == input.trainee.id && service.is_service() && matches!(service.origin, Origin::Imported { .. })
    };
    let mut imported: Vec<&Service> = input.services.iter().filter(imported_of).copied().collect();
    imported.order_by(|a, b| (a.began, &a.id).cmp(&(b.began, &b.id)));
    let count = |plan: Option<Plan>| {
        let here = |service: &Service| service.plan() == plan;
        let marked = |acceptable: bool| {
            let kept = sorted.counting().filter(|one| here(one.service) && (one.acceptable() || !acceptable));
            kept.map(|one| one.service.id.clone()).collect()
        };
        let ids = |services: &[&Service]| services.iter().filter(|s| here(s)).map(|s| s.id.clone()).collect();
        PlanCount {
            plan,
            services: ids(&sorted.live),
            assessed: marked(false),
            acceptable: marked(true),
            imported: ids(&imported),
            quality_met: plan.and_then(|plan| {
                let last = sorted.books.present.rules.quality_last;
                evidence::quality_met(&sorted.assessed, &sorted.breaches, plan, last)
            }),
        }
    };
    let in_book = |plan: &Plan| sorted.books.present.plan(*plan).is_some();
    let outside = Plan::ALL.into_iter().filter(|plan| !in_book(plan)).map(Some).chain([None]);
    let mut counts: Vec<PlanCount> = sorted.books.present.plans.iter().map(|plan| count(Some(plan.plan))).collect();
    counts.extend(outside.map(count).filter(|count| !count.services.is_empty() || !count.imported.is_empty()));
    counts
}

/// Returns how many live services were looked at for safety: marked, or with a breach that a clock recorded.
fn looked_at(sorted: &Sorted) -> usize {
    let marked = |id: &ServiceId| sorted.counting().any(|one| one.service.id == *id);
    sorted.counting().count() + sorted.breaches.iter().filter(|breach| !marked(&breach.service.id)).count()
}

/// Says in how many live services safety was breached.
fn safety(sorted: &Sorted) -> Reasoned {
    let looked = counted(looked_at(sorted), "live service");
    let words = match sorted.breaches.len() {
        0 => format!("No safety breach in {looked} looked at."),
        breaches => format!("Safety breached in {breaches} of {looked} looked at:"),
    };
    Reasoned::new(words, sorted.breaches.iter().map(|breach| breach.service))
}

/// Says what was left out of the counts and of the time standard, and how often breaches may come.
fn notes(sorted: &Sorted) -> Vec<Reasoned> {
    let mut notes = Vec::new();
    let mut note = |words: &str, services: Vec<&Service>| {
        if !services.is_empty() {
            notes.push(Reasoned::new(format!("{}: {words}", counted(services.len(), "service")), services));
        }
    };
    let marked = |service: &Service| sorted.assessed.iter().find(|one| one.service.id == service.id);
    let keep = |test: &dyn Fn(&Service) -> bool| sorted.live.iter().copied().filter(|s| test(s)).collect::<Vec<_>>();
    note("not marked by an assessor, so not counted.", keep(&|service| marked(service).is_none()));
    note(
        "late entries that nobody observed, so not counted.",
        keep(&|service| marked(service).is_some_and(|one| !one.counts())),
    );
    note(
        "with an override that is claimed, not confirmed, so not counted as observed.",
        keep(&|service| service.overrides.iter().any(|made| !made.confirmed)),
    );
    for why in
        [LeftOut::Stopped, LeftOut::MixedPlan, LeftOut::Pauses, LeftOut::Doubtful, LeftOut::Edited, LeftOut::NoTime]
    {
        let left_out = |service: &Service| {
            service.is_live_entry()
                && evidence::standard_time(service, &sorted.books).is_err_and(|reasons| reasons.contains(&why))
        };
        note(&format!("{}, so left out of the time standard.", why.say()), keep(&left_out));
    }
    if let Some(limit) = evidence::breach_limit(sorted.breaches.len(), looked_at(sorted)) {
        let words = format!(
            "Safety: breaches may come in up to {limit:.0} % of services, as far as these tell (exact upper 95 % limit, \
             Clopper and Pearson 1934). It is no rate to be accepted."
        );
        notes.push(Reasoned::new(words, []));
    }
    notes
}

/// Writes a count with its noun: `1 service`, `3 services`.
fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}
