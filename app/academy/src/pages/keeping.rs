//! What falls due for erasure by the course book's years, and everything held about somebody in one file.

use leptos::prelude::*;
use practicum::ids::{PersonId, PracticeModelId};
use practicum::moment::Day;
use practicum::retention::{practice_model_due, trainee_due};

use super::form::{Saving, SavingLine};
use crate::components::{Page, When};
use crate::own_data;
use crate::review::standalone;
use crate::session::{Session, reading, session};

/// Somebody whose years of keeping are known.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    due: Day,
    words: String,
    to: String,
}

fn lines(session: Session) -> Option<Vec<Line>> {
    let rules = session.book()?.rules.retention?;
    let records = session.records();
    let services = records.services_in_force();
    let of = |known: &&practicum::practice_model::PracticeModel| {
        let own = services.iter().filter(|service| service.practice_model.as_ref() == Some(&known.id));
        let due = practice_model_due(&rules, known.born, own.map(|service| service.day()).max())?;
        let to = format!("#/erase/practice-model/{}", known.id);
        Some(Line { due, words: format!("Practice model {}", known.code), to })
    };
    let mut all: Vec<Line> = records.practice_models().iter().filter_map(of).collect();
    let left = |person: &&practicum::person::Person| {
        let due = trainee_due(&rules, person.left)?;
        Some(Line {
            due,
            words: format!("{}, {}", person.name, person.role.word()),
            to: format!("#/erase/person/{}", person.id),
        })
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
        view! {
            <h2>"Due now"</h2>{none}
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
