//! Pens: keys that can sign at this moment, whoever keeps them.

use ed25519_dalek::{Signer, SigningKey};
use logbook::sealed;
use logbook::signature::{PublicKey, Signature};
use zeroize::Zeroizing;

use crate::browser;
use crate::browser::keys::BrowserKey;

/// A key that can sign now.
#[derive(Clone)]
pub(crate) enum Pen {
    /// The browser keeps it and gives nobody the private half.
    Browser(PublicKey, BrowserKey),
    /// A passphrase opened it; the private half is in memory until it is put away.
    Opened(PublicKey, Box<SigningKey>),
}

impl Pen {
    /// Takes a key of the browser.
    pub(crate) fn of_browser(key: BrowserKey) -> Result<Self, String> {
        Ok(Pen::Browser(PublicKey::of_bytes(key.public())?, key))
    }

    /// Makes a key that is extractable this once: the pen, and its private half sealed with a passphrase.
    pub(crate) fn make_sealed(passphrase: &str) -> Result<(Self, Vec<u8>), String> {
        if !browser::random::has_strong_source() {
            return Err("This browser has no source of random numbers that is fit for keys.".to_owned());
        }
        let mut seed = Zeroizing::new([0; 32]);
        for half in seed.chunks_mut(16) {
            half.copy_from_slice(&browser::random::bytes());
        }
        let sealed = sealed::seal(seed.as_ref(), passphrase, &fresh()).map_err(|error| sentence(&error.to_string()))?;
        Ok((Self::of_seed(&seed)?, sealed))
    }

    /// Opens a sealed private half.
    pub(crate) fn open(bytes: &[u8], passphrase: &str) -> Result<Self, String> {
        let seed = sealed::open(bytes, passphrase).map_err(|error| sentence(&error.to_string()))?;
        let seed: &[u8; 32] = seed.as_slice().try_into().map_err(|_| "What is sealed here is no key.".to_owned())?;
        Self::of_seed(seed)
    }

    fn of_seed(seed: &[u8; 32]) -> Result<Self, String> {
        let secret = SigningKey::from_bytes(seed);
        Ok(Pen::Opened(PublicKey::of_bytes(secret.verifying_key().as_bytes())?, Box::new(secret)))
    }

    /// Returns the public half.
    pub(crate) fn key(&self) -> PublicKey {
        match self {
            Pen::Browser(key, _) | Pen::Opened(key, _) => *key,
        }
    }

    /// Signs bytes.
    pub(crate) async fn sign(&self, bytes: &[u8]) -> Result<Signature, String> {
        let signed = match self {
            Pen::Browser(_, key) => key.sign(bytes).await.ok_or("The browser refused to sign. Nothing was saved.")?,
            Pen::Opened(_, secret) => secret.sign(bytes).to_bytes(),
        };
        Signature::of_bytes(&signed)
    }
}

/// Draws what one seal needs.
pub(crate) fn fresh() -> sealed::Fresh {
    let mut fresh = [0; 40];
    for part in fresh.chunks_mut(16) {
        let drawn = browser::random::bytes();
        part.copy_from_slice(drawn.get(..part.len()).unwrap_or(&drawn));
    }
    fresh
}

/// Makes a sentence of what a seal says.
pub(crate) fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}
