//! What the pages ask of the records.

use std::sync::Arc;

use practicum::competency::SignOff;
use practicum::couch::Override;
use practicum::course_book::CourseBook;
use practicum::ids::{
    BatchId, CourseBookId, EntryId, IncidentId, PersonId, PracticeModelId, ProductId, ServiceId, TestId,
};
use practicum::order::InOrder;
use practicum::outcome::Outcome;
use practicum::person::{Person, Role};
use practicum::practice_model::{Consent, PracticeModel, Screening, SensitivityTest};
use practicum::product::{Lot, Product};
use practicum::service::Service;
use practicum::standing::PlanDecision;
use practicum::trial::Trial;

use super::{
    AdoptedBook, Answered, Device, Dismissed, ImportRecord, NotShown, Overlap, Recorded, Records, Refusal, Version,
};
use crate::challenge;
use crate::fact::{Academy, Admission, Contact, Fact, FollowUp, Incident};
use crate::subject::Subject;
use crate::trust::Word;

impl Records {
    /// Returns the academy, once founded.
    pub fn academy(&self) -> Option<&Academy> {
        self.academy.as_ref().map(|academy| &academy.value)
    }

    /// Returns the founding as recorded.
    pub fn founding(&self) -> Option<&Recorded<Academy>> {
        self.academy.as_ref()
    }

    /// Whether these are the invented records of the demo.
    pub fn is_demo(&self) -> bool {
        self.academy().is_some_and(|academy| academy.demo)
    }

    /// Returns everybody ever enrolled, in the order of their names.
    pub fn people(&self) -> Vec<&Person> {
        let mut people: Vec<&Person> = self.people.values().map(|person| &person.value).collect();
        people.order_by(|a, b| (a.name.to_lowercase(), &a.id).cmp(&(b.name.to_lowercase(), &b.id)));
        people
    }

    /// Returns a person.
    pub fn person(&self, id: &PersonId) -> Option<&Person> {
        self.people.get(id).map(|person| &person.value)
    }

    /// Returns the enrolment of a person as recorded.
    pub fn enrolment(&self, id: &PersonId) -> Option<&Recorded<Person>> {
        self.people.get(id)
    }

    /// Returns the trainees who have not left.
    pub fn trainees(&self) -> Vec<&Person> {
        self.people().into_iter().filter(|person| person.role == Role::Trainee && person.left.is_none()).collect()
    }

    /// Returns the instructors and the owner who have not left.
    pub fn instructors(&self) -> Vec<&Person> {
        self.people().into_iter().filter(|person| person.role.may_assess() && person.left.is_none()).collect()
    }

    /// Returns all practice models in the order of their codes.
    pub fn practice_models(&self) -> Vec<&PracticeModel> {
        let mut all: Vec<&PracticeModel> = self.practice_models.values().map(|known| &known.value).collect();
        all.order_by(|a, b| (&a.code, &a.id).cmp(&(&b.code, &b.id)));
        all
    }

    /// Returns a practice model.
    pub fn practice_model(&self, id: &PracticeModelId) -> Option<&PracticeModel> {
        self.practice_models.get(id).map(|known| &known.value)
    }

    /// Returns a practice model as recorded.
    pub fn practice_model_record(&self, id: &PracticeModelId) -> Option<&Recorded<PracticeModel>> {
        self.practice_models.get(id)
    }

    /// Returns name and contact of a person or practice model, if noted. To be hidden behind the device's lock.
    pub fn contact_of(&self, subject: &Subject) -> Option<&Contact> {
        self.contacts.get(subject).map(|contact| &contact.value)
    }

    /// Returns the devices.
    pub fn devices(&self) -> Vec<&Recorded<Device>> {
        self.devices.values().collect()
    }

    /// Returns all consents, withdrawn ones included, as the log is told.
    pub fn consents(&self) -> Vec<&Recorded<Consent>> {
        self.consents.iter().collect()
    }

    /// Returns the consents of a practice model.
    pub fn consents_of(&self, practice_model: &PracticeModelId) -> Vec<&Recorded<Consent>> {
        self.consents.iter().filter(|consent| consent.value.practice_model == *practice_model).collect()
    }

