//! Whose word an entry is: which keys may speak for the academy, for what and until when, and who saw what.
//!
//! The academy's key founds the academy, or is made later and vouches then for what nobody signed. It admits keys
//! and ends them, and signs nothing else. A key signs for one device, within its scope, up to the place in the
//! device's chain at which it was ended: a date could be forged, a place cannot. A receipt says up to where an
//! assessor's device saw another one's log: what turns up before that place afterwards was put in later.
//!
//! Nothing is ever dropped or repaired here; the log keeps every entry, and this says what to make of it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use practicum::ids::{DeviceId, EntryId, PersonId, ServiceId};
use practicum::order::InOrder;
use practicum::service::Service;

use crate::draft::Draft;
use crate::entry::{Entry, Signing};
use crate::fact::{Admission, ChainPlace, Coursework, Fact, Scope};
use crate::kind::Kind;
use crate::log::Log;
use crate::signature::PublicKey;
use crate::turns::{AtOnce, Turns, at_once};

/// What to make of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    /// Signed by a key that may say so.
    Holds,
    /// Nobody signed it when it was written; the academy's key vouched for it later.
    Adopted,
    /// Nobody signed it, and nobody vouched for it.
    NotSigned,
    /// Signed by a key that was ended later, before its end, and no receipt saw it before that.
    NotWitnessed,
    /// Signed for another academy.
    AnotherAcademy,
    /// Signed by a key that nobody admitted.
    KeyNotAdmitted,
    /// Signed by a key of another device.
    OtherDevice,
    /// Written in the name of somebody whose key it is not.
    OtherPerson,
    /// Written after the place at which its key was ended.
    AfterTheEnd,
    /// More than its key may sign.
    BeyondScope,
    /// It turned up before a place that a receipt vouches for, and was not there then.
    NotThereThen,
}

impl Word {
    /// Whether it may be believed: signed by a key that may say so, or vouched for.
    pub fn believed(self) -> bool {
        matches!(self, Word::Holds | Word::Adopted | Word::NotWitnessed)
    }

    /// Says it in a sentence, with a shape.
    pub fn in_words(self) -> String {
        let shape = match self {
            Word::Holds => "✓",
            Word::Adopted | Word::NotWitnessed => "▲",
            Word::NotSigned => "○",
            _ => "■",
        };
        let mut words = self.say().chars();
        let first: String = words.next().into_iter().flat_map(char::to_uppercase).collect();
        format!("{shape} {first}{}.", words.as_str())
    }

    /// Says it in a few words.
    pub fn say(self) -> &'static str {
        match self {
            Word::Holds => "signed, and the signature holds",
            Word::Adopted => "adopted, not signed at the time",
            Word::NotSigned => "not signed",
            Word::NotWitnessed => "signed, not witnessed before its key ended",
            Word::AnotherAcademy => "signed for another academy",
            Word::KeyNotAdmitted => "signed by a key that this academy never admitted",
            Word::OtherDevice => "signed by the key of another device",
            Word::OtherPerson => "signed by somebody else’s key",
            Word::AfterTheEnd => "written after its key had ended",
            Word::BeyondScope => "signed by a key that may not sign this",
            Word::NotThereThen => "put in after an instructor’s device had seen the log without it",
        }
    }
}

/// A key that was admitted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Admitted {
    /// What it may sign.
    pub admission: Admission,
    /// The entry that admitted it.
    pub entry: EntryId,
    /// The last entry that it may have signed; `None` while it goes on.
    pub ended: Option<ChainPlace>,
    /// Hashes of the entries up to that place.
    before_the_end: BTreeSet<String>,
}

/// What an assessor's device has seen of another one's log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// Up to where.
    pub place: ChainPlace,
    /// By whom.
    pub by: PersonId,
    /// The receipt.
    pub entry: EntryId,
    /// Whether a receipt that saw more agrees: otherwise two different logs of one device were seen.
    pub agrees: bool,
}

