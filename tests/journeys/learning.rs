//! A learning curve is worked out beside the page, without a network too, and on the page where no worker starts.

use anyhow::{Context, Result, ensure};
use serde_json::json;

use crate::support::browser::Browser;

/// What stands beside a curve once it is worked out.
const WORKED_OUT: &str = "How this was worked out";
/// Longest that the page may be held up while a curve is worked out beside it, in milliseconds. A slow machine that
/// draws the page at the same time takes its share of this.
const HELD_UP: f64 = 400.0;

/// Counts the workers that the page starts, and watches how long the page is held up.
const WATCH: &str = "
    const Known = window.Worker;
    window.workers = [];
    window.Worker = class extends Known {
        constructor(file, options) { super(file, options); window.workers.push(String(file)); }
    };
    return true";

/// Has every worker refused, as an old browser would.
const REFUSE: &str = "window.Worker = class { constructor() { throw new Error('refused'); } }; return true";

/// Opens a trainee's progress; measures how long the page is held up at most while the curve is waited for.
const OPEN: &str = "
    const [address, words, done] = arguments;
    const began = performance.now();
    let last = began, longest = 0, waited = false;
    const tick = setInterval(() => {
        const now = performance.now();
        if (waited) longest = Math.max(longest, now - last);
        last = now;
        waited = document.body.textContent.includes('is being worked out');
        const there = [...document.querySelectorAll('summary')].some((one) => one.textContent === words);
        if (there && !waited || now - began > 25000) { clearInterval(tick); done([there, longest, now - began]); }
    }, 10);
    location.hash = address;";

/// The demo's curves come from a worker, with the server gone; and from the page where no worker can be started.
///
/// # Errors
/// When a curve does not come, comes from elsewhere, or the page is held up by it.
pub async fn curves(browser: &mut Browser) -> Result<()> {
    browser.goto("#/set-up").await?;
    browser.click_text("Look around").await?;
    browser.wait_text("Demo: everybody and everything here is invented").await?;
    browser.wait_until_kept().await?;
    browser.offline(true);
    browser.reload().await?;
    browser.wait_text("Demo: everybody and everything here is invented").await?;
    browser.goto("#/group").await?;
    browser.wait_for("document.querySelectorAll('a[href*=\"#/progress/\"]').length > 1", "two trainees").await?;
    let links = "return [...document.querySelectorAll('a[href*=\"#/progress/\"]')].map((link) => link.hash)";
    let links = browser.ask(links, Vec::new()).await?;
    let links: Vec<String> = serde_json::from_value(links)?;
    let first = links.first().context("a trainee")?.clone();
    let other = links.iter().find(|link| **link != first).context("another trainee")?.clone();

    browser.ask(WATCH, Vec::new()).await?;
    let held_up = open(browser, &first).await?;
    let workers = browser.ask("return window.workers", Vec::new()).await?;
    let workers: Vec<String> = serde_json::from_value(workers)?;
    ensure!(workers.len() == 1 && workers[0].starts_with("worker-"), "workers started: {workers:?}");
    ensure!(held_up < HELD_UP, "the page was held up for {held_up:.0} ms");

    browser.reload().await?;
    browser.wait_text("Demo: everybody and everything here is invented").await?;
    browser.ask(REFUSE, Vec::new()).await?;
    open(browser, &other).await?;
    Ok(())
}

async fn open(browser: &Browser, address: &str) -> Result<f64> {
    let found = browser.ask_later(OPEN, vec![json!(address), json!(WORKED_OUT)]).await?;
    let (there, longest, took): (bool, f64, f64) = serde_json::from_value(found)?;
    ensure!(there, "no curve at {address} after {took:.0} ms");
    println!("    curve at {address}: {took:.0} ms, longest held up {longest:.0} ms");
    Ok(longest)
}
