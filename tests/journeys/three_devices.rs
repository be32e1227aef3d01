//! A course of ten weeks on three devices: the owner's laptop, the instructor's tablet, a trainee's phone. Handed over by
//! file in both directions, from the enrolment to the printed review; in the end all three hold the same.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, ensure};
use logbook::{Logbook, Records};
use practicum::ids::PersonId;
use serde_json::{Value, json};

use crate::couch;
use crate::hand_over::{hash_of, line_of, looked_into, packs, saved};
use crate::keys::switch;
use crate::last_term::{found, show};
use crate::support::browser::Browser;

const OWNER: &str = "Ottoline Marsh · owner";
const STAYS: &str = "Bertrand Osei-Whitlock";
const LEAVES: &str = "Petra Lindqvist";
const TRAINEE: &str = "Marisol Quintrell";
const OTHERS: [&str; 7] = [
    "Aurelie Tamboura",
    "Calla Whitlow",
    "Dilara Venn",
    "Edda Parrish",
    "Fenna Ostrick",
    "Greta Holloway",
    "Hanne Ivarsen",
];
/// Name of the practice model who asks to be erased.
const ERASED: &str = "Wilhelmina Invented";
/// A note that a spreadsheet program would work out if it were let.
const FORMULA: &str = "=1+2";
/// Weeks of the course, one service of each trainee in each.
const WEEKS: u64 = 10;

/// The three devices.
struct Devices<'b> {
    laptop: &'b mut Browser,
    tablet: Browser,
    phone: Browser,
}

/// From the enrolment of eight to the printed review of one.
///
/// # Errors
/// When a step does not do what it should.
pub async fn a_course(browser: &mut Browser) -> Result<()> {
    let (tablet, phone) = (Browser::launch().await?, Browser::launch().await?);
    let mut devices = Devices { laptop: browser, tablet, phone };
    let outcome = course(&mut devices).await;
    devices.tablet.close().await;
    devices.phone.close().await;
    outcome
}

async fn course(devices: &mut Devices<'_>) -> Result<()> {
    devices.laptop.set_window(1280, 800).await?;
    enrolled(devices.laptop).await?;
    ten_weeks(devices.laptop).await?;
    handed_out(devices).await?;
    let service = reaction(&mut devices.phone).await?;
    pass(&mut devices.phone, devices.laptop, None).await?;
    marked_by_who_leaves(devices.laptop, &service).await?;
    pass(devices.laptop, &mut devices.phone, Some(TRAINEE)).await?;
    disputed_and_corrected(&mut devices.phone, &service).await?;
    pass(&mut devices.phone, devices.laptop, None).await?;
    pass(devices.laptop, &mut devices.tablet, None).await?;
    answered(&mut devices.tablet, &service).await?;
    pass(&mut devices.tablet, devices.laptop, None).await?;
    somebody_leaves(devices.laptop).await?;
    erased(devices.laptop).await?;
    lost_and_restored(devices).await?;
    the_same(devices).await?;
    reviewed(devices).await
}

/// Eight trainees, two instructors, and a practice model who will ask to be erased.
async fn enrolled(laptop: &mut Browser) -> Result<()> {
    found(laptop).await?;
    for (name, role) in
        OTHERS.iter().map(|name| (*name, "trainee")).chain([(STAYS, "instructor"), (LEAVES, "instructor")])
    {
        laptop.fill("Name", name).await?;
        laptop.click_text(role).await?;
        laptop.click_text("Enrol").await?;
        laptop.wait_text(&format!("{name} {role}")).await?;
    }
    show(laptop, "#/practice-models", "Practice models").await?;
    laptop.fill("Code", "PM-900").await?;
    laptop.fill("Birth date", "1995-04-01").await?;
    laptop.click_css("main form button[type=submit]").await?;
    laptop.wait_text("Particulars and contact").await?;
    laptop.fill("Name (optional)", ERASED).await?;
    laptop.click_text("Note contact").await?;
    laptop.wait_text("The contact is noted").await
}

