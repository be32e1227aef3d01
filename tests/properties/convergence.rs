//! Devices that exchange their logs by file come out the same, whatever is lost, doubled, mixed or forked on the way.
//!
//! `HISTORIES=1000000 cargo test --profile study -p system-tests --test properties convergence -- --nocapture` runs as many as asked;
//! each is drawn from its own seed, which a failure names, and `SEED=n` begins there.

use std::collections::BTreeSet;

use logbook::fact::{Academy, Fact, FollowUp};
use logbook::log::Log;
use logbook::store::{MemoryStore, Store};
use logbook::subject::Subject;
use logbook::{Draft, Logbook, Records};
use practicum::ids::{DeviceId, PersonId};
use practicum::moment::{Moment, parse_moment};
use practicum::person::{Person, Role};
use practicum::practice_model::ConsentKind;
use practicum::section::Plan;
use practicum::standing::PlanDecision;

use crate::draw::{Draw, number};

struct Device {
    logbook: Logbook,
    store: MemoryStore,
    names: u64,
    clock: i64,
}

impl Device {
    fn new(name: usize) -> Self {
        let logbook = Logbook::new(DeviceId::new(format!("device-{name}")));
        Self { logbook, store: MemoryStore::new(1, 0), names: 1 + ((name as u64) << 32), clock: name as i64 * 37 }
    }

    fn record(&mut self, draft: Draft) {
        // Clocks of devices disagree, and one goes backwards at times.
        self.clock += if self.names.is_multiple_of(7) { -90 } else { 60 };
        let at = start() + chrono::Duration::seconds(self.clock);
        let names = &mut self.names;
        let mut fresh = || {
            *names += 1;
            format!("{names:032x}")
        };
        // A draft whose author has no right to it is refused: that is no matter here.
        let _ = self.logbook.record(&mut self.store, &[draft], at, &mut fresh);
    }

    fn lines(&self) -> Vec<String> {
        self.logbook.log().lines().map(str::to_owned).collect()
    }

    fn take(&mut self, lines: &[String]) {
        let head = self.logbook.head();
        self.logbook.catch_up(&[lines.join("\n")], &head);
        let stored = self.store.load().unwrap();
        let known: BTreeSet<&str> = stored.lines.iter().map(String::as_str).collect();
        let new: Vec<String> = self.lines().into_iter().filter(|line| !known.contains(line.as_str())).collect();
        self.store.append(&stored.head, &head, &new).unwrap();
    }
}

fn start() -> Moment {
    parse_moment("2026-03-02T09:00:00+00:00").unwrap()
}

fn person(name: &str, role: Role) -> Person {
    let (id, since, left) = (PersonId::new(name.to_owned()), None, None);
    Person { id, name: name.to_owned(), role, group: "spring".to_owned(), since, left, show_times_early: false }
}

const PEOPLE: [&str; 5] = ["owner", "inga", "ivo", "tea", "tom"];

fn draft(draw: &mut Draw, of: &Logbook) -> Draft {
    let author: PersonId = PEOPLE[draw.below(PEOPLE.len())].into();
    let about: PersonId = PEOPLE[draw.below(PEOPLE.len())].into();
    let text = ["seen", "Zoë 🌸", "=1+1", "<b>"][draw.below(4)].to_owned();
    match draw.below(9) {
        0 => Draft::person_enrolled(&author, person(["tea", "tom", "uma", "vic"][draw.below(4)], Role::Trainee)),
        1 => Draft::person_left(&author, about, start().date_naive()),
        2 => Draft::times_shown(&author, about, draw.chance(50)),
        3 => Draft::contact_noted(&author, Subject::Person(about), text.clone(), text),
        4 => Draft::device_admitted(&author, DeviceId::new(format!("device-{}", draw.below(8))), text),
        5 => Draft::plan_decided(PlanDecision {
            id: "".into(),
            trainee: about,
            plan: Plan::ALL[draw.below(4)],
            at: start(),
            by: author,
            why: text,
        }),
        6 => Draft::consent_given(&author, "m1".into(), ConsentKind::Service, text, start()),
        7 => {
            let entries: Vec<_> = of.log().entries().collect();
            let entry = entries[draw.below(entries.len())];
            match entry.fact().map(|fact| fact.as_ref().clone()) {
                Some(Fact::Corrected { of, fact, .. }) => Draft::correction(&author, of, text, *fact),
                Some(fact) => Draft::correction(&author, entry.header().id.clone(), text, changed(fact)),
                None => Draft::follow_up(&author, Subject::Academy, text, None),
            }
        }
        _ => Draft::follow_up(&author, Subject::Person(about), text, None),
    }
}

fn changed(fact: Fact) -> Fact {
    match fact {
        Fact::FollowUpNoted(note) => Fact::FollowUpNoted(FollowUp { text: format!("{} again", note.text), ..note }),
        Fact::PersonEnrolled(person) => Fact::PersonEnrolled(Person { group: "autumn".to_owned(), ..person }),
        other => other,
    }
}

