//! Long work on the page gives everything else its turn in between.

use logbook::turns::Turns;

use crate::browser;

/// Milliseconds of work after which the page has its turn.
const TURN: u64 = 15;
/// The same after a step that took long by itself: the next one may take as long.
const SHORT: u64 = 5;
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

    /// Lets the page go on first, and begins a stretch of work then.
    pub(crate) async fn later() -> Self {
        browser::timer::breathe().await;
        Self::new()
    }

    async fn pause_after(&mut self, milliseconds: u64) {
        self.calls = 0;
        if browser::clock::now().mono_ms.saturating_sub(self.since) >= milliseconds {
            browser::timer::breathe().await;
            self.since = browser::clock::now().mono_ms;
        }
    }
}

impl Turns for PageTurns {
    async fn turn(&mut self) {
        self.calls += 1;
        if self.calls >= CALLS {
            self.pause_after(TURN).await;
        }
    }

    async fn rest(&mut self) {
        self.pause_after(SHORT).await;
    }
}
