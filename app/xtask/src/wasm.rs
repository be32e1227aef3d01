//! The app's two halves: its WebAssembly and the glue script beside it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use wasm_bindgen_cli_support::Bindgen;

use crate::setup;
use crate::workspace::{WASM_TARGET, Workspace, output, run};

/// Has the views compiled once each and not once per place they stand in: smaller, and quicker to build.
const ERASED: &str = "--cfg=erase_components";

/// The built app.
#[derive(Debug, Clone)]
pub struct App {
    /// Glue script, an ES module.
    pub script: String,
    /// The WebAssembly.
    pub wasm: Vec<u8>,
}

/// How the app is built.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Build {
    /// Quick to build again, large.
    Quick,
    /// Small, without a path of the builder in it.
    Release,
}

/// Builds the app and binds it for the web.
///
/// # Errors
/// When it does not compile or cannot be bound.
pub fn build(workspace: &Workspace, build: Build) -> Result<App> {
    let mut arguments = vec!["build", "--package", "academy", "--lib", "--target", WASM_TARGET];
    let (folder, flags) = match build {
        Build::Quick => ("debug", vec![ERASED.to_owned()]),
        Build::Release => {
            arguments.push("--release");
            ("release", [vec![ERASED.to_owned()], remapped(workspace)?].concat())
        }
    };
    let mut cargo = workspace.cargo(arguments);
    cargo.env_remove("RUSTFLAGS").env("CARGO_ENCODED_RUSTFLAGS", flags.join("\u{1f}"));
    run(&mut cargo)?;
    let built = workspace.target.join(WASM_TARGET).join(folder).join("academy.wasm");
    let folder = workspace.target.join("bound").join(folder);
    bind(&built, &folder, build)?;
    let script = std::fs::read_to_string(folder.join("app.js"))?;
    ensure!(
        !folder.join("snippets").exists(),
        "a dependency brings a script of its own (snippets/): the site has no place for it yet"
    );
    Ok(App { script, wasm: std::fs::read(folder.join("app_bg.wasm"))? })
}

/// Makes the WebAssembly smaller with the pinned `wasm-opt` of npm, and says so when npm is not there.
///
/// # Errors
/// When npm or `wasm-opt` fails.
pub fn shrink(workspace: &Workspace, wasm: Vec<u8>) -> Result<Vec<u8>> {
    if !setup::npm_packages(workspace)? {
        println!("npm is not installed, so wasm-opt is left out: the WebAssembly stays some 8 % larger.");
        return Ok(wasm);
    }
    let folder = workspace.target.join("bound");
    let (before, after) = (folder.join("before.wasm"), folder.join("after.wasm"));
    std::fs::write(&before, wasm)?;
    let mut tool = workspace.command("node");
    tool.arg(workspace.root.join(setup::NPM_FOLDER).join("node_modules/binaryen/bin/wasm-opt"));
    tool.arg(&before).arg("-Oz").arg("--strip-producers").arg("-o").arg(&after);
    for feature in
        ["bulk-memory", "nontrapping-float-to-int", "sign-ext", "mutable-globals", "reference-types", "multivalue"]
    {
        tool.arg(format!("--enable-{feature}"));
    }
    run(&mut tool)?;
    Ok(std::fs::read(&after)?)
}

/// Builds the benches of the log as the app is built, and runs them under Node with the arguments given.
///
/// # Errors
/// When they do not compile, cannot be bound, or Node fails.
pub fn benches(workspace: &Workspace, arguments: &[String]) -> Result<()> {
    setup::wasm_target(workspace)?;
    run(&mut workspace.cargo(["build", "--package", "log-benches", "--lib", "--release", "--target", WASM_TARGET]))?;
    let built = workspace.target.join(WASM_TARGET).join("release/log_benches.wasm");
    let folder = workspace.target.join("bound/benches");
    Bindgen::new()
        .input_path(&built)
        .nodejs(true)?
        .typescript(false)
        .out_name("benches")
        .generate(&folder)
        .context("the WebAssembly cannot be bound for Node")?;
    let mut node = workspace.command("node");
    run(node.arg(workspace.root.join("tests/benches/in_wasm.mjs")).arg(&folder).args(arguments))
}

fn bind(built: &Path, folder: &Path, build: Build) -> Result<()> {
    if folder.exists() {
        std::fs::remove_dir_all(folder)?;
    }
    std::fs::create_dir_all(folder)?;
    let quick = build == Build::Quick;
    Bindgen::new()
        .input_path(built)
        .web(true)?
        .typescript(false)
        .omit_default_module_path(true)
        .keep_debug(false)
        .remove_name_section(!quick)
        .remove_producers_section(true)
        .out_name("app")
        .generate(folder)
        .context("the WebAssembly cannot be bound for the web")
}

/// Flags that write neutral names in place of the builder's folders.
///
/// The last flag that fits a path wins, so that folders come before what stands inside them.
fn remapped(workspace: &Workspace) -> Result<Vec<String>> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let sysroot = PathBuf::from(output(workspace.command(rustc).args(["--print", "sysroot"]))?.trim());
    let mut folders: Vec<(PathBuf, &str)> = vec![(sysroot.join("lib/rustlib/src/rust"), "rust"), (sysroot, "rust")];
    folders.extend(homes().into_iter().map(|home| (home, "home")));
    folders.push((workspace.target.clone(), "target"));
    folders.push((workspace.root.clone(), "upsweep"));
    folders.extend(package_shelves(workspace).into_iter().map(|shelf| (shelf, "crates")));
    folders.sort_by_key(|(folder, _)| folder.as_os_str().len());
    Ok(folders.iter().map(|(folder, name)| format!("--remap-path-prefix={}={name}", folder.display())).collect())
}

/// Cargo's and rustup's own folders, where they are known.
pub fn homes() -> Vec<PathBuf> {
    let user = std::env::var_os("HOME").or_else(|| std::env::var_os("USERPROFILE")).map(PathBuf::from);
    [("CARGO_HOME", ".cargo"), ("RUSTUP_HOME", ".rustup")]
        .iter()
        .filter_map(|(variable, below)| {
            std::env::var_os(variable).map(PathBuf::from).or_else(|| user.as_ref().map(|user| user.join(below)))
        })
        .collect()
}

/// Folders in which the sources of the packages from outside stand.
fn package_shelves(workspace: &Workspace) -> BTreeSet<PathBuf> {
    let packages = workspace.metadata["packages"].as_array().into_iter().flatten();
    packages
        .filter(|package| !package["source"].is_null())
        .filter_map(|package| Path::new(package["manifest_path"].as_str()?).parent()?.parent())
        .map(Path::to_path_buf)
        .collect()
}