/// Which keys may speak for an academy, and what was witnessed.
#[derive(Debug, Clone, Default)]
pub struct Trust {
    academy: Option<EntryId>,
    key: Option<PublicKey>,
    other_keys: BTreeSet<PublicKey>,
    adopted: BTreeSet<String>,
    admitted: BTreeMap<PublicKey, Admitted>,
    seen: BTreeMap<DeviceId, Vec<Seen>>,
    witnessed: BTreeMap<DeviceId, BTreeSet<String>>,
    /// Who worked a service, by anything that was ever said of it.
    worked: BTreeMap<ServiceId, BTreeSet<PersonId>>,
    /// Services that were marked.
    marked: BTreeSet<ServiceId>,
}

impl Trust {
    /// Works out whom to believe. `pinned` is the academy's key as this device has known it from before; without,
    /// the first one that the log tells of is taken, which only says that the log agrees with itself.
    pub fn of(log: &Log, pinned: Option<PublicKey>) -> Self {
        at_once(Self::in_turns(log, pinned, &mut AtOnce))
    }

    /// As [`Trust::of`], pausing in between.
    pub(crate) async fn in_turns(log: &Log, pinned: Option<PublicKey>, turns: &mut dyn Turns) -> Self {
        let foundings: Vec<&Arc<Entry>> =
            log.entries().filter(|entry| matches!(entry.header().kind, Kind::AcademyFounded)).collect();
        let by_pinned = |entry: &&&Arc<Entry>| pinned.is_some() && entry.signer() == pinned.as_ref();
        let founding = foundings.iter().find(by_pinned).or(foundings.first());
        let Some(founding) = founding else { return Self::default() };
        turns.rest().await;
        let academy = founding.header().id.clone();
        let of_academy = |entry: &Entry| signing(entry).is_some_and(|signing| signing.academy == academy);
        let makes_key = |entry: &&Arc<Entry>| {
            let kind = &entry.header().kind;
            let founds = matches!(kind, Kind::AcademyFounded) && entry.header().id == academy;
            (founds || matches!(kind, Kind::AcademyKeyMade)) && of_academy(entry)
        };
        let made: Vec<PublicKey> =
            log.entries().filter(makes_key).filter_map(|entry| entry.signer().copied()).collect();
        turns.rest().await;
        // The key that founded the academy is its key, whatever a later entry claims, back-dated or not.
        let founded = founding.signer().copied().filter(|_| of_academy(founding));
        let key = pinned.or(founded).or(made.first().copied());
        let mut trust = Self { academy: Some(academy.clone()), key, ..Self::default() };
        trust.other_keys = made.into_iter().filter(|other| Some(*other) != key).collect();
        for entry in log.entries().filter(|entry| of_academy(entry) && entry.signer().copied() == key) {
            match entry.fact().map(Arc::as_ref) {
                Some(Fact::AcademyKeyMade { adopts }) => {
                    for hash in adopts {
                        trust.adopted.insert(hash.clone());
                        turns.turn().await;
                    }
                }
                Some(Fact::KeyAdmitted(admission)) => {
                    let admitted = Admitted {
                        admission: admission.clone(),
                        entry: entry.header().id.clone(),
                        ended: None,
                        before_the_end: BTreeSet::new(),
                    };
                    // The first admission stands: a key is never given more afterwards.
                    trust.admitted.entry(admission.key).or_insert(admitted);
                }
                _ => {}
            }
        }
        turns.rest().await;
        for entry in log.entries() {
            trust.note_work(entry);
            turns.turn().await;
        }
        turns.rest().await;
        trust.take_ends(log, turns).await;
        turns.rest().await;
        trust.take_receipts(log, turns).await;
        turns.rest().await;
        trust
    }

    /// Takes in an entry that was just added to the log; `false` when it changes whom to believe, which asks for
    /// [`Trust::of`] anew.
    pub fn take(&mut self, entry: &Entry) -> bool {
        let speaks_late = self.note_work(entry);
        let kind = &entry.header().kind;
        !(speaks_late || only_academy_key_signs(kind) || matches!(kind, Kind::AcademyFounded | Kind::LogSeen))
    }

