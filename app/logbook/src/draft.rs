//! Drafts: what is to be recorded and by whom, before it has a place in the log.

use practicum::competency::SignOff;
use practicum::couch::Override;
use practicum::ids::{BatchId, CourseBookId, DeviceId, EntryId, FaultId, PersonId, PracticeModelId, ServiceId, TestId};
use practicum::moment::{Day, Moment};
use practicum::outcome::Outcome;
use practicum::person::Person;
use practicum::practice_model::{ConsentKind, PracticeModel, Screening, SensitivityTest, TestReading};
use practicum::product::{Lot, Product};
use practicum::service::Service;
use practicum::standing::PlanDecision;
use practicum::trial::Trial;

use crate::fact::{
    About, Academy, Contact, Erasure, Fact, FollowUp, Hold, ImportBatch, Incident, Reply, Resolution, Settlement,
};
use crate::subject::Subject;

/// What is to be recorded, and by whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    /// Who is using the device.
    pub author: PersonId,
    /// What is recorded.
    pub fact: Fact,
}

impl Draft {
    /// Drafts any fact.
    pub fn new(author: &PersonId, fact: Fact) -> Self {
        Self { author: author.clone(), fact }
    }

    /// Founds the academy; written by its owner.
    pub fn academy_founded(academy: Academy) -> Self {
        Self { author: academy.owner.clone(), fact: Fact::AcademyFounded(academy) }
    }

    /// Changes the academy's particulars; all of them are given.
    pub fn academy_amended(author: &PersonId, academy: Academy) -> Self {
        Self::new(author, Fact::AcademyAmended(academy))
    }

    /// Adopts a course book; `text` holds all its files, as the course book's `join` makes it.
    pub fn book_adopted(author: &PersonId, id: CourseBookId, text: String) -> Self {
        Self::new(author, Fact::BookAdopted { id, text })
    }

    /// Enters a product, or its figures anew.
    pub fn product_entered(author: &PersonId, product: Product) -> Self {
        Self::new(author, Fact::ProductEntered(product))
    }

    /// Opens a lot.
    pub fn lot_opened(author: &PersonId, lot: Lot) -> Self {
        Self::new(author, Fact::LotOpened(lot))
    }

    /// Enrols a person.
    pub fn person_enrolled(author: &PersonId, person: Person) -> Self {
        Self::new(author, Fact::PersonEnrolled(person))
    }

    /// Records that a person has left.
    pub fn person_left(author: &PersonId, person: PersonId, on: Day) -> Self {
        Self::new(author, Fact::PersonLeft { person, on })
    }

    /// Notes name and contact of a person or practice model, in an entry of its own.
    pub fn contact_noted(author: &PersonId, of: Subject, name: String, contact: String) -> Self {
        Self::new(author, Fact::ContactNoted(Contact { of, name, contact }))
    }

    /// Shows a trainee's own times against targets early, or no longer.
    pub fn times_shown(author: &PersonId, trainee: PersonId, shown: bool) -> Self {
        Self::new(author, Fact::TimesShown { trainee, shown })
    }

    /// Admits a device.
    pub fn device_admitted(author: &PersonId, device: DeviceId, label: String) -> Self {
        Self::new(author, Fact::DeviceAdmitted { device, label })
    }

    /// Records that a device writes no more.
    pub fn device_ended(author: &PersonId, device: DeviceId) -> Self {
        Self::new(author, Fact::DeviceEnded { device })
    }

    /// Adds a practice model.
    pub fn practice_model_added(author: &PersonId, added: PracticeModel) -> Self {
        Self::new(author, Fact::PracticeModelAdded(added))
    }

    /// Records a consent.
    pub fn consent_given(
        author: &PersonId,
        practice_model: PracticeModelId,
        kind: ConsentKind,
        version: String,
        given: Moment,
    ) -> Self {
        Self::new(author, Fact::ConsentGiven { practice_model, kind, version, given })
    }

    /// Withdraws a consent, named by the entry that recorded it.
    pub fn consent_withdrawn(author: &PersonId, consent: EntryId, practice_model: PracticeModelId, at: Moment) -> Self {
        Self::new(author, Fact::ConsentWithdrawn { consent, practice_model, at })
    }

    /// Records the answers of a screening.
    pub fn screening_answered(author: &PersonId, screening: Screening) -> Self {
        Self::new(author, Fact::ScreeningAnswered(screening))
    }

    /// Records that a sensitivity test is put on; a reading in it is left out.
    pub fn test_put_on(author: &PersonId, test: SensitivityTest) -> Self {
        Self::new(author, Fact::TestPutOn(SensitivityTest { read: None, ..test }))
    }

    /// Records the reading of a sensitivity test.
    pub fn test_read(author: &PersonId, test: TestId, reading: TestReading) -> Self {
        Self::new(author, Fact::TestRead { test, reading })
    }

