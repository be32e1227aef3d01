//! The shortest timeline of two chains of operations that share one pair of hands.
//!
//! Each operation holds the hands without a break; between an operation and the next of its chain lies a
//! window, a least and perhaps a most number of seconds in which the hands are free for the other chain.
//! Scheduling of coupled tasks: Shapiro (1980), Naval Research Logistics Quarterly 27:489-498; least and most
//! lags as arcs of a longest-path problem: Roy (1964), Bartusch, Moehring and Radermacher (1988), Annals of
//! Operations Research 16:201-240.
//!
//! All times are whole seconds. Reading order: this file (what is given, what is wrong with it, what holds
//! for any timeline), `search` (the exact search), `order` (starts of a given order), [`overrun`] (when times
//! vary), [`worth`] (what a second of an operation is worth), [`contact`] (windows told from contacts).

pub mod contact;
mod order;
pub mod overrun;
mod search;
pub mod worth;

#[cfg(test)]
mod tests;

use thiserror::Error;

/// Longest duration, lag or deadline that is looked at, seconds: above eleven days nothing here makes sense.
pub const MOST_SECONDS: i64 = 1_000_000;
/// Most operations in a chain.
pub const MOST_OPERATIONS: usize = 64;

/// One of the two chains.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// The first.
    First,
    /// The second.
    Second,
}

impl Side {
    /// Both, in order.
    pub const BOTH: [Side; 2] = [Side::First, Side::Second];

    /// Returns the other one.
    pub fn other(self) -> Self {
        match self {
            Side::First => Side::Second,
            Side::Second => Side::First,
        }
    }
}

/// A value for each of the two chains.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Both<T> {
    /// Of the first chain.
    pub first: T,
    /// Of the second chain.
    pub second: T,
}

impl<T> Both<T> {
    /// Returns the value of one chain.
    pub fn of(&self, side: Side) -> &T {
        match side {
            Side::First => &self.first,
            Side::Second => &self.second,
        }
    }

    /// Returns the value of one chain, to be changed.
    pub fn of_mut(&mut self, side: Side) -> &mut T {
        match side {
            Side::First => &mut self.first,
            Side::Second => &mut self.second,
        }
    }
}

/// What lies between the end of an operation and the start of the next of its chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lag {
    /// Least seconds from the end of the operation; below zero says no more than zero, as the hands do one
    /// thing at a time.
    pub least: i64,
    /// Most seconds; `None` when the next operation may wait for ever.
    pub most: Option<i64>,
    /// Where the most is counted from.
    pub counted: Counted,
}

/// Where the most seconds of a window are counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Counted {
    /// The end of the operation.
    #[default]
    FromEnd,
    /// Its start: the longer the operation takes, the less is left.
    FromStart,
}

impl Lag {
    /// The next operation may follow at once or at any time.
    pub const FREE: Lag = Lag { least: 0, most: None, counted: Counted::FromEnd };

    /// Returns a window with both limits counted from the end of the operation.
    pub const fn between(least: i64, most: i64) -> Self {
        Lag { least, most: Some(most), counted: Counted::FromEnd }
    }

    /// Returns a window with a least only.
    pub const fn at_least(least: i64) -> Self {
        Lag { least, most: None, counted: Counted::FromEnd }
    }

    fn least(self) -> i64 {
        self.least.max(0)
    }
}

/// Operations in their order, and what lies between them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Chain {
    /// Seconds of each operation, hands on.
    pub operations: Vec<i64>,
    /// Window after each operation but the last: one fewer than there are operations.
    pub lags: Vec<Lag>,
    /// Seconds after the last operation until the chain is done, hands free.
    pub final_dwell: i64,
}

impl Chain {
    /// Returns the seconds from the start of the first operation to the end of the final dwell when each
    /// operation starts as early as its chain allows; 0 for an empty chain.
    fn alone(&self) -> i64 {
        if self.operations.is_empty() {
            return 0;
        }
        let lags: i64 = self.lags.iter().map(|lag| lag.least()).sum();
        self.operations.iter().sum::<i64>() + lags + self.final_dwell
    }

