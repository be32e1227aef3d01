//! What a body says, in the domain's own types.

mod aftercare;
mod certified;
mod coursework;
mod said;

pub use aftercare::Aftercare;
pub use certified::Certified;
pub use coursework::Coursework;
pub use said::{About, Erasure, Ground, Hold, Reply, Resolution, Settlement};

use practicum::competency::{Decision, SignOff};
use practicum::couch::Override;
use practicum::eye::Eye;
use practicum::ids::{
    BatchId, CourseBookId, DeviceId, EntryId, FaultId, IncidentId, PersonId, PracticeModelId, ProductId, RegionId,
    ServiceId, TestId,
};
use practicum::moment::{Day, Moment, Seconds};
use practicum::outcome::Outcome;
use practicum::person::Person;
use practicum::practice_model::{ConsentKind, PracticeModel, Screening, SensitivityTest, TestReading};
use practicum::product::{Lot, Product, ProductKind};
use practicum::service::Service;
use practicum::standing::PlanDecision;
use practicum::trial::Trial;

use crate::kind::Kind;
use crate::signature::PublicKey;
use crate::subject::Subject;

/// The academy and its particulars.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Academy {
    /// Name as typed.
    pub name: String,
    /// Country or region, for the wording of cautions and the tint rule.
    pub region: RegionId,
    /// Emergency number.
    pub emergency_number: String,
    /// Least age of a practice model in whole years.
    pub minimum_age: u32,
    /// Name of the time zone.
    pub time_zone: String,
    /// The owner.
    pub owner: PersonId,
    /// Legal ground on which the owner switched tint on where the region has it off.
    pub tint_legal_ground: Option<String>,
    /// Invented records to look around in; never mixed with real ones. Fixed by the founding entry.
    pub demo: bool,
}

/// Name and contact of a person or practice model, kept apart from everything else.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Of whom: a person or a practice model.
    pub of: Subject,
    /// Name as typed; may be empty.
    pub name: String,
    /// Telephone, mail or other, as typed; may be empty.
    pub contact: String,
}

/// A product that was on an eye when a reaction was reported.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnEye {
    /// The eye.
    pub eye: Eye,
    /// Kind of product.
    pub kind: ProductKind,
    /// The product, if known.
    pub product: Option<ProductId>,
    /// Name of the product as the academy calls it.
    pub name: String,
    /// Lot as printed; may be empty.
    pub lot: String,
    /// Seconds from first contact to the report.
    pub seconds_on: Option<Seconds>,
}

/// A step of the first response that was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepDone {
    /// The step, in words.
    pub step: String,
    /// When, if noted.
    pub at: Option<Moment>,
}

/// An incident: what happened, what was on the eye, what was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Incident {
    /// Identifier.
    pub id: IncidentId,
    /// During which service, if any.
    pub service: Option<ServiceId>,
    /// To whom, if known.
    pub practice_model: Option<PracticeModelId>,
    /// Who worked, if known.
    pub trainee: Option<PersonId>,
    /// When it was reported.
    pub at: Moment,
    /// What was on the eyes.
    pub on_the_eye: Vec<OnEye>,
    /// Steps done, in order.
    pub steps: Vec<StepDone>,
    /// Seconds of rinsing.
    pub rinsed: Option<Seconds>,
    /// Swelling of the face or trouble breathing was seen.
    pub swelling_or_breathing: bool,
    /// Instructor who was called or decided, if named.
    pub instructor: Option<PersonId>,
    /// Note; may be empty.
    pub note: String,
}

/// Rows of one spreadsheet, taken in together and withdrawn together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImportBatch {
    /// Identifier.
    pub id: BatchId,
    /// Name of the file.
    pub file_name: String,
    /// The rows as services; the origin of each is this batch.
    pub rows: Vec<Service>,
    /// Outcomes that stood in the rows.
    pub outcomes: Vec<Outcome>,
    /// How many rows of the file were left out.
    pub rejected: u32,
}

