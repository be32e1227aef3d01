//! What pages ask of the records, in the pages' own words.

use std::sync::Arc;

use logbook::records::Recorded;
use practicum::competency::{EvidenceInput, EvidenceState, SignOff, evidence_state};
use practicum::competency::{Held, held};
use practicum::couch::fold::Prepared;
use practicum::couch::{Opening, Tint, What};
use practicum::course_book::{Competency, CourseBook, Medium};
use practicum::evidence::{Books, TrialInput, TrialState, trial_states};
use practicum::gate::{AcademyFacts, Gate, GateInput, InUse, gate};
use practicum::ids::{CompetencyId, PersonId, PracticeModelId, ProductId, ServiceId};
use practicum::moment::Moment;
use practicum::order::InOrder;
use practicum::outcome::Outcome;
use practicum::person::{Person, Role};
use practicum::practice_model::{ConsentKind, PracticeModel, SensitivityTest};
use practicum::product::{Lot, Product, ProductKind};
use practicum::section::Plan;
use practicum::service::{Origin, Service};
use practicum::standing::{Standing, StandingInput, standing};

use super::{Session, reading};

/// A competency of a trainee: evidence, and how it stands.
#[derive(Debug, Clone)]
pub(crate) struct CompetencyRow {
    /// The competency.
    pub(crate) competency: Competency,
    /// Its evidence.
    pub(crate) evidence: EvidenceState,
    /// How it stands.
    pub(crate) held: Held,
}

impl Session {
    /// Returns a person.
    pub(crate) fn person(&self, id: &PersonId) -> Option<Person> {
        self.records().person(id).cloned()
    }

    /// Returns a person's name, or the identifier where the name is not on this device.
    pub(crate) fn person_name(&self, id: &PersonId) -> String {
        self.person(id).map_or_else(|| id.to_string(), |person| person.name)
    }

    fn people_of(&self, wanted: impl Fn(&Person) -> bool) -> Vec<Person> {
        let mut people: Vec<Person> =
            self.records().people().into_iter().filter(|person| wanted(person)).cloned().collect();
        people.order_by_key(|person| person.name.to_lowercase());
        people
    }

    /// Returns the trainees by name.
    pub(crate) fn trainees(&self) -> Vec<Person> {
        self.people_of(|person| person.role == Role::Trainee)
    }

    /// Returns the instructors and the owner by name, those who left not included.
    pub(crate) fn instructors(&self) -> Vec<Person> {
        self.people_of(|person| person.role.may_assess() && person.left.is_none())
    }

    /// Returns the practice models by code.
    pub(crate) fn practice_models(&self) -> Vec<PracticeModel> {
        let mut all: Vec<PracticeModel> = self.records().practice_models().into_iter().cloned().collect();
        all.order_by(|a, b| a.code.cmp(&b.code));
        all
    }

    /// Returns a practice model's code.
    pub(crate) fn code_of(&self, id: &PracticeModelId) -> String {
        self.records().practice_model(id).map_or_else(|| id.to_string(), |person| person.code.clone())
    }

    /// Whether a practice model is under 18 today.
    pub(crate) fn is_minor(&self, id: &PracticeModelId) -> bool {
        let today = reading().at.date_naive();
        let born = self.records().practice_model(id).and_then(|person| person.born);
        born.and_then(|born| practicum::gate::age::in_years(born, today)).is_some_and(|years| years < 18)
    }

    /// Whether a consent holds now.
    pub(crate) fn consent_holds(&self, id: &PracticeModelId, kind: ConsentKind) -> bool {
        let now = reading().at;
        self.records().consents_of(id).iter().any(|consent| consent.value.kind == kind && consent.value.holds(&now))
    }

    /// Returns a practice model's tests, the latest first.
    pub(crate) fn tests_of(&self, id: &PracticeModelId) -> Vec<SensitivityTest> {
        let mut tests: Vec<_> = self.records().tests_of(id).into_iter().map(|test| test.value.clone()).collect();
        tests.order_by_key(|test| std::cmp::Reverse(test.put_on));
        tests
    }

