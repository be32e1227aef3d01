//! What a sign-off stands on: the entries of its services and marks, by their hashes, and what became of them.

use std::collections::BTreeSet;

use practicum::competency::{SignOff, StandsOn};
use practicum::ids::{EntryId, PersonId, ServiceId};
use practicum::moment::Moment;

use crate::entry::{Content, Entry};
use crate::fact::Fact;
use crate::kind::Kind;
use crate::log::Log;
use crate::records::{Recorded, Records};
use crate::trust::{Trust, Word};

/// What became of an entry that stood as evidence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum State {
    /// It is here as it was.
    Unchanged,
    /// It is here as it was, without its content; the header and its signature hold.
    Withheld,
    /// Its content was erased; the header and its signature hold.
    Erased,
    /// It was corrected after the sign-off, by this entry.
    Corrected(EntryId),
    /// It was withdrawn, or the record of the same service on another device counts instead; why.
    Withdrawn(String),
    /// It is here and does not count any more; why.
    DoesNotCount(String),
    /// It is not here: removed, or never brought along.
    Missing,
}

impl State {
    /// Whether the entry still says what it said.
    pub fn stands(&self) -> bool {
        matches!(self, State::Unchanged | State::Withheld | State::Erased)
    }
}

/// An entry that stood as evidence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// Hash of its header.
    pub hash: String,
    /// The entry, where it is here.
    pub entry: Option<EntryId>,
    /// Its kind.
    pub kind: Option<Kind>,
    /// Who wrote it.
    pub by: Option<PersonId>,
    /// When.
    pub at: Option<Moment>,
    /// About which service, where its content is here.
    pub service: Option<ServiceId>,
    /// What became of it.
    pub state: State,
}

/// The evidence of a sign-off as it is now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Evidence {
    /// The entries it stood on, in order.
    pub pieces: Vec<Piece>,
    /// Marks and corrections about the same services that were not there then.
    pub since: Vec<EntryId>,
}

impl Evidence {
    /// Whether everything still says what it said. Further marks since then change nothing of it.
    pub fn unchanged(&self) -> bool {
        self.pieces.iter().all(|piece| piece.state.stands())
    }
}

/// Returns the hashes of the entries that services stand on: each service with its corrections, then each mark by an
/// assessor with its corrections, in the order begun. What is not here is left out.
pub fn of_services(log: &Log, records: &Records, services: &[ServiceId]) -> Vec<String> {
    let mut known: Vec<&Recorded<_>> = services.iter().filter_map(|id| records.service(id)).collect();
    known.sort_unstable_by(|a, b| (a.value.began, &a.value.id).cmp(&(b.value.began, &b.value.id)));
    let mut hashes = Vec::new();
    let mut seen = BTreeSet::new();
    let mut take = |entry: &EntryId| {
        if let Some(entry) = log.entry(entry)
            && seen.insert(entry.hash().to_owned())
        {
            hashes.push(entry.hash().to_owned());
        }
    };
    for service in known {
        take(&service.entry);
        records.service_history(&service.value.id).iter().for_each(|version| take(&version.entry));
        for outcome in records.assessors_outcomes(&service.value).into_iter().filter(|one| one.withdrawn.is_none()) {
            take(&outcome.entry);
            records.history(&outcome.entry).iter().for_each(|version| take(&version.entry));
        }
    }
    hashes
}

/// Looks up what became of the evidence of a sign-off; `None` for one that does not say what it stands on.
pub fn of_sign_off(log: &Log, trust: &Trust, records: &Records, sign_off: &SignOff) -> Option<Evidence> {
    let stands_on = sign_off.stands_on.as_ref()?;
    let pieces = stands_on.evidence.iter().map(|hash| piece(log, trust, records, stands_on, hash)).collect();
    let now = of_services(log, records, &sign_off.services);
    let new = now.into_iter().filter(|hash| !stands_on.evidence.contains(hash));
    let since = new.filter_map(|hash| log.by_hash(&hash).map(|entry| entry.header().id.clone())).collect();
    Some(Evidence { pieces, since })
}

fn piece(log: &Log, trust: &Trust, records: &Records, stands_on: &StandsOn, hash: &str) -> Piece {
    let Some(entry) = log.by_hash(hash) else {
        let hash = hash.to_owned();
        return Piece { hash, entry: None, kind: None, by: None, at: None, service: None, state: State::Missing };
    };
    let header = entry.header();
    Piece {
        hash: hash.to_owned(),
        entry: Some(header.id.clone()),
        kind: Some(header.kind.clone()),
        by: Some(header.author.clone()),
        at: Some(header.at),
        service: service_of(entry),
        state: state(log, trust, records, stands_on, entry),
    }
}

fn state(log: &Log, trust: &Trust, records: &Records, stands_on: &StandsOn, entry: &Entry) -> State {
    let id = &entry.header().id;
    if let Some(why) = does_not_count(log, trust, entry) {
        return State::DoesNotCount(why.to_owned());
    }
    let withdrawn = service_of(entry).and_then(|service| records.service(&service)?.withdrawn.clone());
    if let Some(withdrawn) = withdrawn {
        return State::Withdrawn(withdrawn.reason);
    }
    let corrects = |other: &&std::sync::Arc<Entry>| match other.fact().map(std::sync::Arc::as_ref) {
        Some(Fact::Corrected { of, .. }) => of == id && !stands_on.evidence.iter().any(|hash| hash == other.hash()),
        _ => false,
    };
    let counts = |other: &&std::sync::Arc<Entry>| does_not_count(log, trust, other).is_none();
    if let Some(correction) = log.entries().filter(corrects).find(counts) {
        return State::Corrected(correction.header().id.clone());
    }
    match entry.content() {
        Content::Withheld if log.is_erased(entry.hash()) => State::Erased,
        Content::Withheld => State::Withheld,
        _ => State::Unchanged,
    }
}

/// Says why an entry does not count, if it does not. What a key may sign depends on what is said for some kinds:
/// where their content is withheld nobody can tell, and the signature is all there is.
pub(crate) fn does_not_count(log: &Log, trust: &Trust, entry: &Entry) -> Option<&'static str> {
    let word = trust.of_entry(entry, log);
    let cannot_tell = word == Word::BeyondScope
        && *entry.content() == Content::Withheld
        && matches!(entry.header().kind, Kind::OutcomeMarked | Kind::Correction | Kind::OverrideNoted);
    (!trust.counts(entry, log, word) && !cannot_tell).then(|| word.say())
}

/// Returns the service that an entry is about, where its content is here.
fn service_of(entry: &Entry) -> Option<ServiceId> {
    fn of(fact: &Fact) -> Option<ServiceId> {
        match fact {
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => Some(service.id.clone()),
            Fact::OutcomeMarked(outcome) => Some(outcome.service.clone()),
            Fact::Corrected { fact, .. } => of(fact),
            _ => None,
        }
    }
    entry.fact().and_then(|fact| of(fact))
}
