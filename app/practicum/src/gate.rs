//! The gate before lotion: what must be true before a product touches a practice model.
//!
//! Asked anew whenever anything it looks at changes, so that a changed product locks again. A reason is
//! either never to be overridden, or may be let pass by a named instructor with a reason when the course
//! book says so; the never-list wins over the course book.

pub mod age;
mod products;
mod reason;
mod skin_tests;

#[cfg(test)]
mod tests;

pub use reason::{CODES, OVERRIDABLE_CODES, OnProduct, Reason};

use crate::couch::{Override, Tint};
use crate::course_book::{CourseBook, LashCondition, Region, ScreeningGroup};
use crate::eye::PerEye;
use crate::ids::PersonId;
use crate::moment::Moment;
use crate::practice_model::{Consent, ConsentKind, PracticeModel, Screening, SensitivityTest};
use crate::product::{Lot, Product};

/// What the gate needs to know of the academy.
#[derive(Debug, Clone, Copy)]
pub struct AcademyFacts<'a> {
    /// Least age of a practice model in whole years.
    pub minimum_age: u32,
    /// Tint is switched on here; where the region has it off, by the owner with a stated legal ground.
    pub tint_allowed: bool,
    /// The academy's region, for the wording.
    pub region: Option<&'a Region>,
}

/// A product about to be used, and the lot it comes from.
#[derive(Debug, Clone, Copy)]
pub struct InUse<'a> {
    /// The product with its label figures.
    pub product: &'a Product,
    /// The opened lot.
    pub lot: &'a Lot,
    /// The lot was called back.
    pub recalled: bool,
}

/// Everything that the gate looks at.
#[derive(Debug, Clone, Copy)]
pub struct GateInput<'a> {
    /// The moment at which lotion would go on.
    pub now: &'a Moment,
    /// Course book in force.
    pub book: &'a CourseBook,
    /// The academy.
    pub academy: AcademyFacts<'a>,
    /// Who works: nobody lets their own service pass.
    pub trainee: &'a PersonId,
    /// Instructors and the owner: only these may override.
    pub instructors: &'a [&'a PersonId],
    /// The practice model, once chosen.
    pub practice_model: Option<&'a PracticeModel>,
    /// Consents, of anybody.
    pub consents: &'a [&'a Consent],
    /// The consents were looked at with the practice model today.
    pub consent_checked: bool,
    /// Screening of this service.
    pub screening: Option<&'a Screening>,
    /// Sensitivity tests, of anybody.
    pub tests: &'a [&'a SensitivityTest],
    /// The tests were looked at today.
    pub tests_checked: bool,
    /// Products chosen for this service. A tint is only looked at when tint is chosen.
    pub products: &'a [InUse<'a>],
    /// Lash condition of each eye, once analysed.
    pub conditions: PerEye<Option<LashCondition>>,
    /// Tint or not.
    pub tint: Tint,
    /// Overrides made in this service.
    pub overrides: &'a [Override],
    /// A drill: no lotion, no practice model, so the gate stands open.
    pub drill: bool,
    /// The demo: dwell figures may be examples, so label maximum and window are not asked for.
    pub demo: bool,
}

/// A reason that keeps the gate shut, or would without its override.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    /// Why.
    pub reason: Reason,
    /// A named instructor may let it pass.
    pub overridable: bool,
    /// The override that lets it pass, if any.
    pub overridden: Option<Override>,
    /// The override was made on the instructor's own unlock; otherwise it is claimed, not confirmed.
    pub confirmed: bool,
}

impl Block {
    /// Whether the gate stays shut because of this.
    pub fn shuts(&self) -> bool {
        self.overridden.is_none()
    }
}

/// What the gate says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gate {
    /// Lotion may go on.
    pub open: bool,
    /// All reasons, overridden ones included.
    pub blocks: Vec<Block>,
    /// What does not shut the gate but should be read first.
    pub notes: Vec<String>,
}

impl Gate {
    /// Whether some override is claimed, not confirmed: the service then does not count as observed.
    pub fn claimed(&self) -> bool {
        self.blocks.iter().any(|block| block.overridden.is_some() && !block.confirmed)
    }
}

