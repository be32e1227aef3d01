//! `cargo xtask test`: everything CI runs, counted.

use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};
use std::time::Instant;

use anyhow::{Context, Result, bail};

use crate::workspace::{WASM_TARGET, Workspace, run as run_command};
use crate::{content, directions, dist, leaks, setup, tidy};

/// How many passed and how many failed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Count {
    passed: usize,
    failed: usize,
}

impl Count {
    fn of(passed: bool) -> Self {
        Self { passed: usize::from(passed), failed: usize::from(!passed) }
    }

    fn add(&mut self, other: Self) {
        self.passed += other.passed;
        self.failed += other.failed;
    }
}

/// A named step of the run.
struct Step {
    /// The name that `--only` takes.
    group: &'static str,
    /// What it checks.
    name: &'static str,
    run: fn(&Workspace) -> Result<Count>,
}

const STEPS: [Step; 12] = [
    Step { group: "format", name: "the code is formatted", run: format },
    Step { group: "clippy", name: "clippy: no warning, all crates", run: clippy_native },
    Step { group: "clippy", name: "clippy: no warning, journeys", run: clippy_journeys },
    Step { group: "clippy", name: "clippy: no warning, app for the browser", run: clippy_wasm },
    Step { group: "directions", name: "the lock file is up to date", run: lock_file },
    Step { group: "directions", name: "dependencies point one way", run: check_directions },
    Step { group: "tidy", name: "files and documents are in order", run: check_tidy },
    Step { group: "content", name: "the course content is a course book", run: check_content },
    Step { group: "native", name: "native tests", run: native_tests },
    Step { group: "dist", name: "the site is built and within its budget", run: build_site },
    Step { group: "dist", name: "the site says nothing about its builder", run: check_leaks },
    Step { group: "journeys", name: "browser journeys and accessibility audit", run: journeys },
];

/// Runs all steps, or those of the named groups, and prints the sum in the last line.
///
/// Returns whether all passed.
///
/// # Errors
/// When a name is not one of the groups.
pub fn run(workspace: &Workspace, only: &[String]) -> Result<bool> {
    if let Some(name) = only.iter().find(|name| STEPS.iter().all(|step| step.group != **name)) {
        bail!("there is no step named `{name}`; see `cargo xtask help`");
    }
    let chosen: Vec<&Step> =
        STEPS.iter().filter(|step| only.is_empty() || only.iter().any(|name| name == step.group)).collect();
    let mut sum = Count::default();
    let mut lines = Vec::new();
    for (at, step) in chosen.iter().enumerate() {
        println!("\n== {}/{} {}: {}", at + 1, chosen.len(), step.group, step.name);
        let start = Instant::now();
        let count = (step.run)(workspace).unwrap_or_else(|why| {
            println!("{why:#}");
            Count::of(false)
        });
        let word = if count.failed == 0 { "ok" } else { "FAILED" };
        let line = format!(
            "{word:<6} {:>5} passed {:>4} failed {:>6.1} s  {}: {}",
            count.passed,
            count.failed,
            start.elapsed().as_secs_f64(),
            step.group,
            step.name
        );
        println!("{line}");
        lines.push(line);
        sum.add(count);
    }
    println!("\n== all steps");
    for line in lines {
        println!("{line}");
    }
    println!("{} passed, {} failed", sum.passed, sum.failed);
    Ok(sum.failed == 0)
}

fn format(workspace: &Workspace) -> Result<Count> {
    setup::rust_components(workspace)?;
    check(&mut workspace.cargo(["fmt", "--all", "--check"]))
}

