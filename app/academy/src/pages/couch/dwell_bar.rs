//! Both eyes' countdowns at a glance, and the way to acknowledge an alarm, wherever the page is scrolled.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::eye::Eye;

use super::context::Couch;
use super::lane::capital;
use crate::components::When;

/// Shows each eye that has a product on.
#[component]
pub(super) fn DwellBar() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let any = Memo::new(move |_| couch.with_run(|run| Eye::BOTH.iter().any(|eye| run.product_on(*eye).is_some())));
    view! {
        <When when=move || any.get()>
            <div class="dwell-bar">{Eye::BOTH.into_iter().map(|eye| view! { <Cell eye=eye/> }).collect_view()}</div>
        </When>
    }
}

/// One eye.
#[component]
fn Cell(
    /// The eye.
    eye: Eye,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let dwell = Memo::new(move |_| couch.live().dwell.get(eye).clone());
    let calls = Memo::new(move |_| dwell.with(|dwell| dwell.as_ref().is_some_and(|d| d.due && !d.heard)));
    let state = move || dwell.with(|dwell| dwell.as_ref().map_or("off", super::live::LiveDwell::state));
    let time = move || dwell.with(|dwell| dwell.as_ref().map_or_else(|| "nothing on".to_owned(), |d| d.countdown()));
    let word = capital(eye.word());
    view! {
        <When when=move || calls.get()
            fallback=move || view! {
                <p class=format!("dwell-cell dwell-{}", eye.word()) data-state=state>
                    <span class="dwell-eye">{capital(eye.word())}</span>
                    <span class="dwell-time">{time}</span>
                </p>
            }>
            <button type="button" class=format!("couch-alarm dwell-{}", eye.word()) on:click=move |_| couch.tap([Act::AlarmHeard(eye)])>
                {format!("Alarm heard: {} eye", eye.word())}
                <span class="dwell-time">{time}</span>
            </button>
        </When>
        <span class="visually-hidden" role="status">{move || calls.get().then(|| format!("{word} eye: take the product off now"))}</span>
    }
}
