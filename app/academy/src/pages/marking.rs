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
    // Worked out once a change: with hundreds of trainees it goes through every service.
    let lines = Memo::new(move |_| session.waiting());
    view! {
        <p><a href="#/agreement">{move || format!(
            "Marking by two: {} for a second assessor, agreement, samples", session.double_marks_due().len()
        )}</a></p>
        <p><a href="#/sign-several">"Sign several competencies"</a></p>
        <h2>"Also waiting"</h2>
        <When when=move || lines.with(Vec::is_empty)><p>"○ Nothing else waits."</p></When>
        {move || {
            let all = lines.get();
            let of = |kind: &'static str| {
                let own: Vec<_> = all.iter().filter(|one| one.kind == kind).cloned().collect();
                let count = own.len();
                (count > 0).then(|| view! {
                    <details open=count <= 6><summary>{format!("{kind}: {count}")}</summary>
                        <SomeLines lines=own/>
                    </details>
                })
            };
            crate::session::KINDS.map(of).collect_view()
        }}
    }
}

/// How many lines of a kind are drawn at first, and how many more each time.
const SHOWN_AT_FIRST: usize = 25;

/// Lines of one kind, the first of them; the others on asking.
#[component]
fn SomeLines(
    /// The lines.
    lines: Vec<crate::session::WaitingLine>,
) -> impl IntoView {
    let shown = RwSignal::new(SHOWN_AT_FIRST);
    let total = lines.len();
    let lines = StoredValue::new(lines);
    let line = |one: crate::session::WaitingLine| view! { <li><a href=one.to>{one.words}</a></li> };
    let drawn = move || {
        let first = lines.with_value(|lines| lines.iter().take(shown.get()).cloned().collect::<Vec<_>>());
        first.into_iter().map(line).collect_view()
    };
    let more = move |_| shown.update(|shown| *shown = shown.saturating_add(SHOWN_AT_FIRST));
    view! {
        <ul class="plain-list">{drawn}</ul>
        <When when=move || shown.get() < total>
            <p><button type="button" on:click=more>
                {move || format!("Show more ({} not shown)", total.saturating_sub(shown.get()))}
            </button></p>
        </When>
    }
}