/// Works out whether lotion may go on, with every reason that speaks against it.
pub fn gate(input: &GateInput) -> Gate {
    if input.drill {
        return Gate { open: true, blocks: Vec::new(), notes: Vec::new() };
    }
    let mut reasons = Vec::new();
    let mut notes = Vec::new();
    match input.practice_model {
        None => reasons.push(Reason::NoPracticeModel),
        Some(person) => {
            consent(input, person, &mut reasons, &mut notes);
            screening(input, person, &mut reasons, &mut notes);
            years(input, person, &mut reasons);
        }
    }
    products::look_at(input, &mut reasons);
    skin_tests::look_at(input, &mut reasons);
    let blocks: Vec<Block> = reasons.into_iter().map(|reason| block(input, reason)).collect();
    Gate { open: !blocks.iter().any(Block::shuts), blocks, notes }
}

/// Joins a reason with the override that lets it pass, if there is one and it may.
fn block(input: &GateInput, reason: Reason) -> Block {
    let in_book = input.book.rules.overridable.iter().any(|code| code == reason.code());
    let overridable = !reason.never_overridable() && in_book;
    let key = reason.key();
    let fits = |made: &&Override| {
        made.reason_code == key
            && !made.why.trim().is_empty()
            && made.by != *input.trainee
            && input.instructors.contains(&&made.by)
    };
    let candidates = || input.overrides.iter().filter(fits);
    let overridden =
        if overridable { candidates().find(|made| made.confirmed).or_else(|| candidates().next()) } else { None };
    Block {
        reason,
        overridable,
        confirmed: overridden.is_some_and(|made| made.confirmed),
        overridden: overridden.cloned(),
    }
}

fn consent(input: &GateInput, person: &PracticeModel, reasons: &mut Vec<Reason>, notes: &mut Vec<String>) {
    let in_force = |kind: ConsentKind| {
        input.consents.iter().filter(move |consent| {
            consent.practice_model == person.id && consent.kind == kind && consent.holds(input.now)
        })
    };
    if in_force(ConsentKind::Service).next().is_none() {
        reasons.push(Reason::NoConsent);
    } else if !in_force(ConsentKind::Service).any(|consent| consent.version == input.book.consent_version) {
        notes.push(format!(
            "The consent was given to an earlier wording than {}. Read the present one together.",
            input.book.consent_version
        ));
    }
    if in_force(ConsentKind::Record).next().is_none() {
        notes.push(
            "There is no consent to keep a record. Ask for it, and write nothing about the person without it."
                .to_owned(),
        );
    }
    if !input.consent_checked {
        reasons.push(Reason::ConsentNotChecked);
    }
}

fn screening(input: &GateInput, person: &PracticeModel, reasons: &mut Vec<Reason>, notes: &mut Vec<String>) {
    let Some(screening) = input.screening.filter(|screening| screening.practice_model == person.id) else {
        reasons.push(Reason::NoScreening);
        return;
    };
    let mut unanswered = Vec::new();
    for question in &input.book.screening {
        let answers = || screening.answers.iter().filter(|answer| answer.question == question.id);
        if answers().next().is_none() {
            unanswered.push(question.question.clone());
        }
        let mut yes = answers().filter(|answer| answer.yes);
        let said = |answer: &crate::practice_model::ScreeningAnswer| {
            answer.written_advice.as_ref().is_some_and(|advice| !advice.trim().is_empty())
        };
        let (asked, advice) = (question.question.clone(), question.advice.clone());
        match question.group {
            ScreeningGroup::DoNotTreat if yes.next().is_some() => {
                reasons.push(Reason::DoNotTreat { question: asked, advice });
            }
            ScreeningGroup::Refer if yes.any(|answer| !said(answer)) => {
                reasons.push(Reason::ReferWithoutAdvice { question: asked, advice });
            }
            ScreeningGroup::Adapt if yes.next().is_some() => notes.push(format!("{asked} {advice}")),
            _ => {}
        }
    }
    if !unanswered.is_empty() {
        reasons.push(Reason::Unanswered(unanswered));
    }
}

fn years(input: &GateInput, person: &PracticeModel, reasons: &mut Vec<Reason>) {
    let today = input.now.date_naive();
    let Some(age) = person.born.and_then(|born| age::in_years(born, today)) else {
        reasons.push(Reason::AgeUnknown);
        return;
    };
    if age < input.academy.minimum_age {
        reasons.push(Reason::UnderAge { age, minimum: input.academy.minimum_age });
    }
    if age < age::ADULT {
        if !person.guardian.as_ref().is_some_and(|guardian| guardian.consented && !guardian.name.trim().is_empty()) {
            reasons.push(Reason::NoGuardianConsent);
        }
        let here = |screening: &Screening| screening.practice_model == person.id && screening.guardian_present;
        if !input.screening.is_some_and(here) {
            reasons.push(Reason::GuardianAbsent);
        }
    }
}
