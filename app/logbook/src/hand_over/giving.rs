//! Writing a file: what goes in, for whom, and the bytes, made in steps so that a page stays awake.

use std::io::Write;
use std::sync::Arc;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use practicum::moment::Moment;
use serde_json::Value;

use super::head::Head;
use super::holds::Holds;
use super::who_gets_what::{Bodies, WhoGetsWhat};
use super::{HandOverError, LARGEST_FILE, LARGEST_INSIDE, MOST_ENTRIES, PLAIN, SEALED};
use crate::entry::{Entry, without_body};
use crate::json;
use crate::log::root_of;
use crate::logbook::Logbook;
use crate::sealed;

/// What is handed over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// For whom.
    pub bodies: Bodies,
    /// What the other device has; left out where it is known.
    pub lacking: Option<Holds>,
    /// Leave out what was written before.
    pub since: Option<Moment>,
    /// Say in the file what this device holds, so that the way back can be short.
    pub says_holds: bool,
}

impl Choice {
    /// Everything that is here, as a backup.
    pub fn everything() -> Self {
        Self { bodies: Bodies::All, lacking: None, since: None, says_holds: true }
    }
}

/// One line to write.
#[derive(Debug, Clone)]
enum Line {
    Whole(Arc<Entry>),
    HeaderOnly(Arc<Entry>),
    /// Damaged, as it came.
    AsIs(String),
}

/// A file being written.
pub struct Giving {
    lines: std::vec::IntoIter<Line>,
    unreadable: std::vec::IntoIter<String>,
    encoder: ZlibEncoder<Vec<u8>>,
    inside: usize,
    count: usize,
    with_bodies: usize,
}

impl Giving {
    /// Chooses what goes in.
    ///
    /// # Errors
    /// Returns [`HandOverError::Nothing`] when this device holds nothing, or why the file would not be taken.
    pub fn of(logbook: &Logbook, choice: &Choice, written_at: &Moment) -> Result<Self, HandOverError> {
        let log = logbook.log();
        if log.is_empty() {
            return Err(HandOverError::Nothing);
        }
        let rule = WhoGetsWhat::new(&choice.bodies, logbook);
        let had = choice.lacking.as_ref().map(|holds| holds.had(log)).unwrap_or_default();
        let recent = |at: &Moment| choice.since.as_ref().is_none_or(|since| at >= since);
        let mut lines = Vec::new();
        let mut hashes = Vec::new();
        let mut with_bodies = 0_usize;
        for entry in log.entries() {
            let goes = rule.body_goes(entry);
            if had.has(entry, goes) || !recent(&entry.header().at) {
                continue;
            }
            with_bodies += usize::from(goes && log.has_whole(entry.hash()));
            hashes.push(entry.hash());
            let entry = Arc::clone(entry);
            lines.push(if goes { Line::Whole(entry) } else { Line::HeaderOnly(entry) });
        }
        for entry in log.damaged().filter(|entry| recent(&entry.header().at)) {
            hashes.push(entry.hash());
            let line = match rule.unknown_goes() {
                true => entry.line().to_owned(),
                false => without_body(entry.line()).map_err(HandOverError::Broken)?,
            };
            lines.push(Line::AsIs(line));
        }
        if lines.len() > MOST_ENTRIES {
            return Err(HandOverError::TooManyEntries);
        }
        let unreadable =
            if rule.unknown_goes() { log.unreadable().iter().cloned().collect::<Vec<_>>() } else { Vec::new() };
        let head = Head {
            academy: log.foundings().first().copied().unwrap_or_default().to_owned(),
            demo: logbook.records().is_demo(),
            device: logbook.device().clone(),
            written_at: *written_at,
            part: choice.lacking.is_some() || choice.since.is_some(),
            trainee: match &choice.bodies {
                Bodies::All => None,
                Bodies::Of { trainee, .. } => Some(trainee.clone()),
            },
            count: lines.len() as u64,
            root: root_of(hashes.into_iter()),
            unreadable: unreadable.len() as u64,
            holds: choice.says_holds.then(|| Holds::of(log)),
        };
        let count = lines.len();
        let mut giving = Self {
            lines: lines.into_iter(),
            unreadable: unreadable.into_iter(),
            encoder: ZlibEncoder::new(PLAIN.as_bytes().to_vec(), Compression::default()),
            inside: 0,
            count,
            with_bodies,
        };
        giving.put(&head.line()?)?;
        Ok(giving)
    }

    /// Returns how many entries go in.
    pub fn count(&self) -> usize {
        self.count
    }

    /// Returns how many of them go in with their bodies.
    pub fn with_bodies(&self) -> usize {
        self.with_bodies
    }

    /// Writes up to so many entries; returns whether there are more.
    ///
    /// # Errors
    /// Returns why the file would not be taken where it is to go: it grew too large.
    pub fn step(&mut self, entries: usize) -> Result<bool, HandOverError> {
        for _ in 0..entries {
            match self.lines.next() {
                Some(Line::Whole(entry)) => self.put(entry.line())?,
                Some(Line::HeaderOnly(entry)) => {
                    let line = without_body(entry.line()).map_err(HandOverError::Broken)?;
                    self.put(&line)?;
                }
                Some(Line::AsIs(line)) => self.put(&line)?,
                None => match self.unreadable.next() {
                    Some(line) => self.put(&json::canonical(&Value::from(line)).map_err(HandOverError::Broken)?)?,
                    None => return Ok(false),
                },
            }
        }
        Ok(true)
    }

    fn put(&mut self, line: &str) -> Result<(), HandOverError> {
        self.inside = self.inside.saturating_add(line.len()).saturating_add(1);
        if self.inside > LARGEST_INSIDE {
            return Err(HandOverError::TooMuchInside);
        }
        let written = self.encoder.write_all(line.as_bytes()).and_then(|()| self.encoder.write_all(b"\n"));
        written.map_err(|error| HandOverError::Broken(error.to_string()))
    }

    /// Returns the file's bytes, whatever was not written in steps included.
    ///
    /// # Errors
    /// As [`Giving::step`].
    pub fn finish(mut self) -> Result<Vec<u8>, HandOverError> {
        while self.step(1_000)? {}
        let bytes = self.encoder.finish().map_err(|error| HandOverError::Broken(error.to_string()))?;
        if bytes.len() > LARGEST_FILE {
            return Err(HandOverError::TooLarge(bytes.len()));
        }
        Ok(bytes)
    }
}

/// Seals a file with a passphrase. `fresh` is random and used for one file only. Takes tenths of a second.
///
/// # Errors
/// Returns a sentence when the passphrase is too short or too long, or the device has not memory enough.
pub fn seal(file: &[u8], passphrase: &str, fresh: &sealed::Fresh) -> Result<Vec<u8>, String> {
    let inside = file.strip_prefix(PLAIN.as_bytes()).ok_or("This file is sealed already.")?;
    let sealed = sealed::seal(inside, passphrase, fresh).map_err(|error| format!("Not sealed: {error}."))?;
    Ok([SEALED.as_bytes(), &sealed].concat())
}

/// Writes a file in one go.
///
/// # Errors
/// As [`Giving::of`] and [`Giving::step`].
pub fn write(logbook: &Logbook, choice: &Choice, written_at: &Moment) -> Result<Vec<u8>, HandOverError> {
    Giving::of(logbook, choice, written_at)?.finish()
}
