//! Trainees, instructors and the owner: enrolling, PINs, contacts, leaving.

mod enrol;
mod licences;
mod row;

use leptos::prelude::*;
use practicum::order::InOrder;
use practicum::person::{Person, Role};

use super::form::OnceUnlocked;
use crate::components::{Page, When};
use crate::session::{Session, session};

pub(crate) use row::ContactForm;

/// Everybody of the academy.
#[component]
pub(crate) fn PeoplePage() -> impl IntoView {
    let session = session();
    let group = move |title: &'static str, wanted: fn(&Person) -> bool| {
        view! { <PeopleList title=title wanted=wanted/> }
    };
    view! {
        <Page title="People">
            <LockWords/>
            <RecoveryHint/>
            <OnceUnlocked fallback=|| view! {
                <p class="notice notice-info">
                    "Enrolling and changing is for an instructor or the owner: unlock at the top first."
                </p>
            }>
                <details class="form-part" open=session.records_now().people().len() < 2>
                    <summary>"Enrol somebody"</summary>
                    <enrol::EnrolForm/>
                </details>
            </OnceUnlocked>
            {group("Trainees", |person| person.role == Role::Trainee && person.left.is_none())}
            {group("Instructors and owner", |person| person.role.may_assess() && person.left.is_none())}
            {group("Left", |person| person.left.is_some())}
        </Page>
    }
}

/// Reminds the owner, unlocked, that a forgotten PIN needs a recovery code.
#[component]
fn RecoveryHint() -> impl IntoView {
    let session = session();
    let has_code = RwSignal::new(true);
    leptos::task::spawn_local(async move {
        // Where the records cannot be read the storage says so.
        has_code.try_set(session.has_recovery().await.unwrap_or(true));
    });
    view! {
        <When when=move || session.is_owner() && !has_code.get()>
            <p class="notice notice-caution">
                "▲ If you forget your PIN, only a recovery code opens your part of this device again: make one in the "
                <a href="#/settings">"settings"</a>"."
            </p>
        </When>
    }
}

/// Says whether anything guards what is private on this device.
#[component]
pub(crate) fn LockWords() -> impl IntoView {
    let session = session();
    move || {
        if !session.lock_set() {
            view! {
                <p class="notice notice-caution">
                    "▲ No lock set on this device: contacts and health answers can be seen by whoever holds it. "
                    <a href="#/people">"Set a PIN for the owner or an instructor."</a>
                </p>
            }
            .into_any()
        } else if session.may_see_private() {
            view! { <p class="small">"Lock: open now. Contacts and health answers are shown."</p> }.into_any()
        } else {
            view! { <p class="small">"Lock: closed. Contacts and health answers are hidden."</p> }.into_any()
        }
    }
}

fn ids(session: Session, wanted: fn(&Person) -> bool) -> Vec<Person> {
    let mut people: Vec<Person> =
        session.records().people().into_iter().filter(|person| wanted(person)).cloned().collect();
    people.order_by_key(|person| (person.role == Role::Owner, person.name.to_lowercase()));
    people
}

/// A part of the people, by name.
#[component]
fn PeopleList(
    /// Heading.
    title: &'static str,
    /// Which people.
    wanted: fn(&Person) -> bool,
) -> impl IntoView {
    let session = session();
    let people = Memo::new(move |_| ids(session, wanted).into_iter().map(|person| person.id).collect::<Vec<_>>());
    let empty = move || people.with(Vec::is_empty);
    view! {
        <section>
            <h2>{title}</h2>
            <When when=empty><p>"Nobody yet."</p></When>
            <ul class="plain-list">
                <For each=move || people.get() key=|id| id.clone() let:id>
                    <row::PersonRow id=id/>
                </For>
            </ul>
        </section>
    }
}
