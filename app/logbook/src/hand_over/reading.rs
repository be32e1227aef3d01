//! Reading a file, piece by piece, and checking it whole before anything of it counts.
//!
//! What comes out is counted while it is unpacked, and unpacking stops at the first sign of harm: too much, far too
//! much for what went in, a line without end, more entries than are taken. Sizes and counts that the file names are
//! only compared at the end.

use std::collections::BTreeSet;

use flate2::{Decompress, FlushDecompress, Status};
use practicum::ids::{DeviceId, PersonId};
use practicum::moment::Moment;
use zeroize::Zeroizing;

use super::head::Head;
use super::holds::Holds;
use super::{
    FORM, FREE_OF_RATIO, HandOverError, LARGEST_FILE, LARGEST_INSIDE, LARGEST_RATIO, LONGEST_FIRST_LINE, LONGEST_LINE,
    MOST_ENTRIES, NAME, PLAIN, SEALED,
};
use crate::backup::{self, Backup};
use crate::entry::{Content, Unverified};
use crate::json;
use crate::log::{Log, root_in_turns};
use crate::sealed::{self, SealError};
use crate::turns::{AtOnce, Turns, at_once};

/// Bytes that are unpacked at a time.
const PIECE: usize = 32 * 1024;

/// What a file is by its first bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// A hand-over file; its packed part begins at this byte.
    Plain(usize),
    /// A hand-over file that a passphrase seals; its sealed part begins at this byte.
    Sealed(usize),
    /// A backup of the first form, or the copy that the page of a broken app makes.
    Backup,
}

/// Looks at the first bytes of a file, and at its size.
///
/// # Errors
/// Returns why the file is none that can be read.
pub fn look(bytes: &[u8]) -> Result<Look, HandOverError> {
    if bytes.len() > LARGEST_FILE {
        return Err(HandOverError::TooLarge(bytes.len()));
    }
    if bytes.starts_with(PLAIN.as_bytes()) {
        return Ok(Look::Plain(PLAIN.len()));
    }
    if bytes.starts_with(SEALED.as_bytes()) {
        return Ok(Look::Sealed(SEALED.len()));
    }
    let start = bytes.get(..bytes.len().min(LONGEST_FIRST_LINE)).unwrap_or_default();
    let first = start.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let first = String::from_utf8_lossy(first);
    let whole = start.contains(&b'\n');
    if !bytes.is_empty() && !whole && (NAME.starts_with(first.as_ref()) || SEALED.starts_with(first.as_ref())) {
        return Err(HandOverError::CutShort);
    }
    if let Some(form) = first.strip_prefix(NAME) {
        let number = form.split_whitespace().next().and_then(|word| word.parse::<u64>().ok());
        return Err(match number {
            Some(form) if form > FORM => HandOverError::Newer(form),
            _ => HandOverError::broken("its first line is not as written"),
        });
    }
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    match text.iter().find(|byte| !byte.is_ascii_whitespace()) {
        Some(b'{') => Ok(Look::Backup),
        _ => Err(HandOverError::WrongKind),
    }
}

/// A file being read.
pub struct Reading {
    inflater: Decompress,
    ended: bool,
    line: Vec<u8>,
    head: Option<Head>,
    hashes: BTreeSet<String>,
    log: Log,
    unreadable: u64,
}

impl Default for Reading {
    fn default() -> Self {
        Self::new()
    }
}

impl Reading {
    /// Starts to read what follows the first line of a file.
    pub fn new() -> Self {
        Self {
            inflater: Decompress::new(true),
            ended: false,
            line: Vec::new(),
            head: None,
            hashes: BTreeSet::new(),
            log: Log::default(),
            unreadable: 0,
        }
    }

    /// Reads on. `beside` is a log whose entries need not be checked again where the file brings the same ones.
    ///
    /// # Errors
    /// Returns why reading stopped; nothing of the file counts then.
    pub fn feed(&mut self, piece: &[u8], beside: Option<&Log>) -> Result<(), HandOverError> {
        at_once(self.feed_in_turns(piece, beside, &mut AtOnce))
    }

