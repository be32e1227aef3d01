//! What sign-offs stand on: filled in from the log when they are given, looked up whenever one is shown.

use leptos::prelude::*;
use logbook::Fact;
use logbook::evidence::{self, Evidence};
use practicum::competency::{SignOff, StandsOn};
use practicum::ids::{DeviceId, ServiceId};

use super::Session;

impl Session {
    /// Says in every sign-off what it stands on: the course book in force and the entries of its services and marks,
    /// as they stand in the log now.
    ///
    /// # Errors
    /// Returns a sentence when no course book is in force.
    pub(super) fn standing_on_evidence(&self, facts: Vec<Fact>) -> Result<Vec<Fact>, String> {
        let fill = |fact: Fact| match fact {
            Fact::SignedOff(sign_off) if sign_off.stands_on.is_none() => {
                let book = untrack(|| self.book()).ok_or("No course book is in force.")?;
                let evidence = self
                    .logbook
                    .with_value(|logbook| evidence::of_services(logbook.log(), logbook.records(), &sign_off.services));
                let stands_on = Some(StandsOn { course_book: book.id.clone(), evidence });
                Ok(Fact::SignedOff(SignOff { stands_on, ..sign_off }))
            }
            fact => Ok(fact),
        };
        facts.into_iter().map(fill).collect()
    }

    /// Gives the log to a question; whoever follows what it says follows the records.
    pub(crate) fn with_log<T>(&self, ask: impl FnOnce(&logbook::log::Log) -> T) -> T {
        self.logbook.with_value(|logbook| ask(logbook.log()))
    }

    /// Returns the device that recorded a service first.
    pub(crate) fn device_of(&self, service: &ServiceId) -> Option<DeviceId> {
        let entry = self.records().service(service)?.entry.clone();
        self.with_log(|log| log.entry(&entry).map(|entry| entry.header().device.clone()))
    }

    /// Looks up what became of the evidence of a sign-off; `None` for one that does not say what it stands on.
    pub(crate) fn evidence_of(&self, sign_off: &SignOff) -> Option<Evidence> {
        let records = self.records();
        self.logbook.with_value(|logbook| evidence::of_sign_off(logbook.log(), logbook.trust(), &records, sign_off))
    }
}