    /// Keeps in mind who worked the services that an entry speaks of, and which were marked; returns whether that says
    /// something new of a service that was marked before.
    fn note_work(&mut self, entry: &Entry) -> bool {
        let fact = match entry.fact().map(Arc::as_ref) {
            Some(Fact::Corrected { fact, .. }) => fact,
            Some(fact) => fact,
            None => return false,
        };
        let services: Vec<&Service> = match fact {
            Fact::RowsImported(batch) => batch.rows.iter().collect(),
            Fact::OutcomeMarked(outcome) => {
                self.marked.insert(outcome.service.clone());
                return false;
            }
            fact => fact.service().into_iter().collect(),
        };
        let mut late = false;
        for service in services {
            let new = self.worked.entry(service.id.clone()).or_default().insert(service.trainee.clone());
            late |= new && self.marked.contains(&service.id);
        }
        late
    }

    async fn take_ends(&mut self, log: &Log, turns: &mut dyn Turns) {
        let by_academy = |entry: &&Arc<Entry>| self.is_academy_key(entry);
        let ends: Vec<(PublicKey, ChainPlace)> = log
            .entries()
            .filter(by_academy)
            .filter_map(|entry| match entry.fact()?.as_ref() {
                Fact::KeyEnded { key, last, .. } => Some((*key, last.clone())),
                _ => None,
            })
            .collect();
        for (key, last) in ends {
            let Some(admitted) = self.admitted.get_mut(&key) else { continue };
            // Of several ends the earliest holds.
            if admitted.ended.as_ref().is_none_or(|known| last.sequence < known.sequence) {
                admitted.before_the_end = chain_to(log, &admitted.admission.device, &last.head, turns).await;
                admitted.ended = Some(last);
            }
        }
    }

    async fn take_receipts(&mut self, log: &Log, turns: &mut dyn Turns) {
        let receipts = log.entries().filter(|entry| entry.header().kind == Kind::LogSeen);
        let receipts: Vec<(DeviceId, Seen)> = receipts
            .filter(|entry| matches!(self.by_key(entry, log), Word::Holds | Word::NotWitnessed))
            .filter_map(|entry| match entry.fact()?.as_ref() {
                Fact::LogSeen { device, seen } => {
                    let header = entry.header();
                    let (by, entry) = (header.author.clone(), header.id.clone());
                    Some((device.clone(), Seen { place: seen.clone(), by, entry, agrees: true }))
                }
                _ => None,
            })
            .collect();
        for (device, seen) in receipts {
            self.seen.entry(device).or_default().push(seen);
        }
        for (device, seen) in &mut self.seen {
            seen.order_by(|a, b| (b.place.sequence, &a.entry).cmp(&(a.place.sequence, &b.entry)));
            let mut witnessed = BTreeSet::new();
            for one in seen.iter_mut() {
                if witnessed.is_empty() {
                    witnessed = chain_to(log, device, &one.place.head, turns).await;
                } else if !one.place.head.is_empty() && !witnessed.contains(&one.place.head) {
                    one.agrees = false;
                    witnessed.extend(chain_to(log, device, &one.place.head, turns).await);
                }
            }
            self.witnessed.insert(device.clone(), witnessed);
        }
    }

    /// Returns the entry that founded the academy.
    pub fn academy(&self) -> Option<&EntryId> {
        self.academy.as_ref()
    }

    /// Returns the academy's key; `None` while none was made.
    pub fn key(&self) -> Option<&PublicKey> {
        self.key.as_ref()
    }

    /// Returns keys that claim to be the academy's beside the one believed.
    pub fn other_keys(&self) -> impl Iterator<Item = &PublicKey> {
        self.other_keys.iter()
    }

    /// Returns the keys that were admitted.
    pub fn admitted(&self) -> impl Iterator<Item = &Admitted> {
        self.admitted.values()
    }

    /// Returns what assessors' devices have seen of a device's log, the farthest first.
    pub fn seen(&self, device: &DeviceId) -> &[Seen] {
        self.seen.get(device).map_or(&[], Vec::as_slice)
    }

    /// Says what to make of an entry.
    pub fn of_entry(&self, entry: &Entry, log: &Log) -> Word {
        let word = self.by_key(entry, log);
        let header = entry.header();
        let farthest = self.seen(&header.device).first();
        let before = farthest.is_some_and(|seen| header.sequence <= seen.place.sequence);
        let was_there = self.witnessed.get(&header.device).is_some_and(|seen| seen.contains(entry.hash()));
        if word.believed() && before && !was_there { Word::NotThereThen } else { word }
    }

