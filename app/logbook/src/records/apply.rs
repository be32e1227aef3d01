//! Tells the entries one after another.

use std::sync::Arc;

use practicum::couch::Override;
use practicum::ids::ServiceId;
use practicum::outcome::Outcome;
use practicum::practice_model::Consent;
use practicum::service::{Origin, Service};

use super::history::Corrections;
use super::{
    AdoptedBook, Answered, Device, Dismissed, ImportRecord, NotShown, Overlap, Recorded, Records, Refusal, Withdrawal,
};
use crate::challenge;
use crate::entry::{Content, Entry};
use crate::fact::{Fact, ImportBatch, OverrideAnswer};
use crate::log::Log;
use crate::trust::{Trust, Word};

impl Records {
    /// Tells one entry. A correction was told with what it corrects.
    pub(super) fn tell(&mut self, entry: &Arc<Entry>, log: &Log, trust: &Trust, corrections: &Corrections) {
        let word = trust.of_entry(entry, log);
        self.words.insert(entry.header().id.clone(), word);
        if !trust.counts(entry, log, word) {
            return self.leave_out(entry, &format!("it does not count: {}", word.say()));
        }
        let fact = match entry.content() {
            Content::Fact(fact) if matches!(fact.as_ref(), Fact::Corrected { .. }) => return,
            Content::Fact(fact) => Arc::clone(fact),
            Content::NotKnown => return self.leave_out(entry, "a later version of the app wrote it"),
            Content::Unreadable(why) => return self.leave_out(entry, &format!("it cannot be read: {why}")),
            Content::Withheld => return self.leave_out(entry, &withheld_words(log, entry)),
        };
        let told = Told::new(entry, None, own(&fact, entry), corrections, self);
        self.add(entry, &told, corrections);
    }

    fn leave_out(&mut self, entry: &Entry, why: &str) {
        let header = entry.header();
        let (id, kind) = (header.id.clone(), header.kind.clone());
        self.not_shown.push(NotShown { entry: id, kind, at: header.at, why: why.to_owned() });
    }