    /// As [`Reading::feed`], pausing in between.
    ///
    /// # Errors
    /// As [`Reading::feed`].
    pub async fn feed_in_turns(
        &mut self,
        piece: &[u8],
        beside: Option<&Log>,
        turns: &mut dyn Turns,
    ) -> Result<(), HandOverError> {
        let mut rest = piece;
        let mut out = vec![0_u8; PIECE];
        loop {
            if self.ended {
                return match rest.is_empty() {
                    true => Ok(()),
                    false => Err(HandOverError::broken("something stands after its end")),
                };
            }
            let (taken, given) = (self.inflater.total_in(), self.inflater.total_out());
            let status = self.inflater.decompress(rest, &mut out, FlushDecompress::None);
            let status = status.map_err(|_| HandOverError::broken("its packed part cannot be unpacked"))?;
            let taken = count(self.inflater.total_in().saturating_sub(taken));
            let given = count(self.inflater.total_out().saturating_sub(given));
            rest = rest.get(taken..).unwrap_or_default();
            self.ended = status == Status::StreamEnd;
            self.check_size()?;
            self.take(out.get(..given).unwrap_or_default(), beside, turns).await?;
            if !self.ended && taken == 0 && given == 0 {
                // Nothing more can be done without more bytes.
                return match rest.is_empty() {
                    true => Ok(()),
                    false => Err(HandOverError::broken("its packed part cannot be unpacked")),
                };
            }
        }
    }

    fn check_size(&self) -> Result<(), HandOverError> {
        let (packed, inside) = (count(self.inflater.total_in()), count(self.inflater.total_out()));
        if inside > FREE_OF_RATIO && inside / LARGEST_RATIO > packed {
            return Err(HandOverError::PackedTooTightly);
        }
        if inside > LARGEST_INSIDE {
            return Err(HandOverError::TooMuchInside);
        }
        Ok(())
    }

    async fn take(
        &mut self,
        mut bytes: &[u8],
        beside: Option<&Log>,
        turns: &mut dyn Turns,
    ) -> Result<(), HandOverError> {
        while let Some(end) = bytes.iter().position(|byte| *byte == b'\n') {
            let (start, rest) = bytes.split_at(end);
            bytes = rest.get(1..).unwrap_or_default();
            let mut line = std::mem::take(&mut self.line);
            line.extend_from_slice(start);
            self.take_line(&line, beside)?;
            turns.turn().await;
            line.clear();
            // The room that a line needed is used for the next.
            self.line = line;
        }
        if self.line.len().saturating_add(bytes.len()) > LONGEST_LINE {
            return Err(HandOverError::broken("a line of it is longer than an entry may be"));
        }
        self.line.extend_from_slice(bytes);
        Ok(())
    }

    fn take_line(&mut self, line: &[u8], beside: Option<&Log>) -> Result<(), HandOverError> {
        let text = std::str::from_utf8(line).map_err(|_| HandOverError::broken("a line of it is no text"))?;
        let Some(head) = &self.head else {
            let head = Head::read(text)?;
            if head.count > MOST_ENTRIES as u64 {
                return Err(HandOverError::TooManyEntries);
            }
            self.head = Some(head);
            return Ok(());
        };
        if (self.hashes.len() as u64) < head.count {
            return self.take_entry(text, beside);
        }
        if self.unreadable >= head.unreadable {
            return Err(HandOverError::broken("more lines stand in it than it names"));
        }
        self.unreadable += 1;
        let serde_json::Value::String(kept) =
            json::read(text).map_err(|_| HandOverError::broken("a line is no text"))?
        else {
            return Err(HandOverError::broken("a line is no text"));
        };
        // A store keeps one line in one row: what holds a line break is kept as several.
        for part in kept.split(['\n', '\r']) {
            self.log.insert_line(part);
        }
        Ok(())
    }

