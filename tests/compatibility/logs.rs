//! Logs and backups as released versions wrote them.

use std::collections::BTreeSet;

use logbook::entry::Content;
use logbook::kind::Kind;
use logbook::records::Replied;
use logbook::subject::Subject;
use logbook::trust::{Trust, Word};
use logbook::{Fact, Logbook, backup, evidence};

const LINES: &str = include_str!("data/log-v1.ndjson");
/// A service with a claimed override, and its refusal: a kind that came after the others.
const REFUSAL: &str = include_str!("data/log-v1-refusal.ndjson");
/// A small academy in which overlapping the eyes was allowed and taken back, and a trial opened: two kinds that
/// came later still.
const TRIAL: &str = include_str!("data/log-v1-trial.ndjson");
/// Signed entries of the second form: an academy that its key founds, two keys admitted, one of them ended, a
/// receipt, and a key that vouches for entries that nobody signed.
const SIGNED: &str = include_str!("data/log-v1-signed.ndjson");
/// A phone whose key asks to be admitted, an override, the instructor's signed answer, and the answer typed.
const OVERRIDE: &str = include_str!("data/log-v1-override.ndjson");
/// The code that the couch showed for that override, worked out a second time by a few lines of Python.
const CODE: &str = "7NAB7J5M141N";
/// Replies and a dispute with its answer, a sign-off of the second version, two records said to be one service, a hold
/// placed and lifted, and an erasure, with the body that it erases.
const SAID: &str = include_str!("data/log-v1-said.ndjson");
/// Everything that is recorded beside services: eighteen kinds, and the second version of a consent.
const BESIDE: &str = include_str!("data/log-v1-beside.ndjson");
const BACKUP: &str = include_str!("data/backup-v1.json");
/// Hash of all headers, as it was when the files were written.
const HEADERS: &str = "aba7c6ad4f91807ce7b583d2b415b49c4c2052f91aa1d03d7888e04b74b2028b";
/// Hash that the device's chain ended with.
const HEAD: &str = "b14f2a38600578f9a1d412534d6da9494ac06dab07e320e5f4d1771faf7bd40e";

fn opened() -> Logbook {
    Logbook::open("d0".into(), &[LINES], HEAD)
}

#[test]
fn the_first_form_of_every_kind_is_still_read() {
    let log = opened();
    assert_eq!(log.problems(), []);
    assert_eq!(log.log().header_set_hash(), HEADERS);
    let later = Logbook::open("other".into(), &[REFUSAL], "");
    let last = Logbook::open("another".into(), &[TRIAL], "");
    let signed = Logbook::open("reader".into(), &[SIGNED], "");
    let said = Logbook::open("d".into(), &[SAID], "");
    let answered = Logbook::open("reader".into(), &[OVERRIDE], "");
    let beside = Logbook::open("d".into(), &[BESIDE], "");
    let others =
        || [&later, &last, &signed, &answered, &said, &beside].into_iter().flat_map(|other| other.log().entries());
    let all = || log.log().entries().chain(others());
    let kinds: BTreeSet<Kind> = all().map(|entry| entry.header().kind.clone()).collect();
    for kind in Kind::KNOWN {
        assert!(kinds.contains(kind), "no entry of the kind “{kind}”");
    }
    for entry in all().filter(|entry| !said.log().is_erased(entry.hash())) {
        assert!(matches!(entry.content(), Content::Fact(_)), "{} is not read", entry.header().kind);
    }
    assert_eq!(log.records().not_shown(), []);
}

#[test]
fn the_first_form_of_a_refused_override_still_holds() {
    let log = Logbook::open("other".into(), &[REFUSAL], "");
    assert_eq!(log.problems(), []);
    let refusals = log.records().refusals_of(&"s".into());
    assert_eq!(refusals.iter().map(|refusal| refusal.why.as_str()).collect::<Vec<_>>(), ["I was not asked"]);
}

#[test]
fn the_first_form_of_a_trial_and_of_overlapping_still_holds() {
    let log = Logbook::open("another".into(), &[TRIAL], "");
    assert_eq!(log.problems(), []);
    let said = log.records().overlap_of(&"t".into()).expect("a last word");
    assert_eq!((said.value.allowed, said.value.why.as_str(), said.author.as_str()), (false, "seen", "owner"));
    let trials = log.records().trials();
    assert_eq!(trials.iter().map(|trial| trial.trainee.as_str()).collect::<Vec<_>>(), ["t"]);
}

#[test]
fn the_first_signed_entries_still_hold() {
    let log = Logbook::open("reader".into(), &[SIGNED], "");
    assert_eq!(log.problems(), []);
    let written: BTreeSet<&str> = SIGNED.lines().collect();
    assert_eq!(log.log().lines().collect::<BTreeSet<_>>(), written);
    assert_eq!(log.log().header_set_hash(), "a455ee08e06d2439289288acba49c60e1ed0ccc0403c816ba4478d3bdeaad21f");
    let trust = Trust::of(log.log(), None);
    let word = |entry: &logbook::entry::Entry| trust.of_entry(entry, log.log());
    let words: Vec<Word> = log.log().entries().map(|entry| word(entry)).collect();
    assert_eq!(words.iter().filter(|word| **word == Word::Holds).count(), 6);
    // The tablet's key was ended, and no receipt had seen what it wrote.
    assert_eq!(words.iter().filter(|word| **word == Word::NotWitnessed).count(), 3);
}

