//! Overrides that were claimed at the couch: what became of each, and which wait for the instructor they name.

use logbook::Records;
use std::sync::Arc;

use leptos::prelude::WithValue;
use logbook::challenge::Asked;
use logbook::entry::{Checked, Unverified};
use logbook::fact::{Fact, OverrideAnswer};
use logbook::hand_over::codes;
use logbook::records::Refusal;
use practicum::couch::{Act, Override, Tap};
use practicum::ids::{PersonId, ServiceId};
use practicum::service::Service;

use super::Session;
use crate::browser::store::StoreError;

/// What became of an override.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum OverrideState {
    /// The instructor it names has confirmed it.
    Confirmed,
    /// It was claimed in an instructor's name, who has said nothing yet.
    Claimed,
    /// The instructor it names has refused it.
    Refused(Refusal),
}

/// How far the answer to an override's code has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum AnswerState {
    /// Nothing yet.
    None,
    /// An answer was typed, and the instructor's entry is not here to compare it with.
    Typed,
    /// The instructor's signed entry lets it pass.
    Allowed,
    /// The instructor's signed entry refuses it.
    Refused,
    /// What was typed is not what the instructor's entry gives.
    Differs,
}

fn override_state(records: &Records, service: &ServiceId, made: &Override) -> OverrideState {
    let same = |refusal: &&Refusal| refusal.reason_code == made.reason_code && refusal.by == made.by;
    match (made.confirmed, records.refusals_of(service).iter().find(same)) {
        (true, _) => OverrideState::Confirmed,
        (false, Some(refusal)) => OverrideState::Refused(refusal.clone()),
        (false, None) => OverrideState::Claimed,
    }
}

fn overrides_to_confirm(records: &Records) -> Vec<(ServiceId, Override)> {
    let services = records.services_in_force().into_iter();
    let all = services.flat_map(|service| service.overrides.iter().map(|made| (service.id.clone(), made.clone())));
    let mut waiting: Vec<_> =
        all.filter(|(id, made)| override_state(records, id, made) == OverrideState::Claimed).collect();
    waiting.dedup_by(|a, b| a.0 == b.0 && a.1.reason_code == b.1.reason_code && a.1.by == b.1.by);
    waiting
}

impl Session {
    /// Whether an override of this service is not confirmed.
    pub(crate) fn has_claimed_override(&self, service: &Service) -> bool {
        service.overrides.iter().any(|made| !made.confirmed)
    }

    /// Returns what became of an override.
    pub(crate) fn override_state(&self, service: &ServiceId, made: &Override) -> OverrideState {
        override_state(&self.records(), service, made)
    }

    /// Returns what the couch asks the instructor for an override; `None` where the academy has no key, so that
    /// nothing can be signed.
    pub(crate) fn asked_of(&self, service: &ServiceId, trainee: &PersonId, made: &Override) -> Option<Asked> {
        let records = self.records();
        let challenge = records.is_keyed().then(|| records.challenge(service, made))??;
        Some(Asked { challenge, trainee: trainee.clone(), reason_code: made.reason_code.clone() })
    }

    /// Says how far the answer to an override's code has come, following changes.
    pub(crate) fn answer_state(&self, challenge: &str, by: &PersonId) -> AnswerState {
        let records = self.records();
        let typed = records.typed_answer_to(challenge);
        match (records.answer_to(challenge, by), typed) {
            (Some(answer), Some(typed)) if answer.code.as_deref() != Some(typed) => AnswerState::Differs,
            (Some(answer), _) if answer.allowed => AnswerState::Allowed,
            (Some(_), _) => AnswerState::Refused,
            (None, Some(_)) => AnswerState::Typed,
            (None, None) => AnswerState::None,
        }
    }

    /// Returns the codes that show an instructor's signed answer, for the couch to read.
    pub(crate) fn answer_codes(&self, challenge: &str, by: &PersonId) -> Vec<String> {
        let entry = self.records().answer_to(challenge, by).map(|answered| answered.entry.clone());
        let line = self.logbook.with_value(|logbook| {
            entry.and_then(|entry| logbook.log().entry(&entry).map(|entry| entry.line().to_owned()))
        });
        line.and_then(|line| codes::cut(line.as_bytes()).ok()).unwrap_or_default()
    }

