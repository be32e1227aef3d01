//! Corrections: which entry each of them reaches, and what holds then.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use practicum::couch::Act;
use practicum::ids::{EntryId, ServiceId};
use practicum::order::map_of;
use practicum::service::{Origin, Service};

use super::Version;
use crate::entry::Entry;
use crate::fact::Fact;
use crate::log::Log;
use crate::trust::Trust;
use crate::turns::Turns;

/// What a correction reaches: an entry, or one imported row of it.
type Root = (EntryId, Option<ServiceId>);

/// All corrections of a log by what they reach.
#[derive(Debug, Default)]
pub(super) struct Corrections {
    by_root: BTreeMap<Root, Vec<Arc<Entry>>>,
    dangling: BTreeSet<EntryId>,
    misfits: Vec<(EntryId, &'static str)>,
}

impl Corrections {
    pub(super) async fn of(log: &Log, trust: &Trust, turns: &mut dyn Turns) -> Self {
        let mut corrections = Vec::new();
        for entry in log.entries() {
            if let Some(said) = corrected(entry)
                && trust.counts(entry, log, trust.of_entry(entry, log))
            {
                corrections.push((entry, said));
            }
            turns.turn().await;
        }
        let reaches = map_of(corrections.iter().map(|(entry, (of, _, _))| (&entry.header().id, *of)));
        let mut found = Self::default();
        for (entry, (of, _, fact)) in &corrections {
            turns.turn().await;
            let id = &entry.header().id;
            let Some(root) = follow(&reaches, of) else {
                found.misfits.push((id.clone(), "it corrects itself in a circle"));
                continue;
            };
            let Some(first) = log.entry(root).and_then(|root| root.fact()) else {
                found.dangling.insert(root.clone());
                continue;
            };
            match reached(first, fact) {
                Some(row) => found.by_root.entry((root.clone(), row)).or_default().push(Arc::clone(entry)),
                None => found.misfits.push((id.clone(), "it does not fit what it corrects")),
            }
        }
        found
    }

    /// Returns the entries that are corrected and not here.
    pub(super) fn dangling(&self) -> &BTreeSet<EntryId> {
        &self.dangling
    }

    /// Returns the corrections that reach nothing, with the reason.
    pub(super) fn misfits(&self) -> &[(EntryId, &'static str)] {
        &self.misfits
    }

    /// Returns all values of an entry, or of one imported row, the one that holds last, each with the hash of the
    /// entry that says it; nothing when it was never corrected.
    pub(super) fn versions(&self, entry: &Entry, row: Option<&ServiceId>, first: Arc<Fact>) -> Vec<(Version, String)> {
        let header = entry.header();
        if self.by_root.is_empty() {
            return Vec::new();
        }
        let root = (header.id.clone(), row.cloned());
        let Some(corrections) = self.by_root.get(&root) else { return Vec::new() };
        let version = |entry: &Entry, reason: &str, fact: Arc<Fact>, contested| {
            let header = entry.header();
            let (id, by) = (header.id.clone(), header.author.clone());
            (
                Version { entry: id, by, at: header.at, reason: reason.to_owned(), fact, contested },
                entry.hash().to_owned(),
            )
        };
        let mut versions = vec![version(entry, "", first, false)];
        for correction in corrections {
            let Some((of, reason, fact)) = corrected(correction) else { continue };
            let rival = |other: &&Arc<Entry>| {
                other.hash() != correction.hash() && corrected(other).is_some_and(|(also, _, _)| also == of)
            };
            let contested = corrections.iter().any(|other| rival(&other));
            let mut fact = fact.clone();
            fact.written_by(&header.author);
            if let (Fact::AcademyFounded(academy), Some(Fact::AcademyFounded(founded))) =
                (&mut fact, entry.fact().map(Arc::as_ref))
            {
                academy.demo = founded.demo;
            }
            versions.push(version(correction, reason, Arc::new(fact), contested));
        }
        versions
    }
}

fn corrected(entry: &Arc<Entry>) -> Option<(&EntryId, &str, &Fact)> {
    match entry.fact().map(Arc::as_ref) {
        Some(Fact::Corrected { of, reason, fact }) => Some((of, reason, fact)),
        _ => None,
    }
}

/// Follows corrections of corrections to the entry that was first; `None` in a circle.
fn follow<'a>(reaches: &BTreeMap<&'a EntryId, &'a EntryId>, of: &'a EntryId) -> Option<&'a EntryId> {
    let mut at = of;
    for _ in 0..=reaches.len() {
        match reaches.get(at) {
            Some(next) => at = next,
            None => return Some(at),
        }
    }
    None
}

