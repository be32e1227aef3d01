//! What falls due for erasure by the course book's years, and everything held about somebody in one file.

use leptos::prelude::*;
use logbook::subject::Subject;
use practicum::ids::{PersonId, PracticeModelId};
use practicum::moment::Day;
use practicum::practice_model::ConsentKind;
use practicum::retention::{practice_model_due, trainee_due};

use super::form::{Saving, SavingLine};
use crate::components::{Page, When};
use crate::own_data;
use crate::review::standalone;
use crate::route::Route;
use crate::session::{Session, reading, session};

/// Somebody whose years of keeping are known.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    due: Day,
    words: String,
    to: String,
}

/// One line, with a hold that stands; nothing where there is nothing left to erase.
fn line(session: Session, due: Day, words: String, of: &Subject, to: Route) -> Option<Line> {
    if session.erasable(of).is_empty() {
        return None;
    }
    let held = !session.records().holds_on(of).is_empty();
    let held = if held { " (▲ a hold keeps it)" } else { "" };
    Some(Line { due, words: format!("{words}{held}"), to: to.to_hash() })
}

/// Practice models whose photos are here though their consent to photos does not hold.
fn photos_without_consent(session: Session) -> Vec<(String, String)> {
    let records = session.records();
    let with: std::collections::BTreeSet<&PracticeModelId> =
        records.beside().photos.iter().map(|photo| &photo.value.practice_model).collect();
    let waiting = with.into_iter().filter(|id| !session.consent_holds(id, ConsentKind::Photos));
    waiting.map(|id| (session.code_of(id), Route::ErasePracticeModel(id.clone()).to_hash())).collect()
}

fn lines(session: Session) -> Option<Vec<Line>> {
    let rules = session.book()?.rules.retention?;
    let records = session.records();
    let services = records.services_in_force();
    let of = |known: &&practicum::practice_model::PracticeModel| {
        let own = services.iter().filter(|service| service.practice_model.as_ref() == Some(&known.id));
        let due = practice_model_due(&rules, known.born, own.map(|service| service.day()).max())?;
        let of = Subject::PracticeModel(known.id.clone());
        line(session, due, format!("Practice model {}", known.code), &of, Route::ErasePracticeModel(known.id.clone()))
    };
    let mut all: Vec<Line> = records.practice_models().iter().filter_map(of).collect();
    let left = |person: &&practicum::person::Person| {
        let due = trainee_due(&rules, person.left)?;
        let of = Subject::Person(person.id.clone());
        line(
            session,
            due,
            format!("{}, {}", person.name, person.role.word()),
            &of,
            Route::ErasePerson(person.id.clone()),
        )
    };
    all.extend(records.people().iter().filter_map(left));
    all.sort_by(|a, b| (a.due, &a.words).cmp(&(b.due, &b.words)));
    Some(all)
}

/// The page.
#[component]
pub(crate) fn KeepingPage() -> impl IntoView {
    let session = session();
    let shown = move || {
        let today = reading().at.date_naive();
        let Some(all) = lines(session) else {
            return view! { <p>"○ The course book says nothing of how long records are kept."</p> }.into_any();
        };
        let (due, later): (Vec<Line>, Vec<Line>) = all.into_iter().partition(|line| line.due <= today);
        let line = |line: Line| view! { <li><a href=line.to>{line.words}</a>{format!(": {}", line.due)}</li> };
        let none = due.is_empty().then(|| view! { <p>"○ Nothing is due."</p> });
        let count = later.len();
        let waiting = photos_without_consent(session);
        let photo = |(code, to): (String, String)| view! { <li><a href=to>{format!("Practice model {code}")}</a></li> };
        let photos = (!waiting.is_empty()).then(|| view! {
            <h2>"Photos without consent"</h2>
            <p>"The consent to photos does not hold any more: they are not shown, and wait for the owner to erase them."</p>
            <ul class="plain-list">{waiting.into_iter().map(photo).collect_view()}</ul>
        });
        view! {
            {photos}<h2>"Due now"</h2>{none}
            <ul class="plain-list">{due.into_iter().map(line).collect_view()}</ul>
            <details><summary>{format!("Later: {count}")}</summary>
                <ul class="plain-list">{later.into_iter().map(line).collect_view()}</ul>
            </details>
        }
        .into_any()
    };
    let years = move || {
        session.book().and_then(|book| book.rules.retention).map(|rules| format!(
        "By the course book: practice models {} years after the last service, who was a minor then {} years after turning {}, \
         people {} years after leaving. Ask your insurer and your law which years hold for you.",
        rules.practice_model_years, rules.minor_years, rules.of_age, rules.trainee_years
    ))
    };
    view! {
        <Page title="How long records are kept">
            <p>"Nothing is erased by itself. Each line leads to what would go and what would stay; a hold keeps everything."</p>
            <p class="small">{years}</p>
            <When when=move || session.may_see_private() fallback=|| view! { <super::mark::UnlockFirst/> }>{shown}</When>
        </Page>
    }
}

/// Whose data are handed out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Whose {
    /// A practice model's.
    PracticeModel(PracticeModelId),
    /// A person's.
    Person(PersonId),
}

/// Hands out everything held about somebody as one page.
#[component]
pub(crate) fn OwnData(
    /// Whose.
    of: Whose,
) -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let own = of.clone();
    let may = Memo::new(move |_| {
        session.may_see_private() || matches!(&own, Whose::Person(id) if session.who().is_some_and(|who| who.id == *id))
    });
    let save = move |_| {
        let records = session.records_now();
        let Some(book) = untrack(|| session.book()) else { return };
        let at = reading().at;
        let html = match &of {
            Whose::PracticeModel(id) => own_data::of_practice_model(&records, &book, id, &at),
            Whose::Person(id) => own_data::of_person(&records, &book, id, &at),
        };
        let Some(html) = html else { return saving.say(Err("Nothing is held on this device.".to_owned())) };
        let text = standalone("What is held", "", &[html]);
        saving.say(super::review::hand_out(session, "own-data", "html", "text/html", &text));
    };
    view! {
        <details class="form-part"><summary>"Everything held, in one file"</summary>
            <p class="small">"For whom it is about, on their request: one page that opens anywhere. It names nobody else. Hand it over only to them."</p>
            <When when=move || may.get() fallback=|| view! { <p class="small">"Unlock at the top as an instructor or the owner."</p> }>
                <button type="button" on:click=save.clone()>"Save the page"</button>
            </When>
            <SavingLine saving=saving/>
        </details>
    }
}
