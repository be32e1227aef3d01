//! Whose word an entry is: keys speak within their scope and until their end, and nobody puts in entries unseen.

use ed25519_dalek::{Signer, SigningKey};
use practicum::competency::{Decision, SignOff};
use practicum::moment::Moment;
use practicum::person::{Person, Role};
use proptest::prelude::*;

use super::{academy, at};
use crate::draft::Draft;
use crate::entry::{Entry, Place, Signing};
use crate::fact::{Admission, ChainPlace, Fact, Scope};
use crate::log::Log;
use crate::signature::{PublicKey, Signature};
use crate::trust::{Trust, Word};

/// A device that signs its chain.
#[derive(Clone)]
pub(super) struct Device {
    name: &'static str,
    secret: SigningKey,
    sequence: u64,
    head: String,
    salt: u32,
}

pub(super) const ACADEMY: &str = "founding-0";

impl Device {
    pub(super) fn new(name: &'static str, seed: u8) -> Self {
        Self { name, secret: SigningKey::from_bytes(&[seed; 32]), sequence: 0, head: String::new(), salt: 0 }
    }

    pub(super) fn key(&self) -> PublicKey {
        PublicKey::of_bytes(self.secret.verifying_key().as_bytes()).unwrap()
    }

    pub(super) fn place(&self) -> ChainPlace {
        ChainPlace { sequence: self.sequence, head: self.head.clone() }
    }

    pub(super) fn write(&mut self, author: &str, fact: Fact) -> Entry {
        self.write_for(ACADEMY, author, fact)
    }

    pub(super) fn write_for(&mut self, of: &str, author: &str, fact: Fact) -> Entry {
        self.salt += 1;
        let id = format!("{}-{}-{}", self.name, self.sequence, self.salt);
        let id = if self.name == "founding" && self.sequence == 0 { ACADEMY.to_owned() } else { id };
        let place = Place {
            id: id.as_str().into(),
            device: self.name.into(),
            sequence: self.sequence + 1,
            previous: self.head.clone(),
            at: when(),
            salt: format!("{:032x}", self.salt),
        };
        let signing = Signing { academy: of.into(), key: self.key() };
        let unsigned = Entry::draw_up(&Draft::new(&author.into(), fact), place, signing).unwrap();
        let signature = self.secret.sign(&unsigned.bytes().unwrap());
        let entry = unsigned.sign(&Signature::of_bytes(&signature.to_bytes()).unwrap()).unwrap();
        (self.sequence, self.head) = (self.sequence + 1, entry.hash().to_owned());
        entry
    }
}

pub(super) fn when() -> Moment {
    at("2026-03-02T10:00:00+00:00")
}

pub(super) fn person(id: &str, role: Role) -> Fact {
    Fact::PersonEnrolled(Person {
        id: id.into(),
        name: id.to_owned(),
        role,
        group: String::new(),
        since: None,
        left: None,
        show_times_early: false,
    })
}

pub(super) fn sign_off(by: &str) -> Fact {
    Fact::SignedOff(SignOff {
        id: "".into(),
        trainee: "t".into(),
        competency: "c".into(),
        services: Vec::new(),
        stands_on: None,
        decision: Decision::Signed,
        level: 4,
        comment: String::new(),
        by: by.into(),
        at: when(),
    })
}

pub(super) fn note(text: &str) -> Fact {
    Fact::FollowUpNoted(crate::fact::FollowUp {
        about: crate::subject::Subject::Person("t".into()),
        text: text.to_owned(),
        due: None,
    })
}

/// An academy with its key, a trainee's phone and an instructor's tablet.
pub(super) struct World {
    pub(super) academy: Device,
    pub(super) phone: Device,
    pub(super) tablet: Device,
    pub(super) log: Log,
}

impl World {
    pub(super) fn new() -> Self {
        let [mut founding, phone, tablet] =
            [("founding", 1), ("phone", 2), ("tablet", 3)].map(|(n, s)| Device::new(n, s));
        let admission = |device: &Device, person: &str, scope| Admission {
            key: device.key(),
            device: device.name.into(),
            person: Some(person.into()),
            scope,
            label: device.name.to_owned(),
        };
        let entries = [
            founding.write("owner", Fact::AcademyFounded(academy("A", false))),
            founding.write("owner", Fact::KeyAdmitted(admission(&phone, "t", Scope::Records))),
            founding.write("owner", Fact::KeyAdmitted(admission(&tablet, "i", Scope::Assessing))),
        ];
        let mut world = Self { academy: founding, phone, tablet, log: Log::default() };
        entries.iter().for_each(|entry| world.take(entry));
        let people = [("t", Role::Trainee), ("i", Role::Instructor)].map(|(id, role)| person(id, role));
        for fact in people {
            let entry = world.tablet.write("i", fact);
            world.take(&entry);
        }
        world
    }

    pub(super) fn take(&mut self, entry: &Entry) {
        self.log.insert_line(entry.line()).unwrap();
    }

    pub(super) fn word(&self, entry: &Entry) -> Word {
        self.word_pinned(entry, None)
    }

