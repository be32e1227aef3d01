//! Opening the records on this device, the demo, and a backup.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::logbook::Opening;
use logbook::signature::PublicKey;
use logbook::{Logbook, Records};
use practicum::course_book::{CourseBook, example, text};
use practicum::ids::{DeviceId, PersonId};
use practicum::moment::{Moment, format_moment, parse_moment};

use super::keys::ACADEMY_PUBLIC;
use super::lock::WHO;
use super::pins::PIN_SET;
use super::turns::PageTurns;
use super::writing::{Said, with_entries};
use super::{Lock, Session, Storage};
use crate::browser;
use crate::browser::store::{Also, DEMO, Database, Loaded, RECORDS, StoreError};

/// Key in the real records' database: name of the database that was open last.
const LAST_OPEN: &str = "last-open";
/// Key: when the last backup was saved from this device.
const LAST_BACKUP: &str = "last-backup";
/// Word to the other tabs: entries were added.
pub(super) const CHANGED: &str = "changed";
/// How often a visible tab looks whether another has written, in milliseconds: word from tab to tab may get lost.
const LOOK_MS: u32 = 1_000;
/// How long a step of this tab's own may take from the disk to the screen before it counts as another tab's.
const SETTLE_MS: u32 = 50;
/// Word to the other tabs: the demo is gone.
const DEMO_REMOVED: &str = "demo removed";

/// A database with what it holds, not shown yet.
struct Opened {
    database: Database,
    device: DeviceId,
    logbook: Logbook,
    pinned: Option<PublicKey>,
    demo: bool,
}

impl Opened {
    async fn read(name: &str) -> Result<Self, String> {
        let say = |error: StoreError| error.to_string();
        let database = Database::open(name).await.map_err(say)?;
        let device = DeviceId::new(database.meta_or("device", &browser::random::hex_id()).await.map_err(say)?);
        let loaded = database.load().await.map_err(say)?;
        let pinned = database.get_meta(ACADEMY_PUBLIC).await.map_err(say)?;
        let pinned = pinned.and_then(|text| PublicKey::read(&text).ok());
        let logbook = in_turns(&loaded, device.clone(), pinned).await;
        Ok(Self { database, device, logbook, pinned, demo: name == DEMO })
    }

    async fn meta(&self, key: &str) -> Result<Option<String>, String> {
        self.database.get_meta(key).await.map_err(|error| error.to_string())
    }
}

/// Reads packs in turns, so that a large log does not hold the page up.
async fn in_turns(loaded: &Loaded, device: DeviceId, pinned: Option<PublicKey>) -> Logbook {
    let (mut opening, mut turns) = (Opening::default(), PageTurns::new());
    for pack in &loaded.packs {
        opening.take(pack);
        turns.rest().await;
    }
    opening.finish_in_turns(device, &loaded.head, pinned, &mut turns).await
}

/// Keeps in mind which database was open last: it stands with the real records, which are always there.
async fn note_last_open(name: &str) -> Result<(), String> {
    let say = |error: StoreError| error.to_string();
    Database::open(RECORDS).await.map_err(say)?.put_meta(&[(LAST_OPEN, name)]).await.map_err(say)
}

impl Session {
    /// Makes an empty session.
    pub(crate) fn new() -> Self {
        Self {
            database: StoredValue::new_local(None),
            logbook: StoredValue::new_local(Arc::new(Logbook::new(DeviceId::new(String::new())))),
            shown: StoredValue::new(0),
            openings: StoredValue::new(0),
            device: StoredValue::new(DeviceId::new(String::new())),
            ring: StoredValue::new_local(super::keys::Ring::default()),
            keys_here: RwSignal::new(super::KeysHere::default()),
            pinned: StoredValue::new(None),
            records: RwSignal::new(Arc::new(Records::default())),
            books: RwSignal::new(bundled().into_iter().collect()),
            who: RwSignal::new(None),
            lock: RwSignal::new(Lock::default()),
            storage: RwSignal::new(Storage::Kept),
            demo: RwSignal::new(false),
            runs: RwSignal::new(Vec::new()),
            problems: RwSignal::new(Vec::new()),
            checking: StoredValue::new(false),
            last_backup: RwSignal::new(None),
            keeps: RwSignal::new(None),
            alert: RwSignal::new(None),
            opened: RwSignal::new(std::collections::BTreeMap::new()),
        }
    }

