//! The first response, outside a service: to read beforehand, and for the drill.

use leptos::prelude::*;
use practicum::product::ProductKind;

use crate::session::session;

/// The steps, from anywhere and offline.
#[component]
pub(crate) fn FirstResponsePage() -> impl IntoView {
    let session = session();
    view! {
        <section class="page reaction">
            <super::couch::FirstResponseSteps session=session on_eye=vec![ProductKind::Lift] rinsed=None/>
        </section>
    }
}
