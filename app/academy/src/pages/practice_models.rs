//! Practice models: kept as codes, with consents and sensitivity tests recorded without a service.

mod add;
mod consents;
mod particulars;
mod put_on;
mod reading;
mod tests_part;

use leptos::prelude::*;
use practicum::gate::age;
use practicum::ids::PracticeModelId;
use practicum::practice_model::{ConsentKind, PracticeModel, TestResult};

use crate::components::{Page, When};
use crate::pages::people::LockWords;
use crate::session::{Session, reading, session};

/// All practice models.
#[component]
pub(crate) fn PracticeModelsPage() -> impl IntoView {
    let session = session();
    let all = Memo::new(move |_| session.practice_models());
    let empty = move || all.with(Vec::is_empty);
    let rows = move || all.get().into_iter().map(|person| view! { <Row person=person/> }).collect_view();
    view! {
        <Page title="Practice models">
            <p>"Practice models are shown as codes. Names and contacts are kept in entries of their own."</p>
            <LockWords/>
            <When when=move || session.who().is_some()
                fallback=|| view! { <p class="notice notice-info">"Say at the top who is using this device, to add a practice model."</p> }>
                <details class="form-part" open=empty>
                    <summary>"Add a practice model"</summary>
                    <add::AddForm/>
                </details>
            </When>
            <When when=move || !empty() fallback=|| view! { <p>"None is known on this device yet."</p> }>
                <div class="table-wrap" tabindex="0" role="region" aria-label="Practice models">
                    <table>
                        <thead><tr>
                            <th scope="col">"Code"</th><th scope="col">"Age"</th>
                            <th scope="col">"Consents"</th><th scope="col">"Sensitivity tests"</th>
                        </tr></thead>
                        <tbody>{rows}</tbody>
                    </table>
                </div>
            </When>
        </Page>
    }
}

/// One line of the list.
#[component]
fn Row(
    /// The practice model.
    person: PracticeModel,
) -> impl IntoView {
    let session = session();
    let link = format!("#/practice-model/{}", crate::route::encode(person.id.as_str()));
    let id = person.id.clone();
    let consents = move || consents_in_words(session, &id);
    let id = person.id.clone();
    let tests = move || tests_in_words(session, &id);
    view! {
        <tr>
            <th scope="row"><a href=link>{person.code.clone()}</a></th>
            <td>{move || age_in_words(session, &person)}</td>
            <td>{consents}</td>
            <td>{tests}</td>
        </tr>
    }
}

fn consents_in_words(session: Session, id: &PracticeModelId) -> String {
    let word = |kind| if session.consent_holds(id, kind) { "given" } else { "not given" };
    format!("service: {}; record: {}", word(ConsentKind::Service), word(ConsentKind::Record))
}

fn tests_in_words(session: Session, id: &PracticeModelId) -> String {
    let tests = session.tests_of(id);
    let positive =
        tests.iter().filter(|test| test.read.as_ref().is_some_and(|read| read.result == TestResult::Positive)).count();
    let unread = tests.iter().filter(|test| test.read.is_none()).count();
    match (tests.len(), unread, positive) {
        (0, _, _) => "none put on".to_owned(),
        (_, unread, 1..) => format!("■ a reaction was seen; {unread} to read"),
        (all, unread, _) => format!("{all} put on, {unread} to read"),
    }
}

/// Says how old somebody is today, against the academy's minimum age.
fn age_in_words(session: Session, person: &PracticeModel) -> String {
    let minimum = session.records().academy().map_or(age::ADULT, |academy| academy.minimum_age);
    let years = person.born.map(|born| age::in_years(born, reading().at.date_naive()));
    match years {
        None => "▲ birth date not asked yet".to_owned(),
        Some(None) => "▲ birth date lies in the future".to_owned(),
        Some(Some(years)) if years < minimum => format!("■ {years}: below the minimum age of {minimum}"),
        Some(Some(years)) if years < age::ADULT => match &person.guardian {
            Some(guardian) if guardian.consented => format!("{years}: a minor, guardian has consented in writing"),
            _ => format!("▲ {years}: a minor without a guardian’s written consent"),
        },
        Some(Some(years)) => format!("{years}"),
    }
}

/// One practice model.
#[component]
pub(crate) fn PracticeModelPage(
    /// Which.
    id: PracticeModelId,
) -> impl IntoView {
    let session = session();
    let known = id.clone();
    let person = Memo::new(move |_| session.records().practice_model(&known).cloned());
    let title = person.get_untracked().map_or_else(|| "Practice model".to_owned(), |person| person.code);
    let age = move || person.get().map(|person| age_in_words(session, &person));
    let ids = StoredValue::new(id);
    view! {
        <Page title=title>
            <p><a href="#/practice-models">"All practice models"</a></p>
            <When when=move || person.with(Option::is_some)
                fallback=|| view! { <p class="notice notice-info">"This practice model is not known on this device."</p> }>
                <p>"Age: "{age}</p>
                <consents::Consents id=ids.get_value()/>
                <tests_part::TestsPart id=ids.get_value()/>
                <particulars::Particulars id=ids.get_value()/>
                <crate::pages::keeping::OwnData of=crate::pages::keeping::Whose::PracticeModel(ids.get_value())/>
                <p><a href="#/keeping">"How long records are kept"</a></p>
                <p><a href=move || crate::route::Route::ErasePracticeModel(ids.get_value()).to_hash()>"Erase who this is, for good"</a></p>
            </When>
        </Page>
    }
}
