//! The log: a set of entries. Adding is set union: order, repetition and parts do not matter.

mod problem;

pub use problem::Problem;

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use practicum::ids::{DeviceId, EntryId};
use practicum::order::set_of;
use sha2::{Digest, Sha256};

use crate::entry::{Checked, Content, Entry, Header, SignatureCheck, Unverified};
use crate::erasure::may_go_by;
use crate::fact::Fact;
use crate::json;
use crate::kind::Kind;
use crate::subject::Subject;
use crate::trust::only_academy_key_signs;
use crate::turns::{AtOnce, Turns, at_once};

/// Place of an entry in the order in which the log is told: time, device, number, identifier, hash.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Order(i64, u32, DeviceId, u64, EntryId, String);

impl Order {
    fn of(header: &Header, hash: &str) -> Self {
        Order(
            header.at.timestamp(),
            header.at.timestamp_subsec_nanos(),
            header.device.clone(),
            header.sequence,
            header.id.clone(),
            hash.to_owned(),
        )
    }
}

/// What came of taking in an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Inserted {
    /// It was new.
    Added(Arc<Entry>),
    /// It was known by its header; now its body is here too.
    Completed(Arc<Entry>),
    /// It was known.
    Known,
    /// Its body is not the one that its header names: kept, listed, never believed.
    Damaged,
}

/// A link of a device's chain.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Link {
    hash: String,
    previous: String,
    id: EntryId,
}

/// Whether an entry of a kind decides whom to believe, or which bodies go.
fn decides(kind: &Kind) -> bool {
    only_academy_key_signs(kind) || matches!(kind, Kind::Erased | Kind::HoldPlaced | Kind::HoldLifted)
}

/// An entry that is known by its line, and the check of its signature that is left to do.
pub(crate) type Known<'l> = (&'l Arc<Entry>, Option<SignatureCheck>);

/// A set of entries.
#[derive(Debug, Clone, Default)]
pub struct Log {
    entries: BTreeMap<Arc<Order>, Arc<Entry>>,
    orders: HashMap<String, Arc<Order>>,
    damaged: BTreeMap<String, Unverified>,
    /// Hashes of the headers with an identifier, in order: nearly always one.
    ids: BTreeMap<EntryId, Vec<String>>,
    chains: BTreeMap<DeviceId, BTreeMap<u64, Vec<Link>>>,
    /// Entries that found an academy: nearly always one.
    founded: BTreeSet<Arc<Order>>,
    unreadable: BTreeSet<String>,
    /// Whose bodies must not be here, by the hash of their headers.
    erased: BTreeMap<String, Subject>,
    /// Signatures of entries from this device's own store that were not checked since it was opened.
    unchecked: BTreeMap<String, SignatureCheck>,
}

impl Log {
    /// Takes in an entry.
    pub fn insert(&mut self, checked: Checked) -> Inserted {
        let checked = match checked {
            Checked::BodyChanged(entry) | Checked::SignatureBad(entry)
                if self.goes(entry.hash(), entry.header(), None) =>
            {
                entry.without_body().check()
            }
            checked => checked,
        };
        match checked {
            Checked::Sound(entry) => self.insert_sound(Arc::new(entry)),
            Checked::BodyChanged(entry) | Checked::SignatureBad(entry) => {
                if self.orders.contains_key(entry.hash()) {
                    return Inserted::Known;
                }
                if let Some(known) = self.damaged.get_mut(entry.hash()) {
                    // Of several changed bodies the same one is kept, in whichever order they come.
                    if entry.line() < known.line() {
                        *known = entry;
                    }
                    return Inserted::Known;
                }
                self.link(entry.header(), entry.hash());
                self.damaged.insert(entry.hash().to_owned(), entry);
                Inserted::Damaged
            }
        }
    }

    /// Takes in an entry that was checked, shared with the log that holds it.
    pub(crate) fn insert_sound(&mut self, entry: Arc<Entry>) -> Inserted {
        let erased = self.erased.get(entry.hash());
        let goes = erased.is_some_and(|of| may_go_by(entry.header(), entry.fact().map(Arc::as_ref), of));
        let entry = match goes {
            true => Arc::new(entry.without_body()),
            false => entry,
        };
        if let Some(order) = self.orders.get(entry.hash()) {
            let lacks = |known: &Arc<Entry>| !known.has_body();
            if !entry.has_body() || !self.entries.get(order).is_some_and(lacks) {
                return Inserted::Known;
            }
            self.entries.insert(Arc::clone(order), Arc::clone(&entry));
            return Inserted::Completed(entry);
        }
        let damaged_before = self.damaged.remove(entry.hash()).is_some();
        if !damaged_before {
            self.link(entry.header(), entry.hash());
        }
        self.place(Arc::clone(&entry));
        Inserted::Added(entry)
    }

