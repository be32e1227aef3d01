//! A logbook whose academy has a key: who signs what, and what counts.

use ed25519_dalek::{Signer, SigningKey};
use practicum::couch::Override;
use practicum::outcome::Outcome;
use practicum::person::Role;
use practicum::service::{Origin, WrittenTimes};

use super::corrections::service;
use super::{academy, at, fresh, person};
use crate::challenge;
use crate::draft::Draft;
use crate::fact::{Admission, ChainPlace, Fact, OverrideAnswer, Scope};
use crate::hand_over::{self, Choice, TakeIn};
use crate::logbook::{Logbook, NotRecorded, Signers};
use crate::signature::{PublicKey, Signature};
use crate::store::{MemoryStore, Store};
use crate::trust::Word;

/// A device with its own key, the keys of people on it, and a clock.
struct Device {
    logbook: Logbook,
    store: MemoryStore,
    secrets: Vec<SigningKey>,
    names: u128,
    minutes: i64,
}

fn public(secret: &SigningKey) -> PublicKey {
    PublicKey::of_bytes(secret.verifying_key().as_bytes()).unwrap()
}

const ACADEMY: usize = 0;
const DEVICE: usize = 1;
const PERSON: usize = 2;

impl Device {
    fn new(name: &'static str, seed: u8) -> Self {
        let secrets = [seed, seed + 1, seed + 2].map(|seed| SigningKey::from_bytes(&[seed; 32])).to_vec();
        let logbook = Logbook::new(name.into());
        Self {
            logbook,
            store: MemoryStore::new(1, 0),
            secrets,
            names: u128::from(seed) << 20,
            minutes: i64::from(seed),
        }
    }

    fn key(&self, which: usize) -> PublicKey {
        public(&self.secrets[which])
    }

    fn signers(&self, academy: bool, person: Option<&str>) -> Signers {
        Signers {
            academy: academy.then(|| self.key(ACADEMY)),
            device: Some(self.key(DEVICE)),
            person: person.map(|person| (person.into(), self.key(PERSON))),
        }
    }

    fn record(&mut self, drafts: &[Draft], signers: &Signers) -> Result<(), NotRecorded> {
        self.names += 1;
        self.minutes += 1;
        let mut names = fresh(self.names);
        let now = at("2026-03-02T10:00:00+00:00") + chrono::TimeDelta::minutes(self.minutes);
        let drawn = self.logbook.draw_up(drafts, now, &mut names, signers)?;
        let sign = |(key, bytes): &(PublicKey, Vec<u8>)| {
            let secret = self.secrets.iter().find(|secret| public(secret) == *key).unwrap();
            Signature::of_bytes(&secret.sign(bytes).to_bytes()).unwrap()
        };
        let signatures: Vec<Signature> = drawn.to_sign().unwrap().iter().map(sign).collect();
        let prepared = drawn.signed(&signatures)?;
        self.store.append(&prepared.expected_head, &prepared.new_head, &prepared.lines)?;
        self.logbook.commit(prepared);
        let opened =
            Logbook::open(self.logbook.device().clone(), &self.store.stored().lines, &self.store.stored().head);
        assert_eq!(opened.records(), self.logbook.records(), "told one by one as worked out at once");
        Ok(())
    }

    fn take(&mut self, other: &Device) {
        let lines: Vec<String> = other.logbook.log().lines().map(str::to_owned).collect();
        let head = self.logbook.head();
        self.logbook.catch_up(&[lines.join("\n")], &head);
        let stored = self.store.stored().lines.clone();
        let new: Vec<String> = self
            .logbook
            .log()
            .lines()
            .filter(|line| !stored.iter().any(|known| known == line))
            .map(str::to_owned)
            .collect();
        self.store.append(&head, &head, &new).unwrap();
    }

    fn admission(&self, which: usize, person: Option<&str>, scope: Scope) -> Admission {
        let device = self.logbook.device().clone();
        Admission { key: self.key(which), device, person: person.map(Into::into), scope, label: "a device".to_owned() }
    }

