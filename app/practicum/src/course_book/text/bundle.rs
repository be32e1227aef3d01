//! One plain-text file that holds all files of a course book, for passing it on and editing it.
//!
//! Each file starts with a line `# file: NAME`. The text between two such lines is the file, so that
//! a bundle can be edited like any text.

use super::{MOST_FILES, Problem};

const MARK: &str = "# file:";

/// Joins files, pairs of name and text, into one text.
///
/// A line inside a file that would look like the start of another file is moved one space to the
/// right, which changes nothing for TOML comments and headings. Line ends become `\n`, and every
/// file ends with one.
pub fn join<N: AsRef<str>, T: AsRef<str>>(files: &[(N, T)]) -> String {
    let mut text = String::new();
    for (name, content) in files {
        text.push_str(MARK);
        text.push(' ');
        text.push_str(name.as_ref().trim());
        text.push('\n');
        for line in content.as_ref().trim_start_matches('\u{feff}').lines() {
            if line.starts_with(MARK) {
                text.push(' ');
            }
            text.push_str(line);
            text.push('\n');
        }
    }
    text
}

/// Splits a text made by [`join`] into its files: pairs of name and text.
///
/// Lines in later problems are counted within the named file, from the line after its `# file:`.
///
/// # Errors
/// Returns the problems when there is text before the first `# file:` line, or a name is missing or
/// used twice; `file` is then “course book” and the line is one of the whole text.
pub fn split(text: &str) -> Result<Vec<(String, String)>, Vec<Problem>> {
    let mut files: Vec<(String, String)> = Vec::new();
    let mut problems = Vec::new();
    let mut say = |line: usize, what: String| problems.push(Problem { file: "course book".to_owned(), line, what });
    let mut lost = false;
    for (at, line) in text.trim_start_matches('\u{feff}').lines().enumerate() {
        if let Some(name) = line.strip_prefix(MARK) {
            let name = name.trim();
            if name.is_empty() || name.chars().count() > 120 || name.chars().any(char::is_control) {
                say(
                    at + 1,
                    "“# file:” must be followed by the file's name: write for example # file: stages.toml".to_owned(),
                );
            } else if files.iter().any(|(other, _)| other == name) {
                say(at + 1, format!("the file {name} starts here a second time: delete one of the two"));
            } else if files.len() >= MOST_FILES {
                say(at + 1, format!("more than {MOST_FILES} files: leave some out"));
                break;
            }
            files.push((name.to_owned(), String::new()));
        } else if let Some((_, content)) = files.last_mut() {
            content.push_str(line);
            content.push('\n');
        } else if !line.trim().is_empty() && !lost {
            lost = true;
            say(
                at + 1,
                "this is not a course book: its first line must be # file: and a name, as in an exported one"
                    .to_owned(),
            );
        }
    }
    if files.is_empty() && !lost {
        say(1, "this text is empty: choose a course book that was exported, or one of its files".to_owned());
    }
    if problems.is_empty() { Ok(files) } else { Err(problems) }
}
