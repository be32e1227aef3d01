//! Handing over: files written and read in slices, so that the page stays awake, and taken in whole or not at all.
//!
//! Slices on the page rather than the worker: the worker holds no log, and carrying a log there and back would take
//! longer than reading the file. Only the passphrase work (tenths of a second) is done in one go.

use std::cell::Cell;
use std::rc::Rc;
use std::sync::{Arc, Weak};

use leptos::prelude::*;
use logbook::fact::ChainPlace;
use logbook::hand_over::giving::{self, Giving};
use logbook::hand_over::{self, Bodies, Choice, HandOver, HandOverError, Holds, Look, Preview, Reading, TakeIn};
use logbook::trust::Word;
use logbook::{Fact, Logbook};
use practicum::ids::{DeviceId, PersonId};
use practicum::moment::Moment;
use practicum::person::Role;

use super::turns::PageTurns;
use super::writing::Said;
use super::{Session, reading};
use crate::browser;
use crate::browser::store::{Also, StoreError};

/// Bytes of a file that are read before the share that was read is shown.
const PIECE: usize = 8 * 1024;
/// Entries that are written between two looks at the clock.
const ENTRIES: usize = 50;

/// A file that was written.
pub(crate) struct Given {
    /// Its bytes.
    pub(crate) bytes: Vec<u8>,
    /// How many entries stand in it.
    pub(crate) entries: usize,
    /// How many of them with their bodies.
    pub(crate) with_bodies: usize,
}

impl Opening {
    /// Lets go of the file, a little at a time.
    pub(crate) fn let_go(self) {
        leptos::task::spawn_local(async move {
            let turns = &mut PageTurns::later().await;
            if let Some(taking) = self.taking.take() {
                for line in taking.lines {
                    drop(line);
                    turns.turn().await;
                }
                taking.logbook.let_go(turns).await;
            }
            if let Ok(file) = Arc::try_unwrap(self.file) {
                file.let_go(turns).await;
            }
        });
    }
}

/// A file that was opened, with what taking it in would add. Nothing is written yet.
#[derive(Clone)]
pub(crate) struct Opening {
    file: Arc<HandOver>,
    /// What taking it in would make of the logbook; used up by doing so.
    taking: Rc<Cell<Option<TakeIn>>>,
    /// The logbook beside which it was worked out what taking it in adds.
    beside: Weak<Logbook>,
    /// What there is to see before it is taken in.
    pub(crate) preview: Preview,
    /// How many entries of this device are not in it.
    pub(crate) lacks: usize,
}

/// Why a file was not opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum FileError {
    /// It is sealed: a passphrase is asked for, or the one given does not open it.
    Passphrase(String),
    /// Something else, in a sentence.
    Other(String),
}

impl From<HandOverError> for FileError {
    fn from(error: HandOverError) -> Self {
        match error {
            HandOverError::Sealed | HandOverError::WrongPassphrase => FileError::Passphrase(error.to_string()),
            other => FileError::Other(other.to_string()),
        }
    }
}

/// What is known of a device that wrote entries.
#[derive(Clone, PartialEq)]
pub(crate) struct DeviceSeen {
    /// What people call it.
    pub(crate) label: String,
    /// It is this one.
    pub(crate) here: bool,
    /// Up to which number its entries are here in a row.
    pub(crate) up_to: u64,
    /// When the last of them was written, by its clock.
    pub(crate) last: Option<Moment>,
    /// Up to where an instructor's or the owner's device has signed to have seen it: number, by whom, when.
    pub(crate) seen: Option<(u64, String, Option<Moment>)>,
    /// Two receipts saw two different logs of it.
    pub(crate) two_versions: bool,
    /// Entries that were put in before what a receipt had seen, in words.
    pub(crate) put_in_after: Vec<String>,
}

impl Session {
    /// Returns for whom files may be written now: a trainee's own records always, everything while the lock is open.
    pub(crate) fn may_give(&self, bodies: &Bodies) -> bool {
        let own = self.who().filter(|person| person.role == Role::Trainee).map(|person| person.id);
        let is_own = matches!(bodies, Bodies::Of { trainee, also } if Some(trainee) == own.as_ref() && also.is_empty());
        is_own || self.may_see_private()
    }

    /// Returns the one line that says what this device holds.
    pub(crate) fn holds_line(&self) -> String {
        // Followed: the records change with the log.
        let _ = self.records();
        self.logbook.with_value(|logbook| Holds::of(logbook.log()).text())
    }

    /// Reads such a line of another device of this academy.
    pub(crate) fn read_holds(&self, line: &str) -> Result<Holds, String> {
        let holds = Holds::read(line)?;
        match self.logbook.with_value(|logbook| holds.is_of(logbook.log())) {
            true => Ok(holds),
            false => Err("This summary is of another academy’s device.".to_owned()),
        }
    }

