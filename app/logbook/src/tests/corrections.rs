//! Corrections, withdrawals, and what is worked out from taps.

use practicum::couch::{Act, Opening, Tap, What};
use practicum::course_book::{self, Medium};
use practicum::eye::PerEye;
use practicum::moment::Reading;
use practicum::section::Plan;
use practicum::service::{Ending, Origin, Service, WrittenTimes};

use super::{academy, at, fresh, logbook, reopened, staffed};
use crate::draft::Draft;
use crate::fact::{Fact, ImportBatch};
use crate::logbook::NotRecorded;

pub(super) fn service(id: &str, origin: Origin) -> Service {
    Service {
        id: id.into(),
        trainee: "t".into(),
        medium: Medium::Live,
        drill: None,
        practice_model: None,
        began: at("2026-03-02T09:00:00+00:00"),
        course_book: book_id(),
        room: String::new(),
        sections: PerEye::default(),
        worked: None,
        analysis: PerEye::default(),
        shields: PerEye::default(),
        tint: practicum::couch::Tint::None,
        products: Vec::new(),
        will_be_assessed: None,
        overrides: Vec::new(),
        incident: None,
        ending: Ending::Finished,
        aftercare_given: None,
        comfort: String::new(),
        note: "first".to_owned(),
        times: practicum::couch::times::Times::default(),
        origin,
    }
}

pub(super) fn late(id: &str) -> Service {
    service(id, Origin::Late(WrittenTimes::default()))
}

fn example_text() -> String {
    course_book::text::join(&course_book::example::files())
}

fn book_id() -> practicum::ids::CourseBookId {
    let files = course_book::example::files();
    course_book::text::read(&files).unwrap().id
}

fn live(id: &str) -> Service {
    let opening = Opening {
        id: id.into(),
        trainee: "t".into(),
        what: What::Service,
        plan: Plan::Quarters,
        room: String::new(),
        products: Vec::new(),
        course_book: book_id(),
    };
    let book = course_book::text::read(&course_book::example::files()).unwrap();
    let stage =
        book.stages.iter().find(|stage| stage.part == course_book::Part::Service && !stage.per_eye).unwrap().id.clone();
    let taps =
        [(0, Act::Begin), (60, Act::Work(stage.clone(), None)), (360, Act::Done(stage, None)), (400, Act::Finish)];
    let taps = taps.into_iter().zip(0..).map(|((seconds, act), sequence)| Tap {
        sequence,
        reading: Reading {
            at: at("2026-03-02T09:00:00+00:00") + chrono::TimeDelta::seconds(seconds),
            page: 1,
            mono_ms: u64::try_from(seconds).unwrap() * 1000,
        },
        act,
    });
    service(id, Origin::Live { opening, taps: taps.collect() })
}

#[test]
fn times_of_a_live_service_are_worked_out_from_its_taps() {
    let without = staffed(&[Draft::service_logged(&"t".into(), live("s"))]).0;
    assert_eq!(without.records().service(&"s".into()).unwrap().value.times.hands_on, None);
    let adopted = Draft::book_adopted(&"owner".into(), book_id(), example_text());
    let mut later = without;
    let (mut store, mut names) = (crate::store::MemoryStore::default(), fresh(3));
    store.written_elsewhere("", &later.head());
    later.record(&mut store, &[adopted], at("2026-03-03T09:00:00+00:00"), &mut names).unwrap();
    assert_eq!(later.records().service(&"s".into()).unwrap().value.times.hands_on, Some(300));
    assert_eq!(later.records().present_book().unwrap().id, book_id());
}

#[test]
fn a_corrected_value_replaces_the_old_one_and_both_can_be_read() {
    let (mut book, mut store) = staffed(&[Draft::service_logged(&"t".into(), late("s"))]);
    let (mut names, mut now) = (fresh(3), at("2026-03-03T09:00:00+00:00"));
    for note in ["second", "third"] {
        let known = book.records().service(&"s".into()).unwrap();
        let fixed = Service { note: note.to_owned(), ..known.value.clone() };
        let draft = Draft::service_corrected(&"i".into(), known.latest.clone(), "typing".to_owned(), fixed);
        book.record(&mut store, &[draft], now, &mut names).unwrap();
        now += chrono::TimeDelta::minutes(1);
    }
    let known = book.records().service(&"s".into()).unwrap();
    assert_eq!((known.value.note.as_str(), known.corrected, known.contested), ("third", true, false));
    let notes: Vec<_> =
        book.records().service_history(&"s".into()).iter().map(|v| v.fact.service().unwrap().note.clone()).collect();
    assert_eq!(notes, ["first", "second", "third"]);
    assert_eq!(reopened(&mut store).records(), book.records());
}

