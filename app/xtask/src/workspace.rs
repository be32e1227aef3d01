//! Where the workspace stands, and how a program is run from its root.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

/// Target of the app in the browser.
pub const WASM_TARGET: &str = "wasm32-unknown-unknown";

/// The workspace: its folders and what cargo knows about it.
#[derive(Debug, Clone)]
pub struct Workspace {
    /// Folder of the root `Cargo.toml`.
    pub root: PathBuf,
    /// Folder that cargo builds into.
    pub target: PathBuf,
    /// Answer of `cargo metadata`, all packages included.
    pub metadata: Value,
}

impl Workspace {
    /// Asks cargo about the workspace this program was built from, fetching missing packages.
    ///
    /// # Errors
    /// When cargo cannot read the workspace or cannot fetch its packages.
    pub fn find() -> Result<Self> {
        let start = match std::env::var_os("CARGO_MANIFEST_DIR") {
            Some(folder) => PathBuf::from(folder),
            None => std::env::current_dir()?,
        };
        let answer = Command::new(cargo())
            .args(["metadata", "--format-version", "1"])
            .current_dir(&start)
            .stdin(Stdio::null())
            .stderr(Stdio::inherit())
            .output()
            .context("cargo could not be started")?;
        ensure!(answer.status.success(), "`cargo metadata` failed: see above");
        let metadata: Value = serde_json::from_slice(&answer.stdout).context("cargo's answer is not JSON")?;
        let folder = |name: &str| {
            metadata[name].as_str().map(PathBuf::from).with_context(|| format!("cargo's answer lacks {name}"))
        };
        Ok(Self { root: folder("workspace_root")?, target: folder("target_directory")?, metadata })
    }

    /// Makes a command that runs from the root and reads nothing from the terminal.
    pub fn command(&self, program: impl AsRef<OsStr>) -> Command {
        let mut command = Command::new(program);
        command.current_dir(&self.root).stdin(Stdio::null());
        command
    }

    /// Makes a cargo command of the toolchain that runs this program.
    pub fn cargo<S: AsRef<OsStr>>(&self, arguments: impl IntoIterator<Item = S>) -> Command {
        let mut command = self.command(cargo());
        // Variables of this package must not reach the build of others.
        for (name, _) in std::env::vars_os() {
            let name = name.to_string_lossy();
            if name.starts_with("CARGO_PKG_") || name.starts_with("CARGO_MANIFEST_") || name == "CARGO_BIN_NAME" {
                command.env_remove(name.as_ref());
            }
        }
        command.args(arguments);
        command
    }

    /// Reads a text file of the workspace.
    ///
    /// # Errors
    /// When the file is missing or is not UTF-8.
    pub fn read(&self, path: &str) -> Result<String> {
        std::fs::read_to_string(self.root.join(path)).with_context(|| format!("{path} cannot be read"))
    }
}

/// Runs a command to its end, its words going to the terminal.
///
/// # Errors
/// When the program cannot be started or ends with a failure.
pub fn run(command: &mut Command) -> Result<()> {
    let status = command.status().with_context(|| format!("{} cannot be started", name_of(command)))?;
    ensure!(status.success(), "`{}` failed", line_of(command));
    Ok(())
}

/// Runs a command and returns what it printed.
///
/// # Errors
/// When the program cannot be started, ends with a failure, or prints no UTF-8.
pub fn output(command: &mut Command) -> Result<String> {
    let answer = command.output().with_context(|| format!("{} cannot be started", name_of(command)))?;
    if !answer.status.success() {
        bail!("`{}` failed: {}", line_of(command), String::from_utf8_lossy(&answer.stderr).trim());
    }
    Ok(String::from_utf8(answer.stdout)?)
}

/// Tells whether a program is found on the search path.
pub fn is_there(program: &str) -> bool {
    place_of(program).is_some()
}

/// Finds a program on the search path.
pub fn place_of(program: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path)
        .flat_map(|folder| [folder.join(program), folder.join(format!("{program}.exe"))])
        .find(|file| file.is_file())
}

/// All files below a folder, in name order; none when the folder is missing.
///
/// # Errors
/// When a folder cannot be read.
pub fn files_below(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    if folder.is_dir() {
        gather(folder, &mut files)?;
    }
    files.sort();
    Ok(files)
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> Result<()> {
    for entry in std::fs::read_dir(folder).with_context(|| format!("{} cannot be read", folder.display()))? {
        let path = entry?.path();
        if path.is_dir() { gather(&path, files)? } else { files.push(path) }
    }
    Ok(())
}

fn cargo() -> std::ffi::OsString {
    std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into())
}

fn name_of(command: &Command) -> String {
    command.get_program().to_string_lossy().into_owned()
}

fn line_of(command: &Command) -> String {
    let arguments = command.get_args().map(|argument| argument.to_string_lossy().into_owned());
    std::iter::once(name_of(command)).chain(arguments).collect::<Vec<_>>().join(" ")
}