    /// Writes a file, in slices.
    ///
    /// # Errors
    /// Returns a sentence when the lock is closed, nothing is there, the file would be too large, or it cannot be
    /// sealed.
    pub(crate) async fn give(&self, choice: &Choice, passphrase: Option<&str>) -> Result<Given, String> {
        if !untrack(|| self.may_give(&choice.bodies)) {
            return Err("The lock is closed: unlock at the top as an instructor or the owner, then save.".to_owned());
        }
        let at = reading().at;
        let say = |error: HandOverError| error.to_string();
        let mut giving = self.logbook.with_value(|logbook| Giving::of(logbook, choice, &at)).map_err(say)?;
        let (entries, with_bodies) = (giving.count(), giving.with_bodies());
        let mut turns = PageTurns::new();
        while giving.step(ENTRIES).map_err(say)? {
            turns.rest().await;
        }
        let bytes = giving.finish().map_err(say)?;
        let bytes = match passphrase {
            Some(_) if !browser::random::has_strong_source() => {
                return Err("This browser has no random numbers that are fit for sealing: use another one.".to_owned());
            }
            Some(passphrase) => giving::seal(&bytes, passphrase, &super::pen::fresh())?,
            None => bytes,
        };
        Ok(Given { bytes, entries, with_bodies })
    }

    /// Opens a file, checks it whole in slices, and says what taking it in would add. Nothing is written.
    ///
    /// # Errors
    /// Returns why it may not come in here; `progress` goes from 0 to 1 meanwhile.
    pub(crate) async fn open_file(
        &self,
        bytes: &[u8],
        passphrase: Option<&str>,
        progress: RwSignal<Option<f64>>,
    ) -> Result<Opening, FileError> {
        let file = self.read_file(bytes, passphrase, progress).await;
        progress.try_set(None);
        let file = file?;
        let (logbook, mut turns) = (self.logbook.get_value(), PageTurns::new());
        let taking = file.take_in_turns(&logbook, self.demo.get_untracked(), &reading().at, &mut turns).await?;
        let lacks = file.lacks_in_turns(logbook.log(), &mut turns).await;
        let (preview, beside) = (taking.preview.clone(), Arc::downgrade(&logbook));
        Ok(Opening { file: Arc::new(file), taking: Rc::new(Cell::new(Some(taking))), beside, preview, lacks })
    }

    async fn read_file(
        &self,
        bytes: &[u8],
        passphrase: Option<&str>,
        progress: RwSignal<Option<f64>>,
    ) -> Result<HandOver, FileError> {
        progress.try_set(Some(0.0));
        // What is said is on the screen before the long work begins.
        browser::timer::pause(0).await;
        let opened;
        let (packed, sealed) = match hand_over::look(bytes)? {
            // A backup of the first form is read in one go, as it always was.
            Look::Backup => return Ok(hand_over::read(bytes, None)?),
            Look::Plain(start) => (bytes.get(start..).unwrap_or_default(), false),
            Look::Sealed(start) => {
                let passphrase = passphrase.ok_or(HandOverError::Sealed)?;
                opened = hand_over::reading::unseal(bytes.get(start..).unwrap_or_default(), passphrase)?;
                (opened.as_slice(), true)
            }
        };
        let (mut turns, mut file) = (PageTurns::new(), Reading::new());
        for piece in packed.chunks(PIECE) {
            file.feed_in_turns(piece, None, &mut turns).await?;
            progress.try_set(Some(file.share()));
            turns.rest().await;
        }
        let mut file = file.finish_in_turns(&mut turns).await?;
        file.sealed = sealed;
        Ok(file)
    }