    fn take_entry(&mut self, line: &str, beside: Option<&Log>) -> Result<(), HandOverError> {
        let place = self.hashes.len().saturating_add(1);
        let entry =
            Unverified::read(line).map_err(|why| HandOverError::broken(format!("entry {place} in it: {why}")))?;
        if !self.hashes.insert(entry.hash().to_owned()) {
            return Err(HandOverError::broken(format!("entry {place} stands in it twice")));
        }
        // What this device has, whole and checked, stays as it is, whatever the file says of it.
        if !beside.is_some_and(|log| log.has_whole(entry.hash())) {
            self.log.insert(entry.check());
        }
        Ok(())
    }

    /// Returns what share of the entries was read, from 0 to 1; 0 while the head was not.
    pub fn share(&self) -> f64 {
        let count = self.head.as_ref().map_or(0, |head| head.count);
        if count == 0 { 0.0 } else { (self.hashes.len() as f64 / count as f64).min(1.0) }
    }

    /// Ends the reading and says what the file holds.
    ///
    /// # Errors
    /// Returns what is missing or does not hold together.
    pub fn finish(self) -> Result<HandOver, HandOverError> {
        at_once(self.finish_in_turns(&mut AtOnce))
    }

    /// As [`Reading::finish`], pausing in between.
    ///
    /// # Errors
    /// As [`Reading::finish`].
    pub async fn finish_in_turns(self, turns: &mut dyn Turns) -> Result<HandOver, HandOverError> {
        if !self.ended {
            return Err(HandOverError::CutShort);
        }
        let Some(head) = self.head else { return Err(HandOverError::broken("it is empty")) };
        if !self.line.is_empty() {
            return Err(HandOverError::broken("its last line has no end"));
        }
        if self.hashes.len() as u64 != head.count || self.unreadable != head.unreadable {
            return Err(HandOverError::broken("the number of entries is not the one it names"));
        }
        if root_in_turns(&self.hashes, turns).await != head.root {
            return Err(HandOverError::broken("an entry was changed, added or taken out after it was written"));
        }
        if self.log.foundings().len() > 1 {
            return Err(HandOverError::broken("it mixes the records of two academies"));
        }
        if self.log.foundings().first().is_some_and(|founding| *founding != head.academy) {
            return Err(HandOverError::broken("it names another academy than the one it holds"));
        }
        Ok(HandOver {
            academy: head.academy,
            demo: head.demo,
            device: Some(head.device),
            written_at: head.written_at,
            part: head.part,
            trainee: head.trainee,
            holds: head.holds,
            sealed: false,
            entries: self.hashes.len(),
            hashes: self.hashes,
            log: self.log,
        })
    }
}

/// A file that was read and checked whole; nothing of it is taken in yet.
#[derive(Debug, Clone)]
pub struct HandOver {
    /// Hash of the entry that founded the academy; empty before it is founded.
    pub academy: String,
    /// It holds the demo's invented records.
    pub demo: bool,
    /// Device that wrote it; not said in backups of the first form.
    pub device: Option<DeviceId>,
    /// When it was written, by that device's clock.
    pub written_at: Moment,
    /// It leaves out what its receiver had, or what is older.
    pub part: bool,
    /// The trainee for whose device it was written.
    pub trainee: Option<PersonId>,
    /// What the writing device holds.
    pub holds: Option<Holds>,
    /// A passphrase sealed it.
    pub sealed: bool,
    /// How many entries stand in it.
    pub entries: usize,
    /// Hashes of all its entries, those that were passed over included.
    pub(super) hashes: BTreeSet<String>,
    /// Its entries but for those passed over.
    pub(crate) log: Log,
}

