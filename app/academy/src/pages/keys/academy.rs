//! The academy's own key: its fingerprint, its passphrase, and what nobody signed before it.

use leptos::prelude::*;
use logbook::Fact;

use super::sheet::SheetPart;
use crate::components::{CodeReader, Folded, When};
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput};
use crate::pages::set_up::{new_passphrase, same_passphrase};
use crate::session::session;

/// The academy's key.
#[component]
pub(super) fn AcademyKeyPart() -> impl IntoView {
    let session = session();
    let keyed = Memo::new(move |_| session.academy_key().is_some());
    let fingerprint = move || session.academy_key().map(|key| key.fingerprint()).unwrap_or_default();
    let rivals = move || {
        session
            .rival_keys()
            .into_iter()
            .map(|key| {
                view! {
                    <p class="notice notice-danger">
                        "■ Another key, "<code>{key.fingerprint()}</code>", claims to be the academy’s. It is not believed here. Find out who made it before anybody signs anything."
                    </p>
                }
            })
            .collect_view()
    };
    view! {
        <section>
            <h2>"The academy’s key"</h2>
            <p>"It founds the academy and admits the keys of devices and instructors. It signs nothing else."</p>
            <When when=move || keyed.get() fallback=|| view! { <MakePart/> }>
                <dl class="facts">
                    <dt>"Fingerprint"</dt><dd><code>{fingerprint}</code></dd>
                    <dt>"On this device"</dt><dd>{move || kept_in_words(session.keys_here().academy_sealed, session.keys_here().signers.academy.is_some())}</dd>
                </dl>
                <p class="small">"Compare the fingerprint with the recovery sheet, or by telephone: a file that tells of another key is not this academy’s."</p>
                {rivals}
                <OnceUnlocked owner=true fallback=|| view! { <p class="small">"Only the owner works with it, unlocked at the top."</p> }>
                    <OpenPart/>
                    <SheetPart/>
                    <AdoptPart/>
                </OnceUnlocked>
            </When>
        </section>
    }
}

fn kept_in_words(sealed: bool, open: bool) -> &'static str {
    match (sealed, open) {
        (_, true) => "▲ open: it can admit and end keys until the lock closes",
        (true, false) => "✓ kept, sealed by its passphrase",
        (false, false) => "● not kept here",
    }
}

/// Makes the key of an academy that was founded without one.
#[component]
fn MakePart() -> impl IntoView {
    let session = session();
    view! {
        <p class="notice notice-caution">"▲ This academy has no key: nothing is signed so far, and anybody with a device could have changed the log."</p>
        <OnceUnlocked owner=true fallback=|| view! { <p class="small">"The owner makes it, unlocked at the top."</p> }>
            {
                let (passphrase, again, saving) = (Field::empty(), Field::empty(), Saving::new());
                let unsigned = move || {
                    let _ = session.records();
                    session.not_signed().len()
                };
                let submit = move |event: leptos::ev::SubmitEvent| {
                    event.prevent_default();
                    let read = passphrase.read(new_passphrase);
                    let same = again.read(|typed| same_passphrase(&passphrase.typed(), typed));
                    let (Some(read), Some(())) = (read, same) else { return };
                    let act = async move {
                        session.make_academy_key(&read).await?;
                        Ok("The key is made. Print its recovery sheet now.".to_owned())
                    };
                    saving.run(act, || {});
                };
                view! {
                    <form novalidate on:submit=submit>
                        <p>{move || format!("It vouches for the {} entries that are here already: they will show “adopted, not signed at the time”. Look through the log before you vouch for it.", unsigned())}</p>
                        <TextInput label="Passphrase of the academy’s key" id="key-passphrase" field=passphrase kind="password"
                            hint="At least 12 characters. Without it nobody can admit a device or an instructor again."/>
                        <TextInput label="The passphrase again" id="key-passphrase-again" field=again kind="password"/>
                        <button type="submit" class="button-primary" disabled=move || saving.busy()>"Make the academy’s key"</button>
                        <SavingLine saving=saving/>
                    </form>
                }
            }
        </OnceUnlocked>
    }
}

/// Opens the key with its passphrase, from this device or from the sheet.
#[component]
fn OpenPart() -> impl IntoView {
    let session = session();
    let open = move || session.keys_here().signers.academy.is_some();
    let sealed = move || session.keys_here().academy_sealed;
    let (passphrase, letters, saving) = (Field::empty(), Field::empty(), Saving::new());
    let scanned = Callback::new(move |text: String| {
        let read = logbook::recovery::read(&text).is_ok();
        if read {
            letters.text.set(text);
        }
        !read
    });
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let (typed, sheet) = (passphrase.typed(), letters.typed());
        let here = session.keys_here().academy_sealed;
        let act = async move {
            match here {
                true => session.open_academy_key(&typed).await?,
                false => session.take_academy_key(&sheet, &typed).await?,
            }
            Ok("The academy’s key is open. It is put away when the lock closes.".to_owned())
        };
        saving.run(act, move || passphrase.clear());
    };
    view! {
        <When when=open>
            <p><button type="button" on:click=move |_| session.close_academy_key()>"Put the academy’s key away"</button></p>
        </When>
        <form novalidate on:submit=submit hidden=open>
            <When when=move || !sealed()>
                <p>"The key is not on this device. Bring it in from the recovery sheet: only where you, the owner, work."</p>
                <Folded class="folded" head=view! { "Scan the sheet" }.into_any()>
                    <CodeReader id="sheet-scan" on_text=scanned/>
                </Folded>
                <crate::pages::form::LongInput label="Letters of the recovery sheet" id="sheet-letters" field=letters/>
            </When>
            <TextInput label="Its passphrase" id="open-passphrase" field=passphrase kind="password"/>
            <button type="submit" disabled=move || saving.busy()>"Open the academy’s key"</button>
        </form>
        <SavingLine saving=saving/>
    }
}

/// Vouches for entries that nobody signed.
#[component]
fn AdoptPart() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let waiting = Memo::new(move |_| {
        let _ = session.records();
        session.not_signed()
    });
    let open = move || session.keys_here().signers.academy.is_some();
    let adopt = move |_| {
        let adopts = waiting.get_untracked();
        let done =
            format!("The academy’s key vouches for {} entries: “adopted, not signed at the time”.", adopts.len());
        saving.write(session, vec![Fact::AcademyKeyMade { adopts }], done, || {});
    };
    view! {
        <When when=move || !waiting.with(Vec::is_empty)>
            <h3>"Entries that nobody signed"</h3>
            <p>{move || format!("{} entries here were written without a key. What an instructor or the owner says in them does not count until the academy’s key vouches for it. Look at them in the log first.", waiting.with(Vec::len))}</p>
            <p><button type="button" disabled=move || saving.busy() || !open() on:click=adopt>"Vouch for them"</button>
                {move || (!open()).then_some(" Open the academy’s key first.")}</p>
        </When>
        <SavingLine saving=saving/>
    }
}