    /// Returns the screenings of a practice model. To be hidden behind the device's lock.
    pub fn screenings_of(&self, practice_model: &PracticeModelId) -> Vec<&Recorded<Screening>> {
        self.screenings.iter().filter(|known| known.value.practice_model == *practice_model).collect()
    }

    /// Returns all sensitivity tests, by the moment they were put on.
    pub fn tests(&self) -> Vec<&Recorded<SensitivityTest>> {
        let mut tests: Vec<_> = self.tests.values().collect();
        tests.order_by(|a, b| (a.value.put_on, &a.value.id).cmp(&(b.value.put_on, &b.value.id)));
        tests
    }

    /// Returns a sensitivity test.
    pub fn test(&self, id: &TestId) -> Option<&Recorded<SensitivityTest>> {
        self.tests.get(id)
    }

    /// Returns the sensitivity tests of a practice model, by the moment they were put on.
    pub fn tests_of(&self, practice_model: &PracticeModelId) -> Vec<&Recorded<SensitivityTest>> {
        self.tests().into_iter().filter(|test| test.value.practice_model == *practice_model).collect()
    }

    /// Returns all products in the order of their names.
    pub fn products(&self) -> Vec<&Product> {
        let mut products: Vec<&Product> = self.products.values().map(|product| &product.value).collect();
        products.order_by(|a, b| (a.name.to_lowercase(), &a.id).cmp(&(b.name.to_lowercase(), &b.id)));
        products
    }

    /// Returns a product.
    pub fn product(&self, id: &ProductId) -> Option<&Product> {
        self.products.get(id).map(|product| &product.value)
    }

    /// Returns the lots of all products, as the log is told.
    pub fn lots(&self) -> Vec<&Lot> {
        self.lots.iter().map(|lot| &lot.value).collect()
    }

    /// Returns the lots of a product, the last opened last.
    pub fn lots_of(&self, product: &ProductId) -> Vec<&Lot> {
        self.lots().into_iter().filter(|lot| lot.product == *product).collect()
    }

    /// Returns every adoption of a course book, as the log is told.
    pub fn books(&self) -> &[AdoptedBook] {
        &self.books
    }

    /// Returns the course book in force: the last adopted one that reads.
    pub fn present_book(&self) -> Option<&Arc<CourseBook>> {
        self.books.iter().rev().find_map(|book| book.book.as_ref().ok())
    }

    /// Returns a course book by title and edition: the first text adopted under that name.
    pub fn book(&self, id: &CourseBookId) -> Option<&Arc<CourseBook>> {
        self.books.iter().find(|book| book.id == *id).and_then(|book| book.book.as_ref().ok())
    }

    /// Returns all course books that read, the first adopted first.
    pub fn adopted_books(&self) -> Vec<&CourseBook> {
        self.books.iter().filter_map(|book| book.book.as_ref().ok()).map(Arc::as_ref).collect()
    }

    /// Says why a course book may not be adopted: the same title and edition stand for another text.
    ///
    /// # Errors
    /// Returns the sentence.
    pub fn may_adopt(&self, id: &CourseBookId, text: &str) -> Result<(), String> {
        match self.books.iter().any(|known| known.id == *id && known.text != text) {
            true => Err(format!("“{id}” was adopted before with other content: give this one a new edition.")),
            false => Ok(()),
        }
    }

    /// Returns all services and drills by the moment they began, withdrawn ones included.
    pub fn services(&self) -> Vec<&Recorded<Service>> {
        let mut services: Vec<_> = self.services.iter().collect();
        services.order_by(|a, b| (a.value.began, &a.value.id).cmp(&(b.value.began, &b.value.id)));
        services
    }

    /// Returns the services and drills in force, by the moment they began.
    pub fn services_in_force(&self) -> Vec<&Service> {
        let standing = self.services().into_iter().filter(|service| service.withdrawn.is_none());
        standing.map(|service| &service.value).collect()
    }