#[test]
fn the_first_form_of_requests_and_of_answers_to_a_code_still_holds() {
    let book = Logbook::open("reader".into(), &[OVERRIDE], "");
    assert_eq!(book.problems(), []);
    assert!(book.log().entries().all(|entry| book.records().word(&entry.header().id) == Word::Holds));
    assert_eq!(book.records().asked().len(), 1);
    let service = book.records().service(&"s".into()).expect("a service");
    let made = &service.value.overrides[0];
    assert!(made.confirmed);
    let code = book.records().challenge(&"s".into(), made).expect("a code");
    assert_eq!(code, CODE);
    let answered = book.records().answer_to(&code, &made.by).expect("an answer");
    assert_eq!(answered.code.as_deref(), book.records().typed_answer_to(&code));
}

#[test]
fn the_first_form_of_what_stands_beside_services_still_holds() {
    let book = Logbook::open("d".into(), &[BESIDE], "");
    assert_eq!(book.log().problems(), []);
    assert_eq!(book.log().header_set_hash(), "8586f24e41c05808db96b7ba4ff82ab7b3ce2dfe59e7de099bac7ff36986dc75");
    let (records, trainee) = (book.records(), "t".into());
    assert_eq!(records.attendance_of(&trainee)[0].value.minutes, 90);
    assert!(records.theory_of(&trainee)[0].value.passed());
    assert_eq!(records.coaching_of(&trainee)[0].value.words, "Smaller sections");
    let case = records.cases_of(&trainee)[0];
    assert_eq!(records.case_state(case, case.value.due), practicum::coursework::CaseState::Accepted);
    assert_eq!(records.looks_at_sample(&records.samples()[0].entry).len(), 1);
    assert_eq!(records.talked_over(&"s".into()).len(), 1);
    assert_eq!(records.photos_of(&"s".into())[0].value.jpeg, "/9j/4AAQ");
    assert!(records.lift_looks_of(&"s".into())[0].value.dropped());
    assert!(records.recall_of(&"p".into(), "L-9").is_some() && records.incident_closed(&"x".into()));
    assert_eq!(records.licences_of(&trainee)[0].value.number, "E-12");
    let certificate = records.certificates()[0];
    assert_eq!(certificate.value.number, "K7Q-0001");
    assert!(records.withdrawal_of(&certificate.entry).is_some());
    assert_eq!((records.prints_of(&certificate.entry).len(), records.credential_keys().len()), (1, 1));
    assert_eq!(records.consents_of(&"m".into()).len(), 3);
}

#[test]
fn the_first_form_of_replies_duplicates_and_erasures_still_holds() {
    let book = Logbook::open("d".into(), &[SAID], "");
    assert_eq!(book.log().problems(), []);
    assert_eq!(book.log().header_set_hash(), "d892c7647546682ed83101a7cc055e13340943473a8566a81251eaad74ae985e");
    let records = book.records();
    let outcome = records.outcomes_of(&"s".into())[0];
    let Replied::Resolved(dispute, answer) = records.replied_to(&outcome.entry) else { panic!("not resolved") };
    assert_eq!(dispute.value.disputed.as_deref(), Some("the left eye was even"));
    assert_eq!((answer.author.as_str(), answer.value.words.as_str()), ("i2", "looked at again"));
    let signed = records.sign_offs()[0];
    let evidence = evidence::of_sign_off(book.log(), book.trust(), records, signed).expect("it says what it stands on");
    assert!(evidence.unchanged() && evidence.pieces.len() == 2);
    assert_eq!(records.services_in_force().len(), 1);
    let person = Subject::PracticeModel("p".into());
    assert_eq!((records.contact_of(&person), records.holds_on(&person).len()), (None, 0));
    assert_eq!(records.erasures_of(&person)[0].value.why, "asked for it");
    assert!(book.holds_erased() && book.lines().iter().all(|line| !line.contains("Invented Name")));
}

#[test]
fn what_was_written_is_passed_on_letter_for_letter() {
    let written: Vec<&str> = LINES.lines().collect();
    assert_eq!(opened().log().lines().collect::<Vec<_>>(), written);
}

#[test]
fn the_first_form_of_a_correction_still_holds() {
    let log = opened();
    let first = log.log().entries().next().expect("an entry");
    let history = log.records().history(&first.header().id);
    assert_eq!(history.len(), 2);
    assert!(history.iter().all(|version| matches!(version.fact.as_ref(), Fact::PersonEnrolled(_))));
    assert_ne!(history[0].fact, history[1].fact);
}

#[test]
fn the_first_form_of_a_backup_is_still_restored() {
    let file = backup::read(BACKUP).expect("a backup");
    let restored = file.restore(&Logbook::new("new".into()), true).expect("a restore");
    assert_eq!(restored.new, LINES.lines().count());
    assert_eq!(restored.logbook.log().header_set_hash(), HEADERS);
    assert_eq!(restored.logbook.records(), opened().records());
}
