//! Whether the trainee is getting quicker lately, in a sentence.

use leptos::prelude::*;
use practicum::evidence::learning::Asked;
use practicum::evidence::{Direction, lately};

use super::curve::lines;

/// Whether the trainee is getting quicker now.
pub(super) fn recent(asked: &Asked) -> AnyView {
    let found = lately(&asked.ask);
    let sign = match found.direction {
        Direction::Quicker => "▼ ",
        Direction::Slower => "▲ ",
        Direction::Unclear => "○ ",
    };
    let how = (!found.workings.is_empty()).then(|| {
        view! { <details><summary>"How this was worked out"</summary><ul>{lines(found.workings)}</ul></details> }
    });
    view! { <p>{format!("{sign}{}", found.sentence)}</p>{how} }.into_any()
}
