//! A record file: one trainee's record for somebody outside, to be checked on the Verify page or by any other program.
//!
//! It is one JSON object with the headers of every device that wrote something of it, so that chains can be checked
//! and a later withdrawal shows by its kind, and with the bodies that make up the record: the academy, course books,
//! keys, receipts, the trainee and those who assessed, marks, decisions, sign-offs and what was replied. What was
//! done in a service goes along only where it is asked for: it holds the answers of practice models to the screening.
//! Practice models' names, contacts and tests never do.

use std::collections::BTreeSet;
use std::sync::Arc;

use practicum::ids::{DeviceId, PersonId};
use practicum::moment::{Moment, parse_moment};
use serde_json::Value;

use crate::backup::{BackupError, LARGEST_FILE};
use crate::entry::{Entry, Unverified};
use crate::fact::Fact;
use crate::json;
use crate::log::Log;
use crate::logbook::Logbook;
use crate::subject::Subject;
use crate::turns::{AtOnce, Turns, at_once};

/// What the file says it is.
const FORMAT: &str = "upsweep-record";
/// Version of the file's form.
const VERSION: u64 = 1;

/// A record file that was read. Its entries are checked one by one, and nothing of it is believed yet.
#[derive(Debug, Clone)]
pub struct RecordFile {
    /// Whose record it is.
    pub trainee: PersonId,
    /// When it was written, by the clock of the device that wrote it.
    pub written_at: Moment,
    /// Its entries.
    pub log: Log,
    /// What does not hold together in the file itself, in sentences.
    pub problems: Vec<String>,
}

/// Writes one trainee's record.
///
/// # Errors
/// Returns why it cannot be written, which no logbook gives cause for.
pub fn export(logbook: &Logbook, trainee: &PersonId, with_services: bool, at: &Moment) -> Result<String, String> {
    let log = logbook.log();
    let rule = Rule::new(logbook, trainee, with_services);
    let goes: BTreeSet<&str> = log.entries().filter(|entry| rule.goes(entry)).map(|entry| entry.hash()).collect();
    let devices: BTreeSet<&DeviceId> =
        log.entries().filter(|entry| goes.contains(entry.hash())).map(|entry| &entry.header().device).collect();
    let entries: Vec<&Arc<Entry>> = log.entries().filter(|entry| devices.contains(&entry.header().device)).collect();
    let mut text = String::from("{\n");
    for (key, value) in [
        ("format", Value::from(FORMAT)),
        ("version", Value::from(VERSION)),
        ("trainee", Value::from(trainee.as_str())),
        ("written_at", Value::from(at.to_rfc3339())),
        ("count", Value::from(entries.len())),
    ] {
        text.push_str(&format!("\"{key}\": {},\n", json::canonical(&value)?));
    }
    text.push_str("\"entries\": [");
    for (place, entry) in entries.into_iter().enumerate() {
        text.push_str(if place == 0 { "\n" } else { ",\n" });
        match goes.contains(entry.hash()) {
            true => text.push_str(entry.line()),
            false => text.push_str(entry.without_body().line()),
        }
    }
    text.push_str("\n]\n}\n");
    Ok(text)
}

/// Which bodies make up a record.
struct Rule<'a> {
    logbook: &'a Logbook,
    trainee: &'a PersonId,
    with_services: bool,
    people: BTreeSet<&'a PersonId>,
}

impl<'a> Rule<'a> {
    fn new(logbook: &'a Logbook, trainee: &'a PersonId, with_services: bool) -> Self {
        let mut rule = Self { logbook, trainee, with_services, people: BTreeSet::from([trainee]) };
        let wrote: Vec<&PersonId> =
            logbook.log().entries().filter(|entry| rule.goes(entry)).map(|entry| &entry.header().author).collect();
        rule.people.extend(wrote);
        rule
    }

    fn goes(&self, entry: &Entry) -> bool {
        entry.fact().is_some_and(|fact| self.fact_goes(fact))
    }

