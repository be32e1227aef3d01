//! Why the store could not do what it was asked.

use wasm_bindgen::JsValue;

use crate::browser::{property, words_of};

/// Why nothing was saved or read, in a sentence that can stand on the screen.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// The browser keeps nothing for this page.
    #[error(
        "This browser keeps nothing for this page (a private window, or storage is blocked): \
         allow storage for this site or open it in a normal window"
    )]
    Refused,
    /// The device or the browser's share of it is full.
    #[error(
        "This device is full, so this step was not saved: free some space and try again. \
         Everything saved before is still here and can be exported"
    )]
    Full,
    /// Another tab wrote first.
    #[error(
        "Another tab of Upsweep saved something first, so this step was not saved: reload this tab and do it again"
    )]
    HeadMoved,
    /// The connection to the records broke, and once more after it was opened again.
    #[error(
        "The browser lost its connection to the records, so this step was not saved: reload the page. \
         Everything saved before is still here"
    )]
    Lost,
    /// Another tab holds on to the records in an older form.
    #[error(
        "Another tab of Upsweep, opened before this version came, still holds the records: close the other tabs of \
         Upsweep, then reload this one. Everything saved before is still here"
    )]
    Blocked,
    /// A newer version of the app has the records now.
    #[error(
        "A newer version of Upsweep is open in another tab, so this step was not saved: reload this page and do it \
         again. Everything saved before is still here"
    )]
    Outdated,
    /// Anything else, with the browser's own words.
    #[error("The browser could not read or write the records ({0}); what was saved before is still here")]
    Other(String),
}

impl StoreError {
    /// Sorts what a request or a transaction threw.
    pub(super) fn of(thrown: &JsValue) -> Self {
        let name = property(thrown, "name").and_then(|name| name.as_string()).unwrap_or_default();
        Self::named(&name).unwrap_or_else(|| Self::Other(words_of(thrown)))
    }

    /// Sorts what opening a database threw: there, a vague refusal means that storage is off.
    pub(super) fn of_opening(thrown: &JsValue) -> Self {
        match Self::of(thrown) {
            Self::Lost => Self::Refused,
            other => other,
        }
    }

    fn named(name: &str) -> Option<Self> {
        Some(match name {
            "QuotaExceededError" => Self::Full,
            "ConstraintError" => Self::HeadMoved,
            "SecurityError" | "NotAllowedError" => Self::Refused,
            "VersionError" => Self::Outdated,
            // Browsers report a dropped connection under any of these names.
            "AbortError" | "InvalidStateError" | "TransactionInactiveError" | "UnknownError" => Self::Lost,
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::StoreError;

    #[test]
    fn names_of_the_browser_become_our_reasons() {
        assert_eq!(StoreError::named("QuotaExceededError"), Some(StoreError::Full));
        assert_eq!(StoreError::named("ConstraintError"), Some(StoreError::HeadMoved));
        assert_eq!(StoreError::named("UnknownError"), Some(StoreError::Lost));
        assert_eq!(StoreError::named("VersionError"), Some(StoreError::Outdated));
        assert_eq!(StoreError::named("DataError"), None);
    }
}
