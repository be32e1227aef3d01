//! A hand-over gives back what it took, whole or in parts, and a bad file changes nothing.

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use practicum::moment::Moment;
use proptest::collection::vec;
use proptest::prelude::*;

use super::{academy, at, logbook, staffed, written};
use crate::draft::Draft;
use crate::fact::Fact;
use crate::hand_over::giving::{seal, write};
use crate::hand_over::{Bodies, Choice, HandOver, HandOverError, Holds, Reading, read};
use crate::logbook::Logbook;
use crate::subject::Subject;
use crate::wire::any;
use crate::{Records, backup};

fn now() -> Moment {
    at("2026-04-01T12:00:00+01:00")
}

fn file(logbook: &Logbook, choice: &Choice) -> Vec<u8> {
    write(logbook, choice, &now()).unwrap()
}

fn whole(logbook: &Logbook) -> Vec<u8> {
    file(logbook, &Choice::everything())
}

fn lacking(of: &Logbook, for_device: &Logbook) -> Vec<u8> {
    let holds = Holds::read(&Holds::of(for_device.log()).text()).unwrap();
    file(of, &Choice { lacking: Some(holds), ..Choice::everything() })
}

fn opened(bytes: &[u8]) -> HandOver {
    read(bytes, None).unwrap()
}

fn taken(bytes: &[u8], by: &Logbook) -> Logbook {
    opened(bytes).take_in(by, false, &now()).unwrap().logbook
}

/// Writes any text where a file's packed part stands.
fn packed(inside: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(b"upsweep-hand-over 1\n".to_vec(), Compression::default());
    encoder.write_all(inside).unwrap();
    encoder.finish().unwrap()
}

fn note(text: &str) -> Draft {
    Draft::follow_up(&"owner".into(), Subject::Academy, text.to_owned(), None)
}

/// A log on three devices: the founding, then drawn entries, those that would found or correct left out.
fn drawn() -> impl Strategy<Value = Vec<String>> {
    vec((any::fact(), any::moment()), 0..10).prop_map(|facts| {
        let founded = |fact: &Fact| matches!(fact, Fact::AcademyFounded(_) | Fact::Corrected { .. });
        let founding = (Draft::academy_founded(academy("Invented", false)), at("2020-01-01T09:00:00+00:00"));
        let facts = facts.into_iter().filter(|(fact, _)| !founded(fact));
        let drafts: Vec<_> =
            std::iter::once(founding).chain(facts.map(|(fact, at)| (Draft::new(&"a".into(), fact), at))).collect();
        written(&drafts, 3).iter().map(|entry| entry.line().to_owned()).collect()
    })
}

/// A log, and another device's part of it, always with the founding.
fn drawn_and_part() -> impl Strategy<Value = (Vec<String>, Vec<String>)> {
    drawn().prop_flat_map(|lines| {
        let keeps = vec(any::<bool>(), lines.len());
        (Just(lines), keeps).prop_map(|(lines, keeps)| {
            let part = lines.iter().zip(keeps).enumerate();
            let part =
                part.filter(|(place, (_, keep))| *place == 0 || *keep).map(|(_, (line, _))| line.clone()).collect();
            (lines, part)
        })
    })
}

