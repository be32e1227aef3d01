//! Forecasts: computes what a check file of prefix 11 expects and compares.

#[path = "support/forecast.rs"]
mod files;
mod support;
#[path = "support/table.rs"]
mod table;

fn main() -> std::process::ExitCode {
    let library = table::Library::of_command_line();
    let beside = files::Beside::default();
    support::run(|file| files::compute(file, &library, &beside), |file, path| files::tolerance(file, path, &beside))
}
