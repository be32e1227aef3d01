//! Settings of the academy and of this device.

mod academy;
mod device;
mod recovery;
mod storage;

use leptos::prelude::*;

use crate::browser;
use crate::components::{HoldButton, Page, When};
use crate::pages::form::{Saving, SavingLine};
use crate::session::session;

pub(crate) use device::{BackupLine, BackupReminder};

/// Preference: `light` or `dark`; missing when the looks follow the device.
const THEME: &str = "theme";

/// Sets the looks as chosen on this device; called once when the app starts.
pub(crate) fn apply_theme() {
    let chosen = browser::page::get_pref::<String>(THEME).filter(|theme| theme == "light" || theme == "dark");
    browser::page::set_theme(chosen.as_deref());
}

/// All settings.
#[component]
pub(crate) fn SettingsPage() -> impl IntoView {
    let session = session();
    let founded = move || session.records().academy().is_some();
    view! {
        <Page title="Settings">
            <Looks/>
            <device::SoundCheck/>
            <When when=founded><academy::AcademyPart/></When>
            <When when=founded><p><a href="#/keeping">"How long records are kept, and what falls due"</a></p></When>
            <storage::StoragePart/>
            <device::DevicePart/>
            <DemoPart/>
            <recovery::RecoveryPart/>
            <Versions/>
        </Page>
    }
}

/// Light, dark, or as the device.
#[component]
fn Looks() -> impl IntoView {
    let chosen = RwSignal::new(browser::page::get_pref::<String>(THEME).unwrap_or_default());
    let choose = move |theme: &'static str| {
        chosen.set(theme.to_owned());
        if theme.is_empty() {
            browser::page::remove_pref(THEME);
        } else {
            browser::page::set_pref(THEME, theme.to_owned());
        }
        apply_theme();
    };
    let chip = move |(theme, words): (&'static str, &'static str)| {
        view! {
            <label class="chip">
                <input type="radio" name="theme" prop:checked=move || chosen.with(|chosen| chosen == theme)
                    on:change=move |_| choose(theme)/>
                <span>{words}</span>
            </label>
        }
    };
    let chips = [("", "As the device"), ("light", "Light"), ("dark", "Dark")].into_iter().map(chip).collect_view();
    view! {
        <section>
            <h2>"Looks"</h2>
            <fieldset class="chips"><legend>"Theme"</legend>{chips}</fieldset>
        </section>
    }
}

/// Leaving or removing the demo.
#[component]
fn DemoPart() -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let open = move |_| {
        let act = async move { session.open_demo().await.map(|()| "The demo is open.".to_owned()) };
        saving.run(act, || browser::page::set_hash("/"));
    };
    let leave = move |_| {
        let act =
            async move { session.leave_demo().await.map(|()| "These are the real records of this device.".to_owned()) };
        saving.run(act, || browser::page::set_hash("/"));
    };
    let remove = move |()| {
        let done = "The demo is removed whole. These are the real records of this device.";
        let act = async move { session.remove_demo().await.map(|()| done.to_owned()) };
        saving.run(act, || {});
    };
    view! {
        <section>
            <h2>"Demo"</h2>
            <p>"The demo has a store of its own: nothing of it is mixed with real records."</p>
            <When when=move || session.demo()
                fallback=move || view! { <button type="button" disabled=move || saving.busy() on:click=open>"Open the demo"</button> }>
                <button type="button" disabled=move || saving.busy() on:click=leave>"Leave the demo, keep it"</button>
            </When>
            " "
            <HoldButton label="Hold: remove the demo whole" on_hold=Callback::new(remove)/>
            <SavingLine saving=saving/>
        </section>
    }
}

/// Versions of the app and of the course book.
#[component]
fn Versions() -> impl IntoView {
    let session = session();
    let book = move || {
        session.book().map_or_else(|| "none".to_owned(), |book| format!("{}, edition {}", book.title, book.edition))
    };
    let consent = move || session.book().map(|book| book.consent_version.clone()).unwrap_or_default();
    view! {
        <section>
            <h2>"Versions"</h2>
            <dl class="facts">
                <dt>"Upsweep"</dt><dd>{env!("CARGO_PKG_VERSION")}</dd>
                <dt>"Course book in force"</dt><dd>{book}</dd>
                <dt>"Wording of the consents"</dt><dd>{consent}</dd>
            </dl>
        </section>
    }
}
