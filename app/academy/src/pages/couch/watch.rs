//! What the couch does by itself while a run is on the page: ticks, and marks in the record when its clocks were
//! not watched or cannot be trusted.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::couch::fold::{Phase, Run};
use practicum::eye::Eye;
use practicum::moment::{Seconds, format_seconds};

use super::context::Couch;
use crate::browser;

/// Milliseconds from one look at the clocks to the next.
const TICK_MS: u32 = 500;

/// Ticks until the owner is gone, and records what happened while nobody looked.
pub(super) fn watch(couch: Couch) {
    arrive(couch);
    let ticking = browser::timer::every(TICK_MS, move || {
        if couch.now.try_set(crate::session::reading()).is_none() {
            see_the_clock(couch);
        }
    });
    // Dropped with the page: no tick outlives the run's screen.
    let ticking = StoredValue::new_local(ticking);
    on_cleanup(move || {
        let _ = ticking.try_update_value(Option::take);
    });
}

/// A page that opens upon a run says so in the record: a stretch of time that nobody watched ends here.
fn arrive(couch: Couch) {
    let now = crate::session::reading();
    let (book, opening, taps) = (couch.book(), couch.opening(), couch.taps_now());
    let Some(last) = taps.last().filter(|last| last.reading.page != now.page) else { return };
    let run = Run::fold(&book, &opening, &taps);
    if matches!(run.phase(), Phase::Finished | Phase::Stopped(_)) {
        return;
    }
    let on = Eye::BOTH.iter().any(|eye| run.product_on(*eye).is_some());
    let away = practicum::couch::clock::stretch(&last.reading, &now);
    let mut acts = vec![Act::ClockSeen];
    acts.extend(on.then(|| Act::AlarmMayBeLost(away_words((away.ms / 1_000).try_into().unwrap_or(Seconds::MAX)))));
    couch.tap(acts);
}

fn away_words(seconds: Seconds) -> String {
    format!("the app was closed or loaded anew for up to {}", format_seconds(seconds))
}

/// Ends a stretch of time in the record as soon as its clocks disagree.
fn see_the_clock(couch: Couch) {
    let taps = couch.taps_now();
    let Some(last) = taps.last() else { return };
    let doubt = practicum::couch::clock::stretch(&last.reading, &couch.now.get_untracked()).doubt;
    if doubt.is_some() && couch.problem.with_untracked(Option::is_none) {
        couch.tap([Act::ClockSeen]);
    }
}
