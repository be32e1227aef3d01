//! Computes check files 04, charts and rules of competence, anew.

#[path = "support/cusum.rs"]
mod computation;
#[path = "support/formula.rs"]
mod formula;
mod support;

fn main() -> std::process::ExitCode {
    support::run(4, computation::compute, computation::tolerance)
}
