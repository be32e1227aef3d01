//! Every place of the app is audited on a narrow screen, in light and dark, empty and with records.

use std::collections::BTreeMap;

use anyhow::{Context, Result, bail, ensure};
use serde_json::{Value, json};

use crate::route::{Route, every_route};
use crate::support::browser::Browser;

/// Width of a small phone, in CSS pixels.
const NARROW: u32 = 360;
/// What the start page's way to the demo group says.
const DEMO: &str = "Look around";

/// Audits every place with nothing recorded yet.
///
/// # Errors
/// Lists every violation and every place wider than the screen.
pub async fn empty_device(browser: &mut Browser) -> Result<()> {
    audit_all(browser, &every_route(), "empty").await
}

/// Audits every place with the demo group's records, each place that shows one record with a real one.
///
/// # Errors
/// Lists every violation and every place wider than the screen.
pub async fn with_records(browser: &mut Browser) -> Result<()> {
    browser.goto("#/set-up").await?;
    browser.click_text(DEMO).await?;
    browser.wait_text("Demo: everybody and everything here is invented").await?;
    let mut real = places_with_records(browser).await?;
    // The link stands behind a button, with people who have left: the place is looked at for a trainee.
    let person = real.get("progress").and_then(|hash| match Route::parse(hash) {
        Route::Progress(person) => Some(Route::ErasePerson(person).to_hash()),
        _ => None,
    });
    real.extend(person.map(|hash| ("erase-person", hash)));
    let mut places = Vec::new();
    for (name, sample) in every_route() {
        let address = real.get(name).cloned().unwrap_or(sample);
        ensure!(
            real.contains_key(name) || !address.contains("sample-") || name == "correct" || name == "sign-off",
            "no page links to a place of the kind `{name}`: it cannot be audited with a record"
        );
        places.push((name, address));
    }
    audit_all(browser, &places, "records").await
}

/// Follows the links of the app to the first real address of each kind of place.
async fn places_with_records(browser: &mut Browser) -> Result<BTreeMap<&'static str, String>> {
    let kinds: Vec<(&'static str, Route)> =
        every_route().into_iter().map(|(name, hash)| (name, Route::parse(&hash))).collect();
    let mut found = BTreeMap::new();
    let mut open: Vec<String> = vec!["#/".to_owned()];
    let mut at = 0;
    while let Some(hash) = open.get(at).cloned() {
        at += 1;
        browser.goto(&hash).await?;
        let links = browser
            .ask(
                "return [...document.querySelectorAll('a[href^=\"#/\"]')].map((link) => link.getAttribute('href'))",
                Vec::new(),
            )
            .await?;
        for link in links.as_array().into_iter().flatten().filter_map(Value::as_str) {
            let route = Route::parse(link);
            let kind =
                kinds.iter().find(|(_, sample)| std::mem::discriminant(sample) == std::mem::discriminant(&route));
            let Some((name, _)) = kind else { continue };
            if !found.contains_key(name) {
                found.insert(*name, link.to_owned());
                open.push(link.to_owned());
            }
        }
    }
    Ok(found)
}

async fn audit_all(browser: &mut Browser, places: &[(&'static str, String)], state: &str) -> Result<()> {
    ensure!(!places.is_empty(), "there is no place to audit");
    let axe = concat!(env!("CARGO_MANIFEST_DIR"), "/journeys/node_modules/axe-core/axe.min.js");
    let axe = std::fs::read_to_string(axe).context("axe-core is not installed: run npm ci in tests/journeys")?;
    browser.set_window(NARROW, 800).await?;
    let mut faults = Vec::new();
    for dark in [false, true] {
        browser.dark(dark).await?;
        let colours = if dark { "dark" } else { "light" };
        for (name, hash) in places {
            let place = format!("{name} ({hash}, {state}, {colours})");
            if let Err(why) = browser.goto(hash).await {
                faults.push(format!("{place}: does not open: {why:#}"));
                continue;
            }
            faults.extend(
                audit(browser, &axe)
                    .await
                    .with_context(|| place.clone())?
                    .into_iter()
                    .map(|fault| format!("{place}: {fault}")),
            );
            browser.screenshot(&format!("{state}-{name}-{NARROW}-{colours}")).await?;
        }
    }
    if faults.is_empty() {
        println!("audited {} places, {state}, light and dark at {NARROW} px: no violation", places.len());
        return Ok(());
    }
    bail!("{} faults:\n    {}", faults.len(), faults.join("\n    "))
}

/// The violations of the page shown.
async fn audit(browser: &Browser, axe: &str) -> Result<Vec<String>> {
    // Injected as the driver's script, not the page's: the content security policy stays as it is.
    browser.ask(axe, Vec::new()).await.context("axe-core cannot be injected")?;
    // What is folded away is part of the page too.
    let unfold = "document.querySelectorAll('details').forEach((part) => { part.open = true })";
    browser.ask(unfold, Vec::new()).await?;
    let script = "const done = arguments[arguments.length - 1];
        axe.run(document, { resultTypes: ['violations'] }).then(
          (result) => done({ checks: result.passes.length, faults: result.violations.flatMap((rule) => rule.nodes.map(
            (node) => `${rule.id}: ${rule.help}: ${node.target.join(' ')}: ${node.html.slice(0, 160)}`)) }),
          (why) => done({ checks: 0, faults: [String(why)] }));";
    let result = browser.ask_later(script, Vec::new()).await?;
    ensure!(result["checks"].as_u64().unwrap_or_default() > 0, "axe-core checked nothing: {result}");
    let mut faults: Vec<String> =
        result["faults"].as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect();
    let wide = browser
        .ask(
            "const wide = document.documentElement.scrollWidth; if (wide <= arguments[0]) return null;
             const past = [...document.body.querySelectorAll('*')].find((part) => part.getBoundingClientRect().right > arguments[0] + 1);
             return `is ${wide} px wide; past the edge: ${past?.outerHTML.slice(0, 160)}`",
            vec![json!(NARROW)],
        )
        .await?;
    faults.extend(wide.as_str().map(str::to_owned));
    Ok(faults)
}