proptest! {
    #[test]
    fn a_hand_over_to_an_empty_device_gives_the_same_records(lines in drawn()) {
        let before = Logbook::open("d0".into(), &lines, "");
        let after = taken(&whole(&before), &Logbook::new("new".into()));
        prop_assert_eq!(after.log().header_set_hash(), before.log().header_set_hash());
        prop_assert_eq!(format!("{:?}", after.records()), format!("{:?}", before.records()));
        prop_assert_eq!(after.problems(), before.log().problems());
    }

    #[test]
    fn what_the_other_device_lacks_makes_both_the_same((lines, part) in drawn_and_part()) {
        let (one, other) = (Logbook::open("d0".into(), &lines, ""), Logbook::open("x".into(), &part, ""));
        let bytes = lacking(&one, &other);
        let after = taken(&bytes, &other);
        prop_assert_eq!(after.log().header_set_hash(), one.log().header_set_hash());
        prop_assert_eq!(format!("{:?}", after.records()), format!("{:?}", one.records()));
        // And then nothing is lacking.
        prop_assert_eq!(opened(&lacking(&one, &after)).entries, 0);
        let back = opened(&lacking(&after, &one));
        prop_assert!(back.take_in(&one, false, &now()).unwrap().preview.brings_nothing());
    }

    #[test]
    fn files_of_parts_in_any_order_and_twice_come_to_the_same((lines, part) in drawn_and_part(), turn in any::<bool>()) {
        let (all, some) = (Logbook::open("d0".into(), &lines, ""), Logbook::open("d1".into(), &part, ""));
        let mut files = vec![whole(&all), whole(&some), lacking(&all, &some), whole(&some)];
        if turn {
            files.reverse();
        }
        let mut device = Logbook::open("d9".into(), &part[..1], "");
        for bytes in &files {
            device = taken(bytes, &device);
        }
        prop_assert_eq!(device.log().header_set_hash(), all.log().header_set_hash());
        prop_assert_eq!(format!("{:?}", device.records()), format!("{:?}", all.records()));
    }

    #[test]
    fn appended_lines_give_what_was_shown((lines, part) in drawn_and_part()) {
        let (all, some) = (Logbook::open("d0".into(), &lines, ""), Logbook::open("d1".into(), &part, ""));
        let taking = opened(&whole(&all)).take_in(&some, false, &now()).unwrap();
        let stored: Vec<String> = part.iter().chain(&taking.lines).cloned().collect();
        let reopened = Logbook::open("d1".into(), &stored, &taking.head);
        prop_assert_eq!(reopened.log().header_set_hash(), taking.logbook.log().header_set_hash());
        prop_assert_eq!(reopened.records(), taking.logbook.records());
        prop_assert_eq!(reopened.problems(), taking.logbook.problems());
    }

    #[test]
    fn hostile_bytes_are_refused_calmly(bytes in vec(any::<u8>(), 0..2_000)) {
        let _ = read(&bytes, None);
        let _ = read(&[b"upsweep-hand-over 1\n", bytes.as_slice()].concat(), None);
        let _ = read(&packed(&bytes), None);
        let _ = read(&[b"upsweep-hand-over 1 sealed\n", bytes.as_slice()].concat(), Some("four small sections first"));
    }

    #[test]
    fn hostile_lines_are_refused_calmly(head in "[{]\"(academy|count|root|x)\":[0-9\"a-f]{0,9}[}]|[\\[{]{0,9}", lines in vec(".{0,80}", 0..9)) {
        let mut inside = head.into_bytes();
        for line in lines {
            inside.push(b'\n');
            inside.extend(line.into_bytes());
        }
        prop_assert!(read(&packed(&inside), None).is_err());
    }

    #[test]
    fn pieces_of_any_size_are_read_alike(lines in drawn(), size in 1..600_usize) {
        let bytes = whole(&Logbook::open("d0".into(), &lines, ""));
        let mut reading = Reading::new();
        for piece in bytes["upsweep-hand-over 1\n".len()..].chunks(size) {
            reading.feed(piece, None).unwrap();
        }
        let (piecewise, at_once) = (reading.finish().unwrap(), opened(&bytes));
        prop_assert_eq!(piecewise.log().header_set_hash(), at_once.log().header_set_hash());
    }

    #[test]
    fn any_summary_is_read_calmly(text in "(upsweep-holds 1 (-|[0-9a-f]{16}) ?)?[a-z0-9=.,~%-]{0,60}|.{0,60}") {
        if let Ok(holds) = Holds::read(&text) {
            prop_assert_eq!(Holds::read(&holds.text()).unwrap(), holds);
        }
    }
}

fn sample() -> Logbook {
    staffed(&[note("one"), note("two")]).0
}

#[test]
fn the_same_file_twice_brings_nothing() {
    let before = sample();
    let hand_over = opened(&whole(&before));
    let once = hand_over.take_in(&Logbook::new("new".into()), false, &now()).unwrap();
    assert_eq!((once.preview.new, once.lines.len()), (8, 8));
    assert!(once.preview.say().contains("8 entries new on this device"), "{}", once.preview.say());
    let twice = hand_over.take_in(&once.logbook, false, &now()).unwrap();
    assert!(twice.preview.brings_nothing() && twice.lines.is_empty());
    assert_eq!(twice.preview.say(), "Everything in it is here already: there is nothing to take in.");
}

#[test]
fn what_is_here_already_is_not_checked_again_and_counts_all_the_same() {
    let before = sample();
    let bytes = whole(&before);
    let mut reading = Reading::new();
    reading.feed(&bytes["upsweep-hand-over 1\n".len()..], Some(before.log())).unwrap();
    let hand_over = reading.finish().unwrap();
    assert_eq!((hand_over.entries, hand_over.log().len()), (8, 0));
    assert_eq!(hand_over.lacks_of(before.log()), 0);
    assert!(hand_over.take_in(&before, false, &now()).unwrap().preview.brings_nothing());
}

