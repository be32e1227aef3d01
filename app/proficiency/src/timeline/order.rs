//! Starts for a given order of operations: longest paths over the constraints (Bellman-Ford).

use super::{Both, Chain, Lag, MOST_SECONDS, Schedule, Side};

/// An operation in its place in an order.
#[derive(Clone, Copy)]
pub(super) struct Turn {
    pub(super) side: Side,
    /// Place in its chain, from 0.
    pub(super) at: usize,
}

/// Returns the operations in an order; `None` when it does not name each once.
pub(super) fn turns(chains: &Both<Chain>, order: &[Side]) -> Option<Vec<Turn>> {
    let mut done: Both<usize> = Both::default();
    let mut turns = Vec::with_capacity(order.len());
    for side in order {
        let at = done.of_mut(*side);
        turns.push(Turn { side: *side, at: *at });
        *at += 1;
    }
    let all = |side: Side| *done.of(side) == chains.of(side).operations.len();
    Side::BOTH.into_iter().all(all).then_some(turns)
}

/// A start is at least another's start plus so many seconds.
pub(super) struct Arc {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) seconds: i64,
}

/// Returns the constraints on the starts of an order, every most taken as `spare` seconds shorter but never
/// below its least.
pub(super) fn arcs(chains: &Both<Chain>, turns: &[Turn], spare: i64) -> Vec<Arc> {
    let mut arcs = Vec::with_capacity(turns.len() * 3);
    let mut previous: Both<Option<usize>> = Both::default();
    for (to, turn) in turns.iter().enumerate() {
        let chain = chains.of(turn.side);
        if let Some(from) = to.checked_sub(1)
            && let Some(before) = turns.get(from)
        {
            arcs.push(Arc { from, to, seconds: chains.of(before.side).operation(before.at) });
        }
        if let (Some(from), Some(before)) = (*previous.of(turn.side), turn.at.checked_sub(1)) {
            let (operation, lag) = (chain.operation(before), chain.lag(before));
            arcs.push(Arc { from, to, seconds: operation + lag.least() });
            if let Some(most) = shorter(lag, spare) {
                arcs.push(Arc { from: to, to: from, seconds: -(operation + most) });
            }
        }
        *previous.of_mut(turn.side) = Some(to);
    }
    arcs
}

fn shorter(lag: Lag, spare: i64) -> Option<i64> {
    lag.most.map(|most| (most - spare).max(lag.least()))
}

/// Raises starts until every constraint holds; `None` when none can (a circle of constraints).
pub(super) fn settle(arcs: &[Arc], starts: &mut [i64]) -> Option<()> {
    for _ in 0..=starts.len() {
        let mut raised = false;
        for arc in arcs {
            let at_least = starts.get(arc.from)?.saturating_add(arc.seconds);
            let start = starts.get_mut(arc.to)?;
            if *start < at_least {
                *start = at_least;
                raised = true;
            }
        }
        if !raised {
            return Some(());
        }
    }
    None
}

/// Returns the timeline of an order with every operation as early as it can be when each window keeps `spare`
/// seconds (as far as its width allows); `None` when that is impossible.
pub(super) fn earliest(chains: &Both<Chain>, order: &[Side], spare: i64) -> Option<Schedule> {
    let turns = turns(chains, order)?;
    let mut settled = vec![0; turns.len()];
    settle(&arcs(chains, &turns, spare), &mut settled)?;
    let mut starts: Both<Vec<i64>> = Both::default();
    for (turn, start) in turns.iter().zip(settled) {
        starts.of_mut(turn.side).push(start);
    }
    let end = |side: Side| {
        let chain = chains.of(side);
        let (start, operation) = (starts.of(side).last(), chain.operations.last());
        start.zip(operation).map_or(0, |(start, operation)| start + operation + chain.final_dwell)
    };
    let makespan = end(Side::First).max(end(Side::Second));
    Some(Schedule { order: order.to_vec(), starts, makespan })
}

/// Returns the timeline of the same order and length that keeps most spare in its tightest window, and that
/// spare; by halving, as less spare is always possible.
pub(super) fn most_even(chains: &Both<Chain>, plain: Schedule) -> (Schedule, i64) {
    let lags = |side: Side| (0..chains.of(side).lags.len()).map(move |after| chains.of(side).lag(after));
    let widest = Side::BOTH.into_iter().flat_map(lags);
    let widest = widest.filter_map(|lag| Some(lag.most? - lag.least())).max().unwrap_or_default();
    let (mut best, mut low, mut high) = (plain, 0, widest.clamp(0, MOST_SECONDS));
    while low < high {
        let middle = low + (high - low + 1) / 2;
        match earliest(chains, &best.order, middle) {
            Some(found) if found.makespan <= best.makespan => {
                best = found;
                low = middle;
            }
            _ => high = middle - 1,
        }
    }
    (best, low)
}
