//! What a device holds, in a short text: so that another one can leave that out.
//!
//! Of each device's chain it says up to which number it holds everything in a row, with the beginning of the hash
//! there and at some places before, and the numbers of entries whose bodies it has not got. The places thin out
//! backwards: whoever is behind finds one that both have. What it leaves unsaid is handed over once more, which does
//! no harm.
//!
//! `upsweep-holds 1 ACADEMY DEVICE=NUMBER.HASH,NUMBER.HASH~FROM-TO,NUMBER …`

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use practicum::ids::DeviceId;

use crate::entry::{Content, Entry};
use crate::json::is_hex;
use crate::log::Log;

/// What the text says it is.
const NAME: &str = "upsweep-holds";
/// The form written now.
const FORM: &str = "1";
/// Hex digits of a hash that are written down.
const DIGITS: usize = 16;
/// Longest text read, in bytes.
pub const LONGEST: usize = 1_000_000;

/// What a device holds.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Holds {
    academy: String,
    chains: BTreeMap<DeviceId, Chain>,
}

/// What it holds of one device's chain.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct Chain {
    /// Numbers with the beginnings of their hashes, the last first.
    places: Vec<(u64, String)>,
    /// First and last numbers of entries without their bodies.
    without_bodies: Vec<(u64, u64)>,
}

/// What of a log another device has already.
#[derive(Debug, Clone, Default)]
pub(crate) struct Had<'a> {
    whole: BTreeSet<&'a str>,
    headers: BTreeSet<&'a str>,
}

impl Had<'_> {
    /// Whether the other device has an entry, and its body too unless that is not handed over.
    pub(crate) fn has(&self, entry: &Entry, body_goes: bool) -> bool {
        self.whole.contains(entry.hash()) || (!body_goes && self.headers.contains(entry.hash()))
    }
}

impl Holds {
    /// Says what a log holds.
    pub fn of(log: &Log) -> Self {
        let academy = log.foundings().first().copied().unwrap_or_default();
        let mut chains = BTreeMap::new();
        for device in log.devices() {
            let entries = log.in_a_row(device);
            let mut chain = Chain::default();
            let (mut place, mut step) = (entries.len(), 1_usize);
            while let Some(entry) = place.checked_sub(1).and_then(|index| entries.get(index)) {
                chain.places.push((entry.header().sequence, beginning(entry.hash()).to_owned()));
                place = place.saturating_sub(step);
                step = step.saturating_mul(2);
            }
            for entry in entries.iter().filter(|entry| *entry.content() == Content::Withheld) {
                let number = entry.header().sequence;
                match chain.without_bodies.last_mut() {
                    Some((_, to)) if *to + 1 == number => *to = number,
                    _ => chain.without_bodies.push((number, number)),
                }
            }
            if !chain.places.is_empty() {
                chains.insert(device.clone(), chain);
            }
        }
        Self { academy: beginning(academy).to_owned(), chains }
    }

    /// Writes it as one line.
    pub fn text(&self) -> String {
        let academy = if self.academy.is_empty() { "-" } else { &self.academy };
        let mut text = format!("{NAME} {FORM} {academy}");
        for (device, chain) in &self.chains {
            let _ = write!(text, " {}=", escaped(device.as_str()));
            for (number, (place, hash)) in chain.places.iter().enumerate() {
                let _ = write!(text, "{}{place}.{hash}", if number == 0 { "" } else { "," });
            }
            for (number, (from, to)) in chain.without_bodies.iter().enumerate() {
                text.push(if number == 0 { '~' } else { ',' });
                let _ = if from == to { write!(text, "{from}") } else { write!(text, "{from}-{to}") };
            }
        }
        text
    }

    /// Whether a text claims to be such a line.
    pub fn looks_like(text: &str) -> bool {
        text.trim_start().starts_with(NAME)
    }