    fn add(&mut self, entry: &Arc<Entry>, told: &Told, corrections: &Corrections) {
        let arrived = match told.fact.as_ref() {
            Fact::AcademyFounded(academy) => {
                if self.academy.is_some() {
                    return self.double(entry, "an academy is founded here already");
                }
                self.academy = Some(told.record(academy.clone()));
                "academy".to_owned()
            }
            Fact::ProductEntered(product) => {
                self.products.insert(product.id.clone(), told.record(product.clone()));
                return;
            }
            Fact::LotOpened(lot) => return self.lots.push(told.record(lot.clone())),
            Fact::PersonEnrolled(person) => {
                self.people.insert(person.id.clone(), told.record(person.clone()));
                format!("person:{}", person.id)
            }
            Fact::ContactNoted(contact) => {
                self.contacts.insert(contact.of.clone(), told.record(contact.clone()));
                return;
            }
            Fact::DeviceAdmitted { device, label } => {
                let value = Device { id: device.clone(), label: label.clone(), ended: false };
                self.devices.insert(device.clone(), told.record(value));
                format!("device:{device}")
            }
            Fact::PracticeModelAdded(added) => {
                self.practice_models.insert(added.id.clone(), told.record(added.clone()));
                return;
            }
            Fact::ConsentGiven { practice_model, kind, version, given } => {
                let (practice_model, version) = (practice_model.clone(), version.clone());
                let consent = Consent { practice_model, kind: *kind, version, given: *given, withdrawn: None };
                self.consents.push(told.record(consent));
                format!("consent:{}", entry.header().id)
            }
            Fact::ScreeningAnswered(screening) => return self.screenings.push(told.record(screening.clone())),
            Fact::TestPutOn(test) => {
                if self.tests.contains_key(&test.id) {
                    return self.double(entry, "a test of this identifier is put on already");
                }
                self.tests.insert(test.id.clone(), told.record(test.clone()));
                format!("test:{}", test.id)
            }
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => {
                return self.add_service(entry, told, service);
            }
            Fact::OutcomeMarked(outcome) => return self.outcomes.push(told.record(outcome.clone())),
            Fact::PlanDecided(decision) => {
                let mut decision = decision.clone();
                decision.id = entry.header().id.clone();
                return self.decisions.push(told.record(decision));
            }
            Fact::TrialOpened(trial) => {
                let mut trial = trial.clone();
                trial.id = entry.header().id.clone();
                return self.trials.push(told.record(trial));
            }
            Fact::IncidentReported(incident) => {
                self.incidents.insert(incident.id.clone(), told.record(incident.clone()));
                return;
            }
            Fact::SignedOff(sign_off) => {
                let mut sign_off = sign_off.clone();
                sign_off.id = entry.header().id.clone();
                return self.sign_offs.push(told.record(sign_off));
            }
            Fact::RowsImported(batch) => return self.add_batch(entry, told, batch, corrections),
            Fact::BookAdopted { id, text } => {
                let book = self.cache.book(&told.hash, text);
                let (id, text) = (id.clone(), text.clone());
                let known = self.books.iter().any(|known| known.id == id && known.text != text);
                if known {
                    self.double(entry, "another text was adopted under the same title and edition");
                }
                let header = entry.header();
                return self.books.push(AdoptedBook { id, entry: header.id.clone(), at: header.at, text, book });
            }
            Fact::OverrideAnswered(answer) => return self.answer(entry, answer),
            Fact::AnswerTyped { challenge, answer } => {
                self.typed_answers.insert(challenge.clone(), answer.clone());
                return;
            }
            Fact::FollowUpNoted(note) => return self.follow_ups.push(told.record(note.clone())),
            Fact::OverlapAllowed { trainee, allowed, why } => {
                let value = Overlap { trainee: trainee.clone(), allowed: *allowed, why: why.clone() };
                return self.overlaps.push(told.record(value));
            }
            Fact::CoachingDismissed { trainee, fault, why } => {
                let value = Dismissed { trainee: trainee.clone(), fault: fault.clone(), why: why.clone() };
                return self.dismissed.push(told.record(value));
            }
            Fact::Replied(reply) => return self.replies.push(told.record(reply.clone())),
            Fact::Resolved(resolution) => return self.resolutions.push(told.record(resolution.clone())),
            Fact::Erased(erasure) => return self.erasures.push(told.record(erasure.clone())),
            Fact::HoldPlaced(hold) => {
                self.holds.push(told.record(hold.clone()));
                format!("hold:{}", entry.header().id)
            }
            Fact::DuplicateSettled(settlement) => return self.settle(entry, told, settlement),
            Fact::Coursework(said) => return self.beside.take_coursework(told, said),
            Fact::Aftercare(said) => return self.beside.take_aftercare(told, said),
            Fact::Certified(said) => return self.beside.take_certified(told, said),
            Fact::AcademyAmended(_)
            | Fact::HoldLifted { .. }
            | Fact::PersonLeft { .. }
            | Fact::TimesShown { .. }
            | Fact::DeviceEnded { .. }
            | Fact::ConsentWithdrawn { .. }
            | Fact::TestRead { .. }
            | Fact::OverrideNoted { .. }
            | Fact::OverrideRefused { .. }
            | Fact::ImportWithdrawn { .. } => return self.change(entry, &told.fact),
            // What keys may sign is for `crate::trust` to say.
            Fact::KeyAsked(admission) => return self.asked.push(told.record(admission.clone())),
            Fact::AcademyKeyMade { .. }
            | Fact::KeyAdmitted(_)
            | Fact::KeyEnded { .. }
            | Fact::LogSeen { .. }
            | Fact::Corrected { .. } => return,
        };
        self.catch_up(&arrived);
    }

    fn add_service(&mut self, entry: &Arc<Entry>, told: &Told, service: &Service) {
        if self.service_places.contains_key(&service.id) {
            return self.double(entry, "a service of this identifier is logged already");
        }
        let mut service = service.clone();
        let book =
            self.books.iter().find(|book| book.id == service.course_book).and_then(|book| book.book.clone().ok());
        match book {
            Some(book) => {
                if let Some(times) = self.cache.times(&told.hash, &service, &book) {
                    service.times = times;
                }
            }
            None => {
                self.books_missing.insert(service.course_book.clone());
            }
        }
        self.confirm(entry, &mut service);
        let id = service.id.clone();
        self.service_places.insert(id.clone(), self.services.len());
        self.services.push(told.record(service));
        self.catch_up(&format!("service:{id}"));
    }

