//! Hostile files: whatever is done to a file that the app reads, it answers with a sentence or takes it whole, and
//! never breaks.
//!
//! Files of every kind that the app takes are changed at random, a few bytes or a piece at a time, towards what
//! readers trip over: depth, repetition, huge numbers, half a letter, formulas, the end of another file.
//!
//! `EXECUTIONS=10000000 cargo test --profile study -p system-tests --test properties hostile -- --nocapture` tries as
//! many as asked, spread over all kinds, or `MINUTES=60` for as long as asked; a failure names its seed, and `SEED=n`
//! begins there.

use std::sync::LazyLock;
use std::time::{Duration, Instant};

use logbook::Logbook;
use logbook::entry::{Checked, Unverified, canonical_json};
use logbook::hand_over::{Choice, Giving};
use practicum::course_book::{example, text};
use practicum::moment::parse_moment;

use crate::draw::{Draw, number};

const PLAIN: &str = include_str!("../compatibility/data/log-v1.ndjson");
const SIGNED: &str = include_str!("../compatibility/data/log-v1-signed.ndjson");
const BACKUP: &str = include_str!("../compatibility/data/backup-v1.json");
const SHEET: &str = include_str!("../compatibility/spreadsheets/last_term.csv");
/// A run's opening and a tap, as the couch keeps them.
const TAPS: [&str; 2] = [
    r#"{"opening":{"course_book":"b","id":"s","plan":null,"products":[],"room":"","trainee":"t","what":{"service":{}}},"version":1}"#,
    r#"{"tap":{"act":{"pause":{"reason":"phone"}},"reading":{"at":"2026-03-02T10:00:00+00:00","mono_ms":5,"page":7},"sequence":3},"version":1}"#,
];
/// Pieces that readers trip over.
const PIECES: [&[u8]; 27] = [
    b"\"",
    b"{",
    b"}",
    b"[",
    b"]",
    b",",
    b":",
    b"\\",
    b"\\u0000",
    b"\\ud800",
    b"null",
    b"-0",
    b"1e999",
    b"9007199254740993",
    b"00000000000000000000000000000000",
    b"\"header\":",
    b"\"body\":null",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\0",
    b"\r",
    b"\n",
    b";",
    b"=HYPERLINK(1)",
    "＝1".as_bytes(),
    "\u{202e}".as_bytes(),
    b"\"\"\"",
];

/// A kind of file, how it is read, and sound ones to start from.
struct Target {
    name: &'static str,
    sound: Vec<Vec<u8>>,
    read: fn(&[u8]),
}

fn targets() -> Vec<Target> {
    let lines = || PLAIN.lines().chain(SIGNED.lines()).map(|line| line.as_bytes().to_vec()).collect();
    let book = example::files().iter().map(|(_, text)| text.as_bytes().to_vec()).collect();
    let now = parse_moment("2026-03-02T10:00:00+00:00").unwrap();
    let logbook = Logbook::open("reader".into(), &[SIGNED], "");
    let mut giving = Giving::of(&logbook, &Choice::everything(), &now).unwrap();
    while giving.step(1_000).unwrap() {}
    let file = giving.finish();
    vec![
        Target { name: "entry line", sound: lines(), read: line },
        Target { name: "log", sound: vec![PLAIN.into(), SIGNED.into()], read: log },
        Target { name: "backup", sound: vec![BACKUP.into()], read: backup },
        Target { name: "hand-over file", sound: vec![file.unwrap(), BACKUP.into()], read: hand_over },
        Target { name: "taps", sound: TAPS.iter().map(|text| text.as_bytes().to_vec()).collect(), read: taps },
        Target { name: "spreadsheet", sound: vec![SHEET.into()], read: sheet },
        Target { name: "canonical JSON", sound: lines(), read: json },
        Target { name: "course book", sound: book, read: book_text },
        Target {
            name: "key or signature",
            sound: vec![b"z6MktwupdmLXVVqTzCw4i46r4uGyosGXRnR3XjN4Zq7oMMsw".to_vec()],
            read: key,
        },
    ]
}

fn words(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    String::from_utf8_lossy(bytes)
}

fn line(bytes: &[u8]) {
    let text = words(bytes);
    match Unverified::read(&text) {
        Err(why) => assert!(!why.is_empty()),
        Ok(entry) => {
            // What is passed on reads the same again.
            let again = Unverified::read(entry.line()).unwrap();
            assert_eq!(again, entry);
            if let Checked::Sound(sound) = entry.check() {
                assert_eq!(sound.line(), again.line());
                let _ = sound.content();
            }
        }
    }
}

fn log(bytes: &[u8]) {
    let text = words(bytes);
    let logbook = Logbook::open("reader".into(), &[&text], "");
    let mut own = Logbook::open_own("reader".into(), &[&text], "");
    let found: Vec<(String, bool)> =
        own.unchecked(usize::MAX).into_iter().map(|(hash, check)| (hash, check.holds())).collect();
    own.checked(&found);
    assert_eq!(own.problems(), logbook.problems());
    assert!(own.records() == logbook.records());
    for problem in logbook.problems() {
        assert!(problem.say().ends_with('.'));
    }
}

fn backup(bytes: &[u8]) {
    if let Err(why) = logbook::backup::read(&words(bytes)) {
        assert!(why.to_string().ends_with("Nothing was changed."));
    }
}

fn hand_over(bytes: &[u8]) {
    match logbook::hand_over::read(bytes, None) {
        Err(why) => assert!(!why.to_string().is_empty()),
        Ok(file) => {
            let empty = Logbook::new("empty".into());
            let now = parse_moment("2026-03-02T10:00:00+00:00").unwrap();
            let _ = file.take_in(&empty, false, &now);
        }
    }
}

