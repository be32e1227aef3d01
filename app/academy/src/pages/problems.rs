//! What does not hold together on this device, in words, with what to do. Nothing is repaired.

use leptos::prelude::*;
use logbook::checkup::{Finding, Shown};

use crate::components::{Page, When};
use crate::session::session;

/// How many entries of one finding are listed.
const MOST: usize = 50;

/// Everything that does not hold together.
#[component]
pub(crate) fn ProblemsPage() -> impl IntoView {
    let session = session();
    let found = Memo::new(move |_| session.findings());
    let entry = |shown: Shown| view! { <li>{shown.words}</li> };
    let card = move |finding: Finding| {
        let more = finding.entries.len().saturating_sub(MOST);
        let more = (more > 0).then(|| view! { <li>{format!("… and {more} more")}</li> });
        let entries = finding.entries.into_iter().take(MOST).map(entry).collect_view();
        view! {
            <li class="card stack">
                <p><strong>"▲ "{finding.what}</strong></p>
                <ul>{entries}{more}</ul>
                <p>"What to do: "{finding.to_do}</p>
            </li>
        }
    };
    view! {
        <Page title="What does not hold together">
            <p>"Entries are never changed, so whatever does not fit shows. Nothing is repaired or left out in silence: both versions stay, and what is not believed is kept."</p>
            <When when=move || !found.with(Vec::is_empty)
                fallback=|| view! { <p class="notice notice-good">"✓ Everything on this device holds together."</p> }>
                <ul class="plain-list">{move || found.get().into_iter().map(card).collect_view()}</ul>
            </When>
            <p><a href="#/verify">"Verify a file"</a></p>
        </Page>
    }
}
