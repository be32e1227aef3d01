//! Computes check files 06, agreement of assessors, anew.

#[path = "support/agreement.rs"]
mod computation;
mod support;

fn main() -> std::process::ExitCode {
    support::run(6, computation::compute, computation::tolerance)
}
