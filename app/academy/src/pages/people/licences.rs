//! Licences of a person, where local rules ask for them.

use leptos::prelude::*;
use logbook::fact::{Aftercare, Fact};
use practicum::after_the_couch::Licence;
use practicum::ids::PersonId;

use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, day, name, one_line};
use crate::session::{reading, session};

/// Days before its end in which a licence is said to end soon.
const SOON_DAYS: i64 = 30;

/// A person's licences, and the form that notes one.
#[component]
pub(super) fn Licences(
    /// Whose.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let ids = StoredValue::new(id);
    let note = move || {
        let records = session.records();
        let region = records.academy().map(|academy| academy.region.clone())?;
        session.book()?.region(&region)?.licence_note.clone()
    };
    let lines = move || {
        let records = session.records();
        ids.with_value(|id| records.licences_of(id).into_iter().map(|one| one.value.clone()).collect::<Vec<_>>())
    };
    let line = |licence: Licence| {
        let today = reading().at.date_naive();
        let state = match licence.expires {
            None => "no last day noted".to_owned(),
            Some(day) if day < today => format!("■ ended on {day}"),
            Some(day) if (day - today).num_days() <= SOON_DAYS => format!("▲ ends soon, on {day}"),
            Some(day) => format!("holds until {day}"),
        };
        view! { <li>{format!("{} {}, by {}: {state}", licence.name, licence.number, licence.issuer)}</li> }
    };
    view! {
        <h3>"Licences"</h3>
        <p class="small">{note}</p>
        <When when=move || lines().is_empty()><p class="small">"○ None is noted."</p></When>
        <ul>{move || lines().into_iter().map(line).collect_view()}</ul>
        <When when=move || session.may_assess()><LicenceForm id=ids.get_value()/></When>
    }
}

#[component]
fn LicenceForm(
    /// Whose.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let [title, number, issuer, expires] = [(); 4].map(|()| Field::empty());
    let saving = Saving::new();
    let prefix = id.clone();
    let field = move |what: &str| format!("licence-{what}-{prefix}");
    let save = move |_| {
        saving.hush();
        let (title, number) =
            (title.read(|typed| name("what it is called", typed)), number.read(|typed| name("its number", typed)));
        let (issuer, expires) = (issuer.read(one_line), expires.read(day));
        let (Some(name), Some(number), Some(issuer), Some(expires)) = (title, number, issuer, expires) else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let licence = Licence { person: id.clone(), name, number, issuer, expires };
        saving.write(
            session,
            vec![Fact::Aftercare(Aftercare::LicenceNoted(licence))],
            "The licence is noted.".to_owned(),
            || {},
        );
    };
    view! {
        <details class="form-part"><summary>"Note a licence"</summary>
            <TextInput label="What it is called" id=field("name") field=title/>
            <TextInput label="Number" id=field("number") field=number/>
            <TextInput label="Given by" id=field("issuer") field=issuer/>
            <TextInput label="Last day (optional)" id=field("until") field=expires kind="date"/>
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=save>"Note this licence"</button>
        </details>
    }
}
