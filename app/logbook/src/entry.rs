//! Entries: a header that is hashed and chained, and a body beside it that can be withheld.
//!
//! One entry is one line of JSON: `{"body":{"content":…,"salt":…}|null,"header":{…},"signature":…|null}`.
//! The hash of a header is the SHA-256 of its canonical form (RFC 8785). The header names the hash of its
//! body and the hash of the header before it on the same device. Every field of a header counts in its
//! hash, those of a later version included, and lines are passed on as they came.
//!
//! A header of the second form names its academy and the key that signs it, and carries that key's signature
//! ([`crate::signature`]); one of the first form has none of the three.

use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

use practicum::ids::{DeviceId, EntryId, PersonId};
use practicum::moment::{Moment, parse_moment};
use serde_json::{Map, Value};

use crate::draft::Draft;
use crate::fact::Fact;
use crate::json;
use crate::kind::Kind;
use crate::signature::{self, PublicKey, Signature};
use crate::subject::Subject;
use crate::wire;

/// Longest line taken, in bytes.
pub const LONGEST_LINE: usize = 32 * 1024 * 1024;
/// Longest identifier taken, in bytes.
const LONGEST_NAME: usize = 256;

/// What is fixed and public about an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// Identifier.
    pub id: EntryId,
    /// Device that wrote it.
    pub device: DeviceId,
    /// Person who was using the device.
    pub author: PersonId,
    /// What it is about.
    pub subject: Subject,
    /// What it records.
    pub kind: Kind,
    /// Version of the body's form, from 1.
    pub version: u32,
    /// Number of the entry on its device, from 1.
    pub sequence: u64,
    /// Hash of this device's header before; empty for the first.
    pub previous: String,
    /// When it was written, by the device's clock.
    pub at: Moment,
    /// Hash of the body.
    pub body_hash: String,
    /// What signs it; `None` in the first form, which nobody signed.
    pub signing: Option<Signing>,
}

/// For which academy an entry is signed, and by which key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signing {
    /// The entry that founded the academy.
    pub academy: EntryId,
    /// The key.
    pub key: PublicKey,
}

/// What this version can say about a body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Content {
    /// The body is here and says this.
    Fact(Arc<Fact>),
    /// The body is here, of a kind or version that this app does not know. It is kept.
    NotKnown,
    /// The body is here and its hash is right, but it does not read; why.
    Unreadable(String),
    /// The body is not here: withheld or erased.
    Withheld,
}

/// An entry as read: well formed, not yet checked against its hashes.
#[derive(Debug, Clone, PartialEq)]
pub struct Unverified {
    header: Header,
    hash: String,
    line: String,
    body_hash: Option<String>,
    signature: Option<String>,
}

/// An entry whose body, where it is here, is the one that its header names, and whose signature, where its header
/// names a key, is that key's. Whether the key may speak for the academy is for the log to say.
///
/// Those that this device's own store holds were checked before they were put there: opened again, their signatures
/// are checked beside the page, and [`crate::logbook::Logbook::checked`] takes out what does not hold.
///
/// What the body says is worked out when it is first asked for: a log is read, checked and merged without it.
#[derive(Debug, Clone)]
pub struct Entry {
    header: Header,
    hash: String,
    line: String,
    has_body: bool,
    content: OnceLock<Content>,
    signature: Option<String>,
}

/// Two entries are one when their lines are: all else follows from it.
impl PartialEq for Entry {
    fn eq(&self, other: &Self) -> bool {
        self.line == other.line
    }
}

impl Eq for Entry {}

/// A signature that is still to be checked: everything that it takes, and nothing else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SignatureCheck {
    /// The key.
    pub key: [u8; 32],
    /// What it signed.
    pub bytes: [u8; 64],
    /// The signature.
    pub signature: [u8; 64],
}

impl SignatureCheck {
    /// Whether the signature is the key's.
    pub fn holds(&self) -> bool {
        let key = PublicKey::of_bytes(&self.key);
        let signature = Signature::of_bytes(&self.signature);
        key.ok().zip(signature.ok()).is_some_and(|(key, signature)| key.signed(&self.bytes, &signature))
    }
}

/// What came of checking an entry.
#[derive(Debug, Clone, PartialEq)]
pub enum Checked {
    /// The body is the one that the header names, or is not here.
    Sound(Entry),
    /// The body is not the one that the header names. It is kept and never believed.
    BodyChanged(Unverified),
    /// The signature is missing, or not of the key that the header names. It is kept and never believed.
    SignatureBad(Unverified),
}

