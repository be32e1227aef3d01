//! The app's state: the log on this device, who is using it, and the one way to write.
//!
//! Everything shown is worked out from [`Session::records`]; everything written goes through
//! [`Session::write`], which is on the disk before any screen changes.

mod checking;
mod credentials;
mod erasing;
mod evidence;
mod hand_over;
mod keeping;
mod keys;
mod learning;
mod lock;
mod lookups;
mod opening;
mod overrides;
mod pen;
mod pins;
mod reviews;
mod runs;
mod turns;
mod waiting;
mod writing;

use std::collections::BTreeMap;
use std::sync::Arc;

use leptos::prelude::*;
use leptos::reactive::graph::Observer;
use logbook::signature::PublicKey;
use logbook::{Logbook, Records};
use practicum::course_book::CourseBook;
use practicum::ids::{CompetencyId, DeviceId, PersonId};
use practicum::moment::Moment;

use crate::browser;
use crate::browser::store::Database;

pub(crate) use erasing::former_name;
pub(crate) use hand_over::{DeviceSeen, FileError, Given, Opening};
pub(crate) use keeping::BACKUP_DAYS;
pub(crate) use keys::KeysHere;
pub(crate) use learning::Learned;
pub(crate) use lock::Lock;
pub(crate) use overrides::{AnswerState, OverrideState};
pub(crate) use pen::sentence;
pub(crate) use pins::{RECOVERY_DIGITS, check_pin};
pub(crate) use reviews::{Reviewed, SignedRecord};
pub(crate) use runs::Response;
pub(crate) use turns::PageTurns;
pub(crate) use waiting::{DUPLICATES_PART, KINDS, OVERRIDES_PART, Place, WaitingLine};

/// What can be said of the storage on this device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Storage {
    /// Records are kept.
    Kept,
    /// Nothing can be kept; why, in a sentence.
    NotKept(String),
    /// A newer version of the app has the records now: this page keeps nothing more until it is loaded again.
    Outdated,
}

/// The app's state. Cheap to copy; all parts live as long as the page.
#[derive(Clone, Copy)]
pub(crate) struct Session {
    database: StoredValue<Option<Database>, LocalStorage>,
    logbook: StoredValue<Arc<Logbook>, LocalStorage>,
    /// How often another state of the logbook was shown.
    shown: StoredValue<u64>,
    /// How often a logbook was opened or took something in.
    openings: StoredValue<u64>,
    device: StoredValue<DeviceId>,
    ring: StoredValue<keys::Ring, LocalStorage>,
    keys_here: RwSignal<KeysHere>,
    pinned: StoredValue<Option<PublicKey>>,
    records: RwSignal<Arc<Records>>,
    books: RwSignal<Vec<Arc<CourseBook>>>,
    who: RwSignal<Option<PersonId>>,
    lock: RwSignal<Lock>,
    storage: RwSignal<Storage>,
    demo: RwSignal<bool>,
    runs: RwSignal<Vec<String>>,
    problems: RwSignal<Vec<String>>,
    /// Signatures are being checked.
    checking: StoredValue<bool>,
    last_backup: RwSignal<Option<Moment>>,
    keeps: RwSignal<Option<bool>>,
    /// A sentence for the top of the page: the last thing that went wrong anywhere.
    pub(crate) alert: RwSignal<Option<String>>,
    /// Competencies that were opened here: by whom, whose, which; with what their evidence was then.
    opened: RwSignal<BTreeMap<(PersonId, PersonId, CompetencyId), String>>,
}

/// Reads the device's clocks.
pub(crate) fn reading() -> practicum::moment::Reading {
    browser::clock::now().tap()
}

/// Returns the session that the app provides.
pub(crate) fn session() -> Session {
    expect_context::<Session>()
}

/// Reads a part of the state: followed where something follows, otherwise as it is at this moment.
///
/// A closure of a view, a memo and an effect follow; the body of a component and what a tap does take a look.
fn look<T: Send + Sync + 'static, U>(part: RwSignal<T>, read: impl FnOnce(&T) -> U) -> U {
    if Observer::get().is_some() { part.with(read) } else { part.with_untracked(read) }
}

impl Session {
    /// Returns the records, following their changes.
    pub(crate) fn records(&self) -> Arc<Records> {
        look(self.records, Arc::clone)
    }

    /// Returns the records as they are now, without following them.
    pub(crate) fn records_now(&self) -> Arc<Records> {
        self.records.get_untracked()
    }

    /// Returns the course book in force, following changes; the example until an academy adopts another.
    pub(crate) fn book(&self) -> Option<Arc<CourseBook>> {
        look(self.books, |books| books.last().cloned())
    }

    /// Returns every course book as [`Self::books`] does, without following changes.
    pub(crate) fn books_now(&self) -> Vec<Arc<CourseBook>> {
        self.books.get_untracked()
    }

    /// Returns every course book that records were made under, the one in force last.
    pub(crate) fn books(&self) -> Vec<Arc<CourseBook>> {
        look(self.books, Clone::clone)
    }

    /// Whether the demo's records are shown.
    pub(crate) fn demo(&self) -> bool {
        look(self.demo, |demo| *demo)
    }

    /// Returns the identifier under which this device writes.
    pub(crate) fn device(&self) -> DeviceId {
        self.device.get_value()
    }

    /// Returns what can be said of the storage.
    pub(crate) fn storage(&self) -> Storage {
        look(self.storage, Clone::clone)
    }

    /// Returns the identifiers of the runs under way on this device.
    pub(crate) fn runs(&self) -> Vec<String> {
        look(self.runs, Clone::clone)
    }

    /// Returns what does not hold together in the log, in sentences; shown, never repaired in silence.
    pub(crate) fn problems(&self) -> Vec<String> {
        look(self.problems, Clone::clone)
    }

    fn database(&self) -> Result<Database, String> {
        self.database
            .get_value()
            .ok_or_else(|| "Nothing will be kept: the browser refused to store records.".to_owned())
    }
}
