//! What does not hold together in a logbook, in words, with what to do about it. Nothing is ever repaired.

use std::collections::BTreeMap;
use std::sync::Arc;

use practicum::ids::{DeviceId, EntryId, PersonId};
use practicum::moment::Moment;

use crate::entry::{Entry, Header};
use crate::evidence;
use crate::fact::Fact;
use crate::kind::Kind;
use crate::log::Problem;
use crate::logbook::Logbook;
use crate::trust::Word;

/// How far back a device's clock may go from one entry to the next before it is said, in seconds: clocks are put right
/// by a little now and then.
const CLOCK_SECONDS: i64 = 60;
/// How far ahead of this device's clock an entry may be dated before it is said, in hours.
const AHEAD_HOURS: i64 = 24;
/// Entries dated before this year were written by a clock that was never set.
const CLOCK_NEVER_SET: i32 = 2020;

/// Something that does not hold together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What it is, in a sentence.
    pub what: String,
    /// The entries it is about, each with what it says.
    pub entries: Vec<Shown>,
    /// What to do.
    pub to_do: &'static str,
}

/// An entry as it is shown beside a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// The entry.
    pub entry: EntryId,
    /// What it says, by whom and when.
    pub words: String,
}

/// Lists everything that does not hold together; `now` is this device's clock.
pub fn findings(book: &Logbook, now: &Moment) -> Vec<Finding> {
    let mut found: Vec<Finding> = book.problems().iter().map(|problem| of_problem(book, problem)).collect();
    found.extend(clocks(book, now));
    found.extend(keys(book));
    found.extend(left(book));
    found.extend(receipts(book));
    found.extend(words(book));
    found.extend(book.records().problems().iter().map(|sentence| Finding {
        what: sentence.clone(),
        entries: Vec::new(),
        to_do: "Look at both, and correct the one that is wrong.",
    }));
    found
}

fn of_problem(book: &Logbook, problem: &Problem) -> Finding {
    let to_do = match problem {
        Problem::Gap { .. } => {
            "Ask for a hand-over from that device or from whoever has more of it, and take it in here."
        }
        Problem::Fork { .. } => {
            "Two copies of that device’s records went on side by side: both are kept and shown. Have the device start \
             anew under a key of its own, and end the old key on the page Keys."
        }
        Problem::ChainBroken { .. } | Problem::BodyChanged(_) | Problem::SignatureBad(_) => {
            "Somebody changed it after it was written, or the file was damaged on the way. Take in another copy: the \
             true one takes its place."
        }
        Problem::SameIdentifier(_) => "Look at both. The one that was written first is the one that pages show.",
        Problem::Unreadable(_) => "Reload the app for its latest version. They are kept as they came.",
        Problem::EndMissing { .. } => {
            "The storage of this device lost its last entries. Take in the last hand-over or backup of this device, and \
             write down anew what is still missing."
        }
        Problem::TwoAcademies => {
            "Restore a backup of your own academy on an empty device, and leave this one as it is."
        }
    };
    let ids: Vec<EntryId> = match problem {
        Problem::Fork { entries, .. } => entries.clone(),
        Problem::ChainBroken { entry, .. } => vec![entry.clone()],
        Problem::BodyChanged(entry) | Problem::SignatureBad(entry) => vec![entry.clone()],
        _ => Vec::new(),
    };
    let mut entries: Vec<Shown> =
        ids.iter().filter_map(|id| book.log().entry(id)).map(|entry| shown(book, entry)).collect();
    if let Problem::SameIdentifier(id) = problem {
        let same = book.log().entries().filter(|entry| entry.header().id == *id);
        entries.extend(same.map(|entry| shown(book, entry)));
    }
    Finding { what: problem.say(), entries, to_do }
}

/// Says what an entry says, by whom and when, without what the lock hides.
pub fn shown(book: &Logbook, entry: &Entry) -> Shown {
    let header = entry.header();
    let says = match entry.fact().map(Arc::as_ref) {
        Some(fact) => said(book, fact),
        None => "its content is not here".to_owned(),
    };
    let number = header.sequence;
    Shown { entry: header.id.clone(), words: format!("entry {number}, {}: {says}", by(book, header)) }
}

