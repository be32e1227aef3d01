//! The log: all services and drills, filtered, and as a spreadsheet.

mod filter;
mod filters;

use leptos::prelude::*;
use logbook::spreadsheet::export::{Naming, services_csv};
use practicum::ids::PersonId;
use practicum::section::Plan;
use practicum::service::Service;

use super::service::ending_words;
use super::service::marks::{OutcomeKey, outcome_key};
use crate::browser;
use crate::components::{EmptyState, Page, StatusWord, When};
use crate::session::{Session, session};
use filter::{Filter, OUTCOMES, mode_key};
use filters::Filters;

/// The log with its filters in the address.
#[component]
pub(crate) fn LogPage(
    /// The filters as `name=value` pairs.
    query: String,
) -> impl IntoView {
    let session = session();
    let mut wanted = Filter::of(&query);
    if session.person(&PersonId::new(wanted.trainee.as_str())).is_none() {
        wanted.trainee.clear();
    }
    let filter = RwSignal::new(wanted);
    // The address follows the filters without a new page: the focus stays where it is.
    Effect::new(move |before: Option<Filter>| {
        let now = filter.get();
        if before.is_some_and(|before| before != now) {
            browser::page::replace_hash(&now.address());
        }
        now
    });
    let shown = Memo::new(move |_| {
        let filter = filter.get();
        session.services().into_iter().filter(|service| filter.keeps(session, service)).collect::<Vec<_>>()
    });
    let all = move || session.services().len();
    let count = move || format!("{} of {} services and drills", shown.with(Vec::len), all());
    let said = RwSignal::new(None::<&'static str>);
    let export = move |_| {
        said.set(shown.with(|services| download(session, services)).err());
    };
    view! {
        <Page title="Log">
            <Filters filter=filter/>
            <p class="toolbar">
                <span role="status">{count}</span>
                <button type="button" on:click=export>"Services as a spreadsheet (CSV)"</button>
                <a href="#/late-entry">"Write down a service afterwards"</a>
            </p>
            <div role="alert">{move || said.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
            <Rows shown=shown/>
            <Withdrawn/>
        </Page>
    }
}

/// Returns the services with what may not be read now hidden, as their own pages hide it.
fn veiled(services: &[Service], may_read: impl Fn(&Service) -> bool) -> Vec<Service> {
    let veil = |service: &Service| {
        let mut service = service.clone();
        if !service.note.is_empty() && !may_read(&service) {
            "hidden: unlock to take it along".clone_into(&mut service.note);
        }
        service
    };
    services.iter().map(veil).collect()
}

/// Hands out services as a spreadsheet; drills are no services and stay out.
pub(super) fn download(session: Session, services: &[Service]) -> Result<(), &'static str> {
    let book = session.book().ok_or("No course book is in force.")?;
    if !services.iter().any(Service::is_service) {
        return Err("There is no service to put into a spreadsheet; drills are no services.");
    }
    let trainee = |id: &practicum::ids::PersonId| session.person_name(id);
    let practice_model = |id: &practicum::ids::PracticeModelId| session.code_of(id);
    let services = veiled(services, |service| super::service::may_read(session, service));
    let text = services_csv(&services, &book, &Naming { trainee: &trainee, practice_model: &practice_model });
    let day = crate::session::reading().at.format("%Y-%m-%d").to_string();
    let demo = if session.demo() { "demo-" } else { "" };
    match browser::file::download(&format!("services-{demo}{day}.csv"), "text/csv;charset=utf-8", &text) {
        true => Ok(()),
        false => Err("The browser refused to save the file."),
    }
}

/// The rows.
#[component]
fn Rows(
    /// Services and drills, the newest first.
    shown: Memo<Vec<Service>>,
) -> impl IntoView {
    let session = session();
    let caption = "Services and drills, the newest first";
    let rows = move || shown.get().into_iter().map(|service| row(session, &service)).collect_view();
    view! {
        <When when=move || shown.with(|shown| !shown.is_empty()) fallback=|| view! {
            <EmptyState text="Nothing here. Widen the filters, or begin at the couch."/>
        }>
            <div class="table-wrap" role="region" tabindex="0" aria-label=caption><table>
                <caption>{caption}</caption>
                <thead><tr>
                    <th scope="col">"Day"</th><th scope="col">"Trainee"</th><th scope="col">"Plan"</th>
                    <th scope="col">"Outcome"</th><th scope="col">"Practice model or drill"</th><th scope="col">"Recorded"</th>
                </tr></thead>
                <tbody>{rows}</tbody>
            </table></div>
        </When>
    }
}

/// How a record came about, in a word or two.
fn mode_short(service: &Service) -> &'static str {
    match mode_key(service) {
        "live" => "● live",
        "late" => "▲ late entry",
        _ => "▲ imported, not observed",
    }
}

