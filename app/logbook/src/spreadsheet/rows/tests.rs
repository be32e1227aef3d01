//! Claims about reading rows.

use chrono::{FixedOffset, NaiveDate};
use practicum::couch::Stop;
use practicum::ids::BatchId;
use practicum::service::Service;

use super::*;
use crate::spreadsheet::example_book;
use crate::spreadsheet::export::{Naming, services_csv};
use crate::spreadsheet::field::guess_columns;
use crate::spreadsheet::services::{Making, to_correction, to_services};
use crate::spreadsheet::table::decode;

/// A made-up academy: two trainees, one practice model, and what the log holds.
struct Academy {
    book: CourseBook,
    people: Vec<KnownPerson>,
    aliases: Vec<(String, PersonId)>,
    codes: Vec<(String, PracticeModelId)>,
    known: Vec<KnownRow>,
    date_order: Option<DateOrder>,
    two_part: Option<TwoPart>,
}

impl Academy {
    fn new() -> Self {
        let person = |id: &str, name: &str| KnownPerson { id: id.into(), name: name.into() };
        Self {
            book: example_book(),
            people: vec![person("p1", "Zoë Marlow"), person("p2", "Ivo Brandt")],
            aliases: Vec::new(),
            codes: vec![("PM-01".into(), "m1".into())],
            known: Vec::new(),
            date_order: None,
            two_part: None,
        }
    }

    fn preview(&self, text: &str) -> Preview {
        let table = decode(text.as_bytes()).unwrap();
        let mapping = guess_columns(&table, &self.book);
        let options = Options {
            book: &self.book,
            today: NaiveDate::from_ymd_opt(2026, 6, 30).unwrap(),
            date_order: self.date_order,
            two_part: self.two_part,
            people: &self.people,
            aliases: &self.aliases,
            practice_models: &self.codes,
            known: &self.known,
        };
        read_rows(&table, &mapping, &options)
    }

    fn services(&self, preview: &Preview, batch: &str) -> Vec<Service> {
        with_making(&self.book, batch, |making| to_services(preview, making))
    }

    /// Imports as a caller would: services become known, new practice models get an identifier.
    fn import(&mut self, text: &str, batch: &str) -> Vec<Service> {
        let preview = self.preview(text);
        let services = self.services(&preview, batch);
        self.codes.extend(preview.unknown_practice_models.iter().map(|code| (code.clone(), new_id(code))));
        self.known.extend(services.iter().map(|service| KnownRow::of(service, false)));
        services
    }
}

fn new_id(code: &str) -> PracticeModelId {
    PracticeModelId::new(format!("new {}", fold(code)))
}

