//! A key of the browser that signs open credentials (RS256): made where it stays, and never given out.

use js_sys::{Array, JSON, Object, Promise, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{CryptoKey, SubtleCrypto};

use super::property;

/// Length of the modulus in bits.
const BITS: u32 = 2048;

/// The key: its public half as a JSON Web Key, and the private half as an object that only signs.
#[derive(Debug, Clone)]
pub struct RsaKey {
    jwk: String,
    private: CryptoKey,
    pair: JsValue,
}

impl RsaKey {
    /// Makes a new key; `None` where the browser makes none.
    pub async fn make() -> Option<Self> {
        let algorithm = named()?;
        let set = |name: &str, value: &JsValue| Reflect::set(&algorithm, &name.into(), value).ok();
        set("modulusLength", &BITS.into())?;
        set("publicExponent", &Uint8Array::from([1_u8, 0, 1].as_slice()).into())?;
        set("hash", &"SHA-256".into())?;
        let uses = Array::of2(&"sign".into(), &"verify".into());
        let made = subtle()?.generate_key_with_object(&algorithm, false, &uses).ok()?;
        Self::of(JsFuture::from(Promise::resolve(&made)).await.ok()?).await
    }

    /// Takes a key that [`RsaKey::pair`] gave out to be kept; `None` for anything else.
    pub async fn of(pair: JsValue) -> Option<Self> {
        let private: CryptoKey = property(&pair, "privateKey")?.dyn_into().ok()?;
        let public: CryptoKey = property(&pair, "publicKey")?.dyn_into().ok()?;
        if private.extractable() {
            return None;
        }
        let jwk = subtle()?.export_key("jwk", &public).ok()?;
        let jwk = JsFuture::from(Promise::resolve(&jwk)).await.ok()?;
        let jwk = JSON::stringify(&jwk).ok()?.as_string()?;
        Some(Self { jwk, private, pair })
    }

    /// Returns the object to be kept in the database.
    pub fn pair(&self) -> &JsValue {
        &self.pair
    }

    /// Returns the public half.
    pub fn jwk(&self) -> &str {
        &self.jwk
    }

    /// Signs bytes; `None` when the browser refuses.
    pub async fn sign(&self, bytes: &[u8]) -> Option<Vec<u8>> {
        let data = Uint8Array::from(bytes);
        let signed = subtle()?.sign_with_object_and_buffer_source(&named()?, &self.private, &data).ok()?;
        let signed = JsFuture::from(Promise::resolve(&signed)).await.ok()?;
        Some(Uint8Array::new(&signed).to_vec())
    }
}

fn subtle() -> Option<SubtleCrypto> {
    Some(property(&property(&js_sys::global(), "crypto")?, "subtle")?.unchecked_into())
}

fn named() -> Option<Object> {
    let algorithm = Object::new();
    Reflect::set(&algorithm, &"name".into(), &"RSASSA-PKCS1-v1_5".into()).ok()?;
    Some(algorithm)
}
