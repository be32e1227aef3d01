//! Verifying: who signed what, when, whether it holds, and which key must be trusted for that.
//!
//! Needs nothing but a file: no academy on this device, no network. It says what the file says of itself and whether
//! that holds together; that the key is the academy's own is for people to compare.

use std::collections::BTreeMap;

use practicum::certificate::CertificateScope;
use practicum::competency::{Decision, SignOff};
use practicum::ids::{DeviceId, EntryId, PersonId};
use practicum::moment::{Day, Moment};

use crate::backup::BackupError;
use crate::entry::{Content, Entry, Header};
use crate::evidence::{self, Evidence};
use crate::fact::{Fact, Scope};
use crate::hand_over::{self, HandOverError};
use crate::kind::Kind;
use crate::log::Log;
use crate::logbook::Logbook;
use crate::record_file;
use crate::records::Records;
use crate::signature::PublicKey;
use crate::trust::{Trust, Word};
use crate::turns::{AtOnce, Turns, at_once};

/// What kind of file it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A copy of everything that a device held.
    Backup,
    /// Entries carried from one device to another; all of them, or a part.
    HandOver {
        /// It leaves out what its receiver had, or what is older.
        part: bool,
    },
    /// One trainee's record.
    Record(PersonId),
}

/// A file that was read to be verified. It changes nothing anywhere.
#[derive(Debug, Clone)]
pub struct Opened {
    /// What it is.
    pub what: What,
    /// When it was written, by the clock of the device that wrote it.
    pub written_at: Moment,
    log: Log,
    problems: Vec<String>,
}

/// Why a file was not read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotOpened {
    /// A passphrase seals it.
    Sealed,
    /// A sentence that says what is wrong and what to do.
    Refused(String),
}

const OTHER_FILE: &str = "This is no record file, hand-over file or backup of Upsweep: ask whoever gave it to you for the \
                          file as the app wrote it. Nothing was changed.";

/// Opens a record file, a hand-over file or a backup.
///
/// # Errors
/// Returns why it was not opened.
pub fn open(bytes: &[u8], passphrase: Option<&str>) -> Result<Opened, NotOpened> {
    at_once(open_in_turns(bytes, passphrase, &mut AtOnce))
}

/// As [`open`], pausing in between.
///
/// # Errors
/// As [`open`].
pub async fn open_in_turns(bytes: &[u8], passphrase: Option<&str>, turns: &mut dyn Turns) -> Result<Opened, NotOpened> {
    if let Ok(text) = std::str::from_utf8(bytes)
        && record_file::looks_like(text)
    {
        match record_file::read_in_turns(text, turns).await {
            Ok(file) => {
                let what = What::Record(file.trainee);
                return Ok(Opened { what, written_at: file.written_at, log: file.log, problems: file.problems });
            }
            // Another file may hold the word somewhere.
            Err(BackupError::WrongKind) => {}
            Err(error) => return Err(NotOpened::Refused(error.to_string())),
        }
    }
    let refused = |error: HandOverError| match error {
        HandOverError::WrongKind => NotOpened::Refused(OTHER_FILE.to_owned()),
        error => NotOpened::Refused(error.to_string()),
    };
    let look = hand_over::look(bytes).map_err(refused)?;
    let file = match hand_over::reading::read_in_turns(bytes, passphrase, turns).await {
        Ok(file) => file,
        Err(HandOverError::Sealed) => return Err(NotOpened::Sealed),
        Err(error) => return Err(refused(error)),
    };
    let what = match look {
        hand_over::Look::Backup => What::Backup,
        _ => What::HandOver { part: file.part },
    };
    Ok(Opened { what, written_at: file.written_at, log: file.log, problems: Vec::new() })
}

/// A key that the academy admitted, as the file says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeySeen {
    /// The key.
    pub key: PublicKey,
    /// Whose it is, by name; `None` for whoever uses the device.
    pub person: Option<String>,
    /// The device.
    pub device: DeviceId,
    /// What people call it.
    pub label: String,
    /// What it may sign.
    pub scope: Scope,
    /// Number of the last entry that it may have signed, once it was ended.
    pub ended: Option<u64>,
}

