//! The form that founds an academy.

use leptos::prelude::*;
use logbook::fact::{Academy, Fact};
use practicum::course_book::{example, text};
use practicum::ids::{CourseBookId, PersonId};
use practicum::person::{Person, Role};

use super::academy::{AcademyFields, AcademyInputs, Particulars};
use crate::browser;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, name};
use crate::session::{Session, check_pin, reading, session};

/// Everything on the founding form.
#[derive(Clone, Copy)]
struct Founding {
    academy: AcademyFields,
    owner: Field,
    pin: Field,
    again: Field,
    passphrase: Field,
    passphrase_again: Field,
    /// The owner's identifier stays the same when saving is tried again.
    owner_id: StoredValue<PersonId>,
}

/// Founds an academy with its owner and the example course book.
#[component]
pub(super) fn FoundingForm() -> impl IntoView {
    let session = session();
    let founding = Founding {
        academy: AcademyFields {
            name: Field::empty(),
            region: Field::empty(),
            emergency: Field::empty(),
            age: Field::of("18"),
            zone: Field::of(browser::clock::time_zone().unwrap_or_default()),
        },
        owner: Field::empty(),
        pin: Field::empty(),
        again: Field::empty(),
        passphrase: Field::empty(),
        passphrase_again: Field::empty(),
        owner_id: StoredValue::new(PersonId::new(browser::random::hex_id())),
    };
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        found(session, founding, saving);
    };
    view! {
        <form novalidate on:submit=submit>
            <AcademyInputs fields=founding.academy/>
            <TextInput label="Your name, as the owner" id="owner-name" field=founding.owner/>
            <TextInput label="Your PIN" id="owner-pin" field=founding.pin kind="password" keyboard="numeric"
                hint="4 to 12 digits. It guards contacts and health answers on this device, and locks again after 5 minutes."/>
            <TextInput label="Your PIN again" id="owner-pin-again" field=founding.again kind="password" keyboard="numeric"/>
            <TextInput label="Passphrase of the academy’s key" id="key-passphrase" field=founding.passphrase kind="password"
                hint="At least 12 characters, several words are easy to keep. This key founds the academy, admits its devices and instructors, and signs nothing else. Without the passphrase nobody can admit anybody again."/>
            <TextInput label="The passphrase again" id="key-passphrase-again" field=founding.passphrase_again kind="password"/>
            <p class="small">"The example course book of this app is adopted; you can adopt your own later."</p>
            <button type="submit" disabled=move || saving.busy()>"Found the academy"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

fn found(session: Session, founding: Founding, saving: Saving) {
    let particulars = founding.academy.read();
    let owner = founding.owner.read(|typed| name("your name", typed));
    let pin = founding.pin.read(pin);
    let again = founding.again.read(|typed| same_pin(&founding.pin.typed(), typed));
    let passphrase = founding.passphrase.read(new_passphrase);
    let same = founding.passphrase_again.read(|typed| same_passphrase(&founding.passphrase.typed(), typed));
    let (Some(particulars), Some(owner), Some(pin), Some(()), Some(passphrase), Some(())) =
        (particulars, owner, pin, again, passphrase, same)
    else {
        saving.say(Err("Look at the fields marked ▲ above; what was typed is still there.".to_owned()));
        return;
    };
    let Some(book) = session.book() else {
        saving.say(Err("The example course book could not be read.".to_owned()));
        return;
    };
    let id = founding.owner_id.get_value();
    let facts = founding_facts(particulars, owner, id.clone(), book.id.clone());
    let act = async move {
        session.found(&id, &pin, &passphrase, facts).await?;
        Ok("The academy is founded.".to_owned())
    };
    saving.run(act, || browser::page::set_hash("/keys"));
}

fn founding_facts(particulars: Particulars, owner: String, id: PersonId, book: CourseBookId) -> Vec<Fact> {
    let academy = Academy {
        name: particulars.name,
        region: particulars.region,
        emergency_number: particulars.emergency,
        minimum_age: particulars.age,
        time_zone: particulars.zone,
        owner: id.clone(),
        tint_legal_ground: None,
        demo: false,
    };
    let person = Person {
        id,
        name: owner,
        role: Role::Owner,
        group: String::new(),
        since: Some(reading().at.date_naive()),
        left: None,
        show_times_early: false,
    };
    let text = text::join(&example::files());
    vec![Fact::AcademyFounded(academy), Fact::BookAdopted { id: book, text }, Fact::PersonEnrolled(person)]
}

/// Reads a new PIN.
pub(crate) fn pin(typed: &str) -> Result<String, String> {
    check_pin(typed).map(|()| typed.to_owned())
}

/// Reads a new passphrase.
pub(crate) fn new_passphrase(typed: &str) -> Result<String, String> {
    let said = logbook::sealed::check_passphrase(typed);
    said.map(|()| typed.to_owned()).map_err(|error| crate::session::sentence(&error.to_string()))
}

/// Compares the second typing of a new passphrase with the first.
pub(crate) fn same_passphrase(first: &str, second: &str) -> Result<(), String> {
    if first == second { Ok(()) } else { Err("The two passphrases differ: type the same twice.".to_owned()) }
}

/// Compares the second typing of a new PIN with the first.
pub(crate) fn same_pin(first: &str, second: &str) -> Result<(), String> {
    if first == second { Ok(()) } else { Err("The two PINs differ: type the same digits twice.".to_owned()) }
}

#[cfg(test)]
mod tests {
    use super::{pin, same_pin};

    #[test]
    fn a_pin_is_typed_twice_and_has_digits_only() {
        assert!(pin("0000").is_ok());
        for bad in ["", "123", "1234567890123", "12a4", "١٢٣٤"] {
            assert!(pin(bad).is_err(), "{bad}");
        }
        assert!(same_pin("1234", "1234").is_ok());
        assert!(same_pin("1234", "1235").is_err());
    }
}
