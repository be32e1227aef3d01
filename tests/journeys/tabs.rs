//! Two windows on the same records: neither loses what the other wrote, and a newer version takes over in the open.

use std::time::{Duration, Instant};

use anyhow::{Result, ensure};
use serde_json::{Value, json};

use crate::full_disk::unlock;
use crate::last_term::{found, show};
use crate::support::browser::Browser;

/// Enrols so many people one after another, as fast as the app takes them, and again whoever was not taken.
const ENROL_MANY: &str = "const [name, count] = arguments;
    const fill = (field, text) => {
      Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value').set.call(field, text);
      field.dispatchEvent(new Event('input', { bubbles: true }));
    };
    const there = (text) => [...document.querySelectorAll('main li, main tr')].some((one) => one.innerText.includes(text));
    const soon = (ms) => new Promise((go) => setTimeout(go, ms));
    window.enrolled = [];
    window.refused = 0;
    (async () => {
      for (let number = 1; number <= count; number += 1) {
        const words = `${name} ${String(number).padStart(4, '0')}`;
        while (!there(words)) {
          const field = document.querySelector('#enrol-name');
          const button = field?.closest('form')?.querySelector('button[type=submit]') ?? [...document.querySelectorAll('button')].find((one) => one.innerText === 'Enrol');
          if (field && button && !button.disabled) {
            fill(field, words);
            button.click();
            for (let wait = 0; wait < 400 && !there(words); wait += 1) {
              await soon(10);
              if (document.body.innerText.includes('saved something first')) { window.refused += 1; break; }
            }
          } else await soon(20);
        }
        window.enrolled.push(words);
      }
    })();";

/// `TABS_ENTRIES=500 ROUNDS=50 LONGEST=36000` is the full run of two windows x 500 entries, 50 rounds.
///
/// # Errors
/// When an entry is missing in either window or after a reload, or takes longer than a second to be seen.
pub async fn two_write(browser: &mut Browser) -> Result<()> {
    let (entries, rounds) = (crate::times("TABS_ENTRIES", 50), crate::times("ROUNDS", 2));
    found(browser).await?;
    browser.open_window("#/people").await?;
    browser.wait_text("Marisol Quintrell").await?;
    unlock(browser).await?;
    let mut slowest = Duration::ZERO;
    for round in 1..=rounds {
        for window in [0, 1] {
            browser.to_window(window).await?;
            show(browser, "#/people", "People").await?;
            open_form(browser).await?;
            let name = format!("R{round} W{window}");
            browser.ask(ENROL_MANY, vec![json!(name), json!(entries)]).await?;
        }
        let until = Instant::now() + Duration::from_secs(60 + entries * 4);
        for window in [0, 1] {
            browser.to_window(window).await?;
            loop {
                let done = browser.ask("return window.enrolled.length", Vec::new()).await?.as_u64().unwrap_or_default();
                if done == entries {
                    break;
                }
                ensure!(Instant::now() < until, "round {round}: window {window} enrolled {done} of {entries} in time");
                tokio::time::sleep(Duration::from_millis(200)).await;
            }
        }
        for window in [0, 1] {
            browser.to_window(window).await?;
            let began = Instant::now();
            let all = format!(
                "(() => {{ const text = document.querySelector('main').innerText;
                  return [0, 1].every((window) => Array.from({{ length: {entries} }}, (_, n) =>
                    `R{round} W${{window}} ${{String(n + 1).padStart(4, '0')}}`).every((name) => text.includes(name))) }})()"
            );
            browser.wait_for(&all, &format!("round {round}: everything of both windows in window {window}")).await?;
            slowest = slowest.max(began.elapsed());
        }
    }
    // Word from tab to tab gets lost: the other window sees it all the same.
    browser.to_window(1).await?;
    browser.ask("BroadcastChannel.prototype.postMessage = () => {}", Vec::new()).await?;
    open_form(browser).await?;
    browser.ask(ENROL_MANY, vec![json!("Unheard"), json!(1)]).await?;
    browser.wait_for("window.enrolled.length === 1", "one more to be enrolled").await?;
    browser.to_window(0).await?;
    let began = Instant::now();
    browser.wait_text("Unheard 0001").await?;
    let unheard = began.elapsed();
    ensure!(unheard < Duration::from_millis(2_500), "without word it took {unheard:?} to be seen");
    browser.reload().await?;
    for round in 1..=rounds {
        for window in [0, 1] {
            browser.wait_text(&format!("R{round} W{window} {entries:04}")).await?;
        }
    }
    let listed = "return new Set(document.querySelector('main').innerText.match(/R\\d+ W\\d \\d{4}/g)).size";
    let listed = browser.ask(listed, Vec::new()).await?.as_u64().unwrap_or_default();
    ensure!(listed == entries * rounds * 2, "{listed} of {} are there", entries * rounds * 2);
    println!(
        "    {rounds} rounds of 2 windows x {entries} entries: all there; seen after {slowest:?}, without word {unheard:?}"
    );
    Ok(())
}