    /// Returns a product.
    pub(crate) fn product(&self, id: &ProductId) -> Option<Product> {
        self.records().product(id).cloned()
    }

    /// Returns a product's name.
    pub(crate) fn product_name(&self, id: &ProductId) -> String {
        self.product(id).map_or_else(|| id.to_string(), |product| product.name)
    }

    /// Returns the open lots of a kind of product, the last opened first.
    pub(crate) fn lots(&self, kind: ProductKind) -> Vec<Lot> {
        let records = self.records();
        let of_kind = |lot: &&Lot| records.product(&lot.product).is_some_and(|product| product.kind == kind);
        let mut lots: Vec<Lot> = records.lots().into_iter().filter(of_kind).cloned().collect();
        lots.order_by_key(|lot| std::cmp::Reverse(lot.opened_on));
        lots
    }

    /// Returns how this person's last service or drill at the couch was opened, if there was one.
    pub(crate) fn last_opening(&self, trainee: &PersonId) -> Option<Opening> {
        self.services().into_iter().find_map(|service| match service.origin {
            Origin::Live { opening, .. } if service.trainee == *trainee => Some(opening),
            _ => None,
        })
    }

    /// Returns the products of this person's last live service, else of the last one on this device, while their
    /// lots are still known.
    pub(crate) fn last_products(&self) -> Vec<(ProductKind, Lot)> {
        let services = self.services();
        let who = self.who().map(|person| person.id);
        let live = |service: &&Service| service.is_service() && service.is_live_entry();
        let own = services.iter().filter(live).find(|service| who.as_ref() == Some(&service.trainee));
        let last = own.or_else(|| services.iter().find(live));
        let known = |(kind, lot): &&(ProductKind, Lot)| self.lots(*kind).contains(lot);
        last.map(|service| service.products.iter().filter(known).cloned().collect()).unwrap_or_default()
    }

    /// Returns the academy's emergency number.
    pub(crate) fn emergency_number(&self) -> String {
        let number = self.records().academy().map(|academy| academy.emergency_number.clone()).unwrap_or_default();
        if number.is_empty() { "your local emergency number".to_owned() } else { number }
    }

    /// Returns the cautions of the course book and of the academy's region.
    pub(crate) fn cautions(&self) -> Vec<String> {
        let Some(book) = self.book() else { return Vec::new() };
        let region = self.records().academy().and_then(|academy| book.region(&academy.region).cloned());
        book.cautions.iter().cloned().chain(region.into_iter().flat_map(|region| region.cautions)).collect()
    }

    /// Whether tint may be used: on in the region, or switched on by the owner with a legal ground.
    pub(crate) fn tint_allowed(&self) -> bool {
        let records = self.records();
        let Some(academy) = records.academy() else { return false };
        let off = self.book().and_then(|book| book.region(&academy.region).map(|region| region.tint_off));
        let ground = academy.tint_legal_ground.as_ref().is_some_and(|ground| !ground.trim().is_empty());
        ground || off == Some(false)
    }

    /// Returns the medium of a run.
    pub(crate) fn medium_of(&self, what: &What) -> Medium {
        match what {
            What::Service => Medium::Live,
            What::Drill(kind) => {
                self.book().and_then(|book| book.drill(kind).map(|d| d.medium)).unwrap_or(Medium::Head)
            }
        }
    }

    /// Returns services and drills in force, the newest first.
    pub(crate) fn services(&self) -> Vec<Service> {
        let mut services: Vec<Service> = self.records().services_in_force().into_iter().cloned().collect();
        services.order_by(|a, b| b.began.cmp(&a.began).then_with(|| b.id.cmp(&a.id)));
        services
    }

    /// Returns a service or drill.
    pub(crate) fn service(&self, id: &ServiceId) -> Option<Service> {
        self.records().service(id).map(|service| service.value.clone())
    }