#[test]
fn two_corrections_of_the_same_value_are_both_kept_and_shown() {
    let (mut book, mut store) = staffed(&[Draft::service_logged(&"t".into(), late("s"))]);
    let first = book.records().service(&"s".into()).unwrap().latest.clone();
    let (mut names, mut now) = (fresh(3), at("2026-03-03T09:00:00+00:00"));
    for note in ["mine", "yours"] {
        let fixed = Service { note: note.to_owned(), ..late("s") };
        let draft = Draft::service_corrected(&"i".into(), first.clone(), "x".to_owned(), fixed);
        book.record(&mut store, &[draft], now, &mut names).unwrap();
        now += chrono::TimeDelta::minutes(1);
    }
    let known = book.records().service(&"s".into()).unwrap();
    assert!(known.contested);
    assert_eq!(known.value.note, "yours");
    let contested: Vec<_> = book.records().service_history(&"s".into()).iter().map(|v| v.contested).collect();
    assert_eq!(contested, [false, true, true]);
}

#[test]
fn a_correction_never_makes_a_live_clock() {
    let (book, _) =
        staffed(&[Draft::service_logged(&"t".into(), late("s")), Draft::service_logged(&"t".into(), live("l"))]);
    let mut cut = live("l");
    if let Origin::Live { taps, .. } = &mut cut.origin {
        taps.pop();
    }
    for (id, fake) in [("s", live("s")), ("l", late("l")), ("l", cut), ("s", late("other"))] {
        let of = book.records().service(&id.into()).unwrap().latest.clone();
        let draft = Draft::service_corrected(&"t".into(), of, "x".to_owned(), fake);
        let refused = book.prepare(&[draft], at("2026-03-03T09:00:00+00:00"), &mut fresh(3));
        assert!(matches!(refused, Err(NotRecorded::Refused(_))), "{id}");
    }
    let empty = Draft::correction(&"t".into(), "x".into(), " ".to_owned(), Fact::ServiceLogged(late("s")));
    assert!(book.prepare(&[empty], at("2026-03-03T09:00:00+00:00"), &mut fresh(3)).is_err());
}

fn batch() -> ImportBatch {
    let row = |id: &str, line| {
        let times = WrittenTimes { service: Some(3600), ..WrittenTimes::default() };
        service(id, Origin::Imported { batch: "b".into(), line, times })
    };
    let rows = vec![row("b-2", 2), row("b-3", 3)];
    ImportBatch { id: "b".into(), file_name: "term.csv".to_owned(), rows, outcomes: Vec::new(), rejected: 1 }
}

#[test]
fn one_imported_row_is_corrected_and_the_others_stay() {
    let (mut book, mut store) = staffed(&[Draft::rows_imported(&"i".into(), batch())]);
    let known = book.records().service(&"b-3".into()).unwrap();
    let mut fixed = Service { note: "read again".to_owned(), ..known.value.clone() };
    fixed.origin = Origin::Imported { batch: "b2".into(), line: 9, times: WrittenTimes::default() };
    let draft = Draft::service_corrected(&"i".into(), known.latest.clone(), "changed row".to_owned(), fixed);
    book.record(&mut store, &[draft], at("2026-03-03T09:00:00+00:00"), &mut fresh(3)).unwrap();
    let notes: Vec<_> = book.records().services().iter().map(|s| s.value.note.clone()).collect();
    assert_eq!(notes, ["first", "read again"]);
    assert_eq!(book.records().service_history(&"b-3".into()).len(), 2);
    assert!(book.records().service_history(&"b-2".into()).is_empty());
    let origin = &book.records().service(&"b-3".into()).unwrap().value.origin;
    assert!(matches!(origin, Origin::Imported { batch, line: 9, .. } if batch.as_str() == "b"));
}

#[test]
fn a_withdrawn_import_counts_no_more_and_stays_readable() {
    let withdrawn = Draft::import_withdrawn(&"i".into(), "b".into(), "wrong file".to_owned());
    let (book, mut store) = staffed(&[Draft::rows_imported(&"i".into(), batch()), withdrawn]);
    let records = book.records();
    assert!(records.services_in_force().is_empty());
    assert_eq!(records.services().len(), 2);
    assert!(records.services().iter().all(|s| s.withdrawn.as_ref().is_some_and(|w| w.reason == "wrong file")));
    assert!(records.import(&"b".into()).unwrap().withdrawn.is_some());
    assert_eq!(reopened(&mut store).records(), records);
}

#[test]
fn nobody_marks_in_the_name_of_another() {
    let outcome = practicum::outcome::Outcome {
        service: "s".into(),
        marker: "instructor".into(),
        at: at("2026-03-02T10:00:00+00:00"),
        marks: std::collections::BTreeMap::new(),
        faults: Vec::new(),
        comment: String::new(),
        independence_next: None,
        observed: true,
    };
    let draft = Draft::new(&"t".into(), Fact::OutcomeMarked(outcome));
    let log = super::log_of(&super::written(&[(draft, at("2026-03-02T10:00:00+00:00"))], 1));
    assert_eq!(crate::records::Records::of(&log).outcomes_in_force()[0].marker.as_str(), "t");
}

