//! Long work that lets other work have its turn in between: on a page nothing else moves meanwhile.
//!
//! The work is written once, as a future that pauses where its [`Turns`] say so. Whoever has nothing else to do runs
//! it [`at_once`].

use std::future::Future;
use std::pin::pin;
use std::task::{Context, Poll, Waker};

/// When long work pauses, and for how long.
pub trait Turns {
    /// Called every now and then by the work: pauses where enough was worked at a stretch.
    fn turn(&mut self) -> impl Future<Output = ()>;

    /// Called after a step that took long by itself: pauses unless hardly anything was worked.
    fn rest(&mut self) -> impl Future<Output = ()> {
        self.turn()
    }
}

/// Never pauses.
#[derive(Debug, Clone, Copy, Default)]
pub struct AtOnce;

impl Turns for AtOnce {
    async fn turn(&mut self) {}
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
