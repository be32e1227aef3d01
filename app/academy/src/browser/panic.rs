//! What happens when the app breaks: a plain page, drawn without the app, says what is saved and hands it out.

use std::cell::RefCell;
use std::panic::PanicHookInfo;

use wasm_bindgen::JsValue;

use super::method;

thread_local! {
    static DATABASE: RefCell<String> = RefCell::new(super::store::RECORDS.to_owned());
}

/// Puts the rescue page in place of a dead one; call it first thing.
///
/// The page is drawn by `rescue.js`, which must be loaded by then: after a panic nothing of the app
/// can be trusted any more.
pub fn install() {
    std::panic::set_hook(Box::new(|info| {
        web_sys::console::error_1(&JsValue::from_str(&info.to_string()));
        let database = DATABASE.with(|name| name.try_borrow().map(|name| name.clone()).unwrap_or_default());
        let global = js_sys::global();
        if let Some(rescue) = method(&global, "upsweepRescue") {
            let _ = rescue.call2(&global, &JsValue::from_str(&place_of(info)), &JsValue::from_str(&database));
        }
    }));
}

/// Remembers which database a rescue has to copy.
pub(super) fn name_database(name: &str) {
    DATABASE.with_borrow_mut(|kept| name.clone_into(kept));
}

/// Says where, and not what: the message of a panic may hold a person's data.
fn place_of(info: &PanicHookInfo<'_>) -> String {
    info.location().map(|place| format!("{}, line {}", place.file(), place.line())).unwrap_or_default()
}
