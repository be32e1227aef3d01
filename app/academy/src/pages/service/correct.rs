//! Correcting a record: a new entry with a reason; the old value stays readable.

use leptos::prelude::*;
use logbook::Fact;
use practicum::ids::ServiceId;
use practicum::service::Service;

use crate::components::Page;
use crate::session::{Session, session};

/// Corrects what was written about a service. Times tapped live cannot be changed here.
#[component]
pub(crate) fn CorrectPage(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    view! {
        <Page title="Correct a record">
            {match session.service(&id) {
                Some(service) => view! { <Form service=service/> }.into_any(),
                None => view! { <p>"This service is not on this device."</p> }.into_any(),
            }}
        </Page>
    }
}

/// The form.
#[component]
fn Form(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let room = RwSignal::new(service.room.clone());
    let comfort = RwSignal::new(service.comfort.clone());
    let note = RwSignal::new(service.note.clone());
    let reason = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let line = session.service_line(&service);
    let service = StoredValue::new(service);
    let save = move |_| {
        if reason.get().trim().is_empty() {
            problem.set(Some("Say why it is corrected. Nothing was lost.".to_owned()));
            return;
        }
        let mut corrected = service.get_value();
        corrected.room = room.get().trim().to_owned();
        corrected.comfort = comfort.get().trim().to_owned();
        corrected.note = note.get().trim().to_owned();
        leptos::task::spawn_local(async move {
            if let Err(sentence) = write(session, corrected, reason.get_untracked().trim().to_owned()).await {
                problem.set(Some(sentence));
            }
        });
    };
    let field = |label: &'static str, text: RwSignal<String>| {
        view! {
            <label class="field">
                <span>{label}</span>
                <textarea rows="2" prop:value=move || text.get() on:input:target=move |event| text.set(event.target().value())></textarea>
            </label>
        }
    };
    view! {
        <p class="lead">{line}</p>
        <p>"The record gets a new version; the old one stays readable beside it. Times tapped live cannot be changed."</p>
        {field("Room", room)}
        {field("Comfort", comfort)}
        {field("Note", note)}
        {field("Why is it corrected?", reason)}
        <div role="alert">{move || problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
        <button type="button" class="button-primary" on:click=save>"Record the correction"</button>
    }
}

async fn write(session: Session, corrected: Service, reason: String) -> Result<(), String> {
    let records = session.records_now();
    let known = records.service(&corrected.id).ok_or("This service is not on this device.")?;
    let who = session.who_now().ok_or("Say at the top who is using this device.")?;
    if who.id != corrected.trainee && !who.role.may_assess() {
        return Err("A trainee corrects own records only.".to_owned());
    }
    let of = known.latest.clone();
    let id = corrected.id.clone();
    let fact = if corrected.is_service() { Fact::ServiceLogged(corrected) } else { Fact::DrillLogged(corrected) };
    session.write(vec![Fact::Corrected { of, reason, fact: Box::new(fact) }]).await?;
    crate::browser::page::set_hash(&format!("#/service/{id}"));
    Ok(())
}
