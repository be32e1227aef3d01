//! The form that adds a practice model.

use leptos::prelude::*;
use logbook::fact::{Contact, Fact};
use logbook::subject::Subject;
use practicum::ids::PracticeModelId;
use practicum::practice_model::PracticeModel;

use super::particulars::{PersonFields, PersonInputs};
use crate::browser;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, one_line};
use crate::route::encode;
use crate::session::{Session, session};

/// Proposes the next code of the form `PM-014`: one above the highest in use.
fn next_code<'a>(codes: impl Iterator<Item = &'a str>) -> String {
    let number = |code: &str| code.strip_prefix("PM-").and_then(|digits| digits.parse::<u32>().ok());
    let highest = codes.filter_map(number).max().unwrap_or(0);
    format!("PM-{:03}", highest.saturating_add(1))
}

fn blank(session: Session) -> PracticeModel {
    let records = session.records_now();
    let known = records.practice_models();
    PracticeModel {
        id: PracticeModelId::new(browser::random::hex_id()),
        code: next_code(known.iter().map(|person| person.code.as_str())),
        born: None,
        guardian: None,
    }
}

/// Adds a practice model; name and contact go into an entry of their own.
#[component]
pub(super) fn AddForm() -> impl IntoView {
    let session = session();
    let new = blank(session);
    let fields = PersonFields::of(&new);
    let (name, contact) = (Field::empty(), Field::empty());
    let saving = Saving::new();
    let id = new.id;
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let person = fields.read(session, &id);
        let (typed_name, typed_contact) = (name.read(one_line), contact.read(one_line));
        let (Some(person), Some(typed_name), Some(typed_contact)) = (person, typed_name, typed_contact) else { return };
        let page = format!("/practice-model/{}", encode(id.as_str()));
        let mut facts = vec![Fact::PracticeModelAdded(person)];
        if !typed_name.is_empty() || !typed_contact.is_empty() {
            let of = Subject::PracticeModel(id.clone());
            facts.push(Fact::ContactNoted(Contact { of, name: typed_name, contact: typed_contact }));
        }
        saving.write(session, facts, "Added.".to_owned(), move || browser::page::set_hash(&page));
    };
    view! {
        <form novalidate on:submit=submit>
            <PersonInputs fields=fields/>
            <TextInput label="Name (optional)" id="pm-name" field=name hint="Kept apart, hidden behind the lock"/>
            <TextInput label="Contact (optional)" id="pm-contact" field=contact/>
            <button type="submit" disabled=move || saving.busy()>"Add"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

#[cfg(test)]
mod tests {
    use super::next_code;

    #[test]
    fn the_next_code_follows_the_highest_in_use() {
        assert_eq!(next_code([].into_iter()), "PM-001");
        assert_eq!(next_code(["PM-001", "Zoë", "PM-014", "PM-x"].into_iter()), "PM-015");
        assert_eq!(next_code(["PM-4294967295"].into_iter()), "PM-4294967295");
    }
}
