//! While a product is on an eye: a reaction tapped on another page and offline, and clocks that go wrong.

use anyhow::{Result, ensure};
use serde_json::json;

use crate::support::browser::Browser;
use crate::{couch, main_job};

/// On another page the countdown goes on, and one tap there, offline, records the reaction.
///
/// # Errors
/// When it does not.
pub async fn reaction_elsewhere(browser: &mut Browser) -> Result<()> {
    main_job::until_lotion(browser).await?;
    browser.offline(true);
    for place in ["#/practice-models", "#/settings", "#/first-response"] {
        browser.goto(place).await?;
        browser.wait_for("document.querySelector('.dwell-bar .dwell-left .dwell-time')", "the countdown").await?;
        ensure!(browser.exists(".couch-elsewhere .button-danger").await?, "{place}: no way to tap a reaction");
    }
    browser.click_css(".couch-elsewhere .button-danger").await?;
    browser.wait_for("document.querySelector('.reaction-clock')", "the rinse clock").await?;
    browser.wait_for("document.activeElement.id === 'reaction-first'", "the first line to have the focus").await?;
    // Whole seconds must pass first, or a clock that begins anew would read the same.
    let begun = "!/15:00|14:59/.test(document.querySelector('.reaction-clock')?.innerText ?? '15:00')";
    browser.wait_for(begun, "the rinse clock to run").await?;
    browser.offline(false);
    browser.reload().await?;
    browser.wait_for("document.querySelector('.reaction-clock')", "the reaction after loading anew").await?;
    let left = browser.page_text().await?;
    ensure!(
        !left.contains("Keep rinsing: 15:00") && !left.contains("Keep rinsing: 14:59"),
        "the rinse clock began anew: {left}"
    );
    Ok(())
}

/// A page that is frozen for a while, as a device in a pocket does, counts on from where the clock is.
///
/// # Errors
/// When the countdown stood still or jumped.
pub async fn frozen(browser: &mut Browser) -> Result<()> {
    main_job::until_lotion(browser).await?;
    let left = async |browser: &Browser| -> Result<i64> {
        let script = "return document.querySelector('.dwell-bar .dwell-left .dwell-time').innerText";
        let text = browser.ask(script, Vec::new()).await?.as_str().unwrap_or_default().to_owned();
        let digits =
            text.split(|letter: char| !letter.is_ascii_digit() && letter != ':').find(|part| part.contains(':'));
        let (minutes, seconds) = digits.and_then(|time| time.split_once(':')).unwrap_or(("", ""));
        Ok(minutes.parse::<i64>()? * 60 + seconds.parse::<i64>()?)
    };
    let before = left(browser).await?;
    let began = std::time::Instant::now();
    browser.devtools("Page.setWebLifecycleState", json!({ "state": "frozen" })).await?;
    tokio::time::sleep(std::time::Duration::from_secs(6)).await;
    browser.devtools("Page.setWebLifecycleState", json!({ "state": "active" })).await?;
    tokio::time::sleep(std::time::Duration::from_millis(1200)).await;
    let (after, passed) = (left(browser).await?, began.elapsed().as_secs() as i64);
    ensure!((before - after - passed).abs() <= 1, "{before} s left, {after} s left after {passed} s");
    browser.set_time_zone("Asia/Kathmandu").await?;
    tokio::time::sleep(std::time::Duration::from_millis(1200)).await;
    let (there, passed) = (left(browser).await?, began.elapsed().as_secs() as i64);
    ensure!((before - there - passed).abs() <= 2, "another zone: {before} s left, {there} s left after {passed} s");
    ensure!(!browser.exists(".doubts").await?, "a frozen page or another zone is in doubt");
    Ok(())
}

/// Seconds by which the page's wall clock is wrong, kept through reloads.
const WRONG_CLOCK: &str = "const True = Date;
    const wrong = () => Number(localStorage.getItem('journey-wrong-ms') || 0);
    globalThis.Date = class extends True {
      constructor(...parts) { parts.length ? super(...parts) : super(True.now() + wrong()); }
      static now() { return True.now() + wrong(); }
    };";

async fn set_wrong(browser: &Browser, seconds: i64) -> Result<()> {
    browser.ask("localStorage.setItem('journey-wrong-ms', arguments[0])", vec![json!(seconds * 1000)]).await?;
    Ok(())
}

/// A clock set to another time and back is no doubt; one set forward is stated, never shortened by the trainee; one
/// gone back while the app was closed calls at once; another time zone changes nothing.
///
/// # Errors
/// When it is not so.
pub async fn wrong_clocks(browser: &mut Browser) -> Result<()> {
    let script = json!({ "source": WRONG_CLOCK });
    browser.devtools("Page.addScriptToEvaluateOnNewDocument", script).await?;
    browser.open().await?;
    main_job::until_lotion(browser).await?;
    let doubts = "document.querySelector('.doubts')";
    let due = "document.querySelector('.dwell-bar .couch-alarm')";

    browser.set_time_zone("America/New_York").await?;
    for seconds in [-3600, 0] {
        set_wrong(browser, seconds).await?;
        tokio::time::sleep(std::time::Duration::from_millis(1500)).await;
    }
    ensure!(!browser.page_text().await?.contains("past due"), "there and back again made the dwell longer");
    browser.wait_for(&format!("!{doubts} && !{due}"), "no doubt after the clock was set there and back").await?;

    set_wrong(browser, 1800).await?;
    browser.wait_for(due, "the alarm after the clock went forward").await?;
    browser.wait_for(doubts, "the question what happened").await?;
    browser.click_css(".doubts summary").await?;
    let shorter = "const chips = [...document.querySelectorAll('.stretch label')];
        chips.find((one) => one.innerText.includes('the other clock')).click();
        chips.find((one) => one.innerText.includes('somebody set the clock')).click()";
    browser.ask(shorter, Vec::new()).await?;
    browser.click_text("State this time").await?;
    browser.wait_text("Less than the clocks count is for an instructor to say").await?;
    browser
        .ask("[...document.querySelectorAll('.stretch label')].find((one) => one.innerText.includes('as counted')).click()", Vec::new())
        .await?;
    browser.click_text("State this time").await?;
    browser.wait_text("Time stated by").await?;
    browser.wait_for(&format!("!{doubts}"), "the question to be answered").await?;

    browser.click_css(".dwell-bar .couch-alarm").await?;
    browser.wait_for(&format!("!{due}"), "the alarm to be acknowledged").await?;
    // Closed, and the clock a day back when it opens again.
    set_wrong(browser, -86_400).await?;
    browser.reload().await?;
    browser.wait_text("time not known").await?;
    browser.wait_for(due, "the alarm of a time not known").await?;
    couch::tap(browser, ".lane-left .couch-primary").await?;
    browser.wait_for(&format!("!{due}"), "the alarm to end with the product off").await
}
