//! Services as comma-separated values (RFC 4180), and a template to fill in.
//!
//! A spreadsheet runs a cell that begins with `=`, `+`, `-`, `@` and some others as a formula. Such a
//! cell goes out behind an apostrophe, and the import takes it off again: every text comes back as it was.
//! A plain number with its sign, such as `-5`, is no formula and stays a number.

use practicum::couch::ShieldChoice;
use practicum::course_book::CourseBook;
use practicum::eye::{Eye, PerEye};
use practicum::ids::{PersonId, PracticeModelId};
use practicum::moment::{Seconds, format_seconds};
use practicum::product::ProductKind;
use practicum::service::{Origin, Service};

use crate::spreadsheet::field::dwell_stage;
use crate::spreadsheet::words::{write_ending, write_tint};

/// Byte order mark: without it desktop spreadsheets read UTF-8 as an old encoding.
const MARK: char = '\u{FEFF}';

/// Whether a text would be run as a formula where it stands.
fn is_formula(text: &str) -> bool {
    let starts = ['=', '+', '-', '@', '\t', '\r', '\n', '\0', '＝', '＋', '－', '＠'];
    text.starts_with(starts) && !is_signed_number(text)
}

/// Whether a text is a sign and digits with at most one point or comma: a spreadsheet takes it as a number.
fn is_signed_number(text: &str) -> bool {
    let Some(number) = text.strip_prefix(['-', '+']) else { return false };
    let (whole, part) = number.split_once(['.', ',']).unwrap_or((number, "0"));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|digit| digit.is_ascii_digit());
    digits(whole) && digits(part)
}

/// Puts an apostrophe before a text that a spreadsheet could run as a formula, and before one that
/// already looks so guarded.
pub fn defuse(text: &str) -> std::borrow::Cow<'_, str> {
    if is_formula(text.trim_start_matches('\'')) { format!("'{text}").into() } else { text.into() }
}

/// Takes the apostrophe of [`defuse`] off again.
pub fn undo_defuse(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if is_formula(rest.trim_start_matches('\'')) => rest,
        _ => text,
    }
}

/// Writes rows of cells: comma, quotes where needed, CR LF, formulas defused.
pub fn write_csv(rows: &[Vec<String>]) -> String {
    let mut text = String::new();
    for row in rows {
        for (place, cell) in row.iter().enumerate() {
            if place != 0 {
                text.push(',');
            }
            push_cell(&mut text, &defuse(cell), row.len() == 1);
        }
        text.push_str("\r\n");
    }
    text
}

fn push_cell(text: &mut String, cell: &str, alone: bool) {
    // A row of one empty cell would be a blank line.
    let blank_line = alone && cell.is_empty();
    let edges = cell.starts_with(' ') || cell.ends_with(' ');
    if blank_line || edges || cell.contains(['"', ',', ';', '\t', '\r', '\n']) {
        text.push('"');
        text.push_str(&cell.replace('"', "\"\""));
        text.push('"');
    } else {
        text.push_str(cell);
    }
}

/// Returns the template: a header and two example rows, for a course book.
pub fn template(book: &CourseBook) -> String {
    let lash_up = book.stages.iter().find(|stage| stage.by_section).map(|stage| stage.label.clone());
    let mut header: Vec<String> =
        ["Trainee", "Date", "Practice model", "Sections left", "Sections right"].map(String::from).into();
    header.extend(["Service time".to_owned(), "Hands-on time".to_owned()]);
    header.extend(lash_up.iter().map(|label| format!("{label} hands-on")));
    header.extend(
        ["Lift dwell left", "Lift dwell right", "Lash condition", "Shield", "Tint", "Ending", "Note"].map(String::from),
    );
    let shield = book.shields.get(book.shields.len() / 2).map_or("", |shield| shield.label.as_str());
    let example = |start: [&str; 7], lash_up_time: &str, end: [&str; 7]| {
        let mut row: Vec<String> = start.map(String::from).into();
        row.extend(lash_up.iter().map(|_| lash_up_time.to_owned()));
        row.extend(end.map(String::from));
        row
    };
    let rows = [
        header,
        example(
            ["Example Trainee", "2026-03-02", "PM-001", "4", "4", "1:32:00", "61:30"],
            "38:20",
            ["6:00", "6:10", "average", shield, "no", "finished", "Example: delete this row"],
        ),
        example(
            ["Example Trainee", "2026-03-09", "PM-002", "4", "3", "84:15", "58"],
            "35:05",
            ["5:00", "5:00", "weak", shield, "mixed", "finished", "Example: a comma, or a \"quote\", is fine"],
        ),
    ];
    format!("{MARK}{}", write_csv(&rows))
}

/// How names and codes are looked up for an export.
pub struct Naming<'a> {
    /// Name of a trainee; the identifier where it is withheld.
    pub trainee: &'a dyn Fn(&PersonId) -> String,
    /// Code of a practice model.
    pub practice_model: &'a dyn Fn(&PracticeModelId) -> String,
}

