//! A spreadsheet of last term as an academy might hand it over: invented people, real-life defects.
//!
//! The file was made by a throw-away program that knew what it wrote. What is pinned here, sums and lines
//! included, comes from that program and not from the reader under test.

use std::collections::BTreeMap;

use chrono::{Days, FixedOffset, NaiveDate};
use logbook::spreadsheet::duration::TwoPart;
use logbook::spreadsheet::export::{Naming, services_csv};
use logbook::spreadsheet::field::{Field, Mapping, guess_columns};
use logbook::spreadsheet::rows::{KnownPerson, Options, Preview, Rejected, UnknownTrainee, read_rows};
use logbook::spreadsheet::same_row::KnownRow;
use logbook::spreadsheet::services::{Making, to_services};
use logbook::spreadsheet::table::{ReadProblem, Table, decode};
use practicum::course_book::CourseBook;
use practicum::eye::Eye;
use practicum::ids::{BatchId, PersonId, PracticeModelId};
use practicum::product::ProductKind;
use practicum::section::Plan;
use practicum::service::{Ending, Service};

const LAST_TERM: &[u8] = include_bytes!("spreadsheets/last_term.csv");

/// Trainee, services, and the sums of their service and hands-on times in seconds.
const TRAINEES: [(&str, usize, u32, u32); 8] = [
    ("Aurelie Tamboura", 20, 88905, 57855),
    ("Benno Straker", 19, 83230, 54600),
    ("Calla Whitlow", 18, 97080, 63335),
    ("Dilara Venn", 18, 88170, 57995),
    ("Esi Moorland", 19, 107_820, 33695),
    ("Fenna Ostrick", 18, 76485, 49530),
    ("Marisol Quintrell", 19, 95520, 61340),
    ("Zoë Hartnell-Pike", 19, 82815, 53690),
];

/// Line, column and a part of the reason of every cell that keeps its row out, whatever a person answers.
const REJECTED: [(u32, &str, &str); 14] = [
    (19, "Date", "no date"),
    (31, "Date", "there is no day 30 in month 2 of 2026"),
    (47, "Service time", "a time of zero"),
    (62, "Service time", "longer than 9 hours"),
    (73, "Hands-on", "hands-on time is longer than the service time"),
    (92, "Client code", "is a drill, not a service"),
    (105, "Tint", "cannot tell whether there was tint"),
    (121, "Date", "2062-03-03 lies in the future"),
    (134, "Sections L/R", "not a section plan"),
    (149, "Hands-on", "not a time"),
    (149, "Lift dwell L", "not a time"),
    (158, "whole row", "the row has 18 cells, the header 17"),
    (175, "Date", "no date"),
    (175, "Service time", "not a time"),
];

/// Lines of service times such as `1:25`, which may be minutes and seconds or hours and minutes.
const ASKED: [u32; 5] = [33, 60, 69, 89, 108];

struct Academy {
    book: CourseBook,
    people: Vec<KnownPerson>,
    aliases: Vec<(String, PersonId)>,
    codes: Vec<(String, PracticeModelId)>,
    known: Vec<KnownRow>,
    two_part: Option<TwoPart>,
}

impl Academy {
    /// An academy that has enrolled the eight trainees and answered nothing yet.
    fn enrolled() -> Self {
        let book = practicum::course_book::text::read(&practicum::course_book::example::files())
            .unwrap_or_else(|problems| panic!("{problems:?}"));
        let people = TRAINEES.iter().map(|(name, ..)| KnownPerson { id: (*name).into(), name: (*name).into() });
        let people = people.collect();
        Self { book, people, aliases: Vec::new(), codes: Vec::new(), known: Vec::new(), two_part: None }
    }

    /// The same with both questions answered.
    fn answered() -> Self {
        let aliases = vec![("Marisol Quintrel".into(), "Marisol Quintrell".into())];
        Self { aliases, two_part: Some(TwoPart::HoursMinutes), ..Self::enrolled() }
    }

    fn mapping(&self, table: &Table) -> Mapping {
        guess_columns(table, &self.book)
    }

    fn preview(&self, bytes: &[u8]) -> Preview {
        let table = decode(bytes).unwrap_or_else(|problem| panic!("{problem}"));
        let options = Options {
            book: &self.book,
            today: NaiveDate::from_ymd_opt(2026, 6, 30).unwrap(),
            date_order: None,
            two_part: self.two_part,
            people: &self.people,
            aliases: &self.aliases,
            practice_models: &self.codes,
            known: &self.known,
        };
        read_rows(&table, &self.mapping(&table), &options)
    }

