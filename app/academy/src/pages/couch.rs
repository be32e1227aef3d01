//! The couch: opening a service or drill, and the run under way.

mod alarms;
mod answers;
mod check;
mod chips;
mod context;
mod doubts;
mod dwell_bar;
mod elsewhere;
mod finish;
mod flow;
mod gate_view;
mod lane;
mod live;
mod override_code;
mod plan;
mod prepare;
mod reaction;
mod run_page;
mod start;
mod stop;
mod watch;

use leptos::prelude::*;

use crate::components::When;
use crate::session::session;

pub(crate) use chips::Chips;
pub(crate) use doubts::{Said, StretchForm, sentence, stated};
pub(crate) use elsewhere::UnderWay;
pub(crate) use lane::capital;
pub(crate) use reaction::FirstResponseSteps;

/// Opens a run, or offers to go on with the one under way.
#[component]
pub(crate) fn CouchPage() -> impl IntoView {
    let session = session();
    view! {
        <When when=move || session.runs().is_empty() fallback=|| view! { <GoOn/> }>
            <start::StartForm/>
        </When>
    }
}

/// Says that a run is under way.
#[component]
fn GoOn() -> impl IntoView {
    view! {
        <section class="page">
            <h1>"A service is under way on this device"</h1>
            <p><a class="button-primary" href="#/couch/run">"Go on with it"</a></p>
        </section>
    }
}

/// The run under way, read from the disk.
#[component]
pub(crate) fn CouchRunPage() -> impl IntoView {
    let session = session();
    let run = LocalResource::new(move || async move { session.load_run().await });
    view! {
        <Suspense fallback=|| view! { <p>"Reading the service under way…"</p> }>
            {move || Suspend::new(async move {
                match run.await {
                    Ok(Some((book, opening, taps))) => {
                        let couch = context::Couch::new(session, book, opening, taps);
                        view! { <run_page::RunScreen couch=couch/> }.into_any()
                    }
                    Ok(None) => view! {
                        <section class="page">
                            <h1>"No service is under way"</h1>
                            <p><a href="#/couch">"Start one"</a></p>
                        </section>
                    }.into_any(),
                    Err(sentence) => view! {
                        <section class="page">
                            <h1>"The service under way cannot be read"</h1>
                            <p class="notice notice-danger">{sentence}</p>
                        </section>
                    }.into_any(),
                }
            })}
        </Suspense>
    }
}
