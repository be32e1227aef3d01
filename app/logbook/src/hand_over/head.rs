//! The head of a file: what it says of itself, in one line of JSON. Frozen, form 1.
//!
//! Nothing that it claims is believed where it can be counted: see [`super::reading`].

use practicum::ids::{DeviceId, PersonId};
use practicum::moment::{Moment, parse_moment};
use serde_json::{Map, Value};

use super::HandOverError;
use super::holds::Holds;
use crate::json;

/// What a file says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Head {
    /// Hash of the entry that founded the academy; empty before it is founded.
    pub(super) academy: String,
    /// It holds the demo's invented records.
    pub(super) demo: bool,
    /// Device that wrote it.
    pub(super) device: DeviceId,
    /// When it was written, by that device's clock.
    pub(super) written_at: Moment,
    /// It leaves out what its receiver had, or what is older.
    pub(super) part: bool,
    /// The trainee for whose device it was written; without, all bodies are in it that the device held.
    pub(super) trainee: Option<PersonId>,
    /// How many entries follow.
    pub(super) count: u64,
    /// Hash of the set of their headers.
    pub(super) root: String,
    /// How many lines that cannot be read follow the entries.
    pub(super) unreadable: u64,
    /// What the writing device holds.
    pub(super) holds: Option<Holds>,
}

impl Head {
    pub(super) fn line(&self) -> Result<String, HandOverError> {
        let mut parts = Map::new();
        for (key, value) in [
            ("academy", Value::from(self.academy.as_str())),
            ("demo", Value::from(self.demo)),
            ("device", Value::from(self.device.as_str())),
            ("written_at", Value::from(self.written_at.to_rfc3339())),
            ("part", Value::from(self.part)),
            ("trainee", self.trainee.as_ref().map_or(Value::Null, |trainee| Value::from(trainee.as_str()))),
            ("count", Value::from(self.count)),
            ("root", Value::from(self.root.as_str())),
            ("unreadable", Value::from(self.unreadable)),
            ("holds", self.holds.as_ref().map_or(Value::Null, |holds| Value::from(holds.text()))),
        ] {
            parts.insert(key.to_owned(), value);
        }
        json::canonical(&Value::Object(parts)).map_err(HandOverError::Broken)
    }

    pub(super) fn read(line: &str) -> Result<Self, HandOverError> {
        let broken = |what: &str| HandOverError::broken(format!("its head {what}"));
        let value = json::read(line).map_err(|error| broken(&format!("cannot be read ({error})")))?;
        let Value::Object(parts) = value else { return Err(broken("is no JSON object")) };
        let lacks = |key: &str| broken(&format!("does not say “{key}”"));
        let text = |key: &str| parts.get(key).and_then(Value::as_str).ok_or_else(|| lacks(key));
        let number = |key: &str| parts.get(key).and_then(Value::as_u64).ok_or_else(|| lacks(key));
        let truth = |key: &str| parts.get(key).and_then(Value::as_bool).ok_or_else(|| lacks(key));
        let maybe = |key: &str| match parts.get(key) {
            Some(Value::Null) => Ok(None),
            Some(Value::String(text)) => Ok(Some(text.as_str())),
            _ => Err(lacks(key)),
        };
        let academy = text("academy")?;
        if !academy.is_empty() && !json::is_hex(academy, 64..=64) {
            return Err(lacks("academy"));
        }
        Ok(Self {
            academy: academy.to_owned(),
            demo: truth("demo")?,
            device: text("device")?.into(),
            written_at: parse_moment(text("written_at")?).map_err(|_| lacks("written_at"))?,
            part: truth("part")?,
            trainee: maybe("trainee")?.map(PersonId::new),
            count: number("count")?,
            root: text("root")?.to_owned(),
            unreadable: number("unreadable")?,
            // A summary that does not read costs nothing but a longer file the other way.
            holds: maybe("holds")?.and_then(|text| Holds::read(text).ok()),
        })
    }
}
