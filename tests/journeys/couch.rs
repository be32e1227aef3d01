//! What a trainee does at the couch, step by step, for the journeys that work a service.

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::support::browser::Browser;

/// Name of the trainee who works; one of the demo's.
pub const TRAINEE: &str = "Anouk Ferreira-Lind (demo)";

/// Opens the demo group on an empty device.
pub async fn demo(browser: &mut Browser) -> Result<()> {
    browser.goto("#/set-up").await?;
    browser.click_text("Look around with the demo").await?;
    browser.wait_text("Demo: everybody and everything here is invented").await?;
    browser.goto("#/").await
}

/// Switches to the trainee; two taps.
pub async fn be_the_trainee(browser: &mut Browser) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.click_text(TRAINEE).await?;
    browser.wait_for("document.querySelector('#who-button').innerText.includes('Anouk')", "the switch").await
}

/// Begins a service from the start page and gives how many taps it took until the clock ran.
pub async fn begin(browser: &mut Browser) -> Result<u32> {
    let mut taps = 0;
    for words in ["Start a service or drill", "Begin: the clock starts"] {
        browser.click_text(words).await?;
        taps += 1;
    }
    browser.wait_for("document.querySelector('.lane .lane-clock')", "the couch").await?;
    if !browser.exists(".lane-running").await? {
        browser.click_css(".lane .couch-primary").await?;
        taps += 1;
    }
    browser
        .wait_for("document.querySelector('.lane-running .lane-clock')?.innerText > '0:00'", "a running clock")
        .await?;
    Ok(taps)
}

/// Chooses one of a row of large choices by the question and the words, or the first one for empty words.
pub async fn choose(browser: &Browser, question: &str, words: &str) -> Result<()> {
    let script = "const [question, words] = arguments;
        const plain = (node) => node.textContent.replace(/\\s+/g, ' ').trim();
        const group = [...document.querySelectorAll('fieldset')].find((one) => plain(one.querySelector('legend')) === question);
        const chips = group ? [...group.querySelectorAll('label')] : [];
        const chip = words === '' ? chips[0] : chips.find((one) => plain(one) === words);
        chip?.click();
        return chip ? 'done' : `no “${words}” among: ${chips.map(plain).join(', ')}`;";
    let answer = browser.ask(script, vec![json!(question), json!(words)]).await?;
    ensure!(answer == json!("done"), "the question “{question}” has {answer}");
    Ok(())
}

/// Opens a step of the preparation.
pub async fn open_step(browser: &mut Browser, name: &str) -> Result<()> {
    if !browser.exists(".step-head").await? {
        browser.click_text("Show preparation").await?;
    }
    let script = "const head = [...document.querySelectorAll('.step-head')]
          .find((one) => one.querySelector('.step-name').textContent === arguments[0]);
        if (head && head.getAttribute('aria-expanded') !== 'true') head.click();
        return Boolean(head)";
    ensure!(browser.ask(script, vec![json!(name)]).await? == json!(true), "there is no step “{name}”");
    Ok(())
}

/// Waits until a step says that it is answered, or the whole list has been put away because nothing is missing.
pub async fn answered(browser: &Browser, name: &str) -> Result<()> {
    let heads = "[...document.querySelectorAll('.step-head')]";
    let expression = format!(
        "!{heads}.length || {heads}.some((one) => one.innerText.includes({0}) && one.innerText.includes('✓'))",
        json!(name)
    );
    browser.wait_for(&expression, &format!("“{name}” to be answered")).await
}