    fn import(&mut self, preview: &Preview, batch: &str) -> Vec<Service> {
        let offset = |_| FixedOffset::east_opt(0).unwrap();
        let new_practice_model = |code: &str| Some(PracticeModelId::new(code));
        let making = Making {
            batch: &BatchId::new(batch),
            book: &self.book,
            offset: &offset,
            new_practice_model: &new_practice_model,
        };
        let services = to_services(preview, &making);
        let codes = preview.unknown_practice_models.iter();
        self.codes.extend(codes.map(|code| (code.clone(), PracticeModelId::new(code.clone()))));
        self.known.extend(services.iter().map(|service| KnownRow::of(service, false)));
        services
    }
}

fn lines(list: &[Rejected]) -> Vec<u32> {
    list.iter().map(|rejected| rejected.line).collect()
}

#[test]
fn every_column_of_last_term_is_guessed() {
    let academy = Academy::enrolled();
    let table = decode(LAST_TERM).unwrap();
    assert_eq!((table.delimiter, table.header_line, table.above.len(), table.rows.len()), (';', Some(3), 1, 166));
    let expected = [
        None,
        Some(Field::Trainee),
        Some(Field::Date),
        Some(Field::PracticeModel),
        Some(Field::Sections(None)),
        Some(Field::ServiceTime),
        Some(Field::HandsOnTime),
        Some(Field::StageTime("lash-up".into(), None)),
        Some(Field::Dwell(ProductKind::Lift, Some(Eye::Left))),
        Some(Field::Dwell(ProductKind::Lift, Some(Eye::Right))),
        Some(Field::Condition),
        Some(Field::Shield(None)),
        Some(Field::Tint),
        Some(Field::OutcomeRemark),
        Some(Field::KeptInNote),
        Some(Field::Note),
        Some(Field::Ending),
    ];
    assert_eq!(academy.mapping(&table), expected);
}

#[test]
fn every_bad_row_of_last_term_is_listed_with_line_column_and_reason() {
    let preview = Academy::answered().preview(LAST_TERM);
    let found: Vec<(u32, &str)> =
        preview.rejected.iter().map(|rejected| (rejected.line, rejected.column.as_str())).collect();
    assert_eq!(found, REJECTED.map(|(line, column, _)| (line, column)));
    for (rejected, (line, _, reason)) in preview.rejected.iter().zip(REJECTED) {
        assert!(rejected.reason.contains(reason), "line {line}: {}", rejected.reason);
    }
    assert_eq!(preview.rejected_rows(), 12);
    assert_eq!(preview.rejected.last().map(|rejected| rejected.value.as_str()), Some("=AVERAGE(F4:F170)"));
}

#[test]
fn before_anybody_answers_only_the_open_rows_wait() {
    let preview = Academy::enrolled().preview(LAST_TERM);
    assert!(preview.ambiguous_durations);
    assert!(!preview.ambiguous_dates, "14/1/2026 in line 11 says that the day comes first");
    let written = "Marisol Quintrel".to_owned();
    let resembles = Some("Marisol Quintrell".to_owned());
    assert_eq!(preview.unknown_trainees, [UnknownTrainee { written, rows: 4, resembles }]);
    let asked: Vec<Rejected> = preview.waiting.iter().filter(|row| row.column == "Service time").cloned().collect();
    assert_eq!(lines(&asked), ASKED);
    assert_eq!((preview.waiting_rows(), preview.rows.len(), preview.rejected_rows()), (9, 141, 12));
}

#[test]
fn an_academy_without_trainees_hears_nine_names_and_that_two_are_alike() {
    let academy = Academy { people: Vec::new(), ..Academy::enrolled() };
    let preview = academy.preview(LAST_TERM);
    assert_eq!((preview.rows.len(), preview.unknown_trainees.len()), (0, 9));
    let alike: Vec<_> = preview.unknown_trainees.iter().filter(|name| name.resembles.is_some()).collect();
    assert_eq!(alike.len(), 1);
}

#[test]
fn the_hundred_and_fifty_services_have_the_times_that_were_written() {
    let mut academy = Academy::answered();
    let preview = academy.preview(LAST_TERM);
    assert_eq!((preview.rows.len(), preview.waiting.len()), (150, 0));
    let repeats: Vec<(u32, u32)> = preview.duplicates_in_file.iter().map(|row| (row.line, row.first_line)).collect();
    assert_eq!(repeats, [(37, 15), (80, 14), (110, 109), (169, 142)]);
    assert_eq!(preview.unknown_practice_models.len(), 53);

    let services = academy.import(&preview, "term");
    let mut sums: BTreeMap<&str, (usize, u32, u32)> = BTreeMap::new();
    for service in &services {
        let (count, service_time, hands_on) = sums.entry(service.trainee.as_str()).or_default();
        *count += 1;
        *service_time += service.times.service.unwrap_or(0);
        *hands_on += service.times.hands_on.unwrap_or(0);
    }
    let expected: BTreeMap<&str, (usize, u32, u32)> =
        TRAINEES.iter().map(|(name, count, service, hands_on)| (*name, (*count, *service, *hands_on))).collect();
    assert_eq!(sums, expected);
}