    fn word_pinned(&self, entry: &Entry, pinned: Option<PublicKey>) -> Word {
        Trust::of(&self.log, pinned).of_entry(entry, &self.log)
    }
}

#[test]
fn what_admitted_keys_sign_within_their_scope_holds() {
    let mut world = World::new();
    let words: Vec<Word> = world.log.entries().map(|entry| world.word(entry)).collect();
    assert_eq!(words, [Word::Holds; 5]);
    for entry in [world.phone.write("t", note("mine")), world.tablet.write("i", sign_off("i"))] {
        world.take(&entry);
        assert_eq!(world.word(&entry), Word::Holds);
    }
}

#[test]
fn a_trainees_key_signs_nothing_off() {
    let mut world = World::new();
    for (author, wanted) in [("t", Word::BeyondScope), ("i", Word::OtherPerson)] {
        let forged = world.phone.write(author, sign_off(author));
        world.take(&forged);
        assert_eq!(world.word(&forged), wanted);
    }
    let forged = world.phone.write(
        "t",
        Fact::KeyAdmitted(Admission {
            key: world.phone.key(),
            device: "phone".into(),
            person: Some("t".into()),
            scope: Scope::Owning,
            label: "more".to_owned(),
        }),
    );
    world.take(&forged);
    assert_eq!(world.word(&forged), Word::BeyondScope);
    let still = world.phone.write("t", sign_off("t"));
    world.take(&still);
    assert_eq!(world.word(&still), Word::BeyondScope, "nobody admits themself");
}

#[test]
fn a_strangers_key_another_device_and_another_academy_are_told() {
    let mut world = World::new();
    let mut stranger = Device::new("stranger", 9);
    let mut thief = Device { name: "thief", ..world.tablet.clone() };
    let entries = [
        (stranger.write("i", sign_off("i")), Word::KeyNotAdmitted),
        (thief.write("i", sign_off("i")), Word::OtherDevice),
        (world.tablet.write_for("other-academy", "i", sign_off("i")), Word::AnotherAcademy),
        (world.academy.write("owner", sign_off("owner")), Word::BeyondScope),
    ];
    for (entry, wanted) in entries {
        world.take(&entry);
        assert_eq!(world.word(&entry), wanted);
    }
}

#[test]
fn an_ended_key_ends_at_a_place_and_not_at_a_date() {
    let mut world = World::new();
    let before = world.tablet.write("i", sign_off("i"));
    let end = Fact::KeyEnded { key: world.tablet.key(), last: world.tablet.place(), why: "left".to_owned() };
    let mut elsewhere = world.tablet.clone();
    let after = world.tablet.write("i", sign_off("i"));
    let end = world.academy.write("owner", end);
    for entry in [&before, &after, &end] {
        world.take(entry);
    }
    assert_eq!(world.word(&before), Word::NotWitnessed, "no receipt saw it before the end");
    assert_eq!(world.word(&after), Word::AfterTheEnd);
    // A second chain that leaves the first before its end, with the same numbers.
    elsewhere.sequence -= 1;
    elsewhere.head = world.log.by_hash(before.hash()).unwrap().header().previous.clone();
    let forked = elsewhere.write("i", sign_off("i"));
    world.take(&forked);
    assert_eq!(world.word(&forked), Word::AfterTheEnd);
}

#[test]
fn what_a_receipt_saw_counts_as_witnessed_and_nothing_slips_in_before_it() {
    let mut world = World::new();
    let (mut before, first) = (world.phone.clone(), world.phone.write("t", note("first")));
    let second = world.phone.write("t", note("second"));
    let receipt = Fact::LogSeen { device: "phone".into(), seen: world.phone.place() };
    let receipt = world.tablet.write("i", receipt);
    for entry in [&first, &second, &receipt] {
        world.take(entry);
    }
    assert_eq!([&first, &second].map(|entry| world.word(entry)), [Word::Holds; 2]);
    // Written later, with an earlier number and an earlier date.
    let backdated = before.write("t", note("put in"));
    world.take(&backdated);
    assert_eq!(world.word(&backdated), Word::NotThereThen);
    assert_eq!([&first, &second].map(|entry| world.word(entry)), [Word::Holds; 2], "both versions stay");
    let third = world.phone.write("t", note("third"));
    world.take(&third);
    assert_eq!(world.word(&third), Word::Holds, "after the place, nothing was said yet");
    let end = Fact::KeyEnded { key: world.phone.key(), last: world.phone.place(), why: "lost".to_owned() };
    let end = world.academy.write("owner", end);
    world.take(&end);
    assert_eq!([&first, &third].map(|entry| world.word(entry)), [Word::Holds, Word::NotWitnessed]);
}

