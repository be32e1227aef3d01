//! Computes check files 02, learning curves, anew.

#[path = "support/learning_curve.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(2, computation::compute, computation::tolerance)
}
