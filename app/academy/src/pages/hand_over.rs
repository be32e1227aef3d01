//! Hand-over: everything in one file, services as a spreadsheet, and back on an empty device.

use leptos::prelude::*;

use super::form::{FileInput, Saving, SavingLine};
use crate::browser;
use crate::components::{Page, When};
use crate::session::session;

/// Largest file read, in bytes.
const CAP: u64 = logbook::backup::LARGEST_FILE as u64;
/// Identifier of the file input.
const INPUT: &str = "restore-file";

/// Writes and reads the file.
#[component]
pub(crate) fn HandOverPage() -> impl IntoView {
    let session = session();
    let problems = move || session.problems();
    view! {
        <Page title="Hand-over and backup">
            <p>"Records live in this browser on this device only. A file that you keep elsewhere is the only other copy."</p>
            <Export/>
            <Restore/>
            <When when=move || !problems().is_empty()>
                <h2>"What does not hold together"</h2>
                <p>"Nothing of it is repaired or left out in silence: the file above holds it as it is."</p>
                <ul>{move || problems().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            </When>
        </Page>
    }
}

/// Hands out everything as one file, and services as a spreadsheet.
#[component]
fn Export() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let taken = || "The file was handed to the browser. Check that it is where you keep such files.".to_owned();
    let export = move |_| {
        // The file holds what the lock hides.
        if !untrack(|| session.may_see_private()) {
            saving
                .say(Err("The lock is closed: unlock at the top as an instructor or the owner, then save.".to_owned()));
            return;
        }
        let day = crate::session::reading().at.format("%Y-%m-%d").to_string();
        let demo = if session.demo() { "demo-" } else { "" };
        let name = format!("upsweep-{demo}{day}.json");
        let act = async move {
            if !browser::file::download(&name, "application/json", &session.backup()?) {
                return Err("The browser refused to save the file.".to_owned());
            }
            let taken = taken();
            Ok(match session.note_backup().await {
                Ok(()) => taken,
                Err(sentence) => format!("{taken} The day of this backup could not be kept in mind: {sentence}"),
            })
        };
        saving.run(act, || {});
    };
    let services = move |_| {
        let outcome = super::log::download(session, &session.services());
        saving.say(outcome.map(|()| taken()).map_err(str::to_owned));
    };
    view! {
        <h2>"Take a copy"</h2>
        <super::settings::BackupLine/>
        <p>"▲ The file of everything holds names, contacts and health answers in plain text: keep it where only you can read it."</p>
        <p class="toolbar">
            <button type="button" class="button-primary" on:click=export>"Save everything as one file"</button>
            <button type="button" on:click=services>"Services as a spreadsheet (CSV)"</button>
        </p>
        <SavingLine saving=saving/>
    }
}

/// Reads a file back.
#[component]
fn Restore() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let wrong = RwSignal::new(None::<String>);
    let beside = move |sentence: String| {
        wrong.set(Some(super::import::ended(&sentence)));
        "Look at the file marked ▲ above. Nothing was changed.".to_owned()
    };
    let read = move |_| {
        wrong.set(None);
        let act = async move {
            let file = browser::file::read_chosen(INPUT, CAP).await.map_err(|error| beside(error.to_string()))?;
            let text = file.text().map_err(|error| beside(error.to_string()))?;
            let new = session.restore(text).await.map_err(beside)?;
            Ok(match new {
                0 => "Everything in this file was on this device already.".to_owned(),
                new => format!("{new} entries are new on this device. Everything was checked first."),
            })
        };
        saving.run(act, || browser::file::clear_chosen(INPUT));
    };
    let asks = Memo::new(move |_| session.who().is_none() && !session.records().people().is_empty());
    view! {
        <h2>"Bring a file in"</h2>
        <p>"All or nothing: the whole file is checked before anything is kept. Choose a file that “Save everything as one file” made, or the copy that the page of a broken app made."</p>
        <FileInput label="File" id=INPUT accept=".json,application/json" problem=wrong/>
        <button type="button" disabled=move || saving.busy() on:click=read>"Restore from this file"</button>
        <SavingLine saving=saving/>
        <When when=move || asks.get()>
            <p class="notice notice-info">"● Say at the top who is using this device. Instructors and the owner set a PIN here first: PINs are never part of a file."</p>
        </When>
    }
}
