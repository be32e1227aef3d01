//! A table of data.

use leptos::prelude::*;

/// Shows rows under a caption; the first cell of a row names it. Scrolls by itself when it is wide.
#[component]
pub fn DataTable(
    /// What the table shows.
    #[prop(into)]
    caption: String,
    /// Heads of the columns.
    head: Vec<String>,
    /// Rows of cells; [`text_rows`] makes them from texts.
    rows: Vec<Vec<AnyView>>,
) -> impl IntoView {
    let row = |cells: Vec<AnyView>| {
        let mut cells = cells.into_iter();
        let first = cells.next().map(|cell| view! { <th scope="row">{cell}</th> });
        view! { <tr>{first}{cells.map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr> }
    };
    let label = caption.clone();
    view! {
        <div class="table-wrap" role="region" tabindex="0" aria-label=label>
            <table>
                <caption>{caption}</caption>
                <thead><tr>{head.into_iter().map(|word| view! { <th scope="col">{word}</th> }).collect_view()}</tr></thead>
                <tbody>{rows.into_iter().map(row).collect_view()}</tbody>
            </table>
        </div>
    }
}

/// Letters from which on a cell is given room, so that a narrow screen does not make a tall row of it.
const LONG: usize = 40;

/// Makes cells from texts.
pub fn text_rows(rows: Vec<Vec<String>>) -> Vec<Vec<AnyView>> {
    let cell = |text: String| match text.chars().count() {
        0..LONG => text.into_any(),
        _ => view! { <div class="cell-long">{text}</div> }.into_any(),
    };
    rows.into_iter().map(|cells| cells.into_iter().map(cell).collect()).collect()
}
