//! Consents, looked at together with the practice model today.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::practice_model::ConsentKind;

use crate::components::When;
use crate::pages::couch::context::Couch;

/// Shows both consents, records missing ones, and notes that they were looked at.
#[component]
pub(super) fn ConsentStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let Some(person) = couch.with_run(|run| run.prepared().practice_model.clone()) else {
        return view! { <p>"Choose the practice model first."</p> }.into_any();
    };
    let texts = couch.book().consent_texts.clone();
    let [service, record] = texts;
    let part = move |kind: ConsentKind, title: &'static str, text: String| {
        let (holding, giving) = (person.clone(), person.clone());
        let holds = Memo::new(move |_| session.consent_holds(&holding, kind));
        let give = move |_| session.give_consent(giving.clone(), kind);
        let give = StoredValue::new(give);
        view! {
            <h3>{title}</h3>
            <p>{text}</p>
            <When when=move || holds.get()
                fallback=move || view! {
                    <button type="button" class="couch-secondary" on:click=move |event| give.with_value(|give| give(event))>
                        {format!("Has read this and agrees: {}", title.to_lowercase())}
                    </button>
                }>
                <p>"✓ given, and not withdrawn"</p>
            </When>
        }
    };
    view! {
        {part(ConsentKind::Service, "The service", service)}
        {part(ConsentKind::Record, "The training record", record)}
        <button type="button" class="couch-primary" on:click=move |_| couch.tap([Act::ConsentChecked])>
            "Checked together today"
        </button>
    }
    .into_any()
}
