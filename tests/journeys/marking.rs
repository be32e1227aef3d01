//! An instructor's day in the demo: a class, a service marked by keyboard alone, a word of coaching, a photo, a look at a
//! lift, a lot called back; and the trainee who sees the word.

use std::path::Path;
use std::time::Instant;

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::couch;
use crate::last_term::show;
use crate::support::browser::Browser;

/// Comment typed while marking.
const COMMENT: &str = "Even and well separated.";

/// From the class to the trainee who sees what the instructor said.
///
/// # Errors
/// When a step does not do what it should.
pub async fn an_instructors_day(browser: &mut Browser) -> Result<()> {
    couch::demo(browser).await?;
    crate::progress::be_an_instructor(browser).await?;
    show(browser, "#/attendance", "Attendance and theory").await?;
    browser.fill("Minutes", "45").await?;
    chip(browser, "How the time was spent", "theory").await?;
    browser.click_text("Record 8 present").await?;
    browser.wait_text("8 entries are recorded, one for each who was there.").await?;
    browser.fill("Of whom", "Anouk Ferreira-Lind (demo)").await?;
    browser.click_css("li.form-part details summary").await?;
    let corrected = "const [minutes, why] = ['minutes', 'why'].map((part) => document.querySelector(`[id^=entry-][id$=-${part}]`));
        const type = (field, text) => { field.value = text; field.dispatchEvent(new Event('input', { bubbles: true })); };
        type(minutes, '50'); type(why, 'it went on for five minutes more'); return true";
    browser.ask(corrected, Vec::new()).await?;
    browser.click_text("Record the correction").await?;
    browser.wait_text("The correction is recorded; the earlier value stays in the log.").await?;
    browser.wait_text("50 min, supervised by Mirela Tofte (demo) (corrected)").await?;
    by_keyboard(browser).await?;
    coached(browser).await?;
    photo_and_look(browser).await?;
    show(browser, "#/products", "Products").await?;
    browser
        .ask("document.querySelectorAll('details.form-part').forEach((one) => { one.open = true; })", Vec::new())
        .await?;
    browser.fill("Who calls it back, and why", "the maker’s letter").await?;
    browser.click_text("Call this lot back").await?;
    browser.wait_text("■ Called back on").await
}

async fn chip(browser: &mut Browser, legend: &str, words: &str) -> Result<()> {
    let script = "const part = [...document.querySelectorAll('fieldset')]
            .find((one) => one.querySelector('legend')?.textContent.trim() === arguments[0]);
        const chip = [...(part?.querySelectorAll('label') ?? [])].find((one) => one.textContent.trim().endsWith(arguments[1]));
        chip?.click(); return Boolean(chip);";
    let found = browser.ask(script, vec![json!(legend), json!(words)]).await?;
    ensure!(found == json!(true), "“{legend}” offers no “{words}”");
    Ok(())
}

/// Presses a key, as a keyboard does.
async fn press(browser: &Browser, key: &str, control: bool) -> Result<()> {
    let code = if key == "Enter" { 13 } else { 0 };
    for kind in ["keyDown", "keyUp"] {
        let mut event = json!({ "type": kind, "key": key, "windowsVirtualKeyCode": code, "modifiers": if control { 2 } else { 0 } });
        if kind == "keyDown" && key.chars().count() == 1 && !control {
            event["text"] = json!(key);
        }
        browser.devtools("Input.dispatchKeyEvent", event).await?;
    }
    Ok(())
}

/// Marks a service without a mouse, in few presses.
async fn by_keyboard(browser: &mut Browser) -> Result<()> {
    show(browser, "#/marking", "Marking").await?;
    browser.ask("document.querySelector('a[href*=\"#/mark/\"]').click()", Vec::new()).await?;
    browser.wait_for("document.activeElement?.closest('.criterion')", "the first row to have the focus").await?;
    let first = browser.ask("return location.hash", Vec::new()).await?;
    let rows = browser.ask("return document.querySelectorAll('.criterion').length", Vec::new()).await?;
    let rows = rows.as_u64().context("rows")?;
    let began = Instant::now();
    let mut presses = 0;
    for _ in 0..rows {
        press(browser, "3", false).await?;
        presses += 1;
    }
    for key in ["4", "o", "c"] {
        press(browser, key, false).await?;
        presses += 1;
    }
    browser.wait_for("document.activeElement?.id === 'mark-comment'", "the comment to have the focus").await?;
    for letter in COMMENT.chars() {
        press(browser, &letter.to_string(), false).await?;
        presses += 1;
    }
    press(browser, "Enter", true).await?;
    presses += 1;
    let gone = format!("location.hash !== {first} && location.hash.startsWith('#/mark/')");
    browser.wait_for(&gone, "the next service that waits").await?;
    println!(
        "    a service marked by {presses} presses of a key, in {:.1} s by a machine",
        began.elapsed().as_secs_f32()
    );
    let service = first.as_str().context("a place")?.replace("#/mark/", "#/service/");
    browser.goto(&service).await?;
    browser.wait_text("Marked by Mirela Tofte (demo)").await?;
    browser.wait_text(COMMENT).await?;
    browser.wait_text("Not yet acknowledged by").await
}

