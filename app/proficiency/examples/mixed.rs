//! Mixed fits: computes what a check file of prefix 03 expects and compares.

#[path = "support/mixed.rs"]
mod files;
mod support;
#[path = "support/table.rs"]
mod table;

/// Where the repository keeps its copies, for a file that names another.
const COPIES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/checks");

fn main() -> std::process::ExitCode {
    let library = table::Library::of_command_line(COPIES);
    support::run(3, |file| files::compute(file, &library), files::tolerance)
}
