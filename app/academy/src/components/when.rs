//! Part of a page that is there only while something holds.

use std::sync::Arc;

use leptos::children::ViewFn;
use leptos::prelude::*;

/// Shows its children while `when` holds, else the fallback.
///
/// Does what the framework's own piece does, behind boxed closures: compiled once, and not once for each of
/// the places it stands in, which weighs in the site's size.
#[component]
pub fn When<W>(
    /// Whether the children are there.
    when: W,
    /// What is there then.
    children: ChildrenFn,
    /// What is there otherwise; nothing unless said.
    #[prop(optional, into)]
    fallback: ViewFn,
) -> AnyView
where
    W: Fn() -> bool + Send + Sync + 'static,
{
    one_of_two(Arc::new(when), children, fallback)
}

fn one_of_two(when: Arc<dyn Fn() -> bool + Send + Sync>, children: ChildrenFn, fallback: ViewFn) -> AnyView {
    let holds = ArcMemo::new(move |_| when());
    (move || if holds.get() { children() } else { fallback.run() }).into_any()
}
