//! Keys of the browser: objects that only the browser can use, each under its name.

use wasm_bindgen::JsValue;

use super::transaction::Mode;
use super::{Database, KEYS, StoreError};
use crate::browser::keys::BrowserKey;

impl Database {
    /// Reads the key under a name; `None` where none is kept.
    ///
    /// # Errors
    /// Returns why it could not be read.
    pub async fn key(&self, name: &str) -> Result<Option<BrowserKey>, StoreError> {
        let name = JsValue::from_str(name);
        let pair = self.run(&[KEYS], Mode::Read, async |transaction, _| transaction.object(KEYS, &name).await).await?;
        match pair {
            Some(pair) => Ok(BrowserKey::of(pair).await),
            None => Ok(None),
        }
    }

    /// Returns what is kept under a name, as the browser's own object.
    ///
    /// # Errors
    /// Returns why it could not be read.
    pub async fn pair(&self, name: &str) -> Result<Option<JsValue>, StoreError> {
        let name = JsValue::from_str(name);
        self.run(&[KEYS], Mode::Read, async |transaction, _| transaction.object(KEYS, &name).await).await
    }

    /// Keeps a pair of keys under a name.
    ///
    /// # Errors
    /// Returns why it could not be kept.
    pub async fn keep_pair(&self, name: &str, pair: &JsValue) -> Result<(), StoreError> {
        let name = JsValue::from_str(name);
        self.run(&[KEYS], Mode::Write, async |transaction, _| transaction.put_object(KEYS, &name, pair).await).await
    }

    /// Keeps a key under a name unless one is there already, and returns the one that is kept: two tabs that make
    /// one at once get the same.
    ///
    /// # Errors
    /// Returns why it could not be kept.
    pub async fn keep_key(&self, name: &str, fresh: &BrowserKey) -> Result<BrowserKey, StoreError> {
        let name = JsValue::from_str(name);
        let known = self
            .run(&[KEYS], Mode::Write, async |transaction, _| match transaction.object(KEYS, &name).await? {
                Some(known) => Ok(Some(known)),
                None => transaction.put_object(KEYS, &name, fresh.pair()).await.map(|()| None),
            })
            .await?;
        match known {
            Some(pair) => BrowserKey::of(pair)
                .await
                .ok_or_else(|| StoreError::Other("the key that is kept here can no longer be used".to_owned())),
            None => Ok(fresh.clone()),
        }
    }
}
