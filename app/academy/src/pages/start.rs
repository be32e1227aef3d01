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
    let teaches = move || session.who().is_some_and(|person| person.role.may_assess());
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
            <p class="lead" dir="auto">{name}</p>
            <When when=move || session.who().is_none()>
                <p class="notice notice-info">"Say at the top who is using this device."</p>
            </When>
            <super::settings::BackupReminder/>
            <Missing/>
            <super::coach::OpenCoaching/>
            <div class="start-links">
                <When when=running
                    fallback=move || view! {
                        <a class="start-link" class:start-main=move || !teaches() href="#/couch">"Start a service or drill"</a>
                    }>
                    <a class="start-link start-main" href="#/couch/run">"Go on with the service under way"</a>
                </When>
                {own}
                <a class="start-link" class:start-main=move || teaches() && !running() href="#/marking">{waiting}</a>
                <a class="start-link" href="#/log">"Log"</a>
                <a class="start-link" href="#/group">"Group"</a>
                <a class="start-link" href="#/hand-over">"Hand-over and backup"</a>
            </div>
        </Page>
    }
}

/// What a new academy still lacks before the first live service.
#[component]
fn Missing() -> impl IntoView {
    let session = session();
    let steps = move || {
        let records = session.records();
        let steps = [
            (session.trainees().is_empty(), "#/people", "Enrol trainees"),
            (records.products().is_empty(), "#/products", "Enter products with their dwell figures"),
            (records.practice_models().is_empty(), "#/practice-models", "Add practice models, with consents and tests"),
        ];
        steps.into_iter().filter(|(missing, _, _)| *missing).collect::<Vec<_>>()
    };
    view! {
        <When when=move || !steps().is_empty()>
            <section>
                <h2>"Before the first live service"</h2>
                <ul class="plain-list">
                    {move || steps().into_iter().map(|(_, to, words)| view! { <li><a href=to>{words}</a></li> }).collect_view()}
                </ul>
            </section>
        </When>
    }
}
