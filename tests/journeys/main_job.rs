//! The main job: a service worked live at the couch, cut short by a kill of the browser and then by a reaction.

use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use serde_json::json;

use crate::couch;
use crate::support::browser::Browser;

/// Seconds by which a clock may differ from the wall clock after the browser was killed.
const SLACK: u64 = 3;

/// From the start page to a stopped service with its incident.
///
/// # Errors
/// When a step does not do what it should.
pub async fn through(browser: &mut Browser) -> Result<()> {
    couch::demo(browser).await?;
    couch::be_the_trainee(browser).await?;
    pictures(browser, "start").await?;
    let taps = couch::begin(browser).await?;
    println!("    {taps} taps from the start page to the running clock");
    ensure!(taps <= 3, "{taps} taps to a running clock");
    pictures(browser, "couch-preparation").await?;
    couch::prepare(browser).await?;
    to_the_check(browser).await?;
    lotion_waits_for_its_answers(browser).await?;
    let began = lotion_on_the_left(browser).await?;
    pictures(browser, "couch-dwell").await?;
    killed_during_the_dwell(browser, began).await?;
    reaction(browser).await
}

/// A service of the demo, worked until lotion is on the left eye.
///
/// # Errors
/// When a step does not do what it should.
pub async fn until_lotion(browser: &mut Browser) -> Result<Instant> {
    couch::demo(browser).await?;
    couch::be_the_trainee(browser).await?;
    couch::begin(browser).await?;
    couch::prepare(browser).await?;
    to_the_check(browser).await?;
    lotion_waits_for_its_answers(browser).await?;
    lotion_on_the_left(browser).await
}

/// Works every stage before the check; no lotion is offered on the way.
async fn to_the_check(browser: &mut Browser) -> Result<()> {
    let mut lanes = couch::shown(browser).await?;
    for _ in 0..40 {
        ensure!(!lanes.contains("Lotion on"), "lotion is offered before the check: {lanes}");
        if lanes.contains("Check starts") {
            return Ok(());
        }
        couch::onward(browser).await?;
        // One tap may record two acts, each shown when it is saved: the next tap is for what the last one shows.
        tokio::time::sleep(Duration::from_millis(300)).await;
        lanes = couch::shown(browser).await?;
    }
    anyhow::bail!("the check never came: {lanes}")
}

/// After the check lotion stays locked until the sensitivity tests were looked at.
async fn lotion_waits_for_its_answers(browser: &mut Browser) -> Result<()> {
    couch::onward(browser).await?;
    let checking = couch::shown(browser).await?;
    ensure!(checking.contains("Checked: go on"), "the check has not started: {checking}");
    browser.click_text("Checked: go on").await?;
    browser.wait_text("Choose who looked, then tap again.").await?;
    couch::onward(browser).await?;
    browser.wait_text("Lotion is locked").await?;
    ensure!(!couch::shown(browser).await?.contains("Lotion on"), "lotion is locked and offered");
    pictures(browser, "couch-locked").await?;
    couch::open_step(browser, "Sensitivity tests").await?;
    browser.click_text("Looked at today").await?;
    couch::answered(browser, "Sensitivity tests").await?;
    browser.wait_for(&format!("({}).includes('Lotion on')", couch::LANES), "lotion to be offered").await
}

async fn lotion_on_the_left(browser: &mut Browser) -> Result<Instant> {
    let began = Instant::now();
    couch::tap(browser, ".lane-left .couch-primary").await?;
    couch::tap(browser, ".lane-left .couch-primary").await?;
    browser.wait_text("since first contact").await?;
    Ok(began)
}

/// Kill -9 while the dwell runs: the service is where it was, the dwell clock goes by the wall clock.
async fn killed_during_the_dwell(browser: &mut Browser, began: Instant) -> Result<()> {
    let before = couch::shown(browser).await?;
    browser.kill_dash_nine().await?;
    tokio::time::sleep(Duration::from_secs(4)).await;
    browser.reopen().await?;
    browser.open().await?;
    browser.click_text("Go on with the service under way").await?;
    browser.wait_text("since first contact").await?;
    let after = couch::shown(browser).await?;
    ensure!(before == after, "before the kill: {before}; after it: {after}");
    let (clock, wall) = (first_contact(browser).await?, began.elapsed().as_secs());
    println!("    after kill -9 the dwell clock says {clock} s, the wall clock {wall} s");
    ensure!(clock.abs_diff(wall) <= SLACK, "the dwell clock says {clock} s after {wall} s");
    Ok(())
}

