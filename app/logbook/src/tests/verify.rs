//! What the Verify page says of files: real ones, forged ones, replayed and altered ones.

use practicum::competency::StandsOn;
use practicum::outcome::Outcome;

use super::at;
use super::corrections::late;
use super::rights::outcome;
use super::trust::{Device, World, sign_off, when};
use crate::draft::Draft;
use crate::entry::Entry;
use crate::evidence::State;
use crate::fact::{About, Admission, ChainPlace, Fact, Reply, Scope};
use crate::log::Log;
use crate::logbook::Logbook;
use crate::record_file;
use crate::trust::Word;
use crate::verify::{Opened, Report, open, report};

/// A keyed academy in which a service was marked and a competency signed off by the instructor's tablet.
struct Signed {
    world: World,
    sign_off: Entry,
    services: Vec<Entry>,
}

fn signed() -> Signed {
    let mut world = World::new();
    let service = world.phone.write("t", Fact::ServiceLogged(late("s")));
    let marks = world.tablet.write("i", Fact::OutcomeMarked(outcome("i", true)));
    let evidence = vec![service.hash().to_owned(), marks.hash().to_owned()];
    let Fact::SignedOff(first) = sign_off("i") else { panic!("a sign-off") };
    let stands_on = Some(StandsOn { course_book: "A, edition 1".into(), evidence });
    let said = Fact::SignedOff(practicum::competency::SignOff { services: vec!["s".into()], stands_on, ..first });
    let sign_off = world.tablet.write("i", said);
    for entry in [&service, &marks, &sign_off] {
        world.take(entry);
    }
    Signed { world, sign_off, services: vec![service, marks] }
}

fn file(log: &Log, with_services: bool) -> String {
    let lines: Vec<&str> = log.lines().collect();
    let book = Logbook::open("desk".into(), &lines, "");
    record_file::export(&book, &"t".into(), with_services, &at("2026-03-05T10:00:00+00:00")).unwrap()
}

fn opened(text: &str) -> Opened {
    open(text.as_bytes(), None).unwrap()
}

fn checked(log: &Log) -> Report {
    report(&opened(&file(log, true)), None)
}

#[test]
fn a_record_file_shows_who_signed_what_and_that_it_holds() {
    let Signed { mut world, sign_off, .. } = signed();
    let about = About { entry: sign_off.header().id.clone(), hash: sign_off.hash().to_owned(), person: "t".into() };
    let reply = world.phone.write("t", Fact::Replied(Reply { about, disputed: Some("left eye".to_owned()) }));
    world.take(&reply);
    for with_services in [true, false] {
        let text = file(&world.log, with_services);
        assert_eq!(text.contains("\"note\":\"first\""), with_services, "what was done in a service is asked for");
        let seen = report(&opened(&text), None);
        assert_eq!((seen.academy.as_deref(), seen.key), (Some("A"), Some(world.academy.key())));
        assert_eq!((seen.fallen.as_slice(), seen.problems.as_slice()), (&[][..], &[][..]));
        let [one] = seen.sign_offs.as_slice() else { panic!("one decision") };
        assert!(one.holds() && one.key == Some(world.tablet.key()) && one.by == "i");
        let states: Vec<&State> = one.evidence.as_ref().unwrap().pieces.iter().map(|piece| &piece.state).collect();
        let first = if with_services { State::Unchanged } else { State::Withheld };
        assert_eq!(states, [&first, &State::Unchanged]);
        assert_eq!(one.replies, ["▲ Disputed by t on 2026-03-02: left eye"]);
        assert_eq!(seen.keys.iter().filter(|key| key.scope == Scope::Assessing).count(), 1);
    }
}

