//! Keys that were admitted, and their end.

use leptos::prelude::*;
use logbook::Fact;
use logbook::trust::Admitted;

use super::{holder_in_words, scope_in_words};
use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, name};
use crate::session::{Session, session};

/// Every admitted key.
#[component]
pub(super) fn AdmittedPart() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let keys = move || session.admitted_keys();
    let keyed = move || session.academy_key().is_some();
    let row = move |known: Admitted| view! { <Row known=known saving=saving/> };
    view! {
        <When when=keyed>
            <section>
                <h2>"Admitted keys"</h2>
                <ul class="plain-list">{move || keys().into_iter().map(row).collect_view()}</ul>
                <SavingLine saving=saving/>
            </section>
        </When>
    }
}

fn has_left(session: Session, known: &Admitted) -> bool {
    let person = known.admission.person.as_ref();
    person.and_then(|person| session.records().person(person).map(|person| person.left.is_some())).unwrap_or(false)
}

/// One key.
#[component]
fn Row(
    /// The key.
    known: Admitted,
    /// The saving of the whole list.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let words = untrack(|| holder_in_words(session, &known.admission));
    let print = known.admission.key.fingerprint();
    let may = scope_in_words(known.admission.scope);
    let here = known.admission.device == session.device();
    let left = untrack(|| has_left(session, &known)) && known.ended.is_none();
    let state = match &known.ended {
        None => "✓ signs".to_owned(),
        Some(place) => format!("■ ended after entry {} of its device", place.sequence),
    };
    let going = known.ended.is_none();
    let open = move || going && session.is_owner() && session.keys_here().signers.academy.is_some();
    let admission = known.admission.clone();
    let part = move || open().then(|| view! { <EndForm admission=admission.clone() saving=saving/> });
    view! {
        <li class="form-part">
            <p><strong><bdi>{words}</bdi></strong>{here.then_some(" (this device)")}": "{may}". "{state}</p>
            <p>"Fingerprint "<code>{print}</code></p>
            {left.then(|| view! { <p class="notice notice-caution">"▲ This person has left the academy: end the key."</p> })}
            {part}
        </li>
    }
}

/// Ends a key at the last entry that is known of its device.
#[component]
fn EndForm(
    /// The key.
    admission: logbook::fact::Admission,
    /// The saving of the whole list.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let place = untrack(|| session.end_place(&admission));
    let input = format!("end-{}", admission.key.fingerprint());
    let end = move |_| {
        let Some(why) = why.read(|typed| name("why the key is ended", typed)) else { return };
        let last = session.end_place(&admission);
        let done = format!("The key is ended after entry {} of its device.", last.sequence);
        saving.write(session, vec![Fact::KeyEnded { key: admission.key, last, why }], done, || {});
    };
    view! {
        <details>
            <summary>"End this key"</summary>
            <p>{format!("It will have signed up to entry {}, the last one of its device that has arrived here. Whatever it signs after that never counts, whatever date it bears. Take in the device’s file first if something is still to come.", place.sequence)}</p>
            <TextInput label="Why" id=input field=why/>
            <button type="button" disabled=move || saving.busy() on:click=end>"End this key"</button>
        </details>
    }
}
