//! What is timed: reading, checking and hashing a large log, merging two, checking signatures.
//!
//! `cargo xtask benches` builds this for WebAssembly as the site is built, binds it for Node and runs `in_wasm.mjs`;
//! results stand in `README.md`.

use chrono::TimeDelta;
use ed25519_dalek::{Signer as _, SigningKey};
use logbook::entry::{Content, Entry, Place, Signing, Unverified};
use logbook::log::Log;
use logbook::signature::Signature;
use logbook::{Draft, Fact, Logbook};
use practicum::ids::DeviceId;
use practicum::moment::{Moment, parse_moment};
use wasm_bindgen::prelude::wasm_bindgen;

/// One entry of every kind, as the app writes them.
const SAMPLES: &str = include_str!("../../compatibility/data/log-v1.ndjson");
/// Kinds of one practised service and what comes with it, in the order they come; one line in ten is a whole run
/// with its taps.
const KINDS: [&str; 10] = [
    "consent given",
    "screening answered",
    "test put on",
    "test read",
    "service logged",
    "outcome marked",
    "outcome marked",
    "plan decided",
    "follow-up noted",
    "follow-up noted",
];

/// Two logs of so many entries, half of each known to the other.
#[wasm_bindgen]
pub struct Logs {
    lines: [Vec<String>; 2],
    logs: [Log; 2],
}

#[wasm_bindgen]
impl Logs {
    /// Writes the entries, signed or not.
    #[wasm_bindgen(constructor)]
    pub fn new(entries: usize, signed: bool) -> Self {
        let shared = written(entries / 2, "both", signed);
        let lines = ["left", "right"].map(|own| {
            let mut lines = shared.clone();
            lines.extend(written(entries - entries / 2, own, signed));
            lines
        });
        Self { lines, logs: Default::default() }
    }

    /// Bytes of the first log's lines.
    pub fn bytes(&self) -> usize {
        self.lines[0].iter().map(String::len).sum()
    }

    /// Reads, checks and hashes every line of one of the two logs; returns how many entries it has then.
    pub fn read(&mut self, which: usize) -> usize {
        let mut log = Log::default();
        for line in &self.lines[which] {
            log.insert_line(line);
        }
        let entries = log.len();
        self.logs[which] = log;
        entries
    }

    /// Takes the second log into the first; returns how many entries that has then.
    pub fn merge(&mut self) -> usize {
        let [left, right] = &mut self.logs;
        left.merge(right);
        left.len()
    }

    /// Opens the first log's lines as the app does, records included; returns how many services they tell of.
    pub fn open(&self) -> usize {
        let logbook = Logbook::open(DeviceId::new("reader".to_owned()), &self.lines[0], "");
        assert!(logbook.log().unreadable().is_empty());
        logbook.records().services().len()
    }
}

/// Signed entries, read and not yet checked.
#[wasm_bindgen]
pub struct Signed(Vec<Unverified>);

#[wasm_bindgen]
impl Signed {
    /// Writes and reads the entries.
    #[wasm_bindgen(constructor)]
    pub fn new(entries: usize) -> Self {
        Self(written(entries, "signed", true).iter().filter_map(|line| Unverified::read(line).ok()).collect())
    }

    /// Checks every body and signature; returns how many hold.
    pub fn check(&self) -> usize {
        let sound = |entry: &&Unverified| matches!(Unverified::clone(entry).check(), logbook::entry::Checked::Sound(_));
        self.0.iter().filter(sound).count()
    }
}

fn start() -> Moment {
    parse_moment("2026-03-02T09:00:00+00:00").unwrap_or_default()
}

/// Writes so many entries in the name of eight devices, and returns their lines.
fn written(entries: usize, name: &str, signed: bool) -> Vec<String> {
    let samples: Vec<Entry> = SAMPLES
        .lines()
        .filter_map(|line| match Unverified::read(line).ok()?.check() {
            logbook::entry::Checked::Sound(entry) => Some(entry),
            _ => None,
        })
        .collect();
    let cycle: Vec<&Entry> =
        KINDS.iter().filter_map(|kind| samples.iter().find(|entry| entry.header().kind.word() == *kind)).collect();
    assert_eq!(cycle.len(), KINDS.len());
    let mut chains = vec![(0_u64, String::new()); 8];
    (0..entries)
        .map(|number| {
            let (sample, device) = (cycle[number % cycle.len()], number / 10 % chains.len());
            let (sequence, previous) = &mut chains[device];
            *sequence += 1;
            let Content::Fact(fact) = sample.content() else { panic!("a sample does not read") };
            let place = Place {
                id: format!("{number:08x}{name:x>24}").as_str().into(),
                device: DeviceId::new(format!("{name}-{device}")),
                sequence: *sequence,
                previous: previous.clone(),
                at: start() + TimeDelta::seconds(i64::try_from(number).unwrap_or_default() * 30),
                salt: format!("{number:032x}"),
            };
            let draft = Draft::new(&sample.header().author, own(fact, number / 10, name));
            let entry = if signed {
                let key = SigningKey::from_bytes(&[u8::try_from(device).unwrap_or_default() + 1; 32]);
                let public = logbook::signature::PublicKey::of_bytes(key.verifying_key().as_bytes());
                let signing = Signing { academy: "academy".into(), key: public.expect("a sound key") };
                let unsigned = Entry::draw_up(&draft, place, signing).expect("a sample can be written");
                let bytes = unsigned.bytes().expect("bytes to sign");
                let signature = Signature::of_bytes(&key.sign(&bytes).to_bytes()).expect("64 bytes");
                unsigned.sign(&signature).expect("the key's own signature")
            } else {
                Entry::write(&draft, place).expect("a sample can be written")
            };
            *previous = entry.hash().to_owned();
            entry.line().to_owned()
        })
        .collect()
}

/// The sample's fact with the names of its own service.
fn own(fact: &Fact, service: usize, name: &str) -> Fact {
    let id = format!("{name}-{service}");
    let mut fact = fact.clone();
    match &mut fact {
        Fact::ServiceLogged(logged) => logged.id = id.as_str().into(),
        Fact::OutcomeMarked(outcome) => outcome.service = id.as_str().into(),
        Fact::TestPutOn(test) => test.id = id.as_str().into(),
        Fact::TestRead { test, .. } => *test = id.as_str().into(),
        _ => {}
    }
    fact
}