/// Ten weeks of services come in from a spreadsheet.
async fn ten_weeks(laptop: &mut Browser) -> Result<()> {
    let seconds = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH)?.as_secs();
    let today = chrono::DateTime::from_timestamp(i64::try_from(seconds)?, 0).context("today")?.date_naive();
    let mut table =
        String::from("No.;Student;Date;Client code;Sections L/R;Service time;Hands-on;Lash condition;Result\n");
    let mut number = 0;
    for week in 0..WEEKS {
        for (place, name) in std::iter::once(TRAINEE).chain(OTHERS).enumerate() {
            number += 1;
            let day = today - chrono::Days::new(7 * (WEEKS - week) + place as u64 % 5);
            let (sections, minutes) = if week < 6 { ("4/4", 105 - 3 * week) } else { ("2/2", 88 - 2 * week) };
            let hands_on = minutes - 35;
            table.push_str(&format!(
                "{number};{name};{day};C-{number:03};{sections};{minutes}:00;{hands_on}:{place:02};average;2\n"
            ));
        }
    }
    let file = std::env::temp_dir().join(format!("upsweep-ten-weeks-{}.csv", std::process::id()));
    std::fs::write(&file, table)?;
    show(laptop, "#/import", "Bring in a spreadsheet").await?;
    laptop.give_file("#sheet-file", &file).await?;
    laptop.click_text("Read and show, write nothing").await?;
    laptop.wait_text("Preview: nothing is written yet").await?;
    laptop.wait_text("80 rows ready").await?;
    laptop.click_text("Import 80 rows").await?;
    laptop.wait_text("80 rows were imported as one batch").await?;
    std::fs::remove_file(file).map_err(Into::into)
}

/// The tablet gets everything, the phone what is its trainee's; both ask for their keys, and the owner admits them.
async fn handed_out(devices: &mut Devices<'_>) -> Result<()> {
    let Devices { laptop, tablet, phone } = devices;
    tablet.set_window(800, 1100).await?;
    tablet.goto("#/hand-over").await?;
    first(laptop, tablet, None).await?;
    phone.set_window(360, 740).await?;
    phone.goto("#/hand-over").await?;
    first(laptop, phone, Some(TRAINEE)).await?;
    phone.screenshot("three-phone-taken-in").await?;
    new_pin(tablet, &format!("{STAYS} · instructor"), "1357").await?;
    switch(tablet, &format!("{STAYS} · instructor"), "1357").await?;
    phone.click_css("#who-button").await?;
    phone.click_text(TRAINEE).await?;
    for device in [&mut *tablet, phone] {
        asked(device).await?;
    }
    pass(tablet, laptop, None).await?;
    pass(phone, laptop, None).await?;
    new_pin(laptop, &format!("{LEAVES} · instructor"), "8642").await?;
    switch(laptop, &format!("{LEAVES} · instructor"), "8642").await?;
    switch(laptop, OWNER, "2468").await?;
    academy_key(laptop).await?;
    for _ in 0..4 {
        laptop.click_text("Admit this key").await?;
        laptop.wait_text("Admitted: ").await?;
    }
    laptop.wait_text("No key waits").await?;
    laptop.screenshot("three-laptop-keys").await?;
    pass(laptop, tablet, None).await?;
    pass(laptop, phone, Some(TRAINEE)).await
}

/// A device asks for its key, unless that was done when somebody unlocked it.
async fn asked(device: &mut Browser) -> Result<()> {
    show(device, "#/keys", "Keys").await?;
    device.wait_text("On this device").await?;
    tokio::time::sleep(std::time::Duration::from_millis(500)).await;
    let press = "const button = [...document.querySelectorAll('main button')]
            .find((one) => one.innerText.startsWith('Ask for this device’s key'));
        button?.click(); return true";
    device.ask(press, Vec::new()).await?;
    device.wait_text("waits to be admitted: hand the log over to the owner").await
}

/// Opens the academy's key, on the page of keys.
async fn academy_key(laptop: &mut Browser) -> Result<()> {
    show(laptop, "#/keys", "Keys").await?;
    laptop.wait_text("Waiting to be admitted").await?;
    if laptop.page_text().await?.contains("until the lock closes") {
        return Ok(());
    }
    laptop.fill("Its passphrase", "quarters before halves").await?;
    laptop.click_text("Open the academy’s key").await?;
    laptop.wait_text("The academy’s key is open").await
}

