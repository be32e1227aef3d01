//! Computes check files 08, distribution functions and quantiles, anew.

#[path = "support/distribution.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(8, computation::compute, computation::tolerance)
}
