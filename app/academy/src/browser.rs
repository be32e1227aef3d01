//! Everything the app asks of the browser. Only this folder touches web APIs: the pages call the
//! plain functions here, and no function here knows what a service, an entry or a trainee is.
//!
//! It compiles on the host too, so that pages and charts can be tested natively; calling a function
//! that needs a browser outside one fails at run time.

pub mod store;

pub mod clock;
pub mod random;
pub mod timer;

pub mod alarm;
pub mod visibility;
pub mod wake_lock;

pub mod camera;
pub mod file;
pub mod incoming;
pub mod keys;
pub mod page;
pub mod panic;
pub mod photo;
pub mod pin;
pub mod rsa;
pub mod tabs;

pub mod worker;

pub mod listener;

use wasm_bindgen::{JsCast, JsValue};

/// Whether there is a page; a worker has none.
pub fn has_page() -> bool {
    web_sys::window().is_some()
}

/// Reads a property, or nothing when it is missing, null or forbidden.
fn property(of: &JsValue, name: &str) -> Option<JsValue> {
    js_sys::Reflect::get(of, &JsValue::from_str(name)).ok().filter(|value| !value.is_undefined() && !value.is_null())
}

/// Reads a method, or nothing when it is missing or forbidden.
fn method(of: &JsValue, name: &str) -> Option<js_sys::Function> {
    property(of, name)?.dyn_into().ok()
}

/// Says in a few words what a thrown value was.
fn words_of(thrown: &JsValue) -> String {
    let text = |name| property(thrown, name).and_then(|value| value.as_string()).filter(|text| !text.is_empty());
    match (text("name"), text("message")) {
        (Some(name), Some(message)) => format!("{name}: {message}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => thrown.as_string().unwrap_or_else(|| "no reason given".to_owned()),
    }
}
