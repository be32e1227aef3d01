//! The form that founds an academy.

use leptos::prelude::*;
use logbook::fact::{Academy, Fact};
use practicum::course_book::{example, text};
use practicum::ids::{CourseBookId, PersonId, RegionId};
use practicum::person::{Person, Role};

use crate::browser;
use crate::pages::form::{Field, Saving, SavingLine, SelectInput, TextInput, name, whole_number};
use crate::session::{Session, reading, session};

/// Least minimum age that may be set.
pub(crate) const YOUNGEST: u32 = 14;
/// Highest minimum age that may be set.
pub(crate) const OLDEST: u32 = 99;

/// The fields of the academy itself, which the settings use too.
#[derive(Clone, Copy)]
pub(crate) struct AcademyFields {
    /// Name.
    pub(crate) name: Field,
    /// Identifier of the region.
    pub(crate) region: Field,
    /// Emergency number.
    pub(crate) emergency: Field,
    /// Minimum age.
    pub(crate) age: Field,
    /// Time zone.
    pub(crate) zone: Field,
}

/// The academy's particulars, read.
pub(crate) struct Particulars {
    /// Name.
    pub(crate) name: String,
    /// Region.
    pub(crate) region: RegionId,
    /// Emergency number.
    pub(crate) emergency: String,
    /// Minimum age.
    pub(crate) age: u32,
    /// Time zone.
    pub(crate) zone: String,
}

impl AcademyFields {
    /// Reads all fields; each says what is wrong with it.
    pub(crate) fn read(&self) -> Option<Particulars> {
        let title = self.name.read(|typed| name("the academy’s name", typed));
        let region = self.region.read(|typed| match typed {
            "" => Err("Choose the country or region: cautions and the tint rule follow it.".to_owned()),
            chosen => Ok(RegionId::from(chosen)),
        });
        let emergency = self.emergency.read(emergency_number);
        let age = self.age.read(|typed| whole_number(typed, YOUNGEST, OLDEST));
        let zone = self.zone.read(time_zone);
        Some(Particulars { name: title?, region: region?, emergency: emergency?, age: age?, zone: zone? })
    }
}

/// Reads an emergency number: digits, perhaps with spaces, `+` or `-`.
pub(crate) fn emergency_number(typed: &str) -> Result<String, String> {
    let sign = |sign: char| sign.is_ascii_digit() || matches!(sign, ' ' | '+' | '-');
    let digits = typed.chars().filter(char::is_ascii_digit).count();
    if (2..=20).contains(&digits) && typed.chars().all(sign) {
        Ok(typed.to_owned())
    } else {
        Err("Type the emergency number with digits, such as 112. Dial only what you have checked yourself.".to_owned())
    }
}

/// Reads the name of a time zone such as `Europe/Lisbon`.
fn time_zone(typed: &str) -> Result<String, String> {
    let sign = |sign: char| sign.is_ascii_alphanumeric() || matches!(sign, '/' | '_' | '-' | '+');
    if !typed.is_empty() && typed.len() <= 64 && typed.chars().all(sign) {
        Ok(typed.to_owned())
    } else {
        Err("Type the time zone as area and city, such as Europe/Lisbon.".to_owned())
    }
}

/// The fields of the academy; a chosen region proposes its emergency number.
#[component]
pub(crate) fn AcademyInputs(
    /// The fields.
    fields: AcademyFields,
) -> impl IntoView {
    let session = session();
    let regions = move || session.book().map(|book| book.regions.clone()).unwrap_or_default();
    let words = move || regions().into_iter().map(|region| (region.id.to_string(), region.label)).collect::<Vec<_>>();
    let options = Signal::derive(words);
    let chosen = move || regions().into_iter().find(|region| fields.region.text.with(|id| region.id.as_str() == id));
    Effect::new(move |before: Option<(String, String)>| {
        // A proposal never overwrites what somebody typed: only an empty field or the last proposal.
        let region = fields.region.text.get();
        let proposal = chosen().map(|region| region.emergency_number).unwrap_or_default();
        if let Some((last_region, last)) = before
            && last_region != region
            && (fields.emergency.typed().is_empty() || fields.emergency.typed() == last)
        {
            fields.emergency.text.set(proposal.clone());
            fields.emergency.problem.set(None);
        }
        (region, proposal)
    });
    let note = move || chosen().map(|region| view! { <p class="small">"Tint here: "{region.tint_note}</p> });
    view! {
        <TextInput label="Name of the academy" id="academy-name" field=fields.name/>
        <SelectInput label="Country or region" id="academy-region" field=fields.region options=options
            hint="For the wording of cautions and the tint rule. Local rules come first."/>
        {note}
        <TextInput label="Emergency number" id="academy-emergency" field=fields.emergency keyboard="tel"
            hint="The region proposes one; check it. It is shown when a reaction is reported."/>
        <TextInput label="Minimum age of practice models, in years" id="academy-age" field=fields.age keyboard="numeric"
            hint="18 is a proposal, no source. Ask your insurer."/>
        <TextInput label="Time zone" id="academy-zone" field=fields.zone hint="As this device says it."/>
    }
}

/// Everything on the founding form.
#[derive(Clone, Copy)]
struct Founding {
    academy: AcademyFields,
    owner: Field,
    pin: Field,
    again: Field,
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
    let (Some(particulars), Some(owner), Some(pin), Some(())) = (particulars, owner, pin, again) else {
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
        session.set_pin(&id, &pin).await?;
        session.write_as(&id, facts).await?;
        session.switch_to(&id, &pin).await?;
        Ok("The academy is founded.".to_owned())
    };
    saving.run(act, || browser::page::set_hash("/people"));
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
    if (4..=12).contains(&typed.len()) && typed.bytes().all(|digit| digit.is_ascii_digit()) {
        Ok(typed.to_owned())
    } else {
        Err("A PIN has 4 to 12 digits.".to_owned())
    }
}

/// Compares the second typing of a new PIN with the first.
pub(crate) fn same_pin(first: &str, second: &str) -> Result<(), String> {
    if first == second { Ok(()) } else { Err("The two PINs differ: type the same digits twice.".to_owned()) }
}

#[cfg(test)]
mod tests {
    use super::{emergency_number, pin, same_pin, time_zone};

    #[test]
    fn an_emergency_number_has_digits() {
        for good in ["112", "999", "000", "+44 999", "1-1-2"] {
            assert!(emergency_number(good).is_ok(), "{good}");
        }
        for bad in ["", "1", "nine", "112; 113", "<b>112</b>"] {
            assert!(emergency_number(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_time_zone_is_one_word() {
        assert!(time_zone("America/Argentina/Buenos_Aires").is_ok());
        assert!(time_zone("Etc/GMT+5").is_ok());
        assert!(time_zone("").is_err());
        assert!(time_zone("Lisbon time").is_err());
    }

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
