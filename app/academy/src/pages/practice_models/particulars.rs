//! Code, birth date, guardian and contact of a practice model.

use leptos::prelude::*;
use logbook::fact::Fact;
use logbook::subject::Subject;
use practicum::gate::age;
use practicum::ids::PracticeModelId;
use practicum::practice_model::{Guardian, PracticeModel};

use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, TickInput, day, day_text, name, one_line};
use crate::pages::people::{ContactForm, LockWords};
use crate::session::{Session, reading, session};

/// Code, birth date and guardian as typed.
#[derive(Clone, Copy)]
pub(super) struct PersonFields {
    code: Field,
    born: Field,
    guardian: Field,
    consented: RwSignal<bool>,
}

impl PersonFields {
    /// Makes the fields of a practice model as known.
    pub(super) fn of(person: &PracticeModel) -> Self {
        let guardian = person.guardian.as_ref();
        Self {
            code: Field::of(person.code.clone()),
            born: Field::of(day_text(person.born)),
            guardian: Field::of(guardian.map(|guardian| guardian.name.clone()).unwrap_or_default()),
            consented: RwSignal::new(guardian.is_some_and(|guardian| guardian.consented)),
        }
    }

    /// Whether the birth date typed so far is a minor's.
    fn minor(&self) -> bool {
        let born = self.born.text.with(|typed| day(typed)).ok().flatten();
        born.and_then(|born| age::in_years(born, reading().at.date_naive())).is_some_and(|years| years < age::ADULT)
    }

    /// Reads the fields; each says what is wrong with it.
    pub(super) fn read(&self, session: Session, id: &PracticeModelId) -> Option<PracticeModel> {
        let records = session.records_now();
        let taken = |code: &str| {
            records.practice_models().iter().any(|other| other.id != *id && other.code.eq_ignore_ascii_case(code))
        };
        let code = self.code.read(|typed| {
            let code = name("a code, such as PM-014", typed)?;
            if taken(&code) { Err(format!("The code {code} is taken: choose another.")) } else { Ok(code) }
        });
        let today = reading().at.date_naive();
        let born = self.born.read(|typed| match day(typed)? {
            Some(born) if born > today => Err("A birth date cannot lie in the future.".to_owned()),
            born => Ok(born),
        });
        let guardian = self.guardian.read(one_line);
        let named = guardian.as_ref().is_some_and(|name| !name.is_empty());
        let consented = self.consented.get_untracked() && untrack(|| self.minor());
        if consented && !named && guardian.is_some() {
            self.guardian.refuse("Type the guardian’s name: a written consent is somebody’s.");
            return None;
        }
        let guardian = guardian?;
        let guardian = named.then_some(Guardian { name: guardian, consented });
        Some(PracticeModel { id: id.clone(), code: code?, born: born?, guardian })
    }
}

/// The fields of code, birth date and guardian.
#[component]
pub(super) fn PersonInputs(
    /// The fields.
    fields: PersonFields,
) -> impl IntoView {
    view! {
        <TextInput label="Code" id="pm-code" field=fields.code hint="Shown on screens instead of a name"/>
        <TextInput label="Birth date" id="pm-born" field=fields.born kind="date"
            hint="Needed before a live service, for the minimum age"/>
        <When when=move || fields.minor()>
            <TextInput label="Guardian’s name" id="pm-guardian" field=fields.guardian
                hint="Under 18: a guardian consents in writing and is in the room"/>
            <TickInput label="The guardian has consented in writing" ticked=fields.consented/>
        </When>
    }
}

/// Particulars, hidden behind the lock.
#[component]
pub(super) fn Particulars(
    /// Whose.
    id: PracticeModelId,
) -> impl IntoView {
    let session = session();
    let ids = StoredValue::new(id);
    let named = Signal::derive(move || session.who().is_some());
    view! {
        <section>
            <h2>"Particulars and contact"</h2>
            <LockWords/>
            <When when=move || session.may_see_private()
                fallback=|| view! { <p class="small">"Hidden: unlock at the top as an instructor or the owner."</p> }>
                <AmendForm id=ids.get_value()/>
                <h3>"Name and contact"</h3>
                <ContactForm of=Subject::PracticeModel(ids.get_value()) may_change=named with_name=true/>
            </When>
        </section>
    }
}

/// Changes code, birth date or guardian.
#[component]
fn AmendForm(
    /// Whose.
    id: PracticeModelId,
) -> impl IntoView {
    let session = session();
    let Some(known) = session.records_now().practice_model(&id).cloned() else { return ().into_any() };
    let fields = PersonFields::of(&known);
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let Some(person) = fields.read(session, &id) else { return };
        let facts = vec![Fact::PracticeModelAdded(person)];
        saving.write(session, facts, "Saved as a new entry; the earlier one stays readable.".to_owned(), || {});
    };
    view! {
        <form novalidate on:submit=submit>
            <PersonInputs fields=fields/>
            <button type="submit" disabled=move || saving.busy()>"Save particulars"</button>
            <SavingLine saving=saving/>
        </form>
    }
    .into_any()
}