    /// Reads the line.
    ///
    /// # Errors
    /// Returns a sentence when it is none, or not whole.
    pub fn read(text: &str) -> Result<Self, String> {
        let broken = || "This summary is not whole: copy it again from the other device.".to_owned();
        if text.len() > LONGEST {
            return Err("This summary is far too long: copy it again from the other device.".to_owned());
        }
        let mut words = text.split_whitespace();
        if words.next() != Some(NAME) {
            return Err("This is no summary of what a device holds: copy the line that begins with “upsweep-holds” \
                        from the other device."
                .to_owned());
        }
        match words.next() {
            Some(FORM) => {}
            Some(_) => {
                return Err("This summary was written by a later version of Upsweep: reload the app here to get the \
                            latest version."
                    .to_owned());
            }
            None => return Err(broken()),
        }
        let academy = match words.next() {
            Some("-") => "",
            Some(academy) if is_hex(academy, DIGITS..=DIGITS) => academy,
            _ => return Err(broken()),
        };
        let mut chains = BTreeMap::new();
        for word in words {
            let (device, chain) = word.split_once('=').ok_or_else(broken)?;
            let device = DeviceId::new(unescaped(device).ok_or_else(broken)?);
            if chains.insert(device, Chain::read(chain).ok_or_else(broken)?).is_some() {
                return Err(broken());
            }
        }
        Ok(Self { academy: academy.to_owned(), chains })
    }

    /// Whether it speaks of the academy that a log belongs to, or of none yet.
    pub fn is_of(&self, log: &Log) -> bool {
        let ours = log.foundings().first().map(|hash| beginning(hash));
        self.academy.is_empty() || ours.is_none_or(|ours| ours == self.academy)
    }

    /// Returns how many entries it counts, over all chains.
    pub fn entries(&self) -> u64 {
        let last = |chain: &Chain| chain.places.first().map_or(0, |(number, _)| *number);
        self.chains.values().map(last).fold(0, u64::saturating_add)
    }

    /// Works out what of a log the other device has.
    pub(crate) fn had<'a>(&self, log: &'a Log) -> Had<'a> {
        let mut had = Had::default();
        for (device, chain) in &self.chains {
            let entries = log.in_a_row(device);
            let at = |number: u64| usize::try_from(number).ok()?.checked_sub(1).and_then(|index| entries.get(index));
            let both =
                |(number, hash): &&(u64, String)| at(*number).is_some_and(|entry| beginning(entry.hash()) == hash);
            let Some((number, _)) = chain.places.iter().find(both) else { continue };
            for entry in entries.into_iter().take_while(|entry| entry.header().sequence <= *number) {
                let sequence = entry.header().sequence;
                had.headers.insert(entry.hash());
                // The ranges stand in order and do not overlap: the last that begins here or before decides.
                let before = chain.without_bodies.partition_point(|(from, _)| *from <= sequence);
                let range = before.checked_sub(1).and_then(|index| chain.without_bodies.get(index));
                if range.is_none_or(|(_, to)| *to < sequence) {
                    had.whole.insert(entry.hash());
                }
            }
        }
        had
    }
}

impl Chain {
    fn read(text: &str) -> Option<Self> {
        let (places, without) = text.split_once('~').unwrap_or((text, ""));
        let number = |text: &str| text.parse::<u64>().ok().filter(|number| *number >= 1);
        let mut chain = Chain::default();
        for place in places.split(',') {
            let (place, hash) = place.split_once('.')?;
            if !is_hex(hash, DIGITS..=DIGITS) {
                return None;
            }
            chain.places.push((number(place)?, hash.to_owned()));
        }
        for range in without.split(',').filter(|range| !range.is_empty()) {
            let (from, to) = range.split_once('-').unwrap_or((range, range));
            let (from, to) = (number(from)?, number(to)?);
            if from > to {
                return None;
            }
            chain.without_bodies.push((from, to));
        }
        // From the last to the first, so that the first that fits is the farthest.
        let in_order = chain.places.is_sorted_by(|one, next| one.0 > next.0)
            && chain.without_bodies.is_sorted_by(|one, next| one.1 < next.0);
        in_order.then_some(chain)
    }
}

fn beginning(hash: &str) -> &str {
    hash.get(..DIGITS).unwrap_or_default()
}

/// Writes a name so that it holds none of the line's own signs.
fn escaped(name: &str) -> String {
    let mut text = String::with_capacity(name.len());
    for byte in name.bytes() {
        match byte {
            b'0'..=b'9' | b'A'..=b'Z' | b'a'..=b'z' | b'-' | b'_' => text.push(char::from(byte)),
            other => {
                let _ = write!(text, "%{other:02x}");
            }
        }
    }
    text
}

fn unescaped(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        if first == '%' {
            bytes.push(u8::from_str_radix(rest.get(1..3)?, 16).ok()?);
            rest = rest.get(3..)?;
        } else {
            let length = first.len_utf8();
            bytes.extend_from_slice(rest.get(..length)?.as_bytes());
            rest = rest.get(length..)?;
        }
    }
    String::from_utf8(bytes).ok().filter(|name| !name.is_empty())
}
