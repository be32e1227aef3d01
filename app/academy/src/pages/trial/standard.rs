//! The time standard of the target plan, stated beside the trial and apart from it.

use leptos::prelude::*;
use practicum::evidence::learning::{Answer, Response, in_plan, time_standard, workings};
use practicum::ids::PersonId;
use practicum::section::Plan;
use practicum::standing::may_show_targets;

use crate::session::session;

/// Whether a trainee keeps the time standard now; before quality is met at the plan, that quality comes first.
#[component]
pub(super) fn TimeStandardPart(
    /// The trainee.
    person: PersonId,
) -> impl IntoView {
    let session = session();
    let shown = move || {
        let book = session.book()?;
        let (plan, figures) = (book.rules.target_plan, book.rules.forecast);
        if !session.standing(&person).is_some_and(|standing| may_show_targets(&standing, plan)) {
            let first =
                format!("● Quality first: the time standard is looked at once quality is met {}.", in_plan(plan));
            return Some(view! { <p>{first}</p> }.into_any());
        }
        let learned = session.learned(&person, &Response::Whole)?;
        let times = session.standard_times(&person, plan);
        let part = move || match learned.answer.get() {
            None => view! { <p role="status">"○ The time standard is being worked out."</p> }.into_any(),
            Some(Err(why)) => view! { <p class="notice notice-caution">{format!("▲ {why}")}</p> }.into_any(),
            Some(Ok(answer)) => {
                let found = time_standard(&answer, plan, &times, figures.as_ref());
                stated(found.holds, found.sentence, plan, &answer)
            }
        };
        Some(part.into_any())
    };
    view! {
        <h3>"Time standard"</h3>
        {shown}
    }
}

fn stated(holds: bool, sentence: String, plan: Plan, answer: &Answer) -> AnyView {
    let mark = if holds { "✓" } else { "○" };
    let apart = format!(
        "A standard, stated apart: the trial is decided by the marks alone. It looks at hands-on time {}.",
        in_plan(plan)
    );
    view! {
        <p>{format!("{mark} {sentence}")}</p>
        <p class="small">{apart}</p>
        <details>
            <summary>"How the time standard was worked out"</summary>
            <ul>{workings(answer).into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </details>
    }
    .into_any()
}
