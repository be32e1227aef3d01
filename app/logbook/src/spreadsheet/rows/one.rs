//! One row, cell by cell.

use practicum::course_book::LashCondition;
use practicum::eye::{Eye, PerEye};
use practicum::ids::{PersonId, ShieldId};
use practicum::moment::{Day, Seconds};
use practicum::section::Sections;
use practicum::service::{Ending, WrittenTimes};

use super::{Reader, ReadyRow, Rejected, WrittenPracticeModel, key_of};
use crate::spreadsheet::date::{self, Decided};
use crate::spreadsheet::duration::{self, Column, Read, SHORTEST_SERVICE};
use crate::spreadsheet::field::Field;
use crate::spreadsheet::fold::{fold, is_blank, single_spaced};
use crate::spreadsheet::table::Row;
use crate::spreadsheet::words;

/// Words for what is practised on in a drill.
const DRILL_WORDS: [&str; 8] =
    ["strip", "strips", "practice strip", "head", "practice head", "doll head", "training head", "drill"];

/// Reads one row and collects what is wrong with it.
pub(super) struct One<'a, 'r> {
    reader: &'a Reader<'r>,
    row: &'a Row,
    pub(super) rejected: Vec<Rejected>,
    pub(super) waiting: Vec<Rejected>,
    pub(super) asks_date: bool,
    pub(super) asks_duration: bool,
    pub(super) unknown_trainee: Option<String>,
}

impl<'a, 'r> One<'a, 'r> {
    pub(super) fn new(reader: &'a Reader<'r>, row: &'a Row) -> Self {
        Self {
            reader,
            row,
            rejected: Vec::new(),
            waiting: Vec::new(),
            asks_date: false,
            asks_duration: false,
            unknown_trainee: None,
        }
    }

    /// Returns the row when nothing keeps it out.
    pub(super) fn read(&mut self) -> Option<ReadyRow> {
        let (trainee, day) = (self.trainee(), self.day());
        let practice_model = self.practice_model();
        let (sections, shields) = (self.sections(), self.shields());
        let tint = self.cell(&Field::Tint, words::tint).unwrap_or_default();
        let ending = self.cell(&Field::Ending, words::ending).unwrap_or(Ending::Finished);
        let times = self.times(&ending);
        let note = self.note();
        let time_of_day = self.time_of_day();
        let (trainee, (day, time_with_date)) = (trainee?, day?);
        if !self.rejected.is_empty() || !self.waiting.is_empty() {
            return None;
        }
        let key = key_of(trainee.clone(), day, practice_model.as_ref(), &times);
        Some(ReadyRow {
            line: self.row.line,
            trainee,
            written_trainee: single_spaced(self.text(&Field::Trainee)),
            day,
            time_of_day: time_of_day.or(time_with_date),
            practice_model,
            sections,
            times,
            shields,
            tint,
            ending,
            note,
            key,
        })
    }

    fn column(&self, field: &Field) -> Option<usize> {
        self.reader.mapping.iter().position(|mapped| mapped.as_ref() == Some(field))
    }

