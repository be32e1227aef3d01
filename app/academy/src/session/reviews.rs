//! Course-end reviews: gathered for one trainee at a time, and signed by the owner.

use leptos::prelude::*;
use logbook::log::Log;
use logbook::review::Review;
use logbook::review_code::{Said, SignedCompetency, hash_of, plain_fingerprint, trainee_code};
use logbook::{Records, record_file};
use practicum::competency::{EvidenceInput, evidence_state, held};
use practicum::evidence::{Books, TrialInput, TrialState, trial_states};
use practicum::group::ByTrainee;
use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::outcome::Outcome;
use practicum::person::Person;
use practicum::service::Service;
use practicum::standing::{Standing, StandingInput, standing};

use super::Session;
use crate::review::Competence;

/// One trainee's review, with all that its document needs.
#[derive(Debug, Clone)]
pub(crate) struct Reviewed {
    /// What the record says.
    pub(crate) review: Review,
    /// Whose.
    pub(crate) person: Person,
    /// Where the trainee is.
    pub(crate) standing: Standing,
    /// The last trial.
    pub(crate) trial: Option<TrialState>,
    /// Every competency.
    pub(crate) competencies: Vec<Competence>,
    /// Live services, numbered as in the review.
    pub(crate) services: Vec<(u32, Service)>,
    /// Outcomes of these.
    pub(crate) outcomes: Vec<Outcome>,
}

/// A record that was put together to be handed out, and the code that stands for it on paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SignedRecord {
    /// The record file.
    pub(crate) record: String,
    /// The code.
    pub(crate) code: String,
    /// As of when.
    pub(crate) at: Moment,
}

impl Reviewed {
    /// Gathers one trainee's review; `None` when the trainee is not known here.
    pub(crate) fn gather(
        records: &Records,
        log: &Log,
        sorted: &ByTrainee,
        books: Books<'_>,
        trainee: &PersonId,
        now: &Moment,
    ) -> Option<Self> {
        let person = records.person(trainee)?;
        let review = Review::of(records, log, &books, trainee, now)?;
        let (services, outcomes) = (sorted.services(trainee), sorted.outcomes(trainee));
        let (decisions, trials, sign_offs) = (records.decisions(), records.trials(), records.sign_offs());
        let standing =
            standing(&StandingInput { trainee: person, now, books, services, outcomes, decisions: &decisions });
        let trial = trial_states(&TrialInput { trainee, books, services, outcomes, trials: &trials });
        let input = EvidenceInput { trainee, books, services, outcomes, trials: &trials };
        let competence = |competency: &practicum::course_book::Competency| {
            let evidence = evidence_state(competency, &input);
            Competence {
                label: competency.label.clone(),
                lines: evidence.lines,
                held: held(competency, &sign_offs, &input, now).state,
            }
        };
        let live = services.iter().filter(|service| service.is_service());
        Some(Reviewed {
            review,
            person: person.clone(),
            standing,
            trial: trial.ok().and_then(|mut states| states.pop()),
            competencies: books.present.competencies.iter().map(competence).collect(),
            services: (1..).zip(live).map(|(number, service)| (number, (*service).clone())).collect(),
            outcomes: outcomes.iter().map(|outcome| (*outcome).clone()).collect(),
        })
    }
}

impl Session {
    /// Gathers one trainee's review; `None` when the trainee is not known here.
    pub(crate) fn reviewed(
        &self,
        records: &Records,
        sorted: &ByTrainee,
        books: Books<'_>,
        trainee: &PersonId,
        now: &Moment,
    ) -> Option<Reviewed> {
        self.with_log(|log| Reviewed::gather(records, log, sorted, books, trainee, now))
    }

    /// Puts a trainee's record together and has the owner's key sign the code that stands for it.
    ///
    /// # Errors
    /// Returns a sentence when the academy has no key, the owner has not unlocked, or nothing could be signed.
    pub(crate) async fn sign_record(&self, trainee: &PersonId) -> Result<SignedRecord, String> {
        let at = super::reading().at;
        let academy = untrack(|| self.academy_key())
            .ok_or("This academy has no key, so nobody can sign its records: see “Keys”.")?;
        let (records, books) = (self.records_now(), self.books_now());
        let present = books.last().ok_or("No course book is in force.")?;
        let adopted: Vec<_> = books.iter().map(std::sync::Arc::as_ref).collect();
        let books = Books { present, adopted: &adopted };
        let review = self.with_log(|log| Review::of(&records, log, &books, trainee, &at));
        let review = review.ok_or("This trainee is not on this device.")?;
        let record = self.logbook.with_value(|logbook| record_file::export(logbook, trainee, false, &at))?;
        let sign_offs = review.signed().into_iter().map(|line| SignedCompetency {
            competency: line.competency.clone(),
            level: line.level,
            on: line.at.date_naive(),
        });
        let sign_offs = sign_offs.collect();
        let said = |key| {
            let said = Said {
                key,
                academy: plain_fingerprint(&academy),
                trainee: trainee_code(trainee, &academy),
                on: at.date_naive(),
                record_hash: hash_of(record.as_bytes()),
                sign_offs,
                more: 0,
            };
            let said = said.shortened();
            let bytes = said.to_sign();
            (said, bytes)
        };
        let (said, signature) = self.sign_as_owner(said).await?;
        let code = said.signed(&signature)?;
        Ok(SignedRecord { record, code, at })
    }
}
