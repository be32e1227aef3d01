//! Hand-over: entries carried from one device to another as a file, or as codes on a screen.
//!
//! A file begins with a plain line that says what it is and in which form; what follows is compressed (RFC 1950),
//! and sealed by a passphrase where one was given. Inside stand a head of one line, then one entry in each line,
//! just as a store keeps them ([`crate::entry`]).
//!
//! A file is read in pieces ([`Reading`]), checked whole, looked at ([`Preview`]) and taken in all or not at all
//! ([`TakeIn`]). How much comes out of it is counted while it is unpacked: no size that a file claims is believed.
//! Taking in is set union, so that order, repetition and parts do not matter. PINs and private keys are never part
//! of a file, because they are no part of the log.
//!
//! Reading order: [`who_gets_what`], [`holds`], [`giving`], [`reading`], [`taking`], [`preview`], [`codes`].

pub mod codes;
mod error;
pub mod giving;
mod head;
pub mod holds;
pub mod preview;
pub mod reading;
pub mod taking;
pub mod who_gets_what;

pub use error::HandOverError;
pub use giving::{Choice, Giving};
pub use holds::Holds;
pub use preview::Preview;
pub use reading::{HandOver, Look, Reading, look, read};
pub use taking::TakeIn;
pub use who_gets_what::Bodies;

/// What the first line of a file says, before the number of its form.
const NAME: &str = "upsweep-hand-over";
/// The form written now.
const FORM: u64 = 1;
/// First line of a file that anybody can read.
const PLAIN: &str = "upsweep-hand-over 1\n";
/// First line of a file that a passphrase seals.
const SEALED: &str = "upsweep-hand-over 1 sealed\n";
/// Longest first line, in bytes.
const LONGEST_FIRST_LINE: usize = 64;

/// Largest file taken, in bytes.
pub const LARGEST_FILE: usize = 64_000_000;
/// Most bytes that may come out of a file. Taken in, a byte of an entry needs about three of memory.
pub const LARGEST_INSIDE: usize = 128_000_000;
/// Most bytes that may come out of each byte of a file, once [`FREE_OF_RATIO`] have come out.
pub const LARGEST_RATIO: usize = 100;
/// Bytes that may come out before the ratio counts: a small file of like lines packs well.
pub const FREE_OF_RATIO: usize = 1_000_000;
/// Most entries in a file.
pub const MOST_ENTRIES: usize = 500_000;
/// Longest line in a file, in bytes.
pub const LONGEST_LINE: usize = crate::entry::LONGEST_LINE;
