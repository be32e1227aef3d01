//! The gate before lotion on the screen: open, or why not and what to do.

use leptos::prelude::*;
use practicum::couch::{Act, Override};
use practicum::gate::{Block, Gate};

use super::context::Couch;

/// Shows what the gate says, with the overrides it allows.
#[component]
pub(crate) fn GateView(
    /// What the gate says now.
    gate: Memo<Gate>,
) -> impl IntoView {
    view! {
        <div class="gate" role="status">
            <p class="gate-word">"■ Lotion is locked"</p>
            <ul>
                {move || gate.get().blocks.into_iter().map(|block| view! { <BlockView block=block/> }).collect_view()}
            </ul>
            {move || gate.get().notes.into_iter().map(|note| view! { <p class="small">{note}</p> }).collect_view()}
        </div>
    }
}

/// One reason.
#[component]
fn BlockView(
    /// The reason.
    block: Block,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let key = block.reason.key();
    let open = block.overridden.is_some();
    let state = match (&block.overridden, block.confirmed) {
        (Some(_), true) => "let pass by an instructor, not yet signed. ",
        (Some(_), false) => "override claimed, not confirmed, not yet signed. ",
        _ => "",
    };
    let by = RwSignal::new(String::new());
    let why = RwSignal::new(String::new());
    let instructors = session.instructors();
    let allow = move |_| {
        if by.get().is_empty() || why.get().trim().is_empty() {
            couch.problem.set(Some("An override needs a named instructor and a reason.".to_owned()));
            return;
        }
        let confirmed = session.may_assess() && session.who().is_some_and(|who| who.id.as_str() == by.get());
        let reason_code = key.clone();
        couch.tap([Act::Overridden(Override {
            reason_code,
            by: by.get().as_str().into(),
            why: why.get().trim().to_owned(),
            confirmed,
        })]);
    };
    view! {
        <li>
            <strong>{state}{block.reason.say()}</strong>" "{block.reason.what_to_do()}
            {(block.overridable && !open).then(|| view! {
                <details>
                    <summary>"A named instructor lets this pass"</summary>
                    <label class="field"><span>"Instructor"</span>
                        <select on:change:target=move |event| by.set(event.target().value())>
                            <option value="">"Choose"</option>
                            {instructors.into_iter()
                                .map(|person| view! { <option value=person.id.to_string()>{person.name.clone()}</option> })
                                .collect_view()}
                        </select>
                    </label>
                    <label class="field"><span>"Reason"</span>
                        <input type="text" on:input:target=move |event| why.set(event.target().value())/>
                    </label>
                    <button type="button" class="couch-secondary" on:click=allow>"Let it pass (not yet signed)"</button>
                </details>
            })}
        </li>
    }
}