    /// Returns a trainee's services and drills by the moment they began, withdrawn ones included.
    pub fn services_of(&self, trainee: &PersonId) -> Vec<&Recorded<Service>> {
        self.services().into_iter().filter(|service| service.value.trainee == *trainee).collect()
    }

    /// Returns a service or drill.
    pub fn service(&self, id: &ServiceId) -> Option<&Recorded<Service>> {
        self.services.get(*self.service_places.get(id)?)
    }

    /// Returns the outcomes in force: trainees' own views and assessors' marks, never those of peers.
    pub fn outcomes_in_force(&self) -> Vec<&Outcome> {
        let counts = |outcome: &&Recorded<Outcome>| outcome.withdrawn.is_none() && !self.by_a_peer(&outcome.value);
        self.outcomes.iter().filter(counts).map(|outcome| &outcome.value).collect()
    }

    /// Whether a trainee marked somebody else's service, which a log from elsewhere may hold.
    pub fn by_a_peer(&self, outcome: &Outcome) -> bool {
        let own = self.service(&outcome.service).is_some_and(|service| service.value.trainee == outcome.marker);
        !own && self.is_trainee(&outcome.marker)
    }

    pub(super) fn is_trainee(&self, id: &PersonId) -> bool {
        self.person(id).is_some_and(|person| person.role == Role::Trainee)
    }

    /// Returns the claimed overrides of a service that the instructors they name have refused.
    pub fn refusals_of(&self, service: &ServiceId) -> &[Refusal] {
        self.refusals.get(service).map_or(&[], Vec::as_slice)
    }

    /// Returns all outcomes of a service as the log is told: the trainee's own and the assessors'.
    pub fn outcomes_of(&self, service: &ServiceId) -> Vec<&Recorded<Outcome>> {
        self.outcomes.iter().filter(|outcome| outcome.value.service == *service).collect()
    }

    /// Returns the last outcome that the trainee gave to a service.
    pub fn own_outcome(&self, service: &Service) -> Option<&Recorded<Outcome>> {
        self.outcomes_of(&service.id).into_iter().rev().find(|outcome| outcome.value.marker == service.trainee)
    }

    /// Returns the outcomes of a service by assessors: by nobody who is a trainee, and not by who worked it.
    pub fn assessors_outcomes(&self, service: &Service) -> Vec<&Recorded<Outcome>> {
        let assessed = |outcome: &&Recorded<Outcome>| {
            outcome.value.marker != service.trainee && !self.is_trainee(&outcome.value.marker)
        };
        self.outcomes_of(&service.id).into_iter().filter(assessed).collect()
    }

    /// Returns all plan decisions by somebody who may decide: no trainee, and nobody about themself.
    pub fn decisions(&self) -> Vec<&PlanDecision> {
        let decides = |decision: &&PlanDecision| decision.by != decision.trainee && !self.is_trainee(&decision.by);
        self.decisions.iter().map(|decision| &decision.value).filter(decides).collect()
    }

    /// Returns all trials opened by somebody who may decide: no trainee, and nobody about themself.
    pub fn trials(&self) -> Vec<&Trial> {
        let decides = |trial: &&Trial| trial.by != trial.trainee && !self.is_trainee(&trial.by);
        self.trials.iter().map(|trial| &trial.value).filter(decides).collect()
    }

    /// Returns all sign-offs, given, not yet and withdrawn, by somebody who may decide: no trainee, and nobody
    /// about themself.
    pub fn sign_offs(&self) -> Vec<&SignOff> {
        let decides = |sign_off: &&SignOff| sign_off.by != sign_off.trainee && !self.is_trainee(&sign_off.by);
        self.sign_offs.iter().map(|sign_off| &sign_off.value).filter(decides).collect()
    }

    /// Returns all incidents by the moment they were reported.
    pub fn incidents(&self) -> Vec<&Recorded<Incident>> {
        let mut incidents: Vec<_> = self.incidents.values().collect();
        incidents.order_by(|a, b| (a.value.at, &a.value.id).cmp(&(b.value.at, &b.value.id)));
        incidents
    }

