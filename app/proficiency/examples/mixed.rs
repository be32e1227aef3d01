//! Mixed fits: computes what a check file of prefix 03 expects and compares.

#[path = "support/mixed.rs"]
mod files;
mod support;
#[path = "support/table.rs"]
mod table;

fn main() -> std::process::ExitCode {
    let library = table::Library::of_command_line();
    support::run(|file| files::compute(file, &library), files::tolerance)
}
