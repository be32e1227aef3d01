//! Computes check files 05, intervals of a proportion, anew.

#[path = "support/proportion.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(5, computation::compute, computation::tolerance)
}