/// Sets somebody's first PIN here.
async fn new_pin(browser: &mut Browser, who: &str, pin: &str) -> Result<()> {
    browser.click_css("#who-button").await?;
    browser.click_text(who).await?;
    browser.wait_text("No PIN is set here yet").await?;
    browser.fill("New PIN", pin).await?;
    browser.fill("New PIN again", pin).await?;
    browser.click_css(".who-list form button").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.click_css("#who-button").await
}

/// Whoever uses a device hands everything to an empty one, by file.
async fn first(from: &mut Browser, to: &mut Browser, for_whom: Option<&str>) -> Result<()> {
    show(from, "#/log", "Log").await?;
    show(from, "#/hand-over", "Hand-over and backup").await?;
    let button = match for_whom {
        None => "Save everything as one file",
        Some(trainee) => {
            from.fill("For whom", &format!("{trainee}’s device: own records")).await?;
            "Save as a file"
        }
    };
    let file = saved(from, button, "upsweep-").await?;
    looked_into(to, &file).await?;
    to.wait_text("The file opens whole").await?;
    to.click_text("Take it in").await?;
    to.wait_text("new on this device. Everything was checked first.").await?;
    std::fs::remove_file(file).map_err(Into::into)
}

/// Whoever uses a device hands to another what it lacks, by file.
async fn pass(from: &mut Browser, to: &mut Browser, for_whom: Option<&str>) -> Result<()> {
    let line = line_of(to).await?;
    show(from, "#/log", "Log").await?;
    show(from, "#/hand-over", "Hand-over and backup").await?;
    if let Some(trainee) = for_whom {
        from.fill("For whom", &format!("{trainee}’s device: own records")).await?;
    }
    from.click_text("Only what the other device lacks").await?;
    from.fill("What the other device holds", &line).await?;
    let file = saved(from, "Save as a file", "-part-").await?;
    taken_in(to, &file).await?;
    std::fs::remove_file(file).map_err(Into::into)
}

/// Takes a file in, whether it brings one entry or many.
async fn taken_in(browser: &mut Browser, file: &Path) -> Result<()> {
    show(browser, "#/log", "Log").await?;
    show(browser, "#/hand-over", "Hand-over and backup").await?;
    looked_into(browser, file).await?;
    browser.wait_text("The file opens whole").await?;
    browser.click_text("Take it in").await?;
    browser.wait_text("new on this device. Everything was checked first.").await
}

/// A practice model reacts on the phone's couch; gives the place of the service.
async fn reaction(phone: &mut Browser) -> Result<String> {
    show(phone, "#/practice-models", "Practice models").await?;
    if phone.exists("details:not([open]) #pm-name").await? {
        phone.click_text("Add a practice model").await?;
    }
    phone.fill("Code", "PM-500").await?;
    phone.click_css("main form button[type=submit]").await?;
    phone.wait_for("location.hash.startsWith('#/practice-model/')", "the practice model to be added").await?;
    show(phone, "#/", "Start").await?;
    couch::begin(phone).await?;
    couch::open_step(phone, "Practice model").await?;
    couch::choose(phone, "Who is on the couch?", "PM-500").await?;
    couch::answered(phone, "Practice model").await?;
    phone.click_text("■ Reaction").await?;
    phone.wait_text("Stop. Take the product off both eyes now.").await?;
    phone.wait_text("Emergency number: 999").await?;
    phone.screenshot("three-phone-reaction").await?;
    hold(phone, "Hold to close the service: stopped, reaction").await?;
    phone.wait_text("How did it go?").await?;
    phone.fill("Comfort: stinging, watering, anything said", "lids red and itching").await?;
    couch::choose(phone, "Swelling of the face, or trouble breathing?", "No").await?;
    phone.click_text("Save the record").await?;
    phone.wait_for("location.hash.startsWith('#/service/')", "the service’s page").await?;
    phone.wait_text("stopped, reaction").await?;
    let place = phone.ask("return location.hash", Vec::new()).await?;
    Ok(place.as_str().context("a place")?.to_owned())
}

