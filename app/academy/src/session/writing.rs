//! The one way to write: entries are on the disk before any screen changes.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::{Draft, Fact, Logbook};
use practicum::ids::PersonId;
use practicum::moment::Moment;

use super::Session;
use crate::browser;
use crate::browser::store::{Also, StoreError, Taps};

/// How often a write is tried again after another tab wrote first.
pub(super) const TRIES: usize = 3;

/// A fact with its author and moment.
pub(crate) struct Said {
    /// Who says it.
    pub(crate) author: PersonId,
    /// When.
    pub(crate) at: Moment,
    /// What.
    pub(crate) fact: Fact,
}

impl Session {
    /// Writes facts in the name of who is using the device, all or none.
    ///
    /// # Errors
    /// Returns a sentence when nobody is named, an instructor or the owner is locked, or nothing could be
    /// saved; nothing has changed then.
    pub(crate) async fn write(&self, facts: Vec<Fact>) -> Result<(), String> {
        let author = self.author()?;
        self.write_said(said_now(&author, facts), &Also::default()).await
    }

    fn author(&self) -> Result<PersonId, String> {
        let who = self.who.get_untracked();
        let records = self.records_now();
        let person = who.as_ref().and_then(|who| records.person(who));
        let Some(person) = person else {
            return Err("Say at the top who is using this device, then do it again. Nothing was lost.".to_owned());
        };
        if person.role.may_assess() && !self.unlocked_now() {
            return Err(format!(
                "{} is locked again after five minutes: unlock at the top, then do it again. Nothing was lost.",
                person.name
            ));
        }
        Ok(person.id.clone())
    }

    /// Writes facts of who is using the device together with rows of the run under way: one transaction.
    ///
    /// # Errors
    /// As [`Session::write`].
    pub(super) async fn write_with_taps(&self, facts: Vec<Fact>, taps: Taps<'_>) -> Result<(), String> {
        let author = self.author()?;
        self.write_said(said_now(&author, facts), &Also { taps: Some(taps), ..Also::default() }).await
    }

    /// Writes dated facts with what belongs to them, in one transaction.
    ///
    /// # Errors
    /// Returns a sentence when nothing could be saved.
    pub(super) async fn write_said(&self, said: Vec<Said>, also: &Also<'_>) -> Result<(), String> {
        if said.is_empty() && *also == Also::default() {
            return Ok(());
        }
        let database = self.database()?;
        for _ in 0..TRIES {
            let (logbook, expected, lines) = with_entries(self.logbook.get_value(), &said)?;
            match database.append(&expected, &logbook.head(), &lines, also).await {
                Ok(()) => {
                    self.show(logbook);
                    browser::tabs::announce(super::opening::CHANGED);
                    self.touch();
                    return Ok(());
                }
                // Another tab wrote first: take in what it wrote, then write after it.
                Err(StoreError::HeadMoved) => self.reload().await?,
                Err(error) => return Err(error.to_string()),
            }
        }
        Err(StoreError::HeadMoved.to_string())
    }

    /// Shows a logbook: everything on the screen is worked out from it.
    pub(super) fn show(&self, logbook: Logbook) {
        let records = Arc::new(logbook.records().clone());
        self.logbook.set_value(logbook);
        self.books.set(super::opening::books(&records));
        self.records.set(records);
    }
}

/// Says facts now in the name of a person.
pub(super) fn said_now(author: &PersonId, facts: Vec<Fact>) -> Vec<Said> {
    let at = super::reading().at;
    facts.into_iter().map(|fact| Said { author: author.clone(), at, fact }).collect()
}

/// Returns a logbook as it would be with these facts, the head before, and the lines to save.
pub(super) fn with_entries(mut logbook: Logbook, said: &[Said]) -> Result<(Logbook, String, Vec<String>), String> {
    let expected = logbook.head();
    let mut lines = Vec::with_capacity(said.len());
    for together in said.chunk_by(|one, next| one.at == next.at) {
        let Some(at) = together.first().map(|one| one.at) else { continue };
        let drafts: Vec<Draft> = together.iter().map(|one| Draft::new(&one.author, one.fact.clone())).collect();
        let prepared = logbook.prepare(&drafts, at, &mut browser::random::hex_id).map_err(|error| error.to_string())?;
        lines.extend(prepared.lines.iter().cloned());
        logbook.commit(prepared);
    }
    Ok((logbook, expected, lines))
}