    fn fact_goes(&self, fact: &Fact) -> bool {
        let records = self.logbook.records();
        let theirs = |id| records.service(id).is_some_and(|known| known.value.trainee == *self.trainee);
        match fact {
            Fact::AcademyFounded(_)
            | Fact::AcademyAmended(_)
            | Fact::BookAdopted { .. }
            | Fact::AcademyKeyMade { .. }
            | Fact::KeyAdmitted(_)
            | Fact::KeyEnded { .. }
            | Fact::LogSeen { .. }
            | Fact::DeviceAdmitted { .. } => true,
            Fact::PersonEnrolled(person) => self.people.contains(&person.id),
            Fact::PersonLeft { person, .. } => self.people.contains(person),
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => {
                self.with_services && service.trainee == *self.trainee
            }
            Fact::OutcomeMarked(outcome) => theirs(&outcome.service) && outcome.marker != *self.trainee,
            Fact::PlanDecided(decision) => decision.trainee == *self.trainee,
            Fact::TrialOpened(trial) => trial.trainee == *self.trainee,
            Fact::SignedOff(sign_off) => sign_off.trainee == *self.trainee,
            Fact::Replied(reply) => reply.about.person == *self.trainee,
            Fact::Resolved(resolution) => resolution.person == *self.trainee,
            Fact::DuplicateSettled(settlement) => theirs(&settlement.keep),
            Fact::Erased(erasure) => erasure.of == Subject::Person(self.trainee.clone()),
            Fact::Certified(said) => said.trainee().is_none_or(|trainee| trainee == self.trainee),
            Fact::Coursework(said) => said.trainee() == Some(self.trainee),
            Fact::Corrected { fact, .. } => self.fact_goes(fact),
            _ => false,
        }
    }
}

/// Whether a text may be a record file; [`read`] says whether it is.
pub fn looks_like(text: &str) -> bool {
    text.contains(&format!("\"{FORMAT}\""))
}

/// Reads a record file. An entry that cannot be read, or does not hold, is kept and said: it refuses nothing.
///
/// # Errors
/// Returns what is wrong with the file as a whole.
pub fn read(text: &str) -> Result<RecordFile, BackupError> {
    at_once(read_in_turns(text, &mut AtOnce))
}

/// As [`read`], pausing between entries: checking their signatures takes longest.
///
/// # Errors
/// As [`read`].
pub async fn read_in_turns(text: &str, turns: &mut dyn Turns) -> Result<RecordFile, BackupError> {
    if text.len() > LARGEST_FILE {
        return Err(BackupError::TooLarge(text.len()));
    }
    let value = json::read(text.trim_start_matches('\u{feff}')).map_err(|error| match error.classify() {
        serde_json::error::Category::Eof => BackupError::CutShort,
        _ => BackupError::Broken(error.to_string()),
    })?;
    let Value::Object(mut parts) = value else { return Err(BackupError::WrongKind) };
    if parts.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(BackupError::WrongKind);
    }
    match parts.get("version").and_then(Value::as_u64) {
        Some(VERSION) => {}
        Some(newer) if newer > VERSION => return Err(BackupError::Newer(newer)),
        _ => return Err(BackupError::Broken("its version is missing".to_owned())),
    }
    let text_of = |key: &str| parts.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    let (trainee, written_at) = (PersonId::new(text_of("trainee")), text_of("written_at"));
    let written_at =
        parse_moment(&written_at).map_err(|_| BackupError::Broken("it does not say when it was written".to_owned()))?;
    let count = parts.get("count").and_then(Value::as_u64);
    let Some(Value::Array(entries)) = parts.remove("entries") else {
        return Err(BackupError::Broken("its list “entries” is missing".to_owned()));
    };
    let (mut log, mut problems) = (Log::default(), Vec::new());
    for (place, entry) in entries.into_iter().enumerate() {
        match Unverified::from_value(entry) {
            Ok(entry) => {
                log.insert(entry.check());
            }
            Err(why) => problems.push(format!("Entry {} of the file cannot be read: {why}.", place + 1)),
        }
        turns.turn().await;
    }
    if count != u64::try_from(log.len()).ok() {
        problems.push("The file does not hold as many entries as it says.".to_owned());
    }
    Ok(RecordFile { trainee, written_at, log, problems })
}
