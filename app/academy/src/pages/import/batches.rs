//! Batches that were imported, and undoing one.

use leptos::prelude::*;
use logbook::Fact;
use logbook::records::ImportRecord;

use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, name};
use crate::session::session;

/// All imports of this log.
#[component]
pub(super) fn Batches() -> impl IntoView {
    let session = session();
    let batches = move || session.records().imports().to_vec();
    view! {
        <When when=move || !batches().is_empty()>
            <h2>"Imports"</h2>
            <ul class="plain-list">{move || batches().into_iter().map(|batch| view! { <Batch batch=batch/> }).collect_view()}</ul>
        </When>
    }
}

/// One import.
#[component]
fn Batch(
    /// The import.
    batch: ImportRecord,
) -> impl IntoView {
    let session = session();
    let line = format!(
        "{}, {}: {} rows by {}, {} left out",
        batch.at.date_naive(),
        batch.file_name,
        batch.services.len(),
        untrack(|| session.person_name(&batch.by)),
        batch.rejected
    );
    let state = batch.withdrawn.as_ref().map(|gone| format!(" · ▲ withdrawn: {}", gone.reason));
    let open = batch.withdrawn.is_none();
    let reason = Field::empty();
    let saving = Saving::new();
    let id = batch.batch.clone();
    let input = format!("undo-{id}");
    let undo = move |_| {
        let Some(why) = reason.read(|typed| name("why this import is undone", typed)) else { return };
        if !untrack(|| session.may_assess()) {
            return saving
                .say(Err("An instructor or the owner undoes an import: switch at the top and unlock.".to_owned()));
        }
        let fact = Fact::ImportWithdrawn { batch: id.clone(), reason: why };
        saving.write(session, vec![fact], "The import is undone.".to_owned(), || ());
    };
    view! {
        <li>
            {line}{state}
            {open.then(|| view! {
                <details>
                    <summary>"Undo this import"</summary>
                    <p class="small">"One entry withdraws all its rows; they stay readable under “Withdrawn” in the log."</p>
                    <TextInput label="Why" id=input field=reason/>
                    <SavingLine saving=saving/>
                    <button type="button" disabled=move || saving.busy() on:click=undo>"Undo it"</button>
                </details>
            })}
        </li>
    }
}
