//! Outside checks: what the program says against figures and examples that others have published.
//!
//! Each module names its sources beside the values.

mod check_files;
mod competence;
mod course_book_defaults;
mod credential;
mod csv_rfc4180;
mod group_curve;
mod jcs;
mod learning;
mod record;
mod signatures;
mod time_iso8601;
