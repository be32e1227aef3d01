//! Logs as a whole: what any log must keep.

mod backups;
mod beside;
mod checkup;
mod corrections;
mod erasing;
mod evidence;
mod forgery;
mod hand_over;
mod keyed;
mod later;
mod merging;
mod pausing;
mod rights;
mod said;
mod saving;
mod signed;
mod trust;
mod verify;
mod who_gets_what;

use practicum::ids::DeviceId;
use practicum::moment::{Moment, parse_moment};
use practicum::person::{Person, Role};

use crate::draft::Draft;
use crate::entry::{Checked, Entry, Place, Unverified};
use crate::fact::Academy;
use crate::log::Log;
use crate::logbook::Logbook;
use crate::store::{MemoryStore, Store};

/// Gives 32 new hex digits at every call.
pub(crate) fn fresh(start: u128) -> impl FnMut() -> String {
    let mut number = start << 64;
    move || {
        number += 1;
        format!("{number:032x}")
    }
}

pub(crate) fn at(text: &str) -> Moment {
    parse_moment(text).unwrap()
}

pub(crate) fn academy(name: &str, demo: bool) -> Academy {
    Academy {
        name: name.to_owned(),
        region: "gb".into(),
        emergency_number: "999".to_owned(),
        minimum_age: 18,
        time_zone: "Europe/London".to_owned(),
        owner: "owner".into(),
        tint_legal_ground: None,
        demo,
    }
}

/// Writes entries named e0, e1, … in turns on as many devices as given.
pub(crate) fn written(drafts: &[(Draft, Moment)], devices: usize) -> Vec<Entry> {
    let mut chains = vec![(0_u64, String::new()); devices];
    let mut entries = Vec::new();
    for (number, (draft, at)) in drafts.iter().enumerate() {
        let device = number % devices;
        let (sequence, previous) = &mut chains[device];
        *sequence += 1;
        let place = Place {
            id: format!("e{number}").as_str().into(),
            device: DeviceId::new(format!("d{device}")),
            sequence: *sequence,
            previous: previous.clone(),
            at: *at,
            salt: format!("{number:032x}"),
        };
        let entry = Entry::write(draft, place).unwrap();
        *previous = entry.hash().to_owned();
        entries.push(entry);
    }
    entries
}

pub(crate) fn log_of<'e>(entries: impl IntoIterator<Item = &'e Entry>) -> Log {
    let mut log = Log::default();
    for entry in entries {
        log.insert(Checked::Sound(entry.clone()));
    }
    log
}

pub(crate) fn person(id: &str, role: Role) -> Person {
    let name = format!("{id} by name");
    Person { id: id.into(), name, role, group: String::new(), since: None, left: None, show_times_early: false }
}

/// An academy with its owner, instructors `i` and `i2`, trainees `t` and `t2`.
pub(crate) fn staff() -> Vec<Draft> {
    let owner = "owner".into();
    let mut drafts = vec![Draft::academy_founded(academy("Academy", false))];
    let people = [("owner", Role::Owner), ("i", Role::Instructor), ("i2", Role::Instructor)];
    let people = people.into_iter().chain([("t", Role::Trainee), ("t2", Role::Trainee)]);
    drafts.extend(people.map(|(id, role)| Draft::person_enrolled(&owner, person(id, role))));
    drafts
}

/// As [`logbook`], after an academy was founded and its people were enrolled.
pub(crate) fn staffed(drafts: &[Draft]) -> (Logbook, MemoryStore) {
    logbook(&[staff().as_slice(), drafts].concat())
}

/// Records drafts one after another on one device, a minute apart.
pub(crate) fn logbook(drafts: &[Draft]) -> (Logbook, MemoryStore) {
    let (mut logbook, mut store) = (Logbook::new("d".into()), MemoryStore::new(1, 0));
    let (mut names, mut now) = (fresh(1), at("2026-03-02T10:00:00+00:00"));
    for draft in drafts {
        logbook.record(&mut store, std::slice::from_ref(draft), now, &mut names).unwrap();
        now += chrono::TimeDelta::minutes(1);
    }
    (logbook, store)
}

pub(crate) fn reopened(store: &mut MemoryStore) -> Logbook {
    let stored = store.load().unwrap();
    Logbook::open("d".into(), &stored.lines, &stored.head)
}

pub(crate) fn read(line: &str) -> Checked {
    Unverified::read(line).unwrap().check()
}
