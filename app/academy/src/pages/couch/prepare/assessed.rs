//! Whether an assessor will mark this service, and the sound check.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::eye::Eye;

use crate::browser;
use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;

/// Declared before lotion, so that nobody can choose afterwards what counts.
#[component]
pub(super) fn AssessedStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let chosen = RwSignal::new(None::<bool>);
    Effect::new(move |_| {
        if let Some(yes) = chosen.get() {
            couch.tap([Act::WillBeAssessed(yes)]);
        }
    });
    let options = vec![(true, "Yes".to_owned()), (false, "No".to_owned())];
    view! { <Chips legend="Will an assessor mark this service?" name="assessed" options=options chosen=chosen/> }
}

/// Plays both alarms, and asks whether they were heard.
#[component]
pub(super) fn SoundStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let play = move |eye: Eye| {
        let side = match eye {
            Eye::Left => browser::alarm::Side::Left,
            Eye::Right => browser::alarm::Side::Right,
        };
        leptos::task::spawn_local(async move {
            browser::alarm::unlock().await;
            browser::alarm::beep(side);
            browser::alarm::speak(&format!("{} eye", eye.word()));
        });
    };
    view! {
        <p>"Left and right sound different. Play both where the phone will lie."</p>
        <div class="couch-row">
            <button type="button" class="couch-secondary" on:click=move |_| play(Eye::Left)>"Play left"</button>
            <button type="button" class="couch-secondary" on:click=move |_| play(Eye::Right)>"Play right"</button>
        </div>
        <div class="couch-row">
            <button type="button" class="couch-primary" on:click=move |_| couch.tap([Act::SoundChecked(true)])>"Heard both"</button>
            <button type="button" class="couch-secondary" on:click=move |_| couch.tap([Act::SoundChecked(false)])>"Not heard"</button>
        </div>
    }
}
