//! One trainee: standing, charts, competencies.

mod charts;
mod curve;
mod lately;
mod quality;
mod record_file;
mod residuals;
mod standing;
mod two_eyes;

use leptos::prelude::*;
use practicum::ids::PersonId;
use practicum::standing::Coaching;

use crate::components::Page;
use crate::session::session;

/// Everything about one trainee's way.
#[component]
pub(crate) fn ProgressPage(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let Some(person) = session.person(&id) else {
        return view! { <Page title="Progress"><p>"This person is not on this device."</p></Page> }.into_any();
    };
    let title = format!("Progress: {}", person.name);
    view! {
        <Page title=title>
            <standing::StandingSection id=id.clone()/>
            <charts::ChartsSection id=id.clone()/>
            <two_eyes::TwoEyesSection id=id.clone()/>
            <standing::Competencies id=id.clone()/>
            <record_file::RecordFileSection id=id.clone()/>
            <p class="toolbar">
                <a href=format!("#/coach/{id}")>"Coaching"</a>
                <a href=format!("#/review/{id}")>"Course-end review"</a>
                <a href=format!("#/log?trainee={id}")>"All services and drills of this trainee"</a>
                <button type="button" class="quiet" on:click=move |_| crate::browser::page::print()>"Print"</button>
            </p>
        </Page>
    }
    .into_any()
}

/// One line of coaching with the services behind it.
#[component]
pub(crate) fn CoachingLine(
    /// The line.
    coaching: Coaching,
) -> impl IntoView {
    let count = format!("{} in {} of the last {} live services", coaching.label, coaching.times, coaching.of_last);
    view! {
        <span class="coaching">
            <strong>{count}</strong>". Likely cause: "{coaching.cause.clone()}". "{coaching.line.clone()}" "
            <ServiceLinks ids=coaching.services.clone()/>
        </span>
    }
}

/// A number that opens into the services it counts.
#[component]
pub(crate) fn Counted(
    /// The number.
    number: u64,
    /// The services.
    ids: Vec<practicum::ids::ServiceId>,
) -> impl IntoView {
    if ids.is_empty() {
        return number.to_string().into_any();
    }
    let words = if ids.len() == 1 { "show the service".to_owned() } else { format!("show {} services", ids.len()) };
    view! {
        <details class="counted">
            <summary>{number.to_string()}<span class="visually-hidden">{format!(": {words}")}</span></summary>
            <ServiceLinks ids=ids/>
        </details>
    }
    .into_any()
}

/// Links to the services that a statement rests on.
#[component]
pub(crate) fn ServiceLinks(
    /// The services.
    ids: Vec<practicum::ids::ServiceId>,
) -> impl IntoView {
    let session = session();
    let link = move |id: practicum::ids::ServiceId| {
        let words = session.service_short(&id);
        view! { <a class="service-link" href=format!("#/service/{id}")>{words}</a>" " }
    };
    view! { <span class="service-links">{ids.into_iter().map(link).collect_view()}</span> }
}
