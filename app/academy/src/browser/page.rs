//! The page itself: its address after `#`, its title, its looks, its focus, and small preferences.

use gloo_storage::{LocalStorage, Storage};
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Document, Element, HtmlElement};

use super::listener::Listener;

/// Returns what stands after `#` in the address, without the `#`.
pub fn hash() -> String {
    let hash = web_sys::window().and_then(|window| window.location().hash().ok()).unwrap_or_default();
    hash.strip_prefix('#').map(str::to_owned).unwrap_or(hash)
}

/// Goes to another place in the app: sets what stands after `#` and leaves the present one in the history.
pub fn set_hash(hash: &str) {
    if let Some(window) = web_sys::window() {
        let _ = window.location().set_hash(hash);
    }
}

/// Goes to another place without leaving the present one in the history; callbacks of [`on_hash_change`] are not called.
pub fn replace_hash(hash: &str) {
    if let Some(history) = web_sys::window().and_then(|window| window.history().ok()) {
        let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(&format!("#{hash}")));
    }
}

/// Calls `act` with the new [`hash`] each time it changes.
pub fn on_hash_change(act: impl Fn(String) + 'static) -> Listener {
    match web_sys::window() {
        Some(window) => Listener::new(&window, "hashchange", move |_| act(hash())),
        None => Listener::deaf(),
    }
}

/// Sets the title of the page.
pub fn set_title(title: &str) {
    if let Some(document) = document() {
        document.set_title(title);
    }
}

/// Returns the language of the page, such as `en`.
pub fn language() -> String {
    root()
        .and_then(|root| root.get_attribute("lang"))
        .filter(|lang| !lang.is_empty())
        .unwrap_or_else(|| "en".to_owned())
}

/// Sets the looks, `light` or `dark`, as `data-theme` on the root element; nothing follows the device.
pub fn set_theme(theme: Option<&str>) {
    if let Some(root) = root() {
        let _ = match theme {
            Some(theme) => root.set_attribute("data-theme", theme),
            None => root.remove_attribute("data-theme"),
        };
    }
}

/// Whether the device asks for little motion.
pub fn little_motion() -> bool {
    let window: JsValue = match web_sys::window() {
        Some(window) => window.into(),
        None => return false,
    };
    let asked = super::method(&window, "matchMedia")
        .and_then(|ask| ask.call1(&window, &"(prefers-reduced-motion: reduce)".into()).ok());
    asked.and_then(|answer| super::property(&answer, "matches")).is_some_and(|matches| matches.is_truthy())
}

/// Puts markup at the end of the element with this id; only what [`crate::review::html`] made.
pub fn append_markup(id: &str, markup: &str) {
    if let Some(element) = element(id) {
        let _ = element.insert_adjacent_html("beforeend", markup);
    }
}

/// Empties the element with this id.
pub fn empty(id: &str) {
    if let Some(element) = element(id) {
        element.set_text_content(None);
    }
}

/// Puts a style sheet beside the page's own, or takes it away; nothing where the browser makes none.
pub fn own_style(css: Option<&str>) {
    let sheets = js_sys::Array::new();
    if let Some(css) = css {
        let made = super::property(&js_sys::global(), "CSSStyleSheet")
            .and_then(|class| class.dyn_into::<js_sys::Function>().ok())
            .and_then(|class| js_sys::Reflect::construct(&class, &js_sys::Array::new()).ok());
        let Some(sheet) = made else { return };
        if super::method(&sheet, "replaceSync").is_some_and(|replace| replace.call1(&sheet, &css.into()).is_ok()) {
            sheets.push(&sheet);
        }
    }
    if let Some(document) = web_sys::window().and_then(|window| window.document()) {
        let _ = js_sys::Reflect::set(&document, &"adoptedStyleSheets".into(), &sheets);
    }
}

/// Opens the browser's print dialog.
pub fn print() {
    if let Some(window) = web_sys::window() {
        let _ = window.print();
    }
}

/// Prints the element with this id alone: all else is left off the paper.
pub fn print_alone(id: &str) {
    let Some(element) = element(id) else { return };
    let _ = element.class_list().add_1("paper-sheet");
    print();
    let _ = element.class_list().remove_1("paper-sheet");
}