async fn open_form(browser: &mut Browser) -> Result<()> {
    if browser.exists("details.form-part:not([open]) #enrol-name").await? {
        browser.click_text("Enrol somebody").await?;
    }
    browser.wait_for("document.querySelector('#enrol-name')", "the form").await
}

const HOLD: &str = "const done = arguments[arguments.length - 1];
    const asked = indexedDB.open('upsweep', 1);
    asked.onupgradeneeded = () => ['packs', 'meta', 'couch'].forEach((name) =>
      asked.result.createObjectStore(name, { autoIncrement: name === 'packs' }));
    asked.onsuccess = () => { window.held = asked.result; done(true); };
    asked.onerror = () => done(String(asked.error));";

/// A tab of an older version that holds on is named; one that gives way says to reload, and loses nothing.
///
/// # Errors
/// When it is not so.
pub async fn newer_version(browser: &mut Browser) -> Result<()> {
    // The first window stands for a page of an older version that does not let go.
    browser.open_window("rescue-none").await?;
    browser.to_window(1).await?;
    let held = browser.ask_later(HOLD, Vec::new()).await?;
    if held == Value::Bool(true) {
        browser.open_window("#/").await?;
        browser.wait_text("close the other tabs of Upsweep").await?;
        ensure!(browser.page_text().await?.contains("Nothing will be kept"), "it is not said that nothing is kept");
        browser.to_window(1).await?;
        browser.ask("window.held.close()", Vec::new()).await?;
        browser.to_window(2).await?;
        browser.reload().await?;
        // The place that held on is no page of the site, which the browser complains about.
        let missing = browser.complaints().await?.iter().all(|words| words.contains("404"));
        ensure!(missing, "the page complained: {:?}", browser.complaints().await?);
        browser.forget_complaints();
    }
    found(browser).await?;
    let saved = "Marisol Quintrell";
    browser.wait_text(saved).await?;
    // A newer version than any asks for the records.
    let newer = "const done = arguments[arguments.length - 1];
        const asked = indexedDB.open('upsweep', 99);
        asked.onsuccess = () => { asked.result.close(); done(true); };
        asked.onerror = () => done(String(asked.error));
        asked.onblocked = () => { window.wasBlocked = true; };";
    ensure!(
        browser.ask_later(newer, Vec::new()).await? == Value::Bool(true),
        "the newer version did not get the records"
    );
    browser.wait_text("Reload this page: a newer version of Upsweep is open in another tab").await?;
    open_form(browser).await?;
    browser.fill("Name", "Tova Lund").await?;
    browser.click_text("Enrol").await?;
    browser.wait_text("so this step was not saved: reload this page and do it again").await?;
    let typed = browser.ask("return document.querySelector('#enrol-name').value", Vec::new()).await?;
    ensure!(typed == json!("Tova Lund"), "what was typed is gone: {typed}");
    ensure!(browser.page_text().await?.contains(saved), "what was saved is not shown any more");
    browser.screenshot("newer-version-1280").await
}
