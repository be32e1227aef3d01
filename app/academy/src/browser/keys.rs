//! Signing keys of the browser: made where they stay, used, and never given out.
//!
//! The private half of a key that the browser makes (Ed25519 of the Web Cryptography API) is not extractable: it is
//! kept in the database as the browser's own object, and neither this app nor anybody who reads the disk's files
//! through it can copy it. Browsers without Ed25519 make none, and say so by [`None`].

use js_sys::{Array, Object, Promise, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{CryptoKey, SubtleCrypto};

use super::property;

const NAME: &str = "Ed25519";

/// A key of the browser: its public bytes, and the private half as an object that only signs.
#[derive(Debug, Clone)]
pub struct BrowserKey {
    public: [u8; 32],
    private: CryptoKey,
    pair: JsValue,
}

impl BrowserKey {
    /// Makes a new key; `None` where the browser makes none.
    pub async fn make() -> Option<Self> {
        let subtle = subtle()?;
        let uses = Array::of2(&"sign".into(), &"verify".into());
        let made = subtle.generate_key_with_object(&algorithm()?, false, &uses).ok()?;
        let pair = JsFuture::from(Promise::resolve(&made)).await.ok()?;
        Self::of(pair).await
    }

    /// Takes a key that [`BrowserKey::pair`] gave out to be kept; `None` for anything else.
    pub async fn of(pair: JsValue) -> Option<Self> {
        let private: CryptoKey = property(&pair, "privateKey")?.dyn_into().ok()?;
        let public: CryptoKey = property(&pair, "publicKey")?.dyn_into().ok()?;
        if private.extractable() {
            return None;
        }
        let bytes = subtle()?.export_key("raw", &public).ok()?;
        let bytes = JsFuture::from(Promise::resolve(&bytes)).await.ok()?;
        Some(Self { public: Uint8Array::new(&bytes).to_vec().try_into().ok()?, private, pair })
    }

    /// Returns the object to be kept in the database.
    pub fn pair(&self) -> &JsValue {
        &self.pair
    }

    /// Returns the public half.
    pub fn public(&self) -> &[u8; 32] {
        &self.public
    }

    /// Signs bytes; `None` when the browser refuses.
    pub async fn sign(&self, bytes: &[u8]) -> Option<[u8; 64]> {
        let data = Uint8Array::from(bytes);
        let signed = subtle()?.sign_with_object_and_buffer_source(&algorithm()?, &self.private, &data).ok()?;
        let signed = JsFuture::from(Promise::resolve(&signed)).await.ok()?;
        Uint8Array::new(&signed).to_vec().try_into().ok()
    }
}

fn subtle() -> Option<SubtleCrypto> {
    Some(property(&property(&js_sys::global(), "crypto")?, "subtle")?.unchecked_into())
}

fn algorithm() -> Option<Object> {
    let algorithm = Object::new();
    Reflect::set(&algorithm, &"name".into(), &NAME.into()).ok()?;
    Some(algorithm)
}