    fn words(&self) -> Vec<Word> {
        self.logbook.log().entries().map(|entry| self.logbook.records().word(&entry.header().id)).collect()
    }
}

fn owner(fact: Fact) -> Draft {
    Draft::new(&"owner".into(), fact)
}

/// An owner's laptop with a founded academy of an instructor and a trainee, and a trainee's phone that knows it.
fn world() -> (Device, Device) {
    let mut laptop = Device::new("laptop", 10);
    let drafts = [
        Draft::academy_founded(academy("A", false)),
        owner(Fact::KeyAdmitted(laptop.admission(DEVICE, None, Scope::Records))),
        owner(Fact::KeyAdmitted(laptop.admission(PERSON, Some("owner"), Scope::Owning))),
        Draft::person_enrolled(&"owner".into(), person("i", Role::Instructor)),
        Draft::person_enrolled(&"owner".into(), person("t", Role::Trainee)),
    ];
    let signers = laptop.signers(true, Some("owner"));
    laptop.record(&drafts, &signers).unwrap();
    let mut phone = Device::new("phone", 20);
    phone.take(&laptop);
    (laptop, phone)
}

fn outcome(marker: &str, observed: bool) -> Outcome {
    Outcome {
        service: "s".into(),
        marker: marker.into(),
        marks: std::collections::BTreeMap::new(),
        faults: Vec::new(),
        comment: String::new(),
        independence_next: None,
        observed,
        at: at("2026-03-02T12:00:00+00:00"),
    }
}

fn worked(overrides: Vec<Override>) -> Draft {
    let times = WrittenTimes { service: None, hands_on: None, stages: Vec::new(), dwells: Vec::new() };
    Draft::service_logged(&"t".into(), practicum::service::Service { overrides, ..service("s", Origin::Late(times)) })
}

#[test]
fn the_academy_key_founds_and_admits_and_everything_after_is_signed() {
    let (laptop, mut phone) = world();
    assert!(laptop.words().iter().all(|word| *word == Word::Holds), "{:?}", laptop.words());
    assert_eq!(laptop.logbook.trust().key(), Some(&laptop.key(ACADEMY)));
    let signers = phone.signers(false, None);
    let asked = Draft::new(&"t".into(), Fact::KeyAsked(phone.admission(DEVICE, None, Scope::Records)));
    // A trainee's service and own view, saved together, before the owner has admitted the phone.
    phone.record(&[asked, worked(Vec::new()), Draft::outcome_marked(outcome("t", false))], &signers).unwrap();
    assert_eq!(phone.words()[5..], [Word::KeyNotAdmitted; 3]);
    assert_eq!(phone.logbook.records().services().len(), 1, "it is shown, and said to be not admitted");
    assert_eq!(phone.logbook.records().outcomes_of(&"s".into()).len(), 1);
    let mut laptop = laptop;
    laptop.take(&phone);
    let admit = owner(Fact::KeyAdmitted(phone.admission(DEVICE, None, Scope::Records)));
    let signers = laptop.signers(true, Some("owner"));
    laptop.record(std::slice::from_ref(&admit), &signers).unwrap();
    assert!(laptop.words().iter().all(|word| *word == Word::Holds), "{:?}", laptop.words());
    let twice = laptop.record(&[admit], &signers).unwrap_err();
    assert!(twice.to_string().contains("admitted already"));
}

