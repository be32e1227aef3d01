//! On every other page while a run is under way: its alarms, its countdowns, the way back, and the reaction in one tap.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::couch::fold::Phase;

use super::alarms::Alarms;
use super::context::Couch;
use super::dwell_bar::DwellBar;
use super::watch::watch;
use crate::browser;
use crate::components::When;
use crate::session::session;

/// Shows that a run is under way and keeps its alarms going.
#[component]
pub(crate) fn UnderWay() -> impl IntoView {
    let session = session();
    let there = Memo::new(move |_| !session.runs().is_empty());
    view! {
        <When when=move || there.get()>
            <nav class="under-way" aria-label="Service under way">
                <a class="button-primary" href="#/couch/run">"● A service is under way: go to it"</a>
                <Running/>
            </nav>
        </When>
    }
}

/// The run, read from the disk; until it is read, and where it cannot be, the first response is still one tap away.
#[component]
fn Running() -> impl IntoView {
    let session = session();
    let run = LocalResource::new(move || async move { session.load_run().await });
    let plain = || view! { <a class="button-danger" href="#/first-response">"■ Reaction: first response"</a> };
    view! {
        <Suspense fallback=plain>
            {move || Suspend::new(async move {
                match run.await {
                    Ok(Some((book, opening, taps))) => {
                        let couch = Couch::new(session, book, opening, taps);
                        view! { <Watched couch=couch/> }.into_any()
                    }
                    _ => plain().into_any(),
                }
            })}
        </Suspense>
    }
}

/// Alarms, countdowns, reaction.
#[component]
fn Watched(
    /// The run.
    couch: Couch,
) -> impl IntoView {
    provide_context(couch);
    watch(couch);
    let over = Memo::new(move |_| couch.with_run(|run| matches!(run.phase(), Phase::Finished | Phase::Stopped(_))));
    let asked = RwSignal::new(false);
    let react = move |_| {
        asked.set(true);
        couch.tap([Act::Reaction(browser::random::hex_id().as_str().into())]);
    };
    Effect::new(move |_| {
        if !asked.get() {
            return;
        }
        if couch.with_run(|run| matches!(run.phase(), Phase::Reaction(_))) {
            browser::page::set_hash("#/couch/run");
        } else if couch.problem.with(Option::is_some) {
            // It could not be recorded; what to do comes first.
            browser::page::set_hash("#/first-response");
        }
    });
    view! {
        <div class="couch-elsewhere">
            <Alarms/>
            <DwellBar/>
            <When when=move || !over.get()>
                <button type="button" class="button-danger" on:click=react>"■ Reaction"</button>
            </When>
            <div role="alert">
                {move || couch.problem.get().map(|sentence| view! { <p class="notice notice-danger">{sentence}</p> })}
            </div>
        </div>
    }
}
