//! The frame of a page and the links between pages.

use leptos::prelude::*;

use crate::browser;
use crate::route::Route;

/// Id of the heading that takes the focus when a page opens.
const HEADING: &str = "page-heading";

/// Frames a page: names the document after it and moves the focus to its heading when it opens.
#[component]
pub fn Page(
    /// Heading and title.
    #[prop(into)]
    title: Signal<String>,
    /// The page below its heading.
    children: Children,
) -> impl IntoView {
    Effect::new(move |_| title.with(|title| browser::page::set_title(&format!("{title} · Upsweep"))));
    Effect::new(|_| {
        browser::page::scroll_to_top();
        browser::page::focus(HEADING);
    });
    view! {
        <div class="page">
            <h1 id=HEADING tabindex="-1">{move || title.get()}</h1>
            {children()}
        </div>
    }
}

/// Links to a place in the app and says whether it is the present one.
#[component]
pub fn NavLink(
    /// The place.
    to: Route,
    /// Words of the link.
    #[prop(into)]
    text: String,
    /// Whether it is the present place.
    #[prop(optional, into)]
    current: Signal<bool>,
) -> impl IntoView {
    view! { <a class="nav-link" href=to.to_hash() aria-current=move || current.get().then_some("page")>{text}</a> }
}