/// A certificate, as the file holds it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CertificateSeen {
    /// Its number.
    pub number: String,
    /// For whom, by name.
    pub trainee: String,
    /// On which day.
    pub on: Day,
    /// What it speaks of.
    pub scope: CertificateScope,
    /// Who assessed, by name.
    pub assessor: String,
    /// How often it was printed.
    pub copies: usize,
    /// When and why it was withdrawn, if it was by the time of the file.
    pub withdrawn: Option<(Day, String)>,
}

/// A decision about a competency, as the file holds it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignOffSeen {
    /// The entry.
    pub entry: EntryId,
    /// What it decides; `None` where its content is not in the file.
    pub says: Option<Says>,
    /// When it was written.
    pub at: Moment,
    /// Who wrote it, by name.
    pub by: String,
    /// The key that signs it.
    pub key: Option<PublicKey>,
    /// Whether it holds: what to make of it, or what is wrong with the entry itself.
    pub word: Result<Word, &'static str>,
    /// The entries that it stands on; `None` where it does not say.
    pub evidence: Option<Evidence>,
    /// What whom it concerns replied and what was answered, in sentences.
    pub replies: Vec<String>,
    /// It was withdrawn later: by whom and when.
    pub withdrawn: Option<String>,
}

impl SignOffSeen {
    /// Whether it was signed by a key that may, and was not withdrawn in this file.
    pub fn holds(&self) -> bool {
        self.word.is_ok_and(Word::believed) && self.withdrawn.is_none()
    }
}

/// What a decision says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Says {
    /// About whom, by name.
    pub trainee: String,
    /// The competency, as the course book calls it.
    pub competency: String,
    /// The decision.
    pub decision: Decision,
    /// Independence level, 0 to 6.
    pub level: u8,
    /// Comment; may be empty.
    pub comment: String,
    /// The course book in force then, where it says so.
    pub course_book: Option<String>,
}

/// A receipt: an assessor's device saw another one's log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReceiptSeen {
    /// Whose log.
    pub device: DeviceId,
    /// Up to which number.
    pub up_to: u64,
    /// Seen by whom, by name.
    pub by: String,
    /// Whether it agrees with one that saw more.
    pub agrees: bool,
}

/// An entry that does not hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fallen {
    /// What it is, by whom and when, in words.
    pub what: String,
    /// Why it does not hold.
    pub why: String,
}

/// What a file says, and whether it holds.
#[derive(Debug, Clone)]
pub struct Report {
    /// What kind of file it is.
    pub what: What,
    /// When it was written. A later withdrawal shows only with a newer file.
    pub as_of: Moment,
    /// The academy's name, where the file holds it.
    pub academy: Option<String>,
    /// These are the invented records of the demo.
    pub demo: bool,
    /// Whose record it is, by name, where it is one trainee's.
    pub trainee: Option<String>,
    /// The key that everything rests on; `None` where nobody signed anything.
    pub key: Option<PublicKey>,
    /// Keys that claim to be the academy's beside that one.
    pub other_keys: Vec<PublicKey>,
    /// Keys that it admitted.
    pub keys: Vec<KeySeen>,
    /// Decisions about competencies, the oldest first.
    pub sign_offs: Vec<SignOffSeen>,
    /// Certificates, the first issued first.
    pub certificates: Vec<CertificateSeen>,
    /// Receipts.
    pub receipts: Vec<ReceiptSeen>,
    /// How many entries there are of each word.
    pub words: BTreeMap<Word, usize>,
    /// How many entries there are, and of these with their content.
    pub entries: (usize, usize),
    /// Entries that do not hold.
    pub fallen: Vec<Fallen>,
    /// What else does not hold together, in sentences.
    pub problems: Vec<String>,
}

