//! Forecasts: computes what a check file of prefix 11 expects and compares.

#[path = "support/forecast.rs"]
mod files;
mod support;
#[path = "support/table.rs"]
mod table;

/// Where the repository keeps its copies, for a file that names another.
const COPIES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/checks");

fn main() -> std::process::ExitCode {
    let library = table::Library::of_command_line(COPIES);
    let beside = files::Beside::default();
    support::run(11, |file| files::compute(file, &library, &beside), |file, path| files::tolerance(file, path, &beside))
}
