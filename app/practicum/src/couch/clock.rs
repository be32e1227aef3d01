//! How much time passed between two taps, when a device has two clocks and neither can be trusted alone.
//!
//! Within one page life the wall clock and the even clock should agree. Where they differ by more than
//! [`TOLERANCE_MS`], the longer of the two counts, because for a lotion on an eye the longer one is the
//! careful one, and the stretch is reported as doubtful until a person confirms it. Daylight saving and
//! time zones change nothing: only the instant counts, never the local hour.

use std::ops::RangeInclusive;

use super::{Act, Tap};
use crate::ids::PersonId;
use crate::moment::{Reading, Seconds};

/// Clocks that differ by no more than this agree, in milliseconds.
pub const TOLERANCE_MS: u64 = 2_000;

/// A gap between two page lives longer than this is doubtful, in milliseconds (30 minutes; proposal, no source).
pub const LONG_CLOSED_MS: u64 = 30 * 60_000;

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
            Doubt::LongClosed => "the app was closed for more than half an hour",
        }
    }
}

/// A stretch of time before a tap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Milliseconds counted.
    pub ms: u64,
    /// Milliseconds by the other clock, where the two disagree.
    pub other_ms: Option<u64>,
    /// Whether the clocks disagree.
    pub doubt: Option<Doubt>,
}

/// Works out the time between two readings.
pub fn stretch(before: &Reading, after: &Reading) -> Stretch {
    let wall = after.at.timestamp_millis().saturating_sub(before.at.timestamp_millis());
    let forward = u64::try_from(wall).ok();
    let sure = |ms: u64| Stretch { ms, other_ms: None, doubt: None };
    let doubted = |ms: u64, other_ms: Option<u64>, doubt: Doubt| Stretch { ms, other_ms, doubt: Some(doubt) };
    if before.page == after.page {
        let even = after.mono_ms.saturating_sub(before.mono_ms);
        return match forward {
            Some(wall) if wall.abs_diff(even) <= TOLERANCE_MS => sure(wall),
            Some(wall) if even < wall => doubted(wall, Some(even), Doubt::Ahead),
            None if wall.unsigned_abs().saturating_add(even) <= TOLERANCE_MS => sure(even),
            _ => doubted(even, forward, Doubt::Behind),
        };
    }
    match forward {
        Some(wall) if wall > LONG_CLOSED_MS => doubted(wall, None, Doubt::LongClosed),
        Some(wall) => sure(wall),
        None if wall.unsigned_abs() <= TOLERANCE_MS => sure(0),
        None => doubted(0, None, Doubt::BackWhileClosed),
    }
}

/// What a person said about a doubtful stretch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// Seconds that really passed.
    pub seconds: Seconds,
    /// Who says so.
    pub by: PersonId,
    /// What happened, in a few words.
    pub what: String,
}

/// A stretch of time that the clocks disagree about, stated or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubtful {
    /// Sequence number of the tap at its end.
    pub at_tap: u32,
    /// Why it is doubtful.
    pub doubt: Doubt,
    /// Seconds that the clocks count: the longer of two.
    pub counted: Seconds,
    /// Seconds by the other clock, where there is one.
    pub other: Option<Seconds>,
    /// Seconds from the first tap to its end, as they count now.
    pub ends: Seconds,
    /// What a person said about it, the last word holding.
    pub stated: Option<Statement>,
}

impl Doubtful {
    /// Whether so many seconds are less than the clocks count, beyond their tolerance.
    ///
    /// The longer time is the careful one, so a trainee's own word never makes it shorter.
    pub fn shortens(&self, seconds: Seconds) -> bool {
        u64::from(seconds) * 1_000 + TOLERANCE_MS < u64::from(self.counted) * 1_000
    }
}

/// Time since the first tap for every tap, with the doubtful stretches.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RunClock {
    elapsed_ms: Vec<u64>,
    doubtful: Vec<Doubtful>,
    edited: bool,
}

/// Lists the stretches, by the places of the taps that end them, in which the wall clock was set to another time
/// and back again while the page lived: the even clock held all the while, so nothing is in doubt.
fn settled(taps: &[Tap]) -> Vec<RangeInclusive<usize>> {
    let ahead = |tap: &Tap| tap.reading.at.timestamp_millis().saturating_sub_unsigned(tap.reading.mono_ms);
    let mut settled: Vec<RangeInclusive<usize>> = Vec::new();
    for (place, pair) in (1..).zip(taps.windows(2)) {
        let [before, jumped] = pair else { continue };
        let inside = settled.last().is_some_and(|range| range.contains(&place));
        if inside
            || before.reading.page != jumped.reading.page
            || stretch(&before.reading, &jumped.reading).doubt.is_none()
        {
            continue;
        }
        let mut after =
            taps.iter().enumerate().skip(place).take_while(|(_, tap)| tap.reading.page == before.reading.page);
        let back = after.find(|(_, tap)| ahead(tap).abs_diff(ahead(before)) <= TOLERANCE_MS);
        settled.extend(back.map(|(back, _)| place..=back));
    }
    settled
}

