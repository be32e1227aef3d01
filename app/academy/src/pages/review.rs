//! Course-end reviews: one trainee's on the screen, on paper and as files; a whole group's in one go.

mod group;

use std::sync::Arc;

use leptos::prelude::*;
use logbook::spreadsheet::export::{Naming, services_csv};
use practicum::after_the_couch::Photo;
use practicum::evidence::Books;
use practicum::evidence::learning::Answer;
use practicum::evidence::learning::{Response, sentence};
use practicum::group::ByTrainee;
use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::order::InOrder;
use practicum::practice_model::ConsentKind;
use practicum::service::Service;
use practicum::standing::may_show_targets;

use super::form::{Saving, SavingLine};
use crate::browser;
use crate::components::{Page, When};
use crate::review::document::{Paper, STYLE};
use crate::review::html::Html;
use crate::review::{Material, article, page_rules, standalone};
use crate::session::{Reviewed, Session, SignedRecord, reading, session};

pub(crate) use group::ReviewsPage;

/// Where the document stands on the page.
const PLACE: &str = "review-place";
/// Name of the kind of page on paper.
const PAGE: &str = "review";

/// One trainee's review.
#[component]
pub(crate) fn ReviewPage(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let Some(person) = session.person(&id) else {
        return view! { <Page title="Course-end review"><p>"This person is not on this device."</p></Page> }.into_any();
    };
    let own = id.clone();
    let may = Memo::new(move |_| session.may_assess() || session.who().is_some_and(|who| who.id == own));
    view! {
        <Page title=format!("Course-end review: {}", person.name)>
            <When when=move || may.get() fallback=|| view! {
                <p class="notice notice-info">"● For this trainee, or an instructor or the owner, unlocked at the top."</p>
            }>
                <One id=id.clone()/>
            </When>
        </Page>
    }
    .into_any()
}

/// The document of one trainee, as it stands now or as it was signed.
#[component]
fn One(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let (paper, with_photos, saving) = (RwSignal::new(Paper::A4), RwSignal::new(false), Saving::new());
    let signed = RwSignal::new(None::<SignedRecord>);
    let ids = StoredValue::new(id.clone());
    let learned = session.learned(&id, &Response::Whole);
    let made = Memo::new(move |_| {
        let records = session.records();
        let books = session.books();
        let present = books.last()?;
        let adopted: Vec<_> = books.iter().map(Arc::as_ref).collect();
        let books = Books { present, adopted: &adopted };
        let sorted = ByTrainee::of(&records.services_in_force(), &records.outcomes_in_force());
        let at = signed.with(|signed| signed.as_ref().map(|signed| signed.at)).unwrap_or_else(|| reading().at);
        let reviewed = ids.with_value(|id| session.reviewed(&records, &sorted, books, id, &at))?;
        let answer = learned.as_ref().and_then(|learned| learned.answer.get()).and_then(Result::ok);
        let forecast = answer.map(|answer| forecast_lines(&reviewed, &answer)).unwrap_or_default();
        let code = signed.with(|signed| signed.as_ref().map(|signed| signed.code.clone()));
        let photos = if with_photos.get() { photos_of(session, &reviewed) } else { Vec::new() };
        let html = written(session, &reviewed, books, (&forecast, &photos), code.as_deref(), 0);
        let rules = page_rules(&reviewed.person, &at, paper.get(), PAGE, 0);
        Some((html.into_text(), rules))
    });
    Effect::new(move |_| {
        let Some((text, rules)) = made.get() else { return };
        browser::page::empty(PLACE);
        browser::page::append_markup(PLACE, &text);
        browser::page::own_style(Some(&format!("{STYLE}{rules}")));
    });
    on_cleanup(|| browser::page::own_style(None));
    let sign = move |_| {
        let id = ids.get_value();
        let act = async move {
            let made = session.sign_record(&id).await?;
            signed.set(Some(made));
            Ok("The record is put together and its code signed: print it, or save it, with the record file.".to_owned())
        };
        saving.run(act, || {});
    };
    let html_file = move |_| {
        let Some((_, rules)) = made.get_untracked() else { return };
        let Some(text) = standing_alone(session, &ids.get_value(), made, &rules) else { return };
        saving.say(hand_out(session, "review", "html", "text/html", &text));
    };
    let record_file = move |_| {
        let text = match signed.get_untracked() {
            Some(signed) => Ok(signed.record),
            None => session.record_file(&ids.get_value(), false),
        };
        saving.say(text.and_then(|text| hand_out(session, "record", "json", "application/json", &text)));
    };
    let csv = move |_| {
        saving.say(
            csv_of(session, &ids.get_value()).and_then(|text| hand_out(session, "services", "csv", "text/csv", &text)),
        );
    };
    let page = move |event: leptos::ev::Event| {
        let letter = event_target_value(&event) == "letter";
        paper.set(if letter { Paper::Letter } else { Paper::A4 });
    };
    view! {
        <div class="stack not-on-paper">
            <p class="toolbar">
                <label class="field"><span>"Paper"</span>
                    <select on:change=page><option value="a4">"A4"</option><option value="letter">"US Letter"</option></select>
                </label>
                <label class="chip"><input type="checkbox" on:change:target=move |event| with_photos.set(event.target().checked())/>
                    <span>"With photos"</span></label>
                <button type="button" class="button-primary" on:click=move |_| browser::page::print()>"Print"</button>
                <button type="button" on:click=html_file>"Save as a page (HTML)"</button>
                <button type="button" on:click=record_file>"Save the record file (JSON)"</button>
                <button type="button" on:click=csv>"Save the services (CSV)"</button>
            </p>
            <When when=move || session.is_owner() fallback=|| view! {
                <p class="small">"The owner signs the code on the last page, unlocked at the top."</p>
            }>
                <p><button type="button" disabled=move || saving.busy() on:click=sign>"Sign this record as of now"</button></p>
            </When>
            {move || signed.with(|signed| signed.as_ref().map(|signed| view! {
                <p class="notice notice-good">{format!(
                    "✓ Signed as of {}. The record file saved from this page is the one that the code names; its code has {} \
                     bytes.", signed.at.format("%Y-%m-%d %H:%M"), signed.code.len())}</p>
            }))}
            <SavingLine saving=saving/>
        </div>
        <div id=PLACE class="review-place paper-sheet"></div>
    }
}

