//! A record file verified by this project and by a second implementation, `scripts/verify_record.py`, which shares no
//! line with it: Python and its package `cryptography`. Where the machine has neither, that half says so.

use std::path::{Path, PathBuf};
use std::process::Command;

use logbook::verify::{open, report};

const RECORD: &str = include_str!("data/record/record.json");
const FORGED: &str = include_str!("data/record/forged.json");

/// Sign-offs that hold, and whether anything does not.
fn ours(text: &str) -> (usize, bool) {
    let Ok(file) = open(text.as_bytes(), None) else { return (0, true) };
    let seen = report(&file, None);
    let held = seen.sign_offs.iter().filter(|one| one.holds()).count();
    (held, !seen.fallen.is_empty() || !seen.problems.is_empty())
}

fn has_cryptography() -> bool {
    let found = Command::new("python3").args(["-c", "import cryptography"]).output();
    found.is_ok_and(|found| found.status.success())
}

/// Sign-offs that the script finds to hold, and whether it found anything that does not.
fn theirs(file: &Path) -> (usize, bool) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/scripts/verify_record.py");
    let ran = Command::new("python3").arg(script).arg(file).output().expect("python3 runs");
    let said = String::from_utf8_lossy(&ran.stdout).into_owned();
    let held = said.lines().filter(|line| line.contains(": HOLDS,")).count();
    (held, !ran.status.success())
}

fn written(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, text).expect("a scratch file");
    path
}

/// The same file with one thing changed that no honest program changes.
fn altered() -> Vec<(&'static str, String)> {
    let level = RECORD.replacen("\"level\":4", "\"level\":6", 1);
    let when = RECORD.replacen("\"at\":\"2026-03-02T10:00:00+00:00\"", "\"at\":\"2026-03-01T10:00:00+00:00\"", 1);
    let scope = RECORD.replacen("\"scope\":\"records\"", "\"scope\":\"owning\"", 1);
    let academy = RECORD.replacen("\"academy\":\"founding-0\"", "\"academy\":\"another-0\"", 1);
    vec![("level", level), ("when", when), ("scope", scope), ("academy", academy)]
}

#[test]
fn both_implementations_agree_on_records() {
    assert_eq!(ours(RECORD), (1, false));
    assert_eq!(ours(FORGED), (1, true));
    for (name, text) in altered() {
        assert!(text != RECORD && ours(&text).1, "{name} was changed and nothing was said");
    }
    if !has_cryptography() {
        println!("not compared: this machine has no python3 with the package cryptography");
        return;
    }
    assert_eq!(theirs(&written("record.json", RECORD)), (1, false));
    assert_eq!(theirs(&written("forged.json", FORGED)), (1, true));
    for (name, text) in altered() {
        assert!(theirs(&written(&format!("{name}.json"), &text)).1, "{name} was changed and the script said nothing");
    }
}
