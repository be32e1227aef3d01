//! What this device keeps: whether, how safely against clearing, how much, and the last backup.

use leptos::prelude::*;
use logbook::size::in_words;

use crate::browser::store::{Estimate, estimate, persist, persisted};
use crate::components::When;
use crate::pages::form::{Saving, SavingLine};
use crate::session::{Storage, session};

/// The state of the storage on this device.
#[component]
pub(super) fn StoragePart() -> impl IntoView {
    let session = session();
    let promised = RwSignal::new(None::<bool>);
    let room = RwSignal::new(None::<Estimate>);
    leptos::task::spawn_local(async move {
        let (is_promised, measured) = (persisted().await, estimate().await);
        promised.try_set(Some(is_promised));
        room.try_set(measured);
    });
    let saving = Saving::new();
    let ask = move |_| {
        let act = async move {
            let answer = persist().await;
            promised.try_set(Some(answer == Some(true)));
            match answer {
                Some(true) => Ok("The browser promises to keep the records.".to_owned()),
                Some(false) => {
                    Ok("The browser did not promise. Put the app on the home screen, use it often, and make backups."
                        .to_owned())
                }
                None => Ok("This browser cannot be asked. Make backups.".to_owned()),
            }
        };
        saving.run(act, || {});
    };
    let kept = move || match session.storage() {
        Storage::Kept => "✓ Records are kept on this device.".to_owned(),
        Storage::NotKept(why) => format!("■ Nothing is kept: {why}"),
        Storage::Outdated => "■ Nothing more is kept by this page: reload it.".to_owned(),
    };
    let promise = move || match promised.get() {
        None => "Asking the browser…",
        Some(true) => "✓ The browser promises not to clear them by itself.",
        Some(false) => "▲ The browser may clear them when room is short.",
    };
    let used = move || {
        room.get()
            .map(|room| format!("{} in use of {}, as the browser guesses.", in_words(room.usage), in_words(room.quota)))
    };
    view! {
        <section>
            <h2>"Storage"</h2>
            <p>{kept}</p>
            <p>{promise}</p>
            <p>{used}</p>
            <When when=move || promised.get() == Some(false)>
                <button type="button" disabled=move || saving.busy() on:click=ask>"Ask the browser to keep them"</button>
            </When>
            <SavingLine saving=saving/>
            <super::device::BackupLine><a href="#/hand-over">"Hand-over and backup"</a></super::device::BackupLine>
        </section>
    }
}
