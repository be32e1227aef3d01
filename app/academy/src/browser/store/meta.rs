//! Small facts that may not be lost: text under a key.

use wasm_bindgen::JsValue;

use super::transaction::{Mode, Transaction};
use super::{CHANGES, Database, HEAD, META, SEALED, StoreError};

impl Database {
    /// Reads the text under a key.
    ///
    /// # Errors
    /// Returns why it could not be read.
    pub async fn get_meta(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.run(&[META], Mode::Read, async |transaction, _| transaction.text(META, &JsValue::from_str(key)).await)
            .await
    }

    /// Reads the text under a key, putting `fresh` there first where nothing stands: two tabs that start at
    /// once get the same.
    ///
    /// # Errors
    /// Returns why it could not be read or written.
    pub async fn meta_or(&self, key: &str, fresh: &str) -> Result<String, StoreError> {
        self.run(&[META], Mode::Write, async |transaction, _| {
            if let Some(known) = transaction.text(META, &JsValue::from_str(key)).await? {
                return Ok(known);
            }
            write(transaction, &[(key, fresh)]).await?;
            Ok(fresh.to_owned())
        })
        .await
    }

    /// Puts texts under their keys, in place of earlier ones, all in one transaction.
    ///
    /// # Errors
    /// Returns why nothing could be written. The keys `head`, `changes` and `sealed` belong to the packs and are refused.
    pub async fn put_meta(&self, facts: &[(&str, &str)]) -> Result<(), StoreError> {
        self.run(&[META], Mode::Write, async |transaction, _| write(transaction, facts).await).await
    }
}

/// Puts texts under their keys in a transaction that is under way.
pub(super) async fn write(transaction: &Transaction, facts: &[(&str, &str)]) -> Result<(), StoreError> {
    for (key, value) in facts {
        check(key)?;
        transaction.put(META, &JsValue::from_str(key), value).await?;
    }
    Ok(())
}

fn check(key: &str) -> Result<(), StoreError> {
    match [HEAD, CHANGES, SEALED].contains(&key) {
        true => Err(StoreError::Other(format!("“{key}” is written with the packs only"))),
        false => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::check;

    #[test]
    fn the_end_of_the_chain_is_no_small_fact() {
        assert!(check("last-open").is_ok());
        assert!(check("head").is_err());
        assert!(check("sealed").is_err());
        assert!(check("changes").is_err());
    }
}
