//! Batches that were imported, and undoing one.

use leptos::prelude::*;
use logbook::Fact;
use logbook::records::ImportRecord;

use crate::session::session;

/// All imports of this log.
#[component]
pub(super) fn Batches() -> impl IntoView {
    let session = session();
    let batches = move || session.records().imports().to_vec();
    view! {
        <Show when=move || !batches().is_empty()>
            <h2>"Imports"</h2>
            <ul class="plain-list">{move || batches().into_iter().map(|batch| view! { <Batch batch=batch/> }).collect_view()}</ul>
        </Show>
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
        session.person_name(&batch.by),
        batch.rejected
    );
    let state = batch.withdrawn.as_ref().map(|gone| format!(" · ▲ withdrawn: {}", gone.reason));
    let open = batch.withdrawn.is_none();
    let reason = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let id = batch.batch.clone();
    let undo = move |_| {
        let why = reason.get().trim().to_owned();
        if why.is_empty() {
            problem.set(Some("Say why this import is undone.".to_owned()));
            return;
        }
        let fact = Fact::ImportWithdrawn { batch: id.clone(), reason: why };
        leptos::task::spawn_local(async move {
            let outcome = if session.may_assess() {
                session.write(vec![fact]).await
            } else {
                Err("An instructor or the owner undoes an import: switch at the top and unlock.".to_owned())
            };
            if let Err(sentence) = outcome {
                problem.set(Some(sentence));
            }
        });
    };
    view! {
        <li>
            {line}{state}
            {open.then(|| view! {
                <details>
                    <summary>"Undo this import"</summary>
                    <p class="small">"One entry withdraws all its rows; they stay readable under “Withdrawn” in the log."</p>
                    <label class="field"><span>"Why"</span>
                        <input type="text" prop:value=move || reason.get() on:input:target=move |event| reason.set(event.target().value())/>
                    </label>
                    <div role="alert">{move || problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
                    <button type="button" on:click=undo>"Undo it"</button>
                </details>
            })}
        </li>
    }
}
