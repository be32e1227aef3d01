//! The recovery sheet: the academy's key on paper, sealed by its passphrase.

use leptos::prelude::*;

use crate::browser;
use crate::components::{CodePicture, When};
use crate::pages::form::{Saving, SavingLine};
use crate::session::{reading, session};

/// Shows and prints the sheet.
#[component]
pub(super) fn SheetPart() -> impl IntoView {
    let session = session();
    let (letters, saving) = (RwSignal::new(None::<String>), Saving::new());
    let show = move |_| {
        let act = async move {
            letters.try_set(Some(session.recovery_letters().await?));
            Ok("Print it, then keep it away from this device and apart from the passphrase.".to_owned())
        };
        saving.run(act, || {});
    };
    let academy = move || session.records().academy().map(|academy| academy.name.clone()).unwrap_or_default();
    let fingerprint = move || session.academy_key().map(|key| key.fingerprint()).unwrap_or_default();
    let day = reading().at.format("%Y-%m-%d").to_string();
    view! {
        <When when=move || session.keys_here().academy_sealed>
            <h3>"Recovery sheet"</h3>
            <p>"With the sheet and the passphrase the key can be brought onto another device, should this one be lost. With one of the two alone it cannot."</p>
            <p class="toolbar">
                <button type="button" disabled=move || saving.busy() on:click=show>"Show the recovery sheet"</button>
                <When when=move || letters.with(Option::is_some)>
                    <button type="button" class="button-primary" on:click=move |_| browser::page::print()>"Print it"</button>
                    <button type="button" on:click=move |_| letters.set(None)>"Hide it"</button>
                </When>
            </p>
            <SavingLine saving=saving/>
        </When>
        {move || letters.get().map(|letters| view! {
            <div class="paper-sheet" role="region" aria-label="Recovery sheet">
                <h3>"Recovery sheet of the academy’s key"</h3>
                <dl class="facts">
                    <dt>"Academy"</dt><dd><bdi>{academy}</bdi></dd>
                    <dt>"Fingerprint of the key"</dt><dd><code>{fingerprint}</code></dd>
                    <dt>"Printed on"</dt><dd>{day.clone()}</dd>
                </dl>
                <p>"The key itself, sealed by its passphrase:"</p>
                <pre class="sheet-letters">{letters.clone()}</pre>
                <CodePicture text=letters label="The same letters as a code"/>
                <p>"To use it: open Upsweep on the other device, take in the academy’s log, unlock as the owner, go to Keys, and type these letters and the passphrase. Small letters and spaces do not matter."</p>
                <p>"Keep this sheet where only the owner reaches it, and not beside the passphrase. Whoever has both can admit anybody in the academy’s name."</p>
            </div>
        })}
    }
}
