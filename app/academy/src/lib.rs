//! The app in the browser.
use leptos::prelude::*;
use wasm_bindgen::prelude::wasm_bindgen;

pub mod browser;

/// Starts the app on the page.
#[wasm_bindgen(start)]
pub fn start() {
    leptos::mount::mount_to_body(|| view! { <main><h1>"Upsweep"</h1></main> });
}
