//! The keys on this device: which can sign now, which wait for the academy, and what the academy's key does.
//!
//! The device's own key signs what anybody writes here. An instructor's or the owner's acts are signed by that
//! person's key on this device, which is at hand only while they have unlocked it. The academy's key is sealed by a
//! passphrase, is opened for a moment, and only admits and ends keys.

use leptos::prelude::*;
use logbook::Fact;
use logbook::fact::{Admission, ChainPlace, Scope};
use logbook::logbook::{DrawnUp, Prepared, Signers};
use logbook::signature::PublicKey;
use logbook::trust::Word;
use practicum::ids::{EntryId, PersonId};
use practicum::person::Role;

use super::Session;
use super::pen::Pen;
use super::writing::Said;
use crate::browser;
use crate::browser::keys::BrowserKey;
use crate::browser::store::Database;

/// Key in the database: the academy's key, sealed, in hexadecimal digits.
pub(super) const ACADEMY_SEALED: &str = "academy-key";
/// Key in the database: the academy's public key as this device has known it.
pub(super) const ACADEMY_PUBLIC: &str = "academy-public";

/// The keys that can sign now.
#[derive(Clone, Default)]
pub(crate) struct Ring {
    device: Option<Pen>,
    person: Option<(PersonId, Pen)>,
    academy: Option<Pen>,
}

impl Ring {
    fn signers(&self) -> Signers {
        Signers {
            academy: self.academy.as_ref().map(Pen::key),
            device: self.device.as_ref().map(Pen::key),
            person: self.person.as_ref().map(|(person, pen)| (person.clone(), pen.key())),
        }
    }

    /// Has each key sign what waits for it.
    pub(super) async fn sign(&self, drawn: DrawnUp) -> Result<Prepared, String> {
        let pens = || self.device.iter().chain(self.person.iter().map(|(_, pen)| pen)).chain(&self.academy);
        let mut signatures = Vec::new();
        for (key, bytes) in drawn.to_sign()? {
            let pen = pens()
                .find(|pen| pen.key() == key)
                .ok_or("The key that has to sign is not open. Nothing was saved.")?;
            signatures.push(pen.sign(&bytes).await?);
        }
        drawn.signed(&signatures).map_err(|error| error.to_string())
    }
}

/// What is known of the keys here, for the screen.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct KeysHere {
    /// The keys that can sign now.
    pub(crate) signers: Signers,
    /// The academy's key is kept on this device, sealed.
    pub(crate) academy_sealed: bool,
    /// This browser makes no keys that it keeps itself: passphrases are needed.
    pub(crate) by_passphrase: bool,
}

fn say(error: crate::browser::store::StoreError) -> String {
    error.to_string()
}

fn hex_bytes(text: &str) -> Option<Vec<u8>> {
    let pair = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    (text.len().is_multiple_of(2)).then(|| text.as_bytes().chunks(2).map(pair).collect::<Option<Vec<u8>>>())?
}

fn sealed_name(of: Option<&PersonId>) -> String {
    of.map_or_else(|| "sealed-key/device".to_owned(), |person| format!("sealed-key/person/{person}"))
}

fn kept_name(of: Option<&PersonId>) -> String {
    of.map_or_else(|| "device".to_owned(), |person| format!("person/{person}"))
}

/// Returns the browser's key of the device or of a person, made now where there is none; `None` where this browser
/// makes none.
async fn browser_pen(database: &Database, of: Option<&PersonId>) -> Result<Option<Pen>, String> {
    let name = kept_name(of);
    if let Some(key) = database.key(&name).await.map_err(say)? {
        return Pen::of_browser(key).map(Some);
    }
    let Some(fresh) = BrowserKey::make().await else { return Ok(None) };
    let kept = database.keep_key(&name, &fresh).await.map_err(say)?;
    Pen::of_browser(kept).map(Some)
}

