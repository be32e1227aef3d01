//! Twenty kills of the browser during one service: nothing that the screen acknowledged is lost.

use std::time::Duration;

use anyhow::{Context, Result, ensure};

use crate::couch;
use crate::support::browser::Browser;

const KILLS: u64 = 20;

/// Kills the browser at uneven moments right after a tap was acknowledged, and compares after each reopening.
///
/// # Errors
/// When anything acknowledged is missing.
pub async fn lose_nothing(browser: &mut Browser) -> Result<()> {
    couch::demo(browser).await?;
    couch::be_the_trainee(browser).await?;
    couch::begin(browser).await?;
    couch::sections(browser, "8").await?;
    // That the demo was open last is a preference in localStorage, which the browser writes some seconds late;
    // what is under test is what the screen acknowledged.
    tokio::time::sleep(Duration::from_secs(12)).await;
    for kill in 1..=KILLS {
        let rows = rows(browser).await?;
        let acknowledged = if kill % 4 == 0 { pause(browser).await? } else { couch::onward(browser).await? };
        // Uneven, and the same at every run: at once, or up to a quarter of a second later.
        tokio::time::sleep(Duration::from_millis(kill * 97 % 5 * 60)).await;
        browser.kill_dash_nine().await?;
        browser.reopen().await?;
        browser.open().await?;
        browser.click_text("Go on with the service under way").await?;
        browser.wait_for("document.querySelector('.lane')", "the service to be there again").await?;
        let after = couch::shown(browser).await?;
        let kept = self::rows(browser).await?;
        ensure!(kept > rows, "kill {kill}: {rows} taps before the acknowledged one, {kept} after it");
        // One tap may record two acts, each saved and shown by itself: the second may be there unacknowledged.
        let as_shown = after == acknowledged || kept > rows + 1;
        ensure!(as_shown, "kill {kill}: acknowledged {acknowledged}; found {after}");
    }
    println!("    {KILLS} kills, 0 lost");
    Ok(())
}

async fn pause(browser: &mut Browser) -> Result<String> {
    browser.click_text("Pause").await?;
    couch::tap(browser, "[aria-label='Why the pause?'] button").await
}

/// Rows of the service under way on the disk.
async fn rows(browser: &Browser) -> Result<u64> {
    let script = "const done = arguments[arguments.length - 1];
        const asked = indexedDB.open('upsweep-demo');
        asked.onerror = () => done(null);
        asked.onsuccess = () => {
          const count = asked.result.transaction('couch').objectStore('couch').count();
          count.onsuccess = () => { asked.result.close(); done(count.result); };
        };";
    browser.ask_later(script, Vec::new()).await?.as_u64().context("the taps cannot be counted")
}
