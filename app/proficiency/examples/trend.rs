//! Computes check files 09, trend of a series, anew.

#[path = "support/trend.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(computation::compute, computation::tolerance)
}
