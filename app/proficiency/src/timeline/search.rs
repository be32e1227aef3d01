//! The exact search for a shortest order of operations.
//!
//! Orders are grown operation by operation. All that the rest of a timeline can feel of a partial order is
//! held by four numbers about its last operation in each chain, *a* and *b*: the earliest start of *a*, the
//! earliest start of *b*, and the least and the most that *b* may start after *a* (the constraints on all
//! starts are differences, and these four are their exact projection, by Fourier-Motzkin elimination, on *a*,
//! *b* and zero). A partial order is set aside when another one over the same operations, ending in the same
//! chain, is at least as good in all four; or when it cannot end before a timeline that is known.

use super::{Both, Chain, Side};

/// Larger than any sum of seconds.
const FAR: i64 = 1 << 50;
/// Most partial orders kept with the same operations done; never reached in proven searches.
const MOST_LABELS: usize = 400;

/// What the search found.
pub(super) struct Found {
    pub(super) order: Vec<Side>,
    pub(super) proven: bool,
    pub(super) labels: usize,
}

/// A partial order.
#[derive(Clone, Copy)]
struct Label {
    /// Earliest start of the last operation of each chain.
    earliest: Both<i64>,
    /// Least and most that the last operation of the second chain starts after that of the first.
    apart: (i64, i64),
    /// Chain of the last operation.
    last: Side,
    /// Place in the list of all labels of the order without the last operation.
    before: Option<usize>,
    /// No timeline that goes on from here is shorter.
    bound: i64,
}

impl Label {
    fn at_least_as_good(&self, other: &Label) -> bool {
        self.earliest.first <= other.earliest.first
            && self.earliest.second <= other.earliest.second
            && self.apart.0 <= other.apart.0
            && self.apart.1 >= other.apart.1
    }

    /// Returns the limits on how much later the last operation of the other chain than that of `side` starts.
    fn apart_from(&self, side: Side) -> (i64, i64) {
        match side {
            Side::First => self.apart,
            Side::Second => (-self.apart.1, -self.apart.0),
        }
    }
}

/// Numbers of a chain that are asked for again and again.
struct Tails {
    /// Seconds from the start of each operation to the end of the chain, windows at their least.
    rest: Vec<i64>,
    /// Seconds of the operations from each one on.
    hands: Vec<i64>,
}

impl Tails {
    fn new(chain: &Chain) -> Self {
        let operations = chain.operations.len();
        let (mut rest, mut hands) = (Vec::with_capacity(operations + 1), Vec::with_capacity(operations + 1));
        let (mut to_end, mut work) = (0, 0);
        hands.push(0);
        for at in (0..operations).rev() {
            let operation = chain.operation(at);
            to_end += operation + if at + 1 == operations { chain.final_dwell } else { chain.lag(at).least() };
            work += operation;
            rest.push(to_end);
            hands.push(work);
        }
        rest.reverse();
        rest.push(0);
        hands.reverse();
        Self { rest, hands }
    }

    fn rest(&self, from: usize) -> i64 {
        self.rest.get(from).copied().unwrap_or_default()
    }

    fn hands(&self, from: usize) -> i64 {
        self.hands.get(from).copied().unwrap_or_default()
    }
}

struct Search<'a> {
    chains: &'a Both<Chain>,
    tails: Both<Tails>,
}

/// Finds a shortest order of two checked chains.
pub(super) fn search(chains: &Both<Chain>) -> Found {
    let tails = Both { first: Tails::new(&chains.first), second: Tails::new(&chains.second) };
    Search { chains, tails }.run()
}

