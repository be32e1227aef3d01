//! What a build or a test needs from outside, brought or asked for by name.

use std::path::PathBuf;

use anyhow::{Context, Result, bail, ensure};

use crate::workspace::{WASM_TARGET, Workspace, is_there, output, place_of, run};

/// Folder of the npm lock file, from the root.
pub const NPM_FOLDER: &str = "tests/journeys";

/// Makes sure that the WebAssembly target is installed, and says what it does.
///
/// # Errors
/// When the target is missing and rustup is not there or fails.
pub fn wasm_target(workspace: &Workspace) -> Result<()> {
    if has_wasm_target(workspace)? {
        return Ok(());
    }
    ensure!(
        is_there("rustup"),
        "the Rust target {WASM_TARGET} is missing and rustup is not here to add it: install it the way you installed Rust"
    );
    let toolchain = pinned_toolchain(workspace)?;
    println!("Adding the Rust target {WASM_TARGET} to toolchain {toolchain} (about 20 MB, once) ...");
    run(workspace.command("rustup").args(["target", "add", WASM_TARGET, "--toolchain", &toolchain]))?;
    ensure!(has_wasm_target(workspace)?, "rustup added {WASM_TARGET}, but rustc does not find it");
    Ok(())
}

/// Makes sure that the formatter and the linter are installed.
///
/// # Errors
/// When one is missing and rustup is not there or fails.
pub fn rust_components(workspace: &Workspace) -> Result<()> {
    for (component, subcommand) in [("rustfmt", "fmt"), ("clippy", "clippy")] {
        if output(&mut workspace.cargo([subcommand, "--version"])).is_ok() {
            continue;
        }
        ensure!(is_there("rustup"), "{component} is missing: install it the way you installed Rust");
        let toolchain = pinned_toolchain(workspace)?;
        println!("Adding the Rust component {component} to toolchain {toolchain} ...");
        run(workspace.command("rustup").args(["component", "add", component, "--toolchain", &toolchain]))?;
    }
    Ok(())
}

/// Makes sure that Chromium, its driver and npm are there: installs them when root on Debian.
///
/// # Errors
/// When one is missing and cannot be installed here; says which and how.
pub fn browser_tools() -> Result<()> {
    let wanted =
        [("chromium", chromium().is_some()), ("chromium-driver", is_there("chromedriver")), ("npm", is_there("npm"))];
    let missing: Vec<&str> = wanted.iter().filter(|(_, there)| !there).map(|(package, _)| *package).collect();
    if missing.is_empty() {
        return Ok(());
    }
    if !may_use_apt() {
        bail!(
            "the browser journeys need Chromium, its driver of the same version, and Node.js with npm; missing here: {}. \
             On Debian run as root: apt-get install chromium chromium-driver npm. \
             Elsewhere put `chromium` (or `google-chrome`), `chromedriver` and `npm` on the search path",
            missing.join(", ")
        );
    }
    install(&missing).context("apt-get could not install what the browser journeys need")
}

/// Installs the independent readers of codes, of printed pages and of tables when root on Debian. Without them the tests
/// that ask them say so and ask nothing.
pub fn readers() {
    let wanted = [("zbarimg", "zbar-tools"), ("pdftotext", "poppler-utils"), ("ssconvert", "gnumeric")];
    let missing: Vec<&str> = wanted.iter().filter(|(tool, _)| !is_there(tool)).map(|(_, package)| *package).collect();
    if missing.is_empty() || !may_use_apt() {
        return;
    }
    if let Err(why) = install(&missing) {
        println!(
            "The independent readers of codes, paper and tables could not be installed, so they are not asked: {why:#}"
        );
    }
}

/// Installs the independent implementation of open credentials where Python and pip can. Without it the test that asks
/// it says so and asks nothing.
pub fn credentials_reader() {
    let python = |arguments: &[&str]| {
        let ran = std::process::Command::new("python3").args(arguments).output();
        ran.is_ok_and(|ran| ran.status.success())
    };
    if !python(&["-c", "import openbadgeslib"]) {
        python(&["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "openbadgeslib==4.6.0"]);
    }
}

fn install(packages: &[&str]) -> Result<()> {
    println!("Installing with apt-get: {} ...", packages.join(", "));
    let mut update = std::process::Command::new("apt-get");
    run(update.args(["update", "-qq"]))?;
    let mut install = std::process::Command::new("apt-get");
    install.env("DEBIAN_FRONTEND", "noninteractive").args(["install", "-y", "-qq", "--no-install-recommends"]);
    run(install.args(packages))
}

/// Finds Chromium or its sibling on the search path.
pub fn chromium() -> Option<PathBuf> {
    ["chromium", "chromium-browser", "google-chrome"].iter().find_map(|name| place_of(name))
}

/// Installs the pinned npm packages when npm is there and they are not yet installed.
///
/// Returns whether they are installed now.
///
/// # Errors
/// When npm fails.
pub fn npm_packages(workspace: &Workspace) -> Result<bool> {
    let folder = workspace.root.join(NPM_FOLDER);
    let written = |name: &str| std::fs::metadata(folder.join(name)).and_then(|facts| facts.modified()).ok();
    let installed = written("node_modules/.package-lock.json");
    if installed.is_some() && written("package-lock.json") <= installed {
        return Ok(true);
    }
    if !is_there("npm") {
        return Ok(false);
    }
    println!("Installing the pinned npm packages of {NPM_FOLDER} (once) ...");
    let mut npm = workspace.command("npm");
    npm.current_dir(&folder).args(["ci", "--no-audit", "--no-fund", "--ignore-scripts"]);
    run(&mut npm)?;
    Ok(true)
}

fn has_wasm_target(workspace: &Workspace) -> Result<bool> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let folder = output(workspace.command(rustc).args(["--print", "target-libdir", "--target", WASM_TARGET]))?;
    let folder = PathBuf::from(folder.trim());
    Ok(std::fs::read_dir(folder).is_ok_and(|mut files| files.next().is_some()))
}

fn pinned_toolchain(workspace: &Workspace) -> Result<String> {
    if let Ok(name) = std::env::var("RUSTUP_TOOLCHAIN")
        && !name.is_empty()
    {
        return Ok(name);
    }
    workspace
        .read("rust-toolchain.toml")?
        .lines()
        .find_map(|line| line.strip_prefix("channel")?.split('"').nth(1).map(str::to_owned))
        .context("rust-toolchain.toml names no channel")
}

fn may_use_apt() -> bool {
    let root = std::process::Command::new("id").arg("-u").output().is_ok_and(|id| id.stdout.trim_ascii() == b"0");
    root && is_there("apt-get") && std::path::Path::new("/etc/debian_version").exists()
}
