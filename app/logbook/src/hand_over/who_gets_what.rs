//! Who gets which bodies: the one place that decides what leaves a device beside headers.
//!
//! Headers go to every device of the academy, so that all chains can be checked everywhere. Bodies hold names,
//! contacts, free text and health answers. Instructors and the owner get all that the giving device holds. A
//! trainee's device gets what the trainee wrote, what is about the trainee, what is known of the practice models the
//! trainee works on, and what everybody needs to check entries: the academy, course books, products and lots, keys and
//! receipts, and the names of those who assess. Of everything else it gets headers only, and of kinds that this
//! version does not know as well.

use std::collections::BTreeSet;
use std::sync::Arc;

use practicum::ids::{BatchId, EntryId, PersonId, PracticeModelId, ServiceId};

use crate::entry::{Content, Entry};
use crate::fact::{Aftercare, Coursework, Fact, Incident};
use crate::logbook::Logbook;
use crate::records::{Records, reached};
use crate::subject::Subject;

/// For whose device entries are handed out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Bodies {
    /// For an instructor or the owner, or as a backup: every body that is here.
    All,
    /// For a trainee's device.
    Of {
        /// The trainee.
        trainee: PersonId,
        /// Practice models whose particulars, consents, screenings and tests go along though the trainee has not
        /// worked on them yet.
        also: BTreeSet<PracticeModelId>,
    },
}

impl Bodies {
    /// What a trainee's device gets.
    pub fn of(trainee: &PersonId) -> Self {
        Bodies::Of { trainee: trainee.clone(), also: BTreeSet::new() }
    }
}

/// The rule for one hand-over.
pub(crate) struct WhoGetsWhat<'a> {
    bodies: &'a Bodies,
    logbook: &'a Logbook,
    practice_models: BTreeSet<PracticeModelId>,
    /// Codes that the couch showed for overrides in the trainee's services.
    challenges: BTreeSet<String>,
    /// Entries that go along because a correction makes them the trainee's.
    carried: BTreeSet<EntryId>,
}

impl<'a> WhoGetsWhat<'a> {
    /// Prepares the rule for what a logbook holds.
    pub(crate) fn new(bodies: &'a Bodies, logbook: &'a Logbook) -> Self {
        let (mut practice_models, mut challenges) = (BTreeSet::new(), BTreeSet::new());
        if let Bodies::Of { trainee, also } = bodies {
            practice_models = worked_on(logbook.records(), trainee);
            practice_models.extend(also.iter().cloned());
            challenges = shown_to(logbook.records(), trainee);
        }
        let mut rule = Self { bodies, logbook, practice_models, challenges, carried: BTreeSet::new() };
        if let Bodies::Of { trainee, .. } = bodies {
            rule.carried = rule.carried_by_corrections(trainee);
        }
        rule
    }

    /// Whether the body of an entry goes along. An entry whose body is not here has none to give.
    pub(crate) fn body_goes(&self, entry: &Entry) -> bool {
        let Bodies::Of { trainee, .. } = self.bodies else { return true };
        let id = &entry.header().id;
        match entry.content() {
            Content::Withheld => false,
            Content::Fact(_) if entry.header().author == *trainee || self.carried.contains(id) => true,
            Content::Fact(fact) => match fact.as_ref() {
                // A correction follows what it corrects: who holds the one needs the other for the same records.
                Fact::Corrected { of, fact, .. } => match self.first(of) {
                    Some((first, said)) => {
                        first.header().author == *trainee
                            || self.carried.contains(&first.header().id)
                            || self.fact_goes(said, trainee)
                    }
                    None => self.fact_goes(fact, trainee),
                },
                fact => self.fact_goes(fact, trainee),
            },
            // What nobody here can read goes to nobody but its author.
            Content::NotKnown | Content::Unreadable(_) => entry.header().author == *trainee,
        }
    }

