//! Ending a run early, for another reason than a reaction.

use leptos::prelude::*;
use practicum::couch::{Act, Stop};
use practicum::eye::Eye;

use super::chips::Chips;
use super::context::Couch;
use crate::components::HoldButton;

/// Why a run is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Why {
    BeforeLotion,
    Fault,
    Other,
}

/// Said when a run is to be stopped while its countdowns still matter.
const STILL_ON: &str = "A product is on an eye: take it off and tap “Off, started”, then stop. \
    For a reaction use the red button.";

/// Stops the run after a reason and a hold.
#[component]
pub(crate) fn StopEarly() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let why = RwSignal::new(None::<Why>);
    let words = RwSignal::new(String::new());
    let begun = couch.with_run(|run| run.lotion_begun());
    let mut options = vec![(Why::Fault, "For a fault".to_owned()), (Why::Other, "For another reason".to_owned())];
    let drill = couch.opening().what != practicum::couch::What::Service;
    if !begun && !drill {
        options.insert(0, (Why::BeforeLotion, "Screening, consent or test: no lotion today".to_owned()));
    }
    let stop = move |()| {
        // A stop ends every countdown: none may end while its product stays on.
        if couch.with_run(|run| Eye::BOTH.iter().any(|eye| run.product_on(*eye).is_some())) {
            couch.problem.set(Some(STILL_ON.to_owned()));
            return;
        }
        let said = words.get().trim().to_owned();
        match why.get() {
            _ if said.is_empty() => couch.problem.set(Some("Say in a few words why the service stops.".to_owned())),
            None => couch.problem.set(Some("Choose why the service stops.".to_owned())),
            Some(Why::BeforeLotion) => couch.tap([Act::Stop(Stop::BeforeLotion(said))]),
            Some(Why::Fault) => couch.tap([Act::Stop(Stop::Fault(said))]),
            Some(Why::Other) => couch.tap([Act::Stop(Stop::Other(said))]),
        }
    };
    view! {
        <details class="stop-early">
            <summary>{if drill { "Stop this drill before its end" } else { "Stop this service before its end" }}</summary>
            <Chips legend="Why?" name="stop-why" options=options chosen=why/>
            <label class="field">
                <span>"In a few words"</span>
                <input type="text" prop:value=move || words.get() on:input:target=move |event| words.set(event.target().value())/>
            </label>
            <HoldButton label=if drill { "Hold to stop the drill" } else { "Hold to stop the service" } on_hold=Callback::new(stop)/>
        </details>
    }
}
