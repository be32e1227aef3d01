//! Hand-over: everything in one file, and back on an empty device.

use leptos::prelude::*;

use crate::browser;
use crate::components::Page;
use crate::session::session;

/// Largest file read, in bytes.
const CAP: u64 = 64 * 1024 * 1024;
/// Identifier of the file input.
const INPUT: &str = "restore-file";

/// Writes and reads the file.
#[component]
pub(crate) fn HandOverPage() -> impl IntoView {
    let session = session();
    let said = RwSignal::new(None::<String>);
    let made = RwSignal::new(0_u32);
    let export = move |_| {
        let day = crate::session::reading().at.format("%Y-%m-%d").to_string();
        let demo = if session.demo() { "demo-" } else { "" };
        match session.backup() {
            Ok(text) if browser::file::download(&format!("upsweep-{demo}{day}.json"), "application/json", &text) => {
                super::settings::note_backup();
                made.update(|made| *made += 1);
                said.set(Some(
                    "The file was handed to the browser. Check that it is where you keep such files.".to_owned(),
                ));
            }
            Ok(_) => said.set(Some("The browser refused to save the file.".to_owned())),
            Err(why) => said.set(Some(format!("The file could not be made: {why}"))),
        }
    };
    let problems = move || session.problems();
    view! {
        <Page title="Hand-over and backup">
            <p>"Records live in this browser on this device only. The file is the only copy elsewhere."</p>
            {move || {
                made.track();
                view! { <super::settings::BackupLine/> }
            }}
            <button type="button" class="button-primary" on:click=export>"Save everything as one file"</button>
            <p role="status">{move || said.get()}</p>
            <Restore/>
            <Show when=move || !problems().is_empty()>
                <h2>"What does not hold together"</h2>
                <ul>{move || problems().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            </Show>
        </Page>
    }
}

/// Reads a file back.
#[component]
fn Restore() -> impl IntoView {
    let session = session();
    let said = RwSignal::new(None::<Result<String, String>>);
    let read = move |_| {
        leptos::task::spawn_local(async move {
            let outcome = match browser::file::read_chosen(INPUT, CAP).await {
                Ok(file) => match file.text() {
                    Ok(text) => session.restore(text).await,
                    Err(error) => Err(error.to_string()),
                },
                Err(error) => Err(error.to_string()),
            };
            said.set(Some(
                outcome.map(|new| format!("✓ {new} entries are new on this device. Everything was checked first.")),
            ));
        });
    };
    view! {
        <h2>"Bring a file in"</h2>
        <p>"All or nothing: the whole file is checked before anything is kept."</p>
        <label class="field"><span>"File"</span><input type="file" id=INPUT accept=".json,application/json"/></label>
        <button type="button" on:click=read>"Restore from this file"</button>
        <div role="alert">
            {move || said.get().map(|said| match said {
                Ok(words) => view! { <p class="notice notice-info">{words}</p> }.into_any(),
                Err(sentence) => view! { <p class="notice notice-danger">{sentence}</p> }.into_any(),
            })}
        </div>
    }
}