/// Loads the page anew.
pub fn reload() {
    if let Some(window) = web_sys::window() {
        let _ = window.location().reload();
    }
}

/// Scrolls to the top of the page.
pub fn scroll_to_top() {
    if let Some(window) = web_sys::window() {
        window.scroll_to_with_x_and_y(0.0, 0.0);
    }
}

/// Moves the focus to the first element that a selector finds.
pub fn focus_first(css: &str) {
    let found = document().and_then(|document| document.query_selector(css).ok().flatten());
    if let Some(element) = found.and_then(|element| element.dyn_into::<HtmlElement>().ok()) {
        let _ = element.focus();
    }
}

/// Opens the first folded part that a selector finds, and moves the focus to its head.
pub fn open_first(css: &str) {
    let Some(part) = document().and_then(|document| document.query_selector(css).ok().flatten()) else { return };
    let _ = part.set_attribute("open", "");
    let head = part.query_selector("summary").ok().flatten();
    if let Some(head) = head.and_then(|head| head.dyn_into::<HtmlElement>().ok()) {
        let _ = head.focus();
    }
}

/// Presses the button with this id.
pub fn click(id: &str) {
    if let Some(button) = element(id).and_then(|element| element.dyn_into::<HtmlElement>().ok()) {
        button.click();
    }
}

/// Whether keys that are pressed here are text.
pub fn takes_text(target: &web_sys::EventTarget) -> bool {
    let element = target.dyn_ref::<Element>();
    let kind = |element: &Element| element.get_attribute("type").unwrap_or_else(|| "text".to_owned());
    element.is_some_and(|element| match element.tag_name().as_str() {
        "TEXTAREA" | "SELECT" => true,
        "INPUT" => !matches!(kind(element).as_str(), "radio" | "checkbox" | "button"),
        _ => false,
    })
}

/// Moves the focus to the element with this id; returns whether it took it.
pub fn focus(id: &str) -> bool {
    let element = element(id).and_then(|element| element.dyn_into::<HtmlElement>().ok());
    element.is_some_and(|element| element.focus().is_ok())
}

/// Moves the focus to the first of these ids that is there, if the element that had the focus is gone.
///
/// Waits for what is being drawn. Nothing moves while an element has the focus.
pub fn focus_if_lost(ids: &[&'static str]) {
    let ids = ids.to_vec();
    wasm_bindgen_futures::spawn_local(async move {
        super::timer::pause(0).await;
        let active = document().and_then(|document| document.active_element());
        if active.is_none_or(|active| active.tag_name() == "BODY") {
            let _ = ids.into_iter().any(focus);
        }
    });
}

/// Moves the focus to the element with this id, if it is on one whose id begins with `from` or on none.
///
/// Waits for what is being drawn.
pub fn focus_from(from: &'static str, id: &'static str) {
    wasm_bindgen_futures::spawn_local(async move {
        super::timer::pause(0).await;
        let active = document().and_then(|document| document.active_element());
        if active.is_none_or(|active| active.tag_name() == "BODY" || active.id().starts_with(from)) {
            focus(id);
        }
    });
}

/// Reads a preference of this browser; nothing when it is missing, unreadable or storage is off.
pub fn get_pref<T: DeserializeOwned>(key: &str) -> Option<T> {
    storage_is_on().then(|| LocalStorage::get(key).ok())?
}

/// Keeps a preference of this browser as well as it can: nothing that may not be lost. Returns whether it took it.
pub fn set_pref<T: Serialize>(key: &str, value: T) -> bool {
    storage_is_on() && LocalStorage::set(key, value).is_ok()
}

/// Forgets a preference.
pub fn remove_pref(key: &str) {
    if storage_is_on() {
        LocalStorage::delete(key);
    }
}

/// The storage library takes it for granted that storage is there; a browser may forbid it.
fn storage_is_on() -> bool {
    web_sys::window().is_some_and(|window| matches!(window.local_storage(), Ok(Some(_))))
}

fn document() -> Option<Document> {
    web_sys::window()?.document()
}

fn root() -> Option<Element> {
    document()?.document_element()
}

fn element(id: &str) -> Option<Element> {
    document()?.get_element_by_id(id)
}
