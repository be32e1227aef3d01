//! Keys that ask to be admitted.

use leptos::prelude::*;
use logbook::Fact;
use logbook::fact::Admission;
use logbook::records::Recorded;
use logbook::signature::PublicKey;

use super::{holder_in_words, scope_in_words};
use crate::components::When;
use crate::pages::form::{Saving, SavingLine};
use crate::session::{Session, session};

/// Returns the requests of keys that were never admitted, the oldest first, each key once.
fn waiting(session: Session) -> Vec<Recorded<Admission>> {
    let admitted: Vec<PublicKey> = session.admitted_keys().iter().map(|known| known.admission.key).collect();
    let mut requests: Vec<Recorded<Admission>> = Vec::new();
    for asked in session.records().asked() {
        let known = |other: &Recorded<Admission>| other.value.key == asked.value.key;
        if !admitted.contains(&asked.value.key) && !requests.iter().any(known) {
            requests.push(asked.clone());
        }
    }
    requests
}

/// The keys that wait, with the owner's button.
#[component]
pub(super) fn WaitingPart() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let requests = Memo::new(move |_| waiting(session));
    let open = move || session.is_owner() && session.keys_here().signers.academy.is_some();
    let row = move |request: Recorded<Admission>| {
        let by = format!("Asked by {} on {}. ", session.person_name(&request.author), request.recorded_at.date_naive());
        let asked = request.value;
        let (words, may) = (holder_in_words(session, &asked), scope_in_words(asked.scope));
        let print = asked.key.fingerprint();
        let name = words.clone();
        let admit = move |_| {
            let done = format!("Admitted: {name}.");
            saving.write(session, vec![Fact::KeyAdmitted(asked.clone())], done, || {});
        };
        view! {
            <li class="form-part">
                <p><strong><bdi>{words}</bdi></strong>" asks to sign "{may}"."</p>
                <p>{by}"Fingerprint "<code>{print}</code></p>
                <button type="button" disabled=move || saving.busy() || !open() on:click=admit>"Admit this key"</button>
            </li>
        }
    };
    let keyed = move || session.academy_key().is_some();
    view! {
        <When when=keyed>
            <section>
                <h2>"Waiting to be admitted"</h2>
                <When when=move || requests.with(Vec::is_empty)>
                    <p>"No key waits. A device or an instructor asks by writing something; the request comes with its file."</p>
                </When>
                <When when=move || !requests.with(Vec::is_empty)>
                    <p>"Look at the fingerprint on the other device, under Keys, before you admit it: anybody can claim a name. "
                        {move || (!open()).then_some("Only the owner admits, with the academy’s key open.")}</p>
                </When>
                <ul class="plain-list">{move || requests.get().into_iter().map(row).collect_view()}</ul>
                <SavingLine saving=saving/>
            </section>
        </When>
    }
}
