//! The keys of this device and of whoever has unlocked it.

use leptos::prelude::*;
use logbook::signature::PublicKey;

use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput};
use crate::session::{Session, session};

fn state(session: Session, key: Option<PublicKey>) -> (String, String) {
    let Some(key) = key else {
        return ("● none yet: one is made when something is signed".to_owned(), String::new());
    };
    let known = session.admitted_keys().into_iter().find(|known| known.admission.key == key);
    let words = match known {
        Some(known) if known.ended.is_some() => "■ ended: what it signs now does not count",
        Some(_) => "✓ admitted",
        None => "▲ waits to be admitted: hand the log over to the owner",
    };
    (words.to_owned(), key.fingerprint())
}

/// What can sign here.
#[component]
pub(super) fn HerePart() -> impl IntoView {
    let session = session();
    let line = move |key: Option<PublicKey>| {
        let (words, print) = state(session, key);
        view! { {words}" "<code>{print}</code> }
    };
    let device = move || line(session.keys_here().signers.device);
    let person = move || line(session.keys_here().signers.person.map(|(_, key)| key));
    let who = move || session.who().map(|who| who.name).unwrap_or_default();
    let saving = Saving::new();
    let ask = move |_| {
        let act = async move {
            session.ask_for_keys().await?;
            Ok("Asked. Hand the log over to the owner, and read the fingerprint out to them.".to_owned())
        };
        saving.run(act, || {});
    };
    let may_ask = move || {
        let signers = session.keys_here().signers;
        let asked = session.records().asked().iter().any(|asked| Some(asked.value.key) == signers.device);
        let admitted = session.admitted_keys().iter().any(|known| Some(known.admission.key) == signers.device);
        session.who().is_some() && !asked && !admitted
    };
    let by_passphrase = move || session.keys_here().by_passphrase;
    view! {
        <When when=move || session.academy_key().is_some()>
            <section>
                <h2>"On this device"</h2>
                <dl class="facts">
                    <dt>"The device’s key"</dt><dd>{device}</dd>
                    <When when=move || session.may_assess()><dt>{who}</dt><dd>{person}</dd></When>
                </dl>
                <When when=may_ask>
                    <button type="button" disabled=move || saving.busy() on:click=ask>"Ask for this device’s key to be admitted"</button>
                </When>
                <SavingLine saving=saving/>
                <When when=by_passphrase fallback=|| view! {
                    <p class="small">"The browser keeps these keys and gives nobody their private halves. They cannot be copied; a new device asks for a new admission."</p>
                }>
                    <p class="notice notice-caution">"▲ This browser keeps no signing keys itself. A passphrase seals them instead, and is typed each time the app starts; until then entries of this device stay unsigned."</p>
                    <Passphrase/>
                </When>
            </section>
        </When>
    }
}

/// Opens the keys that a passphrase seals.
#[component]
fn Passphrase() -> impl IntoView {
    let session = session();
    let (passphrase, saving) = (Field::empty(), Saving::new());
    let own = move || session.who_now().filter(|_| session.may_assess()).map(|who| who.id);
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let (typed, person) = (passphrase.typed(), untrack(own));
        let act = async move {
            match person {
                Some(person) => session.open_by_passphrase(Some(person), &typed).await?,
                None => session.open_by_passphrase(None, &typed).await?,
            }
            Ok("The key is open.".to_owned())
        };
        saving.run(act, move || passphrase.clear());
    };
    view! {
        <form novalidate on:submit=submit>
            <TextInput label="Passphrase of the key" id="own-passphrase" field=passphrase kind="password"
                hint="An instructor or the owner, unlocked, opens the own key; otherwise it is the device’s. The first passphrase typed makes the key."/>
            <button type="submit" disabled=move || saving.busy()>"Open the key"</button>
            <SavingLine saving=saving/>
        </form>
    }
}
