//! What does not hold together in a log.

use practicum::ids::{DeviceId, EntryId};

use super::{Link, Log};
use crate::entry::Unverified;
use crate::turns::Turns;

/// Something that does not hold together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Problem {
    /// Entries of a device are missing.
    Gap {
        /// The device.
        device: DeviceId,
        /// First number that is missing.
        from: u64,
        /// Last number that is missing.
        to: u64,
    },
    /// A device wrote two entries with the same number.
    Fork {
        /// The device.
        device: DeviceId,
        /// The number.
        sequence: u64,
        /// The entries.
        entries: Vec<EntryId>,
    },
    /// An entry does not name the entry before it: one of the two was changed, or one was put in between.
    ChainBroken {
        /// The device.
        device: DeviceId,
        /// The entry.
        entry: EntryId,
        /// Its number.
        sequence: u64,
    },
    /// The body of an entry is not the one that its header names.
    BodyChanged(EntryId),
    /// The signature of an entry is missing, or not of the key that its header names.
    SignatureBad(EntryId),
    /// Two different entries carry the same identifier.
    SameIdentifier(EntryId),
    /// Lines that cannot be read.
    Unreadable(usize),
    /// The chain does not end with the entry that was noted when it was last saved.
    EndMissing {
        /// The device.
        device: DeviceId,
    },
    /// The records of more than one academy are in one log.
    TwoAcademies,
}

impl Problem {
    /// Says it in a sentence.
    pub fn say(&self) -> String {
        match self {
            Problem::Gap { device, from, to } if from == to => {
                format!("Entry {from} of device {device} is missing.")
            }
            Problem::Gap { device, from, to } => format!("Entries {from} to {to} of device {device} are missing."),
            Problem::Fork { device, sequence, entries } => {
                format!("Device {device} has {} different entries with the number {sequence}.", entries.len())
            }
            Problem::ChainBroken { device, entry, sequence } => format!(
                "Entry {sequence} of device {device} ({entry}) does not follow from the one before it: one of the \
                 two was changed after it was written."
            ),
            Problem::BodyChanged(entry) => {
                format!("The content of entry {entry} was changed after it was written; it is kept and not used.")
            }
            Problem::SignatureBad(entry) => {
                format!("The signature of entry {entry} is not its key’s; the entry is kept and not used.")
            }
            Problem::SameIdentifier(entry) => format!("Two different entries carry the identifier {entry}."),
            Problem::Unreadable(lines) => format!("{lines} lines of the log cannot be read; they are kept."),
            Problem::EndMissing { device } => {
                format!("The last entry of device {device} is not the one that was saved last.")
            }
            Problem::TwoAcademies => "The records of more than one academy are mixed here.".to_owned(),
        }
    }
}

pub(super) async fn problems(log: &Log, turns: &mut dyn Turns) -> Vec<Problem> {
    let mut found = Vec::new();
    for (device, chain) in &log.chains {
        let mut before: (u64, &[Link]) = (0, &[]);
        for (sequence, links) in chain {
            let expected = before.0.saturating_add(1);
            if *sequence > expected {
                found.push(Problem::Gap { device: device.clone(), from: expected, to: sequence - 1 });
            } else {
                for link in links {
                    let follows = match before.1 {
                        [] => link.previous.is_empty(),
                        earlier => earlier.iter().any(|earlier| earlier.hash == link.previous),
                    };
                    if !follows {
                        let (device, entry) = (device.clone(), link.id.clone());
                        found.push(Problem::ChainBroken { device, entry, sequence: *sequence });
                    }
                }
            }
            if links.len() > 1 {
                let entries = links.iter().map(|link| link.id.clone()).collect();
                found.push(Problem::Fork { device: device.clone(), sequence: *sequence, entries });
            }
            before = (*sequence, links);
            turns.turn().await;
        }
    }
    let damaged = |entry: &Unverified| match entry.body_changed() {
        true => Problem::BodyChanged(entry.header().id.clone()),
        false => Problem::SignatureBad(entry.header().id.clone()),
    };
    found.extend(log.damaged.values().map(damaged));
    for (id, hashes) in &log.ids {
        if hashes.len() > 1 {
            found.push(Problem::SameIdentifier(id.clone()));
        }
        turns.turn().await;
    }
    if !log.unreadable.is_empty() {
        found.push(Problem::Unreadable(log.unreadable.len()));
    }
    if log.foundings().len() > 1 {
        found.push(Problem::TwoAcademies);
    }
    found
}
