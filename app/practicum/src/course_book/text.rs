//! Reads a course book from its TOML files, or says everything that is wrong with them.

use super::CourseBook;

/// One thing wrong with a course book's text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// File name.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// What is wrong and what to do.
    pub what: String,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}, line {}: {}", self.file, self.line, self.what)
    }
}

/// Reads a course book from its files: pairs of file name and text, TOML and Markdown.
///
/// # Errors
/// Returns the list of all problems, each with file, line and what to do.
pub fn read(files: &[(&str, &str)]) -> Result<CourseBook, Vec<Problem>> {
    let _ = files;
    Err(vec![Problem { file: "course book".into(), line: 1, what: "not readable yet".into() }])
}
