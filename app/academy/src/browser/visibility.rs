//! Whether the page can be seen.

use super::listener::Listener;

/// Returns whether the page is hidden: another tab, another app, a locked screen.
pub fn hidden() -> bool {
    web_sys::window().and_then(|window| window.document()).is_some_and(|document| document.hidden())
}

/// Calls `act` each time the page is hidden (`true`) or seen again (`false`).
pub fn on_visibility_change(act: impl Fn(bool) + 'static) -> Listener {
    match web_sys::window().and_then(|window| window.document()) {
        Some(document) => Listener::new(&document, "visibilitychange", move |_| act(hidden())),
        None => Listener::deaf(),
    }
}
