//! The records on this device: one IndexedDB database with packs of entry lines, small facts and the
//! service under way.
//!
//! A write is done when its transaction is complete, with strict durability, and not before. A lost
//! connection is opened again and the write replayed once; nothing here is ever half written.

mod connection;
mod couch;
mod error;
mod keys;
mod meta;
mod packs;
mod quota;
mod transaction;

pub use connection::{Database, delete, on_outdated};
pub use couch::Taps;
pub use error::StoreError;
pub use packs::{Also, Loaded};
pub use quota::{Estimate, estimate, persist, persisted};

/// Names the database of the real records.
pub const RECORDS: &str = "upsweep";
/// Names the database of the demo, never mixed with the real records.
pub const DEMO: &str = "upsweep-demo";

const PACKS: &str = "packs";
const META: &str = "meta";
const COUCH: &str = "couch";
const KEYS: &str = "keys";
const STORES: [&str; 4] = [PACKS, META, COUCH, KEYS];

/// Key in `meta` of the hash that the chain of entries ends with.
const HEAD: &str = "head";
/// Key in `meta` of how often the log was changed.
const CHANGES: &str = "changes";
/// Key in `meta` of the last pack that compaction leaves alone.
const SEALED: &str = "sealed";
