//! A device's logbook: its log and what it adds up to. Saved first, shown after.

use std::collections::HashMap;
use std::sync::Arc;

use practicum::ids::{DeviceId, EntryId, PersonId};
use practicum::moment::Moment;

use crate::draft::Draft;
use crate::entry::{Checked, Entry, Place, SignatureCheck, Signing, Unsigned};
use crate::erasure;
use crate::fact::{Fact, Scope};
use crate::kind::Kind;
use crate::log::{Inserted, Known, Log, Problem};
use crate::records::{Records, reached};
use crate::rights::Rights;
use crate::signature::{PublicKey, Signature};
use crate::store::{Store, StoreFault};
use crate::trust::{Trust, only_academy_key_signs};
use crate::turns::{AtOnce, Turns, at_once};

/// A device's log and its records.
#[derive(Debug, Clone)]
pub struct Logbook {
    device: DeviceId,
    log: Log,
    trust: Trust,
    pinned: Option<PublicKey>,
    records: Arc<Records>,
    saved_head: Option<String>,
    stale: bool,
}

/// The keys that can sign on this device at this moment.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Signers {
    /// The academy's key, while the owner has it open.
    pub academy: Option<PublicKey>,
    /// The device's own key.
    pub device: Option<PublicKey>,
    /// The key of the person who has unlocked the device, and whose it is.
    pub person: Option<(PersonId, PublicKey)>,
}

/// A log of this device's own store that is being opened, pack by pack.
#[derive(Debug, Default)]
pub struct Opening<'k> {
    log: Log,
    known: HashMap<&'k str, Known<'k>>,
}

impl Opening<'_> {
    /// Takes in a pack of lines.
    pub fn take(&mut self, pack: &str) {
        for line in pack.lines().filter(|line| !line.is_empty()) {
            match self.known.get(line) {
                Some(known) => self.log.insert_known(known),
                None => self.log.insert_stored(line),
            }
        }
    }

    /// Works out what all of it adds up to; `head` is noted beside the packs. `pinned` is the academy's key as this
    /// device has known it: another one that the log tells of is not believed, and erases nothing either.
    pub fn finish(self, device: DeviceId, head: &str, pinned: Option<PublicKey>) -> Logbook {
        at_once(self.finish_in_turns(device, head, pinned, &mut AtOnce))
    }

    /// As [`Opening::finish`], pausing in between.
    pub async fn finish_in_turns(
        self,
        device: DeviceId,
        head: &str,
        pinned: Option<PublicKey>,
        turns: &mut dyn Turns,
    ) -> Logbook {
        let before = Records::default();
        Logbook::told(device, self.log, pinned, before, turns).await.with_saved_head(head)
    }
}

/// Entries that are drawn up and still lack their signatures.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnUp {
    expected_head: String,
    new_head: String,
    entries: Vec<Drawn>,
}

#[derive(Debug, Clone, PartialEq)]
enum Drawn {
    /// Of the first form, which nobody signs.
    Ready(Box<Entry>),
    /// Waits for its key.
    ToSign(Box<Unsigned>),
}

impl DrawnUp {
    /// Returns what is to be signed by which key, in order.
    ///
    /// # Errors
    /// Returns why there is nothing to sign, which no entry gives cause for.
    pub fn to_sign(&self) -> Result<Vec<(PublicKey, Vec<u8>)>, String> {
        let unsigned = self.entries.iter().filter_map(|drawn| match drawn {
            Drawn::Ready(_) => None,
            Drawn::ToSign(unsigned) => Some(unsigned.as_ref()),
        });
        unsigned.map(|unsigned| Ok((*unsigned.key(), unsigned.bytes()?))).collect()
    }

    /// Puts the signatures in place, in the order of [`DrawnUp::to_sign`].
    ///
    /// # Errors
    /// Returns a sentence when a signature is missing, too many, or not its key's.
    pub fn signed(self, signatures: &[Signature]) -> Result<Prepared, NotRecorded> {
        let refused = |why: &str| NotRecorded::Refused(format!("Nothing was saved: {why}."));
        let mut signatures = signatures.iter();
        let mut entries = Vec::with_capacity(self.entries.len());
        for drawn in self.entries {
            entries.push(match drawn {
                Drawn::Ready(entry) => *entry,
                Drawn::ToSign(unsigned) => {
                    let signature = signatures.next().ok_or_else(|| refused("a signature is missing"))?;
                    unsigned.sign(signature).map_err(|why| refused(&why))?
                }
            });
        }
        if signatures.next().is_some() {
            return Err(refused("there are more signatures than entries"));
        }
        let lines = entries.iter().map(|entry| entry.line().to_owned()).collect();
        Ok(Prepared { lines, expected_head: self.expected_head, new_head: self.new_head, entries })
    }
}