    /// Returns the entries that a correction makes the trainee's: a service that was first written down for somebody
    /// else. Only the word of who wrote the first entry, or of somebody who assesses, does so; otherwise a correction
    /// made up for the purpose would fetch what it names. In an academy with a key that word has to be signed; in one
    /// without, nobody can tell a made-up author.
    fn carried_by_corrections(&self, trainee: &PersonId) -> BTreeSet<EntryId> {
        let mut carried = BTreeSet::new();
        for entry in self.logbook.log().entries() {
            let Some(Fact::Corrected { of, fact, .. }) = entry.fact().map(Arc::as_ref) else { continue };
            let Some((first, said)) = self.first(of) else { continue };
            let author = &entry.header().author;
            let assesses = self.logbook.records().person(author).is_some_and(|person| person.role.may_assess());
            let may = assesses || *author == first.header().author;
            let whole = !matches!(said, Fact::RowsImported(_));
            let (log, trust) = (self.logbook.log(), self.logbook.trust());
            let may = may && trust.counts(entry, log, trust.of_entry(entry, log));
            if may && whole && reached(said, fact).is_some() && self.fact_goes(fact, trainee) {
                carried.insert(first.header().id.clone());
            }
        }
        carried
    }

    /// Returns the entry that a chain of corrections begins with, and what it says.
    fn first(&self, of: &EntryId) -> Option<(&'a Arc<Entry>, &'a Fact)> {
        let log = self.logbook.log();
        let mut id = of;
        for _ in 0..=log.len() {
            let entry = log.entry(id)?;
            match entry.fact()?.as_ref() {
                Fact::Corrected { of, .. } => id = of,
                fact => return Some((entry, fact)),
            }
        }
        None
    }

    /// Whether bodies go along of which nothing is known: damaged entries, lines that cannot be read.
    pub(crate) fn unknown_goes(&self) -> bool {
        *self.bodies == Bodies::All
    }

    fn fact_goes(&self, fact: &Fact, trainee: &PersonId) -> bool {
        let records = self.logbook.records();
        match fact {
            Fact::AcademyFounded(_)
            | Fact::AcademyAmended(_)
            | Fact::AcademyKeyMade { .. }
            | Fact::KeyAsked(_)
            | Fact::KeyAdmitted(_)
            | Fact::KeyEnded { .. }
            | Fact::LogSeen { .. }
            | Fact::DeviceAdmitted { .. }
            | Fact::DeviceEnded { .. }
            | Fact::BookAdopted { .. }
            | Fact::ProductEntered(_)
            | Fact::LotOpened(_)
            // What is to go has to go everywhere, and a hold has to be heeded everywhere.
            | Fact::Erased(_)
            | Fact::HoldPlaced(_)
            | Fact::HoldLifted { .. } => true,
            Fact::PersonEnrolled(person) => person.id == *trainee || person.role.may_assess(),
            Fact::PersonLeft { person, .. } => self.known_to_all(person, trainee),
            Fact::ContactNoted(contact) => contact.of == Subject::Person(trainee.clone()),
            Fact::TimesShown { trainee: of, .. }
            | Fact::OverlapAllowed { trainee: of, .. }
            | Fact::CoachingDismissed { trainee: of, .. } => of == trainee,
            Fact::PracticeModelAdded(added) => self.practice_models.contains(&added.id),
            Fact::ConsentGiven { practice_model, .. } | Fact::ConsentWithdrawn { practice_model, .. } => {
                self.practice_models.contains(practice_model)
            }
            Fact::ScreeningAnswered(screening) => self.practice_models.contains(&screening.practice_model),
            Fact::TestPutOn(test) => self.practice_models.contains(&test.practice_model),
            Fact::TestRead { test, .. } => {
                records.test(test).is_some_and(|test| self.practice_models.contains(&test.value.practice_model))
            }
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => service.trainee == *trainee,
            Fact::OutcomeMarked(outcome) => is_theirs(records, &outcome.service, trainee),
            Fact::PlanDecided(decision) => decision.trainee == *trainee,
            Fact::TrialOpened(trial) => trial.trainee == *trainee,
            Fact::SignedOff(sign_off) => sign_off.trainee == *trainee,
            Fact::Replied(reply) => reply.about.person == *trainee,
            Fact::Resolved(resolution) => resolution.person == *trainee,
            Fact::DuplicateSettled(settlement) => {
                is_theirs(records, &settlement.keep, trainee) || is_theirs(records, &settlement.other, trainee)
            }
            Fact::IncidentReported(incident) => incident_is_theirs(records, incident, trainee),
            Fact::OverrideNoted { service, .. } | Fact::OverrideRefused { service, .. } => {
                is_theirs(records, service, trainee)
            }
            Fact::OverrideAnswered(answer) => answer.trainee == *trainee || self.challenges.contains(&answer.challenge),
            Fact::AnswerTyped { challenge, .. } => self.challenges.contains(challenge),
            // Rows of several trainees stand in one body, which goes only where all of it may be seen.
            Fact::RowsImported(batch) => batch.rows.iter().all(|row| row.trainee == *trainee),
            Fact::ImportWithdrawn { batch, .. } => all_theirs(records, batch, trainee),
            Fact::Coursework(said) => match said {
                Coursework::MarksTalkedOver { service, .. } => is_theirs(records, service, trainee),
                // Whose marking was looked at is for those who assess.
                Coursework::SampleDrawn(_) | Coursework::SampleLookedAt(_) => false,
                said => said.trainee() == Some(trainee),
            },
            Fact::Aftercare(said) => match said {
                Aftercare::LiftLookedAt(look) => is_theirs(records, &look.service, trainee),
                Aftercare::PhotoKept(photo) => is_theirs(records, &photo.service, trainee),
                Aftercare::LotRecalled(_) => true,
                Aftercare::IncidentFollowed(followed) => records
                    .incident(&followed.incident)
                    .is_some_and(|incident| incident_is_theirs(records, &incident.value, trainee)),
                Aftercare::LicenceNoted(licence) => licence.person == *trainee,
            },
            Fact::Certified(said) => said.trainee().is_none_or(|of| of == trainee),
            // A correction within a correction says nothing.
            Fact::Corrected { .. } => false,
            Fact::FollowUpNoted(note) => match &note.about {
                Subject::Person(person) => person == trainee,
                Subject::Service(service) => is_theirs(records, service, trainee),
                _ => false,
            },
        }
    }