    /// Lets an override of a service count as confirmed only where that was signed, in an academy that has a key: by
    /// the instructor who wrote the service, or by an answer to the code that the couch showed.
    fn confirm(&mut self, entry: &Entry, service: &mut Service) {
        let word = self.word(&entry.header().id);
        let author = &entry.header().author;
        let mut refusals = Vec::new();
        for made in &mut service.overrides {
            if self.keyed && word != Word::Adopted {
                made.confirmed = made.confirmed && made.by == *author && word.believed();
            }
            let Some(academy) = &self.academy_id else { continue };
            let challenge = challenge::of(academy, &service.id, &made.reason_code, &made.by);
            match self.answers.get(&(challenge.clone(), made.by.clone())) {
                Some(answer) if answer.allowed => made.confirmed = true,
                Some(answer) => refusals.push(refusal(made, answer)),
                None => {}
            }
            self.challenges.insert(challenge, (service.id.clone(), made.reason_code.clone()));
        }
        if !refusals.is_empty() {
            self.refusals.insert(service.id.clone(), refusals);
        }
    }

    /// Takes in an instructor's answer to the code of an override, whether its service is here yet or not.
    fn answer(&mut self, entry: &Entry, answer: &OverrideAnswer) {
        let header = entry.header();
        let answered = Answered {
            entry: header.id.clone(),
            by: header.author.clone(),
            at: header.at,
            allowed: answer.allowed,
            why: answer.why.clone(),
            code: challenge::answer(entry),
        };
        if let Some((service, reason)) = self.challenges.get(&answer.challenge).cloned()
            && let Some(known) = self.service_mut(&service)
        {
            let same = |made: &&mut Override| made.reason_code == reason && made.by == answered.by;
            let made = known.value.overrides.iter_mut().find(same).map(|made| {
                made.confirmed = answered.allowed;
                made.clone()
            });
            if let Some(made) = made {
                let refusals = self.refusals.entry(service).or_default();
                refusals.retain(|refusal| refusal.reason_code != made.reason_code || refusal.by != made.by);
                if !answered.allowed {
                    refusals.push(refusal(&made, &answered));
                }
            }
        }
        self.answers.insert((answer.challenge.clone(), answered.by.clone()), answered);
    }

    fn add_batch(&mut self, entry: &Arc<Entry>, told: &Told, batch: &ImportBatch, corrections: &Corrections) {
        if self.imports.iter().any(|known| known.batch == batch.id) {
            return self.double(entry, "a batch of this identifier is imported already");
        }
        for row in &batch.rows {
            let fact = match row.is_service() {
                true => Fact::ServiceLogged(row.clone()),
                false => Fact::DrillLogged(row.clone()),
            };
            let row_told = Told::new(entry, Some(&row.id), Arc::new(fact), corrections, self);
            if let Some(service) = row_told.fact.service() {
                let mut service = service.clone();
                // A row that a later file corrected still belongs to the batch that brought it in.
                if let Origin::Imported { batch: of, .. } = &mut service.origin {
                    *of = batch.id.clone();
                }
                self.add_service(entry, &row_told, &service);
            }
        }
        let marked = batch.outcomes.iter().cloned().map(|outcome: Outcome| told.record(outcome));
        self.outcomes.extend(marked);
        let header = entry.header();
        self.imports.push(ImportRecord {
            batch: batch.id.clone(),
            entry: header.id.clone(),
            by: header.author.clone(),
            at: header.at,
            file_name: batch.file_name.clone(),
            services: batch.rows.iter().map(|row| row.id.clone()).collect(),
            rejected: batch.rejected,
            withdrawn: None,
        });
        self.catch_up(&format!("batch:{}", batch.id));
    }

