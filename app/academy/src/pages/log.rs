//! The log: all services and drills, filtered, and as a spreadsheet.

use leptos::prelude::*;
use logbook::spreadsheet::export::{Naming, services_csv};
use practicum::section::Plan;
use practicum::service::{Ending, Service};

use super::service::{ending_words, marks::verdict_words, mode_words};
use crate::components::Page;
use crate::session::{Session, session};

/// What the list is narrowed to; empty texts narrow nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Filter {
    trainee: String,
    plan: String,
    from: String,
    to: String,
    outcome: String,
}

impl Filter {
    fn of(query: &str) -> Self {
        let value = |name: &str| {
            let found = query.split('&').filter_map(|pair| pair.split_once('=')).find(|(key, _)| *key == name);
            found.and_then(|(_, value)| crate::route::decode(value)).unwrap_or_default()
        };
        Self {
            trainee: value("trainee"),
            plan: value("plan"),
            from: value("from"),
            to: value("to"),
            outcome: value("outcome"),
        }
    }

    fn hash(&self) -> String {
        let pairs = [
            ("trainee", &self.trainee),
            ("plan", &self.plan),
            ("from", &self.from),
            ("to", &self.to),
            ("outcome", &self.outcome),
        ];
        let said: Vec<String> = pairs
            .iter()
            .filter(|(_, v)| !v.is_empty())
            .map(|(k, v)| format!("{k}={}", crate::route::encode(v)))
            .collect();
        if said.is_empty() { "#/log".to_owned() } else { format!("#/log?{}", said.join("&")) }
    }

    fn keeps(&self, session: Session, service: &Service) -> bool {
        let day = service.day().to_string();
        (self.trainee.is_empty() || service.trainee.as_str() == self.trainee)
            && (self.plan.is_empty() || service.plan().is_some_and(|plan| plan.word() == self.plan))
            && (self.from.is_empty() || self.from <= day)
            && (self.to.is_empty() || day <= self.to)
            && (self.outcome.is_empty() || outcome_key(session, service) == self.outcome)
    }
}

const OUTCOMES: [(&str, &str); 4] = [
    ("acceptable", "✓ acceptable"),
    ("not", "▲ not acceptable, or a breach"),
    ("unassessed", "○ not assessed"),
    ("stopped", "■ stopped"),
];

fn outcome_key(session: Session, service: &Service) -> &'static str {
    if matches!(service.ending, Ending::Stopped(_)) {
        return "stopped";
    }
    let outcomes = session.outcomes_of(&service.id);
    match outcomes.iter().rev().find(|outcome| outcome.marker != service.trainee) {
        None => "unassessed",
        Some(outcome) if verdict_words(session, service, outcome).starts_with('✓') => "acceptable",
        Some(_) => "not",
    }
}

/// The log with its filters in the address.
#[component]
pub(crate) fn LogPage(
    /// The filters as `name=value` pairs.
    query: String,
) -> impl IntoView {
    let session = session();
    let filter = Filter::of(&query);
    let shown = {
        let filter = filter.clone();
        move || session.services().into_iter().filter(|service| filter.keeps(session, service)).collect::<Vec<_>>()
    };
    let export = {
        let shown = shown.clone();
        move |_| download(session, &shown())
    };
    let count = {
        let shown = shown.clone();
        move || format!("{} services and drills", shown().len())
    };
    view! {
        <Page title="Log">
            <Filters filter=filter/>
            <p class="toolbar">
                <span>{count}</span>
                <button type="button" on:click=export>"Services as a spreadsheet (CSV)"</button>
                <a href="#/late-entry">"Write down a service afterwards"</a>
            </p>
            <div class="table-wrap"><table>
                <caption>"Services and drills, the newest first"</caption>
                <thead><tr>
                    <th scope="col">"Day"</th><th scope="col">"Trainee"</th><th scope="col">"On"</th>
                    <th scope="col">"Plan"</th><th scope="col">"Recorded"</th><th scope="col">"Outcome"</th>
                </tr></thead>
                <tbody>{move || shown().into_iter().map(|service| view! { <LogRow service=service/> }).collect_view()}</tbody>
            </table></div>
            <Withdrawn/>
        </Page>
    }
}