#[test]
fn a_receipt_of_somebody_who_may_not_assess_vouches_for_nothing() {
    let mut world = World::new();
    let mut before = world.tablet.clone();
    let receipt = Fact::LogSeen { device: "tablet".into(), seen: world.tablet.place() };
    let receipt = world.phone.write("t", receipt);
    world.take(&receipt);
    assert_eq!(world.word(&receipt), Word::BeyondScope);
    (before.sequence, before.head) = (0, String::new());
    let other = before.write("i", note("another first entry"));
    world.take(&other);
    assert_eq!(world.word(&other), Word::Holds, "a fork, which the log shows, and nobody witnessed");
}

#[test]
fn two_receipts_of_two_logs_of_one_device_disagree() {
    let mut world = World::new();
    let mut fork = world.phone.clone();
    let (one, other) = (world.phone.write("t", note("one")), fork.write("t", note("other")));
    let more = fork.write("t", note("more"));
    for entry in [&one, &other, &more] {
        world.take(entry);
    }
    for seen in [world.phone.place(), fork.place()] {
        let receipt = world.tablet.write("i", Fact::LogSeen { device: "phone".into(), seen });
        world.take(&receipt);
    }
    let trust = Trust::of(&world.log, None);
    let agrees: Vec<bool> = trust.seen(&"phone".into()).iter().map(|seen| seen.agrees).collect();
    assert_eq!(agrees, [true, false]);
    for entry in [&one, &other, &more] {
        assert_eq!(trust.of_entry(entry, &world.log), Word::Holds, "an assessor saw each of them");
    }
}

#[test]
fn the_first_form_is_adopted_by_the_key_that_is_made_later() {
    let drafts = [Draft::academy_founded(academy("A", false)), Draft::new(&"owner".into(), note("before"))];
    let drafts = drafts.map(|draft| (draft, when()));
    let old = super::written(&drafts, 1);
    let mut log = Log::default();
    old.iter().for_each(|entry| assert!(log.insert_line(entry.line()).is_some()));
    let word = |log: &Log, entry: &Entry| Trust::of(log, None).of_entry(entry, log);
    assert_eq!(word(&log, &old[1]), Word::NotSigned);
    let mut key = Device::new("key", 5);
    let adopts = old.iter().map(|entry| entry.hash().to_owned()).collect();
    let founding = old[0].header().id.clone();
    let made = key.write_for(founding.as_str(), "owner", Fact::AcademyKeyMade { adopts });
    log.insert_line(made.line()).unwrap();
    assert_eq!([&old[0], &old[1], &made].map(|entry| word(&log, entry)), [Word::Adopted, Word::Adopted, Word::Holds]);
    let drafts = [(Draft::new(&"owner".into(), note("later, unsigned")), when())];
    let mut later = super::written(&drafts, 1).remove(0).line().replace("\"device\":\"d0\"", "\"device\":\"d1\"");
    later = later.replace("\"id\":\"e0\"", "\"id\":\"later\"");
    log.insert_line(&later).unwrap();
    let later = log.entry(&"later".into()).unwrap().clone();
    assert_eq!(word(&log, &later), Word::NotSigned);
}

#[test]
fn a_pinned_key_is_believed_before_one_that_the_log_tells_of() {
    let mut world = World::new();
    let mut usurper = Device::new("usurper", 8);
    let made = usurper.write("owner", Fact::AcademyKeyMade { adopts: Vec::new() });
    world.take(&made);
    let trust = Trust::of(&world.log, Some(world.academy.key()));
    assert_eq!(trust.key(), Some(&world.academy.key()));
    assert_eq!(trust.other_keys().collect::<Vec<_>>(), [&usurper.key()]);
    assert_eq!(world.word_pinned(&made, Some(world.academy.key())), Word::KeyNotAdmitted);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn trust_does_not_depend_on_the_order_in_which_entries_come(order in any::<u64>(), twice in any::<bool>()) {
        let mut world = World::new();
        let mut entries: Vec<Entry> = world.log.entries().map(|entry| entry.as_ref().clone()).collect();
        entries.push(world.phone.write("t", note("a")));
        entries.push(world.tablet.write("i", Fact::LogSeen { device: "phone".into(), seen: world.phone.place() }));
        entries.push(world.tablet.write("i", sign_off("i")));
        let end = Fact::KeyEnded { key: world.tablet.key(), last: world.tablet.place(), why: "left".to_owned() };
        entries.push(world.academy.write("owner", end));
        entries.push(world.tablet.write("i", sign_off("i")));
        let words = |log: &Log| {
            let trust = Trust::of(log, None);
            log.entries().map(|entry| (entry.hash().to_owned(), trust.of_entry(entry, log))).collect::<Vec<_>>()
        };
        let mut straight = Log::default();
        entries.iter().for_each(|entry| { straight.insert_line(entry.line()); });
        let mut draw = order | 1;
        for place in (1..entries.len()).rev() {
            draw = draw.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            entries.swap(place, (draw >> 33) as usize % (place + 1));
        }
        let mut mixed = Log::default();
        for _ in 0..=usize::from(twice) {
            entries.iter().for_each(|entry| { mixed.insert_line(entry.line()); });
        }
        prop_assert_eq!(words(&mixed), words(&straight));
        prop_assert_eq!(mixed.header_set_hash(), straight.header_set_hash());
    }
}
