//! One transaction: its requests, its end, and nothing awaited but requests in between.

use js_sys::{Array, Promise, Reflect};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{IdbDatabase, IdbKeyRange, IdbObjectStore, IdbRequest, IdbTransaction};

use super::StoreError;
use crate::browser::method;

/// Whether a transaction may write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mode {
    Read,
    Write,
}

/// A transaction under way. The browser ends it by itself as soon as no request is pending, so a
/// holder may await nothing but the methods below.
pub(super) struct Transaction {
    raw: IdbTransaction,
    done: JsFuture,
}

impl Transaction {
    /// Begins a transaction over the named object stores; writing ones are strictly durable.
    pub(super) fn begin(database: &IdbDatabase, stores: &[&str], mode: Mode) -> Result<Self, StoreError> {
        let names: Array = stores.iter().map(|name| JsValue::from_str(name)).collect();
        let options = js_sys::Object::new();
        let word = match mode {
            Mode::Read => "readonly",
            Mode::Write => "readwrite",
        };
        Reflect::set(&options, &"durability".into(), &"strict".into()).map_err(|thrown| StoreError::of(&thrown))?;
        let begin = method(database, "transaction").ok_or(StoreError::Refused)?;
        let raw: IdbTransaction = begin
            .call3(database, &names, &JsValue::from_str(word), &options)
            .map_err(|thrown| StoreError::of(&thrown))?
            .unchecked_into();
        let done = Promise::new(&mut |resolve, reject| {
            raw.set_oncomplete(Some(&resolve));
            raw.set_onabort(Some(&reject));
        });
        Ok(Self { done: JsFuture::from(done), raw })
    }

    /// Waits until everything is on the disk.
    pub(super) async fn complete(self) -> Result<(), StoreError> {
        // Browsers without `commit` end the transaction by themselves.
        if let Some(commit) = method(&self.raw, "commit") {
            let _ = commit.call0(&self.raw);
        }
        match self.done.await {
            Ok(_) => Ok(()),
            Err(_) => Err(reason_of(&self.raw)),
        }
    }

    /// Takes everything back and returns the reason, the transaction's own where that says more.
    pub(super) async fn give_up(self, reason: StoreError) -> StoreError {
        let _ = self.raw.abort();
        let _ = self.done.await;
        match (&reason, self.raw.error()) {
            (StoreError::Lost, Some(error)) => StoreError::of(&error),
            _ => reason,
        }
    }

    /// Reads the text under a key.
    pub(super) async fn text(&self, store: &str, key: &JsValue) -> Result<Option<String>, StoreError> {
        Ok(answer(self.store(store)?.get(key)).await?.as_string())
    }

    /// Reads the object under a key.
    pub(super) async fn object(&self, store: &str, key: &JsValue) -> Result<Option<JsValue>, StoreError> {
        let found = answer(self.store(store)?.get(key)).await?;
        Ok(Some(found).filter(|found| !found.is_undefined()))
    }

    /// Puts an object under a key, in place of an earlier one.
    pub(super) async fn put_object(&self, store: &str, key: &JsValue, value: &JsValue) -> Result<(), StoreError> {
        answer(self.store(store)?.put_with_key(value, key)).await.map(drop)
    }

    /// Reads keys and values of a store, or of a part of it, in the order of their keys: so many at a time, and the
    /// page has its turn in between.
    pub(super) async fn rows(
        &self,
        store: &str,
        part: Option<&IdbKeyRange>,
        at_a_time: u32,
    ) -> Result<Vec<(JsValue, String)>, StoreError> {
        let store = self.store(store)?;
        let upper = match part {
            Some(part) => part.upper().map_err(|thrown| StoreError::of(&thrown))?,
            None => JsValue::UNDEFINED,
        };
        let upper_open = part.is_some_and(IdbKeyRange::upper_open);
        let (mut rows, mut left) = (Vec::new(), part.map_or(JsValue::UNDEFINED, JsValue::from));
        loop {
            // Both requests are made before either is awaited: they see the same rows.
            let keys = Pending::of(store.get_all_keys_with_key_and_limit(&left, at_a_time))?;
            let values = Pending::of(store.get_all_with_key_and_limit(&left, at_a_time))?;
            let (keys, values) = (keys.answer().await?, values.answer().await?);
            let (keys, values) = (Array::from(&keys), Array::from(&values));
            rows.extend(keys.iter().zip(values.iter()).filter_map(|(key, value)| Some((key, value.as_string()?))));
            if keys.length() < at_a_time {
                return Ok(rows);
            }
            let last = keys.get(keys.length().saturating_sub(1));
            let after = match upper.is_undefined() {
                true => IdbKeyRange::lower_bound_with_open(&last, true),
                false => IdbKeyRange::bound_with_lower_open_and_upper_open(&last, &upper, true, upper_open),
            };
            left = match after {
                Ok(after) => after.into(),
                // The last row stands at the end of a part that ends with it.
                Err(_) => return Ok(rows),
            };
        }
    }

