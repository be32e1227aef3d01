//! Computes check files 10, the two-eye timeline, anew.

#[path = "support/timeline.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(10, computation::compute, computation::tolerance)
}
