//! A trainee's record as one file, for somebody outside to verify.

use leptos::prelude::*;
use practicum::ids::PersonId;

use crate::browser;
use crate::components::When;
use crate::pages::form::{Saving, SavingLine, TickInput};
use crate::session::session;

/// Hands out the file.
#[component]
pub(super) fn RecordFileSection(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let with_services = RwSignal::new(false);
    let saving = Saving::new();
    let own = id.clone();
    let may = Memo::new(move |_| session.may_assess() || session.who().is_some_and(|who| who.id == own));
    let ids = StoredValue::new(id);
    let save = move |_| {
        let text = match ids.with_value(|id| session.record_file(id, with_services.get_untracked())) {
            Ok(text) => text,
            Err(sentence) => return saving.say(Err(sentence)),
        };
        let day = crate::session::reading().at.format("%Y-%m-%d").to_string();
        let demo = if untrack(|| session.demo()) { "demo-" } else { "" };
        let name = format!("upsweep-{demo}record-{day}.json");
        saving.say(match browser::file::download(&name, "application/json", &text) {
            true => Ok("The file was handed to the browser. Anybody can check it under “Verify a file”.".to_owned()),
            false => Err("The browser refused to save the file.".to_owned()),
        });
    };
    view! {
        <details class="form-part">
            <summary>"Record file, for somebody outside to verify"</summary>
            <p>"It holds this trainee’s marks, decisions, sign-offs and what was replied, with the signatures and the keys that made them, the course books, the names of those who assessed, and the headers of the devices that wrote them: who wrote when, without the content. Names, contacts and tests of practice models are not in it."</p>
            <TickInput label="With what was done in each service: it holds the answers of practice models to the screening, under their codes" ticked=with_services/>
            <When when=move || may.get()
                fallback=|| view! { <p class="notice notice-info">"● For this trainee, or an instructor or the owner, unlocked at the top."</p> }>
                <button type="button" disabled=move || saving.busy() on:click=save>"Save the record file"</button>
            </When>
            <SavingLine saving=saving/>
        </details>
    }
}
