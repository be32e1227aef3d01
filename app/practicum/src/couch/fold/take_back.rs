//! Which taps count, once those that were taken back are left out.

use crate::couch::clock::RunClock;
use crate::couch::{Act, Tap};
use crate::moment::{Reading, Seconds};

/// Longest time after first contact in which "lotion on" can still be taken back as a slip, seconds.
pub const SLIP_SECONDS: Seconds = 30;

/// Lists the places of the taps that count: each "take back" removes the latest tap that can be taken back.
pub(super) fn effective(clock: &RunClock, taps: &[Tap]) -> Vec<usize> {
    let mut places: Vec<usize> = Vec::new();
    for (place, tap) in taps.iter().enumerate() {
        if tap.act != Act::TakeBack {
            places.push(place);
            continue;
        }
        if let Some(slip) = next_back(clock, taps, &places, clock.seconds_at(place)) {
            places.remove(slip);
        }
    }
    places
}

/// Finds which of the places that count a "take back" at this second removes, if any.
fn next_back(clock: &RunClock, taps: &[Tap], places: &[usize], now: Seconds) -> Option<usize> {
    let (slip, can) = places.iter().enumerate().rev().find_map(|(at, place)| {
        let since = now.saturating_sub(clock.seconds_at(*place));
        Some((at, can_take_back(&taps.get(*place)?.act, since)?))
    })?;
    can.then_some(slip)
}

/// Returns the taps that were taken back, in the order tapped; they are kept and count for nothing.
pub fn taken_back(taps: &[Tap]) -> Vec<&Tap> {
    let counting = effective(&RunClock::of(taps, |_| true), taps);
    let back = |(place, tap): &(usize, &Tap)| tap.act != Act::TakeBack && counting.binary_search(place).is_err();
    taps.iter().enumerate().filter(back).map(|(_, tap)| tap).collect()
}

/// Returns the taps that one "back" undoes at the present reading, the latest first: what one touch recorded, read
/// at the same instant, goes back together. One "take back" is recorded for each.
pub fn to_take_back<'t>(taps: &'t [Tap], now: &Reading) -> Vec<&'t Tap> {
    let clock = RunClock::of(taps, |_| true);
    let Some((seconds, _)) = taps.last().map(|last| clock.seconds_now(last, now)) else { return Vec::new() };
    let mut places = effective(&clock, taps);
    let mut together: Vec<&Tap> = Vec::new();
    while let Some(slip) = next_back(&clock, taps, &places, seconds) {
        let Some(tap) = places.get(slip).and_then(|place| taps.get(*place)) else { break };
        if together.first().is_some_and(|first| first.reading != tap.reading) {
            break;
        }
        together.push(tap);
        places.remove(slip);
    }
    together
}

/// Whether an act can be taken back after so many seconds; `None` for acts that a take-back passes over.
pub fn can_take_back(act: &Act, since: Seconds) -> Option<bool> {
    match act {
        Act::AlarmHeard(_)
        | Act::AlarmMayBeLost(_)
        | Act::SoundChecked(_)
        | Act::ClockSeen
        | Act::TimeConfirmed { .. } => None,
        Act::LotionStarts(..) => Some(since <= SLIP_SECONDS),
        Act::Begin | Act::Reaction(_) | Act::GoOn { .. } | Act::Stop(_) | Act::Finish | Act::Overridden(_) => {
            Some(false)
        }
        _ => Some(true),
    }
}
