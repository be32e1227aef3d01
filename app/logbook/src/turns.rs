//! Long work that lets other work have its turn in between: on a page nothing else moves meanwhile.
//!
//! The work is written once, as a future that pauses where its [`Turns`] say so. Whoever has nothing else to do runs
//! it [`at_once`]. Turns are asked through a table and not compiled into the work: so the work is compiled here, for
//! speed, and not once more in the page, for size.

use std::future::Future;
use std::pin::{Pin, pin};
use std::task::{Context, Poll, Waker};

/// When long work pauses, and for how long.
pub trait Turns {
    /// Says at every small step of the work whether it is to pause now.
    fn due(&mut self) -> bool;

    /// The same after a step that took long by itself: the next one may take as long.
    fn due_after_long_step(&mut self) -> bool {
        self.due()
    }

    /// Pauses.
    fn pause(&mut self) -> Pin<Box<dyn Future<Output = ()> + '_>>;
}

impl dyn Turns + '_ {
    /// Pauses where it is due.
    pub async fn turn(&mut self) {
        if self.due() {
            self.pause().await;
        }
    }

    /// Pauses where it is due after a long step.
    pub async fn rest(&mut self) {
        if self.due_after_long_step() {
            self.pause().await;
        }
    }
}

/// Never pauses.
#[derive(Debug, Clone, Copy, Default)]
pub struct AtOnce;

impl Turns for AtOnce {
    fn due(&mut self) -> bool {
        false
    }

    fn pause(&mut self) -> Pin<Box<dyn Future<Output = ()> + '_>> {
        Box::pin(std::future::ready(()))
    }
}

/// Runs work that never pauses to its end.
pub fn at_once<T>(work: impl Future<Output = T>) -> T {
    let (mut work, mut context) = (pin!(work), Context::from_waker(Waker::noop()));
    loop {
        if let Poll::Ready(done) = work.as_mut().poll(&mut context) {
            return done;
        }
    }
}
