//! Chromedriver: started on a free port, ended with its owner, and the commands that the common protocol lacks.

use std::net::{Ipv4Addr, TcpListener};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use anyhow::{Context, Result, bail};
use fantoccini::wd::{Capabilities, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

/// A running chromedriver.
#[derive(Debug)]
pub struct Driver {
    process: Child,
    address: String,
}

impl Driver {
    /// Starts chromedriver and waits until it listens.
    ///
    /// # Errors
    /// When it is not installed or does not listen within 20 s.
    pub async fn start() -> Result<Self> {
        let port = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?.local_addr()?.port();
        let process = Command::new("chromedriver")
            .arg(format!("--port={port}"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .context("chromedriver cannot be started: install it (Debian: chromium-driver)")?;
        let driver = Self { process, address: format!("http://127.0.0.1:{port}") };
        for _ in 0..200 {
            if std::net::TcpStream::connect((Ipv4Addr::LOCALHOST, port)).is_ok() {
                return Ok(driver);
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        bail!("chromedriver does not listen on its port after 20 s")
    }

    /// Opens a browser on a profile folder.
    ///
    /// # Errors
    /// When Chromium does not start.
    pub async fn session(&self, profile: &Path) -> Result<Client> {
        let chromium = std::env::var("UPSWEEP_CHROMIUM").unwrap_or_else(|_| "chromium".to_owned());
        let mut options = json!({
            "args": [
                "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
                "--disable-dev-shm-usage", "--window-size=1280,900", "--lang=en-GB",
                format!("--user-data-dir={}", profile.display()),
            ],
        });
        options["prefs"] = json!({ "download": {
            "default_directory": downloads(profile).display().to_string(), "prompt_for_download": false,
        } });
        if Path::new(&chromium).is_absolute() {
            options["binary"] = Value::String(chromium);
        }
        let mut capabilities = Capabilities::new();
        capabilities.insert("browserName".to_owned(), json!("chrome"));
        capabilities.insert("goog:chromeOptions".to_owned(), options);
        capabilities.insert("goog:loggingPrefs".to_owned(), json!({ "browser": "ALL" }));
        capabilities.insert("unhandledPromptBehavior".to_owned(), json!("accept"));
        let mut builder = ClientBuilder::new(HttpConnector::new());
        builder.capabilities(capabilities);
        builder.connect(&self.address).await.context("Chromium does not start")
    }
}

/// Folder into which a browser on a profile puts the files it is handed.
pub fn downloads(profile: &Path) -> PathBuf {
    profile.join("handed-out")
}

impl Drop for Driver {
    fn drop(&mut self) {
        // It may be gone already.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A command of chromedriver's own: a path below the session and a body.
#[derive(Debug)]
struct Own {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Own {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.path))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

/// Sends a DevTools command.
///
/// # Errors
/// When the browser does not know it or is gone.
pub async fn devtools(client: &Client, command: &str, parameters: Value) -> Result<Value> {
    let own = Own { path: "goog/cdp/execute", body: json!({ "cmd": command, "params": parameters }) };
    client.issue_cmd(own).await.with_context(|| format!("DevTools command {command}"))
}

/// Takes what the browser's console holds: level and words of each line.
///
/// # Errors
/// When the browser is gone.
pub async fn console(client: &Client) -> Result<Vec<(String, String)>> {
    let lines = client.issue_cmd(Own { path: "se/log", body: json!({ "type": "browser" }) }).await?;
    let text = |line: &Value, key: &str| line[key].as_str().unwrap_or_default().to_owned();
    Ok(lines.as_array().into_iter().flatten().map(|line| (text(line, "level"), text(line, "message"))).collect())
}