impl Session {
    /// Signs bytes with the key of the owner, who has unlocked the device; `bytes` is told the key first.
    ///
    /// # Errors
    /// Returns a sentence when there is no such key at hand.
    pub(super) async fn sign_as_owner<T>(
        &self,
        what: impl FnOnce(PublicKey) -> (T, Vec<u8>),
    ) -> Result<(T, logbook::signature::Signature), String> {
        if !untrack(|| self.is_owner()) {
            return Err("Only the owner signs this, unlocked at the top.".to_owned());
        }
        self.ready_keys().await?;
        let pen = self.ring.with_value(|ring| ring.person.as_ref().map(|(_, pen)| pen.clone()));
        let pen = pen.ok_or("The owner’s own key is not at hand on this device: see “Keys”.")?;
        let (said, bytes) = what(pen.key());
        Ok((said, pen.sign(&bytes).await?))
    }

    /// Returns what is known of the keys here, following changes.
    pub(crate) fn keys_here(&self) -> KeysHere {
        super::look(self.keys_here, Clone::clone)
    }

    /// Returns the keys that can sign now.
    pub(super) fn ring(&self) -> Ring {
        self.ring.get_value()
    }

    fn put_ring(&self, change: impl FnOnce(&mut Ring)) {
        self.ring.update_value(change);
        let signers = self.ring.with_value(Ring::signers);
        self.keys_here.update(|here| here.signers = signers);
    }

    /// Forgets the device's keys when another place of records is opened.
    pub(super) async fn new_ring(&self, database: &Database) -> Result<(), String> {
        self.put_ring(|ring| *ring = Ring::default());
        let sealed = database.get_meta(ACADEMY_SEALED).await.map_err(say)?.is_some_and(|text| !text.is_empty());
        self.keys_here.update(|here| here.academy_sealed = sealed);
        Ok(())
    }

    /// Puts away the keys of whoever had unlocked the device: the person's, and the academy's.
    pub(super) fn put_keys_away(&self) {
        self.put_ring(|ring| (ring.person, ring.academy) = (None, None));
    }

    /// Makes ready the keys with which entries can be signed now: nothing while the academy has no key, nor in the
    /// demo, whose entries are never signed.
    pub(super) async fn ready_keys(&self) -> Result<(), String> {
        if self.demo.get_untracked() || !self.logbook.with_value(|logbook| logbook.trust().key().is_some()) {
            return Ok(());
        }
        self.make_keys().await
    }

    async fn make_keys(&self) -> Result<(), String> {
        let database = self.database()?;
        if self.ring.with_value(|ring| ring.device.is_none()) {
            let pen = browser_pen(&database, None).await?;
            self.keys_here.update(|here| here.by_passphrase = pen.is_none());
            self.put_ring(|ring| ring.device = pen);
        }
        let person = self.who_now().filter(|person| person.role.may_assess() && self.unlocked_now());
        let open = self.ring.with_value(|ring| ring.person.as_ref().map(|(person, _)| person.clone()));
        match person {
            Some(person) if open.as_ref() != Some(&person.id) => {
                let pen = browser_pen(&database, Some(&person.id)).await?;
                // The lock may have closed, or somebody else taken the device, while the browser was at work.
                let still = self.unlocked_now() && self.who.get_untracked().as_ref() == Some(&person.id);
                self.put_ring(|ring| ring.person = pen.filter(|_| still).map(|pen| (person.id, pen)));
            }
            Some(_) => {}
            None => self.put_ring(|ring| ring.person = None),
        }
        Ok(())
    }

    /// Opens a key that a passphrase seals, for a browser that keeps none itself; makes it the first time.
    pub(crate) async fn open_by_passphrase(&self, of: Option<PersonId>, passphrase: &str) -> Result<(), String> {
        let mine = self.who.get_untracked().filter(|_| self.unlocked_now());
        if of.is_some() && of != mine {
            return Err("Only whoever has unlocked the device opens a key of their own.".to_owned());
        }
        let (database, name) = (self.database()?, sealed_name(of.as_ref()));
        let known = database.get_meta(&name).await.map_err(say)?;
        let pen = match known.as_deref().filter(|text| !text.is_empty()) {
            Some(text) => Pen::open(&hex_bytes(text).ok_or("The key that is kept here is damaged.")?, passphrase)?,
            None => {
                let (pen, sealed) = Pen::make_sealed(passphrase)?;
                database.put_meta(&[(&name, &browser::random::hex(&sealed))]).await.map_err(say)?;
                pen
            }
        };
        self.put_ring(|ring| match of {
            Some(person) => ring.person = Some((person, pen)),
            None => ring.device = Some(pen),
        });
        Ok(())
    }

