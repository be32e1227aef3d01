//! The first page: what most people came to do, in one tap.

use leptos::prelude::*;
use practicum::person::Role;

use crate::components::Page;
use crate::session::session;

/// The start page.
#[component]
pub(crate) fn StartPage() -> impl IntoView {
    let session = session();
    let founded = move || session.records().academy().is_some();
    view! {
        <Show when=founded fallback=|| view! { <super::set_up::SetUpPage/> }>
            <Today/>
        </Show>
    }
}

/// What can be done now, by who is using the device.
#[component]
fn Today() -> impl IntoView {
    let session = session();
    let name = move || session.records().academy().map(|academy| academy.name.clone()).unwrap_or_default();
    let running = move || !session.runs().is_empty();
    let trainee = move || session.who().filter(|person| person.role == Role::Trainee);
    let own = move || {
        trainee()
            .map(|person| view! { <a class="start-link" href=format!("#/progress/{}", person.id)>"My progress"</a> })
    };
    let waiting = move || session.waiting_for_marks();
    view! {
        <Page title="Start">
            <p class="lead">{name}</p>
            <Show when=move || session.who().is_none()>
                <p class="notice notice-info">"Say at the top who is using this device."</p>
            </Show>
            <div class="start-links">
                <Show when=running
                    fallback=|| view! { <a class="start-link start-main" href="#/couch">"Start a service or drill"</a> }>
                    <a class="start-link start-main" href="#/couch/run">"Go on with the service under way"</a>
                </Show>
                {own}
                <a class="start-link" href="#/marking">"Marking: "{move || waiting().to_string()}" to mark"</a>
                <a class="start-link" href="#/log">"Log"</a>
                <a class="start-link" href="#/group">"Group"</a>
                <a class="start-link" href="#/hand-over">"Hand-over and backup"</a>
            </div>
        </Page>
    }
}