/// Finds the last word about a stretch that may be taken.
fn stated(taps: &[Tap], doubtful: &Doubtful, may_shorten: impl Fn(&PersonId) -> bool) -> Option<Statement> {
    taps.iter().rev().find_map(|tap| match &tap.act {
        Act::TimeConfirmed { at_tap, seconds, by, what } if *at_tap == doubtful.at_tap => {
            let taken = !what.trim().is_empty() && (may_shorten(by) || !doubtful.shortens(*seconds));
            taken.then(|| Statement { seconds: *seconds, by: by.clone(), what: what.clone() })
        }
        _ => None,
    })
}

fn whole_seconds(ms: u64) -> Seconds {
    u32::try_from(ms / 1_000).unwrap_or(u32::MAX)
}

impl RunClock {
    /// Works out the clock of a run from all its taps, taken-back ones included. Of what is said about a
    /// doubtful stretch the last word holds; less than the clocks count is taken from nobody but `may_shorten`.
    pub fn of(taps: &[Tap], may_shorten: impl Fn(&PersonId) -> bool) -> Self {
        let mut clock = RunClock::default();
        let mut before: Option<&Tap> = None;
        let mut elapsed = 0_u64;
        let settled = settled(taps);
        for (place, tap) in taps.iter().enumerate() {
            // What is said about a run that has ended takes no time of it.
            let ended = before.is_some_and(|before| matches!(before.act, Act::Finish | Act::Stop(_)));
            if let Some(before) = before.filter(|_| !ended) {
                let mut stretch = stretch(&before.reading, &tap.reading);
                if settled.iter().any(|there_and_back| there_and_back.contains(&place)) {
                    let even = tap.reading.mono_ms.saturating_sub(before.reading.mono_ms);
                    stretch = Stretch { ms: even, other_ms: None, doubt: None };
                }
                let mut ms = stretch.ms;
                if let Some(doubt) = stretch.doubt {
                    let mut doubtful = Doubtful {
                        at_tap: tap.sequence,
                        doubt,
                        counted: whole_seconds(stretch.ms),
                        other: stretch.other_ms.map(whole_seconds),
                        ends: 0,
                        stated: None,
                    };
                    doubtful.stated = stated(taps, &doubtful, &may_shorten);
                    let said = doubtful.stated.as_ref().map(|said| u64::from(said.seconds) * 1_000);
                    // What is confirmed as counted stays as counted, to the millisecond.
                    if let Some(said) = said.filter(|said| said.abs_diff(ms) > TOLERANCE_MS) {
                        (ms, clock.edited) = (said, true);
                    }
                    doubtful.ends = whole_seconds(elapsed.saturating_add(ms));
                    clock.doubtful.push(doubtful);
                }
                elapsed = elapsed.saturating_add(ms);
            }
            clock.elapsed_ms.push(elapsed);
            before = if ended { before } else { Some(tap) };
        }
        clock
    }

    /// Returns whole seconds from the first tap to the tap at this place in the list.
    pub fn seconds_at(&self, place: usize) -> u32 {
        whole_seconds(self.elapsed_ms.get(place).or(self.elapsed_ms.last()).copied().unwrap_or(0))
    }

    /// Returns whole seconds from the first tap to the present reading, and whether that is doubtful.
    pub fn seconds_now(&self, last: &Tap, now: &Reading) -> (u32, Option<Doubt>) {
        let stretch = stretch(&last.reading, now);
        let ms = self.elapsed_ms.last().copied().unwrap_or(0).saturating_add(stretch.ms);
        (whole_seconds(ms), stretch.doubt)
    }

    /// Returns every doubtful stretch, those included that a person has spoken about.
    pub fn doubtful(&self) -> &[Doubtful] {
        &self.doubtful
    }

    /// Returns the doubtful stretches that nobody has spoken about yet.
    pub fn open_doubts(&self) -> impl Iterator<Item = &Doubtful> {
        self.doubtful.iter().filter(|doubtful| doubtful.stated.is_none())
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
        let found = stretch(&before, &after);
        assert_eq!((found.ms, found.doubt), (ms, doubt));
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
        check(before, reading("2026-03-02T10:30:00+00:00", 2, 12), 1_800_000, None);
        check(before, reading("2026-03-02T19:00:00+00:00", 2, 12), 9 * 3_600_000, Some(Doubt::LongClosed));
    }

    fn tap(sequence: u32, at: &str, mono_ms: u64, act: Act) -> Tap {
        Tap { sequence, reading: reading(at, 1, mono_ms), act }
    }

    fn said(at_tap: u32, seconds: Seconds, by: &str) -> Act {
        Act::TimeConfirmed { at_tap, seconds, by: by.into(), what: "clock set".to_owned() }
    }

