//! The register of certificates: issued on a sign-off, printed again as a copy, handed out as an open credential that
//! an independent implementation verifies, withdrawn, and told so on the Verify page.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, anyhow, ensure};
use logbook::hand_over::{Choice, Giving};
use logbook::{Draft, Logbook};
use practicum::competency::{Decision, SignOff};
use practicum::course_book::{example, text};
use practicum::moment::parse_moment;
use practicum::person::Role;

use crate::hand_over::looked_into;
use crate::large_group::{academy, person};
use crate::last_term::show;
use crate::support::browser::Browser;

/// From an academy without a key, whose trainee is signed off, to a certificate that holds no more.
///
/// # Errors
/// When a step does not do what it should.
pub async fn issued_and_withdrawn(browser: &mut Browser) -> Result<()> {
    let file = std::env::temp_dir().join(format!("upsweep-certificate-{}.upsweep", std::process::id()));
    std::fs::write(&file, written()?)?;
    browser.goto("#/hand-over").await?;
    looked_into(browser, &file).await?;
    browser.wait_text("The file opens whole").await?;
    browser.click_text("Take it in").await?;
    browser.wait_text("entries are new on this device").await?;
    std::fs::remove_file(&file)?;
    browser.click_css("#who-button").await?;
    browser.click_text("Invented Owner").await?;
    browser.fill("New PIN", "2468").await?;
    browser.fill("New PIN again", "2468").await?;
    browser.click_text("Set PIN").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.fill("PIN", "2468").await?;
    browser.click_text("Unlock").await?;
    browser
        .wait_for("document.querySelector('#who-button').innerText.includes('unlocked')", "the lock to open")
        .await?;
    show(browser, "#/keys", "Keys").await?;
    browser.fill("Passphrase of the academy’s key", "quarters before halves").await?;
    browser.fill("The passphrase again", "quarters before halves").await?;
    browser.click_text("Make the academy’s key").await?;
    browser.wait_text("it can admit and end keys until the lock closes").await?;
    show(browser, "#/certificates", "Register of certificates").await?;
    browser.fill("For", "Trainee Invented").await?;
    browser.click_text("lash lift and tint").await?;
    browser.click_text("Issue it").await?;
    browser.wait_text("In force by the records on this device.").await?;
    browser.wait_text("Not printed yet.").await?;
    browser.ask("window.print = () => { window.printed = (window.printed ?? 0) + 1; }", Vec::new()).await?;
    for copy in ["Copy 1.", "Copy 2: printed again."] {
        browser.click_text("Print a copy").await?;
        browser.wait_text(copy).await?;
    }
    browser.wait_for("window.printed === 2", "both copies to go to the printer").await?;
    for (kind, algorithm) in [("EdDSA", "eddsa"), ("RS256", "rs256")] {
        browser.click_text(&format!("Open credential ({kind})")).await?;
        credential(&browser.handed_out(algorithm).await?, kind)?;
    }
    browser.click_text("Withdraw it").await?;
    browser.fill("Why", "issued by mistake").await?;
    browser.click_text("Withdraw this certificate").await?;
    browser.wait_text("■ Withdrawn on").await?;
    show(browser, "#/review/t", "Course-end review: Trainee Invented").await?;
    browser.click_text("Save the record file (JSON)").await?;
    let record = browser.handed_out("-record-").await?;
    show(browser, "#/verify", "Verify a file").await?;
    browser.give_file("#verify-file", &record).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("issued by mistake").await
}

/// Has an independent implementation verify a credential, where there is one.
fn credential(token: &Path, algorithm: &str) -> Result<()> {
    let text = std::fs::read_to_string(token)?;
    ensure!(text.matches('.').count() == 2, "this is no JWT: {text}");
    let found = Command::new("python3").args(["-c", "import openbadgeslib"]).output();
    if !found.is_ok_and(|found| found.status.success()) {
        println!("    openbadgeslib is not on this machine: the credential by {algorithm} was made and not verified");
        return Ok(());
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/scripts/verify_credential.py");
    let ran = Command::new("python3").arg(script).arg(token).output()?;
    let said = String::from_utf8_lossy(&ran.stdout).into_owned();
    ensure!(ran.status.success(), "not verified: {}", String::from_utf8_lossy(&ran.stderr));
    ensure!(said.starts_with(&format!("HOLDS {algorithm} Training in lash lift and tint")), "{said}");
    println!("    openbadgeslib: {}", said.trim());
    Ok(())
}

/// A hand-over file of an academy without a key in which a trainee's whole service is signed off.
fn written() -> Result<Vec<u8>> {
    let mut names = 0_u64;
    let mut fresh = || {
        names += 1;
        format!("{names:032x}")
    };
    let seconds = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH)?.as_secs();
    let now = chrono::DateTime::from_timestamp(i64::try_from(seconds)?, 0).context("a moment")?;
    let now = now.fixed_offset() - chrono::Duration::days(2);
    let files = example::files();
    let book = text::read(&files).map_err(|_| anyhow!("the example does not read"))?;
    let whole = book.competencies.iter().find(|one| one.whole_service).context("a whole service")?;
    let owner = "owner".into();
    let signed = SignOff {
        id: "".into(),
        competency: whole.id.clone(),
        trainee: "t".into(),
        by: "i".into(),
        at: now,
        decision: Decision::Signed,
        level: 5,
        comment: String::new(),
        services: Vec::new(),
        stands_on: None,
    };
    let drafts = [
        Draft::academy_founded(academy()),
        Draft::person_enrolled(&owner, person("owner", "Invented Owner", Role::Owner)),
        Draft::book_adopted(&owner, book.id.clone(), text::join(&files)),
        Draft::person_enrolled(&owner, person("i", "Invented Instructor", Role::Instructor)),
        Draft::person_enrolled(&owner, person("t", "Trainee Invented", Role::Trainee)),
        Draft::signed_off(signed),
    ];
    let start = parse_moment("2026-03-02T09:00:00+00:00").map_err(|why| anyhow!(why))?;
    let mut logbook = Logbook::new("writer".into());
    for draft in drafts {
        let prepared = logbook.prepare(&[draft], now, &mut fresh).map_err(|why| anyhow!("{why}"))?;
        logbook.commit(prepared);
    }
    let mut giving = Giving::of(&logbook, &Choice::everything(), &start).map_err(|why| anyhow!("{why}"))?;
    while giving.step(1_000).map_err(|why| anyhow!("{why}"))? {}
    giving.finish().map_err(|why| anyhow!("{why}"))
}