fn said(book: &Logbook, fact: &Fact) -> String {
    let name = |id: &PersonId| name(book, id);
    match fact {
        Fact::ServiceLogged(service) | Fact::DrillLogged(service) => {
            let what = if service.is_service() { "a service" } else { "a drill" };
            format!("{what} by {} that began {}", name(&service.trainee), service.began.format("%Y-%m-%d %H:%M"))
        }
        Fact::OutcomeMarked(outcome) => format!("{} criteria marked", outcome.marks.len()),
        Fact::SignedOff(sign_off) => {
            format!("“{}” for {}, level {}", sign_off.decision.word(), name(&sign_off.trainee), sign_off.level)
        }
        Fact::PlanDecided(decision) => format!("{} decided for {}", decision.plan.word(), name(&decision.trainee)),
        Fact::PersonEnrolled(person) => format!("{} enrolled as {}", person.name, person.role.word()),
        Fact::Corrected { reason, fact, .. } => format!("a correction ({reason}): {}", said(book, fact)),
        fact => fact.kind().word().to_owned(),
    }
}

fn by(book: &Logbook, header: &Header) -> String {
    format!("{} by {}", header.at.format("%Y-%m-%d %H:%M"), name(book, &header.author))
}

fn name(book: &Logbook, id: &PersonId) -> String {
    book.records().person(id).map_or_else(|| id.to_string(), |person| person.name.clone())
}

fn device_name(book: &Logbook, id: &DeviceId) -> String {
    let known = book.records().devices().into_iter().find(|device| device.value.id == *id);
    known.map_or_else(|| format!("device {id}"), |known| format!("device “{}”", known.value.label))
}

fn clocks(book: &Logbook, now: &Moment) -> Vec<Finding> {
    let mut found = Vec::new();
    let founded = book.records().founding().map(|founding| founding.recorded_at);
    let mut chains: BTreeMap<&DeviceId, Vec<&Arc<Entry>>> = BTreeMap::new();
    for entry in book.log().entries() {
        chains.entry(&entry.header().device).or_default().push(entry);
    }
    for (device, entries) in chains {
        let mut entries = entries;
        entries.sort_unstable_by_key(|entry| (entry.header().sequence, entry.hash().to_owned()));
        let device = device_name(book, device);
        let mut say = |what: String, entries: Vec<&Arc<Entry>>, to_do: &'static str| {
            if !entries.is_empty() {
                let entries = entries.into_iter().map(|entry| shown(book, entry)).collect();
                found.push(Finding { what, entries, to_do });
            }
        };
        let back: Vec<&Arc<Entry>> = entries
            .windows(2)
            .filter_map(|pair| match pair {
                [before, after]
                    if (before.header().at - after.header().at).num_seconds() > CLOCK_SECONDS
                        && before.header().sequence < after.header().sequence =>
                {
                    Some(*after)
                }
                _ => None,
            })
            .collect();
        say(
            format!("The clock of {device} went back: these entries are dated before the one written before them."),
            back,
            "Check that device’s clock. The order in which a device wrote is certain, its dates are not.",
        );
        let take = |test: &dyn Fn(&Moment) -> bool| {
            entries.iter().copied().filter(|entry| test(&entry.header().at)).collect::<Vec<_>>()
        };
        let never_set = |at: &Moment| at.format("%Y").to_string().parse().is_ok_and(|year: i32| year < CLOCK_NEVER_SET);
        say(
            format!("The clock of {device} was not set: these entries are dated decades ago."),
            take(&never_set),
            "Set that device’s clock. Correct what was dated by it: “Correct this record” on the service’s page.",
        );
        let early = |at: &Moment| {
            founded.is_some_and(|founded| (founded - *at).num_seconds() > CLOCK_SECONDS) && !never_set(at)
        };
        say(
            format!("These entries of {device} are dated before the academy was founded."),
            take(&early),
            "Check that device’s clock, and whether the entries belong to this academy.",
        );
        say(
            format!("These entries of {device} are dated ahead of this device’s clock."),
            take(&|at: &Moment| (*at - *now).num_hours() >= AHEAD_HOURS),
            "Check the clocks of both devices.",
        );
    }
    found
}

