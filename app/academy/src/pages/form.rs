//! What the forms of all pages share: a field that keeps what was typed and says what is wrong with it.

mod inputs;
mod open;
mod reading;
mod saving;

use leptos::prelude::*;

pub(crate) use inputs::{ChoiceInput, FileInput, LongInput, SelectInput, TextInput, TickInput};
pub(crate) use open::OnceUnlocked;
pub(crate) use reading::{day, day_text, local_text, moment_of_local, name, not_in_the_future, one_line, whole_number};
pub(crate) use saving::{Saving, SavingLine};

/// What was typed into a field, and what is wrong with it.
#[derive(Clone, Copy)]
pub(crate) struct Field {
    /// As typed.
    pub(crate) text: RwSignal<String>,
    /// A sentence beside the field.
    pub(crate) problem: RwSignal<Option<String>>,
}

impl Field {
    /// Makes an empty field.
    pub(crate) fn empty() -> Self {
        Self::of("")
    }

    /// Makes a field that starts with a text.
    pub(crate) fn of(text: impl Into<String>) -> Self {
        Self { text: RwSignal::new(text.into()), problem: RwSignal::new(None) }
    }

    /// Returns what was typed, without spaces at its ends, without following it.
    pub(crate) fn typed(&self) -> String {
        self.text.with_untracked(|text| text.trim().to_owned())
    }

    /// Reads what was typed; says beside the field what is wrong, or takes back what was said.
    pub(crate) fn read<T>(&self, parse: impl FnOnce(&str) -> Result<T, String>) -> Option<T> {
        let parsed = parse(&self.typed());
        match parsed {
            Ok(value) => {
                self.problem.set(None);
                Some(value)
            }
            Err(sentence) => {
                self.problem.set(Some(sentence));
                None
            }
        }
    }

    /// Says what is wrong.
    pub(crate) fn refuse(&self, sentence: impl Into<String>) {
        self.problem.set(Some(sentence.into()));
    }

    /// Empties the field; nothing is wrong with it then.
    pub(crate) fn clear(&self) {
        self.text.set(String::new());
        self.problem.set(None);
    }
}
