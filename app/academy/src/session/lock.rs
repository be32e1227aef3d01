//! Who is using the device, and whether an instructor or the owner is unlocked.

use leptos::prelude::*;
use logbook::Fact;
use practicum::ids::PersonId;
use practicum::person::{Person, Role};

use super::Session;
use super::keys::{ACADEMY_PUBLIC, ACADEMY_SEALED};
use super::pins::{PIN_SET, check_pin, pin_key};
use crate::browser;
use crate::browser::store::Also;

/// Minutes after which an unlocked instructor or owner is locked again.
pub(crate) const MINUTES: u64 = 5;

/// Whether what is guarded may be seen or done now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Lock {
    /// When the present user was last seen unlocked, by both clocks.
    seen: Option<Seen>,
    /// A device lock is set.
    pub(crate) device_lock_set: bool,
}

/// Both clocks at the last act of who is unlocked, in milliseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Seen {
    mono: u64,
    wall: i64,
}

impl Seen {
    fn now() -> Self {
        let now = browser::clock::now();
        Self { mono: now.mono_ms, wall: now.wall_ms }
    }

    /// Whether less than the five minutes have passed by either clock: the even one may stand still while the
    /// device sleeps, the wall clock may be set back.
    fn holds_at(self, now: Self) -> bool {
        let five = MINUTES * 60_000;
        let wall = u64::try_from(now.wall.saturating_sub(self.wall)).unwrap_or(0);
        now.mono.saturating_sub(self.mono) < five && wall < five
    }
}

impl Lock {
    /// Makes a closed lock.
    pub(crate) fn closed(device_lock_set: bool) -> Self {
        Self { seen: None, device_lock_set }
    }

    fn open(&self) -> bool {
        self.seen.is_some_and(|seen| seen.holds_at(Seen::now()))
    }
}

/// Key: who used the device last.
pub(super) const WHO: &str = "who";

impl Session {
    /// Returns who is using the device, following changes.
    pub(crate) fn who(&self) -> Option<Person> {
        let who = super::look(self.who, Clone::clone)?;
        self.records().person(&who).cloned()
    }

    /// Returns who is using the device, without following changes.
    pub(crate) fn who_now(&self) -> Option<Person> {
        let who = self.who.get_untracked()?;
        self.records_now().person(&who).cloned()
    }

    /// Whether the present user is an instructor or the owner, unlocked now.
    pub(crate) fn may_assess(&self) -> bool {
        self.unlocked() && self.who().is_some_and(|person| person.role.may_assess())
    }

    /// Whether the present user is the owner, unlocked now.
    pub(crate) fn is_owner(&self) -> bool {
        self.unlocked() && self.who().is_some_and(|person| person.role == Role::Owner)
    }

    /// Whether the present user has unlocked and the five minutes are not over.
    pub(crate) fn unlocked(&self) -> bool {
        super::look(self.lock, Lock::open)
    }

    /// As [`Session::unlocked`], without following changes.
    pub(super) fn unlocked_now(&self) -> bool {
        self.lock.with_untracked(Lock::open)
    }

    /// Whether contacts and health answers may be shown: no lock is set, or somebody has unlocked.
    pub(crate) fn may_see_private(&self) -> bool {
        !super::look(self.lock, |lock| lock.device_lock_set) || self.unlocked()
    }

    /// Whether any PIN guards private facts on this device.
    pub(crate) fn lock_set(&self) -> bool {
        super::look(self.lock, |lock| lock.device_lock_set)
    }

    /// Locks again when the five minutes are over; called some times a minute.
    pub(crate) fn watch_lock(&self) {
        if self.lock.with_untracked(|lock| lock.seen.is_some() && !lock.open()) {
            self.lock_now();
        }
    }

    /// Locks now; the person stays named.
    pub(crate) fn lock_now(&self) {
        self.put_keys_away();
        self.lock.update(|lock| lock.seen = None);
    }

    /// Says that the present user has just done something, which keeps the lock open.
    pub(crate) fn touch(&self) {
        if self.unlocked_now() {
            self.lock.update(|lock| lock.seen = Some(Seen::now()));
        }
    }

