//! One person's browser with a server of the site: what journeys do and ask.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, anyhow, bail, ensure};
use fantoccini::elements::Element;
use fantoccini::{Client, Locator};
use serde_json::{Value, json};
use xtask::server::Server;
use xtask::site::Site;

use super::driver::{self, Driver};
use super::process;

/// How long a journey waits for what should come.
const PATIENCE: Duration = Duration::from_secs(20);

/// A browser on a profile of its own, and the server it visits.
pub struct Browser {
    server: Server,
    profile: PathBuf,
    running: Option<(Client, Driver)>,
    complaints: Vec<String>,
    off: bool,
}

impl Browser {
    /// Starts a server of the built site and a browser with an empty profile.
    ///
    /// # Errors
    /// When there is no built site, or the browser or its driver does not start.
    pub async fn launch() -> Result<Self> {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let site = std::env::var("UPSWEEP_SITE")
            .context("UPSWEEP_SITE names no built site: run `cargo xtask test --only journeys`")?;
        let server = Server::start(Site::read(site.as_ref())?, 0)?;
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let profile = std::env::temp_dir().join(format!("upsweep-journey-{}-{number}", std::process::id()));
        std::fs::create_dir_all(&profile)?;
        let mut browser = Self { server, profile, running: None, complaints: Vec::new(), off: false };
        browser.start().await?;
        Ok(browser)
    }

    async fn start(&mut self) -> Result<()> {
        let driver = Driver::start().await?;
        let client = driver.session(&self.profile).await?;
        self.running = Some((client, driver));
        Ok(())
    }

    fn client(&self) -> Result<&Client> {
        self.running.as_ref().map(|(client, _)| client).ok_or_else(|| anyhow!("the browser is not running"))
    }

