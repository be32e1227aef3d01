//! `cargo xtask dist`: the release site in `dist/`, for any static host and any folder of it.

use anyhow::Result;

use crate::setup;
use crate::site::{Site, Use};
use crate::wasm::{self, Build};
use crate::workspace::Workspace;

/// Folder of the site, from the root.
pub const FOLDER: &str = "dist";
/// What the site should weigh at most, in bytes after brotli.
pub const AIM: usize = 350_000;
/// What it may weigh at most today: views and signals are compiled once for each of their types, and are far
/// from small. It is to come down to [`AIM`]; a raise says in its commit what it buys.
pub const BUDGET: usize = 1_850_000;

/// Size of a site in bytes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Size {
    /// As stored.
    pub raw: usize,
    /// After brotli at its highest level.
    pub brotli: usize,
}

/// Builds the site, writes it, prints and returns its size.
///
/// # Errors
/// When a part cannot be built or written.
pub fn run(workspace: &Workspace) -> Result<Size> {
    setup::wasm_target(workspace)?;
    let mut app = wasm::build(workspace, Build::Release)?;
    app.wasm = wasm::shrink(workspace, app.wasm)?;
    let site = Site::build(workspace, &app, Use::Hosting)?;
    site.write(&workspace.root.join(FOLDER))?;
    let size = print_sizes(&site)?;
    println!("Written to {FOLDER}/, version {}", site.version());
    Ok(size)
}

fn print_sizes(site: &Site) -> Result<Size> {
    let mut all = Size::default();
    println!("{:>10} {:>10}  file", "bytes", "brotli");
    for (name, content) in &site.files {
        let size = Size { raw: content.len(), brotli: squeezed(content)? };
        println!("{:>10} {:>10}  {name}", size.raw, size.brotli);
        all.raw += size.raw;
        all.brotli += size.brotli;
    }
    println!("{:>10} {:>10}  all; after brotli the aim is {AIM}, the bound {BUDGET}", all.raw, all.brotli);
    Ok(all)
}

fn squeezed(content: &[u8]) -> Result<usize> {
    let mut packed = Vec::new();
    let level = brotli::enc::BrotliEncoderParams { quality: 11, lgwin: 22, ..Default::default() };
    brotli::BrotliCompress(&mut &content[..], &mut packed, &level)?;
    Ok(packed.len())
}
