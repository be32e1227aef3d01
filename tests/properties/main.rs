//! What must hold for any input, tried with many made at random.

mod competence;
mod csv;
mod proficiency;
mod timeline;
