//! Who is using the device, and whether an instructor or the owner is unlocked.

use leptos::prelude::*;
use logbook::Fact;
use practicum::ids::PersonId;
use practicum::person::{Person, Role};

use super::Session;
use crate::browser;
use crate::browser::store::Also;

/// Minutes after which an unlocked instructor or owner is locked again.
pub(crate) const MINUTES: u64 = 5;

/// Whether what is guarded may be seen or done now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Lock {
    /// Milliseconds on the even clock until which the present user is unlocked.
    until: Option<u64>,
    /// A device lock is set.
    pub(crate) device_lock_set: bool,
}

impl Lock {
    /// Makes a closed lock.
    pub(crate) fn closed(device_lock_set: bool) -> Self {
        Self { until: None, device_lock_set }
    }
}

/// Key: a PIN is set on this device.
pub(super) const PIN_SET: &str = "pin-set";
/// Key: who used the device last.
pub(super) const WHO: &str = "who";

/// Says what is wrong with a new PIN.
fn check_pin(pin: &str) -> Result<(), String> {
    if (4..=12).contains(&pin.len()) && pin.bytes().all(|digit| digit.is_ascii_digit()) {
        Ok(())
    } else {
        Err("A PIN has 4 to 12 digits.".to_owned())
    }
}

/// Key of the PIN record of a person.
fn pin_key(person: &PersonId) -> String {
    format!("pin/{person}")
}

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
        super::look(self.lock, |lock| lock.until.is_some_and(|until| browser::clock::now().mono_ms < until))
    }

    /// As [`Session::unlocked`], without following changes.
    pub(super) fn unlocked_now(&self) -> bool {
        self.lock.with_untracked(|lock| lock.until.is_some_and(|until| browser::clock::now().mono_ms < until))
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
        let now = browser::clock::now().mono_ms;
        if self.lock.with_untracked(|lock| lock.until.is_some_and(|until| until <= now)) {
            self.lock_now();
        }
    }

    /// Locks now; the person stays named.
    pub(crate) fn lock_now(&self) {
        self.lock.update(|lock| lock.until = None);
    }

    /// Says that the present user has just done something, which keeps the lock open.
    pub(crate) fn touch(&self) {
        let now = browser::clock::now().mono_ms;
        let open = self.lock.with_untracked(|lock| lock.until.is_some_and(|until| now < until));
        if open {
            self.lock.update(|lock| lock.until = Some(now + MINUTES * 60_000));
        }
    }

    /// Whether a person has a PIN on this device.
    pub(crate) async fn has_pin(&self, person: &PersonId) -> Result<bool, String> {
        let database = self.database()?;
        let record = database.get_meta(&pin_key(person)).await.map_err(|error| error.to_string())?;
        Ok(record.is_some())
    }

    /// Sets a person's PIN on this device: four to twelve digits. It guards private facts from then on.
    pub(crate) async fn set_pin(&self, person: &PersonId, pin: &str) -> Result<(), String> {
        check_pin(pin)?;
        let record = browser::pin::make_record(pin).await.map_err(|error| error.to_string())?;
        let key = pin_key(person);
        self.database()?.put_meta(&[(&key, &record), (PIN_SET, "yes")]).await.map_err(|error| error.to_string())?;
        self.lock.update(|lock| lock.device_lock_set = true);
        Ok(())
    }

    /// Founds an academy: its entries, the owner's PIN and who is using the device are saved in one transaction.
    pub(crate) async fn found(&self, owner: &PersonId, pin: &str, facts: Vec<Fact>) -> Result<(), String> {
        check_pin(pin)?;
        let record = browser::pin::make_record(pin).await.map_err(|error| error.to_string())?;
        let key = pin_key(owner);
        let meta = [(key.as_str(), record.as_str()), (PIN_SET, "yes"), (WHO, owner.as_str())];
        let said = super::writing::said_now(owner, facts);
        self.write_said(said, &Also { meta: &meta, ..Also::default() }).await?;
        self.lock.update(|lock| lock.device_lock_set = true);
        self.now_using(owner, true);
        Ok(())
    }

    fn now_using(&self, person: &PersonId, unlocks: bool) {
        self.who.set(Some(person.clone()));
        let until = unlocks.then(|| browser::clock::now().mono_ms + MINUTES * 60_000);
        self.lock.update(|lock| lock.until = until);
    }

    /// Switches to a person. A trainee needs no PIN; an instructor or the owner does.
    pub(crate) async fn switch_to(&self, person: &PersonId, pin: &str) -> Result<(), String> {
        let records = self.records_now();
        let found = records.person(person).ok_or("This person is not known on this device.")?;
        let database = self.database()?;
        let record = database.get_meta(&pin_key(person)).await.map_err(|error| error.to_string())?;
        let right = match record {
            Some(record) => Some(browser::pin::check(pin, &record).await.map_err(|error| error.to_string())?),
            None => None,
        };
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
        Ok(())
    }
}