    /// Returns the requests that go before what is written: keys that sign here and that nobody was told of yet.
    pub(super) fn requests(&self) -> Vec<(PersonId, Fact)> {
        let ring = self.ring();
        let mut requests = Vec::new();
        let (device, records) = (self.device(), self.records_now());
        let label = || {
            let named =
                records.devices().iter().find(|known| known.value.id == device).map(|known| known.value.label.clone());
            named.unwrap_or_else(|| format!("device {}", device.as_str().chars().take(8).collect::<String>()))
        };
        let known = |key: &PublicKey| {
            let admitted =
                self.logbook.with_value(|logbook| logbook.trust().admitted().any(|one| one.admission.key == *key));
            admitted || records.asked().iter().any(|asked| asked.value.key == *key)
        };
        let mut ask = |author: &PersonId, key: PublicKey, person: Option<PersonId>, scope| {
            if !known(&key) {
                let admission = Admission { key, device: device.clone(), person, scope, label: label() };
                requests.push((author.clone(), Fact::KeyAsked(admission)));
            }
        };
        if let (Some(pen), Some(who)) = (&ring.device, self.who.get_untracked()) {
            ask(&who, pen.key(), None, Scope::Records);
        }
        if let Some((person, pen)) = &ring.person {
            let owns = records.person(person).is_some_and(|person| person.role == Role::Owner);
            ask(person, pen.key(), Some(person.clone()), if owns { Scope::Owning } else { Scope::Assessing });
        }
        requests
    }

    /// Asks the owner to admit the keys that can sign here, where nobody was told of them yet.
    ///
    /// # Errors
    /// Returns a sentence when they could not be made or the request not be saved.
    pub(crate) async fn ask_for_keys(&self) -> Result<(), String> {
        self.ready_keys().await?;
        let at = super::reading().at;
        let said = self.requests().into_iter().map(|(author, fact)| Said { author, at, fact }).collect();
        self.write_said(said, &crate::browser::store::Also::default()).await
    }

    /// Returns the keys with which the entries of `ring` can be signed.
    pub(super) fn signers(ring: &Ring) -> Signers {
        ring.signers()
    }

    /// Makes the academy's key and everything that belongs to it for a new academy: the ring that founds it, the
    /// admissions, and what is to be kept on this device.
    pub(super) async fn founding_keys(
        &self,
        owner: &PersonId,
        passphrase: &str,
    ) -> Result<(Ring, Vec<Fact>, String), String> {
        let database = self.database()?;
        let (academy, sealed) = Pen::make_sealed(passphrase)?;
        let by_browser = (browser_pen(&database, None).await?, browser_pen(&database, Some(owner)).await?);
        let (device, person) = match by_browser {
            (Some(device), Some(person)) => (device, person),
            _ => {
                // Without keys that the browser keeps itself, the same passphrase seals these two as well.
                self.keys_here.update(|here| here.by_passphrase = true);
                let mut pens = Vec::new();
                for of in [None, Some(owner)] {
                    let (pen, sealed) = Pen::make_sealed(passphrase)?;
                    database.put_meta(&[(&sealed_name(of), &browser::random::hex(&sealed))]).await.map_err(say)?;
                    pens.push(pen);
                }
                match (pens.pop(), pens.pop()) {
                    (Some(person), Some(device)) => (device, person),
                    _ => return Err("The keys could not be made.".to_owned()),
                }
            }
        };
        let label = "where the academy’s key was made".to_owned();
        let admit = |key, person, scope| {
            Fact::KeyAdmitted(Admission { key, device: self.device(), person, scope, label: label.clone() })
        };
        let facts =
            vec![admit(person.key(), Some(owner.clone()), Scope::Owning), admit(device.key(), None, Scope::Records)];
        let ring = Ring { device: Some(device), person: Some((owner.clone(), person)), academy: Some(academy) };
        Ok((ring, facts, browser::random::hex(&sealed)))
    }