/// Entries that are ready to be saved, and not yet shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prepared {
    /// Lines to append.
    pub lines: Vec<String>,
    /// Hash that the device's chain must end with before.
    pub expected_head: String,
    /// Hash that it ends with afterwards.
    pub new_head: String,
    entries: Vec<Entry>,
}

impl Prepared {
    /// Returns the identifiers of the new entries, in the order of their drafts.
    pub fn ids(&self) -> Vec<EntryId> {
        self.entries.iter().map(|entry| entry.header().id.clone()).collect()
    }
}

/// Why something was not recorded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotRecorded {
    /// It cannot be an entry; a sentence.
    #[error("{0}")]
    Refused(String),
    /// The store did not take it.
    #[error("{0}")]
    Store(#[from] StoreFault),
}

impl Logbook {
    /// Starts an empty logbook.
    pub fn new(device: DeviceId) -> Self {
        let (log, trust, records) = (Log::default(), Trust::default(), Arc::default());
        Self { device, log, trust, pinned: None, records, saved_head: None, stale: false }
    }

    /// Opens what a store holds: packs of lines parted by line feeds, and the head noted beside them.
    ///
    /// Nothing is lost that cannot be read: it is kept, and listed by [`Logbook::problems`].
    pub fn open<T: AsRef<str>>(device: DeviceId, packs: &[T], head: &str) -> Self {
        Self::open_pinned(device, packs, head, None)
    }

    /// As [`Logbook::open`], holding on to the academy's key as this device has known it: another one that the log
    /// tells of is not believed, and erases nothing either.
    pub fn open_pinned<T: AsRef<str>>(device: DeviceId, packs: &[T], head: &str, pinned: Option<PublicKey>) -> Self {
        let mut log = Log::default();
        for line in packs.iter().flat_map(|pack| pack.as_ref().lines()).filter(|line| !line.is_empty()) {
            log.insert_line(line);
        }
        at_once(Self::told(device, log, pinned, Records::default(), &mut AtOnce)).with_saved_head(head)
    }

    /// Works out what a log adds up to. What `before` has read of course books and folded of taps is used again.
    async fn told(
        device: DeviceId,
        mut log: Log,
        pinned: Option<PublicKey>,
        before: Records,
        turns: &mut dyn Turns,
    ) -> Self {
        let trust = Trust::in_turns(&log, pinned, turns).await;
        let stale = log.erase(erasure::erased(&log, &trust));
        turns.rest().await;
        let records = Arc::new(before.rebuilt(&log, &trust, turns).await);
        Self { device, log, trust, pinned, records, saved_head: None, stale }
    }

    fn with_saved_head(mut self, head: &str) -> Self {
        self.saved_head = Some(head.to_owned());
        self
    }

    /// Opens what this device's own store holds, as [`Logbook::open`] does, but leaves the signatures to be checked:
    /// they were checked before they were stored, and checking a large log takes seconds. What is left to do is given
    /// by [`Logbook::unchecked`].
    pub fn open_own<T: AsRef<str>>(device: DeviceId, packs: &[T], head: &str) -> Self {
        let mut opening = Opening::default();
        packs.iter().for_each(|pack| opening.take(pack.as_ref()));
        opening.finish(device, head, None)
    }

    /// Returns at most so many signatures that were not checked since the log was opened, by the hash of their header.
    pub fn unchecked(&self, most: usize) -> Vec<(String, SignatureCheck)> {
        self.log.unchecked().iter().take(most).map(|(hash, check)| (hash.clone(), *check)).collect()
    }

    /// Notes whether signatures hold, by the hash of their header. An entry whose signature does not is kept, listed
    /// by [`Logbook::problems`], and no longer believed.
    ///
    /// Returns whether there was one.
    pub fn checked(&mut self, found: &[(String, bool)]) -> bool {
        let refused = self.log.checked(found);
        if refused {
            self.tell_anew();
        }
        refused
    }

