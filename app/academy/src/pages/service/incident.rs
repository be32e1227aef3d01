//! The incident of a service: what happened, what was on the eye, what was done.

use leptos::prelude::*;
use logbook::fact::{Aftercare, Fact, Incident, OnEye};
use practicum::after_the_couch::IncidentFollowed;
use practicum::ids::IncidentId;
use practicum::moment::format_seconds;
use practicum::service::Service;

use super::record::may_read;
use crate::components::When;
use crate::pages::form::{Field, LongInput, OnceUnlocked, Saving, SavingLine, TickInput};
use crate::session::{reading, session};

/// The incident, if there was one.
#[component]
pub(super) fn IncidentSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let known = service.incident.as_ref()?;
    let records = session.records();
    let of_service = |incident: &&Incident| incident.service.as_ref() == Some(&service.id) || incident.id == *known;
    let all: Vec<Incident> =
        records.incidents().into_iter().map(|incident| &incident.value).filter(of_service).cloned().collect();
    if all.is_empty() {
        return Some(view! { <h2>"■ Incident"</h2><p>"Its report is not on this device."</p> }.into_any());
    }
    let report = |incident: Incident| {
        let note =
            if may_read(session, &service) { incident.note.clone() } else { "hidden: unlock at the top".to_owned() };
        let by = incident.instructor.as_ref().map(|id| session.person_name(id));
        let id = incident.id.clone();
        view! { <Report incident=incident note=note instructor=by/><Followed id=id/> }
    };
    Some(all.into_iter().map(report).collect_view().into_any())
}

/// What was reported.
#[component]
fn Report(
    /// The incident.
    incident: Incident,
    /// Its note, or that it is hidden.
    note: String,
    /// Who decided, if named.
    instructor: Option<String>,
) -> impl IntoView {
    let steps = incident.steps.iter().map(|done| {
        let at = done.at.map(|at| format!(" at {}", at.format("%H:%M:%S"))).unwrap_or_default();
        view! { <li>{format!("{}{at}", done.step)}</li> }
    });
    let steps = steps.collect_view();
    let on = incident.on_the_eye.iter().map(|on| view! { <li>{on_words(on)}</li> }).collect_view();
    let rinsed = incident.rinsed.map_or_else(|| "not recorded".to_owned(), format_seconds);
    let swelling = if incident.swelling_or_breathing { "■ yes" } else { "no" };
    view! {
        <h2>"■ Incident"</h2>
        <p>{format!("Reported {}.", incident.at.format("%Y-%m-%d %H:%M:%S"))}</p>
        <h3>"On the eyes"</h3>
        {if incident.on_the_eye.is_empty() { view! { <p>"No lotion and no tint."</p> }.into_any() } else { view! { <ul>{on}</ul> }.into_any() }}
        {(!incident.steps.is_empty()).then(|| view! { <h3>"Steps done"</h3><ol>{steps}</ol> })}
        <p>{format!("Rinsed for: {rinsed}. Swelling or trouble breathing: {swelling}.")}</p>
        {instructor.map(|name| view! { <p>{format!("Instructor: {name}")}</p> })}
        {(!note.is_empty()).then(|| view! { <p>{format!("Note: {note}")}</p> })}
    }
}

fn on_words(on: &OnEye) -> String {
    let lot = if on.lot.is_empty() { String::new() } else { format!(", lot {}", on.lot) };
    let time = on.seconds_on.map(|seconds| format!(", on for {}", format_seconds(seconds))).unwrap_or_default();
    format!("{} eye: {} {}{lot}{time}", on.eye.word(), on.kind.word(), on.name)
}

/// What followed an incident, and the form that adds to it.
#[component]
fn Followed(
    /// The incident.
    id: IncidentId,
) -> impl IntoView {
    let session = session();
    let (words, closed, saving) = (Field::empty(), RwSignal::new(false), Saving::new());
    let ids = StoredValue::new(id);
    let lines = move || {
        let records = session.records();
        let known = ids.with_value(|id| records.followed(id).into_iter().cloned().collect::<Vec<_>>());
        known
            .into_iter()
            .map(|one| (one.value.on, one.value.words, session.person_name(&one.author)))
            .collect::<Vec<_>>()
    };
    let is_closed = move || ids.with_value(|id| session.records().incident_closed(id));
    let state = move || if is_closed() { "✓ Closed: nothing more is to follow." } else { "▲ Still to follow." };
    let save = move |_| {
        if words.typed().trim().is_empty() {
            words.refuse("Say what was done or heard.");
            return;
        }
        let (on, incident) = (reading().at.date_naive(), ids.get_value());
        let followed = IncidentFollowed { incident, on, words: words.typed(), closed: closed.get_untracked() };
        let fact = Fact::Aftercare(Aftercare::IncidentFollowed(followed));
        saving.write(session, vec![fact], "It is recorded.".to_owned(), move || words.clear());
    };
    let line = |(on, words, by): (practicum::moment::Day, String, String)| view! { <li>{format!("{on}: {words} ({by})")}</li> };
    view! {
        <h3>"What followed"</h3>
        <p>{state}</p>
        <When when=move || session.may_see_private() fallback=|| view! { <p class="small">"Hidden: unlock at the top."</p> }>
            <ul>{move || lines().into_iter().map(line).collect_view()}</ul>
        </When>
        <OnceUnlocked private=true fallback=|| ()>
            <details class="form-part"><summary>"Add what followed"</summary>
                <LongInput label="What was done or heard" id=ids.with_value(|id| format!("followed-{id}")) field=words/>
                <TickInput label="Nothing more is to follow" ticked=closed/>
                <SavingLine saving=saving/>
                <button type="button" disabled=move || saving.busy() on:click=save>"Record it"</button>
            </details>
        </OnceUnlocked>
    }
}
