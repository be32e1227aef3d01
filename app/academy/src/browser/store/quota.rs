//! How much room there is, and whether the browser promises to keep what is here.

use js_sys::Promise;
use wasm_bindgen::JsValue;
use wasm_bindgen_futures::JsFuture;

use crate::browser::{method, property};

/// How much this site uses and may use, in bytes, as the browser guesses it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Estimate {
    /// Bytes in use.
    pub usage: u64,
    /// Bytes that may be used in all.
    pub quota: u64,
}

/// Asks how much room there is; nothing where the browser does not say.
pub async fn estimate() -> Option<Estimate> {
    let answer = ask("estimate").await?;
    let bytes = |name| property(&answer, name)?.as_f64().map(|bytes| bytes as u64);
    Some(Estimate { usage: bytes("usage")?, quota: bytes("quota")? })
}

/// Asks the browser never to clear the records by itself; returns its answer, nothing where it cannot be asked.
pub async fn persist() -> Option<bool> {
    ask("persist").await?.as_bool()
}

/// Returns whether the browser has promised not to clear the records by itself.
pub async fn persisted() -> bool {
    ask("persisted").await.and_then(|answer| answer.as_bool()).unwrap_or(false)
}

async fn ask(question: &str) -> Option<JsValue> {
    // Absent outside secure pages.
    let storage = property(&property(&js_sys::global(), "navigator")?, "storage")?;
    let promise = method(&storage, question)?.call0(&storage).ok()?;
    JsFuture::from(Promise::resolve(&promise)).await.ok()
}