/// Presses a button that has to be held: the first press asks, the second does.
async fn hold(browser: &mut Browser, words: &str) -> Result<()> {
    browser.click_text(words).await?;
    browser.wait_text("Not done yet").await?;
    tokio::time::sleep(std::time::Duration::from_millis(600)).await;
    browser.click_text(words).await
}

/// The instructor who will leave marks the service, signed by a key of her own.
async fn marked_by_who_leaves(laptop: &mut Browser, service: &str) -> Result<()> {
    switch(laptop, &format!("{LEAVES} · instructor"), "8642").await?;
    show(laptop, &service.replace("#/service/", "#/mark/"), "Mark a service").await?;
    laptop.wait_for("document.querySelector('.criterion')", "the rubric").await?;
    let marked =
        "document.querySelectorAll('.criterion').forEach((row) => row.querySelector('input:not(:disabled)').click());
        document.querySelector('#independence-0').click(); return true";
    laptop.ask(marked, Vec::new()).await?;
    laptop.fill("Comment", "The gel pads were put on too close to the waterline.").await?;
    laptop.click_text("Save the marks").await?;
    laptop.wait_for("!location.hash.startsWith('#/mark/')", "the marks to be saved").await?;
    show(laptop, service, "Service").await?;
    laptop.wait_text(&format!("Marked by {LEAVES}")).await?;
    switch(laptop, OWNER, "2468").await
}

/// The trainee does not agree with the marks, and corrects a word of the record.
async fn disputed_and_corrected(phone: &mut Browser, service: &str) -> Result<()> {
    show(phone, service, "Service").await?;
    phone.wait_text(&format!("Marked by {LEAVES}")).await?;
    phone.click_text("I do not agree").await?;
    phone.fill("What you do not agree with, and why", "The pads lay two millimetres away from it.").await?;
    phone.click_text("Dispute this").await?;
    phone.wait_text("Your view is kept beside this one").await?;
    show(phone, &service.replace("#/service/", "#/correct/"), "Correct a record").await?;
    phone.fill("Room", "Room 2").await?;
    phone.fill("Note", FORMULA).await?;
    phone.fill("Why is it corrected?", "the room was left out").await?;
    phone.click_text("Record the correction").await?;
    phone.wait_for("location.hash.startsWith('#/service/')", "the correction to be recorded").await?;
    phone.wait_text("Room 2").await?;
    phone.screenshot("three-phone-disputed").await
}

/// A second instructor, who did not write the marks, finds the dispute in the list and answers it.
async fn answered(tablet: &mut Browser, service: &str) -> Result<()> {
    switch(tablet, &format!("{STAYS} · instructor"), "1357").await?;
    show(tablet, "#/marking", "Marking").await?;
    tablet.wait_text("Disputes to answer: 1").await?;
    tablet.screenshot("three-tablet-waiting").await?;
    show(tablet, service, "Service").await?;
    tablet.click_text("Answer this dispute").await?;
    tablet.fill("How it was resolved", "Looked at together: the distance is noted, the marks stay.").await?;
    tablet.click_text("Keep the answer").await?;
    tablet.wait_text("The answer is kept beside both views.").await?;
    show(tablet, "#/marking", "Marking").await?;
    let gone = "!document.querySelector('main').innerText.includes('Disputes to answer: 1')";
    tablet.wait_for(gone, "the line to go").await
}

