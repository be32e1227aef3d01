//! The log: everything an academy records, as entries that are never changed.
//!
//! An entry is a header and a body. Headers are hashed and chained by device, so that a missing or
//! changed one shows; a body stands beside its header and can be withheld. What is on the screen is
//! worked out from all entries, in an order that does not depend on how they arrived. A correction is an
//! entry too, and the old value stays readable.
//!
//! This crate alone knows stored bytes. It never reads a clock, a random source or a store by itself:
//! moments, identifiers and salts are arguments, and the browser's storage stands behind [`store::Store`].
//!
//! Reading order: [`fact`], [`kind`], [`subject`], [`draft`], [`entry`], [`log`], [`signature`], [`sealed`], [`recovery`],
//! [`trust`], [`challenge`], [`records`], [`logbook`], [`store`], [`backup`], [`hand_over`], [`tap_wire`], [`answers`],
//! [`spreadsheet`],
//! [`size`], [`evidence`], [`duplicates`], [`erasure`], [`record_file`], [`verify`], [`checkup`].

mod json;
mod wire;

pub mod answers;
pub mod backup;
pub mod challenge;
pub mod checkup;
pub mod credential;
pub mod draft;
pub mod duplicates;
pub mod entry;
pub mod erasure;
pub mod evidence;
pub mod fact;
pub mod hand_over;
pub mod kind;
pub mod log;
pub mod logbook;
pub mod record_file;
pub mod records;
pub mod recovery;
pub mod review;
pub mod review_code;
mod rights;
pub mod sealed;
pub mod signature;
pub mod size;
pub mod spreadsheet;
pub mod store;
pub mod subject;
pub mod tap_wire;
pub mod trust;
pub mod turns;
pub mod verify;

pub use draft::Draft;
pub use fact::{Academy, Fact};
pub use logbook::{Logbook, Prepared};
pub use records::{Recorded, Records};

#[cfg(test)]
mod tests;