#[test]
fn a_later_withdrawal_shows_with_the_newer_file_only() {
    let Signed { mut world, sign_off: given, .. } = signed();
    let before = checked(&world.log);
    let Some(Fact::SignedOff(said)) = given.fact().map(std::sync::Arc::as_ref) else { panic!("a sign-off") };
    let (decision, later) = (practicum::competency::Decision::Withdrawn, when() + chrono::TimeDelta::days(1));
    let withdrawal = practicum::competency::SignOff { decision, at: later, ..said.clone() };
    let withdrawal = world.tablet.write("i", Fact::SignedOff(withdrawal));
    world.take(&withdrawal);
    assert!(before.sign_offs[0].holds() && !checked(&world.log).sign_offs[0].holds());
    // A trainee's key withdraws nothing.
    let Signed { mut world, .. } = signed();
    let forged =
        world.phone.write("t", Fact::SignedOff(practicum::competency::SignOff { decision, at: later, ..said.clone() }));
    world.take(&forged);
    let held = checked(&world.log).sign_offs.into_iter().filter(|one| one.holds());
    assert_eq!(held.map(|one| one.entry).collect::<Vec<_>>(), [given.header().id.clone()]);
}

#[test]
fn forged_replayed_and_unadmitted_sign_offs_do_not_hold() {
    let Signed { mut world, .. } = signed();
    let mut stranger = Device::new("stranger", 9);
    let mut elsewhere = Device::new("elsewhere", 8);
    let forgeries = [
        (world.phone.write("t", sign_off("t")), Word::BeyondScope),
        (world.phone.write("i", sign_off("i")), Word::OtherPerson),
        (stranger.write("i", sign_off("i")), Word::KeyNotAdmitted),
        (elsewhere.write_for("another-academy", "i", sign_off("i")), Word::AnotherAcademy),
        (world.academy.write("owner", sign_off("owner")), Word::BeyondScope),
    ];
    for (entry, _) in &forgeries {
        world.take(entry);
    }
    let text = file(&world.log, true);
    // A file that somebody forged may hold what no app would write into it.
    let lines: Vec<&str> = world.log.lines().collect();
    let text = with_entries(&text, &lines);
    let seen = report(&opened(&text), None);
    for (entry, word) in &forgeries {
        let one = seen.sign_offs.iter().find(|one| one.entry == entry.header().id).unwrap();
        assert_eq!((one.word, one.holds()), (Ok(*word), false));
    }
    assert_eq!(seen.sign_offs.iter().filter(|one| one.holds()).count(), 1);
    assert_eq!(seen.fallen.len(), forgeries.len());
    // Held against another academy's key nothing of it holds.
    let seen = report(&opened(&text), Some(stranger.key()));
    assert!(seen.sign_offs.iter().all(|one| !one.holds()));
}

/// Puts lines in place of a file's entries.
fn with_entries(text: &str, lines: &[&str]) -> String {
    let mut value: serde_json::Value = serde_json::from_str(text).unwrap();
    value["entries"] = lines.iter().map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap()).collect();
    value["count"] = lines.len().into();
    value.to_string()
}

#[test]
fn a_bit_flipped_in_any_byte_of_a_sign_off_shows() {
    let Signed { world, sign_off, .. } = signed();
    let text = file(&world.log, true);
    let (start, length) = (text.find(sign_off.line()).unwrap(), sign_off.line().len());
    let whole = report(&opened(&text), None);
    assert!(whole.sign_offs[0].holds());
    for byte in 0..length {
        let (bit, mut bytes) = (byte % 8, text.clone().into_bytes());
        bytes[start + byte] ^= 1 << bit;
        let Ok(file) = open(&bytes, None) else { continue };
        let seen = report(&file, None);
        let held = seen.sign_offs.iter().filter(|one| one.holds()).count();
        let told = !seen.fallen.is_empty() || !seen.problems.is_empty();
        assert!(held == 0 && told, "bit {bit} of byte {byte}: {held} held");
    }
}