    /// Changes something recorded before; waits for it when it is not here yet.
    pub(super) fn change(&mut self, entry: &Arc<Entry>, fact: &Arc<Fact>) {
        let header = entry.header();
        let waits_for = match fact.as_ref() {
            Fact::AcademyAmended(amended) => match &mut self.academy {
                Some(academy) => {
                    let demo = academy.value.demo;
                    academy.value = amended.clone();
                    academy.value.demo = demo;
                    return;
                }
                None => "academy".to_owned(),
            },
            Fact::PersonLeft { person, on } => match self.people.get_mut(person) {
                Some(known) => return known.value.left = Some(*on),
                None => format!("person:{person}"),
            },
            Fact::TimesShown { trainee, shown } => match self.people.get_mut(trainee) {
                Some(known) => return known.value.show_times_early = *shown,
                None => format!("person:{trainee}"),
            },
            Fact::DeviceEnded { device } => match self.devices.get_mut(device) {
                Some(known) => return known.value.ended = true,
                None => format!("device:{device}"),
            },
            Fact::ConsentWithdrawn { consent, at, .. } => {
                match self.consents.iter_mut().find(|known| known.entry == *consent) {
                    Some(known) => {
                        let earlier = known.value.withdrawn.filter(|earlier| earlier <= at);
                        return known.value.withdrawn = earlier.or(Some(*at));
                    }
                    None => format!("consent:{consent}"),
                }
            }
            Fact::TestRead { test, reading } => match self.tests.get_mut(test) {
                Some(known) => match &known.value.read {
                    Some(_) => return self.double(entry, "the test is read already; the first reading stands"),
                    None => return known.value.read = Some(reading.clone()),
                },
                None => format!("test:{test}"),
            },
            Fact::OverrideNoted { service, made } => match self.service_mut(service) {
                Some(known) => {
                    // Nobody confirms in the name of another.
                    let confirmed = made.confirmed && header.author == made.by;
                    let same =
                        known.value.overrides.iter_mut().find(|o| o.reason_code == made.reason_code && o.by == made.by);
                    match same {
                        Some(known) => known.confirmed |= confirmed,
                        None => known.value.overrides.push(Override { confirmed, ..made.clone() }),
                    }
                    if confirmed && let Some(refusals) = self.refusals.get_mut(service) {
                        refusals.retain(|refusal| refusal.reason_code != made.reason_code || refusal.by != made.by);
                    }
                    return;
                }
                None => format!("service:{service}"),
            },
            Fact::OverrideRefused { service, reason_code, by, why } => match self.service_mut(service) {
                Some(known) => {
                    if header.author != *by {
                        return;
                    }
                    let same = |made: &&mut Override| made.reason_code == *reason_code && made.by == *by;
                    known.value.overrides.iter_mut().filter(same).for_each(|made| made.confirmed = false);
                    let refusals = self.refusals.entry(service.clone()).or_default();
                    refusals.retain(|refusal| refusal.reason_code != *reason_code || refusal.by != *by);
                    let (reason_code, by, why) = (reason_code.clone(), by.clone(), why.clone());
                    refusals.push(Refusal { reason_code, by, at: header.at, why });
                    return;
                }
                None => format!("service:{service}"),
            },
            Fact::ImportWithdrawn { batch, reason } => {
                match self.imports.iter_mut().find(|known| known.batch == *batch) {
                    Some(known) => {
                        let (entry, by) = (header.id.clone(), header.author.clone());
                        let withdrawal = Withdrawal { entry, by, at: header.at, reason: reason.clone() };
                        let withdrawal = known.withdrawn.get_or_insert(withdrawal).clone();
                        let import = known.entry.clone();
                        self.withdraw(&import, &withdrawal);
                        return;
                    }
                    None => format!("batch:{batch}"),
                }
            }
            Fact::HoldLifted { hold, why, .. } => {
                if self.holds.iter().any(|known| known.entry == *hold) {
                    let (entry, by, reason) = (header.id.clone(), header.author.clone(), why.clone());
                    self.lifted.entry(hold.clone()).or_insert(Withdrawal { entry, by, at: header.at, reason });
                    return;
                }
                format!("hold:{hold}")
            }
            Fact::DuplicateSettled(settlement) => match self.missing_of(settlement) {
                None => return self.withdraw_duplicate(settlement),
                Some(service) => format!("service:{service}"),
            },
            _ => return,
        };
        self.waiting.entry(waits_for).or_default().push((Arc::clone(entry), Arc::clone(fact)));
    }

