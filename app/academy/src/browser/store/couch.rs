//! The service under way: one row for each tap, saved before the screen changes.

use wasm_bindgen::JsValue;
use web_sys::IdbKeyRange;

use super::transaction::{Mode, Transaction};
use super::{COUCH, Database, StoreError};

/// Rows of a run that are read at a time.
const TAPS_AT_A_TIME: u32 = 500;

/// Rows of a run that belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taps<'a> {
    /// The run.
    pub run: &'a str,
    /// Number of the first row; 0 is the opening of a new run.
    pub first: u32,
    /// The rows in order.
    pub values: &'a [String],
}

impl Taps<'_> {
    /// Adds the rows in a transaction that is under way.
    pub(super) async fn write(&self, transaction: &Transaction) -> Result<(), StoreError> {
        if let Some(before) = self.first.checked_sub(1) {
            let before = key(self.run, before)?;
            if transaction.text(COUCH, &JsValue::from_str(&before)).await?.is_none() {
                return Err(StoreError::HeadMoved);
            }
        }
        for (key, value) in self.rows()? {
            transaction.add(COUCH, &key, value).await?;
        }
        Ok(())
    }

    /// Whether the rows are there already, as they would be written.
    pub(super) async fn are_there(&self, transaction: &Transaction) -> Result<bool, StoreError> {
        for (key, value) in self.rows()? {
            if transaction.text(COUCH, &JsValue::from_str(&key)).await?.as_ref() != Some(value) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn rows(&self) -> Result<Vec<(String, &String)>, StoreError> {
        let numbered = self.values.iter().zip(self.first..);
        numbered.map(|(value, number)| Ok((key(self.run, number)?, value))).collect()
    }
}

impl Database {
    /// Saves what one tap recorded, all of it in one transaction or nothing: the rows of a run are numbered
    /// without a gap from 0, which is its opening.
    ///
    /// # Errors
    /// Returns [`StoreError::HeadMoved`] when another tab has saved a row of this number or has ended
    /// the run, or why it could not be written; nothing is written then.
    pub async fn add_taps(&self, taps: &Taps<'_>) -> Result<(), StoreError> {
        self.run(&[COUCH], Mode::Write, async |transaction, replay| {
            if replay && taps.are_there(transaction).await? {
                return Ok(());
            }
            taps.write(transaction).await
        })
        .await
    }

    /// Reads the taps of a run with their numbers, in order.
    ///
    /// # Errors
    /// Returns why they could not be read.
    pub async fn load_run(&self, run: &str) -> Result<Vec<(u32, String)>, StoreError> {
        let range = range(run)?;
        let rows = self
            .run(&[COUCH], Mode::Read, async |transaction, _| {
                transaction.rows(COUCH, Some(&range), TAPS_AT_A_TIME).await
            })
            .await?;
        Ok(rows.into_iter().filter_map(|(key, value)| Some((split(&key.as_string()?)?.1, value))).collect())
    }

    /// Reads the answers kept with a run, if there are any.
    ///
    /// # Errors
    /// Returns why they could not be read.
    pub async fn answers(&self, run: &str) -> Result<Option<String>, StoreError> {
        let key = JsValue::from_str(&answers_key(run)?);
        self.run(&[COUCH], Mode::Read, async |transaction, _| transaction.text(COUCH, &key).await).await
    }

    /// Puts the answers kept with a run in place of what stands there, which `change` is given, and returns what is
    /// kept now. They go with the run when it ends.
    ///
    /// # Errors
    /// Returns [`StoreError::HeadMoved`] when the run has ended, or why they could not be written; nothing is
    /// changed then.
    pub async fn keep_answers(
        &self,
        run: &str,
        change: impl Fn(Option<&str>) -> Result<String, String>,
    ) -> Result<String, StoreError> {
        let (opening, key) = (JsValue::from_str(&key(run, 0)?), JsValue::from_str(&answers_key(run)?));
        self.run(&[COUCH], Mode::Write, async |transaction, _| {
            if transaction.text(COUCH, &opening).await?.is_none() {
                return Err(StoreError::HeadMoved);
            }
            let stored = transaction.text(COUCH, &key).await?;
            let kept = change(stored.as_deref()).map_err(StoreError::Other)?;
            transaction.put(COUCH, &key, &kept).await?;
            Ok(kept)
        })
        .await
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

/// Returns the key of the answers of a run: among its rows, and no tap.
fn answers_key(run: &str) -> Result<String, StoreError> {
    check(run)?;
    Ok(format!("{run}/answers"))
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
    use super::{Taps, answers_key, key, split};

    #[test]
    fn answers_stand_among_the_rows_of_their_run_and_are_no_tap() {
        let key = answers_key("ab12").unwrap();
        assert!(*"ab12/" < *key && *key < *"ab120");
        assert_eq!(split(&key), None);
    }

    #[test]
    fn rows_that_belong_together_are_numbered_without_a_gap() {
        let values = ["a".to_owned(), "b".to_owned()];
        let taps = Taps { run: "ab12", first: 7, values: &values };
        let rows = taps.rows().unwrap();
        let keys: Vec<&str> = rows.iter().map(|(key, _)| key.as_str()).collect();
        assert_eq!(keys, ["ab12/00000007", "ab12/00000008"]);
        assert!(Taps { run: "a/b", first: 0, values: &values }.rows().is_err());
    }

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