#[test]
fn a_backup_says_what_it_lacks() {
    let (before, mut names) = (sample(), super::fresh(9));
    let hand_over = opened(&whole(&before));
    assert_eq!(hand_over.lacks_of(before.log()), 0);
    let mut after = before.clone();
    let prepared = after.prepare(&[note("three")], now(), &mut names).unwrap();
    after.commit(prepared);
    assert_eq!(hand_over.lacks_of(after.log()), 1);
    let for_a_trainee = file(&before, &Choice { bodies: Bodies::of(&"t".into()), ..Choice::everything() });
    // The enrolment of the other trainee and two notes come without their bodies.
    assert_eq!(opened(&for_a_trainee).lacks_of(before.log()), 3);
}

#[test]
fn a_file_cut_anywhere_is_refused() {
    let bytes = whole(&sample());
    for cut in 0..bytes.len() {
        let refused = read(&bytes[..cut], None).unwrap_err();
        let expected = if cut == 0 { HandOverError::WrongKind } else { HandOverError::CutShort };
        assert_eq!(refused, expected, "cut at {cut}");
    }
    assert!(refused(&[bytes.as_slice(), b"x"].concat()).contains("after its end"));
}

fn refused(bytes: &[u8]) -> String {
    read(bytes, None).unwrap_err().to_string()
}

#[test]
fn every_flipped_bit_of_a_file_is_refused_or_changes_nothing() {
    let before = sample();
    let bytes = whole(&before);
    for bit in 0..bytes.len() * 8 {
        let mut flipped = bytes.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        if let Ok(hand_over) = read(&flipped, None) {
            assert_eq!(hand_over.log().header_set_hash(), before.log().header_set_hash(), "bit {bit}");
            assert_eq!(Records::of(hand_over.log()), Records::of(before.log()), "bit {bit}");
        }
    }
}

#[test]
fn a_sealed_file_opens_with_its_passphrase_only() {
    let before = sample();
    let bytes = seal(&whole(&before), "four small sections first", &[3; 40]).unwrap();
    assert!(seal(&bytes, "four small sections first", &[3; 40]).is_err());
    assert!(seal(&whole(&before), "short", &[3; 40]).unwrap_err().contains("at least 12"));
    let hand_over = read(&bytes, Some(" four small sections first ")).unwrap();
    assert!(hand_over.sealed);
    assert_eq!(hand_over.log().header_set_hash(), before.log().header_set_hash());
    assert!(hand_over.take_in(&Logbook::new("n".into()), false, &now()).unwrap().preview.sealed);
    assert_eq!(read(&bytes, None).unwrap_err(), HandOverError::Sealed);
    assert_eq!(read(&bytes, Some("Four small sections first")).unwrap_err(), HandOverError::WrongPassphrase);
    assert_eq!(
        read(&bytes[..bytes.len() - 1], Some("four small sections first")).unwrap_err(),
        HandOverError::WrongPassphrase
    );
    // Nothing of the records stands in it in plain text.
    assert!(!String::from_utf8_lossy(&bytes).contains("owner"));
}

#[test]
fn files_of_other_kinds_and_later_forms_are_told_apart() {
    assert_eq!(read(b"", None).unwrap_err(), HandOverError::WrongKind);
    assert_eq!(read(b"name,date\nA,1\n", None).unwrap_err(), HandOverError::WrongKind);
    assert_eq!(read(b"PK\x03\x04", None).unwrap_err(), HandOverError::WrongKind);
    assert_eq!(read(b"{\"format\":\"other\"}", None).unwrap_err(), HandOverError::WrongKind);
    assert_eq!(read(b"upsweep-hand-over 2\nxyz", None).unwrap_err(), HandOverError::Newer(2));
    assert_eq!(read(b"upsweep-hand-over 17 sealed\nxyz", None).unwrap_err(), HandOverError::Newer(17));
    assert!(matches!(read(b"upsweep-hand-over x\n", None), Err(HandOverError::Broken(_))));
    assert_eq!(read(b"upsweep-hand-over 1 sealed\nxyz", None).unwrap_err(), HandOverError::Sealed);
    assert!(refused(b"upsweep-hand-over 2\n").ends_with("later version of Upsweep (form 2): reload the app to get the latest version, then try again. Nothing was changed."));
}

#[test]
fn a_backup_of_the_first_form_still_opens() {
    let before = sample();
    let text = backup::export(&before, &now()).unwrap();
    let after = taken(text.as_bytes(), &Logbook::new("new".into()));
    assert_eq!(after.log().header_set_hash(), before.log().header_set_hash());
    let cut = refused(&text.as_bytes()[..text.len() / 2]);
    assert!(cut.starts_with("This file ends too early"), "{cut}");
}

