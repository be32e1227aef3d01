//! Does a built site say on whose machine it was built?
//!
//! Every byte of every file is searched, the data of the WebAssembly included.

use std::path::Path;

use anyhow::{Result, ensure};

use crate::wasm;
use crate::workspace::{Workspace, files_below, output};

/// Bytes shown on each side of what was found.
const AROUND: usize = 30;

/// All finds of a builder's path or name, or of a registry's host, in a folder.
///
/// # Errors
/// When the folder is empty or a file cannot be read.
pub fn problems(workspace: &Workspace, folder: &Path) -> Result<Vec<String>> {
    let needles = needles(workspace);
    let files = files_below(folder)?;
    ensure!(!files.is_empty(), "{} is empty: nothing was searched", folder.display());
    let mut problems = Vec::new();
    for path in files {
        let content = std::fs::read(&path)?;
        let name = path.strip_prefix(folder)?.to_string_lossy().into_owned();
        problems.extend(finds(&content, &needles).into_iter().map(|found| format!("{name}: {found}")));
        problems.extend(finds(name.as_bytes(), &needles).into_iter().map(|found| format!("name {name}: {found}")));
    }
    Ok(problems)
}

/// Everything that must not be found.
fn needles(workspace: &Workspace) -> Vec<String> {
    let mut needles: Vec<String> =
        ["home", "root", "Users", "work", "tmp"].iter().map(|folder| format!("/{folder}/")).collect();
    needles.extend(["\\Users\\".to_owned(), ["crates", ".io"].concat(), ["npm", "js."].concat()]);
    let mut folders = wasm::homes();
    folders.extend([workspace.root.clone(), workspace.target.clone()]);
    needles.extend(folders.iter().map(|folder| folder.display().to_string()).filter(|folder| folder.len() > 3));
    // The name of the root user is also a word of style sheets: its folder is searched above.
    let user = output(workspace.command("id").arg("-un")).unwrap_or_default();
    let host = output(&mut workspace.command("hostname")).unwrap_or_default();
    let names = [user, host].map(|name| name.trim().to_owned());
    needles.extend(names.into_iter().filter(|name| name.len() > 3 && name != "root" && name != "localhost"));
    needles.sort();
    needles.dedup();
    needles
}

fn finds(content: &[u8], needles: &[String]) -> Vec<String> {
    let mut finds = Vec::new();
    for needle in needles {
        for (at, part) in content.windows(needle.len()).enumerate() {
            if part == needle.as_bytes() {
                let around = &content[at.saturating_sub(AROUND)..content.len().min(at + needle.len() + AROUND)];
                finds.push(format!("{needle} at byte {at}: {}", around.escape_ascii()));
            }
        }
    }
    finds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_between_other_bytes_is_found() {
        let path = ["/ho", "me/ann/.cargo"].concat();
        let content = [b"\0asm\x01\0\0\0", path.as_bytes(), b"\xff\xfe"].concat();
        let found = finds(&content, &[["/ho", "me/"].concat()]);
        assert_eq!(found.len(), 1);
        assert!(found[0].contains("at byte 8"), "{found:?}");
        assert!(finds(&content, &["/elsewhere/".to_owned()]).is_empty());
    }

    #[test]
    fn each_find_is_listed() {
        assert_eq!(finds(b"xx ab xx ab", &["ab".to_owned(), "xx".to_owned()]).len(), 4);
    }
}
