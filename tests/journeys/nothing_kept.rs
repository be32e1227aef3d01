//! A browser that keeps nothing for the page: the app starts, can be looked around in, and says so on every page.

use anyhow::{Result, ensure};
use serde_json::json;

use crate::route::every_route;
use crate::support::browser::Browser;

/// Ways in which a browser refuses storage: it throws, it fails later, or there is none; preferences throw as well.
const REFUSED: [&str; 3] = [
    "IDBFactory.prototype.open = () => { throw new DOMException('denied', 'SecurityError'); };",
    "IDBFactory.prototype.open = () => {
       const asked = new EventTarget();
       asked.error = new DOMException('private', 'InvalidStateError');
       setTimeout(() => asked.onerror?.(new Event('error')));
       return asked;
     };",
    "Object.defineProperty(window, 'indexedDB', { get() { throw new DOMException('denied', 'SecurityError'); } });",
];
const NO_PREFERENCES: &str = "Object.defineProperty(window, 'localStorage', {
    get() { throw new DOMException('denied', 'SecurityError'); } });";

/// Looks at every page in each of these browsers, at the demo, and tries to write.
///
/// # Errors
/// When the app does not start, a page does not say so, or a write is not refused with that sentence.
pub async fn says_so(browser: &mut Browser) -> Result<()> {
    for (place, refused) in REFUSED.iter().enumerate() {
        let mut other = Browser::launch().await?;
        let source = format!("{refused}{NO_PREFERENCES}");
        let outcome = async {
            other.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": source })).await?;
            look_around(&mut other, place == 0).await
        };
        let outcome = outcome.await;
        if outcome.is_err() {
            drop(other.screenshot("failed-nothing-kept").await);
        }
        other.close().await;
        outcome.map_err(|why| why.context(format!("refused in way {place}")))?;
    }
    // A browser that keeps things says nothing of the kind.
    browser.open().await?;
    ensure!(!browser.page_text().await?.contains(LABEL), "a browser that keeps records is said to keep nothing");
    Ok(())
}

const LABEL: &str = "Nothing will be kept";

async fn look_around(browser: &mut Browser, every_page: bool) -> Result<()> {
    browser.open().await?;
    browser.wait_text(LABEL).await?;
    let places = every_route();
    for (name, hash) in places.iter().filter(|_| every_page) {
        browser.goto(hash).await?;
        ensure!(browser.page_text().await?.contains(LABEL), "{name} does not say that nothing will be kept");
    }
    browser.goto("#/set-up").await?;
    browser.click_text("Look around with the demo").await?;
    browser.wait_text("Demo: everybody and everything here is invented").await?;
    for hash in ["#/log", "#/group", "#/people"] {
        browser.ask("location.hash = arguments[0]", vec![json!(hash)]).await?;
        browser.wait_for("document.querySelector('main table, main ul')", hash).await?;
        ensure!(browser.page_text().await?.contains(LABEL), "{hash} does not say that nothing will be kept");
    }
    browser.screenshot("nothing-kept-1280").await?;
    browser.ask("location.hash = '#/people'", Vec::new()).await?;
    browser.click_css("#who-button").await?;
    browser.click_text(crate::couch::TRAINEE).await?;
    browser.wait_for("document.querySelector('#who-button').innerText.includes('Anouk')", "the switch").await?;
    browser.ask("location.hash = '#/couch'", Vec::new()).await?;
    browser.click_text("Begin: the clock starts").await?;
    browser.wait_text("Nothing will be kept: the browser refused to store records").await?;
    Ok(())
}
