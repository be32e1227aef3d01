//! A chart on the page: drawing, words and the same numbers as a table.

use std::sync::atomic::{AtomicU32, Ordering};

use leptos::prelude::*;

use super::paper::escape;
use crate::components::{DataTable, text_rows};

/// Shows a drawing with its title and description, and the same numbers as a table.
#[component]
pub fn Chart(
    /// Title.
    #[prop(into)]
    title: String,
    /// What the chart shows and how to read it, in a sentence or two.
    #[prop(into)]
    description: String,
    /// The drawing: only what the functions beside made, whose words are escaped.
    svg: String,
    /// Heads of the table.
    head: Vec<String>,
    /// Rows of the table.
    rows: Vec<Vec<String>>,
    /// Where the first cell of each row leads; empty where rows lead nowhere.
    #[prop(optional)]
    links: Vec<String>,
) -> impl IntoView {
    static NEXT: AtomicU32 = AtomicU32::new(1);
    let number = NEXT.fetch_add(1, Ordering::Relaxed);
    let svg = with_words(&svg, &title, &description, number);
    view! {
        <figure class="chart">
            <figcaption>
                <p class="chart-title">{title.clone()}</p>
                <p class="small">{description}</p>
            </figcaption>
            <div class="chart-drawing" tabindex="0" role="group" aria-label=format!("Drawing: {title}") inner_html=svg></div>
            <details class="chart-table">
                <summary>"The same numbers as a table"</summary>
                <DataTable caption=title head=head rows=linked(rows, links)/>
            </details>
        </figure>
    }
}

/// Makes cells from texts, the first of each row a link where one is given.
fn linked(rows: Vec<Vec<String>>, links: Vec<String>) -> Vec<Vec<AnyView>> {
    let mut links = links.into_iter();
    let mut row = |mut cells: Vec<AnyView>, texts: Option<String>| {
        let link = links.next().filter(|link| !link.is_empty());
        if let (Some(first), Some(text), Some(link)) = (cells.first_mut(), texts, link) {
            *first = view! { <a href=link>{text}</a> }.into_any();
        }
        cells
    };
    let texts: Vec<Option<String>> = rows.iter().map(|cells| cells.first().cloned()).collect();
    text_rows(rows).into_iter().zip(texts).map(|(cells, text)| row(cells, text)).collect()
}

/// Gives a drawing its title and description for readers of the screen.
pub(super) fn with_words(svg: &str, title: &str, description: &str, number: u32) -> String {
    let Some((head, inside)) = svg.split_once('>') else {
        return String::new();
    };
    let (title, description) = (escape(title), escape(description));
    format!(
        r#"{head} role="img" aria-labelledby="chart-title-{number}" aria-describedby="chart-words-{number}"><title id="chart-title-{number}">{title}</title><desc id="chart-words-{number}">{description}</desc>{inside}"#
    )
}
