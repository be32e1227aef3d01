//! A whole site, put together in memory from the page, the assets and the built app.
//!
//! Every file but the page and the service worker carries a piece of its content's hash in its name,
//! and each is named only by files made after it: icons, then the manifest, the style sheet, the
//! app, the scripts, the page, and last the service worker, which lists all the others.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use sha2::{Digest, Sha256};

use crate::wasm::App;
use crate::workspace::{Workspace, files_below};

/// The page's name.
pub const PAGE: &str = "index.html";
/// The service worker's name, which must stay the same for ever.
pub const WORKER: &str = "service-worker.js";

/// Files of a site by name; a name is a path relative to the site's folder.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Site {
    /// Content by name.
    pub files: BTreeMap<String, Vec<u8>>,
}

/// For whom a site is put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// For a developer: it loads itself again when `version.txt` changes, and keeps nothing offline.
    Developing,
    /// For a static host: it works offline after one visit.
    Hosting,
}

impl Site {
    /// Puts a site together.
    ///
    /// # Errors
    /// When an asset is missing, or the page names a file that is not there.
    pub fn build(workspace: &Workspace, app: &App, usage: Use) -> Result<Self> {
        let assets = workspace.root.join("assets");
        let mut making = Making::default();
        making.icons(&assets)?;
        making.add("manifest.webmanifest", read(&assets.join("manifest.webmanifest"))?)?;
        making.add("app.css", style_sheet(&assets.join("css"))?)?;
        making.add("app.wasm", app.wasm.clone())?;
        making.add("app.js", app.script.clone().into_bytes())?;
        making.add("worker.js", read(&assets.join("worker.js"))?)?;
        making.add("rescue.js", read(&assets.join("rescue.js"))?)?;
        making.add("boot.js", read(&assets.join("boot.js"))?)?;
        let page = making.named(workspace.read(PAGE)?);
        let extra = match usage {
            Use::Developing => "<script src=\"reload.js\" defer></script>\n".to_owned(),
            Use::Hosting => format!("<meta name=\"service-worker\" content=\"{WORKER}\">\n"),
        };
        ensure!(page.contains("</head>"), "{PAGE} has no </head>");
        let page = page.replacen("</head>", &format!("{extra}</head>"), 1);
        making.check_used(&page)?;
        let mut site = Self { files: making.files };
        site.files.insert(PAGE.to_owned(), page.into_bytes());
        match usage {
            Use::Developing => {
                site.files.insert("reload.js".to_owned(), RELOAD.as_bytes().to_vec());
                let version = site.version();
                site.files.insert("version.txt".to_owned(), version.into_bytes());
            }
            Use::Hosting => {
                let template = String::from_utf8(read(&assets.join(WORKER))?)?;
                let worker = site.worker(&template)?;
                site.files.insert(WORKER.to_owned(), worker.into_bytes());
            }
        }
        Ok(site)
    }

    /// Reads a site from a folder.
    ///
    /// # Errors
    /// When a file cannot be read, or there is no page.
    pub fn read(folder: &Path) -> Result<Self> {
        let mut files = BTreeMap::new();
        for path in files_below(folder)? {
            let name = path.strip_prefix(folder)?.to_string_lossy().replace('\\', "/");
            files.insert(name, read(&path)?);
        }
        ensure!(files.contains_key(PAGE), "{} holds no {PAGE}", folder.display());
        Ok(Self { files })
    }

    /// Writes the site into a folder, which is emptied first.
    ///
    /// # Errors
    /// When the disk refuses.
    pub fn write(&self, folder: &Path) -> Result<()> {
        if folder.exists() {
            std::fs::remove_dir_all(folder)?;
        }
        for (name, content) in &self.files {
            let path = folder.join(name);
            if let Some(parent) = path.parent() {
                std::fs::create_dir_all(parent)?;
            }
            std::fs::write(&path, content).with_context(|| format!("{} cannot be written", path.display()))?;
        }
        Ok(())
    }

    /// One short text that differs whenever a file differs.
    pub fn version(&self) -> String {
        let mut all = String::new();
        for (name, content) in &self.files {
            let _ = writeln!(all, "{name} {}", hex(content));
        }
        hex(all.as_bytes())[..16].to_owned()
    }

    /// Fills the version and the list of files into the service worker.
    fn worker(&self, template: &str) -> Result<String> {
        let mut list = String::from("const FILES = [\n");
        for (name, content) in &self.files {
            let address = if name == PAGE { "./" } else { name };
            let _ = writeln!(list, "  [\"{address}\", \"sha256-{}\"],", base64(&Sha256::digest(content)));
        }
        list.push_str("];");
        let (version, files) = ("const VERSION = \"\";", "const FILES = [];");
        ensure!(
            template.contains(version) && template.contains(files),
            "assets/{WORKER} must hold the lines `{version}` and `{files}`"
        );
        let filled = template.replacen(version, &format!("const VERSION = \"{}\";", self.version()), 1);
        Ok(filled.replacen(files, &list, 1))
    }
}

