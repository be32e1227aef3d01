//! What must hold for any input, tried with many made at random.

mod any_input;
mod clocks;
mod competence;
mod convergence;
mod csv;
mod draw;
mod group_curve;
mod hostile;
mod proficiency;
mod timeline;