/// Seconds since first contact on the left eye, as its lane says them.
async fn first_contact(browser: &Browser) -> Result<u64> {
    let script = "return document.querySelector('.lane-left .countdown-two').innerText.split(' ')[0]";
    let said = browser.ask(script, Vec::new()).await?;
    let said = said.as_str().context("no dwell clock")?;
    said.split(':').try_fold(0, |sum, part| Ok(sum * 60 + part.parse::<u64>()?))
}

/// One tap shows the first response; the service closes as stopped, with its incident.
async fn reaction(browser: &mut Browser) -> Result<()> {
    // On a phone, scrolled as far down as the page goes: the first line must be in sight at once all the same.
    browser.set_window(360, 740).await?;
    browser.ask("window.scrollTo(0, document.documentElement.scrollHeight)", Vec::new()).await?;
    browser.click_text("■ Reaction").await?;
    browser.wait_text("Stop. Take the product off both eyes now.").await?;
    let in_sight = "(() => { const line = document.querySelector('.reaction-first').getBoundingClientRect();
        return 0 <= line.top && line.bottom <= innerHeight && document.activeElement.id === 'reaction-first' })()";
    browser.wait_for(in_sight, "the first line of the reaction to be in sight and to have the focus").await?;
    browser.wait_text("Emergency number: 999 (demo)").await?;
    pictures(browser, "reaction").await?;
    let hold = "Hold to close the service: stopped, reaction";
    browser.click_text(hold).await?;
    browser.wait_text("Not done yet").await?;
    tokio::time::sleep(Duration::from_millis(600)).await;
    browser.click_text(hold).await?;
    browser.wait_text("How did it go?").await?;
    pictures(browser, "finish").await?;
    killed_at_the_finish(browser).await?;
    browser.click_text("Save the record").await?;
    browser.wait_text("Say whether there was swelling of the face or trouble breathing.").await?;
    couch::choose(browser, "Swelling of the face, or trouble breathing?", "No").await?;
    browser.click_text("Save the record").await?;
    browser.wait_for("location.hash.startsWith('#/service/')", "the service's page").await?;
    browser.wait_text("stopped, reaction").await?;
    browser.wait_text("stinging, left").await?;
    browser.wait_for("/incident/i.test(document.querySelector('main').innerText)", "the incident").await?;
    pictures(browser, "service").await?;
    let runs = "document.querySelector('.under-way') === null";
    browser.wait_for(runs, "the run to have ended").await
}

/// Kill -9 while the finish is being filled in: every answer is there again, and can be changed and saved.
async fn killed_at_the_finish(browser: &mut Browser) -> Result<()> {
    let note = "Watered a little; \"fine\" <b>afterwards</b> 😀";
    browser.fill("Note", note).await?;
    browser.fill("Comfort: stinging, watering, anything said", "stinging, left").await?;
    browser.fill("Rinsed for, in minutes and seconds such as 15:00", "15:0").await?;
    let marked =
        "const level = [...document.querySelectorAll('.criterion')].at(-1).querySelector('input:not(:disabled)');
        level.click(); document.querySelector('.fault-side input').click(); return level.id";
    let level = browser.ask(marked, Vec::new()).await?;
    browser.wait_for(KEPT, "the answers to be kept").await?;
    browser.kill_dash_nine().await?;
    browser.reopen().await?;
    browser.open().await?;
    browser.click_text("Go on with the service under way").await?;
    browser.wait_text("How did it go?").await?;
    let held =
        "return [...document.querySelectorAll('.finish textarea, .finish input[type=text]')].map((one) => one.value)";
    let held = browser.ask(held, Vec::new()).await?;
    ensure!(held == json!(["15:0", "stinging, left", note]), "after the kill the finish holds {held}");
    let again =
        "return [document.getElementById(arguments[0])?.checked, document.querySelector('.fault-side input').checked]";
    let again = browser.ask(again, vec![level]).await?;
    ensure!(again == json!([true, true]), "after the kill the mark and the fault are {again}");
    browser.fill("Rinsed for, in minutes and seconds such as 15:00", "15:00").await?;
    browser.wait_for(KEPT, "the corrected answer to be kept").await
}

/// Whether every answer at the finish is on the disk.
const KEPT: &str = "document.querySelector('.kept')?.innerText.includes('Every answer so far is kept')";

/// Pictures of a phone and a desk, in light and dark.
async fn pictures(browser: &mut Browser, name: &str) -> Result<()> {
    for (width, height) in [(360, 740), (1280, 800)] {
        browser.set_window(width, height).await?;
        for (dark, word) in [(true, "dark"), (false, "light")] {
            browser.dark(dark).await?;
            browser.screenshot(&format!("{name}-{width}-{word}")).await?;
        }
    }
    Ok(())
}
