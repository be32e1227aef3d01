//! Keeping: whether the browser promises not to clear the records, and what a backup would lack.

use chrono::Duration;
use leptos::prelude::*;
use practicum::moment::Moment;

use super::{Session, reading};
use crate::browser::store::{persist, persisted};

/// Key: the browser was asked to keep the records.
pub(super) const ASKED: &str = "asked-to-keep";

/// Days after which a backup is due again: proposal, no source.
pub(crate) const BACKUP_DAYS: i64 = 7;

/// Says on the first page that a backup is overdue; `None` while it is not.
///
/// A device that never saved one has a day from its first entry on (proposal, no source).
fn overdue_in_words(last: Option<Moment>, first: Option<Moment>, newer: usize, now: &Moment) -> Option<String> {
    let (newer, here) = match newer {
        0 => return None,
        1 => ("1 entry is newer".to_owned(), "1 entry stands here only".to_owned()),
        newer => (format!("{newer} entries are newer"), format!("{newer} entries stand here only")),
    };
    match (last, first) {
        (Some(last), _) if now.signed_duration_since(last) > Duration::days(BACKUP_DAYS) => Some(format!(
            "The last backup is of {}, more than {BACKUP_DAYS} days ago; {newer}.",
            last.format("%Y-%m-%d")
        )),
        (None, Some(first)) if now.signed_duration_since(first) > Duration::days(1) => {
            Some(format!("No backup was saved from this device yet: {here}."))
        }
        _ => None,
    }
}

impl Session {
    /// Says that a backup of this device is overdue; `None` while it is not, and for the demo.
    pub(crate) fn backup_overdue(&self) -> Option<String> {
        let (last, first) = (self.last_backup(), self.first_entry());
        (!self.demo()).then(|| overdue_in_words(last, first, self.entries_since(last), &reading().at)).flatten()
    }

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

#[cfg(test)]
mod tests {
    use practicum::moment::parse_moment;

    use super::overdue_in_words;

    #[test]
    fn the_first_page_asks_for_a_backup_when_one_is_overdue() {
        let moment = |text| parse_moment(text).unwrap();
        let now = moment("2026-03-29T12:00:00+01:00");
        let day = |text| Some(moment(text));
        assert_eq!(overdue_in_words(day("2026-03-23T12:00:00+01:00"), day("2026-01-01T12:00:00+01:00"), 5, &now), None);
        assert_eq!(overdue_in_words(day("2026-03-01T12:00:00+01:00"), day("2026-01-01T12:00:00+01:00"), 0, &now), None);
        let said = overdue_in_words(day("2026-03-01T12:00:00+01:00"), day("2026-01-01T12:00:00+01:00"), 37, &now);
        assert_eq!(said.unwrap(), "The last backup is of 2026-03-01, more than 7 days ago; 37 entries are newer.");
        assert_eq!(overdue_in_words(None, day("2026-03-29T10:00:00+01:00"), 4, &now), None);
        let said = overdue_in_words(None, day("2026-03-28T10:00:00+01:00"), 1, &now);
        assert_eq!(said.unwrap(), "No backup was saved from this device yet: 1 entry stands here only.");
    }
}
