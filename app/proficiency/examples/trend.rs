//! Computes check files 09, trend of a series, anew.

#[path = "support/trend.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(9, computation::compute, computation::tolerance)
}