#[test]
fn a_trainees_device_makes_no_mark_that_counts() {
    let (mut laptop, mut phone) = world();
    let device_only = phone.signers(false, None);
    phone.record(&[worked(Vec::new())], &device_only).unwrap();
    let mark = Draft::outcome_marked(outcome("i", true));
    let refused = phone.record(std::slice::from_ref(&mark), &device_only).unwrap_err();
    assert!(refused.to_string().contains("unlock at the top"), "{refused}");
    // An app that was tampered with signs it all the same, with a key that was admitted for a trainee's acts.
    let forged = phone.signers(false, Some("i"));
    phone.record(&[mark], &forged).unwrap();
    let admit = |which, person, scope| owner(Fact::KeyAdmitted(phone.admission(which, person, scope)));
    let admits = [admit(DEVICE, None, Scope::Records), admit(PERSON, None, Scope::Records)];
    let signers = laptop.signers(true, Some("owner"));
    laptop.record(&admits, &signers).unwrap();
    laptop.take(&phone);
    assert_eq!(laptop.words().iter().filter(|word| **word == Word::BeyondScope).count(), 1);
    assert!(laptop.logbook.records().outcomes_of(&"s".into()).is_empty());
    assert!(laptop.logbook.records().not_shown().iter().any(|entry| entry.why.contains("may not sign this")));
}

#[test]
fn a_correction_that_does_not_count_fetches_nothing() {
    let (mut laptop, mut phone) = world();
    let signers = laptop.signers(false, Some("owner"));
    let times = WrittenTimes { service: None, hands_on: None, stages: Vec::new(), dwells: Vec::new() };
    let other = practicum::service::Service { trainee: "t2".into(), ..service("s", Origin::Late(times)) };
    let drafts = [
        Draft::person_enrolled(&"owner".into(), person("t2", Role::Trainee)),
        owner(Fact::ServiceLogged(other.clone())),
    ];
    laptop.record(&drafts, &signers).unwrap();
    phone.take(&laptop);
    let first = phone.logbook.log().entries().next_back().unwrap().header().id.clone();
    // An app that was tampered with writes down, in the instructor's name, that the service is the trainee's own.
    let fact = Box::new(Fact::ServiceLogged(practicum::service::Service { trainee: "t".into(), ..other }));
    let moved = Draft::new(&"i".into(), Fact::Corrected { of: first, reason: "mine".to_owned(), fact });
    let forged = phone.signers(false, Some("i"));
    phone.record(&[moved], &forged).unwrap();
    laptop.take(&phone);
    let bodies = hand_over::Bodies::of(&"t".into());
    let now = at("2026-04-01T12:00:00+01:00");
    let choice = Choice { bodies, ..Choice::everything() };
    let bytes = hand_over::giving::write(&laptop.logbook, &choice, &now).unwrap();
    let file = hand_over::read(&bytes, None).unwrap();
    let goes =
        file.log().entries().any(|entry| matches!(entry.fact().map(AsRef::as_ref), Some(Fact::ServiceLogged(_))));
    assert!(!goes, "a made-up correction has fetched somebody else's service");
}

#[test]
fn what_nobody_signed_before_the_key_is_adopted_by_hash() {
    let mut laptop = Device::new("laptop", 30);
    let unkeyed = laptop.signers(false, Some("owner"));
    laptop
        .record(
            &[
                Draft::academy_founded(academy("A", false)),
                Draft::person_enrolled(&"owner".into(), person("i", Role::Instructor)),
            ],
            &unkeyed,
        )
        .unwrap();
    assert_eq!(laptop.words(), [Word::NotSigned; 2]);
    let adopts = laptop.logbook.log().entries().map(|entry| entry.hash().to_owned()).collect();
    let made = [
        owner(Fact::AcademyKeyMade { adopts }),
        owner(Fact::KeyAdmitted(laptop.admission(PERSON, Some("owner"), Scope::Owning))),
    ];
    let refused = laptop.record(&made, &unkeyed).unwrap_err();
    assert!(refused.to_string().contains("academy’s key"));
    let signers = laptop.signers(true, Some("owner"));
    laptop.record(&made, &signers).unwrap();
    assert_eq!(laptop.words(), [Word::Adopted, Word::Adopted, Word::Holds, Word::Holds]);
    assert!(laptop.logbook.records().academy().is_some());
    // Another key never takes its place.
    let other = Signers { academy: Some(laptop.key(DEVICE)), ..signers };
    let refused = laptop.record(&[owner(Fact::AcademyKeyMade { adopts: Vec::new() })], &other).unwrap_err();
    assert!(refused.to_string().contains("another academy’s key"));
}