fn with_making<T>(book: &CourseBook, batch: &str, make: impl Fn(&Making<'_>) -> T) -> T {
    let offset = |_| FixedOffset::east_opt(3600).unwrap();
    let new_practice_model = |code: &str| Some(new_id(code));
    make(&Making { batch: &BatchId::new(batch), book, offset: &offset, new_practice_model: &new_practice_model })
}

const HEADER: &str = "Trainee,Date,Practice model,Sections,Service time,Hands-on time,Lift dwell left,Note\n";

fn complaints(list: &[Rejected]) -> Vec<(u32, &str)> {
    list.iter().map(|rejected| (rejected.line, rejected.column.as_str())).collect()
}

#[test]
fn a_row_becomes_a_service_that_was_imported_and_not_observed() {
    let mut academy = Academy::new();
    let services =
        academy.import(&format!("{HEADER} zoë  MARLOW,2026-03-02,pm-01,4/3,1:32:00,61:30,6:10, <b>fine</b> \n"), "b1");
    let [service] = services.as_slice() else { panic!("{services:?}") };
    assert_eq!((service.id.as_str(), service.trainee.as_str()), ("b1-2", "p1"));
    assert_eq!(service.practice_model, Some("m1".into()));
    assert_eq!(service.began.to_rfc3339(), "2026-03-02T12:00:00+01:00");
    assert_eq!((service.times.service, service.times.hands_on), (Some(5520), Some(3690)));
    assert_eq!(service.times.dwells.first().and_then(|dwell| dwell.off), Some(370));
    assert!(service.worked.is_some_and(|worked| worked.mixed && worked.sections == Sections::QUARTERS));
    assert!(service.is_imported() && service.is_service() && !service.is_live_entry());
    assert_eq!(service.note, "<b>fine</b>");
}

#[test]
fn every_defect_of_a_row_is_listed_with_line_column_and_value() {
    let academy = Academy::new();
    let preview = academy
        .preview(&format!("{HEADER},31/02/2026,strip,many,0:00,=1+1,99:00,\"a\nb\"\nIvo Brandt,2026-07-01,,,,,,\n"));
    let columns = ["Trainee", "Date", "Practice model", "Sections", "Service time", "Hands-on time", "Lift dwell left"];
    let mut expected: Vec<(u32, &str)> = columns.map(|column| (2, column)).into();
    expected.push((4, "Date"));
    assert_eq!(complaints(&preview.rejected), expected);
    assert_eq!((preview.rejected_rows(), preview.rows.len()), (2, 0));
    assert!(preview.rejected.iter().all(|rejected| !rejected.reason.is_empty()));
    assert_eq!(preview.rejected[5].value, "=1+1");
}

#[test]
fn times_that_cannot_all_be_true_are_refused() {
    let academy = Academy::new();
    let preview = academy.preview(&format!(
        "{HEADER}Ivo Brandt,2026-03-01,,4,40,50,,\nIvo Brandt,2026-03-02,,4,10,,12,\nIvo Brandt,2026-03-03,,4,1.5,,,\n"
    ));
    assert_eq!(complaints(&preview.rejected), [(2, "Hands-on time"), (3, "Lift dwell left"), (4, "Service time")]);
}

#[test]
fn dates_that_can_be_read_both_ways_wait_until_a_row_or_a_person_settles_them() {
    let mut academy = Academy::new();
    let open = format!("{HEADER}Ivo Brandt,3/4/2026,,4,50,,,\nIvo Brandt,4/4/2026,,4,50,,,\n");
    let preview = academy.preview(&open);
    assert!(preview.ambiguous_dates);
    assert_eq!((complaints(&preview.waiting), preview.rows.len()), (vec![(2, "Date")], 1));

    let settled = academy.preview(&format!("{open}Ivo Brandt,25/4/2026,,4,50,,,\n"));
    assert!(!settled.ambiguous_dates);
    assert_eq!(settled.rows[0].day, NaiveDate::from_ymd_opt(2026, 4, 3).unwrap());

    academy.date_order = Some(DateOrder::MonthFirst);
    let asked = academy.preview(&open);
    assert!(!asked.ambiguous_dates);
    assert_eq!(asked.rows[0].day, NaiveDate::from_ymd_opt(2026, 3, 4).unwrap());
}

#[test]
fn a_service_of_one_colon_twenty_five_waits_for_a_person() {
    let mut academy = Academy::new();
    let text = format!("{HEADER}Ivo Brandt,2026-03-01,,4,1:25,,,\nIvo Brandt,2026-03-02,,4,78:10,,,\n");
    let preview = academy.preview(&text);
    assert!(preview.ambiguous_durations);
    assert_eq!((complaints(&preview.waiting), preview.rows.len()), (vec![(2, "Service time")], 1));
    academy.two_part = Some(TwoPart::HoursMinutes);
    let times: Vec<Option<u32>> = academy.preview(&text).rows.iter().map(|row| row.times.service).collect();
    assert_eq!(times, [Some(5100), Some(4690)]);
    academy.two_part = Some(TwoPart::MinutesSeconds);
    assert_eq!(complaints(&academy.preview(&text).rejected), [(2, "Service time")]);
}

#[test]
fn unknown_names_wait_with_a_proposal_and_an_alias_settles_them() {
    let mut academy = Academy::new();
    let text = format!(
        "{HEADER}Ivo Brant,2026-03-01,,4,50,,,\nivo  brant,2026-03-02,,4,51,,,\nNew Person,2026-03-03,,4,50,,,\n"
    );
    let preview = academy.preview(&text);
    let first = UnknownTrainee { written: "Ivo Brant".into(), rows: 2, resembles: Some("Ivo Brandt".into()) };
    let second = UnknownTrainee { written: "New Person".into(), rows: 1, resembles: None };
    assert_eq!(preview.unknown_trainees, [first, second]);
    assert_eq!((preview.waiting_rows(), preview.rows.len()), (3, 0));
    academy.aliases = vec![("Ivo Brant".into(), "p2".into())];
    let settled = academy.preview(&text);
    assert_eq!((settled.waiting_rows(), settled.rows.len()), (1, 2));
}

#[test]
fn two_trainees_of_one_name_are_asked_about() {
    let mut academy = Academy::new();
    academy.people.push(KnownPerson { id: "p3".into(), name: "IVO BRANDT".into() });
    let preview = academy.preview(&format!("{HEADER}Ivo Brandt,2026-03-01,,4,50,,,\n"));
    assert_eq!((preview.rows.len(), preview.waiting_rows()), (0, 1));
}

#[test]
fn the_same_file_twice_adds_nothing_and_an_undone_one_may_come_again() {
    let mut academy = Academy::new();
    let text = format!(
        "{HEADER}Ivo Brandt,2026-03-01,PM-77,4,50,30,6,x\nIvo Brandt,2026-03-02,pm-01,4,50:00,,,\nIvo Brandt,2026-03-01,pm-77,4,50:00,30:00,6:00,other note\n"
    );
    assert_eq!(academy.import(&text, "b1").len(), 2);
    let again = academy.preview(&text);
    assert!(again.rows.is_empty() && again.changed_rows.is_empty(), "{again:?}");
    assert_eq!((again.duplicates_of_known.len(), again.duplicates_in_file.len()), (2, 1));
    for known in &mut academy.known {
        known.withdrawn = true;
    }
    assert_eq!(academy.import(&text, "b2").len(), 2);
}

#[test]
fn a_row_with_other_times_is_a_correction_of_what_was_imported() {
    let mut academy = Academy::new();
    let text = |minutes: u32| {
        format!("{HEADER}Ivo Brandt,2026-03-01,PM-01,4,{minutes},,,\nIvo Brandt,2026-03-02,PM-01,4,44,,,\n")
    };
    let first = academy.import(&text(50), "b1");
    let preview = academy.preview(&text(52));
    assert_eq!((preview.rows.len(), preview.duplicates_of_known.len()), (0, 1));
    let [changed] = preview.changed_rows.as_slice() else { panic!("{preview:?}") };
    assert!(changed.may_correct);
    let corrected = with_making(&academy.book, "b2", |making| to_correction(changed, making)).unwrap();
    assert_eq!((&corrected.id, corrected.times.service), (&first[0].id, Some(3120)));
    for known in &mut academy.known {
        known.imported = false;
    }
    let preview = academy.preview(&text(52));
    assert!(!preview.changed_rows[0].may_correct);
    assert_eq!(with_making(&academy.book, "b2", |making| to_correction(&preview.changed_rows[0], making)), None);
}

#[test]
fn two_services_of_one_day_are_both_new_and_pointed_out() {
    let academy = Academy::new();
    let preview =
        academy.preview(&format!("{HEADER}Ivo Brandt,2026-03-01,PM-01,4,50,,,\nIvo Brandt,2026-03-01,PM-01,4,60,,,\n"));
    assert_eq!((preview.rows.len(), preview.same_occasion), (2, vec![(2, 3)]));
}

#[test]
fn a_row_with_too_many_cells_is_rejected_and_a_short_one_is_read_and_listed() {
    let academy = Academy::new();
    let preview =
        academy.preview(&format!("{HEADER}Ivo Brandt,2026-03-01,PM-01,4,50,,,a,b\nIvo Brandt,2026-03-02,PM-01,4,50\n"));
    assert_eq!(complaints(&preview.rejected), [(2, "whole row")]);
    assert_eq!((preview.rows.len(), preview.ragged.len()), (1, 2));
}

#[test]
fn what_has_no_place_of_its_own_is_kept_in_the_note() {
    let academy = Academy::new();
    let preview = academy.preview("Trainee,Date,Lash condition,Outcome,Room,Note,Ending\nIvo Brandt,2026-03-01,fine,good lift,2,as said,stopped: fire drill\n");
    let row = &preview.rows[0];
    assert_eq!(row.note, "as said\nLash condition as written: weak\nOutcome as written: good lift\nRoom: 2");
    assert_eq!(row.ending, Ending::Stopped(Stop::Other("fire drill".into())));
}

#[test]
fn a_mapping_without_a_trainee_reads_nothing() {
    let academy = Academy::new();
    let preview = academy.preview("Date,Note\n2026-03-01,x\n");
    assert_eq!((preview.mapping_problems.len(), preview.rows.len(), preview.rejected.len()), (1, 0, 0));
}

#[test]
fn an_export_brought_in_again_is_the_same_rows_and_the_same_texts() {
    let mut academy = Academy::new();
    let text = "Trainee,Date,Time of day,Practice model,Sections left,Sections right,Service time,Hands-on time,Lash-up left,Lash-up right,Lift dwell left,Lift dwell right,Shield,Tint,Ending,Note\n\
        Zoë Marlow,2026-03-01,09:15,PM-01,4,3,1:32:00,61:30,19:00,18:20,6:00,6:10,M/L,mixed,finished,\"=HYPERLINK(\"\"x\"\")\ntwo\"\n\
        Ivo Brandt,2026-03-02,,PM-01,2,2,0:48:00,,,,,,,no,stopped before lotion: test missing,'quoted'\n";
    let services = academy.import(text, "b1");
    assert_eq!(services.len(), 2);
    let person = |id: &PersonId| academy.people.iter().find(|person| person.id == *id).unwrap().name.clone();
    let code = |_: &PracticeModelId| "PM-01".to_owned();
    let exported = services_csv(&services, &academy.book, &Naming { trainee: &person, practice_model: &code });
    assert!(exported.contains("\"'=HYPERLINK(\"\"x\"\")\ntwo\""), "{exported}");

    assert_eq!(academy.preview(&exported).duplicates_of_known.len(), 2, "{exported}");
    academy.known.clear();
    let preview = academy.preview(&exported);
    assert_eq!(preview.rejected, []);
    let again = academy.services(&preview, "b2");
    for (before, after) in services.iter().zip(&again) {
        assert_eq!((&before.note, &before.ending, before.tint), (&after.note, &after.ending, after.tint));
        assert_eq!((before.began, &before.sections, &before.shields), (after.began, &after.sections, &after.shields));
        assert_eq!((before.times.service, &before.times.dwells), (after.times.service, &after.times.dwells));
        assert_eq!(before.practice_model, after.practice_model);
    }
}

#[test]
fn a_file_of_nothing_but_new_names_and_codes_is_read_to_the_end() {
    let academy = Academy::new();
    let rows: String = (0..19_000).map(|n| format!("Somebody {n},2026-03-01,,4,50,,,\n")).collect();
    assert_eq!(academy.preview(&format!("{HEADER}{rows}")).unknown_trainees.len(), 19_000);
    let rows: String = (0..19_000).map(|n| format!("Ivo Brandt,2026-03-01,PM {n},4,50,,,\n")).collect();
    let preview = academy.preview(&format!("{HEADER}{rows}"));
    assert_eq!((preview.rows.len(), preview.unknown_practice_models.len()), (19_000, 19_000));
}