/// Something to follow up, or a note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FollowUp {
    /// About what.
    pub about: Subject,
    /// The note.
    pub text: String,
    /// Until when, if it is to be done.
    pub due: Option<Day>,
}

/// What a key may sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    /// What a trainee may write: services, own views, practice models. Assesses nothing.
    Records,
    /// What an instructor may write too: marks, decisions, sign-offs.
    Assessing,
    /// Everything but the admission of keys, which is the academy key's.
    Owning,
}

/// A key that may sign for the academy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Admission {
    /// The key.
    pub key: PublicKey,
    /// The device that holds it, the only one whose entries it signs.
    pub device: DeviceId,
    /// The person whose acts it signs; `None` for whoever is using the device.
    pub person: Option<PersonId>,
    /// What it may sign.
    pub scope: Scope,
    /// What people call the device.
    pub label: String,
}

/// An instructor's answer, from the own device, to the code that an override at the couch showed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OverrideAnswer {
    /// The code, which stands for service, reason and instructor: [`crate::challenge::of`].
    pub challenge: String,
    /// Code of the gate reason, as the instructor read it.
    pub reason_code: String,
    /// Whose service, as the instructor named them.
    pub trainee: PersonId,
    /// Let it pass, or refused.
    pub allowed: bool,
    /// Why; may be empty where it is let pass.
    pub why: String,
}

/// Place of an entry in its device's chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChainPlace {
    /// Its number, from 1; 0 stands before the first entry.
    pub sequence: u64,
    /// Its hash; empty before the first entry.
    pub head: String,
}

