//! When the times of operations vary: the chance that a window is overrun, and how long the whole takes.
//!
//! Each operation takes a log-normal time, independent of the others. The order of operations is kept; each
//! starts as soon as the hands are free, its window has opened, and the rest of the plan, at its planned
//! times, can follow without overrunning a window that the new operation opens. The chances are counted over
//! seeded draws (a plain Monte Carlo count with its standard error), as no closed form exists for sums and
//! largest values of log-normal times.

use thiserror::Error;

use super::order::{Turn, settle, turns};
use super::{Both, Counted, Lag, Schedule, Side, Timeline, order, real};
use crate::normal;

/// Most draws.
pub const MOST_DRAWS: u32 = 1_000_000;

/// How the time of an operation varies: log-normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Typical (median) seconds, 0 or more.
    pub median: f64,
    /// Standard deviation of the natural logarithm of the time, 0 to 5; 0 when it never varies.
    pub log_sd: f64,
}

impl Spread {
    /// Returns the seconds that the operation does not exceed with chance `share` (0 to 1), rounded up: the
    /// planned time of the 90th percentile for .9.
    ///
    /// # Errors
    /// When the spread, the share or the seconds cannot be planned with.
    pub fn planned(&self, share: f64) -> Result<i64, SpreadError> {
        self.check()?;
        let z = normal::exceeded_with(1.0 - share).ok_or(SpreadError::Share(share))?;
        let seconds = (self.median * (self.log_sd * z).exp()).ceil();
        whole(seconds).ok_or(SpreadError::Spread { median: self.median, log_sd: self.log_sd })
    }

    fn check(&self) -> Result<(), SpreadError> {
        let fine = (0.0..=1e6).contains(&self.median) && (0.0..=5.0).contains(&self.log_sd);
        if fine { Ok(()) } else { Err(SpreadError::Spread { median: self.median, log_sd: self.log_sd }) }
    }
}

/// Why no chance can be stated.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum SpreadError {
    /// A time that is no time.
    #[error("a typical time of {median} s with a spread of {log_sd} on the log scale")]
    Spread {
        /// Median seconds given.
        median: f64,
        /// Spread given.
        log_sd: f64,
    },
    /// A share outside 0 to 1.
    #[error("a share of {0} is not between 0 and 1")]
    Share(f64),
    /// The spreads or the order do not name each operation once.
    #[error("the spreads or the order do not name each operation once")]
    Names,
    /// No draws, or more than [`MOST_DRAWS`].
    #[error("{0} draws")]
    Draws(u32),
}

/// The chance that a window is overrun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overrun {
    /// Chain of the window.
    pub chain: Side,
    /// Operation it follows, counted from 0.
    pub after: usize,
    /// Chance that the next operation starts after the window has closed, 0 to 1.
    pub chance: f64,
    /// Standard error of the chance.
    pub error: f64,
}

/// What happens to a plan when times vary.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// One for each window with a most.
    pub windows: Vec<Overrun>,
    /// Chance that any window is overrun, 0 to 1.
    pub any: f64,
    /// Median of the whole, seconds.
    pub typical: f64,
    /// Seconds that the whole does not exceed nine times in ten.
    pub nine_in_ten: f64,
}

impl Kept {
    /// Returns the windows overrun more often than `limit` (0 to 1); a plan with any is not to be offered.
    pub fn above(&self, limit: f64) -> impl Iterator<Item = &Overrun> {
        // A limit that is no number allows nothing.
        self.windows.iter().filter(move |window| limit.is_nan() || window.chance > limit)
    }
}

/// Counts how often a plan's windows are overrun, and how long it takes, over `draws` seeded draws.
///
/// `spreads` holds one entry for each operation; the durations in `timeline` are the planned ones and decide
/// only how far an operation that opens a window is held back. `even_spare` is that of the solution.
///
/// # Errors
/// When a spread cannot be, the spreads or the order do not fit the timeline, or there are no draws.
pub fn overrun(
    timeline: &Timeline,
    schedule: &Schedule,
    even_spare: i64,
    spreads: &Both<Vec<Spread>>,
    draws: u32,
    seed: u64,
) -> Result<Kept, SpreadError> {
    if draws == 0 || draws > MOST_DRAWS {
        return Err(SpreadError::Draws(draws));
    }
    let chains = timeline.chains();
    let even_spare = even_spare.clamp(0, super::MOST_SECONDS);
    let turns = turns(chains, &schedule.order).ok_or(SpreadError::Names)?;
    let mut works = Vec::with_capacity(turns.len());
    let mut windows = Vec::new();
    for (place, turn) in turns.iter().enumerate() {
        let spread = spreads.of(turn.side).get(turn.at).ok_or(SpreadError::Names)?;
        spread.check()?;
        let chain = chains.of(turn.side);
        let lag = chain.lags.get(turn.at).copied().filter(|_| turn.at + 1 < chain.operations.len());
        let window = lag.filter(|lag| lag.most.is_some()).map(|_| {
            windows.push(Overrun { chain: turn.side, after: turn.at, chance: 0.0, error: 0.0 });
            windows.len() - 1
        });
        works.push(Work {
            side: turn.side,
            spread: *spread,
            lag: lag.unwrap_or(Lag::FREE),
            window,
            hold: hold(timeline, &turns, place, even_spare),
        });
    }
    for side in Side::BOTH {
        if spreads.of(side).len() != chains.of(side).operations.len() {
            return Err(SpreadError::Names);
        }
    }
    let dwell = |side: Side| if chains.of(side).operations.is_empty() { 0 } else { chains.of(side).final_dwell };
    let dwells = Both { first: real(dwell(Side::First)), second: real(dwell(Side::Second)) };
    let mut chance = Chance::new(seed);
    let mut counts = vec![0_u32; windows.len()];
    let (mut any, mut wholes) = (0_u32, Vec::new());
    for _ in 0..draws {
        let (whole, overran) = once(&works, &dwells, &mut chance, &mut counts);
        any += u32::from(overran);
        wholes.push(whole);
    }
    wholes.sort_by(f64::total_cmp);
    let all = f64::from(draws);
    for (window, count) in windows.iter_mut().zip(counts) {
        window.chance = f64::from(count) / all;
        window.error = (window.chance * (1.0 - window.chance) / all).sqrt();
    }
    windows.sort_by_key(|window| (window.chain, window.after));
    let quantile = |tenths: usize| wholes.get(wholes.len() * tenths / 10).copied().unwrap_or_default();
    Ok(Kept { windows, any: f64::from(any) / all, typical: quantile(5), nine_in_ten: quantile(9) })
}