#[test]
fn an_override_is_confirmed_by_the_instructors_own_device_and_by_nothing_else() {
    let (mut laptop, mut phone) = world();
    let mut tablet = Device::new("tablet", 40);
    tablet.take(&laptop);
    let signers = laptop.signers(true, Some("owner"));
    let admits = [
        owner(Fact::KeyAdmitted(phone.admission(DEVICE, None, Scope::Records))),
        owner(Fact::KeyAdmitted(tablet.admission(PERSON, Some("i"), Scope::Assessing))),
    ];
    laptop.record(&admits, &signers).unwrap();
    tablet.take(&laptop);
    let made = Override { reason_code: "early".to_owned(), by: "i".into(), why: "label".to_owned(), confirmed: true };
    let device_only = phone.signers(false, None);
    let code = phone.logbook.records().challenge(&"s".into(), &made).unwrap();
    // Before the service is even known the instructor answers the code that the couch shows.
    let answer = OverrideAnswer {
        challenge: code.clone(),
        reason_code: "early".to_owned(),
        trainee: "t".into(),
        allowed: true,
        why: String::new(),
    };
    let answered = Draft::new(&"i".into(), Fact::OverrideAnswered(answer));
    let by_instructor = tablet.signers(false, Some("i"));
    tablet.record(&[answered], &by_instructor).unwrap();
    let said = tablet.logbook.records().answer_to(&code, &"i".into()).unwrap().code.clone().unwrap();
    assert_eq!(said.len(), challenge::ANSWER);
    let typed = Draft::new(&"t".into(), Fact::AnswerTyped { challenge: code.clone(), answer: said.clone() });
    let asked = Draft::new(&"t".into(), Fact::KeyAsked(phone.admission(DEVICE, None, Scope::Records)));
    phone.record(&[asked, worked(vec![made]), typed], &device_only).unwrap();
    let confirmed =
        |device: &Device| device.logbook.records().service(&"s".into()).unwrap().value.overrides[0].confirmed;
    assert!(!confirmed(&phone), "what a trainee’s phone says of itself confirms nothing");
    assert_eq!(phone.logbook.records().typed_answer_to(&code), Some(said.as_str()));
    let (mut one, mut other) = (Device::new("one", 50), Device::new("other", 60));
    for (device, order) in [(&mut one, [&phone, &tablet, &laptop]), (&mut other, [&tablet, &laptop, &phone])] {
        for from in order {
            device.take(from);
        }
        assert!(confirmed(device));
        assert_eq!(device.logbook.records().answer_to(&code, &"i".into()).unwrap().code.as_ref(), Some(&said));
    }
    assert_eq!(one.logbook.records(), other.logbook.records());
}