/// What a body says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fact {
    /// The academy is founded.
    AcademyFounded(Academy),
    /// The academy's particulars from now on.
    AcademyAmended(Academy),
    /// A course book is adopted.
    BookAdopted {
        /// Its title and edition.
        id: CourseBookId,
        /// All its files in one text, as the course book's `join` makes it.
        text: String,
    },
    /// A product, new or with new figures.
    ProductEntered(Product),
    /// A lot is opened.
    LotOpened(Lot),
    /// A person is enrolled.
    PersonEnrolled(Person),
    /// A person has left.
    PersonLeft {
        /// Who.
        person: PersonId,
        /// Last day.
        on: Day,
    },
    /// Name and contact.
    ContactNoted(Contact),
    /// A trainee may see own times against targets before quality is met, or no longer.
    TimesShown {
        /// Who.
        trainee: PersonId,
        /// May see them.
        shown: bool,
    },
    /// A device is admitted.
    DeviceAdmitted {
        /// Which.
        device: DeviceId,
        /// What people call it.
        label: String,
    },
    /// A device writes no more.
    DeviceEnded {
        /// Which.
        device: DeviceId,
    },
    /// The key that signs this entry is the academy's from now on. It vouches for entries of the first form.
    AcademyKeyMade {
        /// Hashes of their headers, in order.
        adopts: Vec<String>,
    },
    /// A key asks to be admitted; signed by itself, which shows that whoever asks holds it.
    KeyAsked(Admission),
    /// A key may sign for the academy; signed by the academy's key.
    KeyAdmitted(Admission),
    /// A key signs no more after a place in its device's chain; signed by the academy's key.
    KeyEnded {
        /// The key.
        key: PublicKey,
        /// The last entry that it may have signed.
        last: ChainPlace,
        /// Why.
        why: String,
    },
    /// Another device's log was seen up to a place: nothing before it can be put in or taken out unseen.
    LogSeen {
        /// The other device.
        device: DeviceId,
        /// Up to where.
        seen: ChainPlace,
    },
    /// A practice model is added.
    PracticeModelAdded(PracticeModel),
    /// A consent is given.
    ConsentGiven {
        /// By whom.
        practice_model: PracticeModelId,
        /// What for.
        kind: ConsentKind,
        /// Version of the wording that was read.
        version: String,
        /// When.
        given: Moment,
    },
    /// A consent is withdrawn.
    ConsentWithdrawn {
        /// The entry that recorded it as given.
        consent: EntryId,
        /// Whose it was.
        practice_model: PracticeModelId,
        /// When.
        at: Moment,
    },
    /// A screening is answered.
    ScreeningAnswered(Screening),
    /// A sensitivity test is put on. A reading in it is not kept here.
    TestPutOn(SensitivityTest),
    /// A sensitivity test is read.
    TestRead {
        /// Which.
        test: TestId,
        /// The reading.
        reading: TestReading,
    },
    /// A service on a live practice model.
    ServiceLogged(Service),
    /// A drill.
    DrillLogged(Service),
    /// An outcome, by the trainee or by an assessor.
    OutcomeMarked(Outcome),
    /// Overlapping the two eyes is allowed to a trainee, or no longer.
    OverlapAllowed {
        /// To whom.
        trainee: PersonId,
        /// Allowed, or no longer.
        allowed: bool,
        /// Why.
        why: String,
    },
    /// A section plan is decided.
    PlanDecided(PlanDecision),
    /// A trial is opened: all that it stands on is fixed here.
    TrialOpened(Trial),
    /// An incident.
    IncidentReported(Incident),
    /// A competency is looked at: signed off, not yet, or withdrawn.
    SignedOff(SignOff),
    /// An override outside its service: claimed, or confirmed later.
    OverrideNoted {
        /// In which service.
        service: ServiceId,
        /// The override.
        made: Override,
    },
    /// A claimed override is refused: the instructor it names did not allow it.
    OverrideRefused {
        /// In which service.
        service: ServiceId,
        /// Code of the gate reason.
        reason_code: String,
        /// In whose name it was claimed; the same who refuses it.
        by: PersonId,
        /// Why.
        why: String,
    },
    /// The instructor who signs this answers the code that an override at the couch showed.
    OverrideAnswered(OverrideAnswer),
    /// What somebody typed at the couch as an instructor's answer to a code; it says nothing by itself.
    AnswerTyped {
        /// The code that was shown.
        challenge: String,
        /// What was typed.
        answer: String,
    },
    /// Imported rows.
    RowsImported(ImportBatch),
    /// An import is withdrawn; its rows stay readable.
    ImportWithdrawn {
        /// Which.
        batch: BatchId,
        /// Why.
        reason: String,
    },
    /// An earlier entry is corrected.
    Corrected {
        /// The entry that says what is corrected: the first one, or the last correction of it.
        of: EntryId,
        /// Why.
        reason: String,
        /// What holds instead: a fact of the same kind; a service or drill corrects one imported row.
        fact: Box<Fact>,
    },
    /// Something to follow up, or a note.
    FollowUpNoted(FollowUp),
    /// A coaching line is put away.
    CoachingDismissed {
        /// Whose.
        trainee: PersonId,
        /// About which fault.
        fault: FaultId,
        /// Why; may be empty.
        why: String,
    },
    /// The person concerned takes note of an entry, or disputes it.
    Replied(Reply),
    /// A dispute is answered.
    Resolved(Resolution),
    /// Two records that look like the same service: they are, or they are not.
    DuplicateSettled(Settlement),
    /// Bodies are erased for good.
    Erased(Erasure),
    /// Nothing about somebody may be erased.
    HoldPlaced(Hold),
    /// Erasing is free again.
    HoldLifted {
        /// The entry that placed the hold.
        hold: EntryId,
        /// About whom.
        on: Subject,
        /// Why.
        why: String,
    },
    /// What is recorded of a course beside services.
    Coursework(Coursework),
    /// What is recorded after the couch.
    Aftercare(Aftercare),
    /// What is recorded of certificates.
    Certified(Certified),
}

