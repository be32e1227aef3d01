//! The recovery code: the owner's way back in after a forgotten PIN.

use leptos::prelude::*;

use crate::components::When;
use crate::pages::form::{Saving, SavingLine};
use crate::session::session;

/// Says whether there is a code, and makes a new one for the owner.
#[component]
pub(super) fn RecoveryPart() -> impl IntoView {
    let session = session();
    let known = RwSignal::new(None::<bool>);
    let look = move || {
        leptos::task::spawn_local(async move {
            // Where the records cannot be read the storage says so.
            known.try_set(session.has_recovery().await.ok());
        });
    };
    look();
    let code = RwSignal::new(None::<String>);
    let saving = Saving::new();
    let make = move |_| {
        let act = async move {
            let made = session.make_recovery().await?;
            code.try_set(Some(made));
            Ok("The code below is shown this once. Write it down now, and keep it away from this device.".to_owned())
        };
        saving.run(act, look);
    };
    let state = move || match known.get() {
        Some(true) => "✓ A recovery code was made on this device. It works once.",
        Some(false) => {
            "▲ No recovery code: with the owner’s PIN forgotten, this device can only be set up anew from a file."
        }
        None => "Looking…",
    };
    view! {
        <When when=move || session.lock_set()>
            <section>
                <h2>"If the owner forgets the PIN"</h2>
                <p>{state}</p>
                <When when=move || session.is_owner()
                    fallback=|| view! { <p class="small">"Only the owner makes a code, unlocked at the top."</p> }>
                    <button type="button" disabled=move || saving.busy() on:click=make>"Make a new recovery code"</button>
                    <SavingLine saving=saving/>
                    {move || code.get().map(|code| view! { <p class="recovery-code"><code>{code}</code></p> })}
                </When>
            </section>
        </When>
    }
}