/// What an entry's line needs beside its draft.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Identifier of the new entry.
    pub id: EntryId,
    /// Device that writes it.
    pub device: DeviceId,
    /// Number on the device, from 1.
    pub sequence: u64,
    /// Hash of the device's header before; empty for the first.
    pub previous: String,
    /// When it is written.
    pub at: Moment,
    /// Random lower-case hex digits, at least 32, that keep a short body from being guessed by its hash.
    pub salt: String,
}

/// An entry that its key has still to sign.
#[derive(Debug, Clone, PartialEq)]
pub struct Unsigned {
    entry: Unverified,
    key: PublicKey,
}

impl Unsigned {
    /// Returns the key that has to sign.
    pub fn key(&self) -> &PublicKey {
        &self.key
    }

    /// Returns the hash of the header, which the next entry of the device names.
    pub fn hash(&self) -> &str {
        &self.entry.hash
    }

    /// Returns the bytes to sign.
    ///
    /// # Errors
    /// Returns why there are none.
    pub fn bytes(&self) -> Result<Vec<u8>, String> {
        self.entry.signed_bytes(&self.key)
    }

    /// Puts the signature in its place.
    ///
    /// # Errors
    /// Returns a sentence when it is not the key's signature of this entry.
    pub fn sign(mut self, signature: &Signature) -> Result<Entry, String> {
        let text = signature.text();
        let end = r#","signature":null}"#;
        match self.entry.line.strip_suffix(end) {
            Some(start) => self.entry.line = format!(r#"{start},"signature":"{text}"}}"#),
            None => return Err("the entry is signed already".to_owned()),
        }
        self.entry.signature = Some(text);
        sound(self.entry)
    }
}

/// Returns an entry that can be believed.
fn sound(entry: Unverified) -> Result<Entry, String> {
    if entry.line.len() > LONGEST_LINE {
        return Err("this is too large for one entry".to_owned());
    }
    match entry.check() {
        Checked::Sound(entry) => match entry.content() {
            Content::Unreadable(why) => Err(why.clone()),
            _ => Ok(entry),
        },
        Checked::BodyChanged(_) => Err("the body does not have the hash it was given".to_owned()),
        Checked::SignatureBad(_) => Err("the signature is not the key’s".to_owned()),
    }
}

impl Unverified {
    /// Reads an entry from its line.
    ///
    /// # Errors
    /// Returns what is wrong with the line, in words.
    pub fn read(line: &str) -> Result<Self, String> {
        if line.len() > LONGEST_LINE {
            return Err(format!("the line has {} MB, more than an entry may have", line.len() / 1024 / 1024));
        }
        if let Some(read) = Self::canonical(line) {
            return read;
        }
        Self::from_value(json::read(line).map_err(|error| error.to_string())?)
    }

    /// Reads a line that is in canonical form; `None` for any other, whatever is the matter with it.
    pub(crate) fn canonical(line: &str) -> Option<Result<Self, String>> {
        let parts = json::scan::members(line)?;
        let [("body", body), ("header", header), ("signature", signature)] = parts.as_slice() else { return None };
        let fields = json::scan::members(header)?;
        let has_body = *body != "null";
        if has_body {
            match json::scan::members(body)?.as_slice() {
                [("content", _), ("salt", salt)] => {
                    json::scan::plain(salt).filter(|salt| json::is_hex(salt, 32..=128))?;
                }
                _ => return None,
            }
        }
        let signature = match *signature {
            "null" => None,
            text => Some(json::scan::plain(text)?.to_owned()),
        };
        Some(header_of(&fields).map(|header_read| Self {
            hash: json::sha256(header.as_bytes()),
            line: line.to_owned(),
            body_hash: has_body.then(|| json::sha256(body.as_bytes())),
            header: header_read,
            signature,
        }))
    }

