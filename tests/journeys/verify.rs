//! A record is verified by somebody without an academy, and what the owner erases is gone from the storage.

use std::path::Path;

use anyhow::{Result, ensure};
use serde_json::json;

use crate::support::browser::Browser;

/// A true file holds, a forged one is told, another file is refused, and nothing of it is kept.
///
/// # Errors
/// When a step does not do what it should.
pub async fn by_anybody(browser: &mut Browser) -> Result<()> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/data/record");
    browser.goto("#/verify").await?;
    browser.give_file("#verify-file", &data.join("record.json")).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("Everything in this file that was signed holds under the key below.").await?;
    browser.wait_text("All 2 entries that it stands on are in this file, unchanged.").await?;
    browser.fill("Fingerprint as printed (optional)", "34750-f98bd-59fcf-c946d").await?;
    browser.wait_text("The same: this is the key that was printed.").await?;
    browser.fill("Fingerprint as printed (optional)", "34750-f98bd-59fcf-c946e").await?;
    browser.wait_text("Not the same: do not trust this file before you know why.").await?;
    browser.give_file("#verify-file", &data.join("forged.json")).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("Not everything holds: 1 entry does not hold.").await?;
    browser.wait_text("Does not hold: signed by a key that may not sign this.").await?;
    browser.give_file("#verify-file", &data.join("SOURCE.md")).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("This is no record file, hand-over file or backup of Upsweep").await?;
    ensure!(stored(browser).await?.is_empty(), "verifying has written something");
    Ok(())
}

/// The owner erases who a practice model is: a hold refuses it, then it is gone from the packs on the disk.
///
/// # Errors
/// When a step does not do what it should.
pub async fn erases(browser: &mut Browser) -> Result<()> {
    crate::last_term::found(browser).await?;
    browser.goto("#/practice-models").await?;
    browser.fill("Code", "PM-001").await?;
    browser.fill("Birth date", "1995-04-01").await?;
    browser.click_css("main form button[type=submit]").await?;
    browser.wait_text("Particulars and contact").await?;
    browser.fill("Name (optional)", "Wilhelmina Invented").await?;
    browser.click_text("Note contact").await?;
    browser.wait_text("The contact is noted").await?;
    ensure!(stored(browser).await?.contains("Wilhelmina Invented"), "the contact was not stored");
    browser.click_text("Erase who this is, for good").await?;
    browser.wait_text("Nothing brings it back.").await?;
    browser.click_text("Place a hold: this must be kept for now").await?;
    browser.click_text("a claim").await?;
    browser.fill("Which claim or law", "claim of 2 March").await?;
    browser.click_text("Place the hold").await?;
    browser.wait_text("for a claim: claim of 2 March").await?;
    erase(browser).await?;
    browser.wait_text("Lift it first; nothing was erased.").await?;
    browser.fill("Why it is lifted", "settled").await?;
    browser.click_text("Lift this hold").await?;
    browser.wait_text("No hold stands").await?;
    erase(browser).await?;
    browser.wait_text("Erased on this device").await?;
    browser.reload().await?;
    let stored = stored(browser).await?;
    ensure!(!stored.contains("Wilhelmina") && !stored.contains("1995-04-01"), "what was erased is on the disk still");
    ensure!(stored.contains("PM-001"), "the code is gone as well");
    browser.goto("#/problems").await?;
    browser.wait_text("Everything on this device holds together.").await
}

async fn erase(browser: &mut Browser) -> Result<()> {
    browser.fill("Why", "asked for it").await?;
    browser.fill("Type “PM-001” to go on", "PM-001").await?;
    browser.click_css("main .button-danger").await
}

/// Returns everything that the packs on the disk hold.
async fn stored(browser: &Browser) -> Result<String> {
    let script = "const done = arguments[0], open = indexedDB.open('upsweep'); open.onsuccess = () => { \
                  const packs = open.result.transaction('packs').objectStore('packs').getAll(); \
                  packs.onsuccess = () => { open.result.close(); done(packs.result.join('\\n')); }; };";
    let packs = browser.ask_later(script, Vec::new()).await?;
    Ok(packs.as_str().unwrap_or(&json!("").to_string()).to_owned())
}