    /// Whether everybody may know of a person: the trainee, and those who assess.
    fn known_to_all(&self, person: &PersonId, trainee: &PersonId) -> bool {
        let assesses = self.logbook.records().person(person).is_some_and(|known| known.role.may_assess());
        person == trainee || assesses
    }
}

/// Returns the practice models that a trainee has worked on, or has written something about.
fn worked_on(records: &Records, trainee: &PersonId) -> BTreeSet<PracticeModelId> {
    let services = records.services_of(trainee).into_iter().filter_map(|known| known.value.practice_model.clone());
    let wrote = |author: &PersonId| author == trainee;
    let added = records.practice_models().into_iter().filter_map(|known| {
        let record = records.practice_model_record(&known.id)?;
        wrote(&record.author).then(|| known.id.clone())
    });
    let consents = records.consents().into_iter().filter(|known| wrote(&known.author));
    let tests = records.tests().into_iter().filter(|known| wrote(&known.author));
    services
        .chain(added)
        .chain(consents.map(|known| known.value.practice_model.clone()))
        .chain(tests.map(|known| known.value.practice_model.clone()))
        .collect()
}

/// Returns the codes that the couch showed for overrides in a trainee's services.
fn shown_to(records: &Records, trainee: &PersonId) -> BTreeSet<String> {
    let services = records.services_of(trainee).into_iter();
    let codes = services.flat_map(|known| {
        let service = &known.value;
        service.overrides.iter().filter_map(|made| records.challenge(&service.id, made)).collect::<Vec<_>>()
    });
    codes.collect()
}

fn is_theirs(records: &Records, service: &ServiceId, trainee: &PersonId) -> bool {
    records.service(service).is_some_and(|known| known.value.trainee == *trainee)
}

fn all_theirs(records: &Records, batch: &BatchId, trainee: &PersonId) -> bool {
    records
        .import(batch)
        .is_some_and(|import| import.services.iter().all(|service| is_theirs(records, service, trainee)))
}

fn incident_is_theirs(records: &Records, incident: &Incident, trainee: &PersonId) -> bool {
    let service = incident.service.as_ref();
    incident.trainee.as_ref() == Some(trainee) || service.is_some_and(|service| is_theirs(records, service, trainee))
}
