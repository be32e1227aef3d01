//! How much time passed between two taps, when a device has two clocks and neither can be trusted alone.
//!
//! Within one page life the wall clock and the even clock should agree. Where they differ by more than
//! [`TOLERANCE_MS`], the longer of the two counts, because for a lotion on an eye the longer one is the
//! careful one, and the stretch is reported as doubtful until a person confirms it. Daylight saving and
//! time zones change nothing: only the instant counts, never the local hour.

use super::{Act, Tap};
use crate::moment::Reading;

/// Clocks that differ by no more than this agree, in milliseconds.
pub const TOLERANCE_MS: u64 = 2_000;

/// A gap between two page lives longer than this is doubtful, in milliseconds (six hours).
pub const LONG_CLOSED_MS: u64 = 6 * 3_600_000;

/// Why a stretch of time is doubtful.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The wall clock moved ahead of the even clock: set forward, or the device slept.
    Ahead,
    /// The wall clock moved behind the even clock: set back.
    Behind,
    /// The wall clock went back while the page was closed: how long it was closed is not known.
    BackWhileClosed,
    /// The page was closed for more than [`LONG_CLOSED_MS`].
    LongClosed,
}

impl Doubt {
    /// Returns a sentence for the person who must confirm.
    pub fn say(self) -> &'static str {
        match self {
            Doubt::Ahead => "the clock was set forward, or the device slept",
            Doubt::Behind => "the clock was set back",
            Doubt::BackWhileClosed => "the clock went back while the app was closed, so how long is not known",
            Doubt::LongClosed => "the app was closed for more than six hours",
        }
    }
}

/// A stretch of time before a tap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Milliseconds counted.
    pub ms: u64,
    /// Whether the clocks disagree.
    pub doubt: Option<Doubt>,
}

/// Works out the time between two readings.
pub fn stretch(before: &Reading, after: &Reading) -> Stretch {
    let wall = after.at.timestamp_millis().saturating_sub(before.at.timestamp_millis());
    let forward = u64::try_from(wall).ok();
    if before.page == after.page {
        let even = after.mono_ms.saturating_sub(before.mono_ms);
        return match forward {
            Some(wall) if wall.abs_diff(even) <= TOLERANCE_MS => Stretch { ms: wall, doubt: None },
            Some(wall) if even < wall => Stretch { ms: wall, doubt: Some(Doubt::Ahead) },
            None if wall.unsigned_abs().saturating_add(even) <= TOLERANCE_MS => Stretch { ms: even, doubt: None },
            _ => Stretch { ms: even, doubt: Some(Doubt::Behind) },
        };
    }
    match forward {
        Some(wall) if wall > LONG_CLOSED_MS => Stretch { ms: wall, doubt: Some(Doubt::LongClosed) },
        Some(wall) => Stretch { ms: wall, doubt: None },
        None if wall.unsigned_abs() <= TOLERANCE_MS => Stretch { ms: 0, doubt: None },
        None => Stretch { ms: 0, doubt: Some(Doubt::BackWhileClosed) },
    }
}

/// Time since the first tap for every tap, with the doubtful stretches.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RunClock {
    elapsed_ms: Vec<u64>,
    doubts: Vec<(u32, Doubt)>,
    edited: bool,
}

impl RunClock {
    /// Works out the clock of a run from all its taps, taken-back ones included.
    pub fn of(taps: &[Tap]) -> Self {
        let confirmed = |sequence: u32| {
            taps.iter().rev().find_map(|tap| match tap.act {
                Act::TimeConfirmed { at_tap, seconds } if at_tap == sequence => Some(seconds),
                _ => None,
            })
        };
        let mut clock = RunClock::default();
        let mut before: Option<&Tap> = None;
        let mut elapsed = 0_u64;
        for tap in taps {
            if let Some(before) = before {
                let mut stretch = stretch(&before.reading, &tap.reading);
                if let (Some(doubt), said) = (stretch.doubt, confirmed(tap.sequence)) {
                    match said {
                        Some(seconds) => {
                            let ms = u64::from(seconds) * 1_000;
                            clock.edited |= ms.abs_diff(stretch.ms) > TOLERANCE_MS;
                            stretch.ms = ms;
                        }
                        None => clock.doubts.push((tap.sequence, doubt)),
                    }
                }
                elapsed = elapsed.saturating_add(stretch.ms);
            }
            clock.elapsed_ms.push(elapsed);
            before = Some(tap);
        }
        clock
    }

