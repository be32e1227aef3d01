//! What there is to see of a file before it is taken in: what it adds, whose word that is, and what to heed.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use practicum::ids::{DeviceId, PersonId};
use practicum::moment::Moment;
use practicum::order::InOrder;

use super::HandOver;
use crate::entry::{Content, Entry};
use crate::fact::Fact;
use crate::kind::Kind;
use crate::log::Problem;
use crate::logbook::Logbook;
use crate::trust::Word;
use crate::turns::Turns;

/// How far a clock may run ahead of this device's before that is said.
const AHEAD: chrono::TimeDelta = chrono::TimeDelta::hours(24);

/// What taking in has added.
#[derive(Debug, Default)]
pub(super) struct Added {
    pub(super) new: Vec<Arc<Entry>>,
    pub(super) completed: Vec<Arc<Entry>>,
    pub(super) damaged: usize,
    pub(super) unreadable: usize,
}

/// Entries of one author on one device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Share {
    /// The author's name, or identifier where the name is not here.
    pub person: String,
    /// What people call the device, or the beginning of its identifier.
    pub device: String,
    /// How many entries.
    pub entries: usize,
}

/// What there is to see of a file before it is taken in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Preview {
    /// Name of the academy, where it is known.
    pub academy: Option<String>,
    /// Device that wrote the file, as people call it.
    pub from: Option<String>,
    /// When it was written, by that device's clock.
    pub written_at: Moment,
    /// A passphrase sealed it.
    pub sealed: bool,
    /// It leaves out what its receiver had, or what is older.
    pub part: bool,
    /// The trainee for whose device it was written, by name.
    pub trainee: Option<String>,
    /// Entries in the file.
    pub entries: usize,
    /// Entries that are new here.
    pub new: usize,
    /// Of those, how many come without their bodies.
    pub headers_only: usize,
    /// Entries that were here without their bodies, which the file brings.
    pub completed: usize,
    /// New entries by what they record, the most frequent first.
    pub kinds: Vec<(Kind, usize)>,
    /// New entries by author and device, the most frequent first.
    pub shares: Vec<Share>,
    /// First and last moment of the new entries, by the clocks of the devices that wrote them.
    pub span: Option<(Moment, Moment)>,
    /// New entries whose word does not hold as it is, by what to make of them; nothing while the academy has no key.
    pub words: Vec<(Word, usize)>,
    /// Fingerprint of the academy's key where this device knew none before: to be compared with the owner's.
    pub first_key: Option<String>,
    /// The academy has no key, so that nothing is signed.
    pub no_key: bool,
    /// What to heed, in sentences. Nothing of it keeps the file out: it is kept, shown, never repaired.
    pub findings: Vec<String>,
}

impl Preview {
    pub(super) async fn of(
        file: &HandOver,
        before: &Logbook,
        after: &Logbook,
        added: &Added,
        now: &Moment,
        turns: &mut dyn Turns,
    ) -> Self {
        let names = Names { logbook: after };
        let word = |entry: &Entry| after.trust().of_entry(entry, after.log());
        let no_key = after.trust().key().is_none();
        let mut words = BTreeMap::new();
        for entry in added.new.iter().chain(&added.completed).filter(|_| !no_key) {
            let word = word(entry);
            if word != Word::Holds {
                *words.entry(word).or_insert(0_usize) += 1;
            }
            turns.turn().await;
        }
        let moments = added.new.iter().map(|entry| entry.header().at);
        let span = moments.clone().min().zip(moments.max());
        turns.rest().await;
        let headers_only = added.new.iter().filter(|entry| *entry.content() == Content::Withheld).count();
        turns.rest().await;
        Self {
            academy: after.records().academy().map(|academy| academy.name.clone()),
            from: file.device.as_ref().map(|device| names.device(device)),
            written_at: file.written_at,
            sealed: file.sealed,
            part: file.part,
            trainee: file.trainee.as_ref().map(|trainee| names.person(trainee)),
            entries: file.entries,
            new: added.new.len() + added.damaged,
            headers_only,
            completed: added.completed.len(),
            kinds: most_first(added.new.iter().map(|entry| &entry.header().kind), turns)
                .await
                .into_iter()
                .map(|(kind, entries)| (kind.clone(), entries))
                .collect(),
            shares: most_first(added.new.iter().map(|entry| (&entry.header().author, &entry.header().device)), turns)
                .await
                .into_iter()
                .map(|((person, device), entries)| Share {
                    person: names.person(person),
                    device: names.device(device),
                    entries,
                })
                .collect(),
            span,
            words: words.into_iter().collect(),
            first_key: match before.trust().key() {
                None => after.trust().key().map(|key| key.fingerprint()),
                Some(_) => None,
            },
            no_key,
            findings: findings(before, after, added, now, &names, turns).await,
        }
    }