    fn text(&self, field: &Field) -> &'a str {
        self.column(field).map_or("", |column| self.row.cell(column))
    }

    fn complaint(&self, column: usize, reason: String) -> Rejected {
        let name = self.reader.table.header.get(column).filter(|name| !name.is_empty());
        let column_name = name.cloned().unwrap_or_else(|| format!("Column {}", column + 1));
        Rejected { line: self.row.line, column: column_name, value: self.row.cell(column).to_owned(), reason }
    }

    fn reject(&mut self, field: &Field, reason: String) {
        let complaint = self.complaint(self.column(field).unwrap_or(usize::MAX - 1), reason);
        self.rejected.push(complaint);
    }

    fn wait(&mut self, field: &Field, reason: String) {
        let complaint = self.complaint(self.column(field).unwrap_or(usize::MAX - 1), reason);
        self.waiting.push(complaint);
    }

    /// Reads a cell with a reader of words; `None` after a complaint or when no column holds the field.
    fn cell<T>(&mut self, field: &Field, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        self.column(field)?;
        match read(self.text(field)) {
            Ok(value) => Some(value),
            Err(reason) => {
                self.reject(field, reason);
                None
            }
        }
    }

    fn trainee(&mut self) -> Option<PersonId> {
        let written = single_spaced(self.text(&Field::Trainee));
        if is_blank(&written) {
            self.reject(&Field::Trainee, "no trainee: write the name".to_owned());
            return None;
        }
        match self.reader.people.get(&fold(&written)).map(Vec::as_slice) {
            Some([id]) => return Some((*id).clone()),
            Some([_, _, ..]) => {
                self.wait(&Field::Trainee, "more than one trainee has this name: say who is meant".to_owned());
            }
            _ => {
                let reason = "no trainee of the academy has this name: say whose spelling it is, or enrol the trainee";
                self.wait(&Field::Trainee, reason.to_owned());
            }
        }
        self.unknown_trainee = Some(written);
        None
    }

    fn day(&mut self) -> Option<(Day, Option<chrono::NaiveTime>)> {
        let (settled, options) = (self.reader.settled, self.reader.options);
        let cell = self.text(&Field::Date);
        if is_blank(cell) {
            self.reject(&Field::Date, "no date: write it as 2026-03-31".to_owned());
            return None;
        }
        let decided = date::parse(cell).and_then(|read| match read {
            Some((written, time)) => {
                date::decide(written, settled, options.date_order, options.today).map(|decided| (decided, time))
            }
            None => Err("no date: write it as 2026-03-31".to_owned()),
        });
        match decided {
            Ok((Decided::Day(day), time)) => Some((day, time)),
            Ok((Decided::Ask, _)) => {
                self.asks_date = true;
                self.wait(&Field::Date, "day and month can be read in either order: say which comes first".to_owned());
                None
            }
            Err(reason) => {
                self.reject(&Field::Date, reason);
                None
            }
        }
    }

    fn time_of_day(&mut self) -> Option<chrono::NaiveTime> {
        self.cell(&Field::TimeOfDay, |cell| {
            if is_blank(cell) {
                return Ok(None);
            }
            date::parse_time(&fold(cell)).map(Some).ok_or_else(|| "not a time of day: write it as 14:05".to_owned())
        })?
    }

    fn practice_model(&mut self) -> Option<WrittenPracticeModel> {
        let code = single_spaced(self.text(&Field::PracticeModel));
        if is_blank(&code) {
            return None;
        }
        let folded = fold(&code);
        if DRILL_WORDS.contains(&folded.as_str()) {
            let reason = "a strip or a practice head is a drill, not a service: enter it by hand as a drill";
            self.reject(&Field::PracticeModel, reason.to_owned());
            return None;
        }
        Some(WrittenPracticeModel { id: self.reader.codes.get(&folded).map(|id| (*id).clone()), code })
    }

    fn sections(&mut self) -> PerEye<Option<Sections>> {
        let mut both = self.cell(&Field::Sections(None), words::sections_of_both).unwrap_or_default();
        for eye in Eye::BOTH {
            let one = self.cell(&Field::Sections(Some(eye)), words::sections_of_one).flatten();
            let place = both.get_mut(eye);
            *place = one.or(*place);
        }
        both
    }

    fn shields(&mut self) -> PerEye<Option<ShieldId>> {
        let book = self.reader.options.book;
        let read = |cell: &str| words::shields_of_both(cell, book);
        let mut both = self.cell(&Field::Shield(None), read).unwrap_or_default();
        for eye in Eye::BOTH {
            let one = self.cell(&Field::Shield(Some(eye)), |cell| words::shield_of_one(cell, book)).flatten();
            let place = both.get_mut(eye);
            *place = one.or_else(|| place.take());
        }
        both
    }

    fn seconds(&mut self, column: usize, field: &Field) -> Option<Seconds> {
        let header = self.reader.table.header.get(column).map_or("", String::as_str);
        let way = Column::new(field.span()?, header, self.reader.options.two_part);
        match duration::parse(self.row.cell(column), way) {
            Ok(Some(Read::Seconds(seconds))) => Some(seconds),
            Ok(Some(Read::Ask)) => {
                self.asks_duration = true;
                let reason = "minutes and seconds, or hours and minutes: say which is meant".to_owned();
                self.wait(field, reason);
                None
            }
            Ok(None) => None,
            Err(reason) => {
                self.reject(field, reason);
                None
            }
        }
    }

    fn times(&mut self, ending: &Ending) -> WrittenTimes {
        let mut times = WrittenTimes::default();
        let mapping = self.reader.mapping;
        for (column, field) in mapping.iter().enumerate() {
            let Some(field) = field.as_ref().filter(|field| field.span().is_some()) else { continue };
            let Some(seconds) = self.seconds(column, field) else { continue };
            match field {
                Field::ServiceTime => times.service = Some(seconds),
                Field::HandsOnTime => times.hands_on = Some(seconds),
                Field::StageTime(stage, eye) => times.stages.push((stage.clone(), *eye, seconds)),
                Field::Dwell(kind, Some(eye)) => times.dwells.push((*kind, *eye, seconds)),
                Field::Dwell(kind, None) => times.dwells.extend(Eye::BOTH.map(|eye| (*kind, eye, seconds))),
                _ => {}
            }
        }
        self.check_times(&times, ending);
        times
    }

    /// Times that cannot all be true keep the row out.
    fn check_times(&mut self, times: &WrittenTimes, ending: &Ending) {
        let Some(service) = times.service else {
            return;
        };
        if service < SHORTEST_SERVICE && *ending == Ending::Finished {
            let reason = "less than 5 minutes for a finished service: write hours as 1:25:00 or 1 h 25 min";
            self.reject(&Field::ServiceTime, reason.to_owned());
            return;
        }
        if times.hands_on.is_some_and(|hands_on| service < hands_on) {
            self.reject(&Field::HandsOnTime, "hands-on time is longer than the service time".to_owned());
        }
        let mapping = self.reader.mapping;
        let longest = times.dwells.iter().map(|(.., seconds)| *seconds).max().unwrap_or(0);
        let dwell = mapping.iter().flatten().find(|field| matches!(field, Field::Dwell(..)));
        if let Some(field) = dwell.filter(|_| service < longest) {
            self.reject(field, "a dwell is longer than the service time".to_owned());
        }
    }

    /// Puts the note together with what has no place of its own.
    fn note(&mut self) -> String {
        let mut lines: Vec<String> = Vec::new();
        let note = self.text(&Field::Note).trim();
        if !note.is_empty() {
            lines.push(note.to_owned());
        }
        if let Some(condition) = self.cell(&Field::Condition, words::condition).and_then(write_condition) {
            lines.push(format!("Lash condition as written: {condition}"));
        }
        let outcome = self.text(&Field::OutcomeRemark).trim();
        if !outcome.is_empty() {
            lines.push(format!("Outcome as written: {outcome}"));
        }
        for (column, field) in self.reader.mapping.iter().enumerate() {
            let cell = self.row.cell(column).trim();
            if *field == Some(Field::KeptInNote) && !cell.is_empty() {
                let header = self.reader.table.header.get(column).map_or("", String::as_str);
                lines.push(format!("{header}: {cell}"));
            }
        }
        lines.join("\n")
    }
}

fn write_condition(condition: PerEye<Option<LashCondition>>) -> Option<String> {
    match (condition.left, condition.right) {
        (Some(left), Some(right)) if left == right => Some(left.word().to_owned()),
        (Some(left), Some(right)) => Some(format!("left {}, right {}", left.word(), right.word())),
        _ => None,
    }
}
