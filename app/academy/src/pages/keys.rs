//! Keys: who may sign for the academy, what waits to be admitted, and the academy's own key.

mod academy;
mod admitted;
mod here;
mod sheet;
mod waiting;

use leptos::prelude::*;
use logbook::fact::{Admission, Scope};

use crate::components::{Page, When};
use crate::session::{Session, session};

/// All about keys.
#[component]
pub(crate) fn KeysPage() -> impl IntoView {
    let session = session();
    let demo = move || session.demo();
    let founded = move || session.records().academy().is_some();
    view! {
        <Page title="Keys">
            <When when=demo>
                <p class="notice notice-info">"● The demo has no keys: nothing invented is ever signed as if it were real."</p>
            </When>
            <When when=move || !founded()>
                <p>"No academy is on this device yet. "<a href="#/set-up">"Found one"</a>", or "<a href="#/hand-over">"take in a file"</a>"."</p>
            </When>
            <When when=move || founded() && !demo()>
                <p>"A signature shows which device and which person wrote an entry, and that nothing of it was changed. It does not show that what was written is true."</p>
                <academy::AcademyKeyPart/>
                <waiting::WaitingPart/>
                <admitted::AdmittedPart/>
                <here::HerePart/>
            </When>
        </Page>
    }
}

/// Says what a key may sign.
pub(super) fn scope_in_words(scope: Scope) -> &'static str {
    match scope {
        Scope::Records => "what anybody writes: services, own marks, practice models",
        Scope::Assessing => "what an instructor says: marks, decisions, sign-offs",
        Scope::Owning => "what the owner says, but for admitting keys",
    }
}

/// Says whose key it is and where it is held.
pub(super) fn holder_in_words(session: Session, admission: &Admission) -> String {
    match &admission.person {
        Some(person) => format!("{}, on “{}”", session.person_name(person), admission.label),
        None => format!("the device “{}” itself", admission.label),
    }
}
