//! Two devices hand over both ways, as files and as codes, and refuse what they should.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::last_term::{found, show};
use crate::support::browser::Browser;

const PASSPHRASE: &str = "four small sections first";

/// Files both ways, a cut file, the same file twice, a wrong passphrase, another academy's file.
///
/// # Errors
/// When a step does not do what it should.
pub async fn both_ways(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    let whole = given(browser, "upsweep-").await?;
    let mut phone = Browser::launch().await?;
    let outcome = to_the_phone_and_back(browser, &mut phone, &whole).await;
    phone.close().await;
    outcome?;
    let mut other = Browser::launch().await?;
    let outcome = from_another_academy(browser, &mut other).await;
    other.close().await;
    outcome
}

async fn to_the_phone_and_back(browser: &mut Browser, phone: &mut Browser, whole: &Path) -> Result<()> {
    phone.goto("#/hand-over").await?;
    let bytes = std::fs::read(whole)?;
    let cut = beside(whole, "cut.upsweep", bytes.get(..bytes.len() / 2).unwrap_or_default())?;
    looked_into(phone, &cut).await?;
    phone.wait_text("This file ends too early: copy it again from where it was saved, whole.").await?;
    ensure!(hash_of(phone).await?.is_empty(), "a cut file has left something behind");

    looked_into(phone, whole).await?;
    phone.wait_text("It opens whole and holds everything that this device has").await?;
    phone.wait_text("new on this device").await?;
    phone.screenshot("hand-over-preview-1280").await?;
    ensure!(hash_of(phone).await?.is_empty(), "the preview has written something");
    phone.click_text("Take it in").await?;
    phone.wait_text("entries are new on this device").await?;
    let (here, there) = (hash_of(browser).await?, hash_of(phone).await?);
    ensure!(!here.is_empty() && here == there, "the devices differ: {here} and {there}");

    looked_into(phone, whole).await?;
    phone.wait_text("Everything in it is here already: there is nothing to take in").await?;
    phone.click_text("Put the file away").await?;

    // What the trainee writes on the phone goes back: only what the laptop lacks, without unlocking anything.
    phone.click_css("#who-button").await?;
    phone.click_text("Marisol Quintrell · trainee").await?;
    show(phone, "#/practice-models", "Practice models").await?;
    if phone.exists("details:not([open]) #pm-name").await? {
        phone.click_text("Add a practice model").await?;
    }
    phone.click_text("Add").await?;
    phone.wait_for("location.hash.startsWith('#/practice-model/')", "the practice model to be added").await?;
    let line = line_of(browser).await?;
    show(phone, "#/hand-over", "Hand-over and backup").await?;
    phone.click_text("Only what the other device lacks").await?;
    phone.fill("What the other device holds", &line).await?;
    let part = saved(phone, "Save as a file", "-part-").await?;
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    looked_into(browser, &part).await?;
    // The practice model, and the request of the phone's key.
    browser.wait_text("2 entries new on this device").await?;
    browser.wait_text("practice model added").await?;
    browser.click_text("Take it in").await?;
    browser.wait_text("2 entries are new on this device").await?;
    // The owner is unlocked: what was seen of the phone is signed in the same write.
    browser.wait_text("✓ up to entry 2, by Ottoline Marsh").await?;
    browser.screenshot("hand-over-devices-1280").await?;
    receipt_goes_back(browser, phone).await?;
    sealed(browser, phone).await
}

/// The receipt is all that the phone lacks; with it both hold the same.
async fn receipt_goes_back(browser: &mut Browser, phone: &mut Browser) -> Result<()> {
    let line = line_of(phone).await?;
    browser.click_text("Only what the other device lacks").await?;
    browser.fill("What the other device holds", &line).await?;
    let part = saved(browser, "Save as a file", "-part-").await?;
    looked_into(phone, &part).await?;
    phone.wait_text("1 entry new on this device").await?;
    phone.wait_text("All that is new is signed by keys of this academy, and the signatures hold").await?;
    phone.click_text("Take it in").await?;
    phone.wait_text("1 entry is new on this device").await?;
    let (here, there) = (hash_of(browser).await?, hash_of(phone).await?);
    ensure!(here == there, "after the way back the devices differ: {here} and {there}");
    Ok(())
}

