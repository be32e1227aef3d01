//! A full disk gets a sentence and loses nothing, and a broken app hands out what is saved.

use std::path::Path;

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::hand_over::taken_in;
use crate::last_term::{found, preview, services, show};
use crate::support::browser::Browser;

/// Bytes that the site may store: less than a founded academy with its course book takes.
const LITTLE: u64 = 65_000;
/// What every refused step says.
const FULL: &str = "This device is full, so this step was not saved";

/// A trainee and a whole spreadsheet are refused, everything is still read and exported, and with room again both
/// go on.
///
/// # Errors
/// When something is lost, half saved or refused without a sentence.
pub async fn keeps_what_is_there(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    // The browser remembers for a while how much room there was: a new one asks again.
    browser.kill_dash_nine().await?;
    browser.reopen().await?;
    browser.set_quota(Some(LITTLE)).await?;
    browser.open().await?;
    unlock(browser).await?;

    enrol(browser).await?;
    browser.wait_text(FULL).await?;
    ensure!(typed(browser).await? == "Tova Lund", "what was typed is gone: {}", typed(browser).await?);
    ensure!(!listed(browser).await?, "a trainee is listed who was not saved");

    preview(browser).await?;
    browser.click_text("Import 150 rows").await?;
    browser.wait_text(FULL).await?;
    ensure!(services(browser).await? == 0, "a part of the spreadsheet was written");

    for (name, hash) in crate::route::every_route() {
        browser.ask("location.hash = arguments[0]", vec![json!(hash)]).await?;
        browser.wait_for("document.querySelector('main h1')", &format!("{name} on a full disk")).await?;
        ensure!(!browser.page_text().await?.contains("Upsweep has stopped"), "{name} broke on a full disk");
    }
    let copy = exported(browser).await?;
    ensure!(copy.contains("Marisol Quintrell"), "the copy lacks what was saved");
    ensure!(!copy.contains("Tova Lund"), "the copy holds what was refused");
    show(browser, "#/course-book", "Course book").await?;
    browser.wait_text("Lash lift course, example book").await?;

    browser.set_quota(None).await?;
    browser.kill_dash_nine().await?;
    browser.reopen().await?;
    browser.open().await?;
    unlock(browser).await?;
    enrol(browser).await?;
    browser.wait_text("Tova Lund is enrolled").await?;
    ensure!(services(browser).await? == 0, "the log has services that nobody wrote");
    println!("    a full disk refused a trainee and 150 services whole; with room again the trainee was enrolled");
    Ok(())
}

/// The page that stands in for a broken app hands out a copy, which an empty device takes.
///
/// # Errors
/// When there is no page, no copy, or the copy does not come in.
pub async fn broken_app_hands_out(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    browser.ask("window.upsweepRescue('a place in the code', 'upsweep')", Vec::new()).await?;
    browser.wait_text("Upsweep has stopped").await?;
    browser.wait_text("Everything you had confirmed is saved on this device").await?;
    browser.click_text("Save a copy of all records").await?;
    browser.wait_text("The copy holds").await?;
    let file = browser.handed_out("-rescue-").await?;
    let mut other = Browser::launch().await?;
    let outcome = comes_in(&mut other, &file).await;
    other.close().await;
    outcome?;
    browser.click_text("Reload").await?;
    browser.wait_for("document.querySelector('#who-button')", "the app to start again").await?;
    show(browser, "#/people", "People").await?;
    browser.wait_text("Marisol Quintrell").await
}

async fn comes_in(other: &mut Browser, file: &Path) -> Result<()> {
    other.goto("#/hand-over").await?;
    taken_in(other, file).await?;
    show(other, "#/people", "People").await?;
    other.wait_text("Marisol Quintrell").await
}

/// Switches to the owner with the PIN.
pub async fn unlock(browser: &mut Browser) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.click_text("Ottoline Marsh · owner").await?;
    browser.fill("PIN", "2468").await?;
    browser.click_text("Unlock").await?;
    browser.wait_text("· unlocked").await
}

async fn enrol(browser: &mut Browser) -> Result<()> {
    show(browser, "#/people", "People").await?;
    browser.wait_text("Marisol Quintrell").await?;
    if browser.exists("details.form-part:not([open]) #enrol-name").await? {
        browser.click_text("Enrol somebody").await?;
    }
    browser.fill("Name", "Tova Lund").await?;
    browser.click_text("Enrol").await
}

async fn typed(browser: &Browser) -> Result<String> {
    let value = browser.ask("return document.querySelector('#enrol-name').value", Vec::new()).await?;
    Ok(value.as_str().context("the field for the name is gone")?.to_owned())
}

/// Whether the page names the trainee other than in the field.
async fn listed(browser: &Browser) -> Result<bool> {
    let script = "return document.querySelector('main').innerText.includes(arguments[0])";
    Ok(browser.ask(script, vec![json!("Tova Lund")]).await? == Value::Bool(true))
}

async fn exported(browser: &mut Browser) -> Result<String> {
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    browser.click_text("Save everything as one file").await?;
    let file = browser.handed_out("upsweep-").await?;
    let copy = std::fs::read(&file).with_context(|| format!("{} cannot be read", file.display()))?;
    let whole = logbook::hand_over::read(&copy, None).with_context(|| format!("{} bytes are no copy", copy.len()))?;
    Ok(whole.log().lines().collect::<Vec<_>>().join("\n"))
}