impl Search<'_> {
    fn operations(&self, side: Side) -> usize {
        self.chains.of(side).operations.len()
    }

    fn run(&self) -> Found {
        let lengths = Both { first: self.operations(Side::First), second: self.operations(Side::Second) };
        let total = lengths.first + lengths.second;
        let start = Label { earliest: Both::default(), apart: (-FAR, FAR), last: Side::First, before: None, bound: 0 };
        let mut all = vec![start];
        // One list for each number of operations of the first chain done, of places in `all`.
        let mut layer: Vec<Vec<usize>> = vec![vec![0]];
        // One chain after the other is a timeline already; what is as long must stay, so that one is found.
        let known = self.chains.first.alone() + self.chains.second.alone();
        let mut proven = true;
        for done in 0..total {
            let mut next: Vec<Vec<usize>> = vec![Vec::new(); (done + 1).min(lengths.first) + 1];
            for (first, places) in layer.iter().enumerate() {
                let at = Both { first, second: done - first.min(done) };
                for place in places {
                    for side in Side::BOTH {
                        if *at.of(side) >= *lengths.of(side) {
                            continue;
                        }
                        let Some(label) = all.get(*place).and_then(|label| self.grow(label, &at, side, *place)) else {
                            continue;
                        };
                        let cell = next.get_mut(first + usize::from(side == Side::First));
                        if label.bound <= known
                            && let Some(cell) = cell
                        {
                            keep(cell, label, &mut all);
                        }
                    }
                }
            }
            for cell in &mut next {
                if cell.len() > MOST_LABELS {
                    let bound = |place: &usize| all.get(*place).map_or(FAR, |label| label.bound);
                    cell.sort_by_key(bound);
                    cell.truncate(MOST_LABELS);
                    proven = false;
                }
            }
            layer = next;
        }
        let ends = layer.iter().flatten().filter_map(|place| Some((all.get(*place)?.bound, *place)));
        let Some((_, place)) = ends.min() else {
            let sides = Side::BOTH.into_iter().flat_map(|side| std::iter::repeat_n(side, *lengths.of(side)));
            return Found { order: sides.collect(), proven: false, labels: all.len() };
        };
        let mut order = Vec::with_capacity(total);
        let mut label = all.get(place);
        while let Some(Label { before: Some(before), last, .. }) = label {
            order.push(*last);
            label = all.get(*before);
        }
        order.reverse();
        Found { order, proven, labels: all.len() }
    }

    /// Adds the next operation of `side` to a partial order with `at` operations done; `None` when some
    /// window then cannot be met.
    fn grow(&self, label: &Label, at: &Both<usize>, side: Side, place: usize) -> Option<Label> {
        let other = side.other();
        let (here, there) = (*at.of(side), *at.of(other));
        let (own, opposite) = (*label.earliest.of(side), *label.earliest.of(other));
        let (lag, ran) = match here.checked_sub(1) {
            Some(before) => (Some(self.chains.of(side).lag(before)), self.chains.of(side).operation(before)),
            None => (None, 0),
        };
        let (low, high) = label.apart_from(side);
        // The hands come from the other chain: the new operation waits for that one to end.
        let after_other = match there.checked_sub(1) {
            Some(before) if label.last == other => self.chains.of(other).operation(before),
            _ => -FAR,
        };
        // Limits of the new operation's start: against the last of its own chain, then against the other's.
        let (least, most) = match lag {
            Some(lag) => (ran + lag.least(), lag.most.map_or(FAR, |most| ran + most)),
            None => (0, FAR),
        };
        let (mut start, mut opposite, mut at_least, mut at_most) = (0, opposite, after_other, FAR);
        if lag.is_some() {
            start = own + least;
            if there > 0 {
                at_least = at_least.max(least - high);
                at_most = (most - low).min(FAR);
                opposite = opposite.max(own + low);
            }
        }
        if at_least > at_most {
            return None;
        }
        if there > 0 {
            start = start.max(opposite + at_least);
            opposite = opposite.max(start - at_most);
        }
        let apart = match (there > 0, side) {
            (false, _) => (-FAR, FAR),
            (true, Side::First) => (-at_most, -at_least),
            (true, Side::Second) => (at_least, at_most),
        };
        let mut earliest = Both::default();
        *earliest.of_mut(side) = start;
        *earliest.of_mut(other) = opposite;
        let mut label = Label { earliest, apart, last: side, before: Some(place), bound: 0 };
        label.bound = self.bound(&label, here + 1, there);
        Some(label)
    }

    /// Returns seconds that no timeline from here on beats: each chain's rest, and all that the hands still do.
    fn bound(&self, label: &Label, here: usize, there: usize) -> i64 {
        let side = label.last;
        let (done, left) = (here.saturating_sub(1), side.other());
        let end = label.earliest.of(side) + self.chains.of(side).operation(done);
        let own = label.earliest.of(side) + self.tails.of(side).rest(done);
        let more_here = here < self.operations(side);
        let more_there = there < self.operations(left);
        let opposite = match there.checked_sub(1) {
            Some(before) => {
                let chain = self.chains.of(left);
                let began = label.earliest.of(left);
                let waits = began + chain.operation(before) + chain.lag(before).least();
                if more_there {
                    waits.max(end) + self.tails.of(left).rest(there)
                } else {
                    began + self.tails.of(left).rest(before)
                }
            }
            None if more_there => end + self.tails.of(left).rest(0),
            None => 0,
        };
        let dwell = |side: Side| self.chains.of(side).final_dwell;
        let last = match (more_here, more_there) {
            (true, true) => dwell(side).min(dwell(left)),
            (true, false) => dwell(side),
            (false, true) => dwell(left),
            (false, false) => 0,
        };
        let hands = end + self.tails.of(side).hands(here) + self.tails.of(left).hands(there) + last;
        own.max(opposite).max(hands)
    }
}

/// Adds a label to a cell unless one there is at least as good, and takes out those it beats.
fn keep(cell: &mut Vec<usize>, label: Label, all: &mut Vec<Label>) {
    let same_end = |place: &usize| all.get(*place).filter(|known| known.last == label.last);
    if cell.iter().filter_map(same_end).any(|known| known.at_least_as_good(&label)) {
        return;
    }
    cell.retain(|place| same_end(place).is_none_or(|known| !label.at_least_as_good(known)));
    cell.push(all.len());
    all.push(label);
}