#[test]
fn plans_endings_days_and_notes_are_those_of_the_file() {
    let mut academy = Academy::answered();
    let preview = academy.preview(LAST_TERM);
    let services = academy.import(&preview, "term");
    let at = |line: u32| {
        let id = format!("term-{line}");
        services.iter().find(|service| service.id.as_str() == id).unwrap_or_else(|| panic!("no line {line}"))
    };
    let mixed: Vec<&Service> = services.iter().filter(|s| s.worked.is_some_and(|worked| worked.mixed)).collect();
    assert_eq!(mixed.iter().map(|service| service.id.as_str()).collect::<Vec<_>>(), ["term-85", "term-88", "term-89"]);
    // Two of the three mixed ones had thirds on the weaker side and quarters on the other.
    let count = |plan: Plan| services.iter().filter(|service| service.plan() == Some(plan)).count();
    assert_eq!(Plan::ALL.map(count), [74, 22, 40, 14]);
    let stopped = services.iter().filter(|service| service.ending != Ending::Finished);
    assert_eq!(stopped.map(|service| service.id.as_str()).collect::<Vec<_>>(), ["term-65", "term-74", "term-75"]);
    let days = services.iter().map(Service::day);
    let first = NaiveDate::from_ymd_opt(2026, 1, 12).unwrap();
    assert_eq!(days.clone().min(), Some(first));
    assert_eq!(days.max(), first.checked_add_days(Days::new(77)));
    assert!(at(9).note.starts_with("first go, \"gentle\" pace\nasked for help at the corner\n"));
    assert!(at(23).note.contains("<b>bold</b> & <script>alert(1)</script>"));
    assert!(at(36).note.contains("lovely result 🎉👁️"));
    assert!(at(41).note.contains("=HYPERLINK(\"http://example.invalid/photo\",\"photo\")"));
}

#[test]
fn the_term_twice_adds_nothing_and_undone_it_may_come_again() {
    let mut academy = Academy::answered();
    let preview = academy.preview(LAST_TERM);
    academy.import(&preview, "first");
    let again = academy.preview(LAST_TERM);
    assert_eq!((again.rows.len(), again.changed_rows.len()), (0, 0));
    assert_eq!((again.duplicates_of_known.len(), again.duplicates_in_file.len()), (150, 4));
    for known in &mut academy.known {
        known.withdrawn = true;
    }
    assert_eq!(academy.preview(LAST_TERM).rows.len(), 150);
}

#[test]
fn one_changed_time_is_offered_as_a_correction() {
    let mut academy = Academy::answered();
    let preview = academy.preview(LAST_TERM);
    academy.import(&preview, "first");
    let text = String::from_utf8(LAST_TERM.to_vec()).unwrap();
    assert_eq!(text.matches(";103:05;").count(), 1);
    let preview = academy.preview(text.replace(";103:05;", ";101:05;").as_bytes());
    assert_eq!((preview.rows.len(), preview.duplicates_of_known.len()), (0, 149));
    let changed: Vec<(u32, &str, bool)> =
        preview.changed_rows.iter().map(|row| (row.row.line, row.known.as_str(), row.may_correct)).collect();
    assert_eq!(changed, [(4, "first-4", true)]);
}

#[test]
fn the_term_goes_out_and_comes_back_whole() {
    let mut academy = Academy::answered();
    let preview = academy.preview(LAST_TERM);
    let services = academy.import(&preview, "first");
    let naming = Naming { trainee: &|id| id.to_string(), practice_model: &|id| id.to_string() };
    let exported = services_csv(&services, &academy.book, &naming);
    let again = academy.preview(exported.as_bytes());
    assert_eq!((again.duplicates_of_known.len(), again.rejected.len(), again.waiting.len()), (150, 0, 0));
    academy.known.clear();
    let preview = academy.preview(exported.as_bytes());
    let back = academy.import(&preview, "second");
    let notes = |services: &[Service]| services.iter().map(|service| service.note.clone()).collect::<Vec<_>>();
    assert_eq!(notes(&back), notes(&services));
}

#[test]
fn cut_anywhere_inside_a_quoted_note_the_term_is_refused() {
    let start = LAST_TERM.windows(8).position(|bytes| bytes == b"asked fo").unwrap();
    let cut = &LAST_TERM[..start];
    assert_eq!(decode(cut), Err(ReadProblem::CutShort { line: 9 }));
}
