//! Care of the practice model: screening, tests, consent wording, first response, aftercare, regions.

use std::sync::Arc;

use leptos::prelude::*;
use practicum::course_book::{CourseBook, ScreeningGroup};

use super::{part, table};

/// Screening, tests, first response, aftercare and regions.
#[component]
pub(super) fn CarePart(
    /// The book.
    book: Arc<CourseBook>,
) -> impl IntoView {
    let rule = book.test_rule;
    let list = |lines: &[String]| lines.iter().map(|line| view! { <li>{line.clone()}</li> }).collect_view();
    let first = book.first_response.iter().map(|response| {
        view! { <h3>{format!("On the eye: {}", response.product.word())}</h3><ol>{list(&response.steps)}</ol> }
    });
    let first = first.collect_view();
    let [service, record] = book.consent_texts.clone();
    view! {
        {part("Screening", view! {
            {table("Questions, answered yes or no", &["Question", "A yes means", "Then"], screening(&book))}
        })}
        {part("Sensitivity test", view! {
            <p>{format!("At least {} hours before (academy), {} hours (insurer); it expires after {} days. The product’s label comes first.", rule.academy_hours, rule.insurer_hours, rule.expires_days)}</p>
        })}
        {part(format!("Consent, wording {}", book.consent_version), view! {
            <p>{service}</p><p>{record}</p>
        })}
        {part("First response", view! {
            {first}
            <p>{format!("Rinse for {} minutes.", book.rinse_minutes)}</p>
            <h3>"Swelling or trouble breathing"</h3><ol>{list(&book.swelling_steps)}</ol>
            <h3>"Sources of the first response"</h3><ul>{list(&book.first_response_sources)}</ul>
        })}
        {part("Aftercare", view! {
            <ul>{list(&book.aftercare)}</ul>
        })}
        {part("Cautions", view! {
            <ul>{list(&book.cautions)}</ul>
        })}
        {part("Countries and regions", view! {
            {table("Tint rule and cautions", &["Region", "Tint", "Cautions", "Emergency number (check it)"], regions(&book))}
        })}
        {part("Reasons offered for a pause", view! {
            <ul>{list(&book.pause_reasons)}</ul>
        })}
    }
}

fn screening(book: &CourseBook) -> Vec<Vec<String>> {
    let row = |question: &practicum::course_book::ScreeningQuestion| {
        let group = match question.group {
            ScreeningGroup::DoNotTreat => "■ do not treat today",
            ScreeningGroup::Refer => "▲ written medical advice first",
            ScreeningGroup::Adapt => "● restrict or adapt",
        };
        vec![question.question.clone(), group.to_owned(), question.advice.clone()]
    };
    book.screening.iter().map(row).collect()
}

fn regions(book: &CourseBook) -> Vec<Vec<String>> {
    let row = |region: &practicum::course_book::Region| {
        let off = if region.tint_off { "off" } else { "on" };
        let tint = if region.tint_note.is_empty() { off.to_owned() } else { format!("{off}: {}", region.tint_note) };
        vec![region.label.clone(), tint, region.cautions.join(" "), region.emergency_number.clone()]
    };
    book.regions.iter().map(row).collect()
}