    fn is_academy_key(&self, entry: &Entry) -> bool {
        let signed = |signing: &Signing| Some(&signing.academy) == self.academy.as_ref();
        self.key.is_some() && signing(entry).is_some_and(signed) && entry.signer() == self.key.as_ref()
    }

    fn by_key(&self, entry: &Entry, log: &Log) -> Word {
        let Some(Signing { academy, key }) = signing(entry) else {
            return if self.adopted.contains(entry.hash()) { Word::Adopted } else { Word::NotSigned };
        };
        if Some(academy) != self.academy.as_ref() {
            return Word::AnotherAcademy;
        }
        if Some(key) == self.key.as_ref() {
            return if only_academy_key_signs(&entry.header().kind) { Word::Holds } else { Word::BeyondScope };
        }
        let Some(admitted) = self.admitted.get(key) else { return Word::KeyNotAdmitted };
        let (header, admission) = (entry.header(), &admitted.admission);
        if header.device != admission.device {
            return Word::OtherDevice;
        }
        if admission.person.as_ref().is_some_and(|person| *person != header.author) {
            return Word::OtherPerson;
        }
        if admitted.ended.is_some() && !admitted.before_the_end.contains(entry.hash()) {
            return Word::AfterTheEnd;
        }
        if self.asks(entry, log).is_none_or(|asked| asked > admission.scope) {
            return Word::BeyondScope;
        }
        let witnessed = self.witnessed.get(&header.device).is_some_and(|seen| seen.contains(entry.hash()));
        if admitted.ended.is_some() && !witnessed { Word::NotWitnessed } else { Word::Holds }
    }

    /// Whether an entry adds to the records: everything where the academy has no key; where it has one, what an
    /// instructor or the owner alone may say counts only when a key vouches for it, and nothing counts that was
    /// signed for another academy, in another's name, after the key's end, or put in behind a receipt.
    pub fn counts(&self, entry: &Entry, log: &Log, word: Word) -> bool {
        match word {
            Word::Holds | Word::Adopted | Word::NotWitnessed => true,
            _ if self.key.is_none() => word != Word::AnotherAcademy,
            Word::NotSigned | Word::KeyNotAdmitted => self.asks(entry, log) == Some(Scope::Records),
            Word::AnotherAcademy
            | Word::OtherDevice
            | Word::OtherPerson
            | Word::AfterTheEnd
            | Word::BeyondScope
            | Word::NotThereThen => false,
        }
    }

    /// Returns what a key must be allowed to sign an entry; `None` when only the academy's key signs it.
    fn asks(&self, entry: &Entry, log: &Log) -> Option<Scope> {
        let header = entry.header();
        match entry.fact() {
            Some(fact) => self.asks_for(&header.author, fact, log, |_| false),
            None => of_kind(&header.kind),
        }
    }

    /// Returns what a key must be allowed to sign a draft; `None` when only the academy's key signs it.
    /// `before` are the drafts that are saved together with it.
    pub(crate) fn scope_of(&self, draft: &Draft, before: &[Draft], log: &Log) -> Option<Scope> {
        let worked = |id: &ServiceId| {
            let of =
                |before: &Draft| before.fact.service().is_some_and(|one| one.id == *id && one.trainee == draft.author);
            before.iter().any(of)
        };
        self.asks_for(&draft.author, &draft.fact, log, worked)
    }

    fn asks_for(
        &self,
        author: &PersonId,
        fact: &Fact,
        log: &Log,
        worked_here: impl Fn(&ServiceId) -> bool,
    ) -> Option<Scope> {
        Some(match fact {
            Fact::OutcomeMarked(outcome) => {
                let known = self.worked.get(&outcome.service).is_some_and(|by| by.contains(author));
                let own = known || worked_here(&outcome.service);
                let as_trainee = own && !outcome.observed && outcome.independence_next.is_none();
                if as_trainee { Scope::Records } else { Scope::Assessing }
            }
            Fact::OverrideNoted { made, .. } if !made.confirmed => Scope::Records,
            // Time alone is for whoever spent it to note.
            Fact::Coursework(Coursework::AttendanceNoted(time))
                if time.trainee == *author && time.supervised_by.is_none() =>
            {
                Scope::Records
            }
            Fact::Corrected { of, fact, .. } => {
                let own = log.entry(of).is_some_and(|first| first.header().author == *author);
                let least = if own { Scope::Records } else { Scope::Assessing };
                of_kind(&fact.kind())?.max(least)
            }
            fact => of_kind(&fact.kind())?,
        })
    }
}

