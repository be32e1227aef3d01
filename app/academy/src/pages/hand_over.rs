//! Hand-over: entries to another device and from one, as a file or as codes, and backups.

pub(crate) mod code_run;
mod devices;
mod give;
mod holds;
mod preview;
mod take_in;

use leptos::prelude::*;

use crate::components::{Page, When};
use crate::session::session;

/// Largest file read, in bytes.
const CAP: u64 = logbook::hand_over::LARGEST_FILE as u64;

/// Gives, takes in, and says what this device holds.
#[component]
pub(crate) fn HandOverPage() -> impl IntoView {
    let session = session();
    let problems = move || session.problems();
    let founded = move || session.records().academy().is_some();
    view! {
        <Page title="Hand-over and backup">
            <p>"Records live in this browser on this device only. A file that you keep elsewhere is the only other copy, and the way to every other device: nothing is sent anywhere."</p>
            <When when=founded><give::Give/></When>
            <take_in::TakeIn/>
            <When when=founded><devices::Devices/><holds::Holds/></When>
            <When when=move || !problems().is_empty()>
                <h2>"What does not hold together"</h2>
                <p>"Nothing of it is repaired or left out in silence: every file of everything holds it as it is."</p>
                <p><a href="#/problems">"What does not hold together, and what to do"</a></p>
                <ul>{move || problems().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            </When>
        </Page>
    }
}