/// Works out what a file says and whether it holds. `pinned` is the key that the reader knows as the academy's; without,
/// the key that the file tells of is taken, which says only that the file agrees with itself.
pub fn report(file: &Opened, pinned: Option<PublicKey>) -> Report {
    at_once(report_in_turns(file, pinned, &mut AtOnce))
}

/// As [`report`], pausing in between.
pub async fn report_in_turns(file: &Opened, pinned: Option<PublicKey>, turns: &mut dyn Turns) -> Report {
    let copy = file.log.copied(turns).await;
    let book = Logbook::new(DeviceId::new("")).pinning(pinned).with_log_in_turns(copy, turns).await;
    let (log, trust, records) = (book.log(), book.trust(), book.records());
    let name = |id: &PersonId| name(records, id);
    let mut words = BTreeMap::new();
    let mut fallen = Vec::new();
    for entry in log.entries() {
        *words.entry(trust.of_entry(entry, log)).or_default() += 1;
        if let Some(why) = evidence::does_not_count(log, trust, entry) {
            fallen.push(Fallen { what: in_words(records, entry.header()), why: why.to_owned() });
        }
        turns.turn().await;
    }
    let damaged = log
        .damaged()
        .map(|entry| Fallen { what: in_words(records, entry.header()), why: damage(entry.body_changed()).to_owned() });
    fallen.extend(damaged);
    let admitted = trust.admitted().map(|admitted| KeySeen {
        key: admitted.admission.key,
        person: admitted.admission.person.as_ref().map(name),
        device: admitted.admission.device.clone(),
        label: admitted.admission.label.clone(),
        scope: admitted.admission.scope,
        ended: admitted.ended.as_ref().map(|place| place.sequence),
    });
    let devices: std::collections::BTreeSet<&DeviceId> = log.entries().map(|entry| &entry.header().device).collect();
    let receipts = devices.into_iter().flat_map(|device| {
        trust.seen(device).iter().map(|seen| ReceiptSeen {
            device: device.clone(),
            up_to: seen.place.sequence,
            by: name(&seen.by),
            agrees: seen.agrees,
        })
    });
    let with_content = log.entries().filter(|entry| *entry.content() != Content::Withheld).count();
    let damage = |problem: &crate::log::Problem| {
        matches!(problem, crate::log::Problem::BodyChanged(_) | crate::log::Problem::SignatureBad(_))
    };
    let problems = log.problems().into_iter().filter(|problem| !damage(problem)).map(|problem| problem.say());
    Report {
        what: file.what.clone(),
        as_of: file.written_at,
        academy: records.academy().map(|academy| academy.name.clone()),
        demo: records.is_demo(),
        trainee: match &file.what {
            What::Record(trainee) => Some(name(trainee)),
            _ => None,
        },
        key: trust.key().copied(),
        other_keys: trust.other_keys().copied().collect(),
        keys: admitted.collect(),
        sign_offs: sign_offs(log, trust, records),
        certificates: certificates(records),
        receipts: receipts.collect(),
        words,
        entries: (log.len(), with_content),
        fallen,
        problems: file.problems.iter().cloned().chain(problems).collect(),
    }
}

fn certificates(records: &Records) -> Vec<CertificateSeen> {
    let seen = |known: &crate::records::Recorded<practicum::certificate::Certificate>| CertificateSeen {
        number: known.value.number.clone(),
        trainee: name(records, &known.value.trainee),
        on: known.value.on,
        scope: known.value.scope,
        assessor: name(records, &known.value.assessor),
        copies: records.prints_of(&known.entry).len(),
        withdrawn: records
            .withdrawal_of(&known.entry)
            .map(|gone| (gone.recorded_at.date_naive(), gone.value.why.clone())),
    };
    records.certificates().into_iter().map(seen).collect()
}

fn name(records: &Records, id: &PersonId) -> String {
    records.person(id).map_or_else(|| id.to_string(), |person| person.name.clone())
}

fn in_words(records: &Records, header: &Header) -> String {
    format!("{}, {} by {}", header.at.date_naive(), header.kind, name(records, &header.author))
}

