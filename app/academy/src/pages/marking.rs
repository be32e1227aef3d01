//! What waits for an instructor: services to mark, overrides to confirm, and coaching.

mod answer;
mod disputes;
mod duplicates;
mod overrides;

use leptos::prelude::*;
use practicum::service::Service;

use crate::components::{Page, When};
use crate::session::session;

pub(crate) use overrides::{claim_in_words, state_in_words};

/// The list of what waits.
#[component]
pub(crate) fn MarkingPage() -> impl IntoView {
    let session = session();
    let waiting = move || session.services_to_mark();
    let row = move |service: Service| {
        let line = session.service_line(&service);
        let declared = match service.will_be_assessed {
            Some(false) => " · declared as not to be assessed",
            _ => "",
        };
        view! { <li><a href=format!("#/mark/{}", service.id)>{line}</a>{declared}</li> }
    };
    view! {
        <Page title="Marking">
            <When when=move || !session.may_assess()><super::mark::UnlockFirst/></When>
            <super::settings::BackupReminder/>
            <h2>"To mark"</h2>
            <When when=move || waiting().is_empty()><p>"Nothing waits to be marked."</p></When>
            <ul class="plain-list">{move || waiting().into_iter().map(row).collect_view()}</ul>
            <Waiting/>
            <overrides::OverridesToConfirm/>
            <disputes::OpenDisputes/>
            <duplicates::LookAlikes/>
            <answer::AnswerPart/>
            <Coaching/>
        </Page>
    }
}

/// Repeated faults of every trainee, with the services behind them.
#[component]
fn Coaching() -> impl IntoView {
    let session = session();
    let lines = move || {
        session
            .trainees()
            .into_iter()
            .filter_map(|trainee| session.standing(&trainee.id).map(|standing| (trainee, standing)))
            .flat_map(|(trainee, standing)| {
                standing.coaching.into_iter().map(move |coaching| (trainee.clone(), coaching))
            })
            .map(|(trainee, coaching)| {
                let name = trainee.name.clone();
                view! {
                    <li><a href=format!("#/coach/{}", trainee.id)>{name}</a>": "<super::progress::CoachingLine coaching=coaching/></li>
                }
            })
            .collect_view()
    };
    view! {
        <h2>"To coach"</h2>
        <ul class="plain-list">{lines}</ul>
    }
}

/// Everything else that waits, each line leading to where it is done; a line goes when it is done.
#[component]
fn Waiting() -> impl IntoView {
    let session = session();
    let lines = move || session.waiting();
    let line = |one: crate::session::WaitingLine| view! { <li><a href=one.to>{one.words}</a></li> };
    view! {
        <p><a href="#/agreement">{move || format!(
            "Marking by two: {} for a second assessor, agreement, samples", session.double_marks_due().len()
        )}</a></p>
        <h2>"Also waiting"</h2>
        <When when=move || lines().is_empty()><p>"○ Nothing else waits."</p></When>
        {move || {
            let all = lines();
            let of = |kind: &'static str| {
                let own: Vec<_> = all.iter().filter(|one| one.kind == kind).cloned().collect();
                let count = own.len();
                (count > 0).then(|| view! {
                    <details open=count <= 6><summary>{format!("{kind}: {count}")}</summary>
                        <ul class="plain-list">{own.into_iter().map(line).collect_view()}</ul>
                    </details>
                })
            };
            crate::session::KINDS.map(of).collect_view()
        }}
    }
}