    /// Whether the file brings nothing that is not here already.
    pub fn brings_nothing(&self) -> bool {
        self.new == 0 && self.completed == 0 && self.findings.is_empty()
    }

    /// Says in a sentence what taking it in adds.
    pub fn say(&self) -> String {
        if self.brings_nothing() {
            return "Everything in it is here already: there is nothing to take in.".to_owned();
        }
        let entries = |number: usize| if number == 1 { "1 entry".to_owned() } else { format!("{number} entries") };
        let mut parts = Vec::new();
        if self.new > 0 {
            parts.push(format!("{} new on this device", entries(self.new)));
        }
        if self.completed > 0 {
            parts.push(format!("{} known by header only whose content now comes", entries(self.completed)));
        }
        if parts.is_empty() {
            parts.push("no new entry".to_owned());
        }
        format!("Of {} in it: {}.", entries(self.entries), parts.join(", "))
    }
}

/// Names of people and devices as far as they are known.
struct Names<'a> {
    logbook: &'a Logbook,
}

impl Names<'_> {
    fn person(&self, id: &PersonId) -> String {
        self.logbook.records().person(id).map_or_else(|| shortened(id.as_str()), |person| person.name.clone())
    }

    fn device(&self, id: &DeviceId) -> String {
        let known = self.logbook.records().devices().into_iter().find(|device| device.value.id == *id);
        let label = known.map(|device| device.value.label.clone()).filter(|label| !label.is_empty());
        label.map_or_else(|| format!("device {}", shortened(id.as_str())), |label| format!("“{label}”"))
    }
}

/// Cuts a long identifier short.
fn shortened(id: &str) -> String {
    match id.char_indices().nth(12) {
        Some((end, _)) => format!("{}…", id.get(..end).unwrap_or_default()),
        None => id.to_owned(),
    }
}

async fn most_first<T: Ord>(of: impl Iterator<Item = T>, turns: &mut dyn Turns) -> Vec<(T, usize)> {
    let mut counts = BTreeMap::new();
    for one in of {
        *counts.entry(one).or_insert(0_usize) += 1;
        turns.turn().await;
    }
    let mut counts: Vec<(T, usize)> = counts.into_iter().collect();
    counts.order_by_key(|(_, count)| std::cmp::Reverse(*count));
    counts
}

/// Says what to heed: what does not hold together once the file is in, clocks that cannot be right, admissions twice.
async fn findings(
    before: &Logbook,
    after: &Logbook,
    added: &Added,
    now: &Moment,
    names: &Names<'_>,
    turns: &mut dyn Turns,
) -> Vec<String> {
    let known: BTreeSet<String> = before.log().problems_in_turns(turns).await.iter().map(Problem::say).collect();
    turns.rest().await;
    let problems = after.log().problems_in_turns(turns).await;
    let mut findings: Vec<String> =
        problems.iter().map(Problem::say).filter(|sentence| !known.contains(sentence)).collect();
    turns.rest().await;
    let rivals: BTreeSet<_> = before.trust().other_keys().collect();
    let rivals = after.trust().other_keys().filter(|key| !rivals.contains(key));
    findings.extend(rivals.map(|key| {
        format!(
            "Another key, {}, claims to be the academy’s. It is not believed here: find out who made it before anything \
             else is taken in from there.",
            key.fingerprint()
        )
    }));
    findings.extend(wrong_clocks(after, added, now, names));
    turns.rest().await;
    let twice = |logbook: &Logbook| admitted_twice(logbook, names);
    let known: BTreeSet<String> = twice(before).into_iter().collect();
    turns.rest().await;
    findings.extend(twice(after).into_iter().filter(|sentence| !known.contains(sentence)));
    findings
}