    /// Returns the outcomes of a service in force: the trainee's own views and assessors' marks, never those of peers.
    pub(crate) fn outcomes_of(&self, id: &ServiceId) -> Vec<Outcome> {
        let records = self.records();
        let known = records.outcomes_of(id).into_iter();
        let counts = known.filter(|outcome| outcome.withdrawn.is_none() && !records.by_a_peer(&outcome.value));
        counts.map(|outcome| outcome.value.clone()).collect()
    }

    /// Returns the same outcomes with the entries that record them.
    pub(crate) fn outcome_records_of(&self, id: &ServiceId) -> Vec<Recorded<Outcome>> {
        let records = self.records();
        let known = records.outcomes_of(id).into_iter();
        known.filter(|outcome| outcome.withdrawn.is_none() && !records.by_a_peer(&outcome.value)).cloned().collect()
    }

    /// Returns the course book that a service was made under; the one in force where it is not here.
    pub(crate) fn book_of(&self, service: &Service) -> Option<Arc<CourseBook>> {
        let books = self.books();
        books.iter().rev().find(|book| book.id == service.course_book).or(books.last()).cloned()
    }

    /// Says a service in one line.
    pub(crate) fn service_line(&self, service: &Service) -> String {
        let plan = service.plan().map_or("no plan recorded", Plan::word);
        let person = service.practice_model.as_ref().map(|id| format!(", {}", self.code_of(id))).unwrap_or_default();
        format!("{}: {}{person}, {plan}", service.day(), self.person_name(&service.trainee))
    }

    /// Says a service as briefly as a link can: its day.
    pub(crate) fn service_short(&self, id: &ServiceId) -> String {
        self.service(id).map_or_else(|| id.to_string(), |service| service.day().to_string())
    }

    /// Returns services and drills that no assessor has marked, the oldest first; imported ones never wait.
    pub(crate) fn services_to_mark(&self) -> Vec<Service> {
        let records = self.records();
        let waiting = records.services_in_force().into_iter().filter(|service| self.waits_for_marks(service));
        let mut waiting: Vec<Service> = waiting.cloned().collect();
        waiting.order_by(|a, b| (a.began, &a.id).cmp(&(b.began, &b.id)));
        waiting
    }

    /// Whether a service waits to be marked by an assessor for the first time.
    pub(crate) fn waits_for_marks(&self, service: &Service) -> bool {
        let records = self.records();
        let marked = || records.assessors_outcomes(service).iter().any(|outcome| outcome.withdrawn.is_none());
        !service.is_imported() && service.will_be_assessed != Some(false) && !marked()
    }

    /// Returns how many services wait to be marked.
    pub(crate) fn waiting_for_marks(&self) -> usize {
        self.records().services_in_force().into_iter().filter(|service| self.waits_for_marks(service)).count()
    }

    /// Works out a trainee's standing.
    pub(crate) fn standing(&self, trainee: &PersonId) -> Option<Standing> {
        let records = self.records();
        let trainee = records.person(trainee)?;
        let now = reading().at;
        self.with_books(|books| {
            let services = records.services_in_force();
            let outcomes = records.outcomes_in_force();
            let decisions = records.decisions();
            standing(&StandingInput {
                trainee,
                now: &now,
                books,
                services: &services,
                outcomes: &outcomes,
                decisions: &decisions,
            })
        })
    }

    /// Returns the plan to propose at the couch: the present plan of who is using the device.
    pub(crate) fn present_plan(&self) -> Plan {
        let who = self.who().map(|person| person.id);
        who.and_then(|who| self.standing(&who)).map_or(Plan::Quarters, |standing| standing.plan)
    }