#[test]
fn an_end_is_a_place_in_the_chain_and_no_date() {
    let (mut laptop, _) = world();
    let mut tablet = Device::new("tablet", 70);
    let signers = laptop.signers(true, Some("owner"));
    laptop
        .record(&[owner(Fact::KeyAdmitted(tablet.admission(PERSON, Some("i"), Scope::Assessing)))], &signers)
        .unwrap();
    tablet.take(&laptop);
    let by_instructor = tablet.signers(false, Some("i"));
    let note = |text: &str| Draft::times_shown(&"i".into(), "t".into(), text == "seen");
    tablet.record(&[note("seen")], &by_instructor).unwrap();
    laptop.take(&tablet);
    let seen = ChainPlace { sequence: 1, head: tablet.logbook.head() };
    let receipt = owner(Fact::LogSeen { device: "tablet".into(), seen: seen.clone() });
    tablet.record(&[note("not seen")], &by_instructor).unwrap();
    let last = ChainPlace { sequence: 2, head: tablet.logbook.head() };
    laptop.take(&tablet);
    let end = owner(Fact::KeyEnded { key: tablet.key(PERSON), last, why: "left".to_owned() });
    laptop.record(&[receipt, end], &signers).unwrap();
    tablet.minutes -= 60 * 24 * 30;
    tablet.record(&[note("back-dated")], &by_instructor).unwrap();
    laptop.take(&tablet);
    let of_tablet = |word| {
        let of = laptop.logbook.log().entries().filter(|entry| entry.header().device.as_str() == "tablet");
        of.filter(|entry| laptop.logbook.records().word(&entry.header().id) == word).count()
    };
    assert_eq!([Word::Holds, Word::NotWitnessed, Word::AfterTheEnd].map(of_tablet), [1, 1, 1]);
}

#[test]
fn a_receipt_calls_for_no_other_receipt() {
    let (mut laptop, mut phone) = world();
    let device_only = phone.signers(false, None);
    phone.record(&[worked(Vec::new())], &device_only).unwrap();
    let [(device, seen)] = looked_into(&phone, &laptop).carried_further.try_into().unwrap();
    laptop.take(&phone);
    let signers = laptop.signers(false, Some("owner"));
    laptop.record(&[owner(Fact::LogSeen { device, seen })], &signers).unwrap();
    // The way back brings the receipt alone: nothing is to be signed for it.
    assert_eq!(looked_into(&laptop, &phone).carried_further, []);
    laptop.record(&[Draft::person_enrolled(&"owner".into(), person("t3", Role::Trainee))], &signers).unwrap();
    assert_eq!(looked_into(&laptop, &phone).carried_further.len(), 1);
}

/// What taking in a file of everything that another device holds would make of a device.
fn looked_into(of: &Device, by: &Device) -> TakeIn {
    let now = at("2026-03-03T10:00:00+00:00");
    let bytes = hand_over::giving::write(&of.logbook, &Choice::everything(), &now).unwrap();
    hand_over::read(&bytes, None).unwrap().take_in(&by.logbook, false, &now).unwrap()
}

#[test]
fn a_file_shows_whose_word_it_is_and_what_was_put_in_after_a_receipt() {
    let (mut laptop, mut phone) = world();
    let first = looked_into(&laptop, &Device::new("new", 60)).preview;
    assert_eq!(first.first_key, Some(laptop.key(ACADEMY).fingerprint()));
    assert!(first.words.is_empty() && !first.no_key);

    let device_only = phone.signers(false, None);
    phone.record(&[worked(Vec::new())], &device_only).unwrap();
    let taking = looked_into(&phone, &laptop);
    assert_eq!((taking.preview.first_key, taking.preview.words), (None, vec![(Word::KeyNotAdmitted, 1)]));
    let [(device, seen)] = taking.carried_further.as_slice() else { panic!("{:?}", taking.carried_further) };
    assert_eq!((device.as_str(), seen.sequence), ("phone", 1));
    laptop.take(&phone);
    let (device, seen) = (device.clone(), seen.clone());
    let signers = laptop.signers(true, Some("owner"));
    let admit = Fact::KeyAdmitted(phone.admission(DEVICE, None, Scope::Records));
    laptop.record(&[owner(admit), owner(Fact::LogSeen { device, seen })], &signers).unwrap();

    // The same phone with another first entry: its log was made up anew after the laptop had seen it.
    let (_, mut changed) = world();
    changed.names += 77;
    changed.record(&[worked(Vec::new())], &device_only).unwrap();
    let after = looked_into(&changed, &laptop);
    assert_eq!(after.preview.words, [(Word::NotThereThen, 1)]);
    assert!(after.preview.findings.iter().any(|said| said.contains("different entries with the number 1")));
    assert!(after.carried_further.is_empty());
}
