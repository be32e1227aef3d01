//! Marks of a service: the assessors', and the trainee's own where it may be seen.

use leptos::prelude::*;
use practicum::outcome::{Marked, Outcome, Verdict, applicable, verdict};
use practicum::service::Service;

use crate::session::{Session, session};

/// All marks that the present user may see.
#[component]
pub(super) fn MarksSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let all = session.outcomes_of(&service.id);
    let (own, assessors): (Vec<Outcome>, Vec<Outcome>) = all.into_iter().partition(|o| o.marker == service.trainee);
    // An assessor sees the trainee's own view only after an assessor has marked.
    let mine = session.who().is_some_and(|who| who.id == service.trainee);
    let own_shown = mine || !assessors.is_empty();
    let own = if own_shown { own } else { Vec::new() };
    view! {
        {assessors.is_empty().then(|| view! { <p>"○ Not assessed: no marks by anybody but the trainee."</p> })}
        {assessors.into_iter().map(|outcome| view! { <OneOutcome service=service.clone() outcome=outcome own=false/> }).collect_view()}
        {own.into_iter().map(|outcome| view! { <OneOutcome service=service.clone() outcome=outcome own=true/> }).collect_view()}
        {(!own_shown).then(|| view! { <p class="small">"The trainee’s own view appears after an assessor has marked."</p> })}
    }
}

/// Says what marks amount to, in words with a shape.
pub(crate) fn verdict_words(session: Session, service: &Service, outcome: &Outcome) -> String {
    let Some(book) = session.book_of(service) else { return "the course book is not here".to_owned() };
    let breaches = service.times.breaches(book.rules.late_seconds);
    match verdict(&applicable(&book, service), &outcome.marks, &breaches) {
        Verdict::Acceptable => "✓ acceptable".to_owned(),
        Verdict::SafetyBreach(why) => format!("■ safety breach: the whole is Not yet ({})", why.join("; ")),
        Verdict::NotAcceptable(criteria) => {
            let label = |id: &practicum::ids::CriterionId| {
                book.criterion(id).map_or_else(|| id.to_string(), |c| c.label.clone())
            };
            format!("▲ not acceptable yet: {}", criteria.iter().map(label).collect::<Vec<_>>().join("; "))
        }
    }
}

/// One person's marks.
#[component]
fn OneOutcome(
    /// The service.
    service: Service,
    /// The marks.
    outcome: Outcome,
    /// The trainee's own.
    own: bool,
) -> impl IntoView {
    let session = session();
    let book = session.book_of(&service);
    let who = session.person_name(&outcome.marker);
    let title =
        if own { format!("Own view of {who}") } else { format!("Marked by {who} on {}", outcome.at.date_naive()) };
    let words = verdict_words(session, &service, &outcome);
    let rows = book.iter().flat_map(|book| book.criteria.iter()).filter_map(|criterion| {
        let mark = outcome.marks.get(&criterion.id)?;
        let (word, descriptor) = match mark {
            Marked::Level(mark) => {
                (mark.word(), criterion.descriptors.get(usize::from(mark.number())).cloned().unwrap_or_default())
            }
            Marked::NotApplicable => ("Not applicable", String::new()),
        };
        Some(view! { <tr><th scope="row">{criterion.label.clone()}</th><td>{word}</td><td>{descriptor}</td></tr> })
    });
    let rows = rows.collect_view();
    let faults: Vec<String> = outcome
        .faults
        .iter()
        .map(|seen| {
            let label = book.as_ref().and_then(|book| book.fault(&seen.fault).map(|f| f.label.clone()));
            format!("{}, {} eye", label.unwrap_or_else(|| seen.fault.to_string()), seen.eye.word())
        })
        .collect();
    let faults =
        if faults.is_empty() { "Faults: none seen".to_owned() } else { format!("Faults: {}", faults.join("; ")) };
    let next = outcome.independence_next.map(|level| format!("Independence next time: {level}"));
    let observed = outcome.observed.then_some("Observed from end to end.");
    view! {
        <h3>{title}</h3>
        <p><strong>{words}</strong></p>
        <div class="table-wrap"><table>
            <thead><tr><th scope="col">"Criterion"</th><th scope="col">"Mark"</th><th scope="col">"Means"</th></tr></thead>
            <tbody>{rows}</tbody>
        </table></div>
        <p>{faults}</p>
        <p>{next}" "{observed}</p>
        <p>{outcome.comment.clone()}</p>
    }
}
