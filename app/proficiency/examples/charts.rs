//! Computes check files 07, charts and run rules, anew.

#[path = "support/charts.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(7, computation::compute, computation::tolerance)
}