    /// Takes an opened file in: all of what it adds in one write, or nothing. Returns how many entries are new.
    ///
    /// An unlocked instructor or the owner signs in the same write what was seen of every device whose chain the file
    /// carries further; the second value says why where that could not be signed.
    ///
    /// # Errors
    /// Returns why nothing was taken in.
    pub(crate) async fn take_in(&self, opening: &Opening) -> Result<(usize, Option<String>), String> {
        let database = self.database()?;
        let mut not_signed = None;
        for _ in 0..super::writing::TRIES {
            let now = self.logbook.get_value();
            let expected = now.saved_head();
            // Nothing was written since it was looked at: what was worked out then still holds.
            let still = opening.beside.upgrade().is_some_and(|beside| Arc::ptr_eq(&beside, &now));
            let kept = opening.taking.take().filter(|_| still);
            drop(now);
            let TakeIn { logbook: mut after, mut lines, mut head, preview, carried_further } = match kept {
                Some(taking) => taking,
                None => self.worked_out(opening).await?,
            };
            if let Some(said) = self.receipts(&after, carried_further) {
                match self.signed(after, &said).await {
                    Ok((signed, receipts)) => {
                        head = signed.head();
                        after = signed;
                        lines.extend(receipts);
                    }
                    // What was seen can be signed another time; the file comes in all the same.
                    Err(why) => {
                        after = self.worked_out(opening).await?.logbook;
                        not_signed = Some(why);
                    }
                }
            }
            match database.append(&expected, &head, &lines, &Also::default()).await {
                Ok(()) => {
                    self.show_opened(Arc::new(after));
                    self.drop_erased().await;
                    self.pin_academy_key(&database).await?;
                    browser::tabs::announce(super::opening::CHANGED);
                    self.touch();
                    self.ask_to_keep();
                    leptos::task::spawn_local(async move {
                        let turns = &mut PageTurns::later().await;
                        for line in lines {
                            drop(line);
                            turns.turn().await;
                        }
                    });
                    return Ok((preview.new + preview.completed, not_signed));
                }
                // Another tab wrote first: take in what it wrote, then bring the file in beside it.
                Err(StoreError::HeadMoved) => self.reload().await?,
                Err(error) => return Err(error.to_string()),
            }
        }
        Err(StoreError::HeadMoved.to_string())
    }

    async fn signed(&self, logbook: Logbook, said: &[Said]) -> Result<(Logbook, Vec<String>), String> {
        self.ready_keys().await?;
        let said = self.with_requests(said);
        let (logbook, _, lines) = super::writing::with_entries(logbook, &said, &self.ring()).await?;
        Ok((logbook, lines))
    }

    async fn worked_out(&self, opening: &Opening) -> Result<TakeIn, String> {
        let (demo, logbook) = (self.demo.get_untracked(), self.logbook.get_value());
        let taking = opening.file.take_in_turns(&logbook, demo, &reading().at, &mut PageTurns::new()).await;
        taking.map_err(|error| error.to_string())
    }

    /// Returns the receipts to sign for what was seen of other devices; `None` when nobody is unlocked who may sign
    /// them, nothing was carried further, or the academy has no key.
    fn receipts(&self, logbook: &Logbook, carried_further: Vec<(DeviceId, ChainPlace)>) -> Option<Vec<Said>> {
        let who = untrack(|| self.who()).filter(|_| untrack(|| self.may_assess()))?;
        if carried_further.is_empty() || logbook.trust().key().is_none() {
            return None;
        }
        let seen = |(device, seen)| Fact::LogSeen { device, seen };
        Some(super::writing::said_now(&who.id, carried_further.into_iter().map(seen).collect()))
    }

    /// Returns what is known of every device that wrote something here, pausing in between.
    pub(crate) async fn devices_seen(&self) -> Vec<DeviceSeen> {
        let turns = &mut PageTurns::later().await;
        let logbook = self.logbook.get_value();
        let (log, trust, records) = (logbook.log(), logbook.trust(), logbook.records());
        let mut devices = Vec::new();
        for device in log.devices() {
            let mut put_in_after = Vec::new();
            // Without a receipt there is nothing that something could have been put in before.
            if !trust.seen(device).is_empty() {
                for entry in log.entries() {
                    let header = entry.header();
                    if header.device == *device && records.word(&header.id) == Word::NotThereThen {
                        let at = practicum::moment::format_moment(&header.at);
                        put_in_after.push(format!("entry {} ({}, {at})", header.sequence, header.kind));
                    }
                    turns.turn().await;
                }
            }
            let in_a_row = log.in_a_row_in_turns(device, turns).await;
            let seen = trust.seen(device);
            devices.push(DeviceSeen {
                label: self.device_name(device),
                here: device == logbook.device(),
                up_to: in_a_row.last().map_or(0, |entry| entry.header().sequence),
                last: in_a_row.last().map(|entry| entry.header().at),
                seen: seen.first().map(|seen| {
                    let at = log.entry(&seen.entry).map(|entry| entry.header().at);
                    (seen.place.sequence, self.person_name(&seen.by), at)
                }),
                two_versions: seen.iter().any(|seen| !seen.agrees),
                put_in_after,
            });
        }
        devices
    }

    fn device_name(&self, device: &DeviceId) -> String {
        let records = self.records();
        let known = records.devices().into_iter().find(|known| known.value.id == *device);
        let label = known.map(|known| known.value.label.clone()).filter(|label| !label.is_empty());
        label.unwrap_or_else(|| format!("device {}…", device.as_str().chars().take(8).collect::<String>()))
    }

    /// Returns the trainee whose own records may be given without unlocking.
    pub(crate) fn own_trainee(&self) -> Option<PersonId> {
        self.who().filter(|person| person.role == Role::Trainee).map(|person| person.id)
    }
}
