//! Marks of a service: the assessors', and the trainee's own where it may be seen.

use leptos::prelude::*;
use logbook::records::Recorded;
use practicum::outcome::{Marked, Outcome, Verdict, applicable, verdict};
use practicum::service::{Ending, Service};

use crate::components::{DataTable, When, text_rows};
use crate::pages::replies::Replies;
use crate::session::{Session, session};

/// All marks that the present user may see.
#[component]
pub(super) fn MarksSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let parts = StoredValue::new(service);
    let shown = Memo::new(move |_| parts.with_value(|service| MarksShown::of(session, service)));
    let marks = move || shown.with(|shown| shown.marks.clone());
    let own_hidden = move || shown.with(|shown| !shown.blind && shown.own_hidden);
    let none = move || shown.with(|shown| !shown.blind && !shown.assessed);
    let mark = move || parts.with_value(|service| format!("#/mark/{}", service.id));
    view! {
        <When when=move || shown.with(|shown| shown.blind)>
            <p class="notice notice-info">"● You are the second assessor here: the first marks appear once you have marked. "
                <a href=mark>"Mark this service"</a></p>
        </When>
        <When when=none><p>"○ Not assessed: no marks by anybody but the trainee."</p></When>
        // Each stays as it is while others come: what is typed under one of them stays too.
        <For each=marks key=|(outcome, own)| (outcome.latest.clone(), *own) let((outcome, own))>
            {untrack(|| view! { <OneOutcome service=parts.get_value() outcome=outcome own=own/> })}
        </For>
        <When when=own_hidden><p class="small">"The trainee’s own view appears after an assessor has marked."</p></When>
    }
}

/// The marks that the present user may see.
#[derive(Debug, Clone, PartialEq, Eq)]
struct MarksShown {
    /// A second assessor marks without seeing the first marks.
    blind: bool,
    /// An assessor has marked.
    assessed: bool,
    /// The trainee's own view is there to come: an assessor sees it only after an assessor has marked.
    own_hidden: bool,
    /// The assessors' marks, then the trainee's own.
    marks: Vec<(Recorded<Outcome>, bool)>,
}

impl MarksShown {
    fn of(session: Session, service: &Service) -> Self {
        let all = session.outcome_records_of(&service.id);
        let (own, assessors): (Vec<_>, Vec<_>) = all.into_iter().partition(|o| o.value.marker == service.trainee);
        let mine = session.who().is_some_and(|who| who.id == service.trainee);
        let (blind, assessed) = (session.is_blind_to(service), !assessors.is_empty());
        let own_shown = mine || assessed;
        let own = own.into_iter().filter(|_| own_shown).map(|outcome| (outcome, true));
        let marks = assessors.into_iter().map(|outcome| (outcome, false)).chain(own).filter(|_| !blind).collect();
        Self { blind, assessed, own_hidden: !own_shown, marks }
    }
}

/// What became of a service, as the log sorts it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum OutcomeKey {
    /// Stopped before its end.
    Stopped,
    /// No marks by an assessor.
    NotAssessed,
    /// Acceptable by the last assessor's marks.
    Acceptable,
    /// Not acceptable, or with a safety breach.
    NotAcceptable,
}

/// Returns what became of a service.
pub(crate) fn outcome_key(session: Session, service: &Service) -> OutcomeKey {
    if matches!(service.ending, Ending::Stopped(_)) {
        return OutcomeKey::Stopped;
    }
    // Who marks second does not see what the first marks amount to.
    if session.is_blind_to(service) {
        return OutcomeKey::NotAssessed;
    }
    let records = session.records();
    let mut marked = records.assessors_outcomes(service).into_iter().filter(|known| known.withdrawn.is_none());
    match marked.next_back().map(|last| judge(session, service, &last.value)) {
        None | Some(None) => OutcomeKey::NotAssessed,
        Some(Some(Verdict::Acceptable)) => OutcomeKey::Acceptable,
        Some(Some(_)) => OutcomeKey::NotAcceptable,
    }
}