impl HandOver {
    /// Takes a backup of the first form for what it is: a hand-over of everything.
    pub fn of_backup(backup: &Backup) -> Self {
        let log = backup.log().clone();
        let hashes: BTreeSet<String> = log
            .entries()
            .map(|entry| entry.hash().to_owned())
            .chain(log.damaged().map(|entry| entry.hash().to_owned()))
            .collect();
        Self {
            academy: log.foundings().first().copied().unwrap_or_default().to_owned(),
            demo: backup.is_demo(),
            device: None,
            written_at: *backup.exported_at(),
            part: false,
            trainee: None,
            holds: None,
            sealed: false,
            entries: log.len(),
            hashes,
            log,
        }
    }

    /// Returns its entries, but for those passed over because the log beside has them whole.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// Lets go of everything, pausing in between.
    pub async fn let_go(self, turns: &mut dyn Turns) {
        for hash in self.hashes {
            drop(hash);
            turns.turn().await;
        }
        self.log.let_go(turns).await;
    }

    /// Returns how many entries of a log are not in it, or not with the bodies that the log has: a backup that lacks
    /// none is whole.
    pub fn lacks_of(&self, log: &Log) -> usize {
        at_once(self.lacks_in_turns(log, &mut AtOnce))
    }

    /// As [`HandOver::lacks_of`], pausing in between.
    pub async fn lacks_in_turns(&self, log: &Log, turns: &mut dyn Turns) -> usize {
        let hashes = log.entries().map(|entry| entry.hash()).chain(log.damaged().map(Unverified::hash));
        let bodiless = |hash: &str| self.log.by_hash(hash).is_some_and(|entry| *entry.content() == Content::Withheld);
        let mut lacking = 0;
        for hash in hashes {
            lacking += usize::from(!self.hashes.contains(hash) || (bodiless(hash) && log.has_whole(hash)));
            turns.turn().await;
        }
        lacking
    }
}

/// Reads a file in one go, a backup of the first form as well.
///
/// # Errors
/// Returns why it was not taken.
pub fn read(bytes: &[u8], passphrase: Option<&str>) -> Result<HandOver, HandOverError> {
    at_once(read_in_turns(bytes, passphrase, &mut AtOnce))
}

/// As [`read`], pausing in between.
///
/// # Errors
/// As [`read`].
pub async fn read_in_turns(
    bytes: &[u8],
    passphrase: Option<&str>,
    turns: &mut dyn Turns,
) -> Result<HandOver, HandOverError> {
    let (opened, sealed);
    let start = match look(bytes)? {
        Look::Backup => {
            let text = std::str::from_utf8(bytes).map_err(|_| HandOverError::WrongKind)?;
            return Ok(HandOver::of_backup(&backup::read(text)?));
        }
        Look::Plain(start) => {
            sealed = false;
            bytes.get(start..).unwrap_or_default()
        }
        Look::Sealed(start) => {
            sealed = true;
            let inside = bytes.get(start..).unwrap_or_default();
            opened = unseal(inside, passphrase.ok_or(HandOverError::Sealed)?)?;
            opened.as_slice()
        }
    };
    let mut reading = Reading::new();
    reading.feed_in_turns(start, None, turns).await?;
    Ok(HandOver { sealed, ..reading.finish_in_turns(turns).await? })
}

/// Opens the sealed part of a file: what comes is to be fed to a [`Reading`]. Takes tenths of a second.
///
/// # Errors
/// Returns why it does not open.
pub fn unseal(sealed: &[u8], passphrase: &str) -> Result<Zeroizing<Vec<u8>>, HandOverError> {
    sealed::open(sealed, passphrase).map_err(|error| match error {
        SealError::Wrong => HandOverError::WrongPassphrase,
        // The form of a seal grows with the app, not with the form of the file around it.
        SealError::Newer => HandOverError::Newer(FORM + 1),
        other => HandOverError::broken(other.to_string()),
    })
}

/// Bytes counted by the unpacker; a file is far smaller than what a number of this machine holds.
fn count(bytes: u64) -> usize {
    usize::try_from(bytes).unwrap_or(usize::MAX)
}
