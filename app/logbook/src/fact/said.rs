//! What is said about what stands in the log: answers and disputes, records of one service, erasures and holds.

use practicum::ids::{EntryId, PersonId, ServiceId};

use crate::subject::Subject;

/// What an answer is about: an entry, its value as it stood when it was answered, and whom it concerns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// The entry that recorded it first: marks, a plan decision or a sign-off.
    pub entry: EntryId,
    /// Hash of the entry whose value held then: the first, or its last correction.
    pub hash: String,
    /// The person it concerns, who answers.
    pub person: PersonId,
}

/// The person concerned has read it, or does not agree.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reply {
    /// About what.
    pub about: About,
    /// Why it is disputed; `None` when it is taken note of.
    pub disputed: Option<String>,
}

/// A dispute is answered; nothing of what was said before goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resolution {
    /// The entry that disputes.
    pub dispute: EntryId,
    /// The person it concerns.
    pub person: PersonId,
    /// How it was resolved, in words.
    pub words: String,
}

/// A person's word on two records that look like the same service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settlement {
    /// The record that counts.
    pub keep: ServiceId,
    /// The other record; where both are the same service it counts no more.
    pub other: ServiceId,
    /// They are the same service, written down twice.
    pub same: bool,
    /// Why; may be empty.
    pub why: String,
}

/// Bodies that go for good; their headers stay, and so do the signatures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Erasure {
    /// Whose: a practice model or a person.
    pub of: Subject,
    /// Hashes of the headers whose bodies go, in order.
    pub hashes: Vec<String>,
    /// What it was, in plain words.
    pub what: String,
    /// Why it goes.
    pub why: String,
}

/// What asks that something is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ground {
    /// A claim that was made or is to be expected.
    Claim,
    /// A law.
    Law,
}

impl Ground {
    /// Says it in a word.
    pub fn word(self) -> &'static str {
        match self {
            Ground::Claim => "a claim",
            Ground::Law => "a law",
        }
    }
}

/// Nothing about a practice model or a person may be erased until this is lifted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hold {
    /// About whom.
    pub on: Subject,
    /// What asks for it.
    pub ground: Ground,
    /// Which claim or law, in words.
    pub why: String,
}
