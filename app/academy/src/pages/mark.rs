//! Marking a service or drill by an assessor. The trainee's own view stays hidden until this is saved.

use std::collections::BTreeMap;

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::course_book::{Criterion, IndependenceLevel};
use practicum::ids::ServiceId;
use practicum::outcome::{FaultSeen, Outcome, applicable};
use practicum::service::Service;

use super::rubric::{FaultForm, Marks, RubricForm, unmarked};
use super::service::TimesTable;
use crate::components::Page;
use crate::session::{Session, session};

/// What an assessor fills in.
#[derive(Clone, Copy)]
struct Form {
    marks: Marks,
    faults: RwSignal<Vec<FaultSeen>>,
    comment: RwSignal<String>,
    next: RwSignal<Option<u8>>,
    observed: RwSignal<bool>,
    problem: RwSignal<Option<String>>,
}

/// Marks one service.
#[component]
pub(crate) fn MarkPage(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    let found = session.service(&id);
    let allowed = Memo::new(move |_| session.may_assess());
    view! {
        <Page title="Mark a service">
            {match found {
                None => view! { <p>"This service is not on this device."</p> }.into_any(),
                Some(service) => {
                    let service = StoredValue::new(service);
                    view! {
                        <Show when=move || allowed.get() fallback=|| view! { <UnlockFirst/> }>
                            <MarkForm service=service.get_value()/>
                        </Show>
                    }
                    .into_any()
                }
            }}
        </Page>
    }
}

/// Says who may do this, and how.
#[component]
pub(crate) fn UnlockFirst() -> impl IntoView {
    view! {
        <p class="notice notice-info">
            "● For an instructor or the owner: switch at the top and unlock with the PIN. It locks again after five minutes."
        </p>
    }
}

/// The form.
#[component]
fn MarkForm(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let form = Form {
        marks: RwSignal::new(BTreeMap::new()),
        faults: RwSignal::new(Vec::new()),
        comment: RwSignal::new(String::new()),
        next: RwSignal::new(None),
        observed: RwSignal::new(false),
        problem: RwSignal::new(None),
    };
    let Some(book) = session.book_of(&service) else {
        return view! { <p>"The course book of this service is not on this device."</p> }.into_any();
    };
    let criteria: Vec<Criterion> = applicable(&book, &service).into_iter().cloned().collect();
    let cap = service.times.timing_cap(book.rules.late_seconds);
    let breaches = service.times.breaches(book.rules.late_seconds);
    let faults = book.faults.iter().map(|fault| (fault.id.clone(), fault.label.clone())).collect::<Vec<_>>();
    let levels = book.independence.clone();
    let needed = criteria.clone();
    let claimed = session.has_claimed_override(&service);
    let id = service.id.clone();
    let save = move |_| save(session, form, &needed, id.clone());
    view! {
        <p class="lead">{session.service_line(&service)}</p>
        <TimesTable service=service.clone() against=true/>
        {(!breaches.is_empty()).then(|| view! {
            <p class="notice notice-danger">{format!("■ Safety breach recorded by the clocks: {}. The whole service is Not yet.", breaches.join("; "))}</p>
        })}
        <p class="small">"Keys 1 to 4 mark the row that has the focus; Tab goes to the next row."</p>
        <RubricForm criteria=criteria cap=cap marks=form.marks/>
        <FaultForm faults=faults seen=form.faults/>
        <Independence levels=levels next=form.next/>
        <label class="chip">
            <input type="checkbox" disabled=claimed prop:checked=move || form.observed.get()
                on:change:target=move |event| form.observed.set(event.target().checked())/>
            <span>{if claimed { "Observed (not possible: an override is claimed, not confirmed)" } else { "Observed from end to end" }}</span>
        </label>
        <label class="field">
            <span>"Comment"</span>
            <textarea rows="3" prop:value=move || form.comment.get()
                on:input:target=move |event| form.comment.set(event.target().value())></textarea>
        </label>
        <div role="alert">{move || form.problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
        <button type="button" class="button-primary" on:click=save>"Save the marks"</button>
    }
    .into_any()
}

/// Independence level for next time.
#[component]
fn Independence(
    /// Levels of the course book.
    levels: Vec<IndependenceLevel>,
    /// The choice.
    next: RwSignal<Option<u8>>,
) -> impl IntoView {
    let options =
        levels.into_iter().map(|level| (level.level, format!("{} {}", level.level, level.label))).collect::<Vec<_>>();
    view! { <super::couch::Chips legend="Independence next time" name="independence" options=options chosen=next/> }
}

fn save(session: Session, form: Form, criteria: &[Criterion], service: ServiceId) {
    if let Some(sentence) = unmarked(criteria, &form.marks.get()) {
        form.problem.set(Some(sentence));
        return;
    }
    if form.next.get().is_none() {
        form.problem.set(Some("Choose the independence level for next time. Nothing was lost.".to_owned()));
        return;
    }
    let Some(marker) = session.who() else { return };
    let outcome = Outcome {
        service: service.clone(),
        marker: marker.id,
        at: crate::session::reading().at,
        marks: form.marks.get(),
        faults: form.faults.get(),
        comment: form.comment.get().trim().to_owned(),
        independence_next: form.next.get(),
        observed: form.observed.get(),
    };
    leptos::task::spawn_local(async move {
        match session.write(vec![Fact::OutcomeMarked(outcome)]).await {
            Ok(()) => crate::browser::page::set_hash(&format!("#/service/{service}")),
            Err(sentence) => form.problem.set(Some(sentence)),
        }
    });
}