    /// Puts an entry into its place in the order in which the log is told.
    fn place(&mut self, entry: Arc<Entry>) {
        let order = Arc::new(Order::of(entry.header(), entry.hash()));
        if matches!(entry.header().kind, Kind::AcademyFounded) {
            self.founded.insert(Arc::clone(&order));
        }
        self.orders.insert(entry.hash().to_owned(), Arc::clone(&order));
        self.entries.insert(order, entry);
    }

    /// Whether a body is erased and must not be here.
    fn goes(&self, hash: &str, header: &Header, fact: Option<&Fact>) -> bool {
        self.erased.get(hash).is_some_and(|of| may_go_by(header, fact, of))
    }

    /// Drops the bodies of these headers, and those that come later. Returns whether a body was dropped.
    ///
    /// What was erased before and is not named any more may come back from elsewhere.
    pub(crate) fn erase(&mut self, erased: BTreeMap<String, Subject>) -> bool {
        if self.erased == erased {
            return false;
        }
        self.erased = erased;
        let mut dropped = false;
        for hash in self.erased.keys().cloned().collect::<Vec<_>>() {
            if let Some(entry) = self.orders.get(&hash).and_then(|order| self.entries.get_mut(order))
                && *entry.content() != Content::Withheld
                && self.erased.get(&hash).is_some_and(|of| may_go_by(entry.header(), entry.fact().map(Arc::as_ref), of))
            {
                *entry = Arc::new(entry.without_body());
                dropped = true;
            }
            if self.damaged.get(&hash).is_some_and(|entry| self.goes(&hash, entry.header(), None))
                && let Some(entry) = self.damaged.remove(&hash)
            {
                dropped |= entry.has_body();
                let stripped = entry.without_body();
                match stripped.check() {
                    Checked::Sound(entry) => self.place(Arc::new(entry)),
                    Checked::BodyChanged(entry) | Checked::SignatureBad(entry) => {
                        self.damaged.insert(hash, entry);
                    }
                }
            }
        }
        dropped
    }

    /// Puts the line that stands here in place of one whose body was erased.
    pub(crate) fn strip_erased(&self, line: &mut String) {
        let Ok(read) = Unverified::read(line) else { return };
        if let Some(entry) = self.by_hash(read.hash()).filter(|entry| self.is_erased(entry.hash())) {
            *line = entry.line().to_owned();
        }
    }

    /// Whether the body of this header was erased for good.
    pub fn is_erased(&self, hash: &str) -> bool {
        self.erased.contains_key(hash) && self.by_hash(hash).is_none_or(|entry| *entry.content() == Content::Withheld)
    }

    fn link(&mut self, header: &Header, hash: &str) {
        let link = Link { hash: hash.to_owned(), previous: header.previous.clone(), id: header.id.clone() };
        let links = self.chains.entry(header.device.clone()).or_default().entry(header.sequence).or_default();
        let place = links.partition_point(|other| other.hash < link.hash);
        links.insert(place, link);
        let hashes = self.ids.entry(header.id.clone()).or_default();
        if let Err(place) = hashes.binary_search_by(|known| known.as_str().cmp(hash)) {
            hashes.insert(place, hash.to_owned());
        }
    }

    /// Reads a line and takes it in; a line that cannot be read is kept and listed.
    pub fn insert_line(&mut self, line: &str) -> Option<Inserted> {
        if line.trim().is_empty() {
            return None;
        }
        match Unverified::read(line) {
            Ok(entry) => Some(self.insert(entry.check())),
            Err(_) => {
                self.unreadable.insert(line.to_owned());
                None
            }
        }
    }

    /// Takes in a line of this device's own store, and leaves its signature to be checked later.
    pub(crate) fn insert_stored(&mut self, line: &str) {
        let Ok(entry) = Unverified::read(line) else {
            self.insert_line(line);
            return;
        };
        // What decides whom to believe, or takes bodies away, is checked at once: there are few of them. So is what
        // stands here twice, or the copy that does not hold could take the place of the one that does.
        self.check_now(entry.hash());
        let twice = self.orders.contains_key(entry.hash()) || self.damaged.contains_key(entry.hash());
        let (checked, signature) = match twice || decides(&entry.header().kind) {
            true => (entry.check(), None),
            false => entry.check_later(),
        };
        if let (Inserted::Added(entry), Some(check)) = (self.insert(checked), signature) {
            self.unchecked.insert(entry.hash().to_owned(), check);
        }
    }