    /// Takes in an instructor's signed answer that the couch has read: one entry, looked at before it is kept.
    ///
    /// # Errors
    /// Returns a sentence when it is no answer to this code, or could not be kept; nothing has changed then.
    pub(crate) async fn take_answer(&self, read: &[u8], asked: &Asked, by: &PersonId) -> Result<(), String> {
        let other = || "This is not the answer to this code. Nothing was changed.".to_owned();
        let line = std::str::from_utf8(read).map_err(|_| other())?;
        let Checked::Sound(entry) = Unverified::read(line).map_err(|_| other())?.check() else {
            return Err("The signature of this answer does not hold. Nothing was changed.".to_owned());
        };
        let answers = matches!(
            entry.fact().map(Arc::as_ref),
            Some(Fact::OverrideAnswered(answer)) if answer.challenge == asked.challenge
        );
        if !answers || entry.header().author != *by || entry.signer().is_none() {
            return Err(other());
        }
        let database = self.database()?;
        for _ in 0..super::writing::TRIES {
            let head = self.logbook.with_value(|logbook| logbook.saved_head());
            let lines = [entry.line().to_owned()];
            match database.append(&head, &head, &lines, &crate::browser::store::Also::default()).await {
                Ok(()) => {
                    self.reload().await?;
                    crate::browser::tabs::announce(super::opening::CHANGED);
                    return Ok(());
                }
                Err(StoreError::HeadMoved) => self.reload().await?,
                Err(error) => return Err(error.to_string()),
            }
        }
        Err(StoreError::HeadMoved.to_string())
    }

    /// Returns the entries that belong to overrides confirmed by the instructor who has unlocked this device: each is
    /// signed by that instructor's own key, for the taps of a run are not.
    pub(super) fn answers_to_taps(&self, service: &ServiceId, trainee: &PersonId, taps: &[Tap]) -> Vec<Fact> {
        let records = self.records_now();
        let answer = |tap: &Tap| {
            let Act::Overridden(made) = &tap.act else { return None };
            let challenge = (made.confirmed && records.is_keyed()).then(|| records.challenge(service, made))??;
            let (reason_code, why) = (made.reason_code.clone(), made.why.clone());
            let answer = OverrideAnswer { challenge, reason_code, trainee: trainee.clone(), allowed: true, why };
            Some(Fact::OverrideAnswered(answer))
        };
        taps.iter().filter_map(answer).collect()
    }

    /// Returns the overrides that were claimed and neither confirmed nor refused, the oldest service first.
    pub(crate) fn overrides_to_confirm(&self) -> Vec<(ServiceId, Override)> {
        let records = self.records();
        overrides_to_confirm(&records)
    }
}

#[cfg(test)]
mod tests {
    use logbook::{Draft, Logbook};
    use practicum::couch::Override;
    use practicum::moment::parse_moment;
    use practicum::service::Service;

    use super::{OverrideState, override_state, overrides_to_confirm};

    #[test]
    fn a_claimed_override_waits_until_its_instructor_has_confirmed_or_refused_it() {
        let book = practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap();
        let today = parse_moment("2026-11-25T12:00:00+00:00").unwrap();
        let mut logbook = Logbook::new("d".into());
        let mut number = 0_u128;
        let mut fresh = || {
            number += 1;
            format!("{number:032x}")
        };
        let mut write = |logbook: &mut Logbook, draft: Draft, at| {
            let prepared = logbook.prepare(&[draft], at, &mut fresh).unwrap();
            logbook.commit(prepared);
        };
        for dated in crate::demo::facts(&book, today) {
            write(&mut logbook, Draft::new(&dated.author, dated.fact), dated.at);
        }
        assert_eq!(overrides_to_confirm(logbook.records()), []);
        let made = Override {
            reason_code: "test-interval-academy".to_owned(),
            by: "demo-instructor-1".into(),
            why: "inside the label".to_owned(),
            confirmed: false,
        };
        let first = logbook.records().services()[0].value.clone();
        let service = Service { id: "claimed".into(), overrides: vec![made.clone()], ..first };
        let (id, by) = (service.id.clone(), made.by.clone());
        write(&mut logbook, Draft::service_logged(&service.trainee.clone(), service), today);
        assert_eq!(overrides_to_confirm(logbook.records()), [(id.clone(), made.clone())]);
        assert_eq!(override_state(logbook.records(), &id, &made), OverrideState::Claimed);
        let refuse = Draft::override_refused(&by, id.clone(), made.reason_code.clone(), "not asked".to_owned());
        write(&mut logbook, refuse, today);
        assert_eq!(overrides_to_confirm(logbook.records()), []);
        let state = override_state(logbook.records(), &id, &made);
        assert!(matches!(state, OverrideState::Refused(refusal) if refusal.why == "not asked"));
        let confirm = Draft::override_noted(&by, id.clone(), Override { confirmed: true, ..made });
        write(&mut logbook, confirm, today);
        let confirmed = &logbook.records().service(&id).unwrap().value.overrides[0];
        assert_eq!(override_state(logbook.records(), &id, confirmed), OverrideState::Confirmed);
    }
}
