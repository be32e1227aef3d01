//! The service under way as text: one for its opening and one for each tap.

use practicum::couch::{Opening, Tap};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::json;
use crate::wire::{OpeningV1, TapV1, Twin};

const VERSION: u32 = 1;

#[derive(Serialize)]
struct Written<T> {
    version: u32,
    #[serde(flatten)]
    what: T,
}

#[derive(Serialize, Deserialize)]
struct OpeningText {
    opening: OpeningV1,
}

#[derive(Serialize, Deserialize)]
struct TapText {
    tap: TapV1,
}

/// Writes an opening.
///
/// # Errors
/// Returns why it cannot be written, which no opening gives cause for.
pub fn opening_text(opening: &Opening) -> Result<String, String> {
    json::canonical(&Written { version: VERSION, what: OpeningText { opening: Twin::of(opening) } })
}

/// Writes a tap.
///
/// # Errors
/// Returns why it cannot be written, which no tap gives cause for.
pub fn tap_text(tap: &Tap) -> Result<String, String> {
    json::canonical(&Written { version: VERSION, what: TapText { tap: Twin::of(tap) } })
}

/// Reads an opening.
///
/// # Errors
/// Returns what is wrong with the text.
pub fn read_opening(text: &str) -> Result<Opening, String> {
    typed::<OpeningText>(text)?.opening.back()
}

/// Reads a tap.
///
/// # Errors
/// Returns what is wrong with the text.
pub fn read_tap(text: &str) -> Result<Tap, String> {
    typed::<TapText>(text)?.tap.back()
}

/// Reads a text of the run under way.
///
/// # Errors
/// Returns what is wrong with the text.
pub(crate) fn typed<T: serde::de::DeserializeOwned>(text: &str) -> Result<T, String> {
    let value = json::read(text).map_err(|error| error.to_string())?;
    match value.get("version").and_then(Value::as_u64) {
        Some(1) => json::typed(value),
        Some(version) => Err(format!("this was written by a later version of the app (form {version})")),
        None => Err("the version is missing".to_owned()),
    }
}
