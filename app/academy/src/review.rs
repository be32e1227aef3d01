//! The course-end review as a document: the same on the screen, on paper and in a file of its own.
//!
//! It is made as text by [`html::Html`], which escapes every word, from what `logbook::review` worked out. Charts are
//! the drawings of [`crate::charts`].

pub mod document;
mod drawings;
pub mod html;

#[cfg(test)]
mod tests;

pub use document::{Competence, Material, article, page_rules, standalone};
pub use drawings::{dwell_points, target_steps, time_points};