    /// Founds an academy: its entries, the owner's PIN and who is using the device are saved in one transaction.
    ///
    /// The academy's key, sealed by the passphrase, founds it; the owner's key and the device's are admitted by it.
    pub(crate) async fn found(
        &self,
        owner: &PersonId,
        pin: &str,
        passphrase: &str,
        facts: Vec<Fact>,
    ) -> Result<(), String> {
        check_pin(pin)?;
        let (ring, admissions, sealed) = self.founding_keys(owner, passphrase).await?;
        let public = Session::signers(&ring).academy;
        let public_text = public.map(|key| key.text()).unwrap_or_default();
        let record = browser::pin::make_record(pin).await.map_err(|error| error.to_string())?;
        let key = pin_key(owner);
        let meta = [
            (key.as_str(), record.as_str()),
            (PIN_SET, "yes"),
            (WHO, owner.as_str()),
            (ACADEMY_SEALED, sealed.as_str()),
            (ACADEMY_PUBLIC, public_text.as_str()),
        ];
        // The founding entry stands first, and the admissions follow it at once.
        let mut facts = facts.into_iter();
        let facts = facts.next().into_iter().chain(admissions).chain(facts).collect();
        let said = super::writing::said_now(owner, facts);
        self.write_founding(said, &Also { meta: &meta, ..Also::default() }, &ring).await?;
        self.pinned.set_value(public);
        self.now_guarded();
        self.now_using(owner, true);
        // The academy's key has done its work: it is put away again.
        self.take_ring(ring);
        self.close_academy_key();
        Ok(())
    }

    /// A PIN guards private facts from now on.
    pub(super) fn now_guarded(&self) {
        self.lock.update(|lock| lock.device_lock_set = true);
    }

    fn now_using(&self, person: &PersonId, unlocks: bool) {
        if self.who.get_untracked().as_ref() != Some(person) {
            self.put_keys_away();
        }
        self.who.set(Some(person.clone()));
        self.lock.update(|lock| lock.seen = unlocks.then(Seen::now));
    }

    /// Switches to a person. A trainee needs no PIN; an instructor or the owner does.
    pub(crate) async fn switch_to(&self, person: &PersonId, pin: &str) -> Result<(), String> {
        let records = self.records_now();
        let found = records.person(person).ok_or("This person is not known on this device.")?;
        if self.looks_around() {
            self.now_using(person, false);
            return Ok(());
        }
        let database = self.database()?;
        let right = self.pin_is_right(person, pin).await?;
        if right == Some(false) {
            return Err("This PIN is not right. Try again.".to_owned());
        }
        if right.is_none() && found.role.may_assess() {
            return Err(format!("{} has no PIN on this device yet: set one first.", found.name));
        }
        if let Err(error) = database.put_meta(&[(WHO, person.as_str())]).await {
            // On a full device people must still be able to read and to take a copy.
            self.alert.set(Some(error.to_string()));
        }
        self.now_using(person, found.role.may_assess());
        if found.role.may_assess()
            && let Err(sentence) = self.ask_for_keys().await
        {
            // On a full device people must still be able to unlock: without a key nothing of theirs is saved.
            self.alert.set(Some(sentence));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::Seen;

    #[test]
    fn five_minutes_by_either_clock_lock_again() {
        let seen = Seen { mono: 1_000, wall: 1_774_746_000_000 };
        let later = |mono: u64, wall: i64| Seen { mono: seen.mono + mono, wall: seen.wall + wall };
        assert!(seen.holds_at(later(299_999, 299_999)));
        assert!(!seen.holds_at(later(300_000, 299_000)));
        // The device slept for an hour, and its even clock with it.
        assert!(!seen.holds_at(later(5_000, 3_600_000)));
        // The wall clock was set back: the even one still counts.
        assert!(seen.holds_at(later(5_000, -3_600_000)));
        assert!(!seen.holds_at(later(300_000, -3_600_000)));
    }
}
