//! Taking in: a file that is chosen, dropped, pasted or opened by the system, or codes; looked at first.

use leptos::prelude::*;

use super::CAP;
use super::preview::PreviewPart;
use crate::browser;
use crate::browser::incoming::Incoming;
use crate::components::{FileCodes, FileCodesReader, Folded, When};
use crate::pages::form::{Field, FileInput, Saving, SavingLine, TextInput};
use crate::session::{FileError, Opening, session};

/// Identifier of the file input.
const INPUT: &str = "restore-file";

/// Reads, shows and takes in.
#[component]
pub(super) fn TakeIn() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let wrong = RwSignal::new(None::<String>);
    let progress = RwSignal::new(None::<f64>);
    let passphrase = Field::empty();
    let sealed = RwSignal::new(false);
    // The file that waits for its passphrase, and the one that is looked at.
    let waiting = StoredValue::new(Vec::<u8>::new());
    let opening = StoredValue::new_local(None::<Opening>);
    let shown = RwSignal::new(0_u32);
    // The page may have been left while something was read or saved: nothing of it is there any more then.
    let gone = move || shown.try_get_untracked().is_none();
    let put_away = move || {
        if gone() {
            return;
        }
        if let Some(opening) = opening.try_update_value(Option::take).flatten() {
            opening.let_go();
        }
        waiting.set_value(Vec::new());
        sealed.set(false);
        passphrase.clear();
        shown.update(|shown| *shown += 1);
        browser::file::clear_chosen(INPUT);
    };
    let open = move |bytes: Vec<u8>| async move {
        let typed = passphrase.typed();
        let typed = (!typed.is_empty()).then_some(typed);
        opening.set_value(None);
        let found = session.open_file(&bytes, typed.as_deref(), progress).await;
        let outcome = match found {
            Ok(found) => {
                opening.try_set_value(Some(found));
                sealed.try_set(false);
                Ok("The file opens whole: see below what it adds. Nothing is taken in yet.".to_owned())
            }
            Err(FileError::Passphrase(sentence)) => {
                waiting.try_set_value(bytes);
                let tried = typed.is_some();
                sealed.try_set(true);
                if tried && !gone() {
                    passphrase.refuse(sentence.clone());
                }
                Err(sentence)
            }
            Err(FileError::Other(sentence)) => {
                wrong.try_set(Some(sentence));
                Err("Look at the file marked ▲ above. Nothing was changed.".to_owned())
            }
        };
        shown.try_update(|shown| *shown += 1);
        outcome
    };
    let look = move |_| {
        wrong.set(None);
        let act = async move {
            let kept = waiting.get_value();
            let bytes = match browser::file::read_chosen(INPUT, CAP).await {
                _ if gone() => return Err("The page was left. Nothing was changed.".to_owned()),
                Ok(file) => file.bytes,
                // What came in another way waits for its passphrase.
                Err(browser::file::FileError::NoFile) if !kept.is_empty() => kept,
                Err(error) => {
                    wrong.try_set(Some(error.to_string()));
                    return Err("Look at the file marked ▲ above. Nothing was changed.".to_owned());
                }
            };
            open(bytes).await
        };
        saving.run(act, || {});
    };
    let came = move |bytes: Vec<u8>| {
        wrong.set(None);
        browser::file::clear_chosen(INPUT);
        saving.run(open(bytes), || {});
    };
    let codes = FileCodes::begin();
    let incoming = move |what: Incoming| match what {
        _ if gone() => {}
        Incoming::File(Ok(file)) => came(file.bytes),
        Incoming::File(Err(error)) => {
            wrong.try_set(Some(error.to_string()));
        }
        Incoming::Text(text) => {
            for line in text.lines() {
                if let Some(file) = codes.hear(line) {
                    came(file);
                }
            }
        }
    };
    StoredValue::new_local(browser::incoming::listen(CAP, incoming));
    browser::incoming::on_launch(CAP, incoming);
    leptos::task::spawn_local(async move {
        if let Some(file) = browser::incoming::shared(CAP).await {
            incoming(file);
        }
    });
    let whole = Callback::new(move |file: Vec<u8>| {
        if !gone() {
            came(file);
        }
    });
    let take = move |_| {
        let act = async move {
            let Some(found) = opening.get_value() else { return Err("Open a file first.".to_owned()) };
            let (new, not_signed) = session.take_in(&found).await?;
            let receipt = not_signed.map_or_else(String::new, |why| {
                format!(" ▲ What was seen of the other devices could not be signed: {why}")
            });
            let said = match new {
                0 => "Everything in this file was on this device already.".to_owned(),
                1 => "1 entry is new on this device. Everything was checked first.".to_owned(),
                new => format!("{new} entries are new on this device. Everything was checked first."),
            };
            Ok(format!("{said}{receipt}"))
        };
        saving.run(act, put_away);
    };
    let asks = Memo::new(move |_| session.who().is_none() && !session.records().people().is_empty());
    let percent = move || progress.get().map(|share| format!("Checking every entry… {:.0} %", share * 100.0));
    view! {
        <h2>"Take in"</h2>
        <p>"All or nothing: the whole file is checked and shown before anything is kept. Choose a file, drop one onto this page, or paste it."</p>
        <FileInput label="File" id=INPUT accept=".upsweep,.txt,.json,application/json,application/octet-stream" problem=wrong/>
        <When when=move || sealed.get()>
            <TextInput label="Passphrase of the file" id="take-passphrase" field=passphrase kind="password"/>
        </When>
        <button type="button" disabled=move || saving.busy() on:click=look>"Look into this file"</button>
        <Folded class="folded" head=view! { "Read codes" }.into_any()>
            <p class="small">"Codes that another device shows under “Give”, or prints: with the camera, or as pictures."</p>
            <FileCodesReader id="take-code" codes=codes on_file=whole/>
        </Folded>
        <p role="status">{percent}</p>
        <SavingLine saving=saving/>
        {move || {
            shown.track();
            opening.get_value().map(|found| {
                let nothing = found.preview.brings_nothing();
                view! {
                    <section class="preview" aria-label="What the file adds">
                        <h3>"Before anything is taken in"</h3>
                        <PreviewPart preview=found.preview lacks=found.lacks/>
                        <p class="toolbar">
                            <button type="button" class="button-primary" hidden=nothing disabled=move || saving.busy() on:click=take>"Take it in"</button>
                            <button type="button" on:click=move |_| { put_away(); saving.hush(); }>"Put the file away"</button>
                        </p>
                    </section>
                }
            })
        }}
        <When when=move || asks.get()>
            <p class="notice notice-info">"● Say at the top who is using this device. Instructors and the owner set a PIN here first: PINs are never part of a file."</p>
        </When>
    }
}
