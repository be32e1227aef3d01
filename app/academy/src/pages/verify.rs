//! Verify: anybody opens a file and sees who signed what, when, whether it holds, and which key must be trusted.
//!
//! Works without an academy on this device and without a network; writes nothing.

mod shown;

use leptos::prelude::*;
use logbook::verify::{NotOpened, Report, open, report};

use super::form::{Field, FileInput, Saving, SavingLine, TextInput};
use crate::browser;
use crate::components::{Page, When};

/// Largest file read, in bytes.
const CAP: u64 = logbook::backup::LARGEST_FILE as u64;
/// Identifier of the file input.
const INPUT: &str = "verify-file";

/// Opens a file and shows what it says.
#[component]
pub(crate) fn VerifyPage() -> impl IntoView {
    let wrong = RwSignal::new(None::<String>);
    let passphrase = Field::empty();
    let sealed = RwSignal::new(false);
    let saving = Saving::new();
    let found = RwSignal::new_local(None::<(String, Report)>);
    let check = move |_| {
        wrong.set(None);
        let act = async move {
            let beside = |sentence: String| {
                wrong.set(Some(super::import::ended(&sentence)));
                "Look at the file marked ▲ above.".to_owned()
            };
            let file = browser::file::read_chosen(INPUT, CAP).await.map_err(|error| beside(error.to_string()))?;
            // The button says that it is busy before the work begins.
            browser::timer::pause(20).await;
            let typed = passphrase.text.get_untracked();
            let given = (!typed.is_empty()).then_some(typed.as_str());
            match open(&file.bytes, given) {
                Ok(opened) => {
                    found.set(Some((file.name, report(&opened, None))));
                    Ok("The file was looked at whole. Nothing was kept.".to_owned())
                }
                Err(NotOpened::Sealed) => {
                    sealed.set(true);
                    Err("This file is sealed: type its passphrase and check again.".to_owned())
                }
                Err(NotOpened::Refused(sentence)) => Err(beside(sentence)),
            }
        };
        found.set(None);
        saving.run(act, || {});
    };
    view! {
        <Page title="Verify a file">
            <p>"Choose a record file, a hand-over file or a backup, or drop it on the field. It is looked at on this device only: nothing is sent, nothing is kept, and the records on this device are not touched."</p>
            <div class="stack">
                <FileInput label="File" id=INPUT accept=".json,.upsweep,application/json,application/octet-stream" problem=wrong/>
                <When when=move || sealed.get()>
                    <TextInput label="Passphrase of the file" id="verify-passphrase" field=passphrase kind="password"/>
                </When>
                <button type="button" class="button-primary" disabled=move || saving.busy() on:click=check>"Check this file"</button>
                <SavingLine saving=saving/>
            </div>
            {move || found.get().map(|(name, report)| view! { <shown::Shown name=name report=report/> })}
        </Page>
    }
}
