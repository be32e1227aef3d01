//! What this device holds, for another device to leave out.

use leptos::prelude::*;
use logbook::hand_over::codes;

use super::code_run::CodeRun;
use crate::browser;
use crate::components::{CodePicture, Folded};
use crate::session::session;

/// Longest line that stands in one code at level M, version 20 (bytes; ISO/IEC 18004, from memory).
const IN_ONE_CODE: usize = 600;

/// The line, to be copied or scanned.
#[component]
pub(super) fn Holds() -> impl IntoView {
    view! {
        <h2>"What this device holds"</h2>
        <p>"With this line another device hands over only what is lacking here. It names no person: only devices, numbers and beginnings of hashes."</p>
        <Folded class="folded" head=view! { "The line, and its code" }.into_any()>
            <Line/>
        </Folded>
    }
}

#[component]
fn Line() -> impl IntoView {
    let session = session();
    let line = Memo::new(move |_| session.holds_line());
    let said = RwSignal::new(None::<&'static str>);
    let copy = move |_| {
        leptos::task::spawn_local(async move {
            let done = browser::incoming::copy(&line.get_untracked()).await;
            said.try_set(Some(if done {
                "✓ Copied."
            } else {
                "▲ The browser does not copy: mark the line and copy it."
            }));
        });
    };
    let code = move || match line.with(String::len) <= IN_ONE_CODE {
        true => view! { <CodePicture text=line label="What this device holds, as in the line above"/> }.into_any(),
        false => match codes::cut(line.get().as_bytes()) {
            Ok(texts) => view! { <CodeRun texts=texts/> }.into_any(),
            Err(_) => view! { <p class="small">"The line is too long for codes: copy it."</p> }.into_any(),
        },
    };
    view! {
        <div class="field">
            <label for="holds-line">"What this device holds"</label>
            <textarea id="holds-line" rows="4" readonly="" prop:value=move || line.get()></textarea>
        </div>
        <p class="toolbar"><button type="button" on:click=copy>"Copy the line"</button><span role="status">{move || said.get()}</span></p>
        {code}
    }
}
