//! A device's logbook: its log and what it adds up to. Saved first, shown after.

use std::sync::Arc;

use practicum::ids::{DeviceId, EntryId};
use practicum::moment::Moment;

use crate::draft::Draft;
use crate::entry::{Checked, Entry, Place};
use crate::fact::Fact;
use crate::log::{Inserted, Log, Problem};
use crate::records::{Records, reached};
use crate::rights::Rights;
use crate::store::{Store, StoreFault};

/// A device's log and its records.
#[derive(Debug, Clone)]
pub struct Logbook {
    device: DeviceId,
    log: Log,
    records: Records,
    saved_head: Option<String>,
}

/// Entries that are ready to be saved, and not yet shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prepared {
    /// Lines to append.
    pub lines: Vec<String>,
    /// Hash that the device's chain must end with before.
    pub expected_head: String,
    /// Hash that it ends with afterwards.
    pub new_head: String,
    entries: Vec<Entry>,
}

impl Prepared {
    /// Returns the identifiers of the new entries, in the order of their drafts.
    pub fn ids(&self) -> Vec<EntryId> {
        self.entries.iter().map(|entry| entry.header().id.clone()).collect()
    }
}

/// Why something was not recorded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotRecorded {
    /// It cannot be an entry; a sentence.
    #[error("{0}")]
    Refused(String),
    /// The store did not take it.
    #[error("{0}")]
    Store(#[from] StoreFault),
}

impl Logbook {
    /// Starts an empty logbook.
    pub fn new(device: DeviceId) -> Self {
        Self { device, log: Log::default(), records: Records::default(), saved_head: None }
    }

    /// Opens what a store holds: packs of lines parted by line feeds, and the head noted beside them.
    ///
    /// Nothing is lost that cannot be read: it is kept, and listed by [`Logbook::problems`].
    pub fn open<T: AsRef<str>>(device: DeviceId, packs: &[T], head: &str) -> Self {
        let mut log = Log::default();
        for line in packs.iter().flat_map(|pack| pack.as_ref().lines()).filter(|line| !line.is_empty()) {
            log.insert_line(line);
        }
        let records = Records::of(&log);
        Self { device, log, records, saved_head: Some(head.to_owned()) }
    }

    /// Returns the records.
    pub fn records(&self) -> &Records {
        &self.records
    }

    /// Returns the log.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// Returns this device.
    pub fn device(&self) -> &DeviceId {
        &self.device
    }

    /// Returns the hash that this device's chain ends with; empty before its first entry.
    pub fn head(&self) -> String {
        self.log.head(&self.device)
    }

    /// Returns the head that the store noted, which is the chain's end unless lines of it were lost.
    pub fn saved_head(&self) -> String {
        self.saved_head.clone().unwrap_or_else(|| self.head())
    }

    /// Lists everything that does not hold together.
    pub fn problems(&self) -> Vec<Problem> {
        let mut problems = self.log.problems();
        if self.saved_head.as_ref().is_some_and(|saved| *saved != self.head()) {
            problems.push(Problem::EndMissing { device: self.device.clone() });
        }
        problems
    }