/// Says which new entries are dated before the academy was founded, or far ahead of this device's clock.
fn wrong_clocks(after: &Logbook, added: &Added, now: &Moment, names: &Names<'_>) -> Vec<String> {
    let founded = after.records().founding().map(|founding| founding.recorded_at);
    let mut early: BTreeMap<&DeviceId, (usize, Moment)> = BTreeMap::new();
    let mut late = early.clone();
    for entry in &added.new {
        let header = entry.header();
        if founded.is_some_and(|founded| header.at < founded) {
            let known = early.entry(&header.device).or_insert((0, header.at));
            *known = (known.0 + 1, known.1.min(header.at));
        }
        if header.at.signed_duration_since(now) > AHEAD {
            let known = late.entry(&header.device).or_insert((0, header.at));
            *known = (known.0 + 1, known.1.max(header.at));
        }
    }
    let day = |at: &Moment| at.format("%Y-%m-%d").to_string();
    let entries = |number: usize| if number == 1 { "1 entry".to_owned() } else { format!("{number} entries") };
    let are = |number: usize| if number == 1 { "is" } else { "are" };
    let early = early.into_iter().map(|(device, (number, first))| {
        format!(
            "{} from {} {} dated before the academy was founded (the earliest {}): the clock of that device was \
             wrong. They are kept and shown with these dates; set its clock, and correct a record where the day matters.",
            entries(number),
            names.device(device),
            are(number),
            day(&first)
        )
    });
    let late = late.into_iter().map(|(device, (number, last))| {
        format!(
            "{} from {} {} dated in the future (the latest {}): its clock or the one of this device is wrong. They are \
             kept and shown with these dates; look at both clocks.",
            entries(number),
            names.device(device),
            are(number),
            day(&last)
        )
    });
    early.chain(late).collect()
}

/// Says which keys or devices were admitted more than once.
fn admitted_twice(logbook: &Logbook, names: &Names<'_>) -> Vec<String> {
    let mut by_key: BTreeMap<String, (DeviceId, usize)> = BTreeMap::new();
    let mut by_place: BTreeMap<(DeviceId, Option<PersonId>), BTreeSet<String>> = BTreeMap::new();
    let mut ended = BTreeSet::new();
    for entry in logbook.log().entries() {
        match entry.fact().map(Arc::as_ref) {
            Some(Fact::KeyAdmitted(admission)) => {
                by_key.entry(admission.key.text()).or_insert((admission.device.clone(), 0)).1 += 1;
                let place = (admission.device.clone(), admission.person.clone());
                by_place.entry(place).or_default().insert(admission.key.text());
            }
            Some(Fact::KeyEnded { key, .. }) => {
                ended.insert(key.text());
            }
            _ => {}
        }
    }
    let same_key = by_key.into_values().filter(|(_, times)| *times > 1).map(|(device, times)| {
        format!(
            "A key of {} was admitted {times} times: the first admission stands, the later ones give it nothing more.",
            names.device(&device)
        )
    });
    let more_keys = by_place.into_iter().filter_map(|((device, person), keys)| {
        let standing = keys.iter().filter(|key| !ended.contains(*key)).count();
        let whose = person.map_or_else(String::new, |person| format!(" for {}", names.person(&person)));
        (standing > 1).then(|| {
            format!(
                "{} was admitted twice{whose}, with {standing} keys: if only one of them is in use there, end the other on \
                 the page of keys.",
                names.device(&device)
            )
        })
    });
    same_key.chain(more_keys).collect()
}
