//! A trainee's Progress page in the demo: every chart says something true, and leads to the services it speaks of.

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::couch;
use crate::last_term::show;
use crate::support::browser::Browser;

/// A trainee of the demo who is on trial, by the name the group's page shows.
const ON_TRIAL: &str = "Chiara Novakova (demo)";
/// Longest that the page may keep a key waiting while curves are worked out, in milliseconds.
const LONGEST_WAIT: f64 = 1_500.0;

/// From the group's page to the charts, and from what stands out to its service.
///
/// # Errors
/// When a chart is missing, has no table, or leads nowhere, or when the page holds up typing.
pub async fn leads_to_services(browser: &mut Browser) -> Result<()> {
    couch::demo(browser).await?;
    be_an_instructor(browser).await?;
    show(browser, "#/group", "Group").await?;
    browser.click_text(ON_TRIAL).await?;
    browser.wait_text(&format!("Progress: {ON_TRIAL}")).await?;
    quality(browser).await?;
    curve(browser).await?;
    typing_goes_on(browser).await?;
    stands_out(browser).await
}

/// Sets an instructor's first PIN and unlocks with it.
pub async fn be_an_instructor(browser: &mut Browser) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.click_text("Mirela Tofte (demo)").await?;
    browser.fill("New PIN", "2468").await?;
    browser.fill("New PIN again", "2468").await?;
    browser.click_text("Set PIN").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.fill("PIN", "2468").await?;
    browser.click_text("Unlock").await?;
    let open = "document.querySelector('#who-button').innerText.includes('unlocked')";
    browser.wait_for(open, "the PIN to unlock").await
}

/// What a figure shows: drawn shapes, words, and rows of its table with and without a link.
async fn figure(browser: &Browser, title: &str) -> Result<Value> {
    let script = "const figure = [...document.querySelectorAll('figure.chart')]
            .find((one) => one.querySelector('.chart-title').textContent.startsWith(arguments[0]));
        if (!figure) return null;
        const rows = [...figure.querySelectorAll('tbody tr')];
        return {
            paths: figure.querySelectorAll('svg path').length,
            words: [...figure.querySelectorAll('svg text')].map((one) => one.textContent.trim()),
            rows: rows.length,
            links: rows.filter((row) => row.querySelector('a[href^=\"#/service/\"]')).length,
            odd: figure.querySelector('svg').outerHTML.includes('NaN'),
        };";
    let found = browser.ask(script, vec![json!(title)]).await?;
    ensure!(!found.is_null(), "no chart is titled “{title} …”: {}", browser.page_text().await?);
    ensure!(found["odd"] == json!(false), "“{title}” is drawn with what is no number");
    ensure!(found["rows"].as_u64() > Some(0), "“{title}” has an empty table beside it");
    Ok(found)
}

fn says(figure: &Value, words: &str) -> bool {
    figure["words"].as_array().is_some_and(|all| all.iter().any(|one| one == words))
}

/// The trial's chart has its decision line, and each of its services is a link.
async fn quality(browser: &mut Browser) -> Result<()> {
    browser.wait_text("Quality: trial 1").await?;
    let chart = figure(browser, "Acceptable or not: trial 1").await?;
    ensure!(says(&chart, "passes here"), "no decision line: {chart}");
    ensure!(chart["rows"] == chart["links"], "a service of the trial leads nowhere: {chart}");
    browser.wait_text("The shortest way from here").await?;
    let surface = browser.page_text().await?;
    for word in ["CUSUM", "standard deviation", "incompetent"] {
        ensure!(!surface.contains(word), "“{word}” stands on the surface");
    }
    Ok(())
}

/// The curve of the whole service is drawn, or the page says why not.
async fn curve(browser: &mut Browser) -> Result<()> {
    let done = "!document.body.innerText.includes('The curve is being worked out')";
    browser.wait_for(done, "the curve").await?;
    let chart = figure(browser, "Hands-on time by service: Whole service").await?;
    let curves = browser.ask(
        "return [...document.querySelectorAll('figure.chart')].find((one) => one.innerText.includes('Hands-on time by service'))
            .querySelectorAll('svg path[stroke-width=\"2.4\"]').length",
        Vec::new(),
    );
    let curves = curves.await?.as_u64().context("the curves cannot be counted")?;
    let text = browser.page_text().await?;
    ensure!(curves > 0 || text.contains("No curve:"), "neither a curve nor why there is none: {chart}");
    ensure!(chart["links"].as_u64() > Some(0), "no service of the curve is a link: {chart}");
    // Quality is not met at the plan of the trial: no target, and no forecast against it.
    ensure!(text.contains("Quality first"), "a target is spoken of before quality is met");
    ensure!(
        !says(&chart, "target whole lash line") && !says(&chart, "as likely as not"),
        "a target is drawn too early"
    );
    println!("    {curves} pieces of the curve are drawn");
    Ok(())
}

/// Asks for the curve of one stage after the other, and types in between: no key waits long.
async fn typing_goes_on(browser: &mut Browser) -> Result<()> {
    let stages = "return [...document.querySelectorAll('input[name=\"curve-of\"]')].length";
    let stages = browser.ask(stages, Vec::new()).await?.as_u64().unwrap_or_default();
    ensure!(stages > 5, "only {stages} times can be chosen");
    let script = "const done = arguments[arguments.length - 1];
        const field = document.createElement('input');
        document.body.append(field);
        let [longest, last, left] = [0, performance.now(), [...document.querySelectorAll('input[name=\"curve-of\"]')]];
        const tick = setInterval(() => {
            const now = performance.now();
            [longest, last] = [Math.max(longest, now - last), now];
            field.value += 'x';
            if (document.body.innerText.includes('The curve is being worked out')) return;
            const next = left.pop();
            if (next) return next.click();
            clearInterval(tick);
            field.remove();
            done([longest, field.value.length]);
        }, 20);";
    let found = browser.ask_later(script, Vec::new()).await?;
    let longest = found[0].as_f64().context("no time was measured")?;
    ensure!(longest <= LONGEST_WAIT, "a key waited {longest:.0} ms while the curves were worked out");
    println!("    {stages} curves, and no key waited longer than {longest:.0} ms");
    Ok(())
}

/// What stands out is ringed, named, and one click from its service.
async fn stands_out(browser: &mut Browser) -> Result<()> {
    browser.wait_text("Services that stand out").await?;
    let chart = figure(browser, "Services that stand out").await?;
    ensure!(chart["rows"] == chart["links"], "a service that stands out leads nowhere: {chart}");
    ensure!(says(&chart, "ringed: worth a look"), "nothing is ringed: {chart}");
    browser.click_css(".stand-out a").await?;
    browser.wait_for("location.hash.startsWith('#/service/')", "the service's page").await?;
    browser.wait_for("document.querySelector('h1')?.innerText.length > 0", "its heading").await
}
