//! Records: what all entries of a log add up to.
//!
//! Entries are told in one order on every device, whatever order they arrived in. A correction takes the
//! place of what it corrects, in the name of whoever wrote that first, and every earlier value stays in
//! the history. Of two corrections of the same value the one told later holds, and the history says so.

mod apply;
mod ask;
mod beside;
mod cache;
mod history;
mod said;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use practicum::competency::SignOff;
use practicum::course_book::CourseBook;
use practicum::course_book::text::Problem;
use practicum::ids::{
    BatchId, CourseBookId, DeviceId, EntryId, FaultId, IncidentId, PersonId, PracticeModelId, ProductId, ServiceId,
    TestId,
};
use practicum::moment::Moment;
use practicum::outcome::Outcome;
use practicum::person::Person;
use practicum::practice_model::{Consent, PracticeModel, Screening, SensitivityTest};
use practicum::product::{Lot, Product};
use practicum::service::Service;
use practicum::standing::PlanDecision;
use practicum::trial::Trial;

use crate::entry::{Content, Entry};
use crate::fact::{
    Academy, Admission, Contact, Erasure, Fact, FollowUp, Hold, Incident, Reply, Resolution, Settlement,
};
use crate::kind::Kind;
use crate::log::{Log, Order};
use crate::subject::Subject;
use crate::trust::{Trust, Word};
use crate::turns::{AtOnce, Turns, at_once};
pub use beside::{Beside, TalkedOver};
use cache::Cache;
use history::Corrections;
pub(crate) use history::reached;
pub use said::Replied;

/// A value with where it comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded<T> {
    /// Entry that recorded it first.
    pub entry: EntryId,
    /// Entry whose value holds now: the first, or the last correction. A further correction names this.
    pub latest: EntryId,
    /// Hash of that entry.
    pub hash: String,
    /// Who recorded it first.
    pub author: PersonId,
    /// When it was recorded first.
    pub recorded_at: Moment,
    /// The value that holds now.
    pub value: T,
    /// It was corrected; the earlier values are in the history.
    pub corrected: bool,
    /// Two corrections speak about the same value; the one told later holds.
    pub contested: bool,
    /// The import that it came with was withdrawn.
    pub withdrawn: Option<Withdrawal>,
}

/// A withdrawal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withdrawal {
    /// Entry that records it.
    pub entry: EntryId,
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Why.
    pub reason: String,
}

/// One value in the history of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Version {
    /// Entry that says it.
    pub entry: EntryId,
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Why it was corrected; empty for the first.
    pub reason: String,
    /// What it says.
    pub fact: Arc<Fact>,
    /// Another correction speaks about the same earlier value.
    pub contested: bool,
}

/// A course book that was adopted.
#[derive(Debug, Clone, PartialEq)]
pub struct AdoptedBook {
    /// Title and edition.
    pub id: CourseBookId,
    /// Entry that adopted it.
    pub entry: EntryId,
    /// When.
    pub at: Moment,
    /// All its files in one text.
    pub text: String,
    /// The course book, or why it does not read.
    pub book: Result<Arc<CourseBook>, Vec<Problem>>,
}

/// An import.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImportRecord {
    /// The batch.
    pub batch: BatchId,
    /// Entry that imported it.
    pub entry: EntryId,
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Name of the file.
    pub file_name: String,
    /// Its rows' services, in the order of the file.
    pub services: Vec<ServiceId>,
    /// How many rows were left out.
    pub rejected: u32,
    /// Its withdrawal, if any.
    pub withdrawn: Option<Withdrawal>,
}

/// An override that the instructor it names has refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Code of the gate reason.
    pub reason_code: String,
    /// Who refuses it, in whose name it was claimed.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Why.
    pub why: String,
}

/// An instructor's answer to the code of an override.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answered {
    /// The entry that says it.
    pub entry: EntryId,
    /// The instructor who signed it.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Let it pass, or refused.
    pub allowed: bool,
    /// Why; may be empty where it is let pass.
    pub why: String,
    /// The eight characters that its signature gives; `None` where nobody signed it.
    pub code: Option<String>,
}

/// A coaching line that was put away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dismissed {
    /// Whose.
    pub trainee: PersonId,
    /// About which fault.
    pub fault: FaultId,
    /// Why; may be empty.
    pub why: String,
}

/// Whether a trainee may overlap the two eyes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Overlap {
    /// Who.
    pub trainee: PersonId,
    /// Allowed, or no longer.
    pub allowed: bool,
    /// Why; may be empty.
    pub why: String,
}

/// A device that was admitted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Identifier.
    pub id: DeviceId,
    /// What people call it.
    pub label: String,
    /// It writes no more.
    pub ended: bool,
}

/// An entry whose body adds nothing here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotShown {
    /// The entry.
    pub entry: EntryId,
    /// Its kind.
    pub kind: Kind,
    /// When it was written.
    pub at: Moment,
    /// Why, in words.
    pub why: String,
}

/// A change that waits for what it changes, with the entry that records it.
type Change = (Arc<Entry>, Arc<Fact>);

