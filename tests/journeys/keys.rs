//! Keys: the academy's founds it, an instructor's is admitted and ended, and nobody signs as the person before.

use anyhow::{Context, Result, ensure};
use serde_json::Value;

use crate::last_term::{found, show};
use crate::support::browser::Browser;

const INSTRUCTOR: &str = "Bertrand Osei-Whitlock";
const NOT_ADMITTED: &str = "Your key on this device is not admitted";

/// Founds an academy, admits an instructor's key, ends it, and looks at every signature on the disk.
///
/// # Errors
/// When a step does not do what it should.
pub async fn admitted(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    let owners = signed(browser).await?;
    ensure!(owners.iter().all(|(_, key)| key.is_some()), "an entry of a new academy is not signed: {owners:?}");
    browser.fill("Name", INSTRUCTOR).await?;
    browser.click_text("instructor").await?;
    browser.click_text("Enrol").await?;
    browser.wait_text(&format!("{INSTRUCTOR} instructor")).await?;
    first_pin(browser).await?;
    switch(browser, &format!("{INSTRUCTOR} · instructor"), "1357").await?;
    browser.wait_text(NOT_ADMITTED).await?;
    let asked = signed(browser).await?;
    let last = asked.last().context("no entry")?;
    ensure!(last.0 == "key asked", "the instructor’s key did not ask: {last:?}");
    ensure!(owners.iter().all(|(_, key)| *key != last.1), "the instructor signs with a key of the owner or the device");
    switch(browser, "Ottoline Marsh · owner", "2468").await?;
    browser
        .wait_for(&format!("!document.body.innerText.includes('{NOT_ADMITTED}')"), "the owner’s key to be admitted")
        .await?;
    show(browser, "#/keys", "Keys").await?;
    browser.wait_text(&format!("{INSTRUCTOR}, on")).await?;
    browser.fill("Its passphrase", "halves before quarters").await?;
    browser.click_text("Open the academy’s key").await?;
    browser.wait_text("The passphrase does not open this").await?;
    browser.fill("Its passphrase", "quarters before halves").await?;
    browser.click_text("Open the academy’s key").await?;
    browser.wait_text("The academy’s key is open").await?;
    browser.click_text("Admit this key").await?;
    browser.wait_text("No key waits").await?;
    switch(browser, &format!("{INSTRUCTOR} · instructor"), "1357").await?;
    browser.wait_for(&format!("!document.body.innerText.includes('{NOT_ADMITTED}')"), "the key to be admitted").await?;
    // The academy's key was put away with the owner.
    ensure!(!browser.page_text().await?.contains("open: it can admit"), "the academy’s key is open for an instructor");
    show(browser, "#/people", "People").await?;
    browser.click_text("Enrol somebody").await?;
    browser.fill("Name", "Petra Lindqvist").await?;
    browser.click_text("Enrol").await?;
    browser.wait_text("Petra Lindqvist trainee").await?;
    let all = signed(browser).await?;
    let enrolled = all.last().context("no entry")?;
    ensure!(enrolled.0 == "person enrolled" && enrolled.1 == last.1, "the instructor’s act is not signed by their key");
    switch(browser, "Ottoline Marsh · owner", "2468").await?;
    show(browser, "#/keys", "Keys").await?;
    browser.fill("Its passphrase", "quarters before halves").await?;
    browser.click_text("Open the academy’s key").await?;
    browser.wait_text("The academy’s key is open").await?;
    let form = "[...document.querySelectorAll('li')].find((li) => li.innerText.includes(arguments[0]) && li.querySelector('details'))";
    browser.ask(&format!("{form}.querySelector('details').open = true"), vec![INSTRUCTOR.into()]).await?;
    let input = format!(
        "const one = {form}.querySelector('input'); one.value = 'left'; one.dispatchEvent(new Event('input', {{ bubbles: true }})); {form}.querySelector('button').click()"
    );
    browser.ask(&input, vec![INSTRUCTOR.into()]).await?;
    browser.wait_text("ended after entry").await?;
    switch(browser, &format!("{INSTRUCTOR} · instructor"), "1357").await?;
    browser.wait_text(NOT_ADMITTED).await
}

/// Kind and signing key of every entry on the disk, in the order written.
async fn signed(browser: &Browser) -> Result<Vec<(String, Option<String>)>> {
    let script = "const done = arguments[arguments.length - 1];
        const asked = indexedDB.open('upsweep');
        asked.onerror = () => done(null);
        asked.onsuccess = () => {
          const all = asked.result.transaction('packs').objectStore('packs').getAll();
          all.onsuccess = () => {
            asked.result.close();
            const entries = all.result.join('\\n').split('\\n').map(JSON.parse);
            done(entries.map(({ header, signature }) => [header.kind, signature ? header.key : null]));
          };
        };";
    let entries = browser.ask_later(script, Vec::new()).await?;
    let one = |pair: &Value| Some((pair.get(0)?.as_str()?.to_owned(), pair.get(1)?.as_str().map(str::to_owned)));
    let entries = entries.as_array().context("the entries cannot be read")?;
    entries.iter().map(|pair| one(pair).context("an entry without a kind")).collect()
}

/// Sets the instructor's first PIN, as the owner.
async fn first_pin(browser: &mut Browser) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.click_text(&format!("{INSTRUCTOR} · instructor")).await?;
    browser.wait_text("No PIN is set here yet").await?;
    browser.fill("New PIN", "1357").await?;
    browser.fill("New PIN again", "1357").await?;
    browser.click_css(".who-list form button").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.click_css("#who-button").await
}

pub async fn switch(browser: &mut Browser, who: &str, pin: &str) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.wait_for("document.querySelector('.who-person')", "the list of people").await?;
    browser.click_text(who).await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.fill("PIN", pin).await?;
    browser.click_css(".who-pin button").await?;
    let name = who.split(" · ").next().unwrap_or(who);
    let unlocked = format!(
        "document.querySelector('#who-button').innerText.includes({}) && document.querySelector('#who-button').innerText.includes('unlocked')",
        Value::from(name)
    );
    browser.wait_for(&unlocked, "the lock to open").await
}