/// Returns what a correction reaches within its first entry: all of it, or one imported row. `None` when it
/// speaks of something else, would turn what a clock took into something it did not take, or would change what
/// a trial fixed.
pub(crate) fn reached(first: &Fact, correction: &Fact) -> Option<Option<ServiceId>> {
    if let (Fact::RowsImported(batch), Some(row)) = (first, correction.service()) {
        return batch.rows.iter().any(|known| same_record(known, row)).then(|| Some(row.id.clone()));
    }
    let same = match (first, correction) {
        (Fact::ServiceLogged(first), Fact::ServiceLogged(other)) => same_record(first, other),
        (Fact::DrillLogged(first), Fact::DrillLogged(other)) => same_record(first, other),
        (Fact::OutcomeMarked(first), Fact::OutcomeMarked(other)) => first.service == other.service,
        (Fact::PersonEnrolled(first), Fact::PersonEnrolled(other)) => first.id == other.id,
        (Fact::PracticeModelAdded(first), Fact::PracticeModelAdded(other)) => first.id == other.id,
        (Fact::ProductEntered(first), Fact::ProductEntered(other)) => first.id == other.id,
        (Fact::TestPutOn(first), Fact::TestPutOn(other)) => first.id == other.id,
        (Fact::TestRead { test, .. }, Fact::TestRead { test: other, .. }) => test == other,
        (Fact::IncidentReported(first), Fact::IncidentReported(other)) => first.id == other.id,
        (Fact::RowsImported(first), Fact::RowsImported(other)) => first.id == other.id,
        // What was fixed, admitted or witnessed is never said otherwise afterwards.
        (
            Fact::TrialOpened(_)
            | Fact::AcademyKeyMade { .. }
            | Fact::KeyAsked(_)
            | Fact::KeyAdmitted(_)
            | Fact::KeyEnded { .. }
            | Fact::OverrideAnswered(_)
            | Fact::AnswerTyped { .. }
            | Fact::LogSeen { .. }
            | Fact::Replied(_)
            | Fact::Resolved(_)
            | Fact::DuplicateSettled(_)
            | Fact::Erased(_)
            | Fact::HoldPlaced(_)
            | Fact::HoldLifted { .. },
            _,
        ) => false,
        (Fact::Coursework(first), Fact::Coursework(other)) => first.corrected_by(other),
        (Fact::Aftercare(first), Fact::Aftercare(other)) => first.corrected_by(other),
        (Fact::Certified(_), _) => false,
        _ => first.kind() == correction.kind(),
    };
    same.then_some(None)
}

/// Whether two values are of one record that came about in one way. Taps are never changed: a correction may
/// only add what a person confirmed about doubtful stretches of time.
fn same_record(first: &Service, other: &Service) -> bool {
    let origin = match (&first.origin, &other.origin) {
        (Origin::Live { opening, taps }, Origin::Live { opening: other_opening, taps: other_taps }) => {
            let more = other_taps.strip_prefix(taps.as_slice());
            opening == other_opening
                && more.is_some_and(|more| more.iter().all(|tap| matches!(tap.act, Act::TimeConfirmed { .. })))
        }
        (Origin::Late(_), Origin::Late(_)) => true,
        (Origin::Imported { .. }, Origin::Imported { .. }) => true,
        _ => false,
    };
    first.id == other.id && origin
}
