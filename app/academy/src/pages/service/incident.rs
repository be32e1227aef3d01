//! The incident of a service: what happened, what was on the eye, what was done.

use leptos::prelude::*;
use logbook::fact::{Incident, OnEye};
use practicum::moment::format_seconds;
use practicum::service::Service;

use super::record::may_read;
use crate::session::session;

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
        view! { <Report incident=incident note=note instructor=by/> }
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
