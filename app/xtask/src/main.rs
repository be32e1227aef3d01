//! `cargo xtask`: see [`USAGE`].

use std::process::ExitCode;

use anyhow::{Result, bail};
use xtask::workspace::Workspace;

const USAGE: &str = "\
cargo xtask serve [--port N] [--no-open] [--release]
    builds the app, serves it on this machine, opens it, builds again on change
cargo xtask dist
    builds the release site in dist/
cargo xtask test [--only NAME[,NAME]]
    runs everything CI runs; names: format, clippy, directions, tidy, content, native, dist, journeys
cargo xtask content
    checks the course content
cargo xtask tidy
    checks files and documents
cargo xtask benches [ENTRIES]
    times reading, merging and checking a large log in WebAssembly, under Node
cargo xtask study [PART ...] [TRAINEES]
    simulates academies and writes what intervals, forecasts and decisions are worth to
    app/proficiency/STUDY.md; parts: rules, decisions, calibration, intervals, ways, report (writes the
    report from the results that are kept); with a size of group, that one alone";

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{why:#}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let command = arguments.next().unwrap_or_default();
    let rest: Vec<String> = arguments.collect();
    match command.as_str() {
        "serve" => xtask::serve::run(&Workspace::find()?, &serve_options(&rest)?),
        "dist" => no_more(&rest).and_then(|()| xtask::dist::run(&Workspace::find()?).map(drop)),
        "test" => {
            if !xtask::test::run(&Workspace::find()?, &only(&rest)?)? {
                // The sum stays the last line.
                std::process::exit(1);
            }
            Ok(())
        }
        "content" => no_more(&rest).and_then(|()| listed(xtask::content::problems(&Workspace::find()?)?)),
        "tidy" => no_more(&rest).and_then(|()| listed(xtask::tidy::problems(&Workspace::find()?)?)),
        "benches" => xtask::wasm::benches(&Workspace::find()?, &rest),
        "study" => xtask::study::run(&Workspace::find()?, &rest),
        "" | "help" | "--help" | "-h" => {
            println!("{USAGE}");
            Ok(())
        }
        other => bail!("there is no command `{other}`\n\n{USAGE}"),
    }
}

fn serve_options(arguments: &[String]) -> Result<xtask::serve::Options> {
    let mut options = xtask::serve::Options::default();
    let mut arguments = arguments.iter();
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--no-open" => options.open = false,
            "--release" => options.release = true,
            "--port" => match arguments.next().and_then(|port| port.parse().ok()) {
                Some(port) => options.port = Some(port),
                None => bail!("--port needs a number from 1 to 65535"),
            },
            other => bail!("`serve` does not know `{other}`\n\n{USAGE}"),
        }
    }
    Ok(options)
}

fn only(arguments: &[String]) -> Result<Vec<String>> {
    match arguments {
        [] => Ok(Vec::new()),
        [flag, names] if flag == "--only" => Ok(names.split(',').map(str::to_owned).collect()),
        _ => bail!("`test` takes only --only NAME[,NAME]\n\n{USAGE}"),
    }
}

fn no_more(arguments: &[String]) -> Result<()> {
    match arguments.first() {
        None => Ok(()),
        Some(argument) => bail!("`{argument}` is not known here\n\n{USAGE}"),
    }
}

fn listed(problems: Vec<String>) -> Result<()> {
    for problem in &problems {
        println!("{problem}");
    }
    if problems.is_empty() {
        println!("no problems");
        return Ok(());
    }
    bail!("{} problems", problems.len())
}