fn judge(session: Session, service: &Service, outcome: &Outcome) -> Option<Verdict> {
    let book = session.book_of(service)?;
    let breaches = service.times.breaches(book.rules.late_seconds);
    Some(verdict(&applicable(&book, service), &outcome.marks, &breaches))
}

/// Says what marks amount to, in words with a shape.
pub(crate) fn verdict_words(session: Session, service: &Service, outcome: &Outcome) -> String {
    let book = session.book_of(service);
    match judge(session, service, outcome) {
        None => "○ the course book is not here".to_owned(),
        Some(Verdict::Acceptable) => "✓ acceptable".to_owned(),
        Some(Verdict::SafetyBreach(why)) => {
            format!("■ SAFETY BREACH: the whole service is Not yet ({})", why.join("; "))
        }
        Some(Verdict::NotAcceptable(criteria)) => {
            let label = |id: &practicum::ids::CriterionId| {
                let known = book.as_ref().and_then(|book| book.criterion(id));
                known.map_or_else(|| id.to_string(), |criterion| criterion.label.clone())
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
    outcome: Recorded<Outcome>,
    /// The trainee's own.
    own: bool,
) -> impl IntoView {
    let session = session();
    let (entry, outcome) = (outcome.entry, outcome.value);
    let book = session.book_of(&service);
    let who = session.person_name(&outcome.marker);
    let title =
        if own { format!("Own view of {who}") } else { format!("Marked by {who} on {}", outcome.at.date_naive()) };
    let signing = entry.clone();
    let signed = move || format!("Signature: {}.", session.signed_words(&signing));
    let words = verdict_words(session, &service, &outcome);
    let rows = book.iter().flat_map(|book| book.criteria.iter()).filter_map(|criterion| {
        let mark = outcome.marks.get(&criterion.id)?;
        let (word, descriptor) = match mark {
            Marked::Level(mark) => {
                (mark.word(), criterion.descriptors.get(usize::from(mark.number())).cloned().unwrap_or_default())
            }
            Marked::NotApplicable => ("Not applicable", String::new()),
        };
        let kind = if criterion.safety_critical { " ■" } else { "" };
        Some(vec![format!("{}{kind}", criterion.label), word.to_owned(), descriptor])
    });
    let rows: Vec<Vec<String>> = rows.collect();
    let head = ["Criterion", "Mark", "Means"].map(str::to_owned).to_vec();
    let faults: Vec<String> = outcome
        .faults
        .iter()
        .map(|seen| {
            let label = book.as_ref().and_then(|book| book.fault(&seen.fault).map(|f| f.label.clone()));
            let section = seen.section.map(|number| format!(", section {number}")).unwrap_or_default();
            format!("{}, {} eye{section}", label.unwrap_or_else(|| seen.fault.to_string()), seen.eye.word())
        })
        .collect();
    let faults =
        if faults.is_empty() { "Faults: none seen".to_owned() } else { format!("Faults: {}", faults.join("; ")) };
    let level = |level: u8| {
        let known = book.as_ref().and_then(|book| book.independence.iter().find(|known| known.level == level));
        known.map_or_else(|| level.to_string(), |known| format!("{level}, {}", known.label))
    };
    let next = outcome.independence_next.map(|next| format!("Independence next time: {}.", level(next)));
    let (watched, claimed) = (outcome.observed, service.clone());
    let observed = move || match (own, watched) {
        (true, _) => "",
        (false, true) if session.has_claimed_override(&claimed) => {
            "▲ Observed, and yet it does not count as observed: an override is not confirmed."
        }
        (false, true) => "✓ Observed from end to end.",
        (false, false) => "○ Not observed from end to end.",
    };
    let replies = (!own).then(|| view! { <Replies entry=entry/> });
    let comment = (!outcome.comment.is_empty()).then(|| format!("Comment: {}", outcome.comment));
    view! {
        <h3>{title.clone()}</h3>
        <p><strong>{words}</strong></p>
        <DataTable caption=format!("{title}; ■ marks what is safety-critical") head=head rows=text_rows(rows)/>
        <p>{faults}</p>
        <p>{next}" "{observed}</p>
        {comment.map(|words| view! { <p>{words}</p> })}
        <p class="small">{signed}</p>
        {replies}
    }
}