fn row(session: Session, service: &Service) -> impl IntoView + use<> {
    let key = outcome_key(session, service);
    let outcome = match key {
        OutcomeKey::Stopped => ending_words(service).into_any(),
        key => {
            let known = OUTCOMES.iter().find(|(_, known, ..)| *known == key);
            known.map(|(_, _, kind, words)| view! { <StatusWord kind=*kind text=*words/> }).into_any()
        }
    };
    let on = match (&service.practice_model, &service.drill) {
        (_, Some(kind)) => {
            let label = session.book_of(service).and_then(|book| book.drill(kind).map(|drill| drill.label.clone()));
            format!("drill: {}", label.unwrap_or_else(|| kind.to_string()))
        }
        (Some(id), None) => session.code_of(id),
        (None, None) => "–".to_owned(),
    };
    let mixed = service.worked.is_some_and(|worked| worked.mixed);
    view! {
        <tr>
            <th scope="row" class="day"><a href=format!("#/service/{}", service.id)>{service.began.format("%Y-%m-%d").to_string()}</a></th>
            <td>{session.person_name(&service.trainee)}</td>
            <td>{service.plan().map_or("–", Plan::word)}{mixed.then_some(", mixed")}</td>
            <td>{outcome}</td>
            <td>{on}</td>
            <td>{mode_short(service)}</td>
        </tr>
    }
}

/// Rows of withdrawn imports: readable, never counted.
#[component]
fn Withdrawn() -> impl IntoView {
    let session = session();
    let rows = Memo::new(move |_| {
        let records = session.records();
        let gone = records.services().into_iter().rev().filter_map(|known| {
            let reason = known.withdrawn.as_ref()?.reason.clone();
            Some((known.value.id.clone(), session.service_line(&known.value), reason))
        });
        gone.collect::<Vec<_>>()
    });
    let line = |(id, line, reason): (practicum::ids::ServiceId, String, String)| {
        view! { <li><a href=format!("#/service/{id}")>{line}</a>{format!(" ▲ withdrawn: {reason}")}</li> }
    };
    view! {
        <When when=move || rows.with(|rows| !rows.is_empty())>
            <h2>"Withdrawn"</h2>
            <details>
                <summary>{move || format!("{} rows of imports that were undone; they count for nothing", rows.with(Vec::len))}</summary>
                <ul class="plain-list">{move || rows.get().into_iter().map(line).collect_view()}</ul>
            </details>
        </When>
    }
}

#[cfg(test)]
mod tests {
    use super::veiled;

    #[test]
    fn a_note_behind_the_lock_stays_out_of_the_spreadsheet() {
        let book = practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap();
        let today = practicum::moment::parse_moment("2026-11-25T12:00:00+00:00").unwrap();
        let facts = crate::demo::facts(&book, today);
        let mut service = facts.iter().find_map(|dated| dated.fact.service()).unwrap().clone();
        service.note = "a health answer".to_owned();
        let locked = veiled(std::slice::from_ref(&service), |_| false);
        assert!(!locked[0].note.contains("health") && locked[0].note.contains("unlock"));
        assert_eq!(veiled(std::slice::from_ref(&service), |_| true), [service.clone()]);
        service.note = String::new();
        assert_eq!(veiled(std::slice::from_ref(&service), |_| false), [service]);
    }
}
