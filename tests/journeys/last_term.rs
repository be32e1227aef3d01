//! A real academy is founded, brings in last term's spreadsheet, takes it back, brings it in again, and moves house.

use std::path::Path;

use anyhow::{Context, Result, ensure};
use serde_json::json;

use crate::hand_over::taken_in;
use crate::support::browser::Browser;

const READY: &str = "150 rows ready, 12 left out, 0 wait for an answer, 4 repeat a row of this file, \
                     0 are in the log already, 0 differ from the log, ";

/// From the first start to the same records on another device.
///
/// # Errors
/// When a step does not do what it should.
pub async fn comes_in(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    preview(browser).await?;
    browser.wait_text(&format!("{READY}53 practice models are new.")).await?;
    ensure!(services(browser).await? == 0, "the preview has written something");
    preview(browser).await?;
    confirm(browser).await?;
    ensure!(services(browser).await? == 150, "the log has {} services", services(browser).await?);
    preview(browser).await?;
    browser.wait_text("0 rows ready, 12 left out, 0 wait for an answer").await?;
    browser.wait_text("150 are in the log already").await?;
    browser.click_text("Undo this import").await?;
    browser.fill("Why", "the wrong file").await?;
    browser.click_text("Undo it").await?;
    browser.wait_text("withdrawn: the wrong file").await?;
    ensure!(services(browser).await? == 0, "undone rows still stand in the log");
    preview(browser).await?;
    browser.wait_text(READY).await?;
    confirm(browser).await?;
    moves_house(browser).await
}

/// Founds an academy with an owner, unlocked, and one trainee.
///
/// # Errors
/// When a step does not do what it should.
pub async fn found(browser: &mut Browser) -> Result<()> {
    browser.goto("#/set-up").await?;
    browser.fill("Name of the academy", "Quayside Lash School").await?;
    browser.fill("Country or region", "uk").await?;
    browser.fill("Emergency number", "999").await?;
    browser.fill("Time zone", "Europe/London").await?;
    browser.fill("Your name, as the owner", "Ottoline Marsh").await?;
    browser.fill("Your PIN", "2468").await?;
    browser.fill("Your PIN again", "2468").await?;
    browser.fill("Passphrase of the academy’s key", "quarters before halves").await?;
    browser.fill("The passphrase again", "quarters before halves").await?;
    browser.click_text("Found the academy").await?;
    browser.wait_for("location.hash === '#/keys'", "the academy to be founded").await?;
    browser.wait_text("kept, sealed by its passphrase").await?;
    browser.goto("#/people").await?;
    browser.fill("Name", "Marisol Quintrell").await?;
    browser.click_text("Enrol").await?;
    browser.wait_text("Marisol Quintrell trainee").await
}

/// Reads the file and answers its questions; the misspelt name is somebody known, the others are new.
///
/// # Errors
/// When a step does not do what it should.
pub async fn preview(browser: &mut Browser) -> Result<()> {
    show(browser, "#/import", "Bring in a spreadsheet").await?;
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("compatibility/spreadsheets/last_term.csv");
    browser.give_file("#sheet-file", &file).await?;
    browser.click_text("Read and show, write nothing").await?;
    browser.wait_text("Preview: nothing is written yet").await?;
    browser.fill("Service times such as 1:25 are", "hours and minutes").await?;
    let asked = "return [...document.querySelectorAll('label span')].map((one) => one.innerText)
        .filter((words) => words.startsWith('Who is “'))";
    let asked = browser.ask(asked, Vec::new()).await?;
    for question in asked.as_array().into_iter().flatten().filter_map(serde_json::Value::as_str) {
        let known = question.contains("Quintrel”");
        browser.fill(question, if known { "Marisol Quintrell" } else { "Enrol as a new trainee" }).await?;
    }
    Ok(())
}

async fn confirm(browser: &mut Browser) -> Result<()> {
    browser.click_text("Import 150 rows").await?;
    browser.wait_text("150 rows were imported as one batch").await
}

/// Goes to a place without loading the page anew, so that the owner stays unlocked.
///
/// # Errors
/// When the place does not open.
pub async fn show(browser: &Browser, hash: &str, title: &str) -> Result<()> {
    browser.ask("location.hash = arguments[0]", vec![json!(hash)]).await?;
    browser.wait_for(&format!("document.querySelector('h1')?.innerText === {}", json!(title)), title).await
}

/// Services that the log lists.
///
/// # Errors
/// When they cannot be counted.
pub async fn services(browser: &Browser) -> Result<u64> {
    show(browser, "#/log", "Log").await?;
    let script = "return document.querySelectorAll('main tbody tr').length";
    browser.ask(script, Vec::new()).await?.as_u64().context("the log cannot be counted")
}

/// Everything in one file gives the same log on an empty device, withdrawn rows included.
async fn moves_house(browser: &mut Browser) -> Result<()> {
    let here = (services(browser).await?, withdrawn(browser).await?);
    ensure!(here == (150, 150), "the log has {} services, {} withdrawn", here.0, here.1);
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    browser.click_text("Save everything as one file").await?;
    let file = browser.handed_out("upsweep-").await?;
    let mut other = Browser::launch().await?;
    let there = restored(&mut other, &file).await;
    other.close().await;
    let there = there?;
    ensure!(here == there, "services and withdrawn ones: {here:?} here, {there:?} there");
    println!("    150 services came in, went, came in again, and moved to an empty device");
    Ok(())
}

async fn restored(other: &mut Browser, file: &Path) -> Result<(u64, u64)> {
    other.goto("#/hand-over").await?;
    taken_in(other, file).await?;
    Ok((services(other).await?, withdrawn(other).await?))
}

/// Services that the log lists as withdrawn, on the log's page.
async fn withdrawn(browser: &Browser) -> Result<u64> {
    let script = "return [...document.querySelectorAll('main h2')].filter((one) => one.innerText === 'Withdrawn')
        .flatMap((one) => [...one.parentElement.querySelectorAll('ul.plain-list a')]).length";
    browser.ask(script, Vec::new()).await?.as_u64().context("the withdrawn rows cannot be counted")
}
