//! A drawing on the page.

use leptos::prelude::*;

use super::Drawing;

/// Shows a drawing with its title, what it shows in words, and its table; all of it prints.
#[component]
pub fn Chart(
    /// The drawing.
    drawing: Drawing,
) -> impl IntoView {
    // The only markup of the app that is not built node by node: both texts are written and escaped in this module.
    let table = drawing.table.to_html(&drawing.title);
    let name = format!("Drawing, scrolls: {}", drawing.title);
    let numbers = format!("Table, scrolls: {}", drawing.title);
    view! {
        <figure class="chart">
            <figcaption>
                <p class="chart-title">{drawing.title}</p>
                <p class="small">{drawing.description}</p>
            </figcaption>
            <div class="chart-drawing" role="region" tabindex="0" aria-label=name inner_html=drawing.svg></div>
            <details class="chart-table">
                <summary>"The same numbers as a table"</summary>
                <div class="table-wrap" role="region" tabindex="0" aria-label=numbers inner_html=table></div>
            </details>
        </figure>
    }
}
