//! The app starts, works without a network after one visit, and comes back after the browser was killed.

use anyhow::{Result, ensure};
use serde_json::{Value, json};

use crate::support::browser::Browser;

/// The page starts, with the content security policy in force.
///
/// # Errors
/// When it does not.
pub async fn starts(browser: &mut Browser) -> Result<()> {
    browser.open().await?;
    browser.screenshot("start-1280-light").await?;
    // An inline script must not run: the policy is in the page, not only on paper.
    let ran = browser
        .ask(
            "const script = document.createElement('script'); script.textContent = 'window.ranInline = true';
             document.head.append(script); return window.ranInline === true",
            Vec::new(),
        )
        .await?;
    ensure!(ran == Value::Bool(false), "an inline script ran");
    let complaints = browser.complaints().await?;
    ensure!(complaints.iter().any(|words| words.contains("Content Security Policy")), "the policy did not complain");
    let others: Vec<_> = complaints.iter().filter(|words| !words.contains("Content Security Policy")).collect();
    ensure!(others.is_empty(), "the console holds errors: {others:?}");
    browser.forget_complaints();
    Ok(())
}

/// After one visit every file comes from the device: the server is switched off, the page loads.
///
/// # Errors
/// When it does not.
pub async fn works_offline(browser: &mut Browser) -> Result<()> {
    browser.open().await?;
    let heading = browser.ask("return document.querySelector('h1').innerText", Vec::new()).await?;
    browser.wait_until_kept().await?;
    browser.offline(true);
    let reached = browser
        .ask_later(
            "const done = arguments[arguments.length - 1];
             fetch('not-in-the-site.txt').then(() => done(true), () => done(false));",
            Vec::new(),
        )
        .await?;
    ensure!(reached == json!(false), "the server still answers, so this journey would prove nothing");
    browser.reload().await?;
    let again = browser.ask("return document.querySelector('h1').innerText", Vec::new()).await?;
    ensure!(heading == again, "offline the page says {again} instead of {heading}");
    browser.kill_dash_nine().await?;
    browser.reopen().await?;
    browser.open().await
}

/// A killed browser opens the app again on the same profile.
///
/// # Errors
/// When it does not.
pub async fn comes_back(browser: &mut Browser) -> Result<()> {
    browser.open().await?;
    browser.kill_dash_nine().await?;
    ensure!(browser.page_text().await.is_err(), "the browser answers after kill -9");
    browser.reopen().await?;
    browser.open().await
}
