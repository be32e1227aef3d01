//! A callback that the browser calls until its guard is dropped.

use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use web_sys::{Event, EventTarget};

/// Listens until it is dropped.
#[must_use = "listening stops when this is dropped"]
#[derive(Debug)]
pub struct Listener(Option<Parts>);

#[derive(Debug)]
struct Parts {
    target: EventTarget,
    event: &'static str,
    closure: Closure<dyn FnMut(Event)>,
}

impl Listener {
    /// Calls `act` for every event of this name at `target`.
    pub(super) fn new(target: &EventTarget, event: &'static str, act: impl FnMut(Event) + 'static) -> Self {
        let closure = Closure::<dyn FnMut(Event)>::new(act);
        match target.add_event_listener_with_callback(event, closure.as_ref().unchecked_ref()) {
            Ok(()) => Self(Some(Parts { target: target.clone(), event, closure })),
            Err(_) => Self::deaf(),
        }
    }

    /// Returns a listener that hears nothing, for a browser that lacks what was asked for.
    pub(super) fn deaf() -> Self {
        Self(None)
    }

    /// Returns whether the browser took the callback.
    pub fn hears(&self) -> bool {
        self.0.is_some()
    }

    /// Listens for as long as the page lives.
    pub fn keep(self) {
        std::mem::forget(self);
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        if let Some(parts) = self.0.take() {
            let callback = parts.closure.as_ref().unchecked_ref();
            let _ = parts.target.remove_event_listener_with_callback(parts.event, callback);
        }
    }
}
