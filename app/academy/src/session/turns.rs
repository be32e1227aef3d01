//! Long work on the page gives everything else its turn in between.

use logbook::turns::Turns;

use crate::browser;

/// Milliseconds of work after which the page has its turn.
const TURN: u64 = 15;
/// Calls between two looks at the clock: a look takes longer than most steps.
const CALLS: u32 = 8;

/// Pauses whenever enough was worked at a stretch.
pub(crate) struct PageTurns {
    since: u64,
    calls: u32,
}

impl PageTurns {
    /// Begins a stretch of work.
    pub(crate) fn new() -> Self {
        Self { since: browser::clock::now().mono_ms, calls: 0 }
    }

    /// Pauses now if enough was worked.
    pub(crate) async fn rest(&mut self) {
        self.calls = 0;
        if browser::clock::now().mono_ms.saturating_sub(self.since) >= TURN {
            browser::timer::pause(0).await;
            self.since = browser::clock::now().mono_ms;
        }
    }
}

impl Turns for PageTurns {
    async fn turn(&mut self) {
        self.calls += 1;
        if self.calls >= CALLS {
            self.rest().await;
        }
    }
}