    /// Reads the keys of a store in order.
    pub(super) async fn keys(&self, store: &str) -> Result<Vec<String>, StoreError> {
        let keys = answer(self.store(store)?.get_all_keys()).await?;
        Ok(Array::from(&keys).iter().filter_map(|key| key.as_string()).collect())
    }

    /// Counts the rows of a store, or of a part of it.
    pub(super) async fn count(&self, store: &str, part: Option<&IdbKeyRange>) -> Result<u32, StoreError> {
        let store = self.store(store)?;
        let counted = match part {
            Some(part) => store.count_with_key(part),
            None => store.count(),
        };
        // A count is a whole number far below the limit of `u32`.
        Ok(answer(counted).await?.as_f64().unwrap_or(0.0) as u32)
    }

    /// Puts a new value at the end of a store that numbers its rows itself; returns the row's number.
    pub(super) async fn push(&self, store: &str, value: &str) -> Result<Option<f64>, StoreError> {
        Ok(answer(self.store(store)?.add(&JsValue::from_str(value))).await?.as_f64())
    }

    /// Adds a value under a key that must be new.
    ///
    /// # Errors
    /// Returns [`StoreError::HeadMoved`] when the key is taken; the transaction is lost with it.
    pub(super) async fn add(&self, store: &str, key: &str, value: &str) -> Result<(), StoreError> {
        answer(self.store(store)?.add_with_key(&JsValue::from_str(value), &JsValue::from_str(key))).await.map(drop)
    }

    /// Puts a value under a key, in place of an earlier one.
    pub(super) async fn put(&self, store: &str, key: &JsValue, value: &str) -> Result<(), StoreError> {
        answer(self.store(store)?.put_with_key(&JsValue::from_str(value), key)).await.map(drop)
    }

    /// Removes the rows under a key or in a range of keys.
    pub(super) async fn remove(&self, store: &str, keys: &JsValue) -> Result<(), StoreError> {
        answer(self.store(store)?.delete(keys)).await.map(drop)
    }

    /// Removes all rows of a store.
    pub(super) async fn clear(&self, store: &str) -> Result<(), StoreError> {
        answer(self.store(store)?.clear()).await.map(drop)
    }

    fn store(&self, name: &str) -> Result<IdbObjectStore, StoreError> {
        self.raw.object_store(name).map_err(|thrown| StoreError::of(&thrown))
    }
}

/// A request that was made and is listened to.
struct Pending {
    request: IdbRequest,
    settled: JsFuture,
}

impl Pending {
    fn of(request: Result<IdbRequest, JsValue>) -> Result<Self, StoreError> {
        let request = request.map_err(|thrown| StoreError::of(&thrown))?;
        let settled = Promise::new(&mut |resolve, reject| {
            request.set_onsuccess(Some(&resolve));
            request.set_onerror(Some(&reject));
        });
        Ok(Self { settled: JsFuture::from(settled), request })
    }

    async fn answer(self) -> Result<JsValue, StoreError> {
        match self.settled.await {
            Ok(_) => self.request.result().map_err(|thrown| StoreError::of(&thrown)),
            Err(_) => Err(match self.request.error() {
                Ok(Some(error)) => StoreError::of(&error),
                _ => StoreError::Lost,
            }),
        }
    }
}

/// Waits for the answer to a request.
async fn answer(request: Result<IdbRequest, JsValue>) -> Result<JsValue, StoreError> {
    Pending::of(request)?.answer().await
}

fn reason_of(transaction: &IdbTransaction) -> StoreError {
    transaction.error().map_or(StoreError::Lost, |error| StoreError::of(&error))
}
