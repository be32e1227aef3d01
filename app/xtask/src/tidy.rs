//! `cargo xtask tidy`: rules about files that no compiler checks.

use std::path::Path;

use anyhow::Result;

use crate::workspace::{Workspace, output};

/// Most lines of a Rust file, a style sheet or a script.
const MOST_LINES: usize = 900;
/// Files in which the bare short word for a practice model may stand: those that ban it.
const MAY_NAME_THE_WORD: [&str; 1] = ["app/xtask/src/tidy.rs"];
/// Texts kept out of the repository; written in halves so that this file passes.
const MACHINE_PATHS: [(&str, &str); 5] =
    [("/ho", "me/"), ("/ro", "ot/"), ("/Us", "ers/"), ("/tm", "p/"), ("/wo", "rk/")];
const REGISTRY_HOSTS: [(&str, &str); 3] = [("crates", ".io"), ("npmjs", ".org"), ("npmjs", ".com")];
const UNFINISHED: [(&str, &str); 5] =
    [("TO", "DO"), ("FIX", "ME"), ("XX", "X:"), ("todo", "!("), ("unimpl", "emented!(")];

/// All problems of the files that are, or would be, in the repository.
///
/// # Errors
/// When git or a file cannot be read.
pub fn problems(workspace: &Workspace) -> Result<Vec<String>> {
    let list = output(workspace.command("git").args(["ls-files", "--cached", "--others", "--exclude-standard"]))?;
    let mut problems = Vec::new();
    for name in list.lines().filter(|name| !name.is_empty()) {
        // A file that was deleted and not yet committed is still listed; one that is no text has no words.
        let Ok(text) = std::fs::read_to_string(workspace.root.join(name)) else { continue };
        problems.extend(problems_of(name, &text));
    }
    Ok(problems)
}

fn problems_of(name: &str, text: &str) -> Vec<String> {
    let extension = Path::new(name).extension().and_then(|extension| extension.to_str()).unwrap_or_default();
    let mut problems = Vec::new();
    if extension == "rs" && !text.starts_with("//!") {
        problems.push(format!("{name}:1: begin with a //! line that says what this file is"));
    }
    let lines = text.lines().count();
    if matches!(extension, "rs" | "css" | "js") && lines > MOST_LINES {
        problems.push(format!("{name}: {lines} lines, at most {MOST_LINES}: split it by noun or question"));
    }
    // Lock files are a tool's, data of an outside check keeps the words of its source.
    if name.ends_with("Cargo.lock") || name.ends_with("package-lock.json") || name.contains("/data/") {
        return problems;
    }
    for (at, line) in text.lines().enumerate() {
        let banned = [
            (&MACHINE_PATHS[..], "name no path of a machine"),
            (&REGISTRY_HOSTS[..], "name no registry host"),
            (&UNFINISHED[..], "finish it or leave it out"),
        ];
        for (halves, what) in banned {
            for text in halves.iter().map(|(first, second)| [*first, *second].concat()) {
                if line.contains(&text) {
                    problems.push(format!("{name}:{}: {what}: {text}", at + 1));
                }
            }
        }
    }
    if matches!(extension, "rs" | "toml" | "md" | "html" | "js" | "css" | "webmanifest")
        && !MAY_NAME_THE_WORD.contains(&name)
    {
        let say = |line| format!("{name}:{line}: say practice model, fit or record, not the bare word");
        problems.extend(bare_words(text).into_iter().map(say));
    }
    problems
}

/// Lines, counted from 1, with the word "model" not led by "practice".
fn bare_words(text: &str) -> Vec<usize> {
    let mut lines = Vec::new();
    let mut before = String::new();
    for (at, line) in text.lines().enumerate() {
        let words = line.split(|letter: char| !letter.is_alphanumeric() && letter != '_');
        for word in words.filter(|word| !word.is_empty()).map(str::to_lowercase) {
            if matches!(word.as_str(), "model" | "models" | "modelled" | "modelling") && before != "practice" {
                lines.push(at + 1);
            }
            before = word;
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn count(name: &str, text: &str) -> usize {
        problems_of(name, text).len()
    }

    #[test]
    fn a_rust_file_begins_with_what_it_is() {
        assert_eq!(count("a.rs", "//! What it is.\n"), 0);
        assert_eq!(count("a.rs", "use std::fmt;\n"), 1);
    }

    #[test]
    fn a_file_of_code_has_at_most_900_lines() {
        assert_eq!(count("a.css", &"a {}\n".repeat(MOST_LINES + 1)), 1);
        assert_eq!(count("a.rs", &"//! x\n".repeat(MOST_LINES)), 0);
        assert_eq!(count("a.rs", &"//! x\n".repeat(MOST_LINES + 1)), 1);
    }

    #[test]
    fn the_bare_word_is_found_and_the_whole_one_is_not() {
        assert!(
            bare_words("a practice model, practice\n//! models, PracticeModel, practice_model, model_id").is_empty()
        );
        assert_eq!(bare_words("the model\nis a Model"), [1, 2]);
    }

    #[test]
    fn paths_hosts_and_unfinished_marks_are_found() {
        for (first, second) in MACHINE_PATHS.iter().chain(&REGISTRY_HOSTS).chain(&UNFINISHED) {
            assert_eq!(count("a.md", &format!("x {first}{second} y")), 1, "{first}{second}");
        }
    }

    #[test]
    fn lock_files_may_name_hosts() {
        let host = REGISTRY_HOSTS[1];
        assert_eq!(count("tests/journeys/package-lock.json", &format!("{}{}", host.0, host.1)), 0);
    }
}
