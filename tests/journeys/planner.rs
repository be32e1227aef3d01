//! Planning ahead at the couch, choosing the rule of a trial with open eyes, and opening a trial by it.

use anyhow::{Context, Result, ensure};
use serde_json::json;

use crate::couch::{TRAINEE, be_the_trainee, demo};
use crate::last_term::show;
use crate::support::browser::Browser;

/// Line of the rule that is picked, as the page tells it.
const PICKED: &str = "rule = \"8 in a row\"";
/// Line of a rule that passes nearly everybody.
const THREE: &str = "rule = \"3 in all\"";

/// From the layout before a service, by the table of rules and a new edition, to a trial in the standing.
///
/// # Errors
/// When a step does not do what it should.
pub async fn plans_and_opens(browser: &mut Browser) -> Result<()> {
    demo(browser).await?;
    be_the_trainee(browser).await?;
    lanes(browser).await?;
    unlock(browser, "Orla Vasquez-Thorne (demo)").await?;
    pick_a_rule(browser).await?;
    unlock(browser, "Mirela Tofte (demo)").await?;
    open_a_trial(browser).await
}

/// Lays a service out before it, below the way to the clock, and at a plan never worked says why not.
async fn lanes(browser: &mut Browser) -> Result<()> {
    show(browser, "#/couch", "At the couch").await?;
    ensure!(!browser.exists(".two-eyes svg").await?, "the layout stands in the way before it is asked for");
    browser.click_text("Plan ahead: two eyes, one pair of hands").await?;
    browser.wait_for("document.querySelector('.two-eyes svg')", "the layout").await?;
    browser.wait_text("One eye after the other: ").await?;
    let bars = "document.querySelectorAll('.two-eyes tbody tr').length > 15";
    browser.wait_for(bars, "the layout as a table").await?;
    browser.click_text("Thirds").await?;
    browser.wait_text("Nothing can be laid out yet in thirds: no service at this plan").await
}

/// Reads the table of rules, is warned of three observed services, and adopts eight in a row.
async fn pick_a_rule(browser: &mut Browser) -> Result<()> {
    show(browser, "#/course-book", "Course book").await?;
    browser.click_text("Choosing the rule of the trial").await?;
    browser.wait_text("✓ the learning chart").await?;
    for rule in [THREE, PICKED, "rule = \"sequential test\""] {
        browser.wait_text(rule).await?;
    }
    browser.click_text("Save the course book as a text file").await?;
    let file = browser.handed_out("course-book").await?;
    let text = std::fs::read_to_string(&file)?;
    let edit = |run: u32, rule: &str, edition: &str| {
        text.replacen("shortest_run = 8", &format!("shortest_run = {run}\n{rule}"), 1).replacen(
            "edition = \"2\"",
            &format!("edition = \"{edition}\""),
            1,
        )
    };
    let edited = file.with_file_name("edited.txt");
    std::fs::write(&edited, edit(3, THREE, "3"))?;
    browser.give_file("#course-book-file", &edited).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("passes 100.0 times in 100, and “alpha” allows 10.0").await.context("three in all unawares")?;
    std::fs::write(&edited, edit(8, PICKED, "3"))?;
    browser.give_file("#course-book-file", &edited).await?;
    browser.click_text("Check this file").await?;
    browser.click_text("Adopt this course book").await?;
    // The page is drawn anew for the new book, its parts shut.
    browser.wait_text("In force: Lash lift course, example book, edition 3").await?;
    browser.wait_for("!document.querySelector('.book-part[open]')", "the parts to be shut").await?;
    browser.click_text("Choosing the rule of the trial").await?;
    browser.wait_text("✓ 8 acceptable services in a row").await
}

/// Opens a trial for the trainee, sees its rule, what a second one would risk, and the trial in the standing.
async fn open_a_trial(browser: &mut Browser) -> Result<()> {
    browser.goto("#/sign-off/demo-trainee-1/whole-service").await?;
    browser.wait_text(&format!("full width: {TRAINEE}")).await?;
    browser.click_text("Open a trial").await?;
    browser.wait_text("Decided by this rule: 8 acceptable services in a row").await?;
    browser.click_text("Open the trial").await?;
    browser.wait_text("The trial is opened.").await?;
    browser.wait_text("This would be trial 2").await?;
    browser.wait_text("8 more acceptable in a row").await?;
    browser.goto("#/progress/demo-trainee-1").await?;
    browser.wait_text("Trial at the plan of the sign-off").await?;
    browser.wait_text("the academy allows 10 in 100").await?;
    browser.click_text("Services of trial 1, and how this was worked out").await?;
    browser.wait_text("The rule of the course book it was opened under: 8 acceptable services in a row").await
}

/// Sets a PIN for somebody who has none here, and unlocks with it.
async fn unlock(browser: &mut Browser, name: &str) -> Result<()> {
    ask(browser, name).await?;
    browser.fill("New PIN", "2468").await?;
    browser.fill("New PIN again", "2468").await?;
    browser.click_text("Set PIN").await?;
    let set = "!document.querySelector('[id^=pin-new-]')";
    browser.wait_for(set, "the PIN to be set").await?;
    ask(browser, name).await?;
    browser.fill("PIN", "2468").await?;
    browser.click_css(".who-pin button").await?;
    let known = "document.querySelector('#who-button').innerText.includes(arguments[0])";
    let until = std::time::Instant::now() + std::time::Duration::from_secs(20);
    while browser.ask(&format!("return {known}"), vec![json!(name)]).await? != json!(true) {
        ensure!(std::time::Instant::now() < until, "{name} did not unlock");
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    Ok(())
}

/// Taps somebody in the list of people, which it opens when it is shut.
async fn ask(browser: &mut Browser, name: &str) -> Result<()> {
    let shut = "document.querySelector('#who-button').getAttribute('aria-expanded') !== 'true'";
    if browser.ask(&format!("return {shut}"), Vec::new()).await? == json!(true) {
        browser.click_css("#who-button").await?;
    }
    browser.wait_for("document.querySelector('.who-person')", "the list of people").await?;
    if !browser.exists(".who-pin, [id^=pin-new-]").await? {
        browser.click_text(name).await?;
    }
    browser.wait_for("document.querySelector('.who-pin, [id^=pin-new-]')", "the PIN to be asked").await
}