    fn operation(&self, at: usize) -> i64 {
        self.operations.get(at).copied().unwrap_or_default()
    }

    /// Returns the window after an operation with both limits counted from the operation's end.
    fn lag(&self, after: usize) -> Lag {
        let lag = self.lags.get(after).copied().unwrap_or(Lag::FREE);
        match lag.counted {
            Counted::FromEnd => lag,
            Counted::FromStart => {
                Lag { most: lag.most.map(|most| most - self.operation(after)), counted: Counted::FromEnd, ..lag }
            }
        }
    }

    fn check(&self, chain: Side) -> Result<(), TimelineError> {
        let operations = self.operations.len();
        if operations > MOST_OPERATIONS {
            return Err(TimelineError::TooManyOperations { chain, operations });
        }
        if self.lags.len() != operations.saturating_sub(1) {
            return Err(TimelineError::Lags { chain, operations, lags: self.lags.len() });
        }
        let sane = |seconds: i64| (0..=MOST_SECONDS).contains(&seconds);
        let out_of_range = |seconds| Err(TimelineError::Seconds { chain, seconds });
        for seconds in self.operations.iter().copied().chain([self.final_dwell]) {
            if !sane(seconds) {
                return out_of_range(seconds);
            }
        }
        for (after, given) in self.lags.iter().enumerate() {
            for seconds in [Some(given.least), given.most].into_iter().flatten() {
                if !(-MOST_SECONDS..=MOST_SECONDS).contains(&seconds) {
                    return out_of_range(seconds);
                }
            }
            let lag = self.lag(after);
            match (lag.most, given.most, given.counted) {
                (Some(most), Some(given), Counted::FromStart) if most < lag.least() => {
                    let operation = self.operation(after);
                    return Err(TimelineError::Operation { chain, after, operation, least: lag.least(), most: given });
                }
                (Some(most), ..) if most < lag.least() => {
                    return Err(TimelineError::Window { chain, after, least: lag.least(), most });
                }
                _ => {}
            }
        }
        Ok(())
    }
}

/// Seconds as a real number.
fn real(seconds: i64) -> f64 {
    seconds as f64
}

/// Why there is no timeline.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum TimelineError {
    /// A window that nothing can meet. Without a deadline this and the next are the only ways to be
    /// impossible: one chain after the other always fits.
    #[error("the window after operation {} of the {chain:?} chain asks for at least {least} s and at most {most} s", after + 1)]
    Window {
        /// Chain of the window.
        chain: Side,
        /// Operation it follows, counted from 0.
        after: usize,
        /// Least seconds.
        least: i64,
        /// Most seconds.
        most: i64,
    },
    /// A window counted from the start of an operation that itself takes too long for it.
    #[error(
        "operation {} of the {chain:?} chain takes {operation} s, then at least {least} s must pass, and at most {most} s are allowed from its start",
        after + 1
    )]
    Operation {
        /// Chain of the window.
        chain: Side,
        /// Operation it follows, counted from 0.
        after: usize,
        /// Seconds of the operation.
        operation: i64,
        /// Least seconds from its end.
        least: i64,
        /// Most seconds from its start.
        most: i64,
    },
    /// No timeline ends by the deadline.
    #[error("the shortest timeline takes {shortest} s, longer than the {deadline} s allowed")]
    Deadline {
        /// Seconds allowed.
        deadline: i64,
        /// Seconds of the shortest timeline.
        shortest: i64,
    },
    /// A number of windows that does not fit the operations.
    #[error("{operations} operations with {lags} windows between them in the {chain:?} chain")]
    Lags {
        /// Chain concerned.
        chain: Side,
        /// Operations given.
        operations: usize,
        /// Windows given.
        lags: usize,
    },
    /// A number of seconds below zero or above [`MOST_SECONDS`].
    #[error("{seconds} s in the {chain:?} chain cannot be planned with")]
    Seconds {
        /// Chain concerned.
        chain: Side,
        /// What was given.
        seconds: i64,
    },
    /// More than [`MOST_OPERATIONS`] in a chain.
    #[error("{operations} operations in the {chain:?} chain, more than can be planned")]
    TooManyOperations {
        /// Chain concerned.
        chain: Side,
        /// Operations given.
        operations: usize,
    },
    /// A timeline to be looked at that breaks a rule.
    #[error("operation {} of the {chain:?} chain starts at {start} s, which its window or the one pair of hands forbids", operation + 1)]
    Start {
        /// Chain concerned.
        chain: Side,
        /// Operation, counted from 0.
        operation: usize,
        /// Its start, seconds.
        start: i64,
    },
    /// Starts or an order that do not name each operation once.
    #[error("the starts do not name each operation once")]
    Starts,
}