/// Writes services as comma-separated values; drills are left out, as they are no services.
///
/// The columns are named so that the import matches them by itself.
pub fn services_csv<'s>(
    services: impl IntoIterator<Item = &'s Service>,
    book: &CourseBook,
    naming: &Naming<'_>,
) -> String {
    let mut rows = vec![header(book)];
    rows.extend(services.into_iter().filter(|service| service.is_service()).map(|service| row(service, book, naming)));
    format!("{MARK}{}", write_csv(&rows))
}

/// Kinds of product that dwell, with their word in headers.
const DWELLS: [(ProductKind, &str); 3] =
    [(ProductKind::Lift, "Lift"), (ProductKind::Setting, "Setting"), (ProductKind::Tint, "Tint")];

fn dwells(book: &CourseBook) -> impl Iterator<Item = (ProductKind, &'static str, Eye)> {
    let kinds = DWELLS.into_iter().filter(|(kind, _)| dwell_stage(book, *kind).is_some());
    kinds.flat_map(|(kind, word)| Eye::BOTH.map(|eye| (kind, word, eye)))
}

fn header(book: &CourseBook) -> Vec<String> {
    let mut names: Vec<String> =
        ["Trainee", "Date", "Time of day", "Practice model", "Sections left", "Sections right"]
            .map(String::from)
            .into();
    names.extend(["Service time", "Hands-on time", "Waiting", "Instructor checks", "Pauses"].map(String::from));
    names.extend(book.stages.iter().map(|stage| format!("{} hands-on", stage.label)));
    names.extend(dwells(book).map(|(_, word, eye)| format!("{word} dwell {}", eye.word())));
    names.extend(["Lash condition", "Shield left", "Shield right", "Tint", "Ending", "Note"].map(String::from));
    names.extend(["How recorded", "Course book"].map(String::from));
    names
}

/// Writes a duration as `h:mm:ss`, so that no reader has to ask what `1:25` means.
fn written(seconds: Option<Seconds>) -> String {
    match seconds {
        None | Some(0) => String::new(),
        Some(seconds) if seconds < 3600 => format!("0:{}", two_figures(&format_seconds(seconds))),
        Some(seconds) => format_seconds(seconds),
    }
}

fn two_figures(minutes_seconds: &str) -> String {
    if minutes_seconds.len() < 5 { format!("0{minutes_seconds}") } else { minutes_seconds.to_owned() }
}

fn row(service: &Service, book: &CourseBook, naming: &Naming<'_>) -> Vec<String> {
    let times = &service.times;
    let sections = |eye: Eye| service.sections.get(eye).map_or_else(String::new, |number| number.number().to_string());
    let mut cells = vec![
        (naming.trainee)(&service.trainee),
        service.day().format("%Y-%m-%d").to_string(),
        service.began.format("%H:%M:%S").to_string(),
        service.practice_model.as_ref().map_or_else(String::new, |id| (naming.practice_model)(id)),
        sections(Eye::Left),
        sections(Eye::Right),
    ];
    cells.extend([times.service, times.hands_on, times.waiting, times.checks, times.pauses].map(written));
    cells.extend(book.stages.iter().map(|stage| written(times.stage_hands_on(&stage.id))));
    cells.extend(dwells(book).map(|(kind, _, eye)| {
        let dwell = times.dwells.iter().find(|dwell| dwell.product == kind && dwell.eye == eye);
        written(dwell.and_then(|dwell| Some(dwell.off?.saturating_sub(dwell.first_contact))))
    }));
    let conditions = service.analysis.map(|_, analysis| analysis.as_ref().map(|analysis| analysis.condition));
    cells.push(match (conditions.left, conditions.right) {
        (Some(left), Some(right)) if left != right => format!("{}/{}", left.word(), right.word()),
        (left, right) => left.or(right).map_or_else(String::new, |condition| condition.word().to_owned()),
    });
    cells.extend(shields(&service.shields, book));
    cells.extend([write_tint(service.tint).to_owned(), write_ending(&service.ending), service.note.clone()]);
    cells.push(how_recorded(&service.origin).to_owned());
    cells.push(service.course_book.to_string());
    cells
}

fn shields(shields: &PerEye<Option<ShieldChoice>>, book: &CourseBook) -> [String; 2] {
    Eye::BOTH.map(|eye| {
        shields.get(eye).as_ref().map_or_else(String::new, |choice| {
            book.shield(&choice.chosen).map_or_else(|| choice.chosen.to_string(), |shield| shield.label.clone())
        })
    })
}

fn how_recorded(origin: &Origin) -> &'static str {
    match origin {
        Origin::Live { .. } => "live",
        Origin::Late(_) => "late",
        Origin::Imported { .. } => "imported, not observed",
    }
}

#[cfg(test)]
mod tests;
