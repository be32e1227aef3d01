//! A course-end review: signed, printed, saved as files, and checked by somebody without an academy.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::last_term::{found, show};
use crate::support::browser::Browser;

/// Longest code on paper, in bytes.
const LONGEST_CODE: usize = 600;

/// The owner signs a review; paper, page, record file and table say the same, and the code belongs to the file alone.
///
/// # Errors
/// When a step does not do what it should.
pub async fn signed_and_checked(browser: &mut Browser) -> Result<()> {
    found(browser).await?;
    show(browser, "#/reviews", "Course-end reviews").await?;
    browser.click_text("Put all 1 together").await?;
    browser.wait_text("1 reviews stand below").await?;
    let hash = "return [...document.querySelectorAll('a[href*=\"#/review/\"]')].map((link) => link.hash)[0]";
    let hash = browser.ask(hash, Vec::new()).await?;
    let hash = hash.as_str().context("the list names the trainee")?.to_owned();
    show(browser, &hash, "Course-end review: Marisol Quintrell").await?;
    browser.wait_text("The owner has not signed this print").await?;
    browser.click_text("Sign this record as of now").await?;
    browser.wait_text("Signed as of").await?;
    browser.wait_for("document.querySelector('.code-text')", "the code").await?;
    let code = browser.ask("return document.querySelector('.code-text').textContent", Vec::new()).await?;
    let code = code.as_str().context("a code")?.to_owned();
    ensure!(code.len() <= LONGEST_CODE, "the code has {} bytes", code.len());
    ensure!(!code.contains("Marisol") && !code.contains("Quintrell"), "the code names the trainee");
    browser.click_text("Save the record file (JSON)").await?;
    let record = browser.handed_out("-record-").await?;
    browser.click_text("Save as a page (HTML)").await?;
    let page = browser.handed_out("-review-").await?;
    browser.click_text("Save the services (CSV)").await?;
    let table = std::fs::read_to_string(browser.handed_out("-services-").await?)?;
    ensure!(table.starts_with("\u{feff}Trainee,Date,"), "the table has no head: {table}");
    on_paper(browser, &code).await?;
    alone(&page, &code)?;
    verified(browser, &record, &code).await
}

/// The printed pages are numbered, name the trainee and hold the code, read by an independent reader where there is one.
async fn on_paper(browser: &Browser, code: &str) -> Result<()> {
    let printed = json!({ "preferCSSPageSize": true, "printBackground": false });
    let printed = browser.devtools("Page.printToPDF", printed).await?;
    let data = printed.get("data").and_then(Value::as_str).context("no PDF came")?;
    let path = std::env::temp_dir().join(format!("upsweep-review-{}.pdf", std::process::id()));
    std::fs::write(&path, base64(data).context("the PDF cannot be read")?)?;
    let Ok(text) = Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output() else {
        println!("    pdftotext is not on this machine: the printed pages were made and not read");
        return std::fs::remove_file(&path).map_err(Into::into);
    };
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    let pages: Vec<&str> = text.split('\u{c}').filter(|page| !page.trim().is_empty()).collect();
    for (number, page) in (1..).zip(&pages) {
        let (name, count) = ("Training record: Marisol Quintrell, as of 20", pages.len());
        ensure!(page.contains(name), "page {number} does not say whose it is: {page}");
        ensure!(page.contains(&format!("Page {number} of {count}")), "page {number} is not numbered: {page}");
    }
    ensure!(pages.first().is_some_and(|first| first.contains("In plain words")), "the first page holds no record");
    let read = Command::new("pdftoppm").args(["-r", "200", "-png"]).arg(&path).arg(path.with_extension("")).status();
    if read.is_ok_and(|status| status.success()) && Command::new("zbarimg").arg("--version").output().is_ok() {
        let stem = path.with_extension("").file_name().context("a name")?.to_string_lossy().into_owned();
        let mut found = false;
        for entry in std::fs::read_dir(std::env::temp_dir())?.flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.starts_with(&stem) && name.ends_with(".png") {
                let read = Command::new("zbarimg").args(["--raw", "-q"]).arg(entry.path()).output()?;
                found |= String::from_utf8_lossy(&read.stdout).trim() == code;
                std::fs::remove_file(entry.path())?;
            }
        }
        ensure!(found, "an independent reader did not find the code on paper");
        println!("    an independent reader finds the code of {} bytes on {} pages of paper", code.len(), pages.len());
    }
    std::fs::remove_file(&path).map_err(Into::into)
}

/// The page stands alone: it fetches and runs nothing, and says the same.
fn alone(page: &Path, code: &str) -> Result<()> {
    let text = std::fs::read_to_string(page)?;
    for words in ["Training record of Marisol Quintrell", "Hours by type", "not a licence", code] {
        ensure!(text.contains(words), "the page does not say “{words}”");
    }
    let own = text.replace("http://www.w3.org/2000/svg", "");
    for outside in ["<script", "http:", "https:", "src=", "url("] {
        ensure!(!own.contains(outside), "the page reaches outside: {outside}");
    }
    Ok(())
}

/// Somebody checks the code alone, then with the file, then with a file that was changed.
async fn verified(browser: &mut Browser, record: &PathBuf, code: &str) -> Result<()> {
    show(browser, "#/verify", "Verify a file").await?;
    browser.click_text("Read codes instead").await?;
    let last = if code.ends_with('1') { "2" } else { "1" };
    let changed = format!("{}{last}", &code[..code.len() - 1]);
    browser.fill("Or the text of a review’s code, as printed below it", &changed).await?;
    browser.click_text("Check this code").await?;
    browser.wait_for("/does not hold|is damaged/.test(document.body.innerText)", "a changed code to be told").await?;
    browser.fill("Or the text of a review’s code, as printed below it", code).await?;
    browser.click_text("Check this code").await?;
    browser.wait_text("One key signed this code, and nothing in it was changed since.").await?;
    browser.wait_text("a later withdrawal shows only with a newer file.").await?;
    browser.give_file("#verify-file", record).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("The file is the record that the code names, to the last sign").await?;
    let other = std::env::temp_dir().join(format!("upsweep-other-{}.json", std::process::id()));
    std::fs::write(&other, std::fs::read_to_string(record)?.replace("\n]\n}\n", "\n ]\n}\n"))?;
    browser.give_file("#verify-file", &other).await?;
    browser.click_text("Check this file").await?;
    browser.wait_text("not the record that the code names").await?;
    std::fs::remove_file(other).map_err(Into::into)
}

/// Reads Base64 (RFC 4648, section 4).
pub fn base64(text: &str) -> Option<Vec<u8>> {
    let value = |letter: u8| {
        Some(match letter {
            b'A'..=b'Z' => letter - b'A',
            b'a'..=b'z' => letter - b'a' + 26,
            b'0'..=b'9' => letter - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => return None,
        })
    };
    let letters: Vec<u8> = text.bytes().filter(|letter| *letter != b'=').map(value).collect::<Option<_>>()?;
    let mut bytes = Vec::with_capacity(letters.len() * 3 / 4);
    for four in letters.chunks(4) {
        let all = four.iter().fold(0_u32, |all, six| all << 6 | u32::from(*six)) << (6 * (4 - four.len()));
        bytes.extend(all.to_be_bytes()[1..].iter().take(four.len().saturating_sub(1)));
    }
    Some(bytes)
}
