//! Clocks that jump, change their zone, stand still or begin anew never make a time negative, and never one wrong
//! without a word.
//!
//! `RUNS=1000000 cargo test --profile study -p system-tests --test properties clocks -- --nocapture` tries as many runs
//! as asked; a failure names its seed, and `SEED=n` begins there.

use chrono::{DateTime, FixedOffset, TimeDelta};
use practicum::couch::clock::{LONG_CLOSED_MS, RunClock, TOLERANCE_MS};
use practicum::couch::{Act, Tap};
use practicum::moment::{Moment, Reading, parse_moment};

use crate::draw::{Draw, number};

/// What befalls the clocks of one page life. Two that cancel each other to the second nobody can tell apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Trouble {
    None,
    /// The device sleeps: its even clock stands still.
    Sleeps,
    /// Somebody sets the wall clock.
    Set,
}

/// A device: what really passed, and what its clocks make of it.
struct Device {
    true_ms: u64,
    asleep_ms: u64,
    set_ms: i64,
    page: u32,
    page_from: u64,
    offset: i32,
}

impl Device {
    fn reading(&self) -> Reading {
        let wall = start() + TimeDelta::milliseconds(self.true_ms as i64 + self.set_ms);
        let zone = FixedOffset::east_opt(self.offset * 60).unwrap();
        let at: DateTime<FixedOffset> = wall.with_timezone(&zone);
        Reading { at, page: self.page, mono_ms: self.true_ms - self.page_from - self.asleep_ms }
    }
}

fn start() -> Moment {
    // Two hours before summer time begins in much of Europe.
    parse_moment("2026-03-28T23:00:00+00:00").unwrap()
}

/// One run: its taps, and what really passed before each of them and whether the page lived meanwhile.
fn run(seed: u64) {
    let mut draw = Draw(seed);
    let mut device = Device { true_ms: 0, asleep_ms: 0, set_ms: 0, page: 1, page_from: 0, offset: 0 };
    let mut trouble = trouble_of(&mut draw);
    let mut taps = vec![Tap { sequence: 0, reading: device.reading(), act: Act::Begin }];
    let mut truth = vec![(0_u64, true, false)];
    for sequence in 1..3 + draw.below(12) as u32 {
        let (mut passed, mut lived, mut set) = (draw.next() % 600_000, true, false);
        match draw.below(8) {
            0 => {
                // The page is closed and opened again, perhaps after a long while.
                passed += if draw.chance(30) { draw.next() % (2 * LONG_CLOSED_MS) } else { 0 };
                lived = false;
                if draw.chance(30) {
                    device.set_ms += jump(&mut draw);
                    set = true;
                }
            }
            1 | 2 if trouble == Trouble::Sleeps => {
                // Two hours frozen, or a little.
                let asleep = if draw.chance(30) { 7_200_000 } else { draw.next() % 900_000 };
                passed += asleep;
                device.asleep_ms += asleep;
            }
            1 | 2 if trouble == Trouble::Set => {
                device.set_ms += jump(&mut draw);
                set = true;
            }
            // Another zone, or daylight saving begins or ends: the hour changes, the instant does not.
            3 => device.offset = [0, 60, 120, -300, -210, 345, 840, -720][draw.below(8)],
            _ => {}
        }
        device.true_ms += passed;
        if !lived {
            (device.page, device.page_from, device.asleep_ms) = (device.page + 1, device.true_ms, 0);
            trouble = trouble_of(&mut draw);
        }
        taps.push(Tap { sequence, reading: device.reading(), act: Act::Begin });
        truth.push((passed, lived, set));
    }
    let clock = RunClock::of(&taps, |_| true);
    let mut before = 0;
    for (place, (passed, lived, set)) in truth.iter().enumerate().skip(1) {
        let now = clock.seconds_at(place);
        assert!(now >= before, "seed {seed}: tap {place} is before tap {}", place - 1);
        if now == u32::MAX {
            // Set forward by more than a hundred years in all: every such step was asked about, and seconds end here.
            assert!(clock.open_doubts().count() > 2, "seed {seed}: {now} s without a word");
            return;
        }
        let counted = u64::from(now - before) * 1_000;
        let doubted = clock.doubtful().iter().any(|doubtful| doubtful.at_tap as usize == place);
        // Whole seconds: one may be lost or won at either end.
        let within = counted.abs_diff(*passed) <= TOLERANCE_MS + 2_000;
        let careful = counted + TOLERANCE_MS + 2_000 >= *passed;
        if *lived {
            assert!(careful, "seed {seed}: {passed} ms before tap {place} are counted as {counted}");
            assert!(within || doubted, "seed {seed}: {passed} ms before tap {place} are {counted} without a word");
        } else if !set {
            assert!(within, "seed {seed}: closed for {passed} ms before tap {place}, counted as {counted}");
            let long = *passed > LONG_CLOSED_MS + TOLERANCE_MS;
            assert!(doubted || !long, "seed {seed}: closed for {passed} ms before tap {place} without a word");
        } else if counted > LONG_CLOSED_MS + 2_000 {
            // Closed and set meanwhile, there is one clock alone: long is always asked about.
            assert!(doubted, "seed {seed}: {counted} ms before tap {place} without a word");
        }
        before = now;
    }
    let (now, _) = clock.seconds_now(taps.last().unwrap(), &device.reading());
    assert!(now >= before, "seed {seed}: now is before the last tap");
}

fn trouble_of(draw: &mut Draw) -> Trouble {
    [Trouble::None, Trouble::Sleeps, Trouble::Set][draw.below(3)]
}

/// By how much somebody sets a clock: seconds, hours, a day, back to 1970.
fn jump(draw: &mut Draw) -> i64 {
    let size = [5_000, 90_000, 3_600_000, 86_400_000, 31_536_000_000, 1_774_000_000_000][draw.below(6)];
    let size = size + (draw.next() % 1_000) as i64;
    if draw.chance(50) { size } else { -size }
}

#[test]
fn clocks_never_make_a_time_negative_or_wrong_without_a_word() {
    let first = number("SEED").unwrap_or(1);
    let runs = number("RUNS").unwrap_or(10_000);
    (first..first + runs).for_each(run);
    println!("{runs} runs");
}
