//! The first start: found an academy, join one with a file, or look around.

mod academy;
mod founding;

use leptos::prelude::*;

use super::form::{Saving, SavingLine};
use crate::browser;
use crate::components::{Page, When};
use crate::session::session;

pub(crate) use academy::{AcademyFields, AcademyInputs};
pub(crate) use founding::{new_passphrase, pin, same_passphrase, same_pin};

/// The three ways to begin.
#[component]
pub(crate) fn SetUpPage() -> impl IntoView {
    let session = session();
    let founded = move || session.records().academy().is_some();
    view! {
        <Page title="Set up">
            <When when=founded fallback=|| view! { <Offers/> }>
                <p class="notice notice-info">"An academy is already set up on this device. Its particulars are in the settings."</p>
                <ul class="plain-list">
                    <li><a href="#/settings">"Settings"</a></li>
                    <li><a href="#/people">"Enrol trainees and instructors"</a></li>
                    <li><a href="#/products">"Enter products"</a></li>
                    <li><a href="#/practice-models">"Add practice models"</a></li>
                </ul>
            </When>
        </Page>
    }
}

/// Founding, joining, looking around.
#[component]
fn Offers() -> impl IntoView {
    view! {
        <p class="lead">"Everything stays on this device. There is no account and nothing is sent anywhere."</p>
        <section class="offer">
            <h2>"Look around with a demo"</h2>
            <DemoOffer/>
        </section>
        <section class="offer">
            <h2>"Join an academy with a file"</h2>
            <p>"Your academy gives you its file; this device then shows the same records."</p>
            <p><a class="start-link" href="#/hand-over">"Bring in the academy’s file"</a></p>
        </section>
        <section class="offer">
            <h2>"Verify a file"</h2>
            <p>"See who signed what in a record that somebody gave you, and whether it holds. No academy is needed."</p>
            <p><a class="start-link" href="#/verify">"Verify a file"</a></p>
        </section>
        <section class="offer">
            <h2>"Found an academy"</h2>
            <founding::FoundingForm/>
        </section>
    }
}

/// The demo, in one tap.
#[component]
fn DemoOffer() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let open = move |_| {
        let act = async move {
            session.open_demo().await?;
            Ok("The demo is open.".to_owned())
        };
        saving.run(act, || browser::page::set_hash("/"));
    };
    view! {
        <p>"An invented academy: eight trainees over ten weeks, two instructors, an owner. "
            "It has a store of its own, is marked on every page, can never be mixed with real records, and is removed in one act."</p>
        <button type="button" disabled=move || saving.busy() on:click=open>"Look around with the demo"</button>
        <When when=move || saving.busy()><p role="status">"Making the demo…"</p></When>
        <SavingLine saving=saving/>
    }
}
