//! The academy's particulars, amended by the owner, and tint where the region has it off.

use leptos::prelude::*;
use logbook::fact::{Academy, Fact};

use crate::components::When;
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput, TickInput, one_line};
use crate::pages::set_up::{AcademyFields, AcademyInputs};
use crate::session::{Session, session};

/// The particulars to read; for the owner, as a form.
#[component]
pub(super) fn AcademyPart() -> impl IntoView {
    view! {
        <section>
            <h2>"The academy"</h2>
            <OnceUnlocked owner=true fallback=|| view! { <Particulars/> }>
                <AmendForm/>
            </OnceUnlocked>
        </section>
    }
}

fn tint_in_words(session: Session) -> String {
    let ground = session.records().academy().and_then(|academy| academy.tint_legal_ground.clone());
    match (session.tint_allowed(), ground) {
        (true, Some(ground)) => format!("on; the owner’s legal ground: {ground}"),
        (true, None) => "a separate choice at each service".to_owned(),
        (false, _) => "off".to_owned(),
    }
}

/// The particulars in words.
#[component]
fn Particulars() -> impl IntoView {
    let session = session();
    let academy = Memo::new(move |_| session.records().academy().cloned());
    let region = move |academy: &Academy| {
        session
            .book()
            .and_then(|book| book.region(&academy.region).map(|region| region.label.clone()))
            .unwrap_or_else(|| academy.region.to_string())
    };
    let list = move || {
        academy.get().map(|academy| {
            view! {
                <dl class="facts">
                    <dt>"Name"</dt><dd>{academy.name.clone()}</dd>
                    <dt>"Country or region"</dt><dd>{region(&academy)}</dd>
                    <dt>"Emergency number"</dt><dd>{academy.emergency_number.clone()}</dd>
                    <dt>"Minimum age of practice models"</dt><dd>{academy.minimum_age}" years"</dd>
                    <dt>"Time zone"</dt><dd>{academy.time_zone.clone()}</dd>
                    <dt>"Tint"</dt><dd>{move || tint_in_words(session)}</dd>
                </dl>
            }
        })
    };
    view! {
        {list}
        <p class="small">"Only the owner changes these, unlocked at the top."</p>
    }
}

/// The form as typed.
#[derive(Clone, Copy)]
struct Amendment {
    fields: AcademyFields,
    tint: RwSignal<bool>,
    ground: Field,
}

impl Amendment {
    fn of(academy: &Academy) -> Self {
        Self {
            fields: AcademyFields {
                name: Field::of(academy.name.clone()),
                region: Field::of(academy.region.to_string()),
                emergency: Field::of(academy.emergency_number.clone()),
                age: Field::of(academy.minimum_age.to_string()),
                zone: Field::of(academy.time_zone.clone()),
            },
            tint: RwSignal::new(academy.tint_legal_ground.is_some()),
            ground: Field::of(academy.tint_legal_ground.clone().unwrap_or_default()),
        }
    }
}

/// Amends the particulars.
#[component]
fn AmendForm() -> impl IntoView {
    let session = session();
    let Some(academy) = session.records_now().academy().cloned() else { return ().into_any() };
    let amendment = Amendment::of(&academy);
    let saving = Saving::new();
    let off = move || {
        let chosen = amendment.fields.region.text.get();
        session
            .book()
            .is_some_and(|book| book.regions.iter().any(|region| region.tint_off && region.id.as_str() == chosen))
    };
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        amend(session, amendment, &academy, untrack(off), saving);
    };
    view! {
        <form novalidate on:submit=submit>
            <AcademyInputs fields=amendment.fields/>
            <When when=off>
                <TickInput label="Switch tint on, though this region has it off" ticked=amendment.tint/>
                <When when=move || amendment.tint.get()>
                    <TextInput label="Legal ground" id="academy-ground" field=amendment.ground
                        hint="The rule or authority that permits it here, and when you asked. It is kept and shown."/>
                </When>
            </When>
            <button type="submit" disabled=move || saving.busy()>"Save particulars"</button>
            <SavingLine saving=saving/>
        </form>
    }
    .into_any()
}

fn amend(session: Session, amendment: Amendment, academy: &Academy, off: bool, saving: Saving) {
    let particulars = amendment.fields.read();
    let ground = amendment.ground.read(|typed| {
        let ground = one_line(typed)?;
        match (off && amendment.tint.get_untracked(), ground.chars().count()) {
            (false, _) => Ok(None),
            (true, 0..10) => {
                Err("State the legal ground in words: which rule or authority permits tint on lashes here.".to_owned())
            }
            (true, _) => Ok(Some(ground)),
        }
    });
    let (Some(particulars), Some(ground)) = (particulars, ground) else {
        saving.say(Err("Look at the fields marked ▲ above; what was typed is still there.".to_owned()));
        return;
    };
    if !untrack(move || session.is_owner()) {
        saving.say(Err("The lock has closed meanwhile: unlock as the owner at the top, then save.".to_owned()));
        return;
    }
    let amended = Academy {
        name: particulars.name,
        region: particulars.region,
        emergency_number: particulars.emergency,
        minimum_age: particulars.age,
        time_zone: particulars.zone,
        owner: academy.owner.clone(),
        tint_legal_ground: ground,
        demo: academy.demo,
    };
    saving.write(session, vec![Fact::AcademyAmended(amended)], "Saved. It holds from now on.".to_owned(), || {});
}