    /// Returns whole seconds from the first tap to the tap at this place in the list.
    pub fn seconds_at(&self, place: usize) -> u32 {
        let ms = self.elapsed_ms.get(place).or(self.elapsed_ms.last()).copied().unwrap_or(0);
        u32::try_from(ms / 1_000).unwrap_or(u32::MAX)
    }

    /// Returns whole seconds from the first tap to the present reading, and whether that is doubtful.
    pub fn seconds_now(&self, last: &Tap, now: &Reading) -> (u32, Option<Doubt>) {
        let stretch = stretch(&last.reading, now);
        let ms = self.elapsed_ms.last().copied().unwrap_or(0).saturating_add(stretch.ms);
        (u32::try_from(ms / 1_000).unwrap_or(u32::MAX), stretch.doubt)
    }

    /// Returns the doubtful stretches not yet confirmed: the tap that ends each, and why.
    pub fn doubts(&self) -> &[(u32, Doubt)] {
        &self.doubts
    }

    /// Whether a person set a stretch right to another length than the clocks gave.
    pub fn edited(&self) -> bool {
        self.edited
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::parse_moment;

    fn reading(at: &str, page: u32, mono_ms: u64) -> Reading {
        Reading { at: parse_moment(at).unwrap(), page, mono_ms }
    }

    fn check(before: Reading, after: Reading, ms: u64, doubt: Option<Doubt>) {
        assert_eq!(stretch(&before, &after), Stretch { ms, doubt });
    }

    #[test]
    fn clocks_that_agree_count_without_doubt() {
        check(
            reading("2026-03-02T10:00:00+00:00", 1, 0),
            reading("2026-03-02T10:01:00+00:00", 1, 60_400),
            60_000,
            None,
        );
    }

    #[test]
    fn daylight_saving_changes_no_duration() {
        // Europe, 29 March 2026: 01:59:30+01:00 is followed one minute later by 03:00:30+02:00.
        check(
            reading("2026-03-29T01:59:30+01:00", 1, 0),
            reading("2026-03-29T03:00:30+02:00", 1, 60_000),
            60_000,
            None,
        );
        // Autumn: the same local hour comes twice.
        check(
            reading("2026-10-25T02:59:30+02:00", 1, 0),
            reading("2026-10-25T02:00:30+01:00", 1, 60_000),
            60_000,
            None,
        );
    }

    #[test]
    fn a_clock_set_back_is_doubted_and_never_negative() {
        let before = reading("2026-03-02T10:00:00+00:00", 1, 0);
        check(before, reading("2026-03-02T09:00:00+00:00", 1, 30_000), 30_000, Some(Doubt::Behind));
        check(before, reading("2026-03-02T09:00:00+00:00", 2, 5), 0, Some(Doubt::BackWhileClosed));
    }

    #[test]
    fn sleep_counts_by_the_wall_clock_and_is_doubted() {
        let before = reading("2026-03-02T10:00:00+00:00", 1, 0);
        check(before, reading("2026-03-02T12:00:00+00:00", 1, 1_000), 7_200_000, Some(Doubt::Ahead));
    }

    #[test]
    fn a_new_page_life_counts_by_the_wall_clock() {
        let before = reading("2026-03-02T10:00:00+00:00", 1, 900_000);
        check(before, reading("2026-03-02T10:02:00+00:00", 2, 12), 120_000, None);
        check(before, reading("2026-03-02T19:00:00+00:00", 2, 12), 9 * 3_600_000, Some(Doubt::LongClosed));
    }
}
