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
        let now = clock.seconds_at(place);
        let slip = places.iter().rposition(|earlier| {
            let since = now.saturating_sub(clock.seconds_at(*earlier));
            taps.get(*earlier).is_some_and(|tap| can_take_back(&tap.act, since).is_some())
        });
        let allowed = slip.and_then(|slip| places.get(slip)).and_then(|earlier| {
            let since = now.saturating_sub(clock.seconds_at(*earlier));
            taps.get(*earlier).and_then(|tap| can_take_back(&tap.act, since))
        });
        if let (Some(slip), Some(true)) = (slip, allowed) {
            places.remove(slip);
        }
    }
    places
}

/// Returns the taps that were taken back, in the order tapped; they are kept and count for nothing.
pub fn taken_back(taps: &[Tap]) -> Vec<&Tap> {
    let counting = effective(&RunClock::of(taps, |_| true), taps);
    let back = |(place, tap): &(usize, &Tap)| tap.act != Act::TakeBack && counting.binary_search(place).is_err();
    taps.iter().enumerate().filter(back).map(|(_, tap)| tap).collect()
}

/// Returns the tap that a "take back" would take back at the present reading, if any.
pub fn to_take_back<'t>(taps: &'t [Tap], now: &Reading) -> Option<&'t Tap> {
    let clock = RunClock::of(taps, |_| true);
    let (seconds, _) = clock.seconds_now(taps.last()?, now);
    effective(&clock, taps).into_iter().rev().find_map(|place| {
        let tap = taps.get(place)?;
        can_take_back(&tap.act, seconds.saturating_sub(clock.seconds_at(place))).map(|can| can.then_some(tap))
    })?
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
