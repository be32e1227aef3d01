//! A backup: everything that a device holds, as one JSON file, and back.

use std::fmt;

use practicum::moment::{Moment, parse_moment};
use serde_json::{Map, Value};

use crate::entry::Unverified;
use crate::json;
use crate::log::Log;
use crate::logbook::Logbook;
use crate::records::Records;
use crate::size::in_words;

/// Largest file taken, in bytes.
pub const LARGEST_FILE: usize = 64_000_000;
/// What the file says it is.
const FORMAT: &str = "upsweep-log";
/// What the copy says it is that the page of a broken app makes from the store's own lines.
const RESCUE: &str = "upsweep-rescue";
/// Version of the file's form.
const VERSION: u64 = 1;

/// Why a backup was not taken. Nothing was changed then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BackupError {
    /// Larger than [`LARGEST_FILE`], with its size in bytes.
    TooLarge(usize),
    /// Not JSON, or JSON of something else.
    WrongKind,
    /// The file ends too early.
    CutShort,
    /// Written by a later version of the app.
    Newer(u64),
    /// A part does not hold together; what.
    Broken(String),
    /// Demo records and real ones do not mix.
    Demo {
        /// The file is the demo's.
        file_is_demo: bool,
    },
    /// The file belongs to another academy.
    OtherAcademy,
}

impl fmt::Display for BackupError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BackupError::TooLarge(bytes) => {
                let (size, most) = (in_words(*bytes as u64), in_words(LARGEST_FILE as u64));
                write!(f, "This file has {size}; at most {most} are taken.")
            }
            BackupError::WrongKind => f.write_str(
                "This is not a backup file of Upsweep: choose the file that “Save everything as one file” made.",
            ),
            BackupError::CutShort => {
                f.write_str("This file ends too early: copy it again from where it was saved, whole.")
            }
            BackupError::Newer(version) => write!(
                f,
                "This file was written by a later version of Upsweep (form {version}): reload the app to get the \
                 latest version, then try again."
            ),
            BackupError::Broken(what) => write!(f, "This file does not hold together: {what}. Use another copy of it."),
            BackupError::Demo { file_is_demo: true } => {
                f.write_str("This file holds the demo’s invented records, which never mix with real ones.")
            }
            BackupError::Demo { file_is_demo: false } => {
                f.write_str("This file holds real records, which never mix with the demo: leave the demo first.")
            }
            BackupError::OtherAcademy => {
                f.write_str("This file belongs to another academy than the one on this device.")
            }
        }?;
        f.write_str(" Nothing was changed.")
    }
}

impl std::error::Error for BackupError {}

/// A backup that was read and checked.
#[derive(Debug, Clone)]
pub struct Backup {
    demo: bool,
    exported_at: Moment,
    log: Log,
}

/// What a restore would write.
#[derive(Debug, Clone)]
pub struct Restore {
    /// The logbook as it is afterwards.
    pub logbook: Logbook,
    /// All lines to put in place.
    pub lines: Vec<String>,
    /// Head to note beside them.
    pub head: String,
    /// How many entries are new to this device.
    pub new: usize,
    /// How many it had.
    pub known: usize,
}

/// Writes everything that a logbook holds as one JSON file.
///
/// # Errors
/// Returns why it cannot be written, which no logbook gives cause for.
pub fn export(logbook: &Logbook, exported_at: &Moment) -> Result<String, String> {
    let log = logbook.log();
    let mut text = String::from("{\n");
    for (key, value) in [
        ("format", Value::from(FORMAT)),
        ("version", Value::from(VERSION)),
        ("demo", Value::from(logbook.records().is_demo())),
        ("exported_at", Value::from(exported_at.to_rfc3339())),
        ("count", Value::from(log.len())),
        ("root", Value::from(log.header_set_hash())),
        ("unreadable", Value::from(log.unreadable().iter().cloned().collect::<Vec<_>>())),
    ] {
        text.push_str(&format!("\"{key}\": {},\n", json::canonical(&value)?));
    }
    text.push_str("\"entries\": [");
    for (place, line) in log.lines().enumerate() {
        text.push_str(if place == 0 { "\n" } else { ",\n" });
        text.push_str(line);
    }
    text.push_str("\n]\n}\n");
    Ok(text)
}

