//! One trainee's card.

use leptos::prelude::*;
use practicum::group::{Row, ToDo};

use crate::charts::{SmallPoint, SmallScale, small};
use crate::session::session;

/// The points of a row's small chart.
pub(super) fn points(row: &Row) -> Vec<SmallPoint> {
    let point = |point: &practicum::group::Point| SmallPoint {
        number: point.number,
        plan: point.plan,
        hands_on: point.hands_on,
        acceptable: point.acceptable,
        breach: point.breach,
    };
    row.points.iter().map(point).collect()
}

/// What the chart shows, in words.
fn chart_words(row: &Row) -> String {
    let count = |test: &dyn Fn(&practicum::group::Point) -> bool| row.points.iter().filter(|point| test(point)).count();
    format!(
        "{}: {} live services, {} acceptable, {} not acceptable, {} not marked, {} with a safety breach",
        row.trainee.name,
        row.points.len(),
        count(&|point| point.acceptable == Some(true)),
        count(&|point| point.acceptable == Some(false)),
        count(&|point| point.acceptable.is_none()),
        count(&|point| point.breach),
    )
}

/// The card.
#[component]
pub(super) fn Card(
    /// What it shows.
    row: Row,
    /// The scale of all charts.
    scale: SmallScale,
) -> impl IntoView {
    let session = session();
    let book = session.book();
    let person = &row.trainee;
    let words = chart_words(&row);
    let drawing = small(&points(&row), scale, &words);
    let left = person.left.map(|day| format!(" (left on {day})"));
    let last = row.last.map_or_else(|| "no live service yet".to_owned(), |day| format!("last live service {day}"));
    let to_do = |item: &ToDo| book.as_ref().map(|book| view! { <li>{item.say(book)}</li> });
    let items: Vec<_> = row.to_do.iter().filter_map(to_do).collect();
    let due = match items.is_empty() {
        true => view! { <p class="small">"Nothing to do."</p> }.into_any(),
        false => view! { <p class="small"><b>"To do"</b></p><ul class="small">{items}</ul> }.into_any(),
    };
    let stall = row.stall.as_ref().map(|stall| {
        view! { <p class="group-stall">{format!("▲ Stalls since {}: {}.", stall.since, stall.words)}</p> }
    });
    let missing = match row.missing.is_empty() {
        true => view! { <p class="small">{row.advice.clone()}"."</p> }.into_any(),
        false => view! {
            <details><summary>{row.advice.clone()}": "{format!("{} missing for the next plan", row.missing.len())}</summary>
                <ul class="small">{row.missing.iter().map(|words| view! { <li>{words.clone()}</li> }).collect_view()}</ul>
            </details>
        }
        .into_any(),
    };
    let group = (!person.group.is_empty()).then(|| format!(", {}", person.group));
    view! {
        <article class="card group-card">
            <div class="group-words">
                <h2 class="group-name"><a href=format!("#/progress/{}", person.id)>{person.name.clone()}</a>{left}</h2>
                <p class="small">{row.plan.word()}{group}", "{last}</p>
                <p>{row.quality.clone()}</p>
                {stall}
                {missing}
                {due}
            </div>
            <div class="group-chart" inner_html=drawing></div>
        </article>
    }
}