    /// A clock set forward by an hour during ten even minutes, and what was said about it.
    fn jump(said: Vec<Act>) -> RunClock {
        let mut taps = vec![
            tap(0, "2026-03-02T10:00:00+00:00", 0, Act::Begin),
            tap(1, "2026-03-02T11:10:00+00:00", 600_000, Act::ClockSeen),
        ];
        let more = (2..).zip(said).map(|(number, act)| tap(number, "2026-03-02T11:10:00+00:00", 600_000, act));
        taps.extend(more);
        RunClock::of(&taps, |by| by.as_str() != "t1")
    }

    #[test]
    fn a_doubt_says_what_both_clocks_count_and_stays_listed_when_stated() {
        let open = jump(Vec::new());
        let found = open.doubtful().first().unwrap();
        assert_eq!((found.counted, found.other, open.open_doubts().count()), (4_200, Some(600), 1));
        let stated = jump(vec![said(1, 4_200, "t1")]);
        assert_eq!((stated.doubtful().len(), stated.open_doubts().count(), stated.edited()), (1, 0, false));
        assert_eq!(stated.doubtful().first().unwrap().stated.as_ref().unwrap().what, "clock set");
    }

    #[test]
    fn the_last_word_about_a_stretch_holds_and_moves_what_follows() {
        let clock = jump(vec![said(1, 4_200, "t1"), said(1, 600, "i1")]);
        assert!(clock.edited());
        assert_eq!((clock.seconds_at(1), clock.seconds_at(3)), (600, 600));
        assert_eq!(
            jump(vec![said(1, 600, "i1"), said(1, 5, "t1")]).seconds_at(1),
            600,
            "a trainee's shorter time is no word"
        );
    }

    #[test]
    fn only_less_than_the_clocks_count_is_shorter() {
        let clock = jump(Vec::new());
        let found = clock.doubtful().first().unwrap();
        assert_eq!([600, 4_197, 4_198, 4_200, 9_000].map(|s| found.shortens(s)), [true, true, false, false, false]);
    }

    #[test]
    fn a_clock_set_to_another_time_and_back_while_the_page_lives_is_no_doubt() {
        for away in ["2026-03-02T11:01:00+00:00", "2026-03-02T09:01:00+00:00"] {
            let mut taps =
                vec![tap(0, "2026-03-02T10:00:00+00:00", 0, Act::Begin), tap(1, away, 60_000, Act::ClockSeen)];
            assert_eq!(RunClock::of(&taps, |_| true).open_doubts().count(), 1, "{away}: not known yet");
            taps.push(tap(2, "2026-03-02T10:02:00+00:00", 120_500, Act::ClockSeen));
            taps.push(tap(3, "2026-03-02T10:03:00+00:00", 180_500, Act::Resume));
            let clock = RunClock::of(&taps, |_| true);
            assert_eq!((clock.seconds_at(2), clock.seconds_at(3), clock.doubtful().len()), (120, 180, 0), "{away}");
        }
    }

    #[test]
    fn sleep_is_not_taken_for_a_clock_set_there_and_back() {
        let taps = [
            tap(0, "2026-03-02T10:00:00+00:00", 0, Act::Begin),
            tap(1, "2026-03-02T10:10:00+00:00", 1_000, Act::ClockSeen),
            tap(2, "2026-03-02T10:05:00+00:00", 2_000, Act::ClockSeen),
        ];
        let clock = RunClock::of(&taps, |_| true);
        assert_eq!((clock.seconds_at(2), clock.doubtful().len()), (601, 2), "only the same offset settles it");
    }

    #[test]
    fn what_is_said_long_after_the_end_takes_no_time_of_the_run() {
        let mut taps = vec![
            tap(0, "2026-03-02T10:00:00+00:00", 0, Act::Begin),
            tap(1, "2026-03-02T11:10:00+00:00", 600_000, Act::ClockSeen),
            tap(2, "2026-03-02T11:11:00+00:00", 660_000, Act::Finish),
        ];
        for (number, at) in [(3, "2026-03-09T08:00:00+00:00"), (4, "2026-03-01T08:00:00+00:00")] {
            taps.push(Tap { sequence: number, reading: reading(at, number, 5), act: said(1, 600, "i1") });
        }
        let clock = RunClock::of(&taps, |_| true);
        assert_eq!((clock.seconds_at(2), clock.seconds_at(4), clock.doubtful().len()), (660, 660, 1));
    }

    #[test]
    fn a_word_about_a_stretch_without_doubt_changes_nothing() {
        let mut taps = vec![
            tap(0, "2026-03-02T10:00:00+00:00", 0, Act::Begin),
            tap(1, "2026-03-02T10:10:00+00:00", 600_000, Act::ClockSeen),
        ];
        let before = RunClock::of(&taps, |by| by.as_str() != "t1").seconds_at(1);
        taps.push(tap(2, "2026-03-02T10:10:00+00:00", 600_000, said(1, 5, "t1")));
        let after = RunClock::of(&taps, |by| by.as_str() != "t1");
        assert_eq!((before, after.seconds_at(1), after.edited()), (600, 600, false));
    }
}