/// Reads a backup file and checks it whole.
///
/// # Errors
/// Returns what is wrong with the file.
pub fn read(text: &str) -> Result<Backup, BackupError> {
    if text.len() > LARGEST_FILE {
        return Err(BackupError::TooLarge(text.len()));
    }
    let text = text.trim_start_matches('\u{feff}');
    let value = json::read(text).map_err(|error| match error.classify() {
        serde_json::error::Category::Eof if text.trim_start().starts_with('{') => BackupError::CutShort,
        _ if text.contains(FORMAT) => BackupError::Broken(error.to_string()),
        _ => BackupError::WrongKind,
    })?;
    let Value::Object(mut parts) = value else { return Err(BackupError::WrongKind) };
    let rescued = parts.get("format").and_then(Value::as_str) == Some(RESCUE);
    if !rescued && parts.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(BackupError::WrongKind);
    }
    match parts.get("version").and_then(Value::as_u64) {
        Some(VERSION) => {}
        Some(newer) if newer > VERSION => return Err(BackupError::Newer(newer)),
        _ => return Err(broken("its version is missing")),
    }
    if rescued {
        return rescue(parts);
    }
    let mut log = Log::default();
    for (place, entry) in list(&mut parts, "entries")?.into_iter().enumerate() {
        let entry = Unverified::from_value(entry)
            .map_err(|why| BackupError::Broken(format!("entry {} of the list: {why}", place + 1)))?;
        log.insert(entry.check());
    }
    if parts.get("count").and_then(Value::as_u64) != u64::try_from(log.len()).ok() {
        return Err(broken("the number of entries is not the one it names"));
    }
    if parts.get("root").and_then(Value::as_str) != Some(log.header_set_hash().as_str()) {
        return Err(broken("an entry was changed after the file was written"));
    }
    for line in list(&mut parts, "unreadable")? {
        let Value::String(line) = line else { return Err(broken("a line is no text")) };
        // A store keeps one line in one row: what holds a line break is kept as several.
        for part in line.split(['\n', '\r']) {
            log.insert_line(part);
        }
    }
    finish(&parts, "exported_at", log)
}

/// Reads the copy that the page of a broken app made: the store's packs as they were, entry checked by entry.
///
/// The taps of a service under way, which such a copy holds as well, are not read.
fn rescue(mut parts: Map<String, Value>) -> Result<Backup, BackupError> {
    let mut log = Log::default();
    for pack in list(&mut parts, "packs")? {
        let Value::String(pack) = pack else { return Err(broken("a pack is no text")) };
        for line in pack.split(['\n', '\r']).filter(|line| !line.is_empty()) {
            log.insert_line(line);
        }
    }
    if log.entries().next().is_none() {
        return Err(broken("it holds no entry that can be read"));
    }
    finish(&parts, "saved_at", log)
}

/// Checks what both kinds of file say of themselves; `dated` names the part that says when it was written.
fn finish(parts: &Map<String, Value>, dated: &str, log: Log) -> Result<Backup, BackupError> {
    let exported_at = parts.get(dated).and_then(Value::as_str).unwrap_or_default();
    let exported_at = parse_moment(exported_at).map_err(|_| broken("it does not say when it was written"))?;
    let demo = parts.get("demo").and_then(Value::as_bool).ok_or_else(|| broken("it does not say if it is the demo"))?;
    if log.foundings().len() > 1 {
        return Err(broken("it mixes the records of two academies"));
    }
    if log.foundings().is_empty() && !log.is_empty() {
        // Without its founding nothing tells demo records from real ones.
        return Err(broken("it does not say which academy it belongs to"));
    }
    if log.foundings().len() == 1 && Records::of(&log).is_demo() != demo {
        return Err(broken("it contradicts itself about being the demo"));
    }
    Ok(Backup { demo, exported_at, log })
}

impl Backup {
    /// Whether it holds the demo's records.
    pub fn is_demo(&self) -> bool {
        self.demo
    }

    /// Returns when it was written.
    pub fn exported_at(&self) -> &Moment {
        &self.exported_at
    }

    /// Returns its log.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// Works out what a restore would make of a device's logbook; changes nothing.
    ///
    /// `demo_place` says that the device's database is the demo's.
    ///
    /// # Errors
    /// Returns why the file may not come in here.
    pub fn restore(&self, logbook: &Logbook, demo_place: bool) -> Result<Restore, BackupError> {
        if self.demo != demo_place {
            return Err(BackupError::Demo { file_is_demo: self.demo });
        }
        let (ours, theirs) = (logbook.log().foundings(), self.log.foundings());
        if !ours.is_empty() && !theirs.is_empty() && ours != theirs {
            return Err(BackupError::OtherAcademy);
        }
        let mut log = logbook.log().clone();
        let known = log.len();
        log.merge(&self.log);
        let head = log.head(logbook.device());
        let new = log.len().saturating_sub(known);
        let logbook = logbook.with_log(log);
        // What the file or this device has erased stands in neither afterwards.
        let lines = logbook.lines();
        Ok(Restore { logbook, lines, head, new, known })
    }
}

fn broken(what: &str) -> BackupError {
    BackupError::Broken(what.to_owned())
}

fn list(parts: &mut Map<String, Value>, key: &str) -> Result<Vec<Value>, BackupError> {
    match parts.remove(key) {
        Some(Value::Array(items)) => Ok(items),
        _ => Err(BackupError::Broken(format!("its list “{key}” is missing"))),
    }
}