    fn check_now(&mut self, hash: &str) {
        if let Some(check) = self.unchecked.get(hash).copied() {
            self.checked(&[(hash.to_owned(), check.holds())]);
        }
    }

    /// Returns the sound entries by their lines.
    pub(crate) async fn by_line(&self, turns: &mut dyn Turns) -> HashMap<&str, Known<'_>> {
        let mut lines = HashMap::with_capacity(self.entries.len());
        for entry in self.entries.values() {
            lines.insert(entry.line(), (entry, self.unchecked.get(entry.hash()).copied()));
            turns.turn().await;
        }
        lines
    }

    /// Returns a copy that shares the entries, pausing in between.
    pub(crate) async fn copied(&self, turns: &mut dyn Turns) -> Self {
        let mut copy = Self::default();
        copy.orders.reserve(self.orders.len());
        for (order, entry) in &self.entries {
            copy.orders.insert(entry.hash().to_owned(), Arc::clone(order));
            copy.entries.insert(Arc::clone(order), Arc::clone(entry));
            turns.turn().await;
        }
        for (id, hashes) in &self.ids {
            copy.ids.insert(id.clone(), hashes.clone());
            turns.turn().await;
        }
        for (device, chain) in &self.chains {
            let links = copy.chains.entry(device.clone()).or_default();
            for (sequence, together) in chain {
                links.insert(*sequence, together.clone());
                turns.turn().await;
            }
        }
        copy.founded = self.founded.clone();
        copy.damaged = self.damaged.clone();
        copy.unreadable = self.unreadable.clone();
        copy.erased = self.erased.clone();
        for (hash, check) in &self.unchecked {
            copy.unchecked.insert(hash.clone(), *check);
            turns.turn().await;
        }
        copy
    }

    /// Takes in an entry that another state of the same log holds.
    pub(crate) fn insert_known(&mut self, (entry, check): &Known<'_>) {
        self.check_now(entry.hash());
        if let (Inserted::Added(entry), Some(check)) = (self.insert_sound(Arc::clone(entry)), check) {
            self.unchecked.insert(entry.hash().to_owned(), *check);
        }
    }

    /// Returns signatures that are still to be checked, by the hash of their header.
    pub(crate) fn unchecked(&self) -> &BTreeMap<String, SignatureCheck> {
        &self.unchecked
    }

    /// Notes that signatures were checked; the entries of those that do not hold are kept and no longer believed.
    ///
    /// Returns whether there was one.
    pub(crate) fn checked(&mut self, found: &[(String, bool)]) -> bool {
        let mut refused = false;
        for (hash, holds) in found {
            let unchecked = self.unchecked.remove(hash).is_some();
            if *holds || !unchecked {
                continue;
            }
            let entry = self.orders.remove(hash).and_then(|order| {
                self.founded.remove(&order);
                self.entries.remove(&order)
            });
            if let Some(Ok(entry)) = entry.map(|entry| entry.unverified()) {
                refused = true;
                self.damaged.insert(hash.clone(), entry);
            }
        }
        refused
    }

    /// Lets go of everything, pausing in between: a large log takes as long to be taken apart as to be copied.
    pub(crate) async fn let_go(self, turns: &mut dyn Turns) {
        for part in self.entries {
            drop(part);
            turns.turn().await;
        }
        for part in self.orders {
            drop(part);
            turns.turn().await;
        }
        for part in self.ids {
            drop(part);
            turns.turn().await;
        }
        for part in self.chains.into_values().flatten() {
            drop(part);
            turns.turn().await;
        }
    }

    /// Takes in everything that another log holds.
    pub fn merge(&mut self, other: &Log) {
        for entry in other.entries.values() {
            self.insert_sound(Arc::clone(entry));
        }
        for entry in other.damaged.values() {
            self.insert(Checked::BodyChanged(entry.clone()));
        }
        for line in &other.unreadable {
            self.insert_line(line);
        }
    }

    /// Returns the entries in the order in which the log is told.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = &Arc<Entry>> + Clone {
        self.entries.values()
    }

    pub(crate) fn order_of(&self, entry: &Entry) -> Option<&Order> {
        self.orders.get(entry.hash()).map(Arc::as_ref)
    }

    /// Returns the entry with this identifier; of several the first as the log is told.
    pub fn entry(&self, id: &EntryId) -> Option<&Arc<Entry>> {
        let orders = self.ids.get(id)?.iter().filter_map(|hash| self.orders.get(hash));
        orders.min().and_then(|order| self.entries.get(order))
    }

    /// Returns the entry whose header has this hash; damaged ones are not found.
    pub fn by_hash(&self, hash: &str) -> Option<&Arc<Entry>> {
        self.entries.get(self.orders.get(hash)?)
    }

    /// Returns how many entries there are, damaged ones included.
    pub fn len(&self) -> usize {
        self.entries.len() + self.damaged.len()
    }

    /// Whether there is nothing at all.
    pub fn is_empty(&self) -> bool {
        self.len() == 0 && self.unreadable.is_empty()
    }

    /// Returns the lines of all entries, in the order in which the log is told, damaged ones last.
    pub fn lines(&self) -> impl Iterator<Item = &str> {
        self.entries.values().map(|entry| entry.line()).chain(self.damaged.values().map(Unverified::line))
    }

    /// Returns the lines that cannot be read, as they came, each once.
    pub fn unreadable(&self) -> &BTreeSet<String> {
        &self.unreadable
    }

    /// Returns the hash that a device's chain ends with; empty before its first entry.
    pub fn head(&self, device: &DeviceId) -> String {
        let last = self.chains.get(device).and_then(|chain| chain.values().next_back()).and_then(|links| links.last());
        last.map(|link| link.hash.clone()).unwrap_or_default()
    }

    /// Returns the number that a device's next entry has.
    pub fn next_sequence(&self, device: &DeviceId) -> u64 {
        let last = self.chains.get(device).and_then(|chain| chain.keys().next_back());
        last.map_or(1, |last| last.saturating_add(1))
    }

    /// Returns the hash of the set of all headers: the same on every device that holds the same ones.
    pub fn header_set_hash(&self) -> String {
        root_of(self.orders.keys().map(String::as_str).chain(self.damaged.keys().map(String::as_str)))
    }

    /// Returns the devices that wrote something here.
    pub fn devices(&self) -> impl Iterator<Item = &DeviceId> {
        self.chains.keys()
    }

    /// Returns a device's entries from its first on, each naming the one before it, up to the first that is missing,
    /// damaged or forked.
    pub fn in_a_row(&self, device: &DeviceId) -> Vec<&Arc<Entry>> {
        at_once(self.in_a_row_in_turns(device, &mut AtOnce))
    }

    /// As [`Log::in_a_row`], pausing in between.
    pub async fn in_a_row_in_turns(&self, device: &DeviceId, turns: &mut dyn Turns) -> Vec<&Arc<Entry>> {
        let mut entries: Vec<&Arc<Entry>> = Vec::new();
        for (expected, (sequence, links)) in (1_u64..).zip(self.chains.get(device).into_iter().flatten()) {
            let [link] = links.as_slice() else { break };
            let before = entries.last().map_or("", |entry| entry.hash());
            match self.by_hash(&link.hash) {
                Some(entry) if *sequence == expected && link.previous == before => entries.push(entry),
                _ => break,
            }
            turns.turn().await;
        }
        entries
    }

    /// Returns the entries that are kept and never believed: their bodies or signatures are not their own.
    pub(crate) fn damaged(&self) -> impl Iterator<Item = &Unverified> {
        self.damaged.values()
    }

    /// Whether an entry is here with its body.
    pub(crate) fn has_whole(&self, hash: &str) -> bool {
        self.by_hash(hash).is_some_and(|entry| *entry.content() != Content::Withheld)
    }

    /// Returns the hashes of the entries that found an academy; more than one means that two are mixed.
    pub fn foundings(&self) -> Vec<&str> {
        self.founded.iter().filter_map(|order| self.entries.get(order)).map(|entry| entry.hash()).collect()
    }

    /// Lists everything that does not hold together; nothing of it is ever repaired.
    pub fn problems(&self) -> Vec<Problem> {
        at_once(self.problems_in_turns(&mut AtOnce))
    }

    /// As [`Log::problems`], pausing in between.
    pub(crate) async fn problems_in_turns(&self, turns: &mut dyn Turns) -> Vec<Problem> {
        problem::problems(self, turns).await
    }
}

/// Returns the hash of a set of headers, from their hashes.
pub(crate) fn root_of<'h>(hashes: impl Iterator<Item = &'h str>) -> String {
    at_once(root_in_turns(&set_of(hashes), &mut AtOnce))
}

/// As [`root_of`], pausing in between.
pub(crate) async fn root_in_turns<H: AsRef<str>>(hashes: &BTreeSet<H>, turns: &mut dyn Turns) -> String {
    let mut digest = Sha256::new();
    for (place, hash) in hashes.iter().enumerate() {
        if place > 0 {
            digest.update(b"\n");
        }
        digest.update(hash.as_ref().as_bytes());
        turns.turn().await;
    }
    json::hex(&digest.finalize())
}
