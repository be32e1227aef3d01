//! Verify: anybody opens a file and sees who signed what, when, whether it holds, and which key must be trusted.
//!
//! Works without an academy on this device and without a network; writes nothing.

mod code;
mod shown;

use leptos::prelude::*;
use logbook::review_code::{self, ReviewCode};
use logbook::verify::{NotOpened, Report, open_in_turns, report_in_turns};

use super::form::{Field, FileInput, Saving, SavingLine, TextInput};
use crate::browser;
use crate::components::{FileCodes, FileCodesReader, Folded, Page, When};
use crate::session::PageTurns;

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
    // The file that was looked at, and the code of a printed review.
    let looked_at = StoredValue::new(Vec::<u8>::new());
    let (code, pasted) = (RwSignal::new(None::<ReviewCode>), Field::empty());
    // Codes that make up a file: they take the place of a chosen one.
    let (codes, read) = (FileCodes::begin(), StoredValue::new(None::<Vec<u8>>));
    let check = move || {
        wrong.set(None);
        let act = async move {
            let beside = |sentence: String| {
                wrong.set(Some(super::import::ended(&sentence)));
                "Look at the file marked ▲ above.".to_owned()
            };
            let (name, bytes) = match read.get_value() {
                Some(bytes) => ("the codes".to_owned(), bytes),
                None => {
                    let chosen = browser::file::read_chosen(INPUT, CAP).await;
                    let file = chosen.map_err(|error| beside(error.to_string()))?;
                    (file.name, file.bytes)
                }
            };
            // The button says that it is busy before the work begins.
            browser::timer::pause(20).await;
            let typed = passphrase.text.get_untracked();
            let given = (!typed.is_empty()).then_some(typed.as_str());
            let turns = &mut PageTurns::new();
            match open_in_turns(&bytes, given, turns).await {
                Ok(opened) => {
                    let report = report_in_turns(&opened, None, turns).await;
                    if looked_at.try_set_value(bytes).is_none() {
                        found.set(Some((name, report)));
                    }
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
    let read_code = move |text: &str| match review_code::read(text) {
        Ok(read) => {
            code.set(Some(read));
            saving.say(Ok("The code was read.".to_owned()));
        }
        Err(sentence) => {
            code.set(None);
            saving.say(Err(sentence));
        }
    };
    let whole = Callback::new(move |file: Vec<u8>| {
        read.set_value(Some(file));
        check();
    });
    let review = Callback::new(move |text: String| {
        let is_review = review_code::looks_like(&text);
        if is_review {
            read_code(&text);
        }
        is_review
    });
    let by_file = move |_| {
        read.set_value(None);
        check();
    };
    let with_file = move || {
        let report = found.get().map(|(_, report)| report)?;
        let read = code.get()?;
        Some(looked_at.with_value(|file| code::compared(&read, &report, file)))
    };
    view! {
        <Page title="Verify a file">
            <p>"Choose a record file, a hand-over file or a backup, or drop it on the field. It is looked at on this device only: nothing is sent, nothing is kept, and the records on this device are not touched."</p>
            <div class="stack">
                <FileInput label="File" id=INPUT accept=".json,.upsweep,application/json,application/octet-stream" problem=wrong/>
                <When when=move || sealed.get()>
                    <TextInput label="Passphrase of the file" id="verify-passphrase" field=passphrase kind="password"/>
                </When>
                <button type="button" class="button-primary" disabled=move || saving.busy() on:click=by_file>"Check this file"</button>
                <Folded class="folded" head=view! { "Read codes instead" }.into_any()>
                    <p class="small">"Codes that a device shows under “Give”, or prints: with the camera, or as pictures."</p>
                    <FileCodesReader id="verify-code" codes=codes on_file=whole other=review/>
                    <TextInput label="Or the text of a review’s code, as printed below it" id="verify-code-text" field=pasted/>
                    <button type="button" on:click=move |_| read_code(&pasted.typed())>"Check this code"</button>
                </Folded>
                <SavingLine saving=saving/>
            </div>
            {move || code.get().map(|code| view! { <code::CodeShown code=code with_file=Signal::derive_local(with_file)/> })}
            {move || found.get().map(|(name, report)| view! { <shown::Shown name=name report=report/> })}
        </Page>
    }
}
