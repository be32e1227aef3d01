//! Computes check files 07, charts and run rules, anew.

#[path = "support/charts.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(computation::compute, computation::tolerance)
}