/// What a file loses on its way: lines dropped, doubled, mixed, and the end of one cut off.
fn on_the_way(draw: &mut Draw, lines: Vec<String>) -> Vec<String> {
    let mut sent = Vec::new();
    for line in lines {
        let times = if draw.chance(15) { 0 } else { 1 + usize::from(draw.chance(15)) };
        sent.extend(std::iter::repeat_n(line, times));
    }
    let mut sent = draw.mixed(sent);
    if draw.chance(10)
        && let Some(last) = sent.last_mut()
    {
        let cut = (0..=draw.below(last.len())).rev().find(|cut| last.is_char_boundary(*cut)).unwrap_or(0);
        last.truncate(cut);
    }
    sent
}

fn history(seed: u64) {
    let mut draw = Draw(seed);
    let devices = 2 + draw.below(7);
    let mut all: Vec<Device> = (0..devices).map(Device::new).collect();
    let academy = Academy {
        name: "A".to_owned(),
        region: "gb".into(),
        emergency_number: "999".to_owned(),
        minimum_age: 18,
        time_zone: "Europe/London".to_owned(),
        owner: "owner".into(),
        tint_legal_ground: None,
        demo: false,
    };
    all[0].record(Draft::academy_founded(academy));
    for (name, role) in [("owner", Role::Owner), ("inga", Role::Instructor), ("tea", Role::Trainee)] {
        all[0].record(Draft::person_enrolled(&"owner".into(), person(name, role)));
    }
    let founding = all[0].lines();
    assert_eq!(founding.len(), 4, "seed {seed}");
    all[1..].iter_mut().for_each(|device| device.take(&founding));
    let mut forked = false;
    for _ in 0..6 + draw.below(24) {
        let at = draw.below(devices);
        match draw.below(10) {
            0..6 => {
                let draft = draft(&mut draw, &all[at].logbook);
                all[at].record(draft);
            }
            6..9 => {
                let lines = on_the_way(&mut draw, all[at].lines());
                let to = draw.below(devices);
                all[to].take(&lines);
            }
            // A device is restored from an old copy and goes on from there: two chains under one name.
            _ if draw.chance(20) => {
                forked = true;
                let stored = all[at].store.load().unwrap();
                let kept = draw.below(stored.lines.len() + 1);
                let mut copy = Device::new(at);
                copy.names = all[at].names + (1 << 20);
                let lines = &stored.lines[..kept];
                copy.logbook = Logbook::open(DeviceId::new(format!("device-{at}")), lines, "");
                let head = copy.logbook.head();
                copy.store.append("", &head, lines).unwrap();
                copy.logbook = Logbook::open(DeviceId::new(format!("device-{at}")), lines, &head);
                let draft = Draft::follow_up(&"owner".into(), Subject::Academy, "from a copy".to_owned(), None);
                copy.record(draft);
                let lines = copy.lines();
                all[at].take(&lines);
            }
            _ => {}
        }
    }
    // Everybody hands everything to everybody, in any order and more than once.
    let mut everything: Vec<String> = all.iter().flat_map(Device::lines).collect();
    everything.extend(all.iter().flat_map(|device| device.logbook.log().unreadable().iter().cloned()));
    for device in &mut all {
        let lines = draw.mixed(everything.clone());
        device.take(&lines);
    }
    let first = &all[0].logbook;
    for device in &all {
        let here = &device.logbook;
        assert_eq!(here.log().header_set_hash(), first.log().header_set_hash(), "seed {seed}: headers");
        assert!(here.records() == first.records(), "seed {seed}: records");
        assert_eq!(here.log().problems(), first.log().problems(), "seed {seed}: problems");
        assert!(here.log().lines().eq(first.log().lines()), "seed {seed}: lines");
        // Opened again from what its store holds, it is the same.
        let stored = device.store.clone().load().unwrap();
        let opened = Logbook::open(here.device().clone(), &stored.lines, &stored.head);
        assert_eq!(opened.log().header_set_hash(), first.log().header_set_hash(), "seed {seed}: opened again");
        assert!(opened.records() == first.records(), "seed {seed}: records opened again");
    }
    if !forked {
        let cut = first.log().unreadable().len();
        let other = first
            .log()
            .problems()
            .into_iter()
            .filter(|problem| !matches!(problem, logbook::log::Problem::Unreadable(lines) if *lines == cut));
        assert_eq!(other.collect::<Vec<_>>(), [], "seed {seed}: nothing was forked, altered or left behind");
    }
    // Merging is the union of sets: commutative, associative, idempotent.
    let halves = [0, 1].map(|half| log_of(everything.iter().skip(half).step_by(2)));
    let [mut one, mut other] = halves.clone();
    one.merge(&halves[1]);
    other.merge(&halves[0]);
    one.merge(&halves[0]);
    assert_eq!(one.header_set_hash(), other.header_set_hash(), "seed {seed}: merged");
    assert!(Records::of(&one) == Records::of(&other), "seed {seed}: records merged");
    assert_eq!(one.header_set_hash(), first.log().header_set_hash(), "seed {seed}: merged and exchanged");
}

fn log_of<'a>(lines: impl Iterator<Item = &'a String>) -> Log {
    let mut log = Log::default();
    lines.for_each(|line| {
        log.insert_line(line);
    });
    log
}

#[test]
fn all_devices_converge() {
    let first = number("SEED").unwrap_or(1);
    let histories = number("HISTORIES").unwrap_or(60);
    let began = std::time::Instant::now();
    for seed in first..first + histories {
        history(seed);
    }
    println!("{histories} histories in {:.1} s", began.elapsed().as_secs_f64());
}