impl Fact {
    /// Returns the kind of entry that records it.
    pub fn kind(&self) -> Kind {
        match self {
            Fact::AcademyFounded(_) => Kind::AcademyFounded,
            Fact::AcademyAmended(_) => Kind::AcademyAmended,
            Fact::BookAdopted { .. } => Kind::BookAdopted,
            Fact::ProductEntered(_) => Kind::ProductEntered,
            Fact::LotOpened(_) => Kind::LotOpened,
            Fact::PersonEnrolled(_) => Kind::PersonEnrolled,
            Fact::PersonLeft { .. } => Kind::PersonLeft,
            Fact::ContactNoted(_) => Kind::ContactNoted,
            Fact::TimesShown { .. } => Kind::TimesShown,
            Fact::DeviceAdmitted { .. } => Kind::DeviceAdmitted,
            Fact::DeviceEnded { .. } => Kind::DeviceEnded,
            Fact::AcademyKeyMade { .. } => Kind::AcademyKeyMade,
            Fact::KeyAsked(_) => Kind::KeyAsked,
            Fact::KeyAdmitted(_) => Kind::KeyAdmitted,
            Fact::KeyEnded { .. } => Kind::KeyEnded,
            Fact::LogSeen { .. } => Kind::LogSeen,
            Fact::PracticeModelAdded(_) => Kind::PracticeModelAdded,
            Fact::ConsentGiven { .. } => Kind::ConsentGiven,
            Fact::ConsentWithdrawn { .. } => Kind::ConsentWithdrawn,
            Fact::ScreeningAnswered(_) => Kind::ScreeningAnswered,
            Fact::TestPutOn(_) => Kind::TestPutOn,
            Fact::TestRead { .. } => Kind::TestRead,
            Fact::ServiceLogged(_) => Kind::ServiceLogged,
            Fact::DrillLogged(_) => Kind::DrillLogged,
            Fact::OutcomeMarked(_) => Kind::OutcomeMarked,
            Fact::OverlapAllowed { .. } => Kind::OverlapAllowed,
            Fact::PlanDecided(_) => Kind::PlanDecided,
            Fact::TrialOpened(_) => Kind::TrialOpened,
            Fact::IncidentReported(_) => Kind::IncidentReported,
            Fact::SignedOff(sign_off) if sign_off.decision == Decision::Withdrawn => Kind::SignOffWithdrawn,
            Fact::SignedOff(_) => Kind::SignedOff,
            Fact::OverrideNoted { .. } => Kind::OverrideNoted,
            Fact::OverrideRefused { .. } => Kind::OverrideRefused,
            Fact::OverrideAnswered(_) => Kind::OverrideAnswered,
            Fact::AnswerTyped { .. } => Kind::AnswerTyped,
            Fact::RowsImported(_) => Kind::RowsImported,
            Fact::ImportWithdrawn { .. } => Kind::ImportWithdrawn,
            Fact::Corrected { .. } => Kind::Correction,
            Fact::FollowUpNoted(_) => Kind::FollowUpNoted,
            Fact::CoachingDismissed { .. } => Kind::CoachingDismissed,
            Fact::Replied(answer) if answer.disputed.is_some() => Kind::Disputed,
            Fact::Replied(_) => Kind::Acknowledged,
            Fact::Resolved(_) => Kind::Resolved,
            Fact::DuplicateSettled(_) => Kind::DuplicateSettled,
            Fact::Erased(_) => Kind::Erased,
            Fact::HoldPlaced(_) => Kind::HoldPlaced,
            Fact::HoldLifted { .. } => Kind::HoldLifted,
            Fact::Coursework(said) => said.kind(),
            Fact::Aftercare(said) => said.kind(),
            Fact::Certified(said) => said.kind(),
        }
    }