/// Two chains that have been checked: a timeline for them exists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Timeline {
    chains: Both<Chain>,
}

impl Timeline {
    /// Checks two chains; either or both may be empty.
    ///
    /// # Errors
    /// When a window cannot be met, a number of seconds makes no sense or the windows do not fit the
    /// operations; the first thing that is wrong is named.
    pub fn new(first: Chain, second: Chain) -> Result<Self, TimelineError> {
        first.check(Side::First)?;
        second.check(Side::Second)?;
        Ok(Self { chains: Both { first, second } })
    }

    /// Returns the chains.
    pub fn chains(&self) -> &Both<Chain> {
        &self.chains
    }

    fn chain(&self, side: Side) -> &Chain {
        self.chains.of(side)
    }

    /// Returns the seconds of working one chain after the other, final dwells waited for.
    pub fn sequential(&self) -> i64 {
        self.chains.first.alone() + self.chains.second.alone()
    }

    /// Returns seconds below which no timeline can be: the longer chain by itself, and all operations.
    pub fn lower_bound(&self) -> i64 {
        let hands: i64 = Side::BOTH.iter().flat_map(|side| &self.chain(*side).operations).sum();
        let final_dwell = Side::BOTH.iter().filter(|side| !self.chain(**side).operations.is_empty());
        let final_dwell = final_dwell.map(|side| self.chain(*side).final_dwell).min().unwrap_or_default();
        (hands + final_dwell).max(self.chains.first.alone()).max(self.chains.second.alone())
    }

    /// Returns the shortest timeline, and of those with its order of operations the one that leaves most
    /// spare seconds in its tightest window.
    ///
    /// Exact: a search over all orders that sets an order aside only when another one with the same
    /// operations done leaves at least as much open. [`Solution::proven`] is false when the search had to be
    /// narrowed (never seen below 16 operations a chain); the timeline then holds but may not be shortest.
    ///
    /// # Errors
    /// [`TimelineError::Deadline`] when `deadline` (seconds) is given and the shortest is longer.
    pub fn shortest(&self, deadline: Option<i64>) -> Result<Solution, TimelineError> {
        let found = search::search(&self.chains);
        let plain = order::earliest(&self.chains, &found.order, 0).ok_or(TimelineError::Starts)?;
        if let Some(deadline) = deadline
            && deadline < plain.makespan
        {
            return Err(TimelineError::Deadline { deadline, shortest: plain.makespan });
        }
        let (schedule, even_spare) = order::most_even(&self.chains, plain);
        Ok(Solution {
            windows: self.windows(&schedule),
            sequential: self.sequential(),
            lower_bound: self.lower_bound(),
            proven: found.proven,
            labels: found.labels,
            even_spare,
            schedule,
        })
    }

    /// Returns the timeline of working the first chain to its end, then the second.
    ///
    /// # Errors
    /// Never for chains that were checked; the type leaves it open.
    pub fn one_after_the_other(&self) -> Result<Schedule, TimelineError> {
        let sides = Side::BOTH.iter().flat_map(|side| self.chain(*side).operations.iter().map(|_| *side));
        let mut schedule = order::earliest(&self.chains, &sides.collect::<Vec<_>>(), 0).ok_or(TimelineError::Starts)?;
        let first = self.chains.first.alone();
        let early = schedule.starts.second.first().map_or(0, |start| (first - start).max(0));
        schedule.starts.second.iter_mut().for_each(|start| *start += early);
        schedule.makespan = self.sequential();
        Ok(schedule)
    }

