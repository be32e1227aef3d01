//! The filter form of the log.

use leptos::prelude::*;
use practicum::section::Plan;

use super::filter::{Filter, NO_PLAN, OUTCOMES};
use crate::session::session;

/// Gives the part of a filter that a field changes.
type Part = fn(&mut Filter) -> &mut String;

/// Kinds of record: value and words.
const KINDS: [(&str, &str); 2] = [("service", "services"), ("drill", "drills")];
/// Ways in which a record came about: value and words.
const MODES: [(&str, &str); 3] = [("live", "live"), ("late", "late entry"), ("imported", "imported")];

fn owned(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(value, words)| ((*value).to_owned(), (*words).to_owned())).collect()
}

/// The form; each change shows at once.
#[component]
pub(super) fn Filters(
    /// The filter.
    filter: RwSignal<Filter>,
) -> impl IntoView {
    let session = session();
    let trainees = Signal::derive(move || {
        session.trainees().into_iter().map(|person| (person.id.to_string(), person.name)).collect::<Vec<_>>()
    });
    let mut plans: Vec<(String, String)> =
        Plan::ALL.into_iter().map(|plan| (plan.word().to_owned(), plan.word().to_owned())).collect();
    plans.push((NO_PLAN.to_owned(), "not recorded".to_owned()));
    let outcomes: Vec<(String, String)> = OUTCOMES
        .into_iter()
        .map(|(value, _, kind, words)| (value.to_owned(), format!("{} {words}", kind.shape())))
        .collect();
    let turned = move || filter.with(|f| !f.from.is_empty() && !f.to.is_empty() && f.to < f.from);
    view! {
        <form class="filters" on:submit=|event| event.prevent_default()>
            <Choice label="Trainee" filter=filter part=|f| &mut f.trainee options=trainees/>
            <Choice label="Kind" filter=filter part=|f| &mut f.kind options=owned(&KINDS)/>
            <Choice label="Plan" filter=filter part=|f| &mut f.plan options=plans/>
            <Choice label="Outcome" filter=filter part=|f| &mut f.outcome options=outcomes/>
            <Choice label="Recorded" filter=filter part=|f| &mut f.mode options=owned(&MODES)/>
            <DayField label="From" filter=filter part=|f| &mut f.from/>
            <DayField label="To" filter=filter part=|f| &mut f.to/>
            <button type="button" on:click=move |_| filter.set(Filter::default())>"Clear filters"</button>
        </form>
        <div role="alert">
            {move || turned().then(|| view! { <p class="field-error">"▲ “From” is after “To”: nothing lies between."</p> })}
        </div>
    }
}

fn set(filter: RwSignal<Filter>, part: Part, value: String) {
    filter.update(|filter| *part(filter) = value);
}

fn get(filter: RwSignal<Filter>, part: Part) -> String {
    filter.with(|filter| part(&mut filter.clone()).clone())
}

/// One choice.
#[component]
fn Choice(
    /// Label.
    label: &'static str,
    /// The filter.
    filter: RwSignal<Filter>,
    /// What it changes.
    part: Part,
    /// Values with their words.
    #[prop(into)]
    options: Signal<Vec<(String, String)>>,
) -> impl IntoView {
    let now = Memo::new(move |_| get(filter, part));
    let option = move |(value, words): (String, String)| {
        let mine = value.clone();
        view! { <option value=value prop:selected=move || now.with(|now| *now == mine)>{words}</option> }
    };
    view! {
        <label class="field"><span>{label}</span>
            <select on:change:target=move |event| set(filter, part, event.target().value())>
                <option value="" prop:selected=move || now.with(String::is_empty)>"All"</option>
                {move || options.get().into_iter().map(option).collect_view()}
            </select>
        </label>
    }
}

/// One day.
#[component]
fn DayField(
    /// Label.
    label: &'static str,
    /// The filter.
    filter: RwSignal<Filter>,
    /// What it changes.
    part: Part,
) -> impl IntoView {
    view! {
        <label class="field"><span>{label}</span>
            <input type="date" prop:value=move || get(filter, part)
                on:change:target=move |event| set(filter, part, event.target().value())/>
        </label>
    }
}
