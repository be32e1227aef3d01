//! The trial that the sign-off of the whole service stands on: how it stands, and opening one.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::evidence::{TrialService, TrialState, TrialVerdict};
use practicum::ids::{EntryId, PersonId};
use practicum::trial::{Terms, Trial};

use super::form::{Saving, SavingLine};
use crate::components::When;
use crate::session::session;

/// All trials of a trainee, the latest first, and opening the next.
#[component]
pub(crate) fn TrialSection(
    /// The trainee.
    person: PersonId,
) -> impl IntoView {
    let session = session();
    let of = person.clone();
    let trials = Memo::new(move |_| session.trials(&of));
    let shown = move || {
        match trials.get() {
        Err(why) => view! { <p class="notice notice-info">{format!("The trial cannot be worked out: {why}.")}</p> }.into_any(),
        Ok(states) if states.is_empty() => {
            view! { <p>"○ No trial is opened yet. A sign-off of the whole service stands on one: an instructor opens it."</p> }
                .into_any()
        }
        Ok(states) => states.into_iter().rev().map(|state| view! { <OneTrial state=state/> }).collect_view().into_any(),
    }
    };
    let under_way = Signal::derive(move || {
        trials.with(|trials| {
            trials.as_ref().is_ok_and(|states| states.last().is_some_and(|state| state.verdict == TrialVerdict::Open))
        })
    });
    view! {
        <h2>"Trial"</h2>
        {shown}
        <When when=move || session.may_assess() fallback=|| ()>
            <OpenTrial person=person.clone() under_way=under_way/>
        </When>
    }
}

/// One trial: the verdict, what would settle it, its services, and how that was worked out.
#[component]
fn OneTrial(
    /// The trial.
    state: TrialState,
) -> impl IntoView {
    let mark = match state.verdict {
        TrialVerdict::Demonstrated => "✓ ",
        TrialVerdict::Suspended => "■ ",
        TrialVerdict::Open | TrialVerdict::SafetyOpen | TrialVerdict::NotDemonstrated => "○ ",
    };
    let settles = (!state.settles.is_empty()).then(|| view! { <p>{state.settles.clone()}</p> });
    let breaches = state.safety.breaches.clone();
    let safety = (!breaches.is_empty()).then(|| {
        view! {
            <p class="notice notice-danger">"Safety breaches since it was opened: "<super::progress::ServiceLinks ids=breaches/></p>
        }
    });
    let services = state.services.clone();
    let limit = state.quality.limit;
    let mut values = state.quality.values.into_iter();
    let rows: Vec<_> = services
        .into_iter()
        .map(|one| {
            let value = one.acceptable.and_then(|_| values.next());
            view! { <ServiceRow one=one value=value limit=limit/> }
        })
        .collect();
    view! {
        <h3>{format!("Trial {}", state.number)}</h3>
        <p>{format!("{mark}{}", state.sentence)}</p>
        {settles}
        {safety}
        <details>
            <summary>{format!("Services of trial {}, and how this was worked out", state.number)}</summary>
            <div class="table-wrap" role="region" tabindex="0" aria-label=format!("Services of trial {}", state.number)><table>
                <caption>"Services, in the order begun"</caption>
                <thead><tr><th scope="col">"Service"</th><th scope="col">"Result"</th><th scope="col">"Chart"</th></tr></thead>
                <tbody>{rows}</tbody>
            </table></div>
            <ul>{state.workings.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </details>
    }
}

/// A service of a trial.
#[component]
fn ServiceRow(
    /// The service.
    one: TrialService,
    /// Value of the chart after it; `None` while it is not marked, or after the trial's last.
    value: Option<f64>,
    /// Value at which the chart passes.
    limit: f64,
) -> impl IntoView {
    let result = match (one.breach, one.acceptable) {
        (true, _) => "■ safety breach",
        (false, Some(true)) => "✓ acceptable",
        (false, Some(false)) => "○ not acceptable",
        (false, None) => "○ no mark counts yet",
    };
    let chart = value.map(|value| format!("{value:.2} of {limit:.2}")).unwrap_or_default();
    view! {
        <tr>
            <th scope="row"><super::progress::ServiceLinks ids=vec![one.service]/></th>
            <td>{result}</td><td>{chart}</td>
        </tr>
    }
}

/// Opening a trial under the rules of the course book in force.
#[component]
fn OpenTrial(
    /// The trainee.
    person: PersonId,
    /// One is under way: it ends when another is opened.
    under_way: Signal<bool>,
) -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let fixed = move || session.book().map(|book| Terms::of(&book.rules).say());
    let ends = move || {
        under_way.get().then(|| {
            view! { <p>"The trial under way ends, not demonstrated, when another is opened; trials are counted, and each further one makes a wrong pass likelier."</p> }
        })
    };
    let open = move |_| {
        let (Some(by), Some(book)) = (untrack(|| session.who()), untrack(|| session.book())) else { return };
        let trial = Trial {
            id: EntryId::new(String::new()),
            trainee: person.clone(),
            by: by.id,
            at: crate::session::reading().at,
            terms: Terms::of(&book.rules),
            course_book: book.id.clone(),
        };
        let done = "The trial is opened. Services begun from now on belong to it.".to_owned();
        saving.write(session, vec![Fact::TrialOpened(trial)], done, || ());
    };
    view! {
        <details class="decide">
            <summary>"Open a trial"</summary>
            <p>{fixed}</p>
            {ends}
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=open>"Open the trial"</button>
        </details>
    }
}
