//! Consents to the service and to the training record: given, withdrawn, which wording, by whom recorded.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::ids::{EntryId, PracticeModelId};
use practicum::practice_model::ConsentKind;

use crate::components::{HoldButton, When};
use crate::pages::form::{Saving, SavingLine};
use crate::session::{Session, reading, session};

/// Says what a withdrawal removes and what stays, before it is done.
fn what_it_removes(session: Session, id: &PracticeModelId, kind: ConsentKind) -> String {
    let records = session.records();
    let services = records.services_in_force();
    let own = services.iter().filter(|service| service.practice_model.as_ref() == Some(id));
    let photos: usize = own.clone().map(|service| records.photos_of(&service.id).len()).sum();
    let own = own.count();
    match kind {
        ConsentKind::Service => {
            "no lotion goes on any more until it is given again. What was done stays on record.".to_owned()
        }
        ConsentKind::Record => format!(
            "no further service is recorded for training. The {own} services so far stay under their code, without name \
             and contact once the owner has erased who this is (see below), unless a hold asks for keeping."
        ),
        ConsentKind::Photos => {
            format!("no photo is kept any more, and the {photos} kept so far are for the owner to erase below.")
        }
        ConsentKind::Publicity => {
            "photos are shown to nobody else any more. What others have already copied cannot be called back."
                .to_owned()
        }
    }
}

/// A consent as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    entry: EntryId,
    words: String,
    holds: bool,
}

fn lines(session: Session, id: &PracticeModelId, kind: ConsentKind) -> Vec<Line> {
    let records = session.records();
    let now = reading().at;
    let known = records.consents_of(id).into_iter().filter(|consent| consent.value.kind == kind);
    let line = |consent: &logbook::records::Recorded<practicum::practice_model::Consent>| {
        let (given, by) = (consent.value.given.format("%Y-%m-%d %H:%M"), session.person_name(&consent.author));
        let withdrawn = consent.value.withdrawn.map(|at| format!("; withdrawn {}", at.format("%Y-%m-%d %H:%M")));
        let words = format!(
            "Given {given}, wording {}, recorded by {by}{}",
            consent.value.version,
            withdrawn.unwrap_or_default()
        );
        Line { entry: consent.entry.clone(), words, holds: consent.value.holds(&now) }
    };
    known.map(line).collect()
}

/// Both consents.
#[component]
pub(super) fn Consents(
    /// Whose.
    id: PracticeModelId,
) -> impl IntoView {
    let (record, photos, publicity, minor) = (id.clone(), id.clone(), id.clone(), id.clone());
    let session = session();
    let guardian = move || {
        session.is_minor(&minor).then(|| {
            let records = session.records();
            let known = records.practice_model(&minor).and_then(|person| person.guardian.clone());
            let named = known.map_or_else(|| ", who is to be named above,".to_owned(), |known| format!(", {},", known.name));
            view! {
                <p class="notice notice-caution">{format!(
                    "▲ Under 18: the guardian{named} gives each of these in writing, beside the practice model, and is in the                      room at the service."
                )}</p>
            }
        })
    };
    let asked = move |which: usize| {
        session.book().is_some_and(|book| book.photo_consent_texts.get(which).is_some_and(Option::is_some))
    };
    view! {
        <section>
            <h2>"Consents"</h2>
            {guardian}
            <ConsentPart id=id kind=ConsentKind::Service title="The service"/>
            <ConsentPart id=record kind=ConsentKind::Record title="The training record"/>
            <When when=move || asked(0)><ConsentPart id=photos.clone() kind=ConsentKind::Photos title="Photos"/></When>
            <When when=move || asked(1)><ConsentPart id=publicity.clone() kind=ConsentKind::Publicity title="Showing photos to others"/></When>
        </section>
    }
}

/// One kind of consent: its wording, its history, giving and withdrawing.
#[component]
fn ConsentPart(
    /// Whose.
    id: PracticeModelId,
    /// What for.
    kind: ConsentKind,
    /// Title.
    title: &'static str,
) -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let known = id.clone();
    let all = Memo::new(move |_| lines(session, &known, kind));
    let holding = move || all.with(|all| all.iter().find(|line| line.holds).map(|line| line.entry.clone()));
    let state = move || if holding().is_some() { "✓ Given, and not withdrawn." } else { "○ Not given." };
    let past = move || all.get().into_iter().map(|line| view! { <li>{line.words}</li> }).collect_view();
    let ids = StoredValue::new(id);
    view! {
        <h3>{title}</h3>
        <p>{state}</p>
        <ul class="plain-list small">{past}</ul>
        <When when=move || session.who().is_some()
            fallback=|| view! { <p class="small">"Say at the top who is using this device, to record a consent."</p> }>
            {move || match holding() {
                Some(entry) => view! { <Withdraw id=ids.get_value() kind=kind entry=entry title=title saving=saving/> }.into_any(),
                None => view! { <Give id=ids.get_value() kind=kind title=title saving=saving/> }.into_any(),
            }}
        </When>
        <SavingLine saving=saving/>
    }
}

/// Records a consent after its wording was read.
#[component]
fn Give(
    /// Whose.
    id: PracticeModelId,
    /// What for.
    kind: ConsentKind,
    /// What for, in words.
    title: &'static str,
    /// The saving.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let book = session.book();
    let text = move || {
        session.book().map(|book| {
            let [service, record] = &book.consent_texts;
            let [photos, publicity] = &book.photo_consent_texts;
            match kind {
                ConsentKind::Service => service.clone(),
                ConsentKind::Record => record.clone(),
                ConsentKind::Photos => photos.clone().unwrap_or_default(),
                ConsentKind::Publicity => publicity.clone().unwrap_or_default(),
            }
        })
    };
    let give = move |_| {
        let Some(book) = &book else {
            saving.say(Err("No course book is in force, so there is no wording to agree to.".to_owned()));
            return;
        };
        let (version, given) = (book.consent_version.clone(), reading().at);
        let fact = Fact::ConsentGiven { practice_model: id.clone(), kind, version, given };
        saving.write(session, vec![fact], "The consent is recorded.".to_owned(), || {});
    };
    view! {
        <blockquote>{text}</blockquote>
        <button type="button" disabled=move || saving.busy() on:click=give>
            {format!("Has read this and agrees: {}", title.to_lowercase())}
        </button>
    }
}

/// Withdraws a consent.
#[component]
fn Withdraw(
    /// Whose.
    id: PracticeModelId,
    /// What for.
    kind: ConsentKind,
    /// The entry that recorded it as given.
    entry: EntryId,
    /// What for, in words.
    title: &'static str,
    /// The saving.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let removes = what_it_removes(session, &id, kind);
    let withdraw = move |()| {
        let fact = Fact::ConsentWithdrawn { consent: entry.clone(), practice_model: id.clone(), at: reading().at };
        saving.write(session, vec![fact], "The withdrawal is recorded. It holds from now on.".to_owned(), || {});
    };
    view! {
        <p class="small">"What a withdrawal does: "{removes}</p>
        <HoldButton label=format!("Hold: withdraws consent to {}", title.to_lowercase()) on_hold=Callback::new(withdraw)/>
    }
}