    /// Opens what this device's own store holds by now, with what is known of it already: a line that this logbook
    /// has is neither read nor checked again.
    pub fn opened_again<T: AsRef<str>>(&self, packs: &[T], head: &str) -> Self {
        at_once(self.opened_again_in_turns(packs, head, &mut AtOnce))
    }

    /// As [`Logbook::opened_again`], pausing in between.
    pub async fn opened_again_in_turns<T: AsRef<str>>(&self, packs: &[T], head: &str, turns: &mut dyn Turns) -> Self {
        let mut opening = Opening { log: Log::default(), known: self.log.by_line(turns).await };
        for pack in packs {
            opening.take(pack.as_ref());
            turns.turn().await;
        }
        let before = self.records.with_what_was_read();
        Self::told(self.device.clone(), opening.log, self.pinned, before, turns).await.with_saved_head(head)
    }

    /// Holds on to the academy's key as this device has known it: another one that the log tells of is not believed.
    pub fn pinning(mut self, key: Option<PublicKey>) -> Self {
        self.pinned = key;
        if key.is_some() && self.trust.key() != key.as_ref() {
            self.tell_anew();
        }
        self
    }

    /// Works out anew whom to believe, and what everything adds up to.
    fn tell_anew(&mut self) {
        self.trust = Trust::of(&self.log, self.pinned);
        self.stale |= self.log.erase(erasure::erased(&self.log, &self.trust));
        Arc::make_mut(&mut self.records).rebuild(&self.log, &self.trust);
    }

    /// Whether the store may still hold bodies that were erased: all lines are to be written anew, at once.
    pub fn holds_erased(&self) -> bool {
        self.stale
    }

    /// Keeps in mind that the store was written anew.
    pub fn written_anew(&mut self) {
        self.stale = false;
    }

    /// Returns every line to store, unreadable ones included.
    pub fn lines(&self) -> Vec<String> {
        self.log.lines().chain(self.log.unreadable().iter().map(String::as_str)).map(str::to_owned).collect()
    }

    /// Returns whom to believe.
    pub fn trust(&self) -> &Trust {
        &self.trust
    }

    /// Returns the records.
    pub fn records(&self) -> &Records {
        &self.records
    }

    /// Returns the records to hold on to. While somebody does, the next entry makes a copy of them first.
    pub fn shared_records(&self) -> Arc<Records> {
        Arc::clone(&self.records)
    }

    /// Returns the log.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// Returns this device.
    pub fn device(&self) -> &DeviceId {
        &self.device
    }

    /// Returns the hash that this device's chain ends with; empty before its first entry.
    pub fn head(&self) -> String {
        self.log.head(&self.device)
    }

    /// Returns the head that the store noted, which is the chain's end unless lines of it were lost.
    pub fn saved_head(&self) -> String {
        self.saved_head.clone().unwrap_or_else(|| self.head())
    }

    /// Lists everything that does not hold together.
    pub fn problems(&self) -> Vec<Problem> {
        at_once(self.problems_in_turns(&mut AtOnce))
    }

    /// As [`Logbook::problems`], pausing in between.
    pub async fn problems_in_turns(&self, turns: &mut dyn Turns) -> Vec<Problem> {
        let mut problems = self.log.problems_in_turns(turns).await;
        problems.extend(self.end_missing());
        problems
    }

    fn end_missing(&self) -> Option<Problem> {
        let missing = self.saved_head.as_ref().is_some_and(|saved| *saved != self.head());
        missing.then(|| Problem::EndMissing { device: self.device.clone() })
    }

    /// Lets go of everything, pausing in between.
    pub async fn let_go(self, turns: &mut dyn Turns) {
        self.log.let_go(turns).await;
    }

    /// Makes entries of drafts, to be saved together or not at all. `fresh` gives 32 new random lower-case hex
    /// digits at every call.
    ///
    /// # Errors
    /// Returns a sentence when one of them cannot be recorded, or its author has no right to it; then none is.
    pub fn prepare(
        &self,
        drafts: &[Draft],
        at: Moment,
        fresh: &mut dyn FnMut() -> String,
    ) -> Result<Prepared, NotRecorded> {
        self.draw_up(drafts, at, fresh, &Signers::default())?.signed(&[])
    }