fn clippy_native(workspace: &Workspace) -> Result<Count> {
    setup::rust_components(workspace)?;
    check(&mut workspace.cargo(["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
}

fn clippy_journeys(workspace: &Workspace) -> Result<Count> {
    setup::rust_components(workspace)?;
    check(&mut workspace.cargo([
        "clippy",
        "-p",
        "system-tests",
        "--features",
        "journeys",
        "--test",
        "journeys",
        "--",
        "-D",
        "warnings",
    ]))
}

fn clippy_wasm(workspace: &Workspace) -> Result<Count> {
    setup::rust_components(workspace)?;
    setup::wasm_target(workspace)?;
    check(&mut workspace.cargo(["clippy", "-p", "academy", "--lib", "--target", WASM_TARGET, "--", "-D", "warnings"]))
}

fn lock_file(workspace: &Workspace) -> Result<Count> {
    let mut cargo = workspace.cargo(["metadata", "--locked", "--format-version", "1"]);
    check(cargo.stdout(Stdio::null()))
}

fn check_directions(workspace: &Workspace) -> Result<Count> {
    Ok(listed(&directions::problems(&workspace.metadata)))
}

fn check_tidy(workspace: &Workspace) -> Result<Count> {
    Ok(listed(&tidy::problems(workspace)?))
}

fn check_content(workspace: &Workspace) -> Result<Count> {
    Ok(listed(&content::problems(workspace)?))
}

fn native_tests(workspace: &Workspace) -> Result<Count> {
    setup::readers();
    setup::credentials_reader();
    tests(&mut workspace.cargo(["test", "--workspace", "--no-fail-fast"]))
}

fn build_site(workspace: &Workspace) -> Result<Count> {
    let size = dist::run(workspace)?;
    if size.brotli > dist::BUDGET {
        println!("the site is {} bytes after brotli, over its budget of {}", size.brotli, dist::BUDGET);
    }
    let mut count = Count::of(true);
    count.add(Count::of(size.brotli <= dist::BUDGET));
    Ok(count)
}

fn check_leaks(workspace: &Workspace) -> Result<Count> {
    Ok(listed(&leaks::problems(workspace, &workspace.root.join(dist::FOLDER))?))
}

fn journeys(workspace: &Workspace) -> Result<Count> {
    setup::browser_tools()?;
    if !setup::npm_packages(workspace)? {
        bail!("npm is missing, which brings the accessibility rules");
    }
    let site = workspace.root.join(dist::FOLDER);
    if !site.join(crate::site::PAGE).exists() {
        dist::run(workspace)?;
    }
    let chromium = setup::chromium().context("Chromium is not on the search path")?;
    let mut cargo = workspace.cargo(["test", "-p", "system-tests", "--features", "journeys", "--test", "journeys"]);
    cargo.env("UPSWEEP_SITE", site).env("UPSWEEP_CHROMIUM", chromium);
    cargo.env("UPSWEEP_SCREENS", workspace.target.join("screens"));
    tests(&mut cargo)
}

/// Runs a command that passes or fails as one.
fn check(command: &mut Command) -> Result<Count> {
    run_command(command)?;
    Ok(Count::of(true))
}

/// Prints a list of problems and counts each; no problem is one pass.
fn listed(problems: &[String]) -> Count {
    for problem in problems {
        println!("{problem}");
    }
    if problems.is_empty() { Count::of(true) } else { Count { passed: 0, failed: problems.len() } }
}

/// Runs `cargo test` and counts the tests by the summary lines; an ignored test counts as failed.
fn tests(command: &mut Command) -> Result<Count> {
    let mut child = command.stdout(Stdio::piped()).spawn().context("cargo cannot be started")?;
    let mut count = Count::default();
    for line in BufReader::new(child.stdout.take().context("cargo prints nowhere")?).lines() {
        let line = line?;
        println!("{line}");
        count.add(summary(&line));
    }
    let ended_well = child.wait()?.success();
    if !ended_well && count.failed == 0 {
        println!("cargo test failed before its tests could be counted");
        count.failed = 1;
    }
    if ended_well && count.passed == 0 {
        bail!("no test ran");
    }
    Ok(count)
}

/// Reads a line such as `test result: ok. 3 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out`.
fn summary(line: &str) -> Count {
    let Some(rest) = line.strip_prefix("test result: ") else { return Count::default() };
    let number = |word: &str| {
        rest.split([';', '.'])
            .filter_map(|part| part.trim().strip_suffix(word)?.trim().parse::<usize>().ok())
            .next()
            .unwrap_or_default()
    };
    Count { passed: number("passed"), failed: number("failed") + number("ignored") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_summary_line_is_counted() {
        let line = "test result: FAILED. 12 passed; 3 failed; 2 ignored; 0 measured; 9 filtered out; finished in 0.01s";
        assert_eq!(summary(line), Count { passed: 12, failed: 5 });
        assert_eq!(summary("test result: ok. 1 passed; 0 failed; 0 ignored;"), Count { passed: 1, failed: 0 });
        assert_eq!(summary("test a ... ok"), Count::default());
    }

    #[test]
    fn each_problem_counts_as_a_failure() {
        assert_eq!(listed(&[]), Count { passed: 1, failed: 0 });
        assert_eq!(listed(&["a".to_owned(), "b".to_owned()]), Count { passed: 0, failed: 2 });
    }
}
