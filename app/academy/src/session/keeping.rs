//! Keeping: whether the browser promises not to clear the records, and what a backup would lack.

use leptos::prelude::*;
use practicum::moment::Moment;

use super::Session;
use crate::browser::store::{persist, persisted};

/// Key: the browser was asked to keep the records.
pub(super) const ASKED: &str = "asked-to-keep";

impl Session {
    /// Returns whether the browser promises to keep the records, following changes; `None` while it was not asked.
    pub(crate) fn keeps(&self) -> Option<bool> {
        self.keeps.get()
    }

    /// Asks the browser to keep the records, once, after the first real save: before that there is nothing to keep,
    /// and a question out of nowhere would be refused.
    pub(super) fn ask_to_keep(&self) {
        if self.demo.get_untracked() || self.keeps.get_untracked().is_some() {
            return;
        }
        let session = *self;
        leptos::task::spawn_local(async move {
            let Ok(database) = session.database() else { return };
            if database.get_meta(ASKED).await != Ok(None) {
                return;
            }
            // What the browser answers stands with the browser; here only that it was asked.
            let kept = persisted().await || persist().await == Some(true);
            session.keeps.set(Some(kept));
            if database.put_meta(&[(ASKED, "yes")]).await.is_err() {
                // It is asked again after another save.
                session.keeps.set(None);
            }
        });
    }

    /// Asks the browser whether it keeps the records by now.
    pub(super) fn look_whether_kept(&self) {
        let keeps = self.keeps;
        leptos::task::spawn_local(async move {
            let kept = persisted().await;
            keeps.set(Some(kept));
        });
    }

    /// Returns how many entries here were written after a moment, or ever: what a backup of then lacks at least.
    pub(crate) fn entries_since(&self, moment: Option<Moment>) -> usize {
        // Followed: the records change with the log.
        let _ = self.records();
        let later = |at: &Moment| moment.is_none_or(|moment| *at > moment);
        self.logbook.with_value(|logbook| logbook.log().entries().filter(|entry| later(&entry.header().at)).count())
    }

    /// Returns when the first entry here was written.
    pub(crate) fn first_entry(&self) -> Option<Moment> {
        let _ = self.records();
        self.logbook.with_value(|logbook| logbook.log().entries().next().map(|entry| entry.header().at))
    }
}