/// An instructor leaves: noted, and her key ended at the place it has signed up to.
async fn somebody_leaves(laptop: &mut Browser) -> Result<()> {
    switch(laptop, OWNER, "2468").await?;
    show(laptop, "#/people", "People").await?;
    let row = format!(
        "[...document.querySelectorAll('li')].some((one) => one.innerText.includes({}) && one.querySelector('button[aria-expanded]'))",
        json!(LEAVES)
    );
    laptop.wait_for(&row, "the row of who leaves").await?;
    let open = "const row = [...document.querySelectorAll('li')]
            .find((one) => one.innerText.includes(arguments[0]) && one.querySelector('button[aria-expanded]'));
        row.querySelector('button[aria-expanded]').click(); return true";
    laptop.ask(open, vec![json!(LEAVES)]).await?;
    hold(laptop, "Hold: has left the academy").await?;
    let left = "[...document.querySelectorAll('h2')].some((one) => one.innerText === 'Left')";
    laptop.wait_for(left, "the list of those who left").await?;
    academy_key(laptop).await?;
    laptop.wait_text("This person has left the academy: end the key.").await?;
    let form = "const row = [...document.querySelectorAll('li')].find((li) => li.innerText.includes(arguments[0]) && li.querySelector('details'));
        row.querySelector('details').open = true;
        const why = row.querySelector('input'); why.value = 'left'; why.dispatchEvent(new Event('input', { bubbles: true }));
        row.querySelector('button').click(); return true";
    laptop.ask(form, vec![json!(LEAVES)]).await?;
    laptop.wait_text("ended after entry").await
}

/// The owner erases who a practice model is.
async fn erased(laptop: &mut Browser) -> Result<()> {
    show(laptop, "#/practice-models", "Practice models").await?;
    laptop.click_text("PM-900").await?;
    laptop.wait_text("Particulars and contact").await?;
    laptop.click_text("Erase who this is, for good").await?;
    laptop.wait_text("Nothing brings it back.").await?;
    laptop.fill("Why", "asked for it").await?;
    laptop.fill("Type “PM-900” to go on", "PM-900").await?;
    laptop.click_css("main .button-danger").await?;
    laptop.wait_text("Erased on this device").await?;
    laptop.screenshot("three-laptop-erased").await
}

/// The phone is lost: a new one takes in what the lost one had saved, then what the academy has for it.
async fn lost_and_restored(devices: &mut Devices<'_>) -> Result<()> {
    let Devices { laptop, tablet, phone } = devices;
    pass(laptop, tablet, None).await?;
    show(phone, "#/log", "Log").await?;
    show(phone, "#/hand-over", "Hand-over and backup").await?;
    let backup = saved(phone, "Save everything as one file", "upsweep-").await?;
    let before = hash_of(phone).await?;
    let new = Browser::launch().await?;
    std::mem::replace(phone, new).close().await;
    phone.set_window(360, 740).await?;
    phone.goto("#/hand-over").await?;
    taken_in(phone, &backup).await?;
    std::fs::remove_file(backup)?;
    ensure!(hash_of(phone).await? == before, "the restored phone does not hold what the lost one held");
    pass(laptop, phone, Some(TRAINEE)).await?;
    phone.click_css("#who-button").await?;
    phone.click_text(TRAINEE).await?;
    // What the new phone asks for goes back, and the owner admits its key.
    asked(phone).await?;
    pass(phone, laptop, None).await?;
    academy_key(laptop).await?;
    laptop.click_text("Admit this key").await?;
    laptop.wait_text("No key waits").await?;
    pass(laptop, tablet, None).await?;
    // The tablet's instructor has signed what was seen; with that everybody has everything, and nothing more is signed.
    pass(tablet, laptop, None).await?;
    pass(laptop, phone, Some(TRAINEE)).await
}