#[test]
fn bombs_and_endless_lines_are_stopped() {
    let zeros = vec![b' '; 3_000_000];
    assert_eq!(read(&packed(&zeros), None).unwrap_err(), HandOverError::PackedTooTightly);
    // No line may go on for ever, however badly it packs.
    let mut noise = 0x9E37_79B9_7F4A_7C15_u64;
    let endless: Vec<u8> = std::iter::repeat_with(|| {
        noise ^= noise << 13;
        noise ^= noise >> 7;
        noise ^= noise << 17;
        b'a' + (noise % 23) as u8
    })
    .take(crate::hand_over::LONGEST_LINE + 100_000)
    .collect();
    let mut encoder = ZlibEncoder::new(b"upsweep-hand-over 1\n".to_vec(), Compression::none());
    encoder.write_all(&endless).unwrap();
    assert!(refused(&encoder.finish().unwrap()).contains("longer than an entry may be"));
    let large = vec![b' '; crate::hand_over::LARGEST_FILE + 1];
    assert_eq!(
        refused(&large),
        "This file has 64.1 MB; at most 64 MB are taken. Is it the right file? Nothing was changed."
    );
}

#[test]
fn a_head_that_lies_is_found_out() {
    let bytes = whole(&sample());
    let mut inside = Vec::new();
    std::io::Read::read_to_end(
        &mut flate2::read::ZlibDecoder::new(&bytes["upsweep-hand-over 1\n".len()..]),
        &mut inside,
    )
    .unwrap();
    let inside = String::from_utf8(inside).unwrap();
    assert_eq!(packed(inside.as_bytes()), bytes);
    let lie = |from: &str, to: &str| {
        assert!(inside.contains(from), "{from}");
        read(&packed(inside.replacen(from, to, 1).as_bytes()), None)
    };
    assert!(matches!(lie("\"count\":8", "\"count\":9"), Err(HandOverError::Broken(_))));
    assert!(matches!(lie("\"count\":8", "\"count\":7"), Err(HandOverError::Broken(_))));
    assert_eq!(lie("\"count\":8", "\"count\":9007199254740991").unwrap_err(), HandOverError::TooManyEntries);
    assert!(matches!(lie("\"root\":\"", "\"root\":\"0"), Err(HandOverError::Broken(_))));
    assert!(matches!(lie("\"academy\":\"", "\"academy\":\"0"), Err(HandOverError::Broken(_))));
    let demo = lie("\"demo\":false", "\"demo\":true").unwrap();
    assert!(matches!(demo.take_in(&Logbook::new("n".into()), true, &now()), Err(HandOverError::Demo { .. })));
    // One entry left out, one put in twice.
    let lines: Vec<&str> = inside.lines().collect();
    let joined = |lines: &[&str]| packed((lines.join("\n") + "\n").as_bytes());
    let fewer = [&lines[..1], &lines[2..]].concat();
    assert!(matches!(read(&joined(&fewer), None), Err(HandOverError::Broken(_))));
    let twice = [&lines[..2], &lines[1..8]].concat();
    assert!(refused(&joined(&twice)).contains("stands in it twice"));
    let no_end = packed(inside.trim_end().as_bytes());
    assert!(matches!(read(&no_end, None), Err(HandOverError::Broken(_))));
}

#[test]
fn a_changed_body_comes_in_as_damaged_and_is_said() {
    let before = sample();
    let bytes = whole(&before);
    let mut inside = Vec::new();
    std::io::Read::read_to_end(
        &mut flate2::read::ZlibDecoder::new(&bytes["upsweep-hand-over 1\n".len()..]),
        &mut inside,
    )
    .unwrap();
    let altered = String::from_utf8(inside).unwrap().replace("\"text\":\"two\"", "\"text\":\"ten\"");
    let taking = opened(&packed(altered.as_bytes())).take_in(&Logbook::new("n".into()), false, &now()).unwrap();
    assert!(taking.preview.findings.iter().any(|said| said.contains("was changed after it was written")));
    assert_eq!(taking.logbook.records().follow_ups().len(), 1);
    // The device that has the entry whole keeps it so.
    let at_home = opened(&packed(altered.as_bytes())).take_in(&before, false, &now()).unwrap();
    assert!(at_home.preview.brings_nothing());
}

