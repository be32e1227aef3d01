//! A handout shown as plain headings, paragraphs and lists; never as markup.

use leptos::prelude::*;

/// One handout.
#[component]
pub(super) fn Handout(
    /// File name.
    name: String,
    /// Markdown.
    text: String,
) -> impl IntoView {
    let title = text.lines().find_map(|line| line.strip_prefix("# ")).map_or(name, str::to_owned);
    let lines = text.lines().filter(|line| !line.trim().is_empty() && !line.starts_with("# ")).map(line).collect_view();
    view! { <details><summary>{title}</summary>{lines}</details> }
}

fn line(line: &str) -> AnyView {
    let trimmed = line.trim();
    if let Some(heading) = trimmed.strip_prefix("## ").or(trimmed.strip_prefix("### ")) {
        view! { <h3>{heading.to_owned()}</h3> }.into_any()
    } else if let Some(item) = trimmed.strip_prefix("- ").or(trimmed.strip_prefix("* ")) {
        view! { <p>{format!("• {item}")}</p> }.into_any()
    } else {
        view! { <p>{trimmed.to_owned()}</p> }.into_any()
    }
}