fn download(session: Session, services: &[Service]) {
    let Some(book) = session.book() else { return };
    let trainee = |id: &practicum::ids::PersonId| session.person_name(id);
    let practice_model = |id: &practicum::ids::PracticeModelId| session.code_of(id);
    let naming = Naming { trainee: &trainee, practice_model: &practice_model };
    let text = services_csv(services, &book, &naming);
    if !crate::browser::file::download("services.csv", "text/csv;charset=utf-8", &text) {
        session.alert.set(Some("The browser refused to save the file.".to_owned()));
    }
}

/// The filter form.
#[component]
fn Filters(
    /// The filter in force.
    filter: Filter,
) -> impl IntoView {
    let session = session();
    let now = StoredValue::new(filter.clone());
    let set = move |change: fn(&mut Filter, String), value: String| {
        let mut filter = now.get_value();
        change(&mut filter, value);
        crate::browser::page::set_hash(&filter.hash());
    };
    let trainees = session.trainees();
    let chosen = |now: &str, value: &str| now == value;
    let (trainee, plan, outcome) = (filter.trainee.clone(), filter.plan.clone(), filter.outcome.clone());
    view! {
        <form class="filters" on:submit=|event| event.prevent_default()>
            <label class="field"><span>"Trainee"</span>
                <select on:change:target=move |event| set(|f, v| f.trainee = v, event.target().value())>
                    <option value="">"All"</option>
                    {trainees.into_iter().map(|person| {
                        let selected = chosen(&trainee, person.id.as_str());
                        view! { <option value=person.id.to_string() selected=selected>{person.name.clone()}</option> }
                    }).collect_view()}
                </select>
            </label>
            <label class="field"><span>"Plan"</span>
                <select on:change:target=move |event| set(|f, v| f.plan = v, event.target().value())>
                    <option value="">"All"</option>
                    {Plan::ALL.into_iter().map(|one| view! { <option value=one.word() selected=plan == one.word()>{one.word()}</option> }).collect_view()}
                </select>
            </label>
            <label class="field"><span>"Outcome"</span>
                <select on:change:target=move |event| set(|f, v| f.outcome = v, event.target().value())>
                    <option value="">"All"</option>
                    {OUTCOMES.into_iter().map(|(key, words)| view! { <option value=key selected=outcome == key>{words}</option> }).collect_view()}
                </select>
            </label>
            <label class="field"><span>"From"</span>
                <input type="date" prop:value=filter.from.clone() on:change:target=move |event| set(|f, v| f.from = v, event.target().value())/>
            </label>
            <label class="field"><span>"To"</span>
                <input type="date" prop:value=filter.to.clone() on:change:target=move |event| set(|f, v| f.to = v, event.target().value())/>
            </label>
        </form>
    }
}

/// One row.
#[component]
fn LogRow(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let key = outcome_key(session, &service);
    let outcome = match key {
        "stopped" => ending_words(&service),
        key => {
            OUTCOMES.iter().find(|(known, _)| *known == key).map(|(_, words)| (*words).to_owned()).unwrap_or_default()
        }
    };
    let on = match (&service.practice_model, &service.drill) {
        (_, Some(kind)) => format!("drill: {kind}"),
        (Some(id), None) => session.code_of(id),
        (None, None) => "–".to_owned(),
    };
    view! {
        <tr>
            <th scope="row"><a href=format!("#/service/{}", service.id)>{service.day().to_string()}</a></th>
            <td>{session.person_name(&service.trainee)}</td><td>{on}</td>
            <td>{service.plan().map_or("–", Plan::word)}</td><td>{mode_words(&service)}</td><td>{outcome}</td>
        </tr>
    }
}

/// Rows of withdrawn imports: readable, never counted.
#[component]
fn Withdrawn() -> impl IntoView {
    let session = session();
    let rows = move || {
        let records = session.records();
        let known: Vec<_> =
            records.services().into_iter().filter(|s| s.withdrawn.is_some()).map(|s| s.value.clone()).collect();
        known
    };
    view! {
        <Show when=move || !rows().is_empty()>
            <h2>"Withdrawn"</h2>
            <ul class="plain-list">
                {move || rows().into_iter().map(|service| view! {
                    <li><a href=format!("#/service/{}", service.id)>{session.service_line(&service)}</a></li>
                }).collect_view()}
            </ul>
        </Show>
    }
}