    /// Makes entries of drafts, to be saved together or not at all. `fresh` gives 32 new random lower-case hex
    /// digits at every call.
    ///
    /// # Errors
    /// Returns a sentence when one of them cannot be recorded, or its author has no right to it; then none is.
    pub fn prepare(
        &self,
        drafts: &[Draft],
        at: Moment,
        fresh: &mut dyn FnMut() -> String,
    ) -> Result<Prepared, NotRecorded> {
        let expected_head = self.head();
        let (mut previous, mut sequence) = (expected_head.clone(), self.log.next_sequence(&self.device));
        let mut entries = Vec::with_capacity(drafts.len());
        for (place, draft) in drafts.iter().enumerate() {
            self.allow(draft)?;
            let before = drafts.get(..place).unwrap_or_default();
            Rights::new(&self.log, &self.records, before).check(draft).map_err(NotRecorded::Refused)?;
            let (id, salt) = (EntryId::new(fresh()), fresh());
            if self.log.entry(&id).is_some() {
                return Err(NotRecorded::Refused(
                    "Nothing was saved: two entries drew the same name. Try again.".to_owned(),
                ));
            }
            let place = Place { id, device: self.device.clone(), sequence, previous, at, salt };
            let entry = Entry::write(draft, place)
                .map_err(|why| NotRecorded::Refused(format!("This cannot be recorded: {why}.")))?;
            previous = entry.hash().to_owned();
            sequence = sequence.saturating_add(1);
            entries.push(entry);
        }
        let lines = entries.iter().map(|entry| entry.line().to_owned()).collect();
        Ok(Prepared { lines, expected_head, new_head: previous, entries })
    }

    fn allow(&self, draft: &Draft) -> Result<(), NotRecorded> {
        let no = |why: &str| Err(NotRecorded::Refused(why.to_owned()));
        match &draft.fact {
            Fact::AcademyFounded(_) if self.records.academy().is_some() => no("An academy is founded here already."),
            Fact::AcademyKeyMade { .. } | Fact::KeyAdmitted(_) | Fact::KeyEnded { .. } | Fact::LogSeen { .. } => {
                no("Only a key signs this, and this device writes without one yet.")
            }
            Fact::BookAdopted { id, text } => self.records.may_adopt(id, text).map_err(NotRecorded::Refused),
            Fact::Corrected { reason, .. } if reason.trim().is_empty() => no("Say why it is corrected."),
            Fact::Corrected { fact, .. } if matches!(fact.as_ref(), Fact::TrialOpened(_)) => {
                no("What a trial fixed is never changed: open a new one.")
            }
            Fact::Corrected { of, fact, .. } => {
                let first = match self.log.entry(of).and_then(|entry| entry.fact()).map(Arc::as_ref) {
                    Some(Fact::Corrected { fact, .. }) => fact,
                    Some(fact) => fact,
                    None => return no("What is to be corrected is not on this device."),
                };
                match reached(first, fact) {
                    Some(_) => Ok(()),
                    None => no("A correction must speak of the same record, and cannot change what the clocks took."),
                }
            }
            _ => Ok(()),
        }
    }

    /// Shows entries that were saved.
    pub fn commit(&mut self, prepared: Prepared) -> Vec<EntryId> {
        let ids = prepared.ids();
        self.saved_head = self.saved_head.as_ref().map(|_| prepared.new_head);
        for entry in prepared.entries {
            if let Inserted::Added(entry) = self.log.insert(Checked::Sound(entry)) {
                self.records.apply(&self.log, &entry);
            }
        }
        ids
    }

    /// Saves drafts to a store and shows them then.
    ///
    /// # Errors
    /// Returns why nothing was recorded; the logbook is as it was.
    pub fn record(
        &mut self,
        store: &mut dyn Store,
        drafts: &[Draft],
        at: Moment,
        fresh: &mut dyn FnMut() -> String,
    ) -> Result<Vec<EntryId>, NotRecorded> {
        let prepared = self.prepare(drafts, at, fresh)?;
        store.append(&prepared.expected_head, &prepared.new_head, &prepared.lines)?;
        Ok(self.commit(prepared))
    }

    /// Takes in what another tab has saved since: all packs and the head, as read again.
    pub fn catch_up<T: AsRef<str>>(&mut self, packs: &[T], head: &str) {
        let mut changed = false;
        for line in packs.iter().flat_map(|pack| pack.as_ref().lines()).filter(|line| !line.is_empty()) {
            changed |= !matches!(self.log.insert_line(line), Some(Inserted::Known));
        }
        self.saved_head = Some(head.to_owned());
        if changed {
            self.records.rebuild(&self.log);
        }
    }
}