    /// Returns what it is about, as the header says it.
    pub fn subject(&self) -> Subject {
        match self {
            Fact::AcademyFounded(_) | Fact::AcademyAmended(_) | Fact::AcademyKeyMade { .. } => Subject::Academy,
            Fact::KeyAsked(admission) | Fact::KeyAdmitted(admission) => Subject::Device(admission.device.clone()),
            Fact::KeyEnded { key, .. } => Subject::Other(format!("key:{key}")),
            Fact::LogSeen { device, .. } => Subject::Device(device.clone()),
            Fact::BookAdopted { id, .. } => Subject::CourseBook(id.clone()),
            Fact::ProductEntered(product) => Subject::Product(product.id.clone()),
            Fact::LotOpened(lot) => Subject::Product(lot.product.clone()),
            Fact::PersonEnrolled(person) => Subject::Person(person.id.clone()),
            Fact::PersonLeft { person, .. } => Subject::Person(person.clone()),
            Fact::ContactNoted(contact) => contact.of.clone(),
            Fact::TimesShown { trainee, .. }
            | Fact::OverlapAllowed { trainee, .. }
            | Fact::CoachingDismissed { trainee, .. } => Subject::Person(trainee.clone()),
            Fact::DeviceAdmitted { device, .. } | Fact::DeviceEnded { device } => Subject::Device(device.clone()),
            Fact::PracticeModelAdded(added) => Subject::PracticeModel(added.id.clone()),
            Fact::ConsentGiven { practice_model, .. } | Fact::ConsentWithdrawn { practice_model, .. } => {
                Subject::PracticeModel(practice_model.clone())
            }
            Fact::ScreeningAnswered(screening) => Subject::PracticeModel(screening.practice_model.clone()),
            Fact::TestPutOn(test) => Subject::PracticeModel(test.practice_model.clone()),
            Fact::TestRead { test, .. } => Subject::Other(format!("test:{test}")),
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => Subject::Person(service.trainee.clone()),
            Fact::OutcomeMarked(outcome) => Subject::Service(outcome.service.clone()),
            Fact::PlanDecided(decision) => Subject::Person(decision.trainee.clone()),
            Fact::TrialOpened(trial) => Subject::Person(trial.trainee.clone()),
            Fact::IncidentReported(incident) => match (&incident.service, &incident.practice_model) {
                (Some(service), _) => Subject::Service(service.clone()),
                (None, Some(who)) => Subject::PracticeModel(who.clone()),
                (None, None) => Subject::Academy,
            },
            Fact::SignedOff(sign_off) => Subject::Person(sign_off.trainee.clone()),
            Fact::OverrideNoted { service, .. } | Fact::OverrideRefused { service, .. } => {
                Subject::Service(service.clone())
            }
            Fact::OverrideAnswered(answer) => Subject::Other(format!("override:{}", answer.challenge)),
            Fact::AnswerTyped { challenge, .. } => Subject::Other(format!("override:{challenge}")),
            Fact::RowsImported(batch) => Subject::Batch(batch.id.clone()),
            Fact::ImportWithdrawn { batch, .. } => Subject::Batch(batch.clone()),
            Fact::Corrected { fact, .. } => fact.subject(),
            Fact::FollowUpNoted(note) => note.about.clone(),
            Fact::Replied(answer) => Subject::Person(answer.about.person.clone()),
            Fact::Resolved(resolution) => Subject::Person(resolution.person.clone()),
            Fact::DuplicateSettled(settlement) => Subject::Service(settlement.keep.clone()),
            Fact::Erased(erasure) => erasure.of.clone(),
            Fact::HoldPlaced(hold) => hold.on.clone(),
            Fact::HoldLifted { on, .. } => on.clone(),
            Fact::Coursework(said) => said.subject(),
            Fact::Aftercare(said) => said.subject(),
            Fact::Certified(said) => said.subject(),
        }
    }

    /// Returns the service or drill that it records, if that is what it is.
    pub fn service(&self) -> Option<&Service> {
        match self {
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => Some(service),
            _ => None,
        }
    }

    /// Says it in the name of the person who wrote its first entry: nobody marks, decides or signs for another.
    pub(crate) fn written_by(&mut self, author: &PersonId) {
        match self {
            Fact::OutcomeMarked(outcome) => outcome.marker = author.clone(),
            Fact::PlanDecided(decision) => decision.by = author.clone(),
            Fact::TrialOpened(trial) => trial.by = author.clone(),
            Fact::SignedOff(sign_off) => sign_off.by = author.clone(),
            _ => {}
        }
    }
}
