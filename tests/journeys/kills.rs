//! Twenty kills of the browser during one service: nothing that the screen acknowledged is lost.

use std::time::Duration;

use anyhow::{Context, Result, ensure};

use crate::couch;
use crate::support::browser::Browser;

const KILLS: u64 = 20;

/// Kills the browser right after the demo is open, then at uneven moments right after a tap was acknowledged, and
/// compares after each reopening. Counts on the way in how many transactions each tap is saved.
///
/// # Errors
/// When anything acknowledged is missing, or one tap took more than one transaction.
pub async fn lose_nothing(browser: &mut Browser) -> Result<()> {
    for _ in 0..3 {
        open_the_demo(browser).await?;
        again(browser).await?;
        browser.wait_text(DEMO).await.context("the demo was open, and after the kill it was not")?;
        browser.goto("#/settings").await?;
        browser.click_text("Leave the demo, keep it").await?;
        browser.wait_for(&format!("!document.body.innerText.includes('{DEMO}')"), "the demo to be left").await?;
        again(browser).await?;
        ensure!(!browser.page_text().await?.contains(DEMO), "the demo was left, and after the kill it was open");
    }
    open_the_demo(browser).await?;
    browser.goto("#/").await?;
    couch::be_the_trainee(browser).await?;
    couch::begin(browser).await?;
    couch::sections(browser, "8").await?;
    let mut two_at_once = 0;
    for kill in 1..=KILLS {
        let rows = rows(browser).await?;
        browser.ask(COUNT, Vec::new()).await?;
        let acknowledged = if kill % 4 == 0 { pause(browser).await? } else { couch::onward(browser).await? };
        let writes = browser.ask("return window.writesSeen", Vec::new()).await?.as_u64();
        // Uneven, and the same at every run: at once, or up to a quarter of a second later.
        tokio::time::sleep(Duration::from_millis(kill * 97 % 5 * 60)).await;
        again(browser).await?;
        browser.click_text("Go on with the service under way").await?;
        browser.wait_for("document.querySelector('.lane')", "the service to be there again").await?;
        let after = couch::shown(browser).await?;
        let kept = self::rows(browser).await?;
        ensure!(kept > rows, "kill {kill}: {rows} taps before the acknowledged one, {kept} after it");
        ensure!(after == acknowledged, "kill {kill}: acknowledged {acknowledged}; found {after}");
        ensure!(writes == Some(1), "kill {kill}: one tap was saved in {writes:?} transactions");
        two_at_once += u32::from(kept > rows + 1);
    }
    ensure!(two_at_once > 0, "no tap recorded two acts, so nothing was shown about such taps");
    println!("    {KILLS} kills, 0 lost; {two_at_once} taps recorded two acts in one transaction");
    Ok(())
}

/// What stands on every page of the demo.
const DEMO: &str = "Demo: everybody and everything here is invented";

/// Counts the writing transactions over the taps from now on.
const COUNT: &str = "window.writesSeen = 0;
    if (!window.writesCounted) {
      window.writesCounted = true;
      const begin = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (stores, mode, options) {
        if (mode === 'readwrite' && [].concat(...[stores]).includes('couch')) window.writesSeen += 1;
        return begin.call(this, stores, mode, options);
      };
    }";

async fn open_the_demo(browser: &mut Browser) -> Result<()> {
    browser.goto("#/set-up").await?;
    browser.click_text("Look around with the demo").await?;
    browser.wait_text(DEMO).await
}

/// Kills the browser and opens the app again.
async fn again(browser: &mut Browser) -> Result<()> {
    browser.kill_dash_nine().await?;
    browser.reopen().await?;
    browser.open().await
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
          // What the page itself notes on coming back is no tap of a person.
          const all = asked.result.transaction('couch').objectStore('couch').getAll();
          all.onsuccess = () => {
            asked.result.close();
            done(all.result.filter((row) => !/clock seen|alarm may be lost/.test(row)).length);
          };
        };";
    browser.ask_later(script, Vec::new()).await?.as_u64().context("the taps cannot be counted")
}