/// What all entries add up to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Records {
    academy: Option<Recorded<Academy>>,
    people: BTreeMap<PersonId, Recorded<Person>>,
    practice_models: BTreeMap<PracticeModelId, Recorded<PracticeModel>>,
    contacts: BTreeMap<Subject, Recorded<Contact>>,
    devices: BTreeMap<DeviceId, Recorded<Device>>,
    consents: Vec<Recorded<Consent>>,
    screenings: Vec<Recorded<Screening>>,
    tests: BTreeMap<TestId, Recorded<SensitivityTest>>,
    products: BTreeMap<ProductId, Recorded<Product>>,
    lots: Vec<Recorded<Lot>>,
    books: Vec<AdoptedBook>,
    services: Vec<Recorded<Service>>,
    service_places: BTreeMap<ServiceId, usize>,
    refusals: BTreeMap<ServiceId, Vec<Refusal>>,
    asked: Vec<Recorded<Admission>>,
    answers: BTreeMap<(String, PersonId), Answered>,
    typed_answers: BTreeMap<String, String>,
    /// Overrides by the code that the couch showed for each.
    challenges: BTreeMap<String, (ServiceId, String)>,
    outcomes: Vec<Recorded<Outcome>>,
    decisions: Vec<Recorded<PlanDecision>>,
    trials: Vec<Recorded<Trial>>,
    sign_offs: Vec<Recorded<SignOff>>,
    incidents: BTreeMap<IncidentId, Recorded<Incident>>,
    imports: Vec<ImportRecord>,
    follow_ups: Vec<Recorded<FollowUp>>,
    dismissed: Vec<Recorded<Dismissed>>,
    overlaps: Vec<Recorded<Overlap>>,
    replies: Vec<Recorded<Reply>>,
    resolutions: Vec<Recorded<Resolution>>,
    settlements: BTreeMap<(ServiceId, ServiceId), Recorded<Settlement>>,
    settling: BTreeSet<EntryId>,
    erasures: Vec<Recorded<Erasure>>,
    holds: Vec<Recorded<Hold>>,
    lifted: BTreeMap<EntryId, Withdrawal>,
    beside: Beside,
    history: BTreeMap<(EntryId, Option<ServiceId>), Vec<Version>>,
    not_shown: Vec<NotShown>,
    problems: Vec<String>,
    waiting: BTreeMap<String, Vec<Change>>,
    books_missing: BTreeSet<CourseBookId>,
    dangling: BTreeSet<EntryId>,
    words: BTreeMap<EntryId, Word>,
    /// The academy has a key: overrides are confirmed by signed entries only.
    keyed: bool,
    academy_id: Option<EntryId>,
    last: Option<Order>,
    cache: Cache,
}

impl Records {
    /// Works out the records of a log that is believed about its academy's key.
    pub fn of(log: &Log) -> Self {
        Self::trusting(log, &Trust::of(log, None))
    }

    /// Works out the records of a log: what counts is for `trust` to say.
    pub fn trusting(log: &Log, trust: &Trust) -> Self {
        at_once(Records::default().rebuilt(log, trust, &mut AtOnce))
    }

    /// Returns empty records that remember what these have read of course books and folded of taps.
    pub(crate) fn with_what_was_read(&self) -> Self {
        Records { cache: self.cache.clone(), ..Records::default() }
    }

    /// As [`Records::trusting`], pausing in between; what these records have worked out of course books and taps is
    /// used again.
    pub(crate) async fn rebuilt(self, log: &Log, trust: &Trust, turns: &mut dyn Turns) -> Self {
        let (keyed, academy_id) = (trust.key().is_some(), trust.academy().cloned());
        let mut records = Records { cache: self.cache, keyed, academy_id, ..Records::default() };
        records.tell_all(log, trust, turns).await;
        records
    }

    /// Takes in an entry that was just added to the log; works everything out anew where order asks for it.
    pub fn apply(&mut self, log: &Log, trust: &Trust, entry: &Arc<Entry>) {
        let order = log.order_of(entry).cloned();
        let corrects =
            matches!(entry.content(), Content::Fact(fact) if matches!(fact.as_ref(), Fact::Corrected { .. }));
        let fills = self.dangling.contains(&entry.header().id);
        let book = match entry.fact().map(Arc::as_ref) {
            Some(Fact::BookAdopted { id, .. }) => self.books_missing.contains(id),
            _ => false,
        };
        if corrects || fills || book || order.is_none() || order <= self.last {
            self.rebuild(log, trust);
            return;
        }
        self.tell(entry, log, trust, &Corrections::default());
        self.last = order;
    }

    /// Keeps a sentence about a contradiction, in an order that does not depend on how it was found.
    fn note(&mut self, sentence: String) {
        let place = self.problems.partition_point(|known| *known < sentence);
        self.problems.insert(place, sentence);
    }

    /// Works everything out anew.
    pub fn rebuild(&mut self, log: &Log, trust: &Trust) {
        *self = at_once(std::mem::take(self).rebuilt(log, trust, &mut AtOnce));
    }

    async fn tell_all(&mut self, log: &Log, trust: &Trust, turns: &mut dyn Turns) {
        let corrections = Corrections::of(log, trust, turns).await;
        turns.rest().await;
        // Course books first: a service made under a book is worked out by it even where clocks disagree.
        for entry in log.entries() {
            if matches!(entry.fact().map(Arc::as_ref), Some(Fact::BookAdopted { .. })) {
                self.tell(entry, log, trust, &corrections);
                turns.rest().await;
            }
        }
        turns.rest().await;
        for entry in log.entries() {
            if !matches!(entry.fact().map(Arc::as_ref), Some(Fact::BookAdopted { .. })) {
                self.tell(entry, log, trust, &corrections);
            }
            turns.turn().await;
        }
        for (id, why) in corrections.misfits() {
            self.note(format!("The correction {id} changes nothing: {why}."));
        }
        self.dangling = corrections.dangling().clone();
        self.last = log.entries().next_back().and_then(|entry| log.order_of(entry).cloned());
    }
}