fn keys(book: &Logbook) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut admissions: BTreeMap<_, Vec<&Arc<Entry>>> = BTreeMap::new();
    for entry in book.log().entries() {
        if let Some(Fact::KeyAdmitted(admission)) = entry.fact().map(Arc::as_ref)
            && book.trust().of_entry(entry, book.log()).believed()
        {
            admissions.entry(admission.key).or_default().push(entry);
        }
    }
    for (key, entries) in admissions.into_iter().filter(|(_, entries)| entries.len() > 1) {
        found.push(Finding {
            what: format!("The key {} was admitted {} times.", key.fingerprint(), entries.len()),
            entries: entries.into_iter().map(|entry| shown(book, entry)).collect(),
            to_do: "The first admission stands, with its scope. To give a device more, let it make a new key.",
        });
    }
    for key in book.trust().other_keys() {
        found.push(Finding {
            what: format!("Another key claims to be the academy’s: {}.", key.fingerprint()),
            entries: Vec::new(),
            to_do: "Compare the fingerprint on the page Keys with the printed recovery sheet. What the other key says is \
                    kept and not believed.",
        });
    }
    found
}

/// What people wrote after they had left.
fn left(book: &Logbook) -> Vec<Finding> {
    let records = book.records();
    let gone = records.people().into_iter().filter_map(|person| person.left.map(|day| (person, day)));
    gone.filter_map(|(person, day)| {
        let after = |entry: &&Arc<Entry>| entry.header().author == person.id && entry.header().at.date_naive() > day;
        let entries: Vec<Shown> = book.log().entries().filter(after).map(|entry| shown(book, entry)).collect();
        (!entries.is_empty()).then(|| Finding {
            what: format!("{} left on {day} and wrote entries after that.", person.name),
            entries,
            to_do: "End the keys of whoever has left on the page Keys, at the last entry that you accept. If the day is \
                    wrong, correct it under People.",
        })
    })
    .collect()
}

fn receipts(book: &Logbook) -> Vec<Finding> {
    let mut devices: Vec<&DeviceId> = book.log().entries().map(|entry| &entry.header().device).collect();
    devices.sort();
    devices.dedup();
    let disagree = |device: &&DeviceId| book.trust().seen(device).iter().any(|seen| !seen.agrees);
    let finding = |device: &DeviceId| Finding {
        what: format!("Two instructors’ devices saw different records of {}.", device_name(book, device)),
        entries: Vec::new(),
        to_do: "Both are kept. Ask whose device it is which of them is theirs, and end its key on the page Keys.",
    };
    devices.into_iter().filter(disagree).map(finding).collect()
}

/// Entries that do not count for what their signature says, by what it says.
fn words(book: &Logbook) -> Vec<Finding> {
    let mut by_word: BTreeMap<Word, Vec<&Arc<Entry>>> = BTreeMap::new();
    for entry in book.log().entries() {
        if evidence::does_not_count(book.log(), book.trust(), entry).is_some() && entry.header().kind != Kind::KeyAsked
        {
            by_word.entry(book.trust().of_entry(entry, book.log())).or_default().push(entry);
        }
    }
    let finding = |(word, entries): (Word, Vec<&Arc<Entry>>)| Finding {
        what: match entries.len() {
            1 => format!("1 entry does not count: {}.", word.say()),
            number => format!("{number} entries do not count: {}.", word.say()),
        },
        entries: entries.into_iter().map(|entry| shown(book, entry)).collect(),
        to_do: match word {
            Word::NotSigned => {
                "Have whoever said it say it again on a device whose key is admitted, or adopt it on the page Keys."
            }
            Word::KeyNotAdmitted => "If you know the device, admit its key on the page Keys; otherwise leave it.",
            Word::AfterTheEnd => {
                "Whoever has left, or lost a device, writes no more: ask an instructor to say it again."
            }
            Word::BeyondScope => {
                "Somebody tried to say what their key may not. Ask them, and ask an instructor to say it."
            }
            Word::NotThereThen => {
                "It was put in later, before a place that an instructor’s device had seen. Ask whose device it is."
            }
            _ => "Ask whose device it is how this came about. It is kept and not believed.",
        },
    };
    by_word.into_iter().map(finding).collect()
}