/// The instructor says one thing to try; the trainee sees it and takes note.
async fn coached(browser: &mut Browser) -> Result<()> {
    show(browser, "#/group", "Group").await?;
    browser.wait_for("document.querySelectorAll('.group-card').length === 8", "eight cards").await?;
    let link =
        "return [...document.querySelectorAll('.group-name a')].find((one) => one.textContent.includes('Farida')).hash";
    let progress = browser.ask(link, Vec::new()).await?;
    let coach = progress.as_str().context("a place")?.replace("#/progress/", "#/coach/");
    show(browser, &coach, "Coaching: Farida O’Shaughnessy (demo)").await?;
    chip(browser, "About", "Crossed lashes").await?;
    browser.click_text("Take the course book’s words").await?;
    chip(browser, "One cause to try", "Sections too large").await?;
    browser.click_text("Record it").await?;
    browser.wait_text("Cause to try: Sections too large").await?;
    browser.click_css("#who-button").await?;
    browser.click_text("Farida O’Shaughnessy (demo)").await?;
    show(browser, "#/couch", "At the couch").await?;
    browser.wait_text("From your instructor").await?;
    browser.wait_text("Cause to try: Sections too large").await?;
    browser.click_css("#who-button").await?;
    browser.click_text("Mirela Tofte (demo)").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.fill("PIN", "2468").await?;
    browser.click_text("Unlock").await?;
    let open = "document.querySelector('#who-button').innerText.includes('unlocked')";
    browser.wait_for(open, "the PIN to unlock").await
}

/// A photo loses what the camera wrote into it; a dropped lift shows what was seen at its service.
async fn photo_and_look(browser: &mut Browser) -> Result<()> {
    show(browser, "#/marking", "Marking").await?;
    let link = "return document.querySelector('a[href*=\"#/mark/\"]').hash.replace('#/mark/', '#/service/')";
    let service = browser.ask(link, Vec::new()).await?;
    show(browser, service.as_str().context("a place")?, "Service").await?;
    browser.click_text("Add a photo").await?;
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("journeys/eye.jpg");
    ensure!(
        std::fs::read(&file)?.windows(14).any(|part| part == b"InventedCamera"),
        "the camera wrote nothing into it"
    );
    browser.give_file("#photo-file", &file).await?;
    browser.wait_text("until the eye fills the oval").await?;
    chip(browser, "Eye", "left").await?;
    chip(browser, "When", "before").await?;
    browser.click_text("Keep this photo").await?;
    browser.wait_for("document.querySelector('.photo img')", "the photo").await?;
    let script = "const image = document.querySelector('.photo img');
        const bytes = atob(image.src.split(',')[1]);
        return { alt: image.alt, exif: bytes.includes('Exif'), camera: bytes.includes('InventedCamera'), size: bytes.length };";
    let kept = browser.ask(script, Vec::new()).await?;
    ensure!(kept["alt"] == json!("left eye, before"), "{kept}");
    ensure!(kept["exif"] == json!(false) && kept["camera"] == json!(false), "the camera’s words were kept: {kept}");
    ensure!(kept["size"].as_u64().is_some_and(|size| size <= 96 * 1024), "{kept}");
    browser.click_text("Note how the lift holds").await?;
    chip(browser, "The left eye", "partly dropped").await?;
    chip(browser, "The right eye", "held").await?;
    chip(browser, "The practice model says", "no complaint").await?;
    browser.click_text("Record the look").await?;
    browser.wait_text("The lift has dropped. What was seen at the service").await?;
    let text: Value = json!(browser.page_text().await?);
    ensure!(text.as_str().is_some_and(|text| text.contains("A dwell is never made longer")), "the caution is missing");
    Ok(())
}