    fn withdraw(&mut self, import: &practicum::ids::EntryId, withdrawal: &Withdrawal) {
        for service in self.services.iter_mut().filter(|service| service.entry == *import) {
            service.withdrawn = Some(withdrawal.clone());
        }
        for outcome in self.outcomes.iter_mut().filter(|outcome| outcome.entry == *import) {
            outcome.withdrawn = Some(withdrawal.clone());
        }
    }

    pub(super) fn service_mut(&mut self, id: &ServiceId) -> Option<&mut Recorded<Service>> {
        let place = *self.service_places.get(id)?;
        self.services.get_mut(place)
    }

    fn catch_up(&mut self, arrived: &str) {
        for (entry, fact) in self.waiting.remove(arrived).unwrap_or_default() {
            self.change(&entry, &fact);
        }
    }

    pub(super) fn double(&mut self, entry: &Entry, why: &str) {
        let header = entry.header();
        self.note(format!("Entry {} ({}) is kept beside the first: {why}.", header.id, header.kind));
    }
}

fn refusal(made: &Override, answer: &Answered) -> Refusal {
    let (reason_code, by) = (made.reason_code.clone(), answer.by.clone());
    Refusal { reason_code, by, at: answer.at, why: answer.why.clone() }
}

/// An entry, or a row of one, with the value that holds.
pub(super) struct Told<'e> {
    entry: &'e Entry,
    pub(super) fact: Arc<Fact>,
    hash: String,
    latest: practicum::ids::EntryId,
    corrected: bool,
    contested: bool,
}

impl<'e> Told<'e> {
    fn new(
        entry: &'e Entry,
        row: Option<&ServiceId>,
        fact: Arc<Fact>,
        corrections: &Corrections,
        records: &mut Records,
    ) -> Self {
        let id = entry.header().id.clone();
        let versions = corrections.versions(entry, row, Arc::clone(&fact));
        let corrected = versions.len() > 1;
        let contested = versions.iter().any(|(version, _)| version.contested);
        let mut told = Told { entry, fact, hash: entry.hash().to_owned(), latest: id.clone(), corrected, contested };
        if let Some((last, hash)) = versions.last() {
            (told.fact, told.hash, told.latest) = (Arc::clone(&last.fact), hash.clone(), last.entry.clone());
        }
        if corrected {
            let versions = versions.into_iter().map(|(version, _)| version).collect();
            records.history.insert((id, row.cloned()), versions);
        }
        told
    }

    pub(super) fn record<T>(&self, value: T) -> Recorded<T> {
        let header = self.entry.header();
        Recorded {
            entry: header.id.clone(),
            latest: self.latest.clone(),
            hash: self.hash.clone(),
            author: header.author.clone(),
            recorded_at: header.at,
            value,
            corrected: self.corrected,
            contested: self.contested,
            withdrawn: None,
        }
    }
}

/// Returns the fact in the name of its author: nobody marks, decides or signs for another.
fn own(fact: &Arc<Fact>, entry: &Entry) -> Arc<Fact> {
    let author = &entry.header().author;
    let foreign = match fact.as_ref() {
        Fact::OutcomeMarked(outcome) => outcome.marker != *author,
        Fact::PlanDecided(decision) => decision.by != *author,
        Fact::TrialOpened(trial) => trial.by != *author,
        Fact::SignedOff(sign_off) => sign_off.by != *author,
        _ => false,
    };
    if !foreign {
        return Arc::clone(fact);
    }
    let mut own = fact.as_ref().clone();
    own.written_by(author);
    Arc::new(own)
}

/// Says why a body is not here: erased, by whom and why, or withheld.
fn withheld_words(log: &Log, entry: &Entry) -> String {
    if !log.is_erased(entry.hash()) {
        return "its content is withheld".to_owned();
    }
    let erases = |other: &&Arc<Entry>| match other.fact().map(Arc::as_ref) {
        Some(Fact::Erased(erasure)) => erasure.hashes.iter().any(|hash| hash == entry.hash()),
        _ => false,
    };
    match log.entries().find(erases).and_then(|other| Some((other.header().at, other.fact()?))) {
        Some((at, fact)) => match fact.as_ref() {
            Fact::Erased(erasure) => format!("erased on {}: {}", at.date_naive(), erasure.why),
            _ => "erased".to_owned(),
        },
        None => "erased".to_owned(),
    }
}