    /// Draws up entries of drafts, each for the key that has to sign it: the academy's for what it alone says, the
    /// author's own where the author has unlocked the device, the device's for everything else. Before the academy
    /// has a key nothing is signed.
    ///
    /// # Errors
    /// As [`Logbook::prepare`], and when an instructor or the owner speaks without a key of theirs at hand.
    pub fn draw_up(
        &self,
        drafts: &[Draft],
        at: Moment,
        fresh: &mut dyn FnMut() -> String,
        signers: &Signers,
    ) -> Result<DrawnUp, NotRecorded> {
        let expected_head = self.head();
        let (mut previous, mut sequence) = (expected_head.clone(), self.log.next_sequence(&self.device));
        let mut entries = Vec::with_capacity(drafts.len());
        let mut academy = self.trust.key().and(self.trust.academy().cloned());
        for (place, draft) in drafts.iter().enumerate() {
            self.allow(draft)?;
            let before = drafts.get(..place).unwrap_or_default();
            Rights::new(&self.log, &self.records, before).check(draft).map_err(NotRecorded::Refused)?;
            let (id, salt) = (EntryId::new(fresh()), fresh());
            if self.log.entry(&id).is_some() {
                return Err(NotRecorded::Refused(
                    "Nothing was saved: two entries drew the same name. Try again.".to_owned(),
                ));
            }
            academy = self.keyed_from(draft, &id, signers, academy);
            let signing = match &academy {
                Some(academy) => {
                    self.key_for(draft, before, signers)?.map(|key| Signing { academy: academy.clone(), key })
                }
                None if only_academy_key_signs(&draft.fact.kind()) && !founds(draft) => {
                    return Err(NotRecorded::Refused(ACADEMY_KEY.to_owned()));
                }
                None => None,
            };
            let place = Place { id, device: self.device.clone(), sequence, previous, at, salt };
            let cannot = |why: String| NotRecorded::Refused(format!("This cannot be recorded: {why}."));
            let drawn = match signing {
                Some(signing) => Drawn::ToSign(Box::new(Entry::draw_up(draft, place, signing).map_err(cannot)?)),
                None => Drawn::Ready(Box::new(Entry::write(draft, place).map_err(cannot)?)),
            };
            previous = match &drawn {
                Drawn::Ready(entry) => entry.hash().to_owned(),
                Drawn::ToSign(unsigned) => unsigned.hash().to_owned(),
            };
            sequence = sequence.saturating_add(1);
            entries.push(drawn);
        }
        Ok(DrawnUp { expected_head, new_head: previous, entries })
    }

    /// Returns the academy for which entries are signed from this draft on; `None` while it has no key.
    fn keyed_from(&self, draft: &Draft, id: &EntryId, signers: &Signers, before: Option<EntryId>) -> Option<EntryId> {
        match (&draft.fact, signers.academy) {
            (_, None) => before,
            (Fact::AcademyFounded(_), Some(_)) => Some(id.clone()),
            (Fact::AcademyKeyMade { .. }, Some(_)) => self.trust.academy().cloned(),
            _ => before,
        }
    }

    /// Returns the key that signs a draft; `None` where this device has none and it may stand unsigned.
    fn key_for(&self, draft: &Draft, before: &[Draft], signers: &Signers) -> Result<Option<PublicKey>, NotRecorded> {
        let no = |why: &str| Err(NotRecorded::Refused(why.to_owned()));
        let person = signers.person.as_ref().filter(|(person, _)| *person == draft.author).map(|(_, key)| *key);
        if let Fact::KeyAsked(asked) = &draft.fact {
            let here = [signers.device, person].into_iter().flatten().any(|key| key == asked.key);
            return if here { Ok(Some(asked.key)) } else { no("A key asks for itself, on the device that holds it.") };
        }
        match self.trust.scope_of(draft, before, &self.log) {
            None => match signers.academy {
                Some(key) if self.trust.key().is_none_or(|known| *known == key) => Ok(Some(key)),
                Some(_) => no("This is another academy’s key: open the one that this academy’s recovery sheet shows."),
                None => no(ACADEMY_KEY),
            },
            Some(scope) if scope > Scope::Records && person.is_none() => {
                no("Only a signature makes this count, and the key of whoever says it is not open on this device: \
                 unlock at the top, then do it again. Nothing was lost.")
            }
            Some(_) => Ok(person.or(signers.device)),
        }
    }

