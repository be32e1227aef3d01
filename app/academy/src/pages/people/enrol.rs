//! The form that enrols a trainee or an instructor.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::ids::PersonId;
use practicum::person::{Person, Role};

use crate::browser;
use crate::components::When;
use crate::pages::form::{ChoiceInput, Field, Saving, SavingLine, TextInput, day, day_text, name, one_line};
use crate::session::{Session, reading, session};

/// What is typed on the form.
#[derive(Clone, Copy)]
struct Enrolment {
    name: Field,
    role: Field,
    group: Field,
    since: Field,
}

/// Enrols somebody.
#[component]
pub(super) fn EnrolForm() -> impl IntoView {
    let session = session();
    let today = reading().at.date_naive();
    let enrolment = Enrolment {
        name: Field::empty(),
        role: Field::of("trainee"),
        group: Field::empty(),
        since: Field::of(day_text(Some(today))),
    };
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        enrol(session, enrolment, saving);
    };
    let roles = [Role::Trainee, Role::Instructor].map(|role| (role.word().to_owned(), role.word().to_owned())).to_vec();
    let trainee = move || enrolment.role.text.with(|role| role == Role::Trainee.word());
    view! {
        <form novalidate on:submit=submit>
            <TextInput label="Name" id="enrol-name" field=enrolment.name/>
            <ChoiceInput legend="Role" id="enrol-role" field=enrolment.role options=roles/>
            <When when=trainee>
                <TextInput label="Group (optional)" id="enrol-group" field=enrolment.group
                    hint="Trainees who started together"/>
            </When>
            <TextInput label="Since" id="enrol-since" field=enrolment.since kind="date"/>
            <button type="submit" disabled=move || saving.busy()>"Enrol"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

fn enrol(session: Session, enrolment: Enrolment, saving: Saving) {
    saving.hush();
    let records = session.records_now();
    let taken = |name: &str| {
        records.people().iter().any(|person| person.left.is_none() && person.name.to_lowercase() == name.to_lowercase())
    };
    let name = enrolment.name.read(|typed| {
        let name = name("the name", typed)?;
        if taken(&name) {
            return Err(format!("“{name}” is already enrolled: add something that tells the two apart."));
        }
        Ok(name)
    });
    let group = enrolment.group.read(one_line);
    let since = enrolment.since.read(day);
    let role = if enrolment.role.typed() == Role::Instructor.word() { Role::Instructor } else { Role::Trainee };
    let (Some(name), Some(group), Some(since)) = (name, group, since) else { return };
    if !session.may_assess() {
        saving.say(Err("The lock has closed meanwhile: unlock at the top, then enrol.".to_owned()));
        return;
    }
    let done = match role {
        Role::Trainee => format!("{name} is enrolled and can be chosen at the top."),
        _ => format!("{name} is enrolled. Set a PIN below before {name} can mark on this device."),
    };
    let person = Person {
        id: PersonId::new(browser::random::hex_id()),
        name,
        role,
        group: if role == Role::Trainee { group } else { String::new() },
        since,
        left: None,
        show_times_early: false,
    };
    // The group stays: a whole group is often enrolled in one go.
    saving.write(session, vec![Fact::PersonEnrolled(person)], done, move || {
        drop(enrolment.name.text.try_set(String::new()))
    });
}