    /// Takes the ring that founded an academy or made its key.
    pub(super) fn take_ring(&self, ring: Ring) {
        self.put_ring(|old| *old = ring);
        self.keys_here.update(|here| here.academy_sealed = true);
    }

    /// Makes the academy's key for an academy that was founded without one, and vouches with it for everything that
    /// nobody signed so far.
    pub(crate) async fn make_academy_key(&self, passphrase: &str) -> Result<(), String> {
        let owner = self.owner_unlocked()?;
        if self.logbook.with_value(|logbook| logbook.trust().key().is_some()) {
            return Err("The academy has a key already.".to_owned());
        }
        let (ring, admissions, sealed) = self.founding_keys(&owner, passphrase).await?;
        let public = ring.academy.as_ref().map(|pen| pen.key().text()).unwrap_or_default();
        let adopts = self.not_signed();
        let facts = std::iter::once(Fact::AcademyKeyMade { adopts }).chain(admissions).collect();
        let before = self.ring();
        self.put_ring(|old| *old = ring);
        let said = super::writing::said_now(&owner, facts);
        let meta = [(ACADEMY_SEALED, sealed.as_str()), (ACADEMY_PUBLIC, public.as_str())];
        let also = crate::browser::store::Also { meta: &meta, ..Default::default() };
        if let Err(sentence) = self.write_said(said, &also).await {
            self.put_ring(|ring| *ring = before);
            return Err(sentence);
        }
        self.pinned.set_value(PublicKey::read(&public).ok());
        self.keys_here.update(|here| here.academy_sealed = true);
        Ok(())
    }

    /// Returns the hashes of the entries that nobody signed and nobody vouched for, in order.
    pub(crate) fn not_signed(&self) -> Vec<String> {
        self.logbook.with_value(|logbook| {
            let records = logbook.records();
            let unsigned = |header: &logbook::entry::Header| records.word(&header.id) == Word::NotSigned;
            let entries = logbook.log().entries().filter(|entry| unsigned(entry.header()) && entry.signer().is_none());
            entries.map(|entry| entry.hash().to_owned()).collect()
        })
    }

    fn owner_unlocked(&self) -> Result<PersonId, String> {
        match self.who_now().filter(|person| person.role == Role::Owner && self.unlocked_now()) {
            Some(owner) => Ok(owner.id),
            None => Err("Only the owner works with the academy’s key, unlocked at the top.".to_owned()),
        }
    }

    /// Opens the academy's key with its passphrase until the lock closes.
    pub(crate) async fn open_academy_key(&self, passphrase: &str) -> Result<(), String> {
        self.owner_unlocked()?;
        let sealed = self.database()?.get_meta(ACADEMY_SEALED).await.map_err(say)?;
        let bytes = sealed.as_deref().and_then(hex_bytes).filter(|bytes| !bytes.is_empty());
        let pen = Pen::open(
            &bytes.ok_or("The academy’s key is not kept on this device: bring it in from the recovery sheet.")?,
            passphrase,
        )?;
        self.is_the_academys(&pen)?;
        self.put_ring(|ring| ring.academy = Some(pen));
        Ok(())
    }

    fn is_the_academys(&self, pen: &Pen) -> Result<(), String> {
        match self.logbook.with_value(|logbook| logbook.trust().key().copied()) {
            Some(key) if key == pen.key() => Ok(()),
            Some(key) => Err(format!(
                "This is the key {}; the academy’s is {}. Nothing was changed.",
                pen.key().fingerprint(),
                key.fingerprint()
            )),
            None => Err("This academy has no key. Nothing was changed.".to_owned()),
        }
    }

    /// Puts the academy's key away again.
    pub(crate) fn close_academy_key(&self) {
        self.put_ring(|ring| ring.academy = None);
    }

