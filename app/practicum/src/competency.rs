//! Competencies: their sign-offs, and the evidence that stands for them.

mod held;

#[cfg(test)]
mod tests;

pub use held::{Held, HeldSignOff, held};

use std::collections::BTreeSet;

use crate::couch::Tint;
use crate::course_book::{Competency, LashCondition, Mark, Medium};
use crate::evidence::{self, Assessed, Books, TrialInput, TrialVerdict, trial_state};
use crate::eye::Eye;
use crate::ids::{CompetencyId, CourseBookId, EntryId, PersonId, ServiceId};
use crate::moment::Moment;
use crate::outcome::{Outcome, Verdict, applicable};
use crate::service::Service;
use crate::trial::Trial;

/// What an instructor decided about a competency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Decision {
    /// Signed off.
    Signed,
    /// Looked at, and not yet.
    NotYet,
    /// An earlier sign-off is withdrawn.
    Withdrawn,
}

impl Decision {
    /// Returns the decision in a few words.
    pub fn word(self) -> &'static str {
        match self {
            Decision::Signed => "signed off",
            Decision::NotYet => "not yet",
            Decision::Withdrawn => "withdrawn",
        }
    }
}

/// An instructor's decision about one competency of one trainee.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignOff {
    /// The entry that records it.
    pub id: EntryId,
    /// Which competency.
    pub competency: CompetencyId,
    /// Whose.
    pub trainee: PersonId,
    /// By whom; a trainee's own is never counted.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// The decision.
    pub decision: Decision,
    /// Independence level given, 0 to 6.
    pub level: u8,
    /// Comment; may be empty.
    pub comment: String,
    /// Services and drills that stood as evidence.
    pub services: Vec<ServiceId>,
    /// What it stands on, as it was then; `None` where the entry did not say so yet.
    pub stands_on: Option<StandsOn>,
}

/// What a sign-off stands on, fixed when it was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandsOn {
    /// The course book in force then.
    pub course_book: CourseBookId,
    /// Hashes of the entries that stood as evidence: each service with its corrections, then its marks with
    /// theirs, in the order begun.
    pub evidence: Vec<String>,
}

/// Everything that evidence is counted from. The order of the lists does not matter.
#[derive(Debug, Clone, Copy)]
pub struct EvidenceInput<'a> {
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

/// One requirement, and how far it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EvidenceLine {
    /// What is counted.
    pub words: String,
    /// How many there are.
    pub have: u32,
    /// How many are needed.
    pub need: u32,
    /// There are enough.
    pub met: bool,
    /// What was counted, in the order begun.
    pub services: Vec<ServiceId>,
}

/// The evidence for a competency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EvidenceState {
    /// Every requirement of the course book, met or not.
    pub lines: Vec<EvidenceLine>,
    /// All lines are met and nothing is left to be worked out.
    pub met: bool,
    /// What the competency also needs and cannot be worked out, in a sentence.
    pub not_worked_out: Option<String>,
    /// Lowest independence level a sign-off may give, 0 to 6.
    pub level_at_least: u8,
}

impl EvidenceState {
    /// Checks the independence level of a sign-off.
    ///
    /// # Errors
    /// Returns a sentence when the level is above 6 or below the competency's lowest.
    pub fn check_level(&self, level: u8) -> Result<(), String> {
        if level > 6 {
            Err(format!("Independence levels go from 0 to 6, not to {level}."))
        } else if level < self.level_at_least {
            Err(format!(
                "A sign-off of this competency gives at least level {}; {level} is chosen.",
                self.level_at_least
            ))
        } else {
            Ok(())
        }
    }
}

/// Counts the evidence for a competency.
///
/// Only services and drills marked by an assessor count, and but for the first line only those that pass:
/// the competency's criteria at least Meets and no safety breach or, where it names none, acceptable.
pub fn evidence_state(competency: &Competency, input: &EvidenceInput) -> EvidenceState {
    let records = evidence::records_of(input.trainee, input.services);
    let assessed = evidence::assessed(&records, input.outcomes, &input.books);
    let live: Vec<&Assessed> = assessed.iter().filter(|one| one.counts()).collect();
    let good: Vec<&Assessed> = live.iter().copied().filter(|one| passes(competency, one, &input.books)).collect();
    let mut lines = Lines::default();
    let need = &competency.evidence;
    let words = match need.real_environment {
        true => format!("Live services marked by an assessor, in the real working environment{}", refused(input)),
        false => "Live services marked by an assessor".to_owned(),
    };
    lines.services(words, need.live, live.iter().copied());
    let passing = match need.criteria.is_empty() {
        true => "Of these, acceptable",
        false => "Of these, without a safety breach and at least Meets in what this competency looks at",
    };
    lines.services(passing, need.acceptable, good.iter().copied());
    let of = |test: &dyn Fn(&Assessed) -> bool| good.iter().copied().filter(|one| test(one)).collect::<Vec<_>>();
    for (plan, count) in &need.at_plan {
        let here = of(&|one| one.service.plan() == Some(*plan));
        lines.services(format!("Services at {}", plan.word()), *count, here);
    }
    lines.different("Different practice models", need.practice_models, &good, |one| {
        one.service.practice_model.iter().cloned().collect()
    });
    for condition in LashCondition::ALL {
        let here = of(&|one| one.service.condition() == Some(condition));
        lines.services(format!("Services on {} lashes", condition.word()), need.each_condition, here);
    }
    lines.different("Different shield sizes", need.shield_sizes, &good, |one| {
        let chosen = Eye::BOTH.into_iter().filter_map(|eye| one.service.shields.get(eye).as_ref());
        chosen.map(|shield| shield.chosen.clone()).collect()
    });
    lines.services("Services with tint", need.with_tint, of(&|one| one.service.tint != Tint::None));
    lines.services("Services without tint", need.without_tint, of(&|one| one.service.tint == Tint::None));
    lines.services("Services observed from end to end", need.observed, of(&|one| one.observed));
    let observed = of(&|one| one.observed);
    lines.different("Different days on which one was observed", need.observed_days, &observed, |one| {
        vec![one.service.day()]
    });
    lines.different("Different assessors", need.assessors, &good, |one| {
        one.assessors.iter().map(|who| (*who).clone()).collect()
    });
    let drills = [("Strip drills", Medium::Strip, need.strips), ("Practice head drills", Medium::Head, need.heads)];
    for (words, medium, count) in drills.into_iter().filter(|_| !need.real_environment) {
        let drills =
            assessed.iter().filter(|one| one.service.medium == medium && passes(competency, one, &input.books));
        lines.services(words, count, drills);
    }
    let mut not_worked_out = None;
    if competency.whole_service {
        lines.breach_free(&records, &assessed, input);
        not_worked_out = lines.trial(input).err();
    }
    let met = lines.0.iter().all(|line| line.met) && not_worked_out.is_none();
    EvidenceState { lines: lines.0, met, not_worked_out, level_at_least: need.level_at_least }
}