    pub(crate) fn from_value(value: Value) -> Result<Self, String> {
        let mut parts = object(value, "an entry")?;
        let (header, body, signature) =
            (part(&mut parts, "header")?, part(&mut parts, "body")?, part(&mut parts, "signature")?);
        if let Some(other) = parts.keys().next() {
            return Err(format!("an entry has no part named “{}”", shown(other)));
        }
        if !matches!(&signature, Value::Null | Value::String(_)) {
            return Err("the signature is neither a text nor empty".to_owned());
        }
        let canonical_header = json::canonical_value(&header);
        let hash = json::sha256(canonical_header.as_bytes());
        let header = header_of(&object(header, "a header")?)?;
        let (body_hash, canonical_body) = match body {
            Value::Null => (None, "null".to_owned()),
            body => {
                let canonical = json::canonical_value(&body);
                let mut parts = object(body, "a body")?;
                let (_, salt) = (part(&mut parts, "content")?, part(&mut parts, "salt")?);
                if !parts.is_empty() || !salt.as_str().is_some_and(|salt| json::is_hex(salt, 32..=128)) {
                    return Err("a body has a content and a salt of 32 to 128 hex digits, nothing else".to_owned());
                }
                (Some(json::sha256(canonical.as_bytes())), canonical)
            }
        };
        let written = json::canonical_value(&signature);
        let line = format!(r#"{{"body":{canonical_body},"header":{canonical_header},"signature":{written}}}"#);
        let signature = signature.as_str().map(str::to_owned);
        Ok(Self { header, hash, line, body_hash, signature })
    }

    /// Whether a body is here.
    pub(crate) fn has_body(&self) -> bool {
        self.body_hash.is_some()
    }

    /// Returns the entry as it is with its body withheld: the line says `null` in its place.
    pub(crate) fn without_body(self) -> Self {
        let line = without_body(&self.line).unwrap_or(self.line);
        Self { line, body_hash: None, ..self }
    }

    /// Whether the body is here and is not the one that the header names.
    pub(crate) fn body_changed(&self) -> bool {
        self.body_hash.as_ref().is_some_and(|hash| *hash != self.header.body_hash)
    }

    /// Checks the body against the header, and the signature against the key that the header names.
    pub fn check(self) -> Checked {
        if self.body_changed() {
            return Checked::BodyChanged(self);
        }
        if !self.signature_holds() {
            return Checked::SignatureBad(self);
        }
        Checked::Sound(self.believed())
    }

    /// Checks as [`Unverified::check`] does, but for whether the signature is the key's, which is said by the second
    /// value and left to be found out: for lines of this device's own store, which were checked before they came in.
    pub(crate) fn check_later(self) -> (Checked, Option<SignatureCheck>) {
        match self.to_check() {
            // Without a key and without a signature there is nothing to find out.
            None => (self.check(), None),
            Some(_) if self.body_changed() => (Checked::BodyChanged(self), None),
            Some(check) => (Checked::Sound(self.believed()), Some(check)),
        }
    }

    fn to_check(&self) -> Option<SignatureCheck> {
        let (Signing { key, .. }, text) = (self.header.signing.as_ref()?, self.signature.as_deref()?);
        let signature = Signature::read(text).ok().filter(|signature| signature.text() == text)?;
        let bytes = self.signed_bytes(key).ok()?.try_into().ok()?;
        Some(SignatureCheck { key: *key.bytes(), bytes, signature: *signature.bytes() })
    }

    /// Takes an entry whose hashes are right as sound.
    fn believed(self) -> Entry {
        let has_body = self.has_body();
        let Unverified { header, hash, line, signature, .. } = self;
        Entry { header, hash, line, has_body, content: OnceLock::new(), signature }
    }

    /// Whether there is no key and no signature, or both and they belong together.
    fn signature_holds(&self) -> bool {
        match (&self.header.signing, &self.signature) {
            (None, None) => true,
            (Some(Signing { key, .. }), Some(text)) => {
                let read = Signature::read(text).ok().zip(self.signed_bytes(key).ok());
                // Only one way of writing a signature passes: base58 has no other for 64 bytes but leading text.
                read.is_some_and(|(signature, bytes)| signature.text() == *text && key.signed(&bytes, &signature))
            }
            _ => false,
        }
    }

    fn signed_bytes(&self, key: &PublicKey) -> Result<Vec<u8>, String> {
        signature::signed_bytes(key, &self.hash)
    }

    /// Returns what the header says, not yet believed.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Returns the hash of the header as it came.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    /// Returns the line to pass on.
    pub fn line(&self) -> &str {
        &self.line
    }
}

impl Entry {
    /// Makes an entry of the first form from a draft, ready to be stored.
    ///
    /// # Errors
    /// Returns why it cannot be written, in words.
    pub fn write(draft: &Draft, place: Place) -> Result<Self, String> {
        sound(written(draft, place, None)?)
    }