    /// Works out every competency of a trainee.
    pub(crate) fn competencies(&self, trainee: &PersonId) -> Vec<CompetencyRow> {
        let records = self.records();
        let now = reading().at;
        let rows = self.with_books(|books| {
            let services = records.services_in_force();
            let outcomes = records.outcomes_in_force();
            let sign_offs = records.sign_offs();
            let trials = records.trials();
            let input = EvidenceInput { trainee, books, services: &services, outcomes: &outcomes, trials: &trials };
            let row = |competency: &Competency| CompetencyRow {
                competency: competency.clone(),
                evidence: evidence_state(competency, &input),
                held: held(competency, &sign_offs, &input, &now).state,
            };
            books.present.competencies.iter().map(row).collect::<Vec<_>>()
        });
        rows.unwrap_or_default()
    }

    /// Works out all trials of a trainee, in the order opened.
    pub(crate) fn trials(&self, trainee: &PersonId) -> Result<Vec<TrialState>, String> {
        let records = self.records();
        let states = self.with_books(|books| {
            let services = records.services_in_force();
            let outcomes = records.outcomes_in_force();
            let trials = records.trials();
            trial_states(&TrialInput { trainee, books, services: &services, outcomes: &outcomes, trials: &trials })
        });
        states.unwrap_or_else(|| Ok(Vec::new()))
    }

    /// Returns the decisions about a competency of a trainee, the oldest first.
    pub(crate) fn sign_offs(&self, trainee: &PersonId, competency: &CompetencyId) -> Vec<SignOff> {
        let records = self.records();
        let mut all: Vec<SignOff> = records
            .sign_offs()
            .into_iter()
            .filter(|one| one.trainee == *trainee && one.competency == *competency)
            .cloned()
            .collect();
        all.order_by_key(|one| one.at);
        all
    }

    /// Gives the course books to a question; `None` while there is none.
    pub(crate) fn with_books<T>(&self, ask: impl FnOnce(Books<'_>) -> T) -> Option<T> {
        let books = self.books();
        let present = books.last()?;
        let adopted: Vec<&CourseBook> = books.iter().map(Arc::as_ref).collect();
        Some(ask(Books { present, adopted: &adopted }))
    }

    /// Asks the gate before lotion for what was prepared in a run.
    pub(crate) fn gate(&self, prepared: &Prepared, trainee: &PersonId, now: &Moment, drill: bool) -> Gate {
        let records = self.records();
        let Some(book) = self.book() else {
            return Gate { open: drill, blocks: Vec::new(), notes: vec!["No course book is in force.".to_owned()] };
        };
        let academy = records.academy();
        let region = academy.and_then(|academy| book.region(&academy.region));
        let instructors = self.instructors();
        let instructors: Vec<&PersonId> = instructors.iter().map(|person| &person.id).collect();
        let consents: Vec<_> = records.consents().into_iter().map(|consent| &consent.value).collect();
        let tests: Vec<_> = records.tests().into_iter().map(|test| &test.value).collect();
        let in_use: Vec<InUse<'_>> = prepared
            .products
            .values()
            .filter_map(|lot| {
                let recalled = records.recall_of(&lot.product, &lot.number).is_some();
                records.product(&lot.product).map(|product| InUse { product, lot, recalled })
            })
            .collect();
        gate(&GateInput {
            now,
            book: &book,
            academy: AcademyFacts {
                minimum_age: academy.map_or(18, |academy| academy.minimum_age),
                tint_allowed: self.tint_allowed(),
                region,
            },
            trainee,
            instructors: &instructors,
            practice_model: prepared.practice_model.as_ref().and_then(|id| records.practice_model(id)),
            consents: &consents,
            consent_checked: prepared.consent_checked,
            screening: prepared.screening.as_ref(),
            tests: &tests,
            tests_checked: prepared.tests_checked,
            products: &in_use,
            conditions: prepared.analysis.map(|_, analysis| analysis.as_ref().map(|a| a.condition)),
            tint: prepared.tint.unwrap_or(Tint::None),
            overrides: &prepared.overrides,
            drill,
            demo: self.demo(),
        })
    }
}
