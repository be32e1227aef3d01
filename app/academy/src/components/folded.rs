//! A part that is folded away, and worked out only when it is opened.

use leptos::prelude::*;

use super::When;

/// A heading that opens what stands below it; until then that is not there.
#[component]
pub fn Folded(
    /// Classes.
    class: &'static str,
    /// The heading.
    head: AnyView,
    /// What it opens.
    children: ChildrenFn,
) -> impl IntoView {
    let open = RwSignal::new(false);
    // Drawn anew in the place of an open one it is shut again: the element alone would stay open.
    view! {
        <details class=class prop:open=move || open.get() on:toggle:target=move |event| open.set(event.target().open())>
            <summary>{head}</summary>
            <When when=move || open.get()>{children()}</When>
        </details>
    }
}