/// Returns the photos of a trainee's services that the practice models' consents let be shown, in the order begun.
fn photos_of(session: Session, reviewed: &Reviewed) -> Vec<(u32, Photo)> {
    let records = session.records();
    let consented = |service: &Service| {
        service.practice_model.as_ref().is_some_and(|person| session.consent_holds(person, ConsentKind::Photos))
    };
    let of_service = |(number, service): &(u32, Service)| {
        let mut photos: Vec<Photo> = records.photos_of(&service.id).iter().map(|known| known.value.clone()).collect();
        photos.order_by_key(|photo| (photo.stage, photo.eye));
        photos.into_iter().map(|photo| (*number, photo)).collect::<Vec<_>>()
    };
    reviewed.services.iter().filter(|(_, service)| consented(service)).flat_map(of_service).collect()
}

/// Says what the forecast is at every plan whose target may be shown.
pub(super) fn forecast_lines(reviewed: &Reviewed, answer: &Answer) -> Vec<String> {
    let shown = answer.forecasts.iter().filter(|forecast| may_show_targets(&reviewed.standing, forecast.plan));
    shown.map(|forecast| format!("At {}: {}.", forecast.plan.word(), sentence(forecast))).collect()
}

/// Writes the document of what was gathered.
pub(super) fn written(
    session: Session,
    reviewed: &Reviewed,
    books: Books<'_>,
    (forecast, photos): (&[String], &[(u32, Photo)]),
    code: Option<&str>,
    number: usize,
) -> Html {
    let records = session.records_now();
    let outcomes: Vec<_> = reviewed.outcomes.iter().collect();
    let academy = records.academy().map(|academy| academy.name.clone()).unwrap_or_default();
    let (demo, keyed) = (records.is_demo(), records.is_keyed());
    let no_code = match (demo, keyed) {
        (true, _) => "○ The demo signs nothing, so there is no code.",
        (false, false) => "○ This academy has no key, so there is no signed code: the record proves nothing to others.",
        (false, true) => "○ The owner has not signed this print, so there is no code on it.",
    };
    let cautions = untrack(|| session.cautions());
    article(
        &Material {
            review: &reviewed.review,
            person: &reviewed.person,
            academy: &academy,
            demo,
            books,
            standing: &reviewed.standing,
            trial: reviewed.trial.as_ref(),
            competencies: &reviewed.competencies,
            services: &reviewed.services,
            outcomes: &outcomes,
            photos,
            forecast,
            code,
            no_code,
            cautions: &cautions,
        },
        number,
    )
}

fn standing_alone(
    session: Session,
    id: &PersonId,
    made: Memo<Option<(String, String)>>,
    rules: &str,
) -> Option<String> {
    let name = untrack(|| session.person_name(id));
    let (text, _) = made.get_untracked()?;
    Some(standalone(&format!("Training record of {name}"), rules, &[Html::of_document(text)]))
}

/// Hands a file to the browser.
pub(crate) fn hand_out(session: Session, what: &str, ending: &str, kind: &str, text: &str) -> Result<String, String> {
    let demo = if session.records_now().is_demo() { "demo-" } else { "" };
    let day: Moment = reading().at;
    let name = format!("upsweep-{demo}{what}-{}.{ending}", day.format("%Y-%m-%d"));
    match browser::file::download(&name, kind, text) {
        true => Ok(format!("“{name}” was handed to the browser.")),
        false => Err("The browser refused to save the file.".to_owned()),
    }
}

fn csv_of(session: Session, id: &PersonId) -> Result<String, String> {
    let book = untrack(|| session.book()).ok_or("No course book is in force.")?;
    let records = session.records_now();
    let services = records.services_of(id).into_iter().filter(|known| known.withdrawn.is_none());
    let services: Vec<_> = services.map(|known| &known.value).collect();
    let naming = Naming {
        trainee: &|id| untrack(|| session.person_name(id)),
        practice_model: &|id| untrack(|| session.code_of(id)),
    };
    Ok(services_csv(services, &book, &naming))
}