/// Says which of a trainee's records are refused where only the real working environment counts, and why.
fn refused(input: &EvidenceInput) -> String {
    let of = |test: fn(&Service) -> bool| {
        input.services.iter().filter(|one| one.trainee == *input.trainee && test(one)).count()
    };
    let drills = of(|one| !one.is_service() && !one.is_imported());
    let imported = of(Service::is_imported);
    let say = |count: usize, one: &str, many: &str, why: &str| match count {
        0 => None,
        1 => Some(format!("1 {one} ({why})")),
        _ => Some(format!("{count} {many} ({why})")),
    };
    let parts = [
        say(drills, "drill", "drills", "simulation"),
        say(imported, "imported row", "imported rows", "nobody here observed it"),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { String::new() } else { format!("; not counted: {}", parts.join(", ")) }
}

/// Whether a marked service or drill stands for the competency.
fn passes(competency: &Competency, one: &Assessed, books: &Books) -> bool {
    let asked = &competency.evidence.criteria;
    if asked.is_empty() {
        return one.acceptable();
    }
    let applies = applicable(books.of(one.service), one.service);
    let mut looked_at = applies.iter().filter(|criterion| asked.contains(&criterion.id)).peekable();
    !matches!(one.verdict, Verdict::SafetyBreach(_))
        && looked_at.peek().is_some()
        && looked_at.all(|criterion| one.mark(&criterion.id).is_some_and(|mark| mark >= Mark::Meets))
}

#[derive(Default)]
struct Lines(Vec<EvidenceLine>);

impl Lines {
    fn push(&mut self, words: String, have: usize, need: u32, services: Vec<ServiceId>) {
        if need > 0 {
            let have = u32::try_from(have).unwrap_or(u32::MAX);
            self.0.push(EvidenceLine { words, have, need, met: have >= need, services });
        }
    }

    fn services<'a, 'b: 'a>(
        &mut self,
        words: impl Into<String>,
        need: u32,
        counted: impl IntoIterator<Item = &'a Assessed<'b>>,
    ) {
        let services: Vec<ServiceId> = counted.into_iter().map(|one| one.service.id.clone()).collect();
        self.push(words.into(), services.len(), need, services);
    }

    /// Counts different things; the services named are the ones in which one was first seen.
    fn different<T: Ord>(
        &mut self,
        words: &str,
        need: u32,
        counted: &[&Assessed],
        things: impl Fn(&Assessed) -> Vec<T>,
    ) {
        let mut seen = BTreeSet::new();
        let mut services = Vec::new();
        for one in counted {
            let before = seen.len();
            seen.extend(things(one));
            if seen.len() > before {
                services.push(one.service.id.clone());
            }
        }
        self.push(words.to_owned(), seen.len(), need, services);
    }

    /// Says whether the latest trial demonstrates the service.
    fn trial(&mut self, input: &EvidenceInput) -> Result<(), String> {
        let EvidenceInput { trainee, books, services, outcomes, trials } = *input;
        let plan = books.present.rules.target_plan.word();
        let (words, met, services) = match trial_state(&TrialInput { trainee, books, services, outcomes, trials }) {
            Ok(None) => (format!("A trial at {plan}: none is opened yet"), false, Vec::new()),
            Ok(Some(state)) => {
                let counted = state.services.iter().filter(|one| one.acceptable.is_some());
                let services = counted.map(|one| one.service.clone()).collect();
                let met = state.verdict == TrialVerdict::Demonstrated;
                (format!("Trial {}. {}", state.number, state.sentence.trim_end_matches('.')), met, services)
            }
            Err(why) => return Err(format!("The trial cannot be worked out: {why}.")),
        };
        self.0.push(EvidenceLine { words, have: u32::from(met), need: 1, met, services });
        Ok(())
    }

    /// Counts the services at the target plan since the last safety breach in any live service.
    fn breach_free(&mut self, records: &[&Service], assessed: &[Assessed], input: &EvidenceInput) {
        let rules = &input.books.present.rules;
        let breaches = evidence::breaches(records, assessed, &input.books);
        let last = breaches.last().map(|breach| (breach.service.began, &breach.service.id));
        let clean = assessed.iter().filter(|one| {
            let after = last.is_none_or(|last| (one.service.began, &one.service.id) > last);
            one.counts() && one.service.plan() == Some(rules.target_plan) && after
        });
        let words = format!("Services at {} in a row without a safety breach", rules.target_plan.word());
        self.services(words, rules.breach_free_last, clean);
    }
}
