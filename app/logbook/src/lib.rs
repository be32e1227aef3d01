//! The log.

pub mod spreadsheet;
