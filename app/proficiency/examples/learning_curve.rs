//! Computes check files 02, learning curves, anew.

#[path = "support/learning_curve.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(computation::compute, computation::tolerance)
}