    /// Logs a service or a drill, whichever it is.
    pub fn service_logged(author: &PersonId, service: Service) -> Self {
        Self::new(author, service_fact(service))
    }

    /// Records an outcome; written by who marked.
    pub fn outcome_marked(outcome: Outcome) -> Self {
        Self { author: outcome.marker.clone(), fact: Fact::OutcomeMarked(outcome) }
    }

    /// Records a plan decision; written by who decided. Its identifier becomes that of the entry.
    pub fn plan_decided(decision: PlanDecision) -> Self {
        Self { author: decision.by.clone(), fact: Fact::PlanDecided(decision) }
    }

    /// Opens a trial; written by who opened it. Its identifier becomes that of the entry.
    pub fn trial_opened(trial: Trial) -> Self {
        Self { author: trial.by.clone(), fact: Fact::TrialOpened(trial) }
    }

    /// Reports an incident.
    pub fn incident_reported(author: &PersonId, incident: Incident) -> Self {
        Self::new(author, Fact::IncidentReported(incident))
    }

    /// Records a sign-off, a "not yet" or a withdrawal; written by who decided. Its identifier becomes
    /// that of the entry.
    pub fn signed_off(sign_off: SignOff) -> Self {
        Self { author: sign_off.by.clone(), fact: Fact::SignedOff(sign_off) }
    }

    /// Records an override outside its service: claimed, or confirmed later.
    pub fn override_noted(author: &PersonId, service: ServiceId, made: Override) -> Self {
        Self::new(author, Fact::OverrideNoted { service, made })
    }

    /// Refuses a claimed override; written by the instructor in whose name it was claimed.
    pub fn override_refused(by: &PersonId, service: ServiceId, reason_code: String, why: String) -> Self {
        Self::new(by, Fact::OverrideRefused { service, reason_code, by: by.clone(), why })
    }

    /// Imports rows, all in one entry.
    pub fn rows_imported(author: &PersonId, batch: ImportBatch) -> Self {
        Self::new(author, Fact::RowsImported(batch))
    }

    /// Withdraws an import.
    pub fn import_withdrawn(author: &PersonId, batch: BatchId, reason: String) -> Self {
        Self::new(author, Fact::ImportWithdrawn { batch, reason })
    }

    /// Corrects an entry: `of` is what [`crate::Recorded::latest`] names, `fact` all that holds instead.
    pub fn correction(author: &PersonId, of: EntryId, reason: String, fact: Fact) -> Self {
        Self::new(author, Fact::Corrected { of, reason, fact: Box::new(fact) })
    }

    /// Corrects a service, a drill or one imported row.
    pub fn service_corrected(author: &PersonId, of: EntryId, reason: String, service: Service) -> Self {
        Self::correction(author, of, reason, service_fact(service))
    }

    /// Notes something to follow up, or just a note.
    pub fn follow_up(author: &PersonId, about: Subject, text: String, due: Option<Day>) -> Self {
        Self::new(author, Fact::FollowUpNoted(FollowUp { about, text, due }))
    }

    /// Puts a coaching line away.
    pub fn coaching_dismissed(author: &PersonId, trainee: PersonId, fault: FaultId, why: String) -> Self {
        Self::new(author, Fact::CoachingDismissed { trainee, fault, why })
    }

    /// Takes note of an entry; written by the person it concerns.
    pub fn acknowledged(about: About) -> Self {
        Self { author: about.person.clone(), fact: Fact::Replied(Reply { about, disputed: None }) }
    }

    /// Disputes an entry; written by the person it concerns.
    pub fn disputed(about: About, why: String) -> Self {
        Self { author: about.person.clone(), fact: Fact::Replied(Reply { about, disputed: Some(why) }) }
    }

    /// Answers a dispute.
    pub fn resolved(author: &PersonId, dispute: EntryId, person: PersonId, words: String) -> Self {
        Self::new(author, Fact::Resolved(Resolution { dispute, person, words }))
    }

    /// Says whether two records are the same service.
    pub fn duplicate_settled(author: &PersonId, settlement: Settlement) -> Self {
        Self::new(author, Fact::DuplicateSettled(settlement))
    }

    /// Erases bodies for good.
    pub fn erased(author: &PersonId, erasure: Erasure) -> Self {
        Self::new(author, Fact::Erased(erasure))
    }

    /// Places a hold: nothing about somebody may be erased.
    pub fn hold_placed(author: &PersonId, hold: Hold) -> Self {
        Self::new(author, Fact::HoldPlaced(hold))
    }

    /// Lifts a hold.
    pub fn hold_lifted(author: &PersonId, hold: EntryId, on: Subject, why: String) -> Self {
        Self::new(author, Fact::HoldLifted { hold, on, why })
    }
}

fn service_fact(service: Service) -> Fact {
    match service.is_service() {
        true => Fact::ServiceLogged(service),
        false => Fact::DrillLogged(service),
    }
}
