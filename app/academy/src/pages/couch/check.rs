//! Who looked, at an instructor's check: named anew at each check.

use leptos::prelude::*;
use practicum::couch::{Act, What};
use practicum::ids::PersonId;

use super::chips::Chips;
use super::context::Couch;

/// Who looked, and a note.
#[derive(Clone, Copy)]
pub(super) struct CheckBy {
    /// The instructor.
    pub(super) by: RwSignal<Option<PersonId>>,
    /// What is to be done again; may be empty.
    pub(super) note: RwSignal<String>,
}

/// Asks who looked.
#[component]
pub(super) fn WhoLooked() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let CheckBy { by, note } = expect_context::<CheckBy>();
    by.set(None);
    note.set(String::new());
    let people = couch.session().instructors().into_iter().map(|person| (person.id, person.name)).collect();
    view! {
        <div class="check-by">
            <Chips legend="Who looked?" name="check-by" options=people chosen=by/>
            <label class="field">
                <span>"Note (may stay empty)"</span>
                <input type="text" prop:value=move || note.get() on:input:target=move |event| note.set(event.target().value())/>
            </label>
        </div>
    }
}

/// Records acts; a check of a live service only with the name of who looked.
pub(super) fn with_name(couch: Couch, check: CheckBy, acts: Vec<Act>) {
    let (who, said) = (check.by.get_untracked(), check.note.get_untracked().trim().to_owned());
    let checks = acts.iter().any(|act| matches!(act, Act::CheckDone { .. }));
    let live = couch.opening().what == What::Service;
    if checks && live && who.is_none() {
        couch.problem.set(Some("Choose who looked, then tap again.".to_owned()));
        return;
    }
    couch.tap(acts.into_iter().map(|act| match act {
        Act::CheckDone { stage, go_on, .. } => Act::CheckDone { stage, by: who.clone(), go_on, note: said.clone() },
        other => other,
    }));
}
