//! Erasure: which bodies may go for good, which of them have to, and what asks that they stay.
//!
//! An erasure names the headers whose bodies go. The header, its place in the chain and its signature stay, so that
//! the log still holds together; the place shows who erased it, when and why. It counts only when it is believed:
//! in an academy with a key by the word of its signature, in one without a key when the owner wrote it.
//!
//! What goes is who somebody is: names, contacts, birth dates, guardians, notes about them, answers to the
//! screening and sensitivity tests, photos, licences. What was done and when stays: services with their times, marks, consents (a date
//! and a wording, no free text), incidents, decisions. A service's own record mixes both, because the answers to the
//! screening were tapped while it was under way: it stays whole, under a code that says no longer whose it is.

use std::collections::BTreeMap;

use crate::entry::{Entry, Header};
use crate::fact::Fact;
use crate::kind::Kind;
use crate::log::Log;
use crate::subject::Subject;
use crate::trust::Trust;

/// Whether the body of an entry may be erased for a practice model or a person.
pub fn may_go(entry: &Entry, of: &Subject) -> bool {
    may_go_by(entry.header(), entry.fact().map(std::sync::Arc::as_ref), of)
}

/// As [`may_go`], by the header and by the fact where it is here. A body that is not here goes by its header, so
/// that it does not come back.
pub(crate) fn may_go_by(header: &Header, fact: Option<&Fact>, of: &Subject) -> bool {
    let kind = match fact {
        Some(Fact::Corrected { fact, .. }) => fact.kind(),
        _ => header.kind.clone(),
    };
    match of {
        Subject::PracticeModel(_) if header.subject == *of => matches!(
            kind,
            Kind::PracticeModelAdded
                | Kind::ContactNoted
                | Kind::ScreeningAnswered
                | Kind::TestPutOn
                | Kind::PhotoKept
                | Kind::FollowUpNoted
                | Kind::Correction
        ),
        // The reading of a test names the test alone: whose it is stands in the test.
        Subject::PracticeModel(_) => match (&header.subject, fact) {
            (Subject::Other(name), _) => name.starts_with("test:") && matches!(kind, Kind::TestRead | Kind::Correction),
            _ => false,
        },
        Subject::Person(_) if header.subject == *of => {
            matches!(
                kind,
                Kind::PersonEnrolled | Kind::ContactNoted | Kind::FollowUpNoted | Kind::LicenceNoted | Kind::Correction
            )
        }
        _ => false,
    }
}

/// Returns the hashes of everything that may be erased about a practice model or a person and is here, in the order
/// in which the log is told.
pub fn bodies_of<'l>(log: &'l Log, of: &Subject) -> Vec<&'l Entry> {
    let tests = tests_of(log, of);
    let reads = |entry: &Entry| matches!(&entry.header().subject, Subject::Other(_));
    let here = log.entries().map(std::sync::Arc::as_ref).filter(|entry| entry.fact().is_some() && may_go(entry, of));
    here.filter(|entry| !reads(entry) || tests.contains(&entry.header().subject)).collect()
}

fn tests_of(log: &Log, of: &Subject) -> Vec<Subject> {
    let put_on = log.entries().filter(|entry| entry.header().subject == *of);
    let tests = put_on.filter_map(|entry| match entry.fact()?.as_ref() {
        Fact::TestPutOn(test) => Some(Subject::Other(format!("test:{}", test.id))),
        _ => None,
    });
    tests.collect()
}

/// Returns what is erased by entries that are believed: whose it was, by the hash of each header.
///
/// An erasure that was written while a hold stood erases nothing.
pub(crate) fn erased(log: &Log, trust: &Trust) -> BTreeMap<String, Subject> {
    let mut holds: BTreeMap<String, Subject> = BTreeMap::new();
    let mut erased = BTreeMap::new();
    for entry in log.entries() {
        if !matches!(entry.header().kind, Kind::Erased | Kind::HoldPlaced | Kind::HoldLifted) {
            continue;
        }
        let Some(fact) = entry.fact() else { continue };
        if !owners_word(entry, log, trust) {
            continue;
        }
        match fact.as_ref() {
            Fact::HoldPlaced(hold) => {
                holds.insert(entry.header().id.to_string(), hold.on.clone());
            }
            Fact::HoldLifted { hold, .. } => {
                holds.remove(hold.as_str());
            }
            Fact::Erased(erasure) if !holds.values().any(|on| *on == erasure.of) => {
                erased.extend(erasure.hashes.iter().map(|hash| (hash.clone(), erasure.of.clone())));
            }
            _ => {}
        }
    }
    erased
}

/// Whether an entry is the owner's: believed where the academy has a key, else written by the owner.
fn owners_word(entry: &Entry, log: &Log, trust: &Trust) -> bool {
    if trust.key().is_some() {
        return trust.of_entry(entry, log).believed();
    }
    let founding = log.entries().find(|entry| entry.header().kind == Kind::AcademyFounded);
    match founding.and_then(|founding| founding.fact()).map(std::sync::Arc::as_ref) {
        Some(Fact::AcademyFounded(academy)) => academy.owner == entry.header().author,
        _ => false,
    }
}