#[test]
fn what_is_put_in_before_a_receipt_does_not_hold() {
    let Signed { mut world, .. } = signed();
    let mut before = world.tablet.clone();
    let mut other = Device::new("other", 6);
    let admission = Admission {
        key: other.key(),
        device: "other".into(),
        person: Some("i2".into()),
        scope: Scope::Assessing,
        label: "other".to_owned(),
    };
    let admitted = world.academy.write("owner", Fact::KeyAdmitted(admission));
    let late_one =
        world.tablet.write("i", Fact::OutcomeMarked(Outcome { comment: "more".to_owned(), ..outcome("i", true) }));
    let receipt = other.write("i2", Fact::LogSeen { device: "tablet".into(), seen: world.tablet.place() });
    let backdated = before.write("i", sign_off("i"));
    for entry in [&admitted, &late_one, &receipt, &backdated] {
        world.take(entry);
    }
    let seen = checked(&world.log);
    let one = seen.sign_offs.iter().find(|one| one.entry == backdated.header().id).unwrap();
    assert_eq!((one.word, one.holds()), (Ok(Word::NotThereThen), false));
    assert_eq!((seen.receipts.len(), seen.receipts[0].by.as_str()), (1, "i2"));
    assert!(!seen.problems.is_empty(), "the fork shows as well");
}

#[test]
fn evidence_that_was_taken_out_is_missing() {
    let Signed { world, services, .. } = signed();
    let text = file(&world.log, true);
    let lines: Vec<&str> = world.log.lines().filter(|line| *line != services[1].line()).collect();
    let seen = report(&opened(&with_entries(&text, &lines)), None);
    let states: Vec<&State> =
        seen.sign_offs[0].evidence.as_ref().unwrap().pieces.iter().map(|piece| &piece.state).collect();
    assert_eq!(states, [&State::Unchanged, &State::Missing]);
    assert!(!seen.problems.is_empty(), "and its place in the chain is a gap");
}

#[test]
fn a_key_that_was_ended_signed_only_up_to_its_end() {
    let Signed { mut world, sign_off: before, .. } = signed();
    let last = ChainPlace { sequence: world.tablet.place().sequence, head: world.tablet.place().head };
    let end = world.academy.write("owner", Fact::KeyEnded { key: world.tablet.key(), last, why: "left".to_owned() });
    let after = world.tablet.write("i", sign_off("i"));
    for entry in [&end, &after] {
        world.take(entry);
    }
    let seen = checked(&world.log);
    let word = |entry: &Entry| seen.sign_offs.iter().find(|one| one.entry == entry.header().id).unwrap().word;
    assert_eq!([word(&before), word(&after)], [Ok(Word::NotWitnessed), Ok(Word::AfterTheEnd)]);
}

#[test]
fn backups_and_hand_overs_are_read_as_well_and_other_files_are_said() {
    let Signed { world, .. } = signed();
    let lines: Vec<&str> = world.log.lines().collect();
    let book = Logbook::open("desk".into(), &lines, "");
    let now = at("2026-03-05T10:00:00+00:00");
    let backup = crate::backup::export(&book, &now).unwrap().into_bytes();
    let hand_over = crate::hand_over::giving::write(&book, &crate::hand_over::Choice::everything(), &now).unwrap();
    for bytes in [backup, hand_over] {
        let seen = report(&open(&bytes, None).unwrap(), None);
        assert!(seen.sign_offs[0].holds() && seen.trainee.is_none());
    }
    for bytes in
        [&b"hello"[..], b"{\"format\": \"upsweep-record\"", b"{\"format\": \"upsweep-record\", \"version\": 2}", b""]
    {
        assert!(open(bytes, None).is_err());
    }
}

#[test]
fn where_nobody_signed_the_file_only_agrees_with_itself() {
    let drafts = [super::staff(), vec![Draft::signed_off(super::rights::sign_off("i", "t"))]].concat();
    let (book, _) = super::logbook(&drafts);
    let text = record_file::export(&book, &"t".into(), true, &at("2026-03-05T10:00:00+00:00")).unwrap();
    let seen = report(&opened(&text), None);
    assert_eq!((seen.key, seen.sign_offs[0].word, seen.sign_offs[0].holds()), (None, Ok(Word::NotSigned), false));
}