    /// Makes an entry from a draft, for a key to sign.
    ///
    /// # Errors
    /// Returns why it cannot be written, in words.
    pub fn draw_up(draft: &Draft, place: Place, signing: Signing) -> Result<Unsigned, String> {
        let key = signing.key;
        let entry = written(draft, place, Some(signing))?;
        Ok(Unsigned { entry, key })
    }

    /// Returns the header.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Returns the hash of the header: 64 hex digits.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    /// Returns the line to store and pass on.
    pub fn line(&self) -> &str {
        &self.line
    }

    /// Returns the entry as it was before it was checked.
    pub(crate) fn unverified(&self) -> Result<Unverified, String> {
        Unverified::read(&self.line)
    }

    /// Returns the key that signed it; `None` for the first form.
    pub fn signer(&self) -> Option<&PublicKey> {
        self.header.signing.as_ref().map(|signing| &signing.key)
    }

    /// Returns the signature as it stands in the line; `None` for the first form.
    pub fn signature(&self) -> Option<&str> {
        self.signature.as_deref()
    }

    /// Returns the entry as it is with its body withheld: header, chain and signature hold as before.
    pub fn without_body(&self) -> Self {
        match without_body(&self.line) {
            Ok(line) => Self { line, has_body: false, content: OnceLock::new(), ..self.clone() },
            Err(_) => self.clone(),
        }
    }

    /// Whether the body is here.
    pub fn has_body(&self) -> bool {
        self.has_body
    }

    fn decoded(&self) -> Content {
        if !self.has_body {
            return Content::Withheld;
        }
        let decoded = content_in(&self.line)
            .and_then(|content| wire::decode(&self.header.kind, self.header.version, content, &self.header.id));
        match decoded {
            Ok(Some(fact)) => Content::Fact(Arc::new(fact)),
            Ok(None) => Content::NotKnown,
            Err(why) => Content::Unreadable(why),
        }
    }

    /// Returns what the body says.
    pub fn content(&self) -> &Content {
        self.content.get_or_init(|| self.decoded())
    }

    /// Returns the fact, where the body is here and known.
    pub fn fact(&self) -> Option<&Arc<Fact>> {
        match self.content() {
            Content::Fact(fact) => Some(fact),
            _ => None,
        }
    }
}

/// Returns an entry's line without its body: header and signature as they are.
///
/// # Errors
/// Returns why the line is none, which no line of a log gives cause for.
pub(crate) fn without_body(line: &str) -> Result<String, String> {
    let mut parts = object(json::read(line).map_err(|error| error.to_string())?, "an entry")?;
    parts.insert("body".to_owned(), Value::Null);
    json::canonical(&Value::Object(parts))
}

/// Returns the content of the body in a line that was read before.
fn content_in(line: &str) -> Result<Value, String> {
    if let Some(parts) = json::scan::members(line)
        && let Some(("body", body)) = parts.first()
        && let Some(body) = json::scan::members(body)
        && let Some(("content", content)) = body.first()
    {
        return serde_json::from_str(content).map_err(|error| error.to_string());
    }
    let mut parts = object(json::read(line).map_err(|error| error.to_string())?, "an entry")?;
    part(&mut object(part(&mut parts, "body")?, "a body")?, "content")
}

/// Returns the canonical form (RFC 8785) of a JSON text, as headers and bodies are hashed.
///
/// # Errors
/// Returns why the text is refused: not JSON, a key that stands twice in an object, or a whole number beyond
/// 2^53 - 1.
pub fn canonical_json(text: &str) -> Result<String, String> {
    Ok(json::canonical_value(&json::read(text).map_err(|error| error.to_string())?))
}

/// Writes a draft as an entry without a signature. What is stored is read back before it counts as written.
fn written(draft: &Draft, place: Place, signing: Option<Signing>) -> Result<Unverified, String> {
    let mut body = Map::new();
    body.insert("content".to_owned(), wire::encode(&draft.fact)?);
    body.insert("salt".to_owned(), Value::from(place.salt));
    let body = Value::Object(body);
    let body_hash = json::sha256(json::canonical_value(&body).as_bytes());
    let mut header = Map::new();
    for (key, value) in [
        ("id", place.id.as_str()),
        ("device", place.device.as_str()),
        ("author", draft.author.as_str()),
        ("subject", &draft.fact.subject().to_string()),
        ("kind", draft.fact.kind().word()),
        ("previous", &place.previous),
        ("at", &place.at.to_rfc3339()),
        ("body_hash", &body_hash),
    ] {
        header.insert(key.to_owned(), Value::from(value));
    }
    header.insert("version".to_owned(), Value::from(wire::version(&draft.fact)));
    header.insert("sequence".to_owned(), Value::from(place.sequence));
    if let Some(Signing { academy, key }) = signing {
        header.insert("academy".to_owned(), Value::from(academy.as_str()));
        header.insert("key".to_owned(), Value::from(key.text()));
    }
    let mut entry = Map::new();
    entry.insert("header".to_owned(), Value::Object(header));
    entry.insert("body".to_owned(), body);
    entry.insert("signature".to_owned(), Value::Null);
    Unverified::from_value(Value::Object(entry))
}

/// The fields of a header, read whole or as they stand in a canonical line.
trait Fields {
    /// Whether there is such a field.
    fn has(&self, key: &str) -> bool;
    /// Returns the text of a field; `None` where it is something else or missing.
    fn text(&self, key: &str) -> Option<Cow<'_, str>>;
    /// Returns the whole number of a field; `None` where it is something else or missing.
    fn number(&self, key: &str) -> Option<u64>;
}

impl Fields for Map<String, Value> {
    fn has(&self, key: &str) -> bool {
        self.contains_key(key)
    }

