//! The service under way: one row for each tap, saved before the screen changes.

use wasm_bindgen::JsValue;
use web_sys::IdbKeyRange;

use super::transaction::Mode;
use super::{COUCH, Database, StoreError};

impl Database {
    /// Saves one tap of a run; the taps of a run are numbered without a gap from 0 or 1 on.
    ///
    /// # Errors
    /// Returns [`StoreError::HeadMoved`] when another tab has saved a tap of this number or has ended
    /// the run, or why it could not be written; nothing is written then.
    pub async fn add_tap(&self, run: &str, sequence: u32, value: &str) -> Result<(), StoreError> {
        let key = key(run, sequence)?;
        let before =
            sequence.checked_sub(1).filter(|before| *before > 0).map(|before| self::key(run, before)).transpose()?;
        self.run(&[COUCH], Mode::Write, async |transaction, replay| {
            if replay && transaction.text(COUCH, &JsValue::from_str(&key)).await?.as_deref() == Some(value) {
                return Ok(());
            }
            if let Some(before) = &before
                && transaction.text(COUCH, &JsValue::from_str(before)).await?.is_none()
            {
                return Err(StoreError::HeadMoved);
            }
            transaction.add(COUCH, &key, value).await
        })
        .await
    }

    /// Reads the taps of a run with their numbers, in order.
    ///
    /// # Errors
    /// Returns why they could not be read.
    pub async fn load_run(&self, run: &str) -> Result<Vec<(u32, String)>, StoreError> {
        let range = range(run)?;
        let rows =
            self.run(&[COUCH], Mode::Read, async |transaction, _| transaction.rows(COUCH, Some(&range)).await).await?;
        Ok(rows.into_iter().filter_map(|(key, value)| Some((split(&key.as_string()?)?.1, value))).collect())
    }

    /// Lists the runs that have taps, each once.
    ///
    /// # Errors
    /// Returns why they could not be read.
    pub async fn runs(&self) -> Result<Vec<String>, StoreError> {
        let keys = self.run(&[COUCH], Mode::Read, async |transaction, _| transaction.keys(COUCH).await).await?;
        let mut runs: Vec<String> = keys.iter().filter_map(|key| Some(split(key)?.0.to_owned())).collect();
        runs.dedup();
        Ok(runs)
    }

    /// Removes all taps of a run.
    ///
    /// # Errors
    /// Returns why they could not be removed; all of them are still there then.
    pub async fn remove_run(&self, run: &str) -> Result<(), StoreError> {
        let range = range(run)?;
        self.run(&[COUCH], Mode::Write, async |transaction, _| transaction.remove(COUCH, &range).await).await
    }
}

/// Returns the keys of all taps of a run: from `run/` up to, not including, `run0` (`0` follows `/`).
pub(super) fn range(run: &str) -> Result<IdbKeyRange, StoreError> {
    check(run)?;
    IdbKeyRange::bound_with_lower_open_and_upper_open(
        &JsValue::from_str(&format!("{run}/")),
        &JsValue::from_str(&format!("{run}0")),
        false,
        true,
    )
    .map_err(|thrown| StoreError::of(&thrown))
}

fn key(run: &str, sequence: u32) -> Result<String, StoreError> {
    check(run)?;
    match sequence <= 99_999_999 {
        true => Ok(format!("{run}/{sequence:08}")),
        false => Err(StoreError::Other("a run has no room for more taps".to_owned())),
    }
}

fn check(run: &str) -> Result<(), StoreError> {
    match run.is_empty() || run.contains('/') {
        true => Err(StoreError::Other(format!("“{run}” cannot name a run"))),
        false => Ok(()),
    }
}

fn split(key: &str) -> Option<(&str, u32)> {
    let (run, sequence) = key.rsplit_once('/')?;
    Some((run, sequence.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::{key, split};

    #[test]
    fn keys_sort_as_their_numbers_do() {
        let keys: Vec<String> = [2, 10, 100, 99_999_999].iter().filter_map(|n| key("ab12", *n).ok()).collect();
        assert!(keys.is_sorted());
        assert_eq!(keys.first().and_then(|key| split(key)), Some(("ab12", 2)));
    }

    #[test]
    fn a_run_that_would_mix_with_another_is_refused() {
        assert!(key("a/b", 1).is_err());
        assert!(key("", 1).is_err());
        assert!(key("a", 100_000_000).is_err());
    }
}
