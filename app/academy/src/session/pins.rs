//! PINs on this device: set, checked with growing waits after wrong ones, and renewed with the owner's recovery code.

use practicum::ids::PersonId;
use practicum::person::Role;

use super::Session;
use crate::browser;
use crate::browser::pin;
use crate::browser::store::{Database, StoreError};
use leptos::prelude::*;

/// Key: a PIN is set on this device.
pub(super) const PIN_SET: &str = "pin-set";
/// Key: the record that the owner's recovery code is checked against; empty once it is used up.
const RECOVERY: &str = "recovery";
/// Digits of a recovery code: over 66 bits, far beyond guessing.
pub(crate) const RECOVERY_DIGITS: usize = 20;
/// Wrong tries in a row that cost no wait: proposal, no source.
const FREE_TRIES: u32 = 5;
/// First wait after them, in milliseconds; it doubles with every further wrong try: proposal, no source.
const FIRST_WAIT: u64 = 30_000;
/// Longest wait, in milliseconds: proposal, no source.
const LONGEST_WAIT: u64 = 15 * 60_000;

/// Key of the PIN record of a person.
pub(super) fn pin_key(person: &PersonId) -> String {
    format!("pin/{person}")
}

/// Says what is wrong with a new PIN.
pub(crate) fn check_pin(pin: &str) -> Result<(), String> {
    if (4..=12).contains(&pin.len()) && pin.bytes().all(|digit| digit.is_ascii_digit()) {
        Ok(())
    } else {
        Err("A PIN has 4 to 12 digits.".to_owned())
    }
}

/// Wrong tries in a row for one PIN or code, and when the last one was, in milliseconds of the wall clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Tries {
    wrong: u32,
    last: i64,
}

impl Tries {
    fn read(text: Option<&str>) -> Self {
        let parts = text.and_then(|text| text.split_once(' '));
        let read = |(wrong, last): (&str, &str)| Some(Self { wrong: wrong.parse().ok()?, last: last.parse().ok()? });
        parts.and_then(read).unwrap_or_default()
    }

    fn text(self) -> String {
        format!("{} {}", self.wrong, self.last)
    }

    /// Milliseconds still to wait. A clock set back makes nobody wait longer than the whole wait.
    fn wait(self, now: i64) -> u64 {
        let Some(over) = self.wrong.checked_sub(FREE_TRIES) else { return 0 };
        let whole = FIRST_WAIT.saturating_mul(1_u64.checked_shl(over.min(16)).unwrap_or(u64::MAX)).min(LONGEST_WAIT);
        whole.saturating_sub(u64::try_from(now.saturating_sub(self.last)).unwrap_or(0))
    }

    fn wrong_again(self, now: i64) -> Self {
        Self { wrong: self.wrong.saturating_add(1), last: now }
    }
}

fn wait_in_words(milliseconds: u64) -> String {
    let seconds = milliseconds.div_ceil(1000);
    let time = if seconds < 120 { format!("{seconds} s") } else { format!("{} min", seconds.div_ceil(60)) };
    format!("Too many wrong tries: wait {time}, then try again.")
}

/// Checks what was typed against a record, counting wrong tries on the disk under `key`.
///
/// The count goes up before the answer is known, so that closing the page saves no try.
async fn right(database: &Database, key: &str, typed: &str, record: &str) -> Result<bool, String> {
    let say = |error: StoreError| error.to_string();
    let key = format!("wrong/{key}");
    let now = browser::clock::now().wall_ms;
    let tries = Tries::read(database.get_meta(&key).await.map_err(say)?.as_deref());
    if tries.wait(now) > 0 {
        if now < tries.last {
            let _ = database.put_meta(&[(&key, &Tries { last: now, ..tries }.text())]).await;
        }
        return Err(wait_in_words(tries.wait(now)));
    }
    // On a full device people must still be able to unlock, to take a copy: the count may fail.
    let _ = database.put_meta(&[(&key, &tries.wrong_again(now).text())]).await;
    let is_right = pin::check(typed, record).await.map_err(|error| error.to_string())?;
    if is_right {
        let _ = database.put_meta(&[(&key, &Tries::default().text())]).await;
    }
    Ok(is_right)
}

impl Session {
    /// Whether a person has a PIN on this device.
    pub(crate) async fn has_pin(&self, person: &PersonId) -> Result<bool, String> {
        let record = self.database()?.get_meta(&pin_key(person)).await.map_err(|error| error.to_string())?;
        Ok(record.is_some())
    }

    /// Whether a PIN is the person's; `None` when the person has none on this device.
    pub(super) async fn pin_is_right(&self, person: &PersonId, typed: &str) -> Result<Option<bool>, String> {
        let (database, key) = (self.database()?, pin_key(person));
        match database.get_meta(&key).await.map_err(|error| error.to_string())? {
            Some(record) => right(&database, &key, typed, &record).await.map(Some),
            None => Ok(None),
        }
    }

