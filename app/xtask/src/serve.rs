//! `cargo xtask serve`: builds, serves on this machine, opens the browser, builds again on change.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant, SystemTime};

use anyhow::Result;

use crate::server::Server;
use crate::setup;
use crate::site::{Site, Use};
use crate::wasm::{self, Build};
use crate::workspace::{Workspace, files_below, is_there};

/// Port that is tried first when none is asked for.
const USUAL_PORT: u16 = 8080;
/// How often files are looked at for changes.
const EVERY: Duration = Duration::from_millis(500);
/// What the site is made of, from the root.
const WATCHED: [&str; 9] = [
    "app/academy",
    "app/logbook",
    "app/practicum",
    "app/proficiency",
    "assets",
    "course-content",
    "index.html",
    "Cargo.toml",
    "Cargo.lock",
];

/// What the developer asked for.
#[derive(Debug, Clone)]
pub struct Options {
    /// Port on the loopback address; none: the usual one, or any free one when it is taken.
    pub port: Option<u16>,
    /// Whether to open the browser.
    pub open: bool,
    /// Whether to build what would be published.
    pub release: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self { port: None, open: true, release: false }
    }
}

/// Builds and serves until the program is ended.
///
/// # Errors
/// When the first build fails or the port is taken; later failures are only printed.
pub fn run(workspace: &Workspace, options: &Options) -> Result<()> {
    let start = Instant::now();
    println!("[1/4] WebAssembly target");
    setup::wasm_target(workspace)?;
    println!("[2/4] Building the app (a first build takes some minutes, later ones seconds)");
    let mut seen = times(&workspace.root);
    let site = build(workspace, options)?;
    println!("[3/4] Starting the server");
    let server = match options.port {
        Some(port) => Server::start(site, port)?,
        None => Server::start(site.clone(), USUAL_PORT).or_else(|_| Server::start(site, 0))?,
    };
    println!("[4/4] Ready after {:.0} s: {}", start.elapsed().as_secs_f64(), server.address());
    println!("      It is built again when a file changes. Ctrl+C ends it.");
    if options.open {
        open(&server.address());
    }
    loop {
        std::thread::sleep(EVERY);
        let now = times(&workspace.root);
        if now == seen {
            continue;
        }
        seen = now;
        let start = Instant::now();
        println!("Changed: building again ...");
        match build(workspace, options) {
            Ok(site) => {
                server.replace(site);
                println!("Ready after {:.1} s: {}", start.elapsed().as_secs_f64(), server.address());
            }
            Err(why) => println!("The page stays as it was: {why:#}"),
        }
    }
}

fn build(workspace: &Workspace, options: &Options) -> Result<Site> {
    let build = if options.release { Build::Release } else { Build::Quick };
    Site::build(workspace, &wasm::build(workspace, build)?, Use::Developing)
}

/// When each watched file was last written.
fn times(root: &Path) -> BTreeMap<PathBuf, SystemTime> {
    let mut times = BTreeMap::new();
    for watched in WATCHED {
        let path = root.join(watched);
        let files = if path.is_file() { vec![path] } else { files_below(&path).unwrap_or_default() };
        for file in files {
            // A file may vanish between the listing and this look: then it is no longer there to watch.
            if let Ok(time) = std::fs::metadata(&file).and_then(|facts| facts.modified()) {
                times.insert(file, time);
            }
        }
    }
    times
}

/// Opens the address in the browser, and says so when it cannot.
fn open(address: &str) {
    let (program, arguments): (&str, &[&str]) = if cfg!(windows) {
        ("cmd", &["/C", "start", ""])
    } else if cfg!(target_os = "macos") {
        ("open", &[])
    } else {
        ("xdg-open", &[])
    };
    let started = (cfg!(windows) || is_there(program))
        && Command::new(program)
            .args(arguments)
            .arg(address)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .is_ok();
    if !started {
        println!("      No browser could be opened from here: open the address yourself.");
    }
}