#[test]
fn another_academys_file_the_demos_and_a_part_alone_are_refused() {
    let (ours, other) = (sample(), logbook(&[Draft::academy_founded(academy("Other", false))]).0);
    let theirs = opened(&whole(&other));
    assert_eq!(theirs.take_in(&ours, false, &now()).unwrap_err(), HandOverError::OtherAcademy);
    let demo = logbook(&[Draft::academy_founded(academy("Demo", true))]).0;
    let demo = opened(&whole(&demo));
    let new = Logbook::new("new".into());
    assert_eq!(demo.take_in(&new, false, &now()).unwrap_err(), HandOverError::Demo { file_is_demo: true });
    let real = opened(&whole(&ours));
    assert_eq!(real.take_in(&new, true, &now()).unwrap_err(), HandOverError::Demo { file_is_demo: false });
    let part = opened(&file(&ours, &Choice { since: Some(at("2026-03-02T10:05:00+00:00")), ..Choice::everything() }));
    assert_eq!((part.entries, part.part), (3, true));
    assert_eq!(part.take_in(&new, false, &now()).unwrap_err(), HandOverError::OnlyAPart);
    assert!(part.take_in(&ours, false, &now()).unwrap().preview.brings_nothing());
    assert_eq!(write(&new, &Choice::everything(), &now()).unwrap_err(), HandOverError::Nothing);
}

#[test]
fn a_clock_set_to_1970_is_named_and_its_entries_are_kept() {
    let (before, mut names) = (sample(), super::fresh(7));
    let mut phone = Logbook::open("phone".into(), &before.log().lines().collect::<Vec<_>>(), "");
    for when in ["1970-01-01T00:00:05+00:00", "2031-01-01T00:00:00+00:00"] {
        let prepared = phone.prepare(&[note("odd clock")], at(when), &mut names).unwrap();
        phone.commit(prepared);
    }
    let taking = opened(&whole(&phone)).take_in(&before, false, &now()).unwrap();
    let said = taking.preview.findings.join("\n");
    assert!(
        said.contains("1 entry from device phone is dated before the academy was founded (the earliest 1970-01-01)")
    );
    assert!(said.contains("1 entry from device phone is dated in the future (the latest 2031-01-01)"));
    assert_eq!(taking.preview.new, 2);
    assert_eq!(taking.logbook.records().follow_ups().len(), 4);
    assert_eq!(taking.carried_further.len(), 1);
    assert_eq!(taking.carried_further[0].1.sequence, 2);
}

#[test]
fn a_fork_of_this_devices_own_chain_is_said_and_both_are_kept() {
    let before = sample();
    let (mut one, mut other) = (before.clone(), before.clone());
    for (logbook, seed, text) in [(&mut one, 5, "mine"), (&mut other, 6, "theirs")] {
        let prepared = logbook.prepare(&[note(text)], now(), &mut super::fresh(seed)).unwrap();
        logbook.commit(prepared);
    }
    let taking = opened(&whole(&other)).take_in(&one, false, &now()).unwrap();
    assert!(taking.preview.findings.iter().any(|said| said.contains("different entries with the number 9")));
    assert_eq!(taking.logbook.records().follow_ups().len(), 4);
    let reversed = opened(&whole(&one)).take_in(&other, false, &now()).unwrap();
    assert_eq!(reversed.logbook.log().header_set_hash(), taking.logbook.log().header_set_hash());
}

#[test]
fn a_summary_of_another_academy_or_cut_is_refused() {
    let (ours, other) = (sample(), logbook(&[Draft::academy_founded(academy("Other", false))]).0);
    let holds = Holds::of(ours.log());
    assert_eq!(holds.entries(), 8);
    assert!(holds.is_of(ours.log()) && !holds.is_of(other.log()));
    assert!(Holds::of(Logbook::new("n".into()).log()).is_of(ours.log()));
    let text = holds.text();
    assert!(text.len() < 250, "{text}");
    assert!(Holds::read(&text[..text.len() - 5]).is_err());
    assert!(Holds::read(&text.replacen(" 1 ", " 2 ", 1)).unwrap_err().contains("later version"));
    assert!(Holds::read("hello").is_err());
}

#[test]
fn lines_that_cannot_be_read_travel_along_but_not_to_a_trainee() {
    let mut lines: Vec<String> = sample().log().lines().map(str::to_owned).collect();
    lines.push("{\"half\":".to_owned());
    let before = Logbook::open("d".into(), &lines, "");
    let taking = opened(&whole(&before)).take_in(&Logbook::new("n".into()), false, &now()).unwrap();
    assert!(taking.logbook.log().unreadable().iter().eq(["{\"half\":"]));
    assert_eq!(taking.lines.len(), 9);
    let for_trainee = file(&before, &Choice { bodies: Bodies::of(&"t".into()), ..Choice::everything() });
    assert!(opened(&for_trainee).log().unreadable().is_empty());
}