    /// Sets a person's PIN on this device: four to twelve digits. It guards private facts from then on.
    pub(crate) async fn set_pin(&self, person: &PersonId, pin: &str) -> Result<(), String> {
        check_pin(pin)?;
        let record = pin::make_record(pin).await.map_err(|error| error.to_string())?;
        let key = pin_key(person);
        let facts = [(key.as_str(), record.as_str()), (PIN_SET, "yes"), (&format!("wrong/{key}"), "")];
        self.database()?.put_meta(&facts).await.map_err(|error| error.to_string())?;
        self.now_guarded();
        Ok(())
    }

    /// Whether a recovery code for the owner's PIN was made on this device and is not used up.
    pub(crate) async fn has_recovery(&self) -> Result<bool, String> {
        let record = self.database()?.get_meta(RECOVERY).await.map_err(|error| error.to_string())?;
        Ok(record.is_some_and(|record| !record.is_empty()))
    }

    /// Makes a new recovery code for the owner's PIN, in place of an earlier one, and returns it to be written
    /// down: only a slow hash of it is kept.
    ///
    /// # Errors
    /// Returns a sentence when the present user is not the owner, unlocked, or it could not be saved.
    pub(crate) async fn make_recovery(&self) -> Result<String, String> {
        if !untrack(|| self.is_owner()) {
            return Err("Only the owner makes a recovery code: unlock as the owner first.".to_owned());
        }
        let number = u128::from_le_bytes(browser::random::bytes());
        let digits = format!("{:0width$}", number % 10_u128.pow(20), width = RECOVERY_DIGITS);
        let record = pin::make_record(&digits).await.map_err(|error| error.to_string())?;
        self.database()?.put_meta(&[(RECOVERY, &record)]).await.map_err(|error| error.to_string())?;
        Ok(grouped(&digits))
    }

    /// Sets a new PIN for the owner with the recovery code, which is used up by it.
    ///
    /// # Errors
    /// Returns a sentence when the code is wrong, none was made, or nothing could be saved.
    pub(crate) async fn recover(&self, owner: &PersonId, code: &str, new_pin: &str) -> Result<(), String> {
        check_pin(new_pin)?;
        let say = |error: StoreError| error.to_string();
        let is_owner = self.records_now().person(owner).is_some_and(|person| person.role == Role::Owner);
        let database = self.database()?;
        let record = database.get_meta(RECOVERY).await.map_err(say)?.filter(|record| !record.is_empty());
        let Some(record) = record.filter(|_| is_owner) else {
            return Err("No recovery code was made on this device, or it is used up.".to_owned());
        };
        let typed: String = code.chars().filter(char::is_ascii_digit).collect();
        if !right(&database, RECOVERY, &typed, &record).await? {
            return Err("This recovery code is not right.".to_owned());
        }
        let (key, new) = (pin_key(owner), pin::make_record(new_pin).await.map_err(|error| error.to_string())?);
        let facts = [(key.as_str(), new.as_str()), (RECOVERY, ""), (&format!("wrong/{key}"), "")];
        database.put_meta(&facts).await.map_err(say)
    }
}

/// Writes digits in groups of four.
fn grouped(digits: &str) -> String {
    let mut groups = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && place % 4 == 0 {
            groups.push(' ');
        }
        groups.push(digit);
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::{FREE_TRIES, LONGEST_WAIT, Tries, check_pin, grouped, wait_in_words};

    #[test]
    fn the_sixth_wrong_pin_has_to_wait_and_each_further_one_longer() {
        let mut tries = Tries::default();
        for _ in 0..FREE_TRIES {
            assert_eq!(tries.wait(1_000), 0);
            tries = tries.wrong_again(1_000);
        }
        assert_eq!(tries.wait(1_000), 30_000);
        assert_eq!(tries.wait(30_999), 1);
        assert_eq!(tries.wait(31_000), 0);
        assert_eq!(tries.wrong_again(31_000).wait(31_000), 60_000);
        let many = (0..200).fold(tries, |tries, _| tries.wrong_again(0));
        assert_eq!(many.wait(0), LONGEST_WAIT);
    }

    #[test]
    fn a_clock_set_back_makes_the_wait_no_longer_than_whole() {
        let tries = Tries { wrong: FREE_TRIES, last: 1_000_000 };
        assert_eq!(tries.wait(0), 30_000);
    }

    #[test]
    fn wrong_tries_come_back_from_the_disk_and_a_damaged_count_is_none() {
        let tries = Tries { wrong: 7, last: 1_774_746_000_000 };
        assert_eq!(Tries::read(Some(&tries.text())), tries);
        for odd in [None, Some(""), Some("x"), Some("1"), Some("-1 5")] {
            assert_eq!(Tries::read(odd), Tries::default());
        }
    }

    #[test]
    fn a_wait_is_said_in_seconds_then_in_minutes() {
        assert!(wait_in_words(1).contains("1 s"));
        assert!(wait_in_words(LONGEST_WAIT).contains("15 min"));
    }

    #[test]
    fn a_recovery_code_is_read_in_groups_of_four() {
        assert_eq!(grouped("01234567890123456789"), "0123 4567 8901 2345 6789");
        assert!(check_pin("123").is_err());
    }
}