#[test]
fn a_confirmed_override_reaches_its_service() {
    let made = practicum::couch::Override {
        reason_code: "interval".to_owned(),
        by: "i".into(),
        why: "label allows".to_owned(),
        confirmed: false,
    };
    let claimed = Service { overrides: vec![made.clone()], ..late("s") };
    let confirmed = practicum::couch::Override { confirmed: true, ..made };
    // The confirmation may arrive before the service; one in the name of another confirms nothing.
    for (by, holds) in [("i", true), ("t", false)] {
        let drafts = [
            (Draft::override_noted(&by.into(), "s".into(), confirmed.clone()), at("2026-03-02T10:00:00+00:00")),
            (Draft::service_logged(&"t".into(), claimed.clone()), at("2026-03-02T10:01:00+00:00")),
        ];
        let records = crate::records::Records::of(&super::log_of(&super::written(&drafts, 2)));
        assert_eq!(records.service(&"s".into()).unwrap().value.overrides[0].confirmed, holds);
    }
}

#[test]
fn the_demo_stays_the_demo_whatever_is_corrected() {
    let (mut book, mut store) = logbook(&[Draft::academy_founded(academy("Demo", true))]);
    let founding = book.records().founding().unwrap().latest.clone();
    let real = Fact::AcademyFounded(academy("Real", false));
    let drafts = [
        Draft::correction(&"owner".into(), founding, "x".to_owned(), real),
        Draft::academy_amended(&"owner".into(), academy("Real", false)),
    ];
    book.record(&mut store, &drafts, at("2026-03-03T09:00:00+00:00"), &mut fresh(3)).unwrap();
    assert_eq!(book.records().academy().unwrap().name, "Real");
    assert!(book.records().is_demo());
}

#[test]
fn ten_thousand_entries_are_told_in_good_time() {
    let mut drafts =
        vec![(Draft::book_adopted(&"o".into(), book_id(), example_text()), at("2026-01-01T09:00:00+00:00"))];
    let sample = live("s");
    for number in 0..9_999_i64 {
        let draft = match number % 5 {
            0 => {
                let mut service = sample.clone();
                service.id = format!("s{number}").as_str().into();
                Draft::service_logged(&"t".into(), service)
            }
            _ => Draft::follow_up(&"t".into(), crate::subject::Subject::Academy, format!("{number}"), None),
        };
        drafts.push((draft, at("2026-01-01T09:00:00+00:00") + chrono::TimeDelta::minutes(number)));
    }
    let log = super::log_of(&super::written(&drafts, 1));
    let began = std::time::Instant::now();
    let mut records = crate::records::Records::of(&log);
    let first = began.elapsed();
    let began = std::time::Instant::now();
    records.rebuild(&log, &crate::trust::Trust::of(&log, None));
    let again = began.elapsed();
    assert_eq!(records.services().len(), 2_000);
    // Unoptimised and on a busy machine; what is measured is printed.
    assert!(again < std::time::Duration::from_secs(5), "first {first:?}, again {again:?}");
    eprintln!("10,000 entries told in {first:?}, told again in {again:?}");
}

#[test]
fn a_time_in_doubt_is_stated_in_ones_own_name_and_taps_stay_as_they_were() {
    let mut service = live("s");
    let Origin::Live { taps, .. } = &mut service.origin else { unreachable!() };
    // The wall clock runs ahead of the even one by an hour before the second tap.
    for tap in taps.iter_mut().skip(1) {
        tap.reading.at += chrono::TimeDelta::hours(1);
    }
    let adopted = Draft::book_adopted(&"owner".into(), book_id(), example_text());
    let (mut book, mut store) = staffed(&[adopted, Draft::service_logged(&"t".into(), service)]);
    let (mut names, now) = (fresh(3), at("2026-03-03T09:00:00+00:00"));
    let told = |book: &crate::Logbook, by: &str, author: &str| {
        let known = book.records().service(&"s".into()).unwrap();
        let mut told = known.value.clone();
        let Origin::Live { taps, .. } = &mut told.origin else { unreachable!() };
        let act = Act::TimeConfirmed { at_tap: 1, seconds: 60, by: by.into(), what: "clock set".to_owned() };
        let reading = Reading { at: at("2026-03-03T09:00:00+00:00"), page: 9, mono_ms: 5 };
        taps.push(Tap { sequence: 4, reading, act });
        Draft::service_corrected(&author.into(), known.latest.clone(), "clock set".to_owned(), told)
    };
    assert_eq!(book.records().service(&"s".into()).unwrap().value.times.doubts.len(), 1);
    let why = book.prepare(&[told(&book, "i", "t")], now, &mut names).unwrap_err();
    assert!(why.to_string().contains("in the name of somebody else"), "{why}");
    let own = told(&book, "i", "i");
    book.record(&mut store, &[own], now, &mut names).unwrap();
    let times = &book.records().service(&"s".into()).unwrap().value.times;
    assert_eq!((times.doubts.len(), times.edited, times.hands_on), (0, true, Some(300)));
}
