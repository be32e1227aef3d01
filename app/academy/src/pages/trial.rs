//! The trial that the sign-off of the whole service stands on: how it stands, and opening one.

mod standard;

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::evidence::{TrialService, TrialState, TrialVerdict, opening};
use practicum::ids::{EntryId, PersonId};
use practicum::trial::{Terms, Trial};

use super::form::{Saving, SavingLine, TickInput};
use crate::components::{DataTable, When};
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
    view! {
        <h2>"Trial"</h2>
        {shown}
        <standard::TimeStandardPart person=person.clone()/>
        <When when=move || session.may_assess() fallback=|| ()>
            <OpenTrial person=person.clone() trials=trials/>
        </When>
    }
}

/// The latest trial, for the standing.
#[component]
pub(crate) fn LatestTrial(
    /// The trainee.
    person: PersonId,
) -> impl IntoView {
    let session = session();
    let of = person.clone();
    let latest = Memo::new(move |_| session.trials(&of).map(|mut states| states.pop()));
    let shown = move || match latest.get() {
        Err(why) => {
            view! { <p class="notice notice-info">{format!("The trial cannot be worked out: {why}.")}</p> }.into_any()
        }
        Ok(None) => {
            view! { <p>"○ No trial is opened yet. A sign-off of the whole service stands on one."</p> }.into_any()
        }
        Ok(Some(state)) => view! { <OneTrial state=state/> }.into_any(),
    };
    view! {
        {shown}
        <standard::TimeStandardPart person=person/>
    }
}

/// Returns the sign that stands before a verdict.
pub(crate) fn sign(verdict: TrialVerdict) -> &'static str {
    match verdict {
        TrialVerdict::Demonstrated => "✓ ",
        TrialVerdict::Suspended => "■ ",
        TrialVerdict::Open | TrialVerdict::SafetyOpen | TrialVerdict::NotDemonstrated => "○ ",
    }
}

/// One trial: the verdict, what would settle it, its services, and how that was worked out.
#[component]
fn OneTrial(
    /// The trial.
    state: TrialState,
) -> impl IntoView {
    let mark = sign(state.verdict);
    let settles = (!state.settles.is_empty()).then(|| view! { <p>{state.settles.clone()}</p> });
    let breaches = state.safety.breaches.clone();
    let safety = match breaches.is_empty() {
        true => view! { <p>"Safety, apart from that: no breach since it was opened."</p> }.into_any(),
        false => view! {
            <p class="notice notice-danger">"Safety breaches since it was opened: "<super::progress::ServiceLinks ids=breaches/></p>
        }
        .into_any(),
    };
    let says = state.say_risk();
    let services = state.services.clone();
    let (limit, mut values) = (state.quality.limit, state.quality.values.into_iter());
    let score_limit = state.score.as_ref().map(|score| score.limit);
    let mut scores = state.score.map(|score| score.values).unwrap_or_default().into_iter();
    let rows: Vec<Vec<AnyView>> = services
        .into_iter()
        .map(|one| {
            let (value, score) = one.acceptable.map_or((None, None), |_| (values.next(), scores.next()));
            service_row(one, of_limit(value, Some(limit)), of_limit(score, score_limit))
        })
        .collect();
    let head = ["Service", "Result", "Chart", "Mean mark", "Chart of marks"].map(str::to_owned).to_vec();
    let caption = format!("Services of trial {}, in the order begun", state.number);
    view! {
        <h3>{format!("Trial {}", state.number)}</h3>
        <p>{format!("{mark}{}", state.sentence)}</p>
        {settles}
        <p>{says}</p>
        {safety}
        <details>
            <summary>{format!("Services of trial {}, and how this was worked out", state.number)}</summary>
            <DataTable caption=caption head=head rows=rows/>
            <ul>{state.workings.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </details>
    }
}

fn of_limit(value: Option<f64>, limit: Option<f64>) -> String {
    value.zip(limit).map_or_else(|| "–".to_owned(), |(value, limit)| format!("{value:.2} of {limit:.2}"))
}

fn service_row(one: TrialService, chart: String, marks: String) -> Vec<AnyView> {
    let result = match (one.breach, one.acceptable) {
        (true, _) => "■ safety breach",
        (false, Some(true)) => "✓ acceptable",
        (false, Some(false)) => "○ not acceptable",
        (false, None) => "○ no mark counts yet",
    };
    let mean = one.score.map_or_else(|| "–".to_owned(), |score| format!("{score:.2}"));
    let service = view! { <super::progress::ServiceLinks ids=vec![one.service]/> }.into_any();
    vec![service, result.into_any(), chart.into_any(), mean.into_any(), marks.into_any()]
}

/// Opening a trial under the rules of the course book in force.
#[component]
fn OpenTrial(
    /// The trainee.
    person: PersonId,
    /// The trials before it.
    trials: Memo<Result<Vec<TrialState>, String>>,
) -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let all_the_same = RwSignal::new(false);
    let before = Memo::new(move |_| {
        let book = session.book().ok_or("no course book is in force")?;
        trials.with(|trials| opening(&book.rules, trials.as_deref().unwrap_or_default()))
    });
    let puts_aside = move || before.with(|before| before.as_ref().is_ok_and(|before| before.puts_aside));
    let words = move || match before.get() {
        Err(why) => {
            view! { <p class="notice notice-caution">{format!("▲ No trial can be opened: {why}.")}</p> }.into_any()
        }
        Ok(before) => {
            let warning = |words: String| view! { <p class="notice notice-caution">{format!("▲ {words}")}</p> };
            view! { <p>{before.fixed}</p>{before.warnings.into_iter().map(warning).collect_view()} }.into_any()
        }
    };
    let open = move |_| {
        let (Some(by), Some(book)) = (untrack(|| session.who()), untrack(|| session.book())) else { return };
        if untrack(puts_aside) && !all_the_same.get_untracked() {
            return saving
                .say(Err("Nothing was opened: tick the box if the demonstrated trial is to be put aside.".to_owned()));
        }
        let trial = Trial {
            id: EntryId::new(String::new()),
            trainee: person.clone(),
            by: by.id,
            at: crate::session::reading().at,
            terms: Terms::of(&book.rules),
            course_book: book.id.clone(),
        };
        let done = "The trial is opened. Services begun from now on belong to it.".to_owned();
        saving.write(session, vec![Fact::TrialOpened(trial)], done, move || all_the_same.set(false));
    };
    let shut = move || saving.busy() || before.with(Result::is_err);
    view! {
        <details class="decide">
            <summary>"Open a trial"</summary>
            {words}
            <When when=puts_aside>
                <TickInput label="Put the demonstrated trial aside and open another" ticked=all_the_same/>
            </When>
            <SavingLine saving=saving/>
            <button type="button" disabled=shut on:click=open>"Open the trial"</button>
        </details>
    }
}