/// A sealed file opens with its passphrase only.
async fn sealed(browser: &mut Browser, phone: &mut Browser) -> Result<()> {
    show(browser, "#/log", "Log").await?;
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    browser.click_text("Only from a day on").await?;
    browser.fill("From this day on", "2000-01-01").await?;
    browser.fill("Passphrase (optional)", PASSPHRASE).await?;
    browser.fill("The passphrase again", "four small sections last").await?;
    browser.click_text("Save as a file").await?;
    browser.wait_text("The two are not the same: type both again").await?;
    browser.fill("The passphrase again", PASSPHRASE).await?;
    let file = saved(browser, "Save as a file", "-part-").await?;
    let bytes = std::fs::read(&file)?;
    ensure!(bytes.starts_with(b"upsweep-hand-over 1 sealed\n"), "the file is not sealed");
    looked_into(phone, &file).await?;
    phone.wait_text("This file is sealed by a passphrase").await?;
    phone.fill("Passphrase of the file", "four small sections last").await?;
    phone.click_text("Look into this file").await?;
    phone.wait_text("This passphrase does not open the file").await?;
    phone.fill("Passphrase of the file", PASSPHRASE).await?;
    phone.click_text("Look into this file").await?;
    phone.wait_text("Everything in it is here already").await?;
    phone.wait_text("by a passphrase").await
}

async fn from_another_academy(browser: &mut Browser, other: &mut Browser) -> Result<()> {
    found(other).await?;
    let file = given(other, "upsweep-").await?;
    let before = hash_of(browser).await?;
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    looked_into(browser, &file).await?;
    browser.wait_text("This file belongs to another academy than the one on this device").await?;
    ensure!(hash_of(browser).await? == before, "another academy’s file has changed something");
    Ok(())
}

/// A run of codes goes over as pictures, and the system's share sheet leaves a file, all without a network.
///
/// # Errors
/// When a step does not do what it should.
pub async fn by_codes(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    browser.click_text("Show as codes").await?;
    browser.wait_for("document.querySelector('.code-run svg')", "the codes").await?;
    browser.screenshot("hand-over-codes-1280").await?;
    browser.click_text("All codes at once, for paper").await?;
    browser.wait_for("document.querySelector('.code-sheet svg')", "all codes").await?;
    let pictures = browser.ask_later(PICTURES, Vec::new()).await?;
    let pictures: Vec<&str> = pictures.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    ensure!(!pictures.is_empty(), "there is no code");
    let mut phone = Browser::launch().await?;
    let outcome = read_codes(browser, &mut phone, &pictures).await;
    phone.close().await;
    outcome
}