    /// Returns an incident.
    pub fn incident(&self, id: &IncidentId) -> Option<&Recorded<Incident>> {
        self.incidents.get(id)
    }

    /// Returns all imports as the log is told, withdrawn ones included.
    pub fn imports(&self) -> &[ImportRecord] {
        &self.imports
    }

    /// Returns an import.
    pub fn import(&self, batch: &BatchId) -> Option<&ImportRecord> {
        self.imports.iter().find(|import| import.batch == *batch)
    }

    /// Returns the notes and things to follow up about something.
    pub fn follow_ups_of(&self, subject: &Subject) -> Vec<&Recorded<FollowUp>> {
        self.follow_ups.iter().filter(|note| note.value.about == *subject).collect()
    }

    /// Returns all notes and things to follow up.
    pub fn follow_ups(&self) -> Vec<&Recorded<FollowUp>> {
        self.follow_ups.iter().collect()
    }

    /// Returns the last word on whether a trainee may overlap the two eyes, by somebody who may decide: no
    /// trainee, and nobody about themself. Not allowed where nobody said anything.
    pub fn overlap_of(&self, trainee: &PersonId) -> Option<&Recorded<Overlap>> {
        let decides = |said: &&Recorded<Overlap>| {
            said.value.trainee == *trainee && said.author != *trainee && !self.is_trainee(&said.author)
        };
        self.overlaps.iter().rev().find(decides)
    }

    /// Returns the coaching lines of a trainee that were put away.
    pub fn dismissed_of(&self, trainee: &PersonId) -> Vec<&Recorded<Dismissed>> {
        self.dismissed.iter().filter(|line| line.value.trainee == *trainee).collect()
    }

    /// Returns every value that an entry ever had, the one that holds last; nothing when it was never corrected.
    pub fn history(&self, entry: &EntryId) -> &[Version] {
        self.history.get(&(entry.clone(), None)).map_or(&[], Vec::as_slice)
    }

    /// Returns every value that a service ever had, the one that holds last; nothing when it was never corrected.
    pub fn service_history(&self, id: &ServiceId) -> &[Version] {
        let Some(service) = self.service(id) else { return &[] };
        let whole = self.history(&service.entry);
        match whole.iter().any(|version| matches!(version.fact.as_ref(), Fact::RowsImported(_))) || whole.is_empty() {
            true => self.history.get(&(service.entry.clone(), Some(id.clone()))).map_or(&[], Vec::as_slice),
            false => whole,
        }
    }

    /// Says what to make of an entry; of one that is not here, that nobody signed it.
    pub fn word(&self, entry: &EntryId) -> Word {
        self.words.get(entry).copied().unwrap_or(Word::NotSigned)
    }

    /// Returns the keys that asked to be admitted, in the order in which they asked; each asks for itself.
    pub fn asked(&self) -> &[Recorded<Admission>] {
        &self.asked
    }

    /// Whether the academy has a key, so that what an instructor says counts only when it is signed.
    pub fn is_keyed(&self) -> bool {
        self.keyed
    }

    /// Returns the code that the couch shows for an override; `None` before an academy is founded.
    pub fn challenge(&self, service: &ServiceId, made: &Override) -> Option<String> {
        let academy = self.academy_id.as_ref()?;
        Some(challenge::of(academy, service, &made.reason_code, &made.by))
    }

    /// Returns an instructor's answer to a code, if it has arrived.
    pub fn answer_to(&self, challenge: &str, by: &PersonId) -> Option<&Answered> {
        self.answers.get(&(challenge.to_owned(), by.clone()))
    }

    /// Returns what was typed at the couch as an answer to a code, if something was.
    pub fn typed_answer_to(&self, challenge: &str) -> Option<&str> {
        self.typed_answers.get(challenge).map(String::as_str)
    }

    /// Returns the entries whose bodies add nothing here: withheld, of a later version, or unreadable.
    pub fn not_shown(&self) -> &[NotShown] {
        &self.not_shown
    }

    /// Returns what contradicts itself among the records, in sentences.
    pub fn problems(&self) -> &[String] {
        &self.problems
    }
}