    /// Opens the app and waits until it has started.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn open(&mut self) -> Result<()> {
        self.goto("#/").await
    }

    /// Opens a place by its address after `#`, and waits until the app shows it.
    ///
    /// # Errors
    /// When the app does not start.
    pub async fn goto(&mut self, hash: &str) -> Result<()> {
        let address = format!("{}{hash}", self.server.address());
        self.client()?.goto(&address).await?;
        self.wait_for("document.querySelector('h1') && !document.getElementById('starting') && !document.querySelector('.starting')", "the app to start").await?;
        // A page asks the disk for its records after it is drawn.
        tokio::time::sleep(Duration::from_millis(250)).await;
        Ok(())
    }

    /// Opens the app in another window of the same browser and goes there; gives the number of windows.
    ///
    /// # Errors
    /// When the browser opens none.
    pub async fn open_window(&mut self, hash: &str) -> Result<usize> {
        let window = self.client()?.new_window(false).await?;
        self.client()?.switch_to_window(window.handle).await?;
        self.client()?.goto(&format!("{}{hash}", self.server.address())).await?;
        Ok(self.client()?.windows().await?.len())
    }

    /// Goes to a window by its number in the order of opening, from 0.
    ///
    /// # Errors
    /// When there is no such window.
    pub async fn to_window(&self, number: usize) -> Result<()> {
        let windows = self.client()?.windows().await?;
        let window = windows.get(number).cloned().with_context(|| format!("there is no window {number}"))?;
        Ok(self.client()?.switch_to_window(window).await?)
    }

    /// Loads the page again.
    ///
    /// # Errors
    /// When the app does not start again.
    pub async fn reload(&mut self) -> Result<()> {
        self.client()?.refresh().await?;
        self.wait_for("document.querySelector('h1') && !document.getElementById('starting') && !document.querySelector('.starting')", "the app to start").await
    }

    /// Runs a script's body in the page and gives what it returns.
    ///
    /// # Errors
    /// When it throws.
    pub async fn ask(&self, script: &str, arguments: Vec<Value>) -> Result<Value> {
        Ok(self.client()?.execute(script, arguments).await?)
    }

    /// Runs a script's body that calls its last argument when it is done.
    ///
    /// # Errors
    /// When it throws or takes over 30 s.
    pub async fn ask_later(&self, script: &str, arguments: Vec<Value>) -> Result<Value> {
        Ok(self.client()?.execute_async(script, arguments).await?)
    }

    /// Waits until an expression of the page is true.
    ///
    /// # Errors
    /// When it is not within [`PATIENCE`]; says what was waited for.
    pub async fn wait_for(&self, expression: &str, what: &str) -> Result<()> {
        let until = Instant::now() + PATIENCE;
        loop {
            // While the page is being replaced no script runs: that is no answer yet.
            if let Ok(Value::Bool(true)) = self.ask(&format!("return Boolean({expression})"), Vec::new()).await {
                return Ok(());
            }
            if Instant::now() > until {
                bail!(
                    "waited {} s for {what}; the page says: {}",
                    PATIENCE.as_secs(),
                    self.page_text().await.unwrap_or_default()
                );
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Waits until the page shows a text.
    ///
    /// # Errors
    /// When it does not.
    pub async fn wait_text(&self, text: &str) -> Result<()> {
        self.wait_for(&format!("document.body.innerText.includes({})", json!(text)), &format!("the text \"{text}\""))
            .await
    }

    /// All text that the page shows.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn page_text(&self) -> Result<String> {
        Ok(self.ask("return document.body.innerText", Vec::new()).await?.as_str().unwrap_or_default().to_owned())
    }

    /// Whether a selector finds something.
    ///
    /// # Errors
    /// When the selector is none.
    pub async fn exists(&self, css: &str) -> Result<bool> {
        Ok(self.ask("return document.querySelector(arguments[0]) !== null", vec![json!(css)]).await?
            == Value::Bool(true))
    }

    /// Clicks the first button, link, summary or label shown with a text: the whole text, or else a part of it.
    ///
    /// # Errors
    /// When none is shown in time or it cannot be clicked.
    pub async fn click_text(&mut self, text: &str) -> Result<()> {
        let text_of = quoted(text);
        let kinds = "(self::button or self::a or self::summary or self::label or @role='button')";
        let whole = format!("//*[{kinds} and normalize-space(.)={text_of}]");
        let part = format!("//*[{kinds} and contains(normalize-space(.), {text_of})]");
        self.click_first(&[Locator::XPath(&whole), Locator::XPath(&part)], text).await
    }

    /// Clicks the first element shown that a selector finds.
    ///
    /// # Errors
    /// When none is shown in time or it cannot be clicked.
    pub async fn click_css(&mut self, css: &str) -> Result<()> {
        self.click_first(&[Locator::Css(css)], css).await
    }

    async fn click_first(&self, locators: &[Locator<'_>], what: &str) -> Result<()> {
        let until = Instant::now() + PATIENCE;
        let mut last = anyhow!("it is not shown");
        while Instant::now() < until {
            for locator in locators {
                if let Some(element) = self.first_shown(*locator).await? {
                    // A person scrolls until what always stands at an edge covers nothing of the button.
                    let script = "arguments[0].scrollIntoView({ block: 'center' })";
                    drop(self.client()?.execute(script, vec![serde_json::to_value(&element)?]).await);
                    match element.click().await {
                        Ok(()) => return Ok(()),
                        // Drawn anew or covered for a moment: try again.
                        Err(why) => last = why.into(),
                    }
                }
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        let page = self.page_text().await.unwrap_or_default();
        Err(last.context(format!("\"{what}\" cannot be clicked; the page says: {page}")))
    }

    async fn first_shown(&self, locator: Locator<'_>) -> Result<Option<Element>> {
        for element in self.client()?.find_all(locator).await? {
            if element.is_displayed().await.unwrap_or(false) {
                return Ok(Some(element));
            }
        }
        Ok(None)
    }

    /// Fills the field with a label: types a text, chooses an option by its text or value, or ticks by "on" and "off".
    ///
    /// # Errors
    /// When no field has the label, or the choice has no such option.
    pub async fn fill(&mut self, label: &str, text: &str) -> Result<()> {
        let until = Instant::now() + PATIENCE;
        loop {
            let answer = self.ask(FILL, vec![json!(label), json!(text)]).await?;
            match answer.as_str() {
                Some("done") => return Ok(()),
                other if Instant::now() > until => {
                    bail!("the field \"{label}\" cannot be filled: {}", other.unwrap_or("no answer"))
                }
                _ => tokio::time::sleep(Duration::from_millis(100)).await,
            }
        }
    }

    /// Opens a page that stands as a file on the disk.
    ///
    /// # Errors
    /// When it cannot be named or opened.
    pub async fn open_file(&self, path: &std::path::Path) -> Result<()> {
        let path = path.canonicalize()?;
        Ok(self.client()?.goto(&format!("file://{}", path.display())).await?)
    }

    /// Gives a file to the field that takes files, by a selector.
    ///
    /// # Errors
    /// When there is no such field or the file cannot be named.
    pub async fn give_file(&mut self, css: &str, path: &std::path::Path) -> Result<()> {
        let path = path.canonicalize()?;
        // What is unfolded by a click is there a moment after it.
        self.wait_for(&format!("document.querySelector({})", json!(css)), css).await?;
        let field = self.client()?.find(Locator::Css(css)).await?;
        field.send_keys(&path.to_string_lossy()).await?;
        Ok(())
    }

    /// Writes a picture of the window to `target/screens`.
    ///
    /// # Errors
    /// When the picture cannot be taken or written.
    pub async fn screenshot(&self, name: &str) -> Result<()> {
        let folder = PathBuf::from(std::env::var("UPSWEEP_SCREENS").unwrap_or_else(|_| "target/screens".to_owned()));
        std::fs::create_dir_all(&folder)?;
        std::fs::write(folder.join(format!("{name}.png")), self.client()?.screenshot().await?)?;
        Ok(())
    }

    /// Sets the size of the page in CSS pixels.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn set_window(&mut self, width: u32, height: u32) -> Result<()> {
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.devtools("Emulation.setDeviceMetricsOverride", size).await.map(drop)
    }

    /// Asks for the dark or the light colours.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn dark(&mut self, dark: bool) -> Result<()> {
        let scheme = if dark { "dark" } else { "light" };
        let media = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        self.devtools("Emulation.setEmulatedMedia", media).await.map(drop)
    }

    /// Moves the browser to a time zone by its name, such as `Europe/Lisbon`, until it is started again.
    ///
    /// # Errors
    /// When the browser does not know the zone.
    pub async fn set_time_zone(&mut self, zone: &str) -> Result<()> {
        self.devtools("Emulation.setTimezoneOverride", json!({ "timezoneId": zone })).await.map(drop)
    }

    /// Sets how many bytes the site may store on the device; none: as many as the browser allows.
    ///
    /// # Errors
    /// When the browser refuses.
    pub async fn set_quota(&mut self, bytes: Option<u64>) -> Result<()> {
        let mut quota = json!({ "origin": self.server.address().trim_end_matches('/') });
        if let Some(bytes) = bytes {
            quota["quotaSize"] = json!(bytes);
        }
        self.devtools("Storage.overrideQuotaForOrigin", quota).await.map(drop)
    }

    /// Waits for a file that the app handed out, by a part of its name, and gives its path.
    ///
    /// # Errors
    /// When none is complete in time.
    pub async fn handed_out(&self, part: &str) -> Result<PathBuf> {
        let folder = driver::downloads(&self.profile);
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
                let name = entry.file_name().to_string_lossy().into_owned();
                if name.contains(part) && !name.ends_with(".crdownload") {
                    return Ok(entry.path());
                }
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        bail!("no file with \"{part}\" in its name was handed out")
    }

    /// Sends a DevTools command.
    ///
    /// # Errors
    /// When the browser does not know it.
    pub async fn devtools(&self, command: &str, parameters: Value) -> Result<Value> {
        driver::devtools(self.client()?, command, parameters).await
    }

    /// Takes the network away by switching the server off, or gives it back.
    pub fn offline(&mut self, off: bool) {
        self.off |= off;
        self.server.set_reachable(!off);
    }

    /// Waits until the service worker holds the whole site.
    ///
    /// # Errors
    /// When it does not come to that.
    pub async fn wait_until_kept(&self) -> Result<()> {
        let script = "const done = arguments[arguments.length - 1];
            const settled = (worker) => worker.state === 'activated' ? done('activated')
              : worker.addEventListener('statechange', () => settled(worker), { once: true });
            navigator.serviceWorker.ready.then((found) => settled(found.active), (why) => done(String(why)));";
        let state = self.ask_later(script, Vec::new()).await?;
        ensure!(state == json!("activated"), "the service worker is {state}");
        Ok(())
    }

    /// Kills the browser, all its processes at once, as a power cut would.
    ///
    /// # Errors
    /// When it was not running, or something of it lives on.
    pub async fn kill_dash_nine(&mut self) -> Result<()> {
        let (client, driver) = self.running.take().context("the browser is not running")?;
        let tree = process::tree_of(&self.profile);
        process::kill_dash_nine(&tree)?;
        let until = Instant::now() + PATIENCE;
        while !process::tree_of(&self.profile).is_empty() {
            ensure!(Instant::now() < until, "the browser lives on after kill -9");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        drop(client);
        drop(driver);
        Ok(())
    }

    /// Starts the browser again on the same profile, after [`Self::kill_dash_nine`].
    ///
    /// # Errors
    /// When it does not start.
    pub async fn reopen(&mut self) -> Result<()> {
        ensure!(self.running.is_none(), "the browser still runs");
        self.start().await
    }

    /// Errors that the page wrote to the console so far, breaches of the content security policy among them.
    ///
    /// A file that could not be fetched is none after the network was taken away.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn complaints(&mut self) -> Result<Vec<String>> {
        let Some((client, _)) = &self.running else { return Ok(self.complaints.clone()) };
        let off = self.off;
        let severe =
            driver::console(client).await?.into_iter().filter(|(level, _)| level == "SEVERE").map(|(_, words)| words);
        let new: Vec<String> = severe.filter(|words| !(off && words.contains("net::ERR_"))).collect();
        self.complaints.extend(new);
        Ok(self.complaints.clone())
    }

    /// Forgets the complaints that a journey provoked and has looked at.
    pub fn forget_complaints(&mut self) {
        self.complaints.clear();
    }

    /// Ends the browser and removes its profile.
    pub async fn close(mut self) {
        if let Some((client, driver)) = self.running.take() {
            // It may have ended by itself; what is left is removed below.
            drop(client.close().await);
            drop(driver);
        }
        let left = process::tree_of(&self.profile);
        if !left.is_empty() {
            drop(process::kill_dash_nine(&left));
        }
        drop(std::fs::remove_dir_all(&self.profile));
    }
}

/// A text as XPath writes it, whichever quotes it holds.
fn quoted(text: &str) -> String {
    if !text.contains('\'') {
        return format!("'{text}'");
    }
    let parts: Vec<String> = text.split('\'').map(|part| format!("'{part}'")).collect();
    format!("concat({})", parts.join(", \"'\", "))
}

const FILL: &str = r#"
const [wanted, text] = arguments;
const plain = (value) => value.replace(/\s+/g, " ").trim();
const labels = [...document.querySelectorAll("label, legend")].filter((label) => label.getClientRects().length);
const label = labels.find((label) => plain(label.textContent) === wanted)
  ?? labels.find((label) => plain(label.textContent).startsWith(wanted))
  ?? labels.find((label) => plain(label.textContent).includes(wanted));
const field = label?.control ?? label?.querySelector("input, select, textarea")
  ?? document.querySelector(`[aria-label="${CSS.escape(wanted)}"]`);
if (!field) return "no field has this label";
field.focus();
if (field.type === "checkbox" || field.type === "radio") {
  if (field.checked !== (text !== "off")) field.click();
  return "done";
}
let value = text;
if (field.tagName === "SELECT") {
  const options = [...field.options];
  const option = options.find((option) => plain(option.text) === text) ?? options.find((option) => option.value === text)
    ?? options.find((option) => plain(option.text).includes(text));
  if (!option) return `no such option: ${text}; there are: ${options.map((option) => option.text).join(", ")}`;
  value = option.value;
}
const kind = field.tagName === "SELECT" ? HTMLSelectElement : field.tagName === "TEXTAREA" ? HTMLTextAreaElement : HTMLInputElement;
Object.getOwnPropertyDescriptor(kind.prototype, "value").set.call(field, value);
field.dispatchEvent(new Event("input", { bubbles: true }));
field.dispatchEvent(new Event("change", { bubbles: true }));
return field.value === value ? "done" : `the field holds "${field.value}" instead`;
"#;
