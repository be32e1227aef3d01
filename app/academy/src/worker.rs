//! The second entry of the same program: heavy work beside the page, in a worker of its own.
//!
//! It knows no page and draws nothing: numbers come in, numbers go out, and [`encoding`] says which is which,
//! for pictures of codes [`codes`], for signatures [`signatures`].

pub(crate) mod codes;
pub(crate) mod encoding;
pub(crate) mod signatures;

use practicum::evidence::learning;
use wasm_bindgen::prelude::wasm_bindgen;

/// Works out an encoded question in a worker; an empty list where the numbers are no question.
#[wasm_bindgen]
pub fn work_out(numbers: &[f64]) -> Vec<f64> {
    if let Some(ask) = encoding::read_ask(numbers) {
        return encoding::write_answer(&learning::answer(&ask));
    }
    if let Some(checks) = signatures::read_ask(numbers) {
        return signatures::write_answer(&checks);
    }
    codes::read_ask(numbers).map(|picture| codes::write_answer(&picture.texts())).unwrap_or_default()
}
