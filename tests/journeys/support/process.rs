//! Processes of the machine, as far as killing a browser needs them.

use std::path::Path;
use std::process::Command;

use anyhow::{Result, ensure};

/// Every process whose command line names a folder, with all processes below them.
pub fn tree_of(folder: &Path) -> Vec<u32> {
    let folder = folder.to_string_lossy().into_owned();
    let all: Vec<(u32, u32, bool)> = std::fs::read_dir("/proc")
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| entry.file_name().to_str()?.parse().ok())
        .filter_map(|id: u32| {
            let line = std::fs::read(format!("/proc/{id}/cmdline")).ok()?;
            Some((id, parent_of(id)?, String::from_utf8_lossy(&line).contains(&folder)))
        })
        .collect();
    let mut tree: Vec<u32> = all.iter().filter(|(_, _, named)| *named).map(|(id, ..)| *id).collect();
    let mut at = 0;
    while let Some(parent) = tree.get(at).copied() {
        let children = all.iter().filter(|(_, of, _)| *of == parent).map(|(id, ..)| *id);
        let new: Vec<u32> = children.filter(|id| !tree.contains(id)).collect();
        tree.extend(new);
        at += 1;
    }
    tree
}

/// Ends processes at once, without a chance to write anything.
///
/// # Errors
/// When `kill` cannot be started.
pub fn kill_dash_nine(processes: &[u32]) -> Result<()> {
    ensure!(!processes.is_empty(), "there is no process to kill");
    // One may have ended by itself since it was listed.
    Command::new("kill").arg("-9").args(processes.iter().map(u32::to_string)).status()?;
    Ok(())
}

fn parent_of(id: u32) -> Option<u32> {
    let facts = std::fs::read_to_string(format!("/proc/{id}/stat")).ok()?;
    // The name in brackets may hold spaces: the parent is the second word after it.
    facts.rsplit_once(')')?.1.split_whitespace().nth(1)?.parse().ok()
}
