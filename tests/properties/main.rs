//! What must hold for any input, tried with many made at random.

mod any_input;
mod competence;
mod convergence;
mod csv;
mod group_curve;
mod proficiency;
mod timeline;