/// Answers everything that is asked before lotion, but for the look at the sensitivity tests.
pub async fn prepare(browser: &mut Browser) -> Result<()> {
    open_step(browser, "Practice model").await?;
    choose(browser, "Who is on the couch?", "").await?;
    answered(browser, "Practice model").await?;
    open_step(browser, "Consent").await?;
    browser.click_text("Checked together today").await?;
    answered(browser, "Consent").await?;
    open_step(browser, "Screening").await?;
    let no =
        "const all = [...document.querySelectorAll('.question label')].filter((one) => one.innerText.trim() === 'No');
        all.forEach((one) => one.click()); return all.length";
    let asked = browser.ask(no, Vec::new()).await?.as_u64().unwrap_or_default();
    ensure!(asked >= 10, "only {asked} screening questions were asked");
    browser.click_text("Save the screening").await?;
    answered(browser, "Screening").await?;
    open_step(browser, "Tint or not").await?;
    choose(browser, "Tint?", "No tint").await?;
    answered(browser, "Tint or not").await?;
    open_step(browser, "Products and lots").await?;
    for kind in ["Adhesive", "Lift lotion", "Setting lotion"] {
        choose(browser, kind, "").await?;
    }
    answered(browser, "Products and lots").await?;
    open_step(browser, "Lash analysis").await?;
    for eye in ["left", "right"] {
        browser.fill(&format!("Lash length in mm, {eye} eye"), "10").await?;
        choose(browser, &format!("Condition, {eye} eye"), "Average").await?;
        choose(browser, &format!("Direction, {eye} eye"), "Straight").await?;
        choose(browser, &format!("Last lift, {eye} eye"), "Never").await?;
        browser.click_text(&format!("Save the {eye} eye")).await?;
    }
    answered(browser, "Lash analysis").await?;
    open_step(browser, "Shields").await?;
    for eye in ["left", "right"] {
        choose(browser, &format!("Size tried, {eye} eye"), "").await?;
        choose(browser, &format!("Where do the tips end, {eye} eye"), "About two thirds up").await?;
        browser.click_text(&format!("Use this size, {eye} eye")).await?;
    }
    answered(browser, "Shields").await?;
    sections(browser, "4 quarters").await?;
    open_step(browser, "Dwell figures").await?;
    browser.click_text("Use these figures").await?;
    answered(browser, "Dwell figures").await?;
    open_step(browser, "Assessor").await?;
    choose(browser, "Will an assessor mark this service?", "Yes").await?;
    answered(browser, "Assessor").await?;
    open_step(browser, "Sound check").await?;
    browser.click_text("Heard both").await?;
    answered(browser, "Sound check").await
}

/// Sets the sections of both eyes.
pub async fn sections(browser: &mut Browser, words: &str) -> Result<()> {
    open_step(browser, "Sections").await?;
    for eye in ["left", "right"] {
        choose(browser, &format!("Sections, {eye} eye"), words).await?;
    }
    answered(browser, "Sections").await
}

/// What the lanes show but for their clocks: stages, states, buttons.
pub const LANES: &str = "[...document.querySelectorAll('.lane')].map((lane) =>
    [...lane.querySelectorAll('.lane-eye, .lane-stage, .lane-state, button:not(.couch-alarm)')]
    .map((one) => one.innerText).join('|')).join('||')";

/// What the lanes show now.
pub async fn shown(browser: &Browser) -> Result<String> {
    let lanes = browser.ask(&format!("return {LANES}"), Vec::new()).await?;
    lanes.as_str().map(str::to_owned).context("the lanes cannot be read")
}

/// Taps a button and gives what the lanes show as soon as that has changed, which acknowledges the tap.
pub async fn tap(browser: &Browser, css: &str) -> Result<String> {
    let script = format!(
        "const done = arguments[arguments.length - 1];
         const before = {LANES};
         const button = document.querySelector(arguments[0]);
         if (!button) return done(null);
         button.click();
         const began = performance.now();
         const look = () => {{
           const now = {LANES};
           if (now !== before) return done(now);
           if (performance.now() - began > 15000) return done(null);
           setTimeout(look, 4);
         }};
         look();"
    );
    match browser.ask_later(&script, vec![json!(css)]).await? {
        Value::String(lanes) => Ok(lanes),
        _ => anyhow::bail!("the tap on {css} was not acknowledged; the page says: {}", browser.page_text().await?),
    }
}

/// The button that goes on with the work: that of the running lane, else the first.
pub async fn onward(browser: &Browser) -> Result<String> {
    if browser.exists(".check-by").await? && !browser.exists(".check-by input[type='radio']:checked").await? {
        choose(browser, "Who looked?", "").await?;
    }
    let css = if browser.exists(".lane-running .couch-primary").await? {
        ".lane-running .couch-primary"
    } else {
        ".lane .couch-primary"
    };
    tap(browser, css).await
}