fn taps(bytes: &[u8]) {
    let text = words(bytes);
    for read in [logbook::tap_wire::read_tap(&text).map(drop), logbook::tap_wire::read_opening(&text).map(drop)] {
        assert!(read.is_ok() || read.is_err_and(|why| !why.is_empty()));
    }
    let _ = logbook::answers::Answers::read(&text);
}

static BOOK: LazyLock<practicum::course_book::CourseBook> = LazyLock::new(|| text::read(&example::files()).unwrap());

fn sheet(bytes: &[u8]) {
    crate::csv::read_all(bytes, &BOOK);
}

fn json(bytes: &[u8]) {
    if let Ok(canonical) = canonical_json(&words(bytes)) {
        assert_eq!(canonical_json(&canonical), Ok(canonical));
    }
}

fn book_text(bytes: &[u8]) {
    let changed = words(bytes);
    let mut files = example::files();
    let place = bytes.len() % files.len();
    files[place].1 = &changed;
    let _ = text::read(&files);
    let _ = text::split(&changed);
}

fn key(bytes: &[u8]) {
    let text = words(bytes);
    if let Ok(key) = logbook::signature::PublicKey::read(&text) {
        assert_eq!(key.text(), text);
    }
    let _ = logbook::signature::Signature::read(&text);
}

/// Changes a file a little, or a lot.
fn changed(draw: &mut Draw, target: &Target) -> Vec<u8> {
    let mut bytes = target.sound[draw.below(target.sound.len())].clone();
    for _ in 0..1 + draw.below(6) {
        let at = draw.below(bytes.len() + 1);
        let end = at + draw.below((bytes.len() - at).min(400) + 1);
        match draw.below(9) {
            0 if at < bytes.len() => bytes[at] ^= 1 << draw.below(8),
            1 if at < bytes.len() => bytes[at] = draw.next() as u8,
            2 => drop(bytes.drain(at..end)),
            3 => bytes.truncate(at),
            4 => {
                let piece = bytes[at..end].to_vec();
                let to = draw.below(bytes.len() + 1);
                bytes.splice(to..to, piece);
            }
            5 => {
                let other = &target.sound[draw.below(target.sound.len())];
                let from = draw.below(other.len());
                bytes.truncate(at);
                bytes.extend_from_slice(&other[from..]);
            }
            6 if draw.chance(10) => {
                // Deep nesting, or one letter for ever.
                let piece: &[u8] = [b"[" as &[u8], b"{\"a\":", b"=", b"\"", b" ", b"(", b"a."][draw.below(7)];
                let deep = piece.repeat(1 + draw.below(3_000));
                bytes.splice(at..at, deep);
            }
            _ => {
                let piece = PIECES[draw.below(PIECES.len())];
                bytes.splice(at..at, piece.iter().copied());
            }
        }
    }
    bytes
}

#[test]
fn no_file_does_harm() {
    let targets = targets();
    for target in &targets {
        target.sound.iter().for_each(|sound| (target.read)(sound));
    }
    let until = number("MINUTES").map(|minutes| Instant::now() + Duration::from_secs(60 * minutes));
    let executions = number("EXECUTIONS").unwrap_or(if until.is_some() { u64::MAX } else { 2_000 });
    let mut seed = number("SEED").unwrap_or(1);
    let (first, began) = (seed, Instant::now());
    let mut counts = vec![0_u64; targets.len()];
    while seed - first < executions && until.is_none_or(|until| Instant::now() < until) {
        let mut draw = Draw(seed);
        // Files take longer than lines: they are tried more seldom.
        let place = match draw.below(targets.len() + 20) {
            place if place < targets.len() => place,
            place => [0, 4, 6, 8][place % 4],
        };
        let bytes = changed(&mut draw, &targets[place]);
        let read = targets[place].read;
        let outcome = std::panic::catch_unwind(|| read(&bytes));
        assert!(outcome.is_ok(), "seed {seed}: {} breaks on {:?}", targets[place].name, words(&bytes));
        counts[place] += 1;
        seed += 1;
    }
    let told: Vec<String> =
        targets.iter().zip(&counts).map(|(target, count)| format!("{} {count}", target.name)).collect();
    println!("{} executions in {:.0} s, none broke: {}", seed - first, began.elapsed().as_secs_f64(), told.join(", "));
}

/// Files made to grow while they are read, and bombs: refused with a sentence, and soon.
#[test]
fn bombs_are_refused() {
    let deep = "[".repeat(5_000_000);
    let objects = "{\"a\":".repeat(1_000_000);
    let many = "{}\n".repeat(200_000);
    let distinct: String = (0..200_000).map(|number| format!("{{\"half\":{number}\n")).collect();
    let long = format!("{{\"header\":\"{}\"}}", "x".repeat(20_000_000));
    for text in [&deep, &objects, &many, &distinct, &long] {
        let began = Instant::now();
        assert!(Unverified::read(text).is_err());
        assert!(logbook::backup::read(text).is_err());
        assert!(logbook::hand_over::read(text.as_bytes(), None).is_err());
        assert!(canonical_json(text).is_err() || std::ptr::eq(text, &long));
        assert!(began.elapsed() < Duration::from_secs(60), "{} bytes took {:?}", text.len(), began.elapsed());
    }
    let opened = Logbook::open("reader".into(), &[&distinct], "");
    assert_eq!(opened.log().unreadable().len(), 200_000);
    let wide = "a,".repeat(2_000_000);
    crate::csv::read_all(wide.as_bytes(), &BOOK);
    crate::csv::read_all(&b"\"".repeat(3_000_000), &BOOK);
}
