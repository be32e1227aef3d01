//! Small facts that may not be lost: text under a key.

use wasm_bindgen::JsValue;

use super::transaction::Mode;
use super::{Database, HEAD, META, SEALED, StoreError};

impl Database {
    /// Reads the text under a key.
    ///
    /// # Errors
    /// Returns why it could not be read.
    pub async fn get_meta(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.run(&[META], Mode::Read, async |transaction, _| transaction.text(META, &JsValue::from_str(key)).await)
            .await
    }

    /// Puts a text under a key, in place of an earlier one.
    ///
    /// # Errors
    /// Returns why it could not be written. The keys `head` and `sealed` belong to the packs and are refused.
    pub async fn put_meta(&self, key: &str, value: &str) -> Result<(), StoreError> {
        check(key)?;
        self.run(&[META], Mode::Write, async |transaction, _| {
            transaction.put(META, &JsValue::from_str(key), value).await
        })
        .await
    }

    /// Removes the text under a key, if there is one.
    ///
    /// # Errors
    /// Returns why it could not be removed. The keys `head` and `sealed` belong to the packs and are refused.
    pub async fn remove_meta(&self, key: &str) -> Result<(), StoreError> {
        check(key)?;
        self.run(&[META], Mode::Write, async |transaction, _| transaction.remove(META, &JsValue::from_str(key)).await)
            .await
    }
}

fn check(key: &str) -> Result<(), StoreError> {
    match [HEAD, SEALED].contains(&key) {
        true => Err(StoreError::Other(format!("“{key}” is written with the packs only"))),
        false => Ok(()),
    }
}
