//! Founding, the lock, wrong PINs, and the way back in after a forgotten PIN.

use anyhow::{Context, Result, ensure};

use crate::last_term::{found, show};
use crate::support::browser::Browser;

/// Contact of the trainee, which the lock hides.
const CONTACT: &str = "invented@example.org";

/// Founds an academy, hides what is private behind the lock, stops guessing, and comes back with the recovery code.
///
/// # Errors
/// When a step does not do what it should.
pub async fn holds(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    browser.wait_text("insurers and local byelaws decide").await?;
    note_contact(browser).await?;
    show(browser, "#/settings", "Settings").await?;
    browser.click_text("Make a new recovery code").await?;
    browser.wait_for("document.querySelector('.recovery-code')", "the recovery code").await?;
    let code = browser.ask("return document.querySelector('.recovery-code').innerText", Vec::new()).await?;
    let code = code.as_str().context("no recovery code")?.to_owned();
    browser.click_text("Lock now").await?;
    let shown = "document.querySelector('#who-button').innerText.includes('locked')";
    browser.wait_for(shown, "the lock to close").await?;
    ensure!(!hidden_is_there(browser).await?, "the contact can be seen behind the lock");
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    browser.click_text("Save everything as one file").await?;
    browser.wait_text("The lock is closed").await?;
    guess(browser).await?;
    browser.reload().await?;
    ask(browser).await?;
    unlock(browser, "2468").await?;
    browser.wait_text("Too many wrong tries").await.context("loading the page again forgave the wrong tries")?;
    browser.click_text("PIN forgotten?").await?;
    browser.fill("Recovery code", &code).await?;
    browser.fill("New PIN", "8642").await?;
    browser.fill("New PIN again", "8642").await?;
    browser.click_text("Set a new PIN").await?;
    browser.wait_text("The new PIN is set").await?;
    unlock(browser, "8642").await?;
    let open = "document.querySelector('#who-button').innerText.includes('unlocked')";
    browser.wait_for(open, "the new PIN to unlock").await?;
    ensure!(hidden_is_there(browser).await?, "the contact is not there after unlocking");
    browser.click_text("Lock now").await?;
    ask(browser).await?;
    browser.click_text("PIN forgotten?").await?;
    browser.wait_text("or it is used up").await
}

async fn note_contact(browser: &mut Browser) -> Result<()> {
    browser.click_css("button:has(.visually-hidden)[aria-expanded]:not(#who-button)").await?;
    browser.fill("Telephone, mail or other (optional)", CONTACT).await?;
    browser.click_text("Note contact").await?;
    browser.wait_text("The contact is noted").await
}

/// Whether the trainee's contact stands anywhere on the page of people, with the details open.
async fn hidden_is_there(browser: &mut Browser) -> Result<bool> {
    show(browser, "#/people", "People").await?;
    browser.click_css("button:has(.visually-hidden)[aria-expanded]:not(#who-button)").await?;
    browser.wait_for("document.querySelector('.person h3')", "the details").await?;
    let script = "return document.body.innerHTML.includes(arguments[0])
        || [...document.querySelectorAll('input')].some((one) => one.value === arguments[0])";
    Ok(browser.ask(script, vec![CONTACT.into()]).await? == true)
}

/// Opens the owner's PIN.
async fn ask(browser: &mut Browser) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.wait_for("document.querySelector('.who-person')", "the list of people").await?;
    browser.click_text("Ottoline Marsh · owner").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await
}

async fn unlock(browser: &mut Browser, pin: &str) -> Result<()> {
    browser.fill("PIN", pin).await?;
    browser.click_css(".who-pin button").await
}

/// Guesses until the device makes the guesser wait.
async fn guess(browser: &mut Browser) -> Result<()> {
    ask(browser).await?;
    for wrong in 0..5 {
        unlock(browser, &format!("000{wrong}")).await?;
        browser.wait_text("This PIN is not right").await?;
    }
    unlock(browser, "2468").await?;
    browser.wait_text("Too many wrong tries").await.context("the sixth try had not to wait")
}
