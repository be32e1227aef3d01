//! The service laid out for two eyes at a trainee's pace, and whether the eyes may overlap.

use leptos::prelude::*;
use logbook::Fact;
use practicum::ids::PersonId;

use crate::components::When;
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput, name};
use crate::pages::two_eyes::TwoEyesPlan;
use crate::session::session;

/// The layout for a trainee, asked for on opening.
#[component]
pub(crate) fn TwoEyesSection(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let open = RwSignal::new(false);
    let known = StoredValue::new(id);
    view! {
        <h2>"Two eyes, one pair of hands"</h2>
        <button
            type="button"
            class="quiet"
            aria-expanded=move || open.get().to_string()
            on:click=move |_| open.update(|open| *open = !*open)
        >
            {move || if open.get() { "Put the layout away" } else { "Lay the service out at the present pace" }}
        </button>
        <div class="two-eyes">
            <When when=move || open.get()>
                <TwoEyesPlan id=known.get_value() plan=Signal::stored(None)/>
                <Allowing id=known.get_value()/>
            </When>
        </div>
    }
}

/// Says whether the eyes may overlap, and lets an instructor decide.
#[component]
fn Allowing(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let trainee = id.clone();
    let said = Memo::new(move |_| {
        let records = session.records();
        let said = records.overlap_of(&trainee)?;
        let by = session.person_name(&said.author);
        Some((
            said.value.allowed,
            format!(
                "{by}, {}: {}; {}",
                said.recorded_at.date_naive(),
                said.value.why.trim_end_matches('.'),
                session.signed_words(&said.entry)
            ),
        ))
    });
    let allowed = Signal::derive(move || said.with(|said| said.as_ref().is_some_and(|(allowed, _)| *allowed)));
    let words = move || match said.get() {
        Some((true, by)) => format!("✓ Overlapping the eyes is allowed ({by})."),
        Some((false, by)) => format!("○ Overlapping the eyes is no longer allowed ({by})."),
        None => "○ Nobody has allowed overlapping the eyes.".to_owned(),
    };
    view! {
        <p>{words}</p>
        <OnceUnlocked fallback=|| ()>
            <AllowForm id=id.clone() allowed=allowed/>
        </OnceUnlocked>
    }
}

/// An instructor's word on whether the eyes may overlap.
#[component]
fn AllowForm(
    /// The trainee.
    id: PersonId,
    /// Whether they may now.
    allowed: Signal<bool>,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let saving = Saving::new();
    let save = move |_| {
        let Some(reason) = why.read(|typed| name("why, in a few words", typed)) else { return };
        let fact = Fact::OverlapAllowed { trainee: id.clone(), allowed: !allowed.get_untracked(), why: reason };
        saving.write(session, vec![fact], "The decision is recorded.".to_owned(), move || why.clear());
    };
    view! {
        <details class="decide">
            <summary>"Record a decision about overlapping the eyes"</summary>
            <TextInput label="Why the eyes may overlap, or no longer" id="overlap-why" field=why/>
            <SavingLine saving=saving/>
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>
                {move || if allowed.get() { "Allow it no longer" } else { "Allow overlapping the eyes" }}
            </button>
        </details>
    }
}
