//! Kills of the browser while taps, entries and files come in: nothing that the screen acknowledged is lost, and no
//! file comes in by half.
//!
//! `KILLS=200` is the full run, shared between what is tapped, entered and brought in:
//! `KILLS=200 LONGEST=7200 cargo xtask test --only journeys`, or the journeys' binary with `kills` for these alone.

use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::{Context, Result, ensure};

use crate::couch;
use crate::full_disk::unlock;
use crate::hand_over::looked_into;
use crate::last_term::{found, services, show};
use crate::support::browser::Browser;

/// Kills of all journeys together in the short form.
const KILLS: u64 = 24;

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
    let kills = crate::times("KILLS", KILLS) / 2;
    for kill in 1..=kills {
        let rows = rows(browser).await?;
        browser.ask(COUNT, Vec::new()).await?;
        // Pauses go on for as long as anybody likes; the work comes to its end.
        let may_pause = browser.ask(PAUSE_IS_THERE, Vec::new()).await? == true;
        let pauses = may_pause && (kill % 4 == 0 || kill > 12);
        let acknowledged = if pauses { pause(browser).await? } else { couch::onward(browser).await? };
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
    println!("    {kills} kills, 0 lost; {two_at_once} taps recorded two acts in one transaction");
    Ok(())
}

/// Kills the browser right after an entry was acknowledged, and at any moment while a spreadsheet or a hand-over
/// file comes in.
///
/// # Errors
/// When an acknowledged entry is missing, or a file came in by half.
pub async fn entries_and_files(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    let kills = crate::times("KILLS", KILLS) / 2;
    let (mut entries, mut imports, mut files, mut whole) = (0, 0, 0, 0);
    let (mut expected, mut file) = (0, None);
    for kill in 1..=kills {
        // Uneven, and the same at every run.
        let moment = Duration::from_millis(kill * 7919 % 23 * 17);
        match kill % 3 {
            0 => {
                let name = format!("Kept Person {kill}");
                enrol(browser, &name).await?;
                browser.wait_text(&format!("{name} is enrolled")).await?;
                tokio::time::sleep(moment / 4).await;
                again(browser).await?;
                unlock(browser).await?;
                show(browser, "#/people", "People").await?;
                browser
                    .wait_text(&name)
                    .await
                    .with_context(|| format!("kill {kill}: an acknowledged entry is lost"))?;
                entries += 1;
            }
            1 => {
                let sheet = sheet(kill)?;
                show(browser, "#/import", "Bring in a spreadsheet").await?;
                browser.give_file("#sheet-file", &sheet).await?;
                browser.click_text("Read and show, write nothing").await?;
                browser.wait_text("Preview: nothing is written yet").await?;
                browser.wait_text(&format!("Import {ROWS} rows")).await?;
                browser.click_text(&format!("Import {ROWS} rows")).await?;
                tokio::time::sleep(moment).await;
                let told = browser.page_text().await?.contains("were imported as one batch");
                again(browser).await?;
                unlock(browser).await?;
                let there = services(browser).await?;
                let came = there - expected;
                ensure!(came == 0 || came == ROWS, "kill {kill}: {came} of {ROWS} rows came in");
                ensure!(came == ROWS || !told, "kill {kill}: an acknowledged import is lost");
                (expected, imports, whole) = (there, imports + 1, whole + u64::from(came == ROWS));
            }
            _ => {
                if file.is_none() {
                    show(browser, "#/hand-over", "Hand-over and backup").await?;
                    browser.click_text("Save everything as one file").await?;
                    file = Some((browser.handed_out("upsweep-").await?, lines(browser).await?));
                }
                let Some((path, all)) = &file else { continue };
                let came = take_in_and_kill(path, moment).await?;
                let all = *all;
                ensure!(came == 0 || came == all, "kill {kill}: {came} of {all} entries of a file came in");
                (files, whole) = (files + 1, whole + u64::from(came == all));
            }
        }
    }
    println!(
        "    {kills} kills: {entries} after entries, {imports} during imports, {files} during files; 0 lost, 0 by half, \
         {whole} whole"
    );
    Ok(())
}

/// Rows of a spreadsheet that is brought in.
const ROWS: u64 = 40;

fn sheet(kill: u64) -> Result<PathBuf> {
    let mut text = String::from("Trainee,Date,Service time,Note\n");
    for row in 0..ROWS {
        let (day, month, year) = (row % 28 + 1, kill % 12 + 1, 2010 + kill / 12 % 15);
        text.push_str(&format!(
            "Marisol Quintrell,{year}-{month:02}-{day:02},1:{:02}:00,kill {kill} row {row}\n",
            row % 60
        ));
    }
    let file = std::env::temp_dir().join(format!("upsweep-kill-{}-{kill}.csv", std::process::id()));
    std::fs::write(&file, text)?;
    Ok(file)
}

/// Takes a file in on an empty device and kills it meanwhile; gives how many entries came.
async fn take_in_and_kill(file: &Path, moment: Duration) -> Result<u64> {
    let mut fresh = Browser::launch().await?;
    let outcome = async {
        fresh.goto("#/hand-over").await?;
        looked_into(&mut fresh, file).await?;
        fresh.wait_text("The file opens whole").await?;
        fresh.click_text("Take it in").await?;
        tokio::time::sleep(moment).await;
        again(&mut fresh).await?;
        lines(&fresh).await
    };
    let came = outcome.await;
    fresh.close().await;
    came
}

/// Entries of the real records on the disk.
pub async fn lines(browser: &Browser) -> Result<u64> {
    let script = "const done = arguments[arguments.length - 1];
        const asked = indexedDB.open('upsweep');
        asked.onerror = () => done(null);
        asked.onsuccess = () => {
          const all = asked.result.transaction('packs').objectStore('packs').getAll();
          all.onsuccess = () => {
            asked.result.close();
            done(all.result.flatMap((pack) => pack.split('\\n')).filter(Boolean).length);
          };
        };";
    browser.ask_later(script, Vec::new()).await?.as_u64().context("the entries cannot be counted")
}

async fn enrol(browser: &mut Browser, name: &str) -> Result<()> {
    show(browser, "#/people", "People").await?;
    if browser.exists("details.form-part:not([open]) #enrol-name").await? {
        browser.click_text("Enrol somebody").await?;
    }
    browser.fill("Name", name).await?;
    browser.click_text("Enrol").await
}

/// What stands on every page of the demo.
const DEMO: &str = "Demo: everybody and everything here is invented";

/// Whether a pause can be tapped.
const PAUSE_IS_THERE: &str = "return [...document.querySelectorAll('button')].some((one) =>
    one.innerText.trim() === 'Pause' && !one.disabled && one.getClientRects().length > 0)";

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