    /// Checks starts against every window and the one pair of hands, and returns the seconds they take.
    ///
    /// # Errors
    /// The first operation that breaks a rule.
    pub fn check(&self, starts: &Both<Vec<i64>>) -> Result<i64, TimelineError> {
        let mut held: Vec<(i64, i64, Side, usize)> = Vec::new();
        let mut makespan = 0;
        for side in Side::BOTH {
            let (chain, starts) = (self.chain(side), starts.of(side));
            if chain.operations.len() != starts.len() {
                return Err(TimelineError::Starts);
            }
            let mut ended: Option<i64> = None;
            for (at, (start, operation)) in starts.iter().zip(&chain.operations).enumerate() {
                let wrong = TimelineError::Start { chain: side, operation: at, start: *start };
                let lag = at.checked_sub(1).map(|before| chain.lag(before));
                let waited = ended.map(|ended| start.saturating_sub(ended));
                let kept = match (lag, waited) {
                    (Some(lag), Some(waited)) => lag.least() <= waited && lag.most.is_none_or(|most| waited <= most),
                    _ => *start >= 0,
                };
                if !kept {
                    return Err(wrong);
                }
                let end = start.saturating_add(*operation);
                held.push((*start, end, side, at));
                ended = Some(end);
            }
            makespan = makespan.max(ended.map_or(0, |ended| ended.saturating_add(chain.final_dwell)));
        }
        held.sort_unstable();
        for (before, after) in held.iter().zip(held.iter().skip(1)) {
            if after.0 < before.1 {
                return Err(TimelineError::Start { chain: after.2, operation: after.3, start: after.0 });
            }
        }
        Ok(makespan)
    }

    /// Returns how much of each window a timeline uses.
    pub fn windows(&self, schedule: &Schedule) -> Vec<Used> {
        let of = |side: Side| {
            let chain = self.chain(side);
            let starts = schedule.starts.of(side);
            let pairs = starts.iter().zip(starts.iter().skip(1)).zip(&chain.operations).enumerate();
            pairs.map(move |(after, ((start, next), operation))| {
                let (lag, waited) = (chain.lag(after), next.saturating_sub(*start).saturating_sub(*operation));
                Used { chain: side, after, lag, waited, spare: lag.most.map(|most| most.saturating_sub(waited)) }
            })
        };
        Side::BOTH.into_iter().flat_map(of).collect()
    }
}

/// When each operation starts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Schedule {
    /// Chain whose turn it is, one entry for each operation.
    pub order: Vec<Side>,
    /// Start of each operation, seconds from the beginning.
    pub starts: Both<Vec<i64>>,
    /// Seconds from the beginning until both chains are done, final dwells waited for.
    pub makespan: i64,
}

/// A window in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Used {
    /// Chain of the window.
    pub chain: Side,
    /// Operation it follows, counted from 0.
    pub after: usize,
    /// What it allows, both limits from the end of the operation as planned.
    pub lag: Lag,
    /// Seconds between the two operations.
    pub waited: i64,
    /// Seconds left until the most; `None` where there is no most.
    pub spare: Option<i64>,
}

/// A shortest timeline, and what to compare it with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Solution {
    /// The timeline.
    pub schedule: Schedule,
    /// Every window and how much of it is used.
    pub windows: Vec<Used>,
    /// Seconds that every window with a most keeps spare at least, as far as its width allows.
    pub even_spare: i64,
    /// Seconds of working one chain after the other.
    pub sequential: i64,
    /// Seconds below which no timeline can be, from a simple count.
    pub lower_bound: i64,
    /// No shorter timeline exists.
    pub proven: bool,
    /// Partial orders that were looked at.
    pub labels: usize,
}

impl Solution {
    /// Returns the seconds saved against working one chain after the other; 0 when overlapping gains nothing.
    pub fn saved(&self) -> i64 {
        self.sequential.saturating_sub(self.schedule.makespan)
    }
}