/// An operation in its turn.
struct Work {
    side: Side,
    spread: Spread,
    /// The window it opens.
    lag: Lag,
    /// Place of that window in the counts.
    window: Option<usize>,
    /// How much later than the opening of the other chain's window this may start, at planned times; a
    /// negative number holds it back to so many seconds before. `None` when the other chain does not hold it.
    hold: Option<f64>,
}

/// Runs one service; returns its seconds and whether any window was overrun.
fn once(works: &[Work], dwells: &Both<f64>, chance: &mut Chance, counts: &mut [u32]) -> (f64, bool) {
    let mut free = 0.0_f64;
    // When the window after the last operation of each chain opens and closes.
    let mut opens = Both { first: 0.0_f64, second: 0.0_f64 };
    let mut closes: Both<Option<(f64, usize)>> = Both { first: None, second: None };
    let mut whole = 0.0_f64;
    let mut overran = false;
    for work in works {
        let mut start = free.max(*opens.of(work.side));
        if let Some(hold) = work.hold {
            start = start.max(opens.of(work.side.other()) + hold);
        }
        if let Some((closed, window)) = *closes.of(work.side)
            && start > closed + 1e-9
        {
            overran = true;
            if let Some(count) = counts.get_mut(window) {
                *count += 1;
            }
        }
        let seconds = work.spread.median * (work.spread.log_sd * chance.normal()).exp();
        let end = start + seconds;
        free = end;
        *opens.of_mut(work.side) = end + real(work.lag.least());
        let from = match work.lag.counted {
            Counted::FromEnd => end,
            Counted::FromStart => start,
        };
        *closes.of_mut(work.side) = work.lag.most.zip(work.window).map(|(most, window)| (from + real(most), window));
        whole = whole.max(end + dwells.of(work.side));
    }
    (whole, overran)
}

/// Returns the longest path, at planned times, from the next operation of the other chain to the one at
/// `place`, through what is still to come.
fn hold(timeline: &Timeline, turns: &[Turn], place: usize, even_spare: i64) -> Option<f64> {
    const NEVER: i64 = -(1 << 40);
    let here = turns.get(place)?;
    let other = turns.iter().skip(place).position(|turn| turn.side != here.side)? + place;
    let arcs = order::arcs(timeline.chains(), turns, even_spare);
    let arcs: Vec<_> = arcs.into_iter().filter(|arc| arc.from >= place && arc.to >= place).collect();
    let mut reached = vec![NEVER; turns.len()];
    *reached.get_mut(other)? = 0;
    settle(&arcs, &mut reached)?;
    reached.get(place).copied().filter(|seconds| *seconds > NEVER / 2).map(real)
}

/// A real number without fraction as seconds; `None` outside what can be planned.
fn whole(seconds: f64) -> Option<i64> {
    (0.0..=real(super::MOST_SECONDS)).contains(&seconds).then_some(seconds as i64)
}

/// A stream of chance numbers from a seed: SplitMix64 (Steele, Lea and Flood 2014), and the normal numbers of
/// Box and Muller (1958).
struct Chance {
    state: u64,
    kept: Option<f64>,
}

impl Chance {
    fn new(seed: u64) -> Self {
        Self { state: seed, kept: None }
    }

    /// Returns a number strictly between 0 and 1.
    fn uniform(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        let top = u32::try_from(mixed >> 32).unwrap_or_default();
        (f64::from(top) + 0.5) / 4_294_967_296.0
    }

    fn normal(&mut self) -> f64 {
        if let Some(kept) = self.kept.take() {
            return kept;
        }
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        let (sine, cosine) = (std::f64::consts::TAU * self.uniform()).sin_cos();
        self.kept = Some(radius * sine);
        radius * cosine
    }
}
