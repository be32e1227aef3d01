//! Computes check files 01, linear, nonlinear and robust least squares, anew.

#[path = "support/least_squares.rs"]
mod computation;
#[path = "support/formula.rs"]
mod formula;
mod support;

fn main() -> std::process::ExitCode {
    support::run(1, computation::compute, computation::tolerance)
}
