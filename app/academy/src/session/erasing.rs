//! Erasing for good on this device: what would go, and writing the storage anew without it.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::checkup::{Finding, findings};
use logbook::erasure::bodies_of;
use logbook::subject::Subject;
use logbook::{Fact, record_file};
use practicum::ids::PersonId;
use practicum::person::Person;

use super::Session;
use crate::browser::store::StoreError;

/// A body that may be erased.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Erasable {
    /// Hash of its header.
    pub(crate) hash: String,
    /// Its kind, as the header says it.
    pub(crate) kind: String,
    /// Day it was written.
    pub(crate) day: String,
}

/// Returns the name under which an erased person's records stand from then on: one that says nothing.
pub(crate) fn former_name(person: &Person) -> String {
    let short: String = person.id.as_str().chars().take(6).collect();
    format!("Former {} {short}", person.role.word())
}

/// Whether a body says who somebody is; what was said anew after an erasure does not.
fn says_who(fact: &Fact) -> bool {
    match fact {
        Fact::PracticeModelAdded(known) => known.born.is_some() || known.guardian.is_some(),
        Fact::PersonEnrolled(person) => person.name != former_name(person),
        _ => true,
    }
}

impl Session {
    /// Returns what may be erased about a practice model or a person and is on this device.
    pub(crate) fn erasable(&self, of: &Subject) -> Vec<Erasable> {
        let _ = self.records();
        self.with_log(|log| {
            let bodies = bodies_of(log, of).into_iter().filter(|entry| entry.fact().is_some_and(|fact| says_who(fact)));
            let line = |entry: &logbook::entry::Entry| Erasable {
                hash: entry.hash().to_owned(),
                kind: entry.header().kind.word().to_owned(),
                day: entry.header().at.date_naive().to_string(),
            };
            bodies.map(line).collect()
        })
    }

    /// Writes the storage anew, in one transaction, where it may hold bodies that were erased. What could not be written
    /// is said at the top, and tried again whenever the records are opened.
    pub(super) async fn drop_erased(&self) {
        if !self.logbook.with_value(|logbook| logbook.holds_erased()) {
            return;
        }
        let (head, lines) = self.logbook.with_value(|logbook| (logbook.saved_head(), logbook.lines()));
        let written = match self.database() {
            Ok(database) => match database.replace_all(&head, &head, &lines).await {
                Ok(()) => {
                    self.logbook.update_value(|logbook| Arc::make_mut(logbook).written_anew());
                    Ok(())
                }
                // Another tab wrote first: this tab reads everything again then, and comes back here.
                Err(StoreError::HeadMoved) => Ok(()),
                Err(error) => Err(error.to_string()),
            },
            Err(sentence) => Err(sentence),
        };
        if let Err(sentence) = written {
            self.alert.set(Some(format!(
                "■ What was erased is out of sight and still on this device’s storage. {sentence} It is tried again when \
                 the app is opened."
            )));
        }
    }

    /// Lists everything that does not hold together.
    pub(crate) fn findings(&self) -> Vec<Finding> {
        let _ = self.records();
        self.logbook.with_value(|logbook| findings(logbook, &super::reading().at))
    }

    /// Writes one trainee's record as a file's text.
    pub(crate) fn record_file(&self, trainee: &PersonId, with_services: bool) -> Result<String, String> {
        let now = super::reading().at;
        self.logbook.with_value(|logbook| record_file::export(logbook, trainee, with_services, &now))
    }
}