async fn read_codes(browser: &mut Browser, phone: &mut Browser, pictures: &[&str]) -> Result<()> {
    phone.goto("#/hand-over").await?;
    phone.wait_until_kept().await?;
    phone.offline(true);
    phone.reload().await?;
    phone.click_text("Read codes").await?;
    let folder = std::env::temp_dir().join(format!("upsweep-codes-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    // The last one first: any order will do.
    for (number, picture) in pictures.iter().enumerate().rev() {
        let bytes = bs64(picture.split_once(',').context("no picture")?.1)?;
        let file = folder.join(format!("code-{number}.png"));
        std::fs::write(&file, bytes)?;
        phone.give_file("#take-code-picture", &file).await?;
        let read = pictures.len() - number;
        let said = if number == 0 {
            "The file opens whole".to_owned()
        } else {
            format!("{read} of {} codes read", pictures.len())
        };
        phone.wait_text(&said).await?;
    }
    std::fs::remove_dir_all(&folder)?;
    phone.click_text("Take it in").await?;
    phone.wait_text("entries are new on this device").await?;
    let (here, there) = (hash_of(browser).await?, hash_of(phone).await?);
    ensure!(!here.is_empty() && here == there, "the devices differ: {here} and {there}");
    println!("    {} codes carried the log", pictures.len());
    shared(phone).await
}

/// What the system's share sheet posts is kept by the service worker and opened by the page, without a network.
async fn shared(phone: &mut Browser) -> Result<()> {
    show(phone, "#/log", "Log").await?;
    let posted = phone
        .ask_later(
            "const done = arguments[arguments.length - 1];
             const form = new FormData();
             form.append('file', new File(['upsweep-hand-over 2\\nlater'], 'x.upsweep'));
             fetch('share-in', { method: 'POST', body: form, redirect: 'manual' }).then((answer) => done(answer.type), () => done('failed'));",
            Vec::new(),
        )
        .await?;
    ensure!(posted == json!("opaqueredirect"), "the service worker answered {posted}");
    show(phone, "#/hand-over", "Hand-over and backup").await?;
    phone.wait_text("This file was written by a later version of Upsweep (form 2)").await
}

/// Draws every code of the sheet as a PNG, three pixels to a square.
const PICTURES: &str = "const done = arguments[arguments.length - 1];
    Promise.all([...document.querySelectorAll('.code-sheet svg')].map((svg) => new Promise((resolve, reject) => {
        const side = svg.viewBox.baseVal.width * 3;
        const copy = svg.cloneNode(true);
        copy.setAttribute('xmlns', 'http://www.w3.org/2000/svg');
        copy.setAttribute('width', side);
        copy.setAttribute('height', side);
        const picture = new Image();
        picture.onload = () => {
            const canvas = document.createElement('canvas');
            canvas.width = canvas.height = side;
            canvas.getContext('2d').drawImage(picture, 0, 0, side, side);
            resolve(canvas.toDataURL('image/png'));
        };
        picture.onerror = () => reject(new Error('no picture'));
        picture.src = 'data:image/svg+xml,' + encodeURIComponent(new XMLSerializer().serializeToString(copy));
    }))).then(done, (error) => done(String(error)));";

/// Reads base 64 (RFC 4648), as a page writes pictures.
fn bs64(text: &str) -> Result<Vec<u8>> {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let (mut bytes, mut kept, mut bits) = (Vec::new(), 0_u32, 0);
    for sign in text.bytes().filter(|sign| *sign != b'=') {
        let value = SIGNS.iter().position(|known| *known == sign).context("no base 64")?;
        kept = kept << 6 | value as u32;
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            bytes.push((kept >> bits & 255) as u8);
        }
    }
    Ok(bytes)
}

/// Gives a file to the field and has it looked into.
pub async fn looked_into(browser: &mut Browser, file: &Path) -> Result<()> {
    browser.wait_for("document.querySelector('#restore-file')", "the field for a file").await?;
    browser.give_file("#restore-file", file).await?;
    browser.click_text("Look into this file").await
}

/// Takes a file in, on the page of hand-over.
///
/// # Errors
/// When it does not open or adds nothing.
pub async fn taken_in(browser: &mut Browser, file: &Path) -> Result<()> {
    looked_into(browser, file).await?;
    browser.wait_text("The file opens whole").await?;
    browser.click_text("Take it in").await?;
    browser.wait_text("entries are new on this device").await
}

/// Saves everything as one file and gives its path.
async fn given(browser: &mut Browser, part: &str) -> Result<PathBuf> {
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    saved(browser, "Save everything as one file", part).await
}

/// Presses a button that hands out a file, and moves the file away so that the next one is told from it.
pub async fn saved(browser: &mut Browser, button: &str, part: &str) -> Result<PathBuf> {
    browser.click_text(button).await?;
    browser.wait_text("The file was handed to the browser").await?;
    let file = browser.handed_out(part).await?;
    let number = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH)?.as_nanos();
    let moved = std::env::temp_dir().join(format!("handed-over-{number}.upsweep"));
    std::fs::rename(&file, &moved)
        .or_else(|_| std::fs::copy(&file, &moved).and_then(|_| std::fs::remove_file(&file)))?;
    Ok(moved)
}

fn beside(file: &Path, name: &str, bytes: &[u8]) -> Result<PathBuf> {
    let path = file.with_file_name(format!("{}-{name}", std::process::id()));
    std::fs::write(&path, bytes)?;
    Ok(path)
}

/// Returns what a device says it holds.
pub async fn line_of(browser: &mut Browser) -> Result<String> {
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    if !browser.exists("#holds-line").await? {
        browser.click_text("The line, and its code").await?;
    }
    browser.wait_for("document.querySelector('#holds-line')?.value", "the line").await?;
    let line = browser.ask("return document.querySelector('#holds-line').value", Vec::new()).await?;
    Ok(line.as_str().context("the device says nothing")?.to_owned())
}

/// Returns the hash over all headers that a device has stored; empty while it has none.
pub async fn hash_of(browser: &Browser) -> Result<String> {
    let logbook = logbook::Logbook::open("journey".into(), &packs(browser).await?, "");
    Ok(if logbook.log().is_empty() { String::new() } else { json!(logbook.log().header_set_hash()).to_string() })
}

/// Returns the packs that a device has stored.
pub async fn packs(browser: &Browser) -> Result<Vec<String>> {
    let packs = browser
        .ask_later(
            "const done = arguments[arguments.length - 1];
             const request = indexedDB.open('upsweep');
             request.onerror = () => done([]);
             request.onsuccess = () => {
                 const database = request.result;
                 const all = database.transaction(['packs'], 'readonly').objectStore('packs').getAll();
                 all.onsuccess = () => { database.close(); done(all.result); };
                 all.onerror = () => { database.close(); done([]); };
             };",
            Vec::new(),
        )
        .await?;
    Ok(packs.as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect())
}