    /// Opens what was open last: the records, or the demo.
    pub(crate) async fn open_last(&self) {
        let session = *self;
        browser::store::on_outdated(move || session.storage.set(Storage::Outdated));
        if let Err(sentence) = self.find_last().await
            && self.storage.get_untracked() != Storage::Outdated
        {
            self.storage.set(Storage::NotKept(sentence));
        }
        browser::tabs::on_message(move |message| {
            leptos::task::spawn_local(async move {
                if let Err(sentence) = session.hear(&message).await {
                    session.alert.set(Some(sentence));
                }
            });
        })
        .keep();
        let look = move || {
            if !browser::visibility::hidden() {
                leptos::task::spawn_local(session.look_elsewhere());
            }
        };
        browser::visibility::on_visibility_change(move |_| look()).keep();
        StoredValue::new_local(browser::timer::every(LOOK_MS, look));
    }

    /// Reads again what another tab wrote, of which no word came.
    async fn look_elsewhere(self) {
        let Ok(database) = self.database() else { return };
        if self.storage.get_untracked() != Storage::Kept || database.changed_elsewhere().await != Ok(true) {
            // A look that fails is no news: the next step that is saved says what is wrong.
            return;
        }
        // A step of this tab's own that was just saved is noted in a moment.
        browser::timer::pause(SETTLE_MS).await;
        if database.changed_elsewhere().await == Ok(true)
            && let Err(sentence) = self.reload().await
        {
            self.alert.set(Some(sentence));
        }
    }

    async fn find_last(&self) -> Result<(), String> {
        let records = Opened::read(RECORDS).await?;
        if records.meta(LAST_OPEN).await?.as_deref() == Some(DEMO) {
            match Opened::read(DEMO).await {
                Ok(demo) if demo.logbook.records().is_demo() => return self.take(demo).await,
                Ok(_) => {}
                Err(sentence) => self.alert.set(Some(format!("The demo could not be opened. {sentence}"))),
            }
        }
        self.take(records).await
    }

    /// Takes in what another tab says.
    async fn hear(&self, message: &str) -> Result<(), String> {
        if message == DEMO_REMOVED {
            return if self.demo.get_untracked() { self.leave_demo().await } else { Ok(()) };
        }
        self.reload().await
    }

    /// Shows what was opened, in place of what was shown before.
    async fn take(&self, opened: Opened) -> Result<(), String> {
        let Opened { database, device, logbook, pinned, demo } = opened;
        let meta = async |key: &str| database.get_meta(key).await.map_err(|error| error.to_string());
        let pin_set = meta(PIN_SET).await?.is_some();
        let who = meta(WHO).await?.map(PersonId::new);
        let backup = meta(LAST_BACKUP).await?;
        let asked = meta(super::keeping::ASKED).await?.is_some();
        database.rescue_from_now_on();
        self.new_ring(&database).await?;
        self.pinned.set_value(pinned);
        self.device.set_value(device);
        self.demo.set(demo);
        self.lock.set(Lock::closed(pin_set));
        self.last_backup.set(backup.and_then(|text| parse_moment(&text).ok()));
        self.database.set_value(Some(database.clone()));
        self.storage.set(Storage::Kept);
        self.keeps.set(None);
        if asked {
            self.look_whether_kept();
        }
        self.show_opened(Arc::new(logbook));
        self.drop_erased().await;
        self.pin_academy_key(&database).await?;
        let records = self.records_now();
        self.who.set(who.filter(|who| records.person(who).is_some_and(|person| person.left.is_none())));
        self.read_runs().await
    }

    /// Reads everything from the disk again.
    pub(crate) async fn reload(&self) -> Result<(), String> {
        let database = self.database()?;
        let logbook = loop {
            let (shown, before) = (self.shown.get_value(), self.logbook.get_value());
            let loaded = database.load().await.map_err(|error| error.to_string())?;
            let turns = &mut PageTurns::new();
            let logbook = before.opened_again_in_turns(&loaded.packs, &loaded.head, turns).await;
            // A step of this tab's own may have been shown meanwhile: what was read is older then.
            if self.shown.get_value() == shown {
                break logbook;
            }
        };
        let logbook = logbook.pinning(self.pinned.get_value());
        if self.demo.get_untracked() && logbook.records().academy().is_none() {
            // Another tab has removed the demo: nothing may be founded in its empty place.
            return self.leave_demo().await;
        }
        self.show_opened(Arc::new(logbook));
        self.drop_erased().await;
        self.pin_academy_key(&database).await?;
        self.read_runs().await
    }