fn signing(entry: &Entry) -> Option<&Signing> {
    entry.header().signing.as_ref()
}

/// Whether the academy's key alone signs entries of a kind.
pub(crate) fn only_academy_key_signs(kind: &Kind) -> bool {
    matches!(kind, Kind::AcademyFounded | Kind::AcademyKeyMade | Kind::KeyAdmitted | Kind::KeyEnded)
}

/// Returns the hashes of a device's entries that lead to a head, the head among them.
async fn chain_to(log: &Log, device: &DeviceId, head: &str, turns: &mut dyn Turns) -> BTreeSet<String> {
    let mut hashes = BTreeSet::new();
    let mut hash = head.to_owned();
    while let Some(entry) = log.by_hash(&hash).filter(|entry| entry.header().device == *device) {
        // A hash cannot lead back to itself, but whoever reads this need not rely on it.
        if !hashes.insert(hash) {
            break;
        }
        hash = entry.header().previous.clone();
        turns.turn().await;
    }
    hashes
}

/// Returns what a key must be allowed to sign entries of a kind; `None` for those of the academy's key.
fn of_kind(kind: &Kind) -> Option<Scope> {
    Some(match kind {
        Kind::AcademyFounded | Kind::AcademyKeyMade | Kind::KeyAdmitted | Kind::KeyEnded => return None,
        Kind::AcademyAmended
        | Kind::BookAdopted
        | Kind::ProductEntered
        | Kind::DeviceEnded
        | Kind::Erased
        | Kind::HoldPlaced
        | Kind::HoldLifted
        | Kind::CertificateIssued
        | Kind::CertificatePrinted
        | Kind::CertificateWithdrawn
        | Kind::CredentialKeyMade => Scope::Owning,
        Kind::PersonEnrolled
        | Kind::PersonLeft
        | Kind::LotOpened
        | Kind::TimesShown
        | Kind::DeviceAdmitted
        | Kind::RowsImported
        | Kind::ImportWithdrawn
        | Kind::CoachingDismissed
        | Kind::OverlapAllowed
        | Kind::PlanDecided
        | Kind::TrialOpened
        | Kind::SignedOff
        | Kind::SignOffWithdrawn
        | Kind::OverrideNoted
        | Kind::OverrideRefused
        | Kind::OverrideAnswered
        | Kind::OutcomeMarked
        | Kind::Resolved
        | Kind::DuplicateSettled
        | Kind::LogSeen
        | Kind::AttendanceNoted
        | Kind::TheoryMarked
        | Kind::CoachingGiven
        | Kind::MarksTalkedOver
        | Kind::SampleDrawn
        | Kind::SampleLookedAt
        | Kind::CaseSet
        | Kind::CaseMarked
        | Kind::LotRecalled
        | Kind::IncidentFollowed
        | Kind::LicenceNoted => Scope::Assessing,
        // Of a kind that is not known nobody can say who may sign it: it is kept, and believed of the owner alone.
        Kind::Other(_) => Scope::Owning,
        Kind::ContactNoted
        | Kind::KeyAsked
        | Kind::AnswerTyped
        | Kind::PracticeModelAdded
        | Kind::ConsentGiven
        | Kind::ConsentWithdrawn
        | Kind::ScreeningAnswered
        | Kind::TestPutOn
        | Kind::TestRead
        | Kind::ServiceLogged
        | Kind::DrillLogged
        | Kind::IncidentReported
        | Kind::Correction
        | Kind::Acknowledged
        | Kind::Disputed
        | Kind::FollowUpNoted
        | Kind::CaseHandedIn
        | Kind::LiftLookedAt
        | Kind::PhotoKept => Scope::Records,
    })
}
