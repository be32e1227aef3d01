//! Opening the records on this device, the demo, and a backup.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::{Logbook, Records};
use practicum::course_book::{CourseBook, example, text};
use practicum::ids::{DeviceId, PersonId};

use super::writing::Said;
use super::{Lock, Session, Storage};
use crate::browser;
use crate::browser::store::{DEMO, Database, RECORDS};

/// Preference: the demo was open last.
const LAST: &str = "demo-open";

impl Session {
    /// Makes an empty session.
    pub(crate) fn new() -> Self {
        Self {
            database: StoredValue::new_local(None),
            logbook: StoredValue::new_local(Logbook::new(DeviceId::new(String::new()))),
            device: StoredValue::new(DeviceId::new(String::new())),
            records: RwSignal::new(Arc::new(Records::default())),
            books: RwSignal::new(bundled().into_iter().collect()),
            who: RwSignal::new(None),
            lock: RwSignal::new(Lock::default()),
            storage: RwSignal::new(Storage::Kept),
            demo: RwSignal::new(false),
            runs: RwSignal::new(Vec::new()),
            problems: RwSignal::new(Vec::new()),
            alert: RwSignal::new(None),
        }
    }

    /// Opens what was open last: the records, or the demo.
    pub(crate) async fn open_last(&self) {
        let demo = browser::page::get_pref::<bool>(LAST).unwrap_or(false);
        let opened = if demo { self.open(DEMO).await } else { self.open(RECORDS).await };
        if let Err(sentence) = opened {
            self.storage.set(Storage::NotKept(sentence));
        }
        let session = *self;
        browser::tabs::on_message(move |_| {
            leptos::task::spawn_local(async move {
                if let Err(sentence) = session.reload().await {
                    session.alert.set(Some(sentence));
                }
            });
        })
        .keep();
    }

    async fn open(&self, name: &str) -> Result<(), String> {
        let say = |error: browser::store::StoreError| error.to_string();
        let database = Database::open(name).await.map_err(say)?;
        let device = match database.get_meta("device").await.map_err(say)? {
            Some(device) => device,
            None => {
                let device = browser::random::hex_id();
                database.put_meta("device", &device).await.map_err(say)?;
                device
            }
        };
        let pin_set = database.get_meta("pin-set").await.map_err(say)?.is_some();
        let who = database.get_meta("who").await.map_err(say)?;
        self.device.set_value(DeviceId::new(device));
        self.demo.set(name == DEMO);
        self.lock.set(Lock::closed(pin_set));
        self.database.set_value(Some(database));
        self.storage.set(Storage::Kept);
        self.reload().await?;
        let records = self.records_now();
        let known =
            who.map(PersonId::new).filter(|who| records.person(who).is_some_and(|person| person.left.is_none()));
        self.who.set(known);
        browser::page::set_pref(LAST, name == DEMO);
        Ok(())
    }

    /// Reads everything from the disk again.
    pub(crate) async fn reload(&self) -> Result<(), String> {
        let database = self.database()?;
        let loaded = database.load().await.map_err(|error| error.to_string())?;
        let logbook = Logbook::open(self.device.get_value(), &loaded.packs, &loaded.head);
        self.problems.set(logbook.problems().iter().map(logbook::log::Problem::say).collect());
        self.show(logbook);
        self.read_runs().await
    }

    /// Opens the demo, inventing it the first time.
    pub(crate) async fn open_demo(&self) -> Result<(), String> {
        self.open(DEMO).await?;
        if self.records_now().academy().is_some() {
            return Ok(());
        }
        let book = bundled().ok_or("The bundled course book cannot be read.")?;
        let facts = crate::demo::facts(&book, super::reading().at);
        let said = facts.into_iter().map(|dated| Said { author: dated.author, at: dated.at, fact: dated.fact });
        self.write_said(said.collect(), None).await
    }

    /// Leaves the demo for the real records of this device.
    pub(crate) async fn leave_demo(&self) -> Result<(), String> {
        self.open(RECORDS).await
    }

    /// Removes the demo whole, and goes back to the real records.
    pub(crate) async fn remove_demo(&self) -> Result<(), String> {
        self.database.set_value(None);
        self.open(RECORDS).await?;
        browser::store::delete(DEMO).await.map_err(|error| error.to_string())
    }

    /// Puts a backup in place on an empty device, all or nothing.
    pub(crate) async fn restore(&self, text: &str) -> Result<usize, String> {
        let backup = logbook::backup::read(text).map_err(|error| error.to_string())?;
        let restore = self
            .logbook
            .with_value(|logbook| backup.restore(logbook, self.demo.get_untracked()))
            .map_err(|error| error.to_string())?;
        let overwrite = !self.logbook.with_value(|logbook| logbook.log().is_empty());
        self.database()?
            .replace_all(&restore.lines, &restore.head, overwrite)
            .await
            .map_err(|error| error.to_string())?;
        self.reload().await?;
        browser::tabs::announce("changed");
        Ok(restore.new)
    }

    /// Writes everything as one file's text.
    pub(crate) fn backup(&self) -> Result<String, String> {
        self.logbook.with_value(|logbook| logbook::backup::export(logbook, &super::reading().at))
    }
}

/// Reads the bundled example course book.
pub(crate) fn bundled() -> Option<Arc<CourseBook>> {
    text::read(&example::files()).ok().map(Arc::new)
}

/// Returns the course books that records name, the one in force last; the example where none is adopted.
pub(super) fn books(records: &Records) -> Vec<Arc<CourseBook>> {
    let books: Vec<Arc<CourseBook>> =
        records.books().iter().filter_map(|adopted| adopted.book.as_ref().ok().cloned()).collect();
    if books.is_empty() { bundled().into_iter().collect() } else { books }
}
