//! Asking for a PIN, and setting one.

use leptos::prelude::*;
use practicum::ids::PersonId;
use practicum::person::Role;

use crate::browser;
use crate::pages::form::{Field, Saving, SavingLine, TextInput};
use crate::pages::set_up::{pin, same_pin};
use crate::session::{RECOVERY_DIGITS, Session, session};

/// Whether the present user may set a person's PIN: the owner, the person, or anybody while no PIN is set here at all.
pub(crate) fn may_set_pin(session: Session, of: &PersonId) -> bool {
    let own = || session.unlocked() && session.who().is_some_and(|who| who.id == *of);
    !session.lock_set() || session.is_owner() || own()
}

/// Asks for the PIN of an instructor or the owner, or lets a first one be set.
#[component]
pub(super) fn AskPin(
    /// Whose.
    id: PersonId,
    /// Called when the person is using the device, unlocked.
    done: Callback<()>,
) -> impl IntoView {
    let session = session();
    let known = RwSignal::new(None::<Result<bool, String>>);
    let asked = id.clone();
    leptos::task::spawn_local(async move {
        let answer = session.has_pin(&asked).await;
        known.try_set(Some(answer));
    });
    let again = Callback::new(move |()| drop(known.try_set(Some(Ok(true)))));
    move || {
        match known.get() {
        None => view! { <p class="small">"Looking…"</p> }.into_any(),
        Some(Err(sentence)) => view! { <p class="field-error">"▲ "{sentence}</p> }.into_any(),
        Some(Ok(true)) => view! { <PinForm id=id.clone() done=done/><Forgotten id=id.clone()/> }.into_any(),
        Some(Ok(false)) if may_set_pin(session, &id) => {
            view! { <p class="small">"No PIN is set here yet."</p><NewPin id=id.clone() done=again/> }.into_any()
        }
        Some(Ok(false)) => {
            view! { <p class="notice notice-info">"No PIN is set for this person on this device. The owner sets it under People."</p> }
                .into_any()
        }
    }
    }
}

/// The PIN; Enter submits.
#[component]
fn PinForm(
    /// Whose.
    id: PersonId,
    /// Called when it was right.
    done: Callback<()>,
) -> impl IntoView {
    let session = session();
    let field = Field::empty();
    let busy = RwSignal::new(false);
    let input = format!("who-pin-{id}");
    let focused = input.clone();
    Effect::new(move |_| {
        browser::page::focus(&focused);
    });
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        if busy.get_untracked() {
            return;
        }
        busy.set(true);
        let (id, typed) = (id.clone(), field.typed());
        leptos::task::spawn_local(async move {
            match session.switch_to(&id, &typed).await {
                Ok(()) => done.run(()),
                Err(sentence) => drop(field.problem.try_set(Some(sentence))),
            }
            busy.try_set(false);
        });
    };
    view! {
        <form class="who-pin" novalidate on:submit=submit>
            <TextInput label="PIN" id=input field=field kind="password" keyboard="numeric"/>
            <button type="submit" disabled=move || busy.get()>{move || if busy.get() { "Looking…" } else { "Unlock" }}</button>
        </form>
    }
}

/// What to do when a PIN is forgotten: the owner uses the recovery code, an instructor asks the owner.
#[component]
fn Forgotten(
    /// Whose PIN.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let owner = untrack(|| session.person(&id).is_some_and(|person| person.role == Role::Owner));
    let has_code = RwSignal::new(None::<bool>);
    leptos::task::spawn_local(async move {
        // Where the records cannot be read the storage says so.
        has_code.try_set(session.has_recovery().await.ok());
    });
    let id = StoredValue::new(id);
    let way = move || match (owner, has_code.get()) {
        (false, _) => view! { <p class="small">"The owner sets a new PIN under People, unlocked."</p> }.into_any(),
        (true, Some(true)) => view! { <Recover id=id.get_value()/> }.into_any(),
        (true, Some(false)) => view! {
            <p class="small">
                "No recovery code was made on this device, or it is used up. Trainees can go on working here. "
                "Bring the academy’s last file in on a device or browser without records, and set a new PIN there."
            </p>
        }
        .into_any(),
        (true, None) => view! { <p class="small">"Looking…"</p> }.into_any(),
    };
    view! {
        <details class="who-forgotten">
            <summary>"PIN forgotten?"</summary>
            {way}
        </details>
    }
}

/// A new PIN with the recovery code.
#[component]
fn Recover(
    /// The owner.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let (code, first, second) = (Field::empty(), Field::empty(), Field::empty());
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        saving.hush();
        let typed = code.read(|typed| match typed.chars().filter(char::is_ascii_digit).count() {
            RECOVERY_DIGITS => Ok(typed.to_owned()),
            digits => Err(format!("A recovery code has {RECOVERY_DIGITS} digits; {digits} are typed.")),
        });
        let new = first.read(pin);
        let same = second.read(|again| same_pin(&first.typed(), again));
        let (Some(typed), Some(new), Some(())) = (typed, new, same) else { return };
        let id = id.clone();
        let act = async move {
            session.recover(&id, &typed, &new).await?;
            for field in [code, first, second] {
                field.text.try_set(String::new());
            }
            Ok("The new PIN is set: unlock with it above. The code is used up; make a new one in the settings."
                .to_owned())
        };
        saving.run(act, || {});
    };
    view! {
        <form novalidate on:submit=submit>
            <TextInput label="Recovery code" id="recover-code" field=code keyboard="numeric" hint=format!("{RECOVERY_DIGITS} digits, written down when it was made")/>
            <TextInput label="New PIN" id="recover-pin" field=first kind="password" keyboard="numeric" hint="4 to 12 digits"/>
            <TextInput label="New PIN again" id="recover-again" field=second kind="password" keyboard="numeric"/>
            <button type="submit" disabled=move || saving.busy()>"Set a new PIN"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

/// Sets a new PIN, typed twice.
#[component]
pub(crate) fn NewPin(
    /// Whose.
    id: PersonId,
    /// Called when it is set.
    #[prop(optional)]
    done: Option<Callback<()>>,
) -> impl IntoView {
    let session = session();
    let (first, second) = (Field::empty(), Field::empty());
    let saving = Saving::new();
    let (one, two) = (format!("pin-new-{id}"), format!("pin-again-{id}"));
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        saving.hush();
        let typed = first.read(pin);
        let same = second.read(|again| same_pin(&first.typed(), again));
        let (Some(typed), Some(())) = (typed, same) else { return };
        if !may_set_pin(session, &id) {
            saving.say(Err("Only the owner sets this PIN: unlock as the owner first.".to_owned()));
            return;
        }
        let id = id.clone();
        let act = async move {
            session.set_pin(&id, &typed).await?;
            first.text.try_set(String::new());
            second.text.try_set(String::new());
            Ok("The PIN is set on this device.".to_owned())
        };
        saving.run(act, move || {
            if let Some(done) = done {
                done.run(());
            }
        });
    };
    view! {
        <form novalidate on:submit=submit>
            <TextInput label="New PIN" id=one field=first kind="password" keyboard="numeric" hint="4 to 12 digits"/>
            <TextInput label="New PIN again" id=two field=second kind="password" keyboard="numeric"/>
            <button type="submit" disabled=move || saving.busy()>"Set PIN"</button>
            <SavingLine saving=saving/>
        </form>
    }
}