/// All three hold the same headers, and come to the same wherever they may hold the subject; nothing of whom was erased
/// is on any disk.
async fn the_same(devices: &mut Devices<'_>) -> Result<()> {
    let Devices { laptop, tablet, phone } = devices;
    let hashes = [hash_of(laptop).await?, hash_of(tablet).await?, hash_of(phone).await?];
    ensure!(!hashes[0].is_empty() && hashes.iter().all(|hash| *hash == hashes[0]), "the devices differ: {hashes:?}");
    let mut logbooks = Vec::new();
    for (device, name) in [(&**laptop, "laptop"), (&*tablet, "tablet"), (&*phone, "phone")] {
        let packs = packs(device).await?;
        let there = packs.iter().any(|pack| pack.contains("Wilhelmina") || pack.contains("1995-04-01"));
        ensure!(!there, "what was erased is on the {name}’s disk still");
        let logbook = Logbook::open(name.into(), &packs, "");
        ensure!(logbook.log().problems().is_empty(), "{name}: {:?}", logbook.log().problems());
        logbooks.push(logbook);
    }
    let [on_laptop, on_tablet, on_phone] = logbooks.as_slice() else { anyhow::bail!("there are not three") };
    ensure!(on_laptop.records() == on_tablet.records(), "laptop and tablet come to different records");
    let trainee = on_laptop.records().people().into_iter().find(|one| one.name == TRAINEE).context("the trainee")?;
    let (there, here) = (of(on_laptop.records(), &trainee.id), of(on_phone.records(), &trainee.id));
    ensure!(there == here, "laptop: {there}\n\nphone: {here}");
    let counts = on_laptop.records().services().len();
    ensure!(counts == 81, "{counts} services, not 80 from paper and 1 at the couch");
    let names = on_phone.records().people();
    ensure!(!names.iter().any(|one| OTHERS.contains(&one.name.as_str())), "the phone knows other trainees by name");
    println!("    {} entries on three devices, 81 services, the same records", on_laptop.log().len());
    Ok(())
}

/// What a device may know of a trainee beside the rows that stand in one body with others'.
fn of(records: &Records, trainee: &PersonId) -> String {
    let live = records.services_of(trainee).into_iter().filter(|known| !known.value.is_imported());
    let services: Vec<_> = live.collect();
    let outcomes: Vec<_> = services.iter().map(|known| records.outcomes_of(&known.value.id)).collect();
    let replies: Vec<_> = outcomes.iter().flatten().map(|known| records.replies_to(&known.entry)).collect();
    let answers: Vec<_> = replies.iter().flatten().map(|reply| records.resolution_of(&reply.entry)).collect();
    let incidents = records.incidents();
    format!("{services:#?}\n{outcomes:#?}\n{replies:#?}\n{answers:#?}\n{incidents:#?}\n{:#?}", records.person(trainee))
}

/// The owner signs the review, prints it, and hands the record out; the phone verifies it without a network.
async fn reviewed(devices: &mut Devices<'_>) -> Result<()> {
    let Devices { laptop, phone, .. } = devices;
    switch(laptop, OWNER, "2468").await?;
    show(laptop, "#/reviews", "Course-end reviews").await?;
    laptop.click_text("Put all 8 together").await?;
    laptop.wait_text("8 reviews stand below").await?;
    let hash = "return [...document.querySelectorAll('a[href*=\"#/review/\"]')]
        .find((one) => one.textContent.includes(arguments[0])).hash";
    let hash = laptop.ask(hash, vec![json!(TRAINEE)]).await?;
    show(laptop, hash.as_str().context("a review")?, &format!("Course-end review: {TRAINEE}")).await?;
    laptop.click_text("Sign this record as of now").await?;
    laptop.wait_text("Signed as of").await?;
    laptop.wait_text("stopped for a reaction").await?;
    laptop.screenshot("three-laptop-review").await?;
    printed(laptop).await?;
    laptop.click_text("Save the record file (JSON)").await?;
    let record = laptop.handed_out("-record-").await?;
    laptop.click_text("Save the services (CSV)").await?;
    in_a_spreadsheet(&laptop.handed_out("-services-").await?)?;
    laptop.click_text("Save as a page (HTML)").await?;
    let page = laptop.handed_out("-review-").await?;
    phone.wait_until_kept().await?;
    phone.offline(true);
    show(phone, "#/verify", "Verify a file").await?;
    phone.give_file("#verify-file", &record).await?;
    phone.click_text("Check this file").await?;
    phone.wait_text("Everything in this file that was signed holds under the key below.").await?;
    phone.screenshot("three-phone-verified").await?;
    without_network(phone, &page).await?;
    second_opinion(&record)
}

