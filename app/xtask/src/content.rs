//! `cargo xtask content`: is the course content of the repository a course book?

use anyhow::Result;
use practicum::course_book::text;

use crate::workspace::{Workspace, files_below};

/// Folder of the course content, from the root.
pub const FOLDER: &str = "course-content";

/// All problems of the course content, each with file, line and what to do.
///
/// # Errors
/// When a file cannot be read.
pub fn problems(workspace: &Workspace) -> Result<Vec<String>> {
    let folder = workspace.root.join(FOLDER);
    let mut files = Vec::new();
    for path in files_below(&folder)? {
        let name = path.strip_prefix(&folder)?.to_string_lossy().replace('\\', "/");
        if name.ends_with(".toml") || name.ends_with(".md") {
            files.push((name, std::fs::read_to_string(&path)?));
        }
    }
    let borrowed: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    Ok(match text::check(&borrowed) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.iter().map(|problem| format!("{FOLDER}/{problem}")).collect(),
    })
}