    /// Shows a logbook that was opened or that took something in; what does not hold together in it is said a moment
    /// later, since a large log takes a while to be looked through.
    pub(super) fn show_opened(&self, logbook: Arc<Logbook>) {
        self.show(Arc::clone(&logbook));
        self.let_who_left_go();
        self.openings.update_value(|openings| *openings += 1);
        let (session, this) = (*self, self.openings.get_value());
        leptos::task::spawn_local(async move {
            let problems = logbook.problems_in_turns(&mut PageTurns::later().await).await;
            // What was opened since is looked through by itself; entries written here since break nothing.
            if session.openings.try_get_value() == Some(this) {
                session.problems.try_set(problems.iter().map(logbook::log::Problem::say).collect());
            }
        });
    }

    /// Whoever has left by what came in uses this device no longer, and sees nothing more that is locked.
    fn let_who_left_go(&self) {
        if self.who_now().is_some_and(|who| who.left.is_some()) {
            self.lock_now();
            self.who.set(None);
        }
    }

    /// Opens the demo, inventing it the first time. Everything of it, and that it was open last, is on the
    /// disk before it shows.
    /// Where nothing is kept it is invented for looking around, and shown without a store.
    pub(crate) async fn open_demo(&self) -> Result<(), String> {
        if self.keeps_nothing() {
            let (logbook, ..) = {
                let empty = Logbook::new(DeviceId::new(browser::random::hex_id()));
                with_entries(empty, &invented()?, &super::keys::Ring::default()).await?
            };
            self.show_without_store(logbook, true);
            return Ok(());
        }
        let mut demo = Opened::read(DEMO).await?;
        if demo.logbook.records().academy().is_none() {
            let (logbook, expected, lines) =
                with_entries(demo.logbook, &invented()?, &super::keys::Ring::default()).await?;
            let saved = demo.database.append(&expected, &logbook.head(), &lines, &Also::default()).await;
            saved.map_err(|error| error.to_string())?;
            demo.logbook = logbook;
        }
        note_last_open(DEMO).await?;
        self.take(demo).await
    }

    fn keeps_nothing(&self) -> bool {
        matches!(self.storage.get_untracked(), Storage::NotKept(_))
    }

    /// Whether invented records are shown that no store keeps: nobody can write, so anybody may be looked at.
    pub(super) fn looks_around(&self) -> bool {
        self.keeps_nothing() && self.demo.get_untracked()
    }

    /// Shows a logbook of which nothing is kept: every step that would be saved is refused with that sentence.
    fn show_without_store(&self, logbook: Logbook, demo: bool) {
        self.database.set_value(None);
        self.device.set_value(logbook.device().clone());
        self.demo.set(demo);
        self.lock.set(Lock::closed(false));
        self.runs.set(Vec::new());
        self.who.set(None);
        self.show_opened(Arc::new(logbook));
    }

    /// Leaves the demo for the real records of this device.
    pub(crate) async fn leave_demo(&self) -> Result<(), String> {
        if self.keeps_nothing() {
            self.show_without_store(Logbook::new(DeviceId::new(String::new())), false);
            return Ok(());
        }
        note_last_open(RECORDS).await?;
        self.take(Opened::read(RECORDS).await?).await
    }

    /// Removes the demo whole, and goes back to the real records.
    pub(crate) async fn remove_demo(&self) -> Result<(), String> {
        self.leave_demo().await?;
        if self.keeps_nothing() {
            return Ok(());
        }
        browser::store::delete(DEMO).await.map_err(|error| error.to_string())?;
        browser::tabs::announce(DEMO_REMOVED);
        Ok(())
    }

    /// Returns when a backup was last saved from this device, following changes.
    pub(crate) fn last_backup(&self) -> Option<Moment> {
        self.last_backup.get()
    }

    /// Keeps in mind that a backup was saved just now.
    pub(crate) async fn note_backup(&self) -> Result<(), String> {
        let now = super::reading().at;
        let said = self.database()?.put_meta(&[(LAST_BACKUP, &format_moment(&now))]).await;
        said.map_err(|error| error.to_string())?;
        self.last_backup.set(Some(now));
        Ok(())
    }
}

/// Invents the demo's facts.
fn invented() -> Result<Vec<Said>, String> {
    let book = bundled().ok_or("The bundled course book cannot be read.")?;
    let facts = crate::demo::facts(&book, super::reading().at);
    Ok(facts.into_iter().map(|dated| Said { author: dated.author, at: dated.at, fact: dated.fact }).collect())
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
