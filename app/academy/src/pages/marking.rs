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
            <h2>"To mark"</h2>
            <When when=move || waiting().is_empty()><p>"Nothing waits to be marked."</p></When>
            <ul class="plain-list">{move || waiting().into_iter().map(row).collect_view()}</ul>
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
                    <li><a href=format!("#/progress/{}", trainee.id)>{name}</a>": "<super::progress::CoachingLine coaching=coaching/></li>
                }
            })
            .collect_view()
    };
    view! {
        <h2>"To coach"</h2>
        <ul class="plain-list">{lines}</ul>
    }
}