fn damage(body_changed: bool) -> &'static str {
    match body_changed {
        true => "its content was changed after it was written",
        false => "its signature is missing, or not of the key that it names",
    }
}

fn decides(kind: &Kind) -> bool {
    matches!(kind, Kind::SignedOff | Kind::SignOffWithdrawn)
}

fn sign_offs(log: &Log, trust: &Trust, records: &Records) -> Vec<SignOffSeen> {
    let whole = log.entries().filter(|entry| decides(&entry.header().kind));
    let mut seen: Vec<SignOffSeen> = whole.map(|entry| sign_off(entry, log, trust, records)).collect();
    let damaged = log.damaged().filter(|entry| decides(&entry.header().kind)).map(|entry| SignOffSeen {
        entry: entry.header().id.clone(),
        says: None,
        at: entry.header().at,
        by: name(records, &entry.header().author),
        key: entry.header().signing.as_ref().map(|signing| signing.key),
        word: Err(damage(entry.body_changed())),
        evidence: None,
        replies: Vec::new(),
        withdrawn: None,
    });
    seen.extend(damaged);
    seen
}

fn sign_off(entry: &Entry, log: &Log, trust: &Trust, records: &Records) -> SignOffSeen {
    let header = entry.header();
    let fact = match entry.fact().map(std::sync::Arc::as_ref) {
        Some(Fact::SignedOff(sign_off)) => Some(sign_off),
        _ => None,
    };
    // A correction takes the place of what was said first, where it counts.
    let said = records.sign_off_record(&header.id).map(|known| &known.value).or(fact);
    let word = trust.of_entry(entry, log);
    SignOffSeen {
        entry: header.id.clone(),
        says: said.map(|said| says(records, said)),
        at: header.at,
        by: name(records, &header.author),
        key: entry.signer().copied(),
        word: Ok(word),
        evidence: said.and_then(|said| evidence::of_sign_off(log, trust, records, said)),
        replies: replies(records, &header.id),
        withdrawn: fact
            .filter(|said| said.decision == Decision::Signed)
            .and_then(|said| withdrawn(records, header, said)),
    }
}

fn says(records: &Records, said: &SignOff) -> Says {
    let book = said.stands_on.as_ref().map(|stands_on| &stands_on.course_book);
    let known = book.and_then(|book| records.book(book)).or(records.present_book());
    let label = known.and_then(|book| book.competencies.iter().find(|one| one.id == said.competency));
    Says {
        trainee: name(records, &said.trainee),
        competency: label.map_or_else(|| said.competency.to_string(), |competency| competency.label.clone()),
        decision: said.decision,
        level: said.level,
        comment: said.comment.clone(),
        course_book: book.map(ToString::to_string),
    }
}

/// Returns who withdrew a sign-off later, and when; what does not count withdraws nothing.
fn withdrawn(records: &Records, header: &Header, said: &SignOff) -> Option<String> {
    let later = |other: &&&SignOff| {
        other.decision == Decision::Withdrawn
            && other.trainee == said.trainee
            && other.competency == said.competency
            && (other.at, &other.id) > (said.at, &header.id)
    };
    let all = records.sign_offs();
    let withdrawal = all.iter().find(later)?;
    Some(format!("withdrawn on {} by {}", withdrawal.at.date_naive(), name(records, &withdrawal.by)))
}

fn replies(records: &Records, entry: &EntryId) -> Vec<String> {
    let mut lines = Vec::new();
    for reply in records.replies_to(entry) {
        let (by, day) = (name(records, &reply.author), reply.recorded_at.date_naive());
        lines.push(match &reply.value.disputed {
            None => format!("✓ Acknowledged by {by} on {day}."),
            Some(why) => format!("▲ Disputed by {by} on {day}: {why}"),
        });
        if let Some(answer) = records.resolution_of(&reply.entry) {
            let (by, day) = (name(records, &answer.author), answer.recorded_at.date_naive());
            lines.push(format!("● Answered by {by} on {day}: {}", answer.value.words));
        }
    }
    lines
}
