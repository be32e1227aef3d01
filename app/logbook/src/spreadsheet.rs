//! Spreadsheets: last term's log comes in, services go out as comma-separated values.
//!
//! Nothing here writes to the log. A file goes through four steps, each a pure function of what the one
//! before it gave: [`table::decode`] makes rows of bytes, [`field::guess_columns`] proposes what each
//! column means, [`rows::read_rows`] reads every row and says which cannot be read and why, and
//! [`services::to_services`] makes records of those that can. Appending them all in one entry, or none,
//! is the caller's act.
//!
//! This module never reads a clock (today is an argument), a file or a random source.
//!
//! Reading order: [`table`], [`fold`], [`field`], [`date`], [`duration`], [`words`], [`same_row`],
//! [`rows`], [`services`], [`export`].

pub mod date;
pub mod duration;
pub mod export;
pub mod field;
pub mod fold;
pub mod rows;
pub mod same_row;
pub mod services;
pub mod table;
pub mod words;

#[cfg(test)]
fn example_book() -> practicum::course_book::CourseBook {
    practicum::course_book::text::read(&practicum::course_book::example::files()).expect("the example is sound")
}