/// Every page of paper is numbered and says whose it is; what the record says stands on it.
async fn printed(laptop: &mut Browser) -> Result<()> {
    let printed = laptop.devtools("Page.printToPDF", json!({ "preferCSSPageSize": true })).await?;
    let data = printed.get("data").and_then(Value::as_str).context("no PDF came")?;
    let path = std::env::temp_dir().join(format!("upsweep-three-{}.pdf", std::process::id()));
    std::fs::write(&path, crate::review::base64(data).context("the PDF cannot be read")?)?;
    let Ok(text) = Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output() else {
        println!("    pdftotext is not on this machine: the printed pages were made and not read");
        return std::fs::remove_file(&path).map_err(Into::into);
    };
    std::fs::remove_file(&path)?;
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    let pages: Vec<&str> = text.split('\u{c}').filter(|page| !page.trim().is_empty()).collect();
    for (number, page) in (1..).zip(&pages) {
        ensure!(page.contains(TRAINEE), "page {number} does not say whose it is");
        ensure!(page.contains(&format!("Page {number} of {}", pages.len())), "page {number} is not numbered");
    }
    for words in ["safety breach", "disputed by the trainee", "answered by", "lids red and itching", LEAVES] {
        ensure!(text.contains(words), "the printed review does not say “{words}”");
    }
    println!("    the review fills {} pages of paper", pages.len());
    Ok(())
}

/// A spreadsheet program opens the table: every service is a row, and a note that looks like a formula stays a note.
fn in_a_spreadsheet(table: &Path) -> Result<()> {
    let out = std::env::temp_dir().join(format!("upsweep-table-{}.csv", std::process::id()));
    let ran = Command::new("ssconvert").args(["--import-encoding=UTF-8"]).arg(table).arg(&out).output();
    let Ok(ran) = ran else {
        println!("    ssconvert is not on this machine: no spreadsheet program opened the table");
        return Ok(());
    };
    ensure!(ran.status.success(), "the spreadsheet program refused: {}", String::from_utf8_lossy(&ran.stderr));
    let text = std::fs::read_to_string(&out)?;
    std::fs::remove_file(out)?;
    let rows = text.lines().filter(|line| line.contains(TRAINEE)).count();
    ensure!(rows == 11, "the spreadsheet program sees {rows} of 11 services: {text}");
    ensure!(text.contains("=1+2"), "the note was worked out: {text}");
    println!("    a spreadsheet program opens the table of 11 services");
    Ok(())
}

/// The page opens from the disk in a browser without a network, and shows the record with its drawings.
async fn without_network(phone: &mut Browser, page: &Path) -> Result<()> {
    let off = json!({ "offline": true, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0 });
    phone.devtools("Network.enable", json!({})).await?;
    phone.devtools("Network.emulateNetworkConditions", off).await?;
    phone.open_file(page).await?;
    phone.screenshot("three-phone-page").await?;
    let asked = "return [document.body.innerText, document.querySelectorAll('svg').length,
        performance.getEntriesByType('resource').length, document.documentElement.scrollWidth]";
    let said = phone.ask(asked, Vec::new()).await?;
    let words = said.get(0).and_then(Value::as_str).unwrap_or_default();
    ensure!(words.contains(&format!("Training record of {TRAINEE}")), "the page says: {words}");
    ensure!(said.get(1).and_then(Value::as_u64) > Some(0), "the page shows no drawing");
    ensure!(said.get(2) == Some(&json!(0)), "the page asks for something outside: {said}");
    Ok(())
}

/// A second implementation verifies the record, where Python and its library are.
fn second_opinion(record: &PathBuf) -> Result<()> {
    let there = Command::new("python3").args(["-c", "import cryptography"]).output();
    if !there.is_ok_and(|there| there.status.success()) {
        println!("    Python’s cryptography is not on this machine: no second implementation looked at the record");
        return Ok(());
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/scripts/verify_record.py");
    let ran = Command::new("python3").arg(script).arg(record).output()?;
    let said = String::from_utf8_lossy(&ran.stdout).into_owned();
    ensure!(ran.status.success(), "{said}{}", String::from_utf8_lossy(&ran.stderr));
    println!("    verify_record.py: {}", said.lines().last().unwrap_or_default());
    Ok(())
}