/// A site in the making: files so far, and the hashed name of each plain one.
#[derive(Debug, Default)]
struct Making {
    files: BTreeMap<String, Vec<u8>>,
    names: BTreeMap<String, String>,
}

impl Making {
    fn icons(&mut self, assets: &Path) -> Result<()> {
        for path in files_below(&assets.join("icons"))? {
            let name = path.strip_prefix(assets)?.to_string_lossy().replace('\\', "/");
            self.add(&name, read(&path)?)?;
        }
        Ok(())
    }

    /// Adds a file under a hashed name, with the names of earlier files filled in.
    fn add(&mut self, name: &str, content: Vec<u8>) -> Result<()> {
        let text_file = [".js", ".webmanifest"].iter().any(|end| name.ends_with(end));
        let content = if text_file { self.named(String::from_utf8(content)?).into_bytes() } else { content };
        let (stem, extension) = name.rsplit_once('.').with_context(|| format!("{name} has no extension"))?;
        let hashed = format!("{stem}-{}.{extension}", &hex(&content)[..12]);
        self.names.insert(name.to_owned(), hashed.clone());
        self.files.insert(hashed, content);
        Ok(())
    }

    /// Puts hashed names in place of plain ones, wherever one stands in double quotes.
    fn named(&self, mut text: String) -> String {
        for (name, hashed) in &self.names {
            text = text.replace(&format!("\"{name}\""), &format!("\"{hashed}\""));
            text = text.replace(&format!("\"./{name}\""), &format!("\"./{hashed}\""));
        }
        text
    }

    /// Fails when a file of the site is named by no other, which would be dead weight or a slip of the pen.
    fn check_used(&self, page: &str) -> Result<()> {
        let texts: Vec<&str> = std::iter::once(page)
            .chain(self.files.values().filter_map(|content| std::str::from_utf8(content).ok()))
            .collect();
        for (name, hashed) in &self.names {
            let used = texts.iter().any(|text| text.contains(&format!("{hashed}\"")));
            ensure!(used, "neither {PAGE} nor another file names \"{name}\"");
        }
        Ok(())
    }
}

/// Joins the style sheets in name order.
fn style_sheet(folder: &Path) -> Result<Vec<u8>> {
    let mut sheet = String::new();
    for path in files_below(folder)? {
        let text = String::from_utf8(read(&path)?)?;
        ensure!(
            !text.contains("@import") && !text.contains("url("),
            "{} must not load another file (@import, url()): its name would not be hashed",
            path.display()
        );
        sheet.push_str(&text);
        sheet.push('\n');
    }
    Ok(sheet.into_bytes())
}

fn read(path: &Path) -> Result<Vec<u8>> {
    std::fs::read(path).with_context(|| format!("{} cannot be read", path.display()))
}

fn hex(content: &[u8]) -> String {
    Sha256::digest(content).iter().map(|byte| format!("{byte:02x}")).collect()
}

fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let number = three.iter().fold(0u32, |sum, byte| (sum << 8) | u32::from(*byte)) << (8 * (3 - three.len()));
        for place in 0..4 {
            let letter = LETTERS[(number >> (18 - 6 * place)) as usize & 63];
            text.push(if place <= three.len() { letter as char } else { '=' });
        }
    }
    text
}

const RELOAD: &str = r#"// Loads the page again when the site was built again.
(() => {
  "use strict";
  let known = "";
  setInterval(async () => {
    try {
      const version = await (await fetch("version.txt", { cache: "no-store" })).text();
      if (known && version !== known) location.reload();
      known = version;
    } catch { /* the server is being started again */ }
  }, 1000);
})();
"#;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_agrees_with_the_examples_of_rfc_4648() {
        let examples =
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("foobar", "Zm9vYmFy")];
        for (plain, coded) in examples {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn a_later_file_names_an_earlier_one_by_its_hash() {
        let mut making = Making::default();
        making.add("app.js", b"export {}".to_vec()).unwrap();
        making.add("boot.js", b"import \"./app.js\";".to_vec()).unwrap();
        let boot = making.files.iter().find(|(name, _)| name.starts_with("boot-")).unwrap().1;
        let app = &making.names["app.js"];
        assert_eq!(String::from_utf8_lossy(boot), format!("import \"./{app}\";"));
        assert!(making.check_used("<script src=\"none.js\">").is_err(), "boot.js is named nowhere");
    }

    #[test]
    fn a_changed_file_changes_version_and_worker() {
        let template = "const VERSION = \"\";\nconst FILES = [];\n";
        let one = Site { files: BTreeMap::from([(PAGE.to_owned(), b"one".to_vec())]) };
        let two = Site { files: BTreeMap::from([(PAGE.to_owned(), b"two".to_vec())]) };
        assert_ne!(one.version(), two.version());
        assert_ne!(one.worker(template).unwrap(), two.worker(template).unwrap());
        assert!(one.worker("").is_err());
    }
}