    fn text(&self, key: &str) -> Option<Cow<'_, str>> {
        self.get(key).and_then(Value::as_str).map(Cow::Borrowed)
    }

    fn number(&self, key: &str) -> Option<u64> {
        self.get(key).and_then(Value::as_u64)
    }
}

impl Fields for Vec<json::scan::Member<'_>> {
    fn has(&self, key: &str) -> bool {
        self.iter().any(|(name, _)| *name == key)
    }

    fn text(&self, key: &str) -> Option<Cow<'_, str>> {
        let (_, value) = self.iter().find(|(name, _)| *name == key)?;
        match json::scan::plain(value) {
            Some(text) => Some(Cow::Borrowed(text)),
            None => serde_json::from_str(value).ok().map(Cow::Owned),
        }
    }

    fn number(&self, key: &str) -> Option<u64> {
        self.iter().find(|(name, _)| *name == key)?.1.parse().ok()
    }
}

fn header_of(fields: &impl Fields) -> Result<Header, String> {
    let text = |key: &str| match fields.text(key) {
        Some(text) if text.len() <= LONGEST_NAME => Ok(text),
        Some(_) => Err(format!("“{key}” in the header is too long")),
        None if fields.has(key) => Err(format!("“{key}” in the header is no text")),
        None => Err(format!("the header has no “{key}”")),
    };
    let named = |key: &str| match text(key)? {
        name if name.is_empty() => Err(format!("“{key}” in the header is empty")),
        name => Ok(name),
    };
    let number = |key: &str| {
        let number = fields.number(key).filter(|number| *number >= 1);
        number.ok_or_else(|| format!("“{key}” in the header is no whole number from 1 on"))
    };
    let hash = |key: &str, may_be_empty: bool| match text(key)? {
        hash if hash.is_empty() && may_be_empty => Ok(String::new()),
        hash if json::is_hex(&hash, 64..=64) => Ok(hash.into_owned()),
        _ => Err(format!("“{key}” in the header is no hash")),
    };
    let signing = match (fields.has("academy"), fields.has("key")) {
        (false, false) => None,
        _ => Some(Signing {
            academy: EntryId::new(named("academy")?.into_owned()),
            key: PublicKey::read(&named("key")?)?,
        }),
    };
    Ok(Header {
        signing,
        id: EntryId::new(named("id")?.into_owned()),
        device: DeviceId::new(named("device")?.into_owned()),
        author: PersonId::new(named("author")?.into_owned()),
        subject: Subject::of(&named("subject")?),
        kind: Kind::of(&named("kind")?),
        version: u32::try_from(number("version")?).map_err(|_| "“version” in the header is too large".to_owned())?,
        sequence: number("sequence")?,
        previous: hash("previous", true)?,
        at: parse_moment(&text("at")?)?,
        body_hash: hash("body_hash", false)?,
    })
}

fn object(value: Value, what: &str) -> Result<Map<String, Value>, String> {
    match value {
        Value::Object(parts) => Ok(parts),
        _ => Err(format!("{what} is no JSON object")),
    }
}

fn part(parts: &mut Map<String, Value>, key: &str) -> Result<Value, String> {
    parts.remove(key).ok_or_else(|| format!("the part “{key}” is missing"))
}

fn shown(text: &str) -> String {
    text.chars().take(40).collect()
}