    fn allow(&self, draft: &Draft) -> Result<(), NotRecorded> {
        let no = |why: &str| Err(NotRecorded::Refused(why.to_owned()));
        match &draft.fact {
            Fact::AcademyFounded(_) if self.records.academy().is_some() => no("An academy is founded here already."),
            Fact::LogSeen { .. } if self.trust.key().is_none() => {
                no("Only a key signs this, and the academy has none yet.")
            }
            Fact::KeyAdmitted(admission) => {
                match self.trust.admitted().any(|known| known.admission.key == admission.key) {
                    true => no("This key is admitted already: the first admission stands."),
                    false => Ok(()),
                }
            }
            Fact::BookAdopted { id, text } => self.records.may_adopt(id, text).map_err(NotRecorded::Refused),
            Fact::Corrected { reason, .. } if reason.trim().is_empty() => no("Say why it is corrected."),
            Fact::Corrected { fact, .. } if matches!(fact.as_ref(), Fact::TrialOpened(_)) => {
                no("What a trial fixed is never changed: open a new one.")
            }
            Fact::Corrected { of, fact, .. } => {
                let first = match self.log.entry(of).and_then(|entry| entry.fact()).map(Arc::as_ref) {
                    Some(Fact::Corrected { fact, .. }) => fact,
                    Some(fact) => fact,
                    None => return no("What is to be corrected is not on this device."),
                };
                match reached(first, fact) {
                    Some(_) => Ok(()),
                    None => no("A correction must speak of the same record, and cannot change what the clocks took."),
                }
            }
            _ => Ok(()),
        }
    }

    /// Shows entries that were saved.
    pub fn commit(&mut self, prepared: Prepared) -> Vec<EntryId> {
        let ids = prepared.ids();
        self.saved_head = self.saved_head.as_ref().map(|_| prepared.new_head);
        let mut anew = false;
        for entry in prepared.entries {
            if let Inserted::Added(entry) = self.log.insert(Checked::Sound(entry)) {
                anew |= !self.trust.take(&entry);
                anew |= matches!(entry.header().kind, Kind::Erased | Kind::HoldPlaced | Kind::HoldLifted);
                if !anew {
                    Arc::make_mut(&mut self.records).apply(&self.log, &self.trust, &entry);
                }
            }
        }
        if anew {
            self.tell_anew();
        }
        ids
    }

    /// Saves drafts to a store and shows them then.
    ///
    /// # Errors
    /// Returns why nothing was recorded; the logbook is as it was.
    pub fn record(
        &mut self,
        store: &mut dyn Store,
        drafts: &[Draft],
        at: Moment,
        fresh: &mut dyn FnMut() -> String,
    ) -> Result<Vec<EntryId>, NotRecorded> {
        let prepared = self.prepare(drafts, at, fresh)?;
        store.append(&prepared.expected_head, &prepared.new_head, &prepared.lines)?;
        Ok(self.commit(prepared))
    }

    /// Returns this logbook as it would be with another log in its place, which holds all of its own.
    pub(crate) fn with_log(&self, log: Log) -> Self {
        at_once(self.with_log_in_turns(log, &mut AtOnce))
    }

    /// As [`Logbook::with_log`], pausing in between.
    pub(crate) async fn with_log_in_turns(&self, log: Log, turns: &mut dyn Turns) -> Self {
        let (head, before) = (log.head(&self.device), self.records.with_what_was_read());
        let mut told = Self::told(self.device.clone(), log, self.pinned, before, turns).await.with_saved_head(&head);
        told.stale |= self.stale;
        told
    }

    /// Takes in what another tab has saved since: all packs and the head, as read again.
    pub fn catch_up<T: AsRef<str>>(&mut self, packs: &[T], head: &str) {
        let mut changed = false;
        for line in packs.iter().flat_map(|pack| pack.as_ref().lines()).filter(|line| !line.is_empty()) {
            changed |= !matches!(self.log.insert_line(line), Some(Inserted::Known));
        }
        self.saved_head = Some(head.to_owned());
        if changed {
            self.tell_anew();
        }
    }
}

const ACADEMY_KEY: &str = "Only the academy’s key signs this: open it with its passphrase, on the page Keys.";

fn founds(draft: &Draft) -> bool {
    matches!(draft.fact, Fact::AcademyFounded(_))
}