    /// Brings the academy's key onto this device from its recovery sheet.
    pub(crate) async fn take_academy_key(&self, sheet: &str, passphrase: &str) -> Result<(), String> {
        self.owner_unlocked()?;
        let bytes = logbook::recovery::read(sheet)?;
        let pen = Pen::open(&bytes, passphrase)?;
        self.is_the_academys(&pen)?;
        self.database()?.put_meta(&[(ACADEMY_SEALED, &browser::random::hex(&bytes))]).await.map_err(say)?;
        self.keys_here.update(|here| here.academy_sealed = true);
        self.put_ring(|ring| ring.academy = Some(pen));
        Ok(())
    }

    /// Returns the letters of the recovery sheet: the academy's key as it is sealed on this device.
    pub(crate) async fn recovery_letters(&self) -> Result<String, String> {
        self.owner_unlocked()?;
        let sealed = self.database()?.get_meta(ACADEMY_SEALED).await.map_err(say)?;
        let bytes = sealed.as_deref().and_then(hex_bytes).filter(|bytes| !bytes.is_empty());
        bytes
            .map(|bytes| logbook::recovery::letters(&bytes))
            .ok_or_else(|| "The academy’s key is not kept on this device.".to_owned())
    }

    /// Returns the place at which a key would be ended now: the last entry of its device that is known here.
    pub(crate) fn end_place(&self, admission: &Admission) -> ChainPlace {
        self.logbook.with_value(|logbook| ChainPlace {
            sequence: logbook.log().next_sequence(&admission.device).saturating_sub(1),
            head: logbook.log().head(&admission.device),
        })
    }

    /// Returns the keys that were admitted, each with the place at which it was ended, following changes.
    pub(crate) fn admitted_keys(&self) -> Vec<logbook::trust::Admitted> {
        // The records change whenever the log does.
        let _ = self.records();
        self.logbook.with_value(|logbook| logbook.trust().admitted().cloned().collect())
    }

    /// Returns the academy's key, following changes.
    pub(crate) fn academy_key(&self) -> Option<PublicKey> {
        let _ = self.records();
        self.logbook.with_value(|logbook| logbook.trust().key().copied())
    }

    /// Returns keys that claim to be the academy's beside the one believed, following changes.
    pub(crate) fn rival_keys(&self) -> Vec<PublicKey> {
        let _ = self.records();
        self.logbook.with_value(|logbook| logbook.trust().other_keys().copied().collect())
    }

    /// Says in a few words whether an entry is signed, following changes.
    pub(crate) fn signed_words(&self, entry: &EntryId) -> &'static str {
        let records = self.records();
        match records.is_keyed() {
            true => records.word(entry).say(),
            false => "not signed: the academy has no key",
        }
    }

    /// Says why what an instructor or the owner says here does not count yet, following changes.
    pub(crate) fn acts_wait(&self) -> Option<&'static str> {
        let who = self.who().filter(|_| self.academy_key().is_some() && self.may_assess())?;
        let own = self.keys_here().signers.person.filter(|(person, _)| *person == who.id).map(|(_, key)| key);
        let admitted =
            |key| self.admitted_keys().iter().any(|known| known.admission.key == key && known.ended.is_none());
        match own {
            Some(key) if admitted(key) => None,
            Some(_) => Some(
                "Your key on this device is not admitted: what you mark, decide or sign here counts once the owner has \
                 admitted it. ",
            ),
            None => Some(
                "Your key is not open: what you mark, decide or sign has to be signed. Open it with its passphrase. ",
            ),
        }
    }

    /// Holds on to the academy's key that a log tells of, where this device has known none before.
    pub(super) async fn pin_academy_key(&self, database: &Database) -> Result<(), String> {
        let told = self.logbook.with_value(|logbook| logbook.trust().key().copied());
        if let (Some(key), None) = (told, self.pinned.get_value()) {
            database.put_meta(&[(ACADEMY_PUBLIC, &key.text())]).await.map_err(say)?;
            self.pinned.set_value(Some(key));
        }
        Ok(())
    }
}
