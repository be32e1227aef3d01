//! Signatures of this device's own log: checked beside the page each time the log was opened.
//!
//! They were checked before they were stored. Checking ten thousand of them anew takes a second and more, which nobody
//! at a couch waits for: what is on the screen meanwhile is what was believed when it came in.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::entry::SignatureCheck;

use super::Session;
use crate::browser;
use crate::worker::signatures;

/// Signatures that the worker is given at a time.
const AT_A_TIME: usize = 500;
/// Signatures that are checked between two looks at what else the page has to do, where there is no worker.
const IN_A_STEP: usize = 8;

impl Session {
    /// Checks what was not checked since the log was opened; an entry that does not hold is listed and believed no
    /// more.
    pub(super) fn check_signatures(&self) {
        if self.checking.get_value() || self.logbook.with_value(|logbook| logbook.unchecked(1).is_empty()) {
            return;
        }
        self.checking.set_value(true);
        let session = *self;
        leptos::task::spawn_local(async move {
            session.check_left().await;
            session.checking.set_value(false);
        });
    }

    async fn check_left(&self) {
        loop {
            let left = self.logbook.with_value(|logbook| logbook.unchecked(AT_A_TIME));
            if left.is_empty() {
                return;
            }
            let (hashes, checks): (Vec<String>, Vec<SignatureCheck>) = left.into_iter().unzip();
            let found: Vec<(String, bool)> = hashes.into_iter().zip(hold(&checks).await).collect();
            if self.logbook.try_update_value(|logbook| Arc::make_mut(logbook).checked(&found)) == Some(true) {
                self.show_opened(self.logbook.get_value());
            }
        }
    }
}

/// Says of each signature whether it holds: by the worker, or in short steps on the page.
async fn hold(checks: &[SignatureCheck]) -> Vec<bool> {
    let answer = browser::worker::work_out(&signatures::write_ask(checks)).await;
    if let Some(holds) = answer.ok().and_then(|numbers| signatures::read_answer(&numbers, checks.len())) {
        return holds;
    }
    let mut holds = Vec::with_capacity(checks.len());
    for step in checks.chunks(IN_A_STEP) {
        holds.extend(step.iter().map(SignatureCheck::holds));
        browser::timer::pause(0).await;
    }
    holds
}
