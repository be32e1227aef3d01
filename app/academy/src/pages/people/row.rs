//! One person with what can be changed about them.

use leptos::prelude::*;
use logbook::fact::{Contact, Fact};
use logbook::subject::Subject;
use practicum::ids::PersonId;
use practicum::person::{Person, Role};

use crate::components::{HoldButton, When};
use crate::pages::form::{Field, Saving, SavingLine, TextInput, day, day_text, one_line};
use crate::pages::who::{NewPin, may_set_pin};
use crate::session::{reading, session};

fn in_words(person: &Person) -> String {
    let mut parts = vec![person.role.word().to_owned()];
    if !person.group.is_empty() {
        parts.push(person.group.clone());
    }
    parts.extend(person.since.map(|day| format!("since {day}")));
    parts.extend(person.left.map(|day| format!("left {day}")));
    if person.show_times_early {
        parts.push("sees times against targets early".to_owned());
    }
    parts.join(" · ")
}

/// A person; opened, it shows what can be changed.
#[component]
pub(super) fn PersonRow(
    /// Who.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let known = id.clone();
    let person = Memo::new(move |_| session.person(&known));
    let name = move || person.get().map(|person| person.name).unwrap_or_default();
    let words = move || person.get().map(|person| in_words(&person)).unwrap_or_default();
    let trainee = move || person.with(|person| person.as_ref().is_some_and(|person| person.role == Role::Trainee));
    let may_leave = move || {
        session.may_assess()
            && person.with(|person| {
                person.as_ref().is_some_and(|person| person.role != Role::Owner && person.left.is_none())
            })
    };
    let left = move || person.with(|person| person.as_ref().is_some_and(|person| person.left.is_some()));
    let open = RwSignal::new(false);
    let progress = format!("#/progress/{}", crate::route::encode(id.as_str()));
    let ids = StoredValue::new(id);
    view! {
        <li class="person">
            <p><strong><bdi>{name}</bdi></strong>" "<span class="small">{words}</span></p>
            <p>
                <When when=trainee><a href=progress.clone()>"Progress"</a>" "</When>
                <button type="button" class="quiet" aria-expanded=move || open.get().to_string()
                    on:click=move |_| open.update(|open| *open = !*open)>
                    "Details"<span class="visually-hidden">{move || format!(" of {}", name())}</span>
                </button>
            </p>
            <When when=move || open.get()>
                <ContactPart id=ids.get_value()/>
                <When when=trainee><TimesPart id=ids.get_value()/></When>
                <When when=move || !trainee()><PinPart id=ids.get_value()/></When>
                <super::licences::Licences id=ids.get_value()/>
                <crate::pages::keeping::OwnData of=crate::pages::keeping::Whose::Person(ids.get_value())/>
                <When when=may_leave><LeavePart id=ids.get_value()/></When>
                <When when=left>
                    <p><a href=move || crate::route::Route::ErasePerson(ids.get_value()).to_hash()>"Erase who this was, for good"</a></p>
                </When>
            </When>
        </li>
    }
}

/// Name and contact, hidden behind the lock.
#[component]
fn ContactPart(
    /// Of whom.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let of = StoredValue::new(Subject::Person(id));
    view! {
        <h3>"Contact"</h3>
        <When when=move || session.may_see_private()
            fallback=|| view! { <p class="small">"Hidden: unlock at the top as an instructor or the owner."</p> }>
            <ContactForm of=of.get_value() may_change=Signal::derive(move || session.may_assess())/>
        </When>
    }
}

/// The contact of a person or practice model, as a form.
#[component]
pub(crate) fn ContactForm(
    /// Of whom.
    of: Subject,
    /// Whether it may be changed now.
    may_change: Signal<bool>,
    /// Asks for the name too.
    #[prop(default = false)]
    with_name: bool,
) -> impl IntoView {
    let session = session();
    let known = session.records_now().contact_of(&of).cloned();
    let (name, contact) = known.map(|known| (known.name, known.contact)).unwrap_or_default();
    let (name, contact) = (Field::of(name), Field::of(contact));
    let saving = Saving::new();
    let key = of.to_string().replace(':', "-");
    let (name_id, contact_id) = (format!("contact-name-{key}"), format!("contact-{key}"));
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        saving.hush();
        let (name, contact) = (name.read(one_line), contact.read(one_line));
        let (Some(name), Some(contact)) = (name, contact) else { return };
        let fact = Fact::ContactNoted(Contact { of: of.clone(), name, contact });
        saving.write(session, vec![fact], "The contact is noted in an entry of its own.".to_owned(), || {});
    };
    view! {
        <form novalidate on:submit=submit>
            {with_name.then(|| view! { <TextInput label="Name (optional)" id=name_id field=name/> })}
            <TextInput label="Telephone, mail or other (optional)" id=contact_id field=contact/>
            <button type="submit" disabled=move || saving.busy() || !may_change.get()>"Note contact"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

/// Whether a trainee may see times against targets before quality is met.
#[component]
fn TimesPart(
    /// Who.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let known = id.clone();
    let shown = Memo::new(move |_| session.person(&known).is_some_and(|person| person.show_times_early));
    let saving = Saving::new();
    let switch = move |_| {
        let to = !shown.get_untracked();
        let done = if to { "Shown from now on." } else { "Hidden until quality is met." };
        let fact = Fact::TimesShown { trainee: id.clone(), shown: to };
        saving.write(session, vec![fact], done.to_owned(), || {});
    };
    let state = move || {
        if shown.get() {
            "Shown early, by an instructor’s choice."
        } else {
            "Quality first: hidden until quality is met."
        }
    };
    let act = move || if shown.get() { "Hide them until quality is met" } else { "Show them early" };
    view! {
        <h3>"Own times against targets"</h3>
        <p>{state}</p>
        <button type="button" disabled=move || saving.busy() || !session.may_assess() on:click=switch>{act}</button>
        <When when=move || !session.may_assess()><p class="small">"An instructor or the owner decides this, unlocked."</p></When>
        <SavingLine saving=saving/>
    }
}

/// The PIN of an instructor or the owner on this device.
#[component]
fn PinPart(
    /// Whose.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let ids = StoredValue::new(id);
    let may = Memo::new(move |_| ids.with_value(|id| may_set_pin(session, id)));
    view! {
        <h3>"PIN on this device"</h3>
        <When when=move || may.get()
            fallback=|| view! { <p class="small">"The owner sets or renews this PIN, unlocked."</p> }>
            <NewPin id=ids.get_value()/>
        </When>
    }
}

/// Marks somebody as left.
#[component]
fn LeavePart(
    /// Who.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let on = Field::of(day_text(Some(reading().at.date_naive())));
    let saving = Saving::new();
    let input = format!("left-{id}");
    let leave = move |()| {
        saving.hush();
        let day = on.read(|typed| day(typed)?.ok_or_else(|| "Give the last day.".to_owned()));
        let Some(on) = day else { return };
        let fact = Fact::PersonLeft { person: id.clone(), on };
        saving.write(session, vec![fact], "Noted as left. All records stay.".to_owned(), || {});
    };
    view! {
        <h3>"Leaving"</h3>
        <TextInput label="Last day" id=input field=on kind="date"/>
        <HoldButton label="Hold: has left the academy" on_hold=Callback::new(leave)/>
        <SavingLine saving=saving/>
    }
}
