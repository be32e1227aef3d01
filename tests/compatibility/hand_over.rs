//! Hand-over files as released versions wrote them.

use logbook::entry::Content;
use logbook::hand_over::{Bodies, HandOver, HandOverError, Holds, codes, read};
use logbook::{Logbook, hand_over};

/// The log of `log-v1.ndjson`, whole, from 2026-04-01. It calls itself a demo, because its founding entry does.
const WHOLE: &[u8] = include_bytes!("data/hand-over-v1.upsweep");
/// The same, sealed by [`PASSPHRASE`].
const SEALED: &[u8] = include_bytes!("data/hand-over-v1-sealed.upsweep");
/// The same for the device of the trainee `c`.
const TRAINEE: &[u8] = include_bytes!("data/hand-over-v1-trainee.upsweep");
/// The beginning of the same log, up to the fourth entry, as the texts of a run of codes.
const CODES: &str = include_str!("data/hand-over-v1-codes.txt");
/// What the device that wrote them held.
const HOLDS: &str = include_str!("data/hand-over-v1-holds.txt");
const PASSPHRASE: &str = "four small sections first";
const LINES: &str = include_str!("data/log-v1.ndjson");
/// Hash of all headers, as it was when the files were written.
const HEADERS: &str = "aba7c6ad4f91807ce7b583d2b415b49c4c2052f91aa1d03d7888e04b74b2028b";

fn taken(file: &HandOver) -> Logbook {
    let now = practicum::moment::parse_moment("2026-04-02T12:00:00+01:00").unwrap();
    file.take_in(&Logbook::new("new".into()), true, &now).unwrap().logbook
}

#[test]
fn the_first_form_of_files_is_still_read() {
    for (file, passphrase) in [(WHOLE, None), (SEALED, Some(PASSPHRASE))] {
        let opened = read(file, passphrase).unwrap();
        assert_eq!((opened.sealed, opened.part, opened.demo), (passphrase.is_some(), false, true));
        let logbook = taken(&opened);
        assert_eq!(logbook.log().header_set_hash(), HEADERS);
        assert_eq!(logbook.records(), Logbook::open("new".into(), &[LINES], "").records());
        assert_eq!(logbook.problems(), []);
        assert_eq!(opened.lacks_of(logbook.log()), 0);
    }
    assert_eq!(read(SEALED, Some("another passphrase")).unwrap_err(), HandOverError::WrongPassphrase);
}

#[test]
fn a_trainees_file_still_holds_all_headers_and_withholds_the_same_bodies() {
    let opened = read(TRAINEE, None).unwrap();
    assert_eq!(opened.trainee, Some("c".into()));
    let logbook = taken(&opened);
    assert_eq!(logbook.log().header_set_hash(), HEADERS);
    let withheld = |logbook: &Logbook| {
        let entries = logbook.log().entries().filter(|entry| *entry.content() == Content::Withheld);
        entries.map(|entry| entry.header().id.clone()).collect::<Vec<_>>()
    };
    // What this version would give to the same device.
    let whole = Logbook::open("d0".into(), &[LINES], "");
    let choice = hand_over::Choice { bodies: Bodies::of(&"c".into()), ..hand_over::Choice::everything() };
    let now = practicum::moment::parse_moment("2026-04-01T12:00:00+01:00").unwrap();
    let again = taken(&read(&hand_over::giving::write(&whole, &choice, &now).unwrap(), None).unwrap());
    assert!(!withheld(&logbook).is_empty());
    assert_eq!(withheld(&logbook), withheld(&again));
}

#[test]
fn the_first_form_of_codes_and_of_the_line_is_still_read() {
    let file = codes::join(CODES.lines().rev()).unwrap();
    assert_eq!(taken(&read(&file, None).unwrap()).log().len(), 4);
    let holds = Holds::read(HOLDS).unwrap();
    assert_eq!(holds.text(), HOLDS.trim_end());
    assert_eq!(holds, Holds::of(Logbook::open("d0".into(), &[LINES], "").log()));
}
