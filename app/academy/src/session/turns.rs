//! Long work on the page gives everything else its turn in between.

use std::future::Future;
use std::pin::Pin;

use logbook::turns::Turns;

use crate::browser;

/// Milliseconds of work after which the page has its turn.
const TURN: u64 = 15;
/// The same after a step that took long by itself: the next one may take as long.
const SHORT: u64 = 5;
/// Steps between two looks at the clock: a look takes longer than most steps.
const STEPS: u32 = 16;

/// Pauses whenever enough was worked at a stretch.
pub(crate) struct PageTurns {
    since: u64,
    steps: u32,
}

impl PageTurns {
    /// Begins a stretch of work.
    pub(crate) fn new() -> Self {
        Self { since: browser::clock::now().mono_ms, steps: 0 }
    }

    /// Lets the page go on first, and begins a stretch of work then.
    pub(crate) async fn later() -> Self {
        browser::timer::breathe().await;
        Self::new()
    }

    /// Pauses where it is due, after a small step.
    pub(crate) async fn turn(&mut self) {
        (self as &mut dyn Turns).turn().await;
    }

    /// Pauses where it is due, after a long step.
    pub(crate) async fn rest(&mut self) {
        (self as &mut dyn Turns).rest().await;
    }

    fn worked(&mut self, milliseconds: u64) -> bool {
        self.steps = 0;
        browser::clock::now().mono_ms.saturating_sub(self.since) >= milliseconds
    }
}

impl Turns for PageTurns {
    fn due(&mut self) -> bool {
        self.steps += 1;
        self.steps >= STEPS && self.worked(TURN)
    }

    fn due_after_long_step(&mut self) -> bool {
        self.worked(SHORT)
    }

    fn pause(&mut self) -> Pin<Box<dyn Future<Output = ()> + '_>> {
        Box::pin(async {
            browser::timer::breathe().await;
            self.since = browser::clock::now().mono_ms;
        })
    }
}
