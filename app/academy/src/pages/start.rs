//! The first page: what most people came to do, in one tap.

use leptos::prelude::*;
use practicum::person::Role;

use crate::components::{Page, When};
use crate::session::session;

/// The start page.
#[component]
pub(crate) fn StartPage() -> impl IntoView {
    let session = session();
    let founded = move || session.records().academy().is_some();
    view! {
        <When when=founded fallback=|| view! { <super::set_up::SetUpPage/> }>
            <Today/>
        </When>
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
    let waiting = move || {
        let (marks, overrides) = (session.waiting_for_marks(), session.overrides_to_confirm().len());
        let also = if overrides > 0 { format!(", {overrides} overrides to confirm") } else { String::new() };
        format!("Marking: {marks} to mark{also}")
    };
    view! {
        <Page title="Start">
            <p class="lead">{name}</p>
            <When when=move || session.who().is_none()>
                <p class="notice notice-info">"Say at the top who is using this device."</p>
            </When>
            <div class="start-links">
                <When when=running
                    fallback=|| view! { <a class="start-link start-main" href="#/couch">"Start a service or drill"</a> }>
                    <a class="start-link start-main" href="#/couch/run">"Go on with the service under way"</a>
                </When>
                {own}
                <a class="start-link" href="#/marking">{waiting}</a>
                <a class="start-link" href="#/log">"Log"</a>
                <a class="start-link" href="#/group">"Group"</a>
                <a class="start-link" href="#/hand-over">"Hand-over and backup"</a>
            </div>
        </Page>
    }
}
