//! Every row of a table: ready, waiting for an answer, rejected, or already there.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveTime;
use practicum::couch::Tint;
use practicum::course_book::CourseBook;
use practicum::eye::PerEye;
use practicum::ids::{PersonId, PracticeModelId, ServiceId, ShieldId};
use practicum::moment::Day;
use practicum::order::{map_of, set_of};
use practicum::section::Sections;
use practicum::service::{Ending, WrittenTimes};

use crate::spreadsheet::date::{DateOrder, settled_order};
use crate::spreadsheet::duration::TwoPart;
use crate::spreadsheet::field::{Field, mapping_problems};
use crate::spreadsheet::fold::{fold, resemble};
use crate::spreadsheet::same_row::{KnownRow, Occasion, RowKey, practice_model_key, row_key};
use crate::spreadsheet::table::{Ragged, Row, Table};

mod one;

/// Unknown names that get a proposal: a hostile file of nothing but names must not make the page stand still.
const MOST_COMPARED: usize = 200;

/// A trainee of the academy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownPerson {
    /// Identifier.
    pub id: PersonId,
    /// Name as typed.
    pub name: String,
}

/// What rows are read with.
#[derive(Debug, Clone)]
pub struct Options<'a> {
    /// Course book: stages and shield sizes.
    pub book: &'a CourseBook,
    /// Today, at the academy; later dates are refused.
    pub today: Day,
    /// What a person said about dates that can be read in two ways.
    pub date_order: Option<DateOrder>,
    /// What a person said about `1:25` as a service time.
    pub two_part: Option<TwoPart>,
    /// Trainees of the academy.
    pub people: &'a [KnownPerson],
    /// Other spellings that a person has settled: the name as written in the file, and whose it is.
    pub aliases: &'a [(String, PersonId)],
    /// Practice models of the academy: code and identifier.
    pub practice_models: &'a [(String, PracticeModelId)],
    /// Services that the log holds.
    pub known: &'a [KnownRow],
}

/// A practice model as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenPracticeModel {
    /// Code as written, single-spaced.
    pub code: String,
    /// Identifier; `None` when the academy has no practice model of this code yet.
    pub id: Option<PracticeModelId>,
}

/// A row that can become a service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadyRow {
    /// Line in the file, from 1.
    pub line: u32,
    /// Whose service.
    pub trainee: PersonId,
    /// Name as written.
    pub written_trainee: String,
    /// Day.
    pub day: Day,
    /// Time of day, when the file says it.
    pub time_of_day: Option<NaiveTime>,
    /// Practice model, when the file says it.
    pub practice_model: Option<WrittenPracticeModel>,
    /// Sections of each eye.
    pub sections: PerEye<Option<Sections>>,
    /// Times.
    pub times: WrittenTimes,
    /// Shields of each eye.
    pub shields: PerEye<Option<ShieldId>>,
    /// Tint.
    pub tint: Tint,
    /// How it ended.
    pub ending: Ending,
    /// Note, with what has no place of its own.
    pub note: String,
    /// What makes it the same as another.
    pub key: RowKey,
}

/// A cell that keeps its row out, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// Line in the file, from 1.
    pub line: u32,
    /// Name of the column; `whole row` when no single cell is to blame.
    pub column: String,
    /// The cell as written.
    pub value: String,
    /// What is wrong and what to do.
    pub reason: String,
}

/// A trainee's name that nobody of the academy bears.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownTrainee {
    /// Name as first written.
    pub written: String,
    /// Rows with this name.
    pub rows: usize,
    /// A name of the academy, or an earlier one of the file, that it may be another spelling of.
    pub resembles: Option<String>,
}

/// A row that says the same as an earlier row of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DuplicateInFile {
    /// Line in the file, from 1.
    pub line: u32,
    /// Line of the first.
    pub first_line: u32,
}

/// A row that the log already holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DuplicateOfKnown {
    /// Line in the file, from 1.
    pub line: u32,
    /// The service.
    pub known: ServiceId,
}

/// A row with the trainee, date and practice model of a known service and other times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangedRow {
    /// The row.
    pub row: ReadyRow,
    /// The service that it would correct.
    pub known: ServiceId,
    /// Times of the known service: what and seconds.
    pub known_times: Vec<(String, u32)>,
    /// Whether the row may correct it: only what was imported may be corrected by a spreadsheet.
    pub may_correct: bool,
}

/// What a file would do; nothing is written yet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Preview {
    /// Why the column matching cannot be used; the rest is empty then.
    pub mapping_problems: Vec<String>,
    /// New services.
    pub rows: Vec<ReadyRow>,
    /// Cells that keep their rows out. A row may stand here more than once.
    pub rejected: Vec<Rejected>,
    /// Rows that wait for an answer: about dates, about `1:25`, or about whose name it is.
    pub waiting: Vec<Rejected>,
    /// Some dates can be read in two ways and no row settles it: ask.
    pub ambiguous_dates: bool,
    /// Some service times such as `1:25` can be read in two ways: ask.
    pub ambiguous_durations: bool,
    /// Names that nobody of the academy bears, in the order of the file.
    pub unknown_trainees: Vec<UnknownTrainee>,
    /// Codes of practice models that the academy does not have yet, in the order of the file. Their rows are ready.
    pub unknown_practice_models: Vec<String>,
    /// Rows that repeat an earlier one.
    pub duplicates_in_file: Vec<DuplicateInFile>,
    /// Rows that the log already holds.
    pub duplicates_of_known: Vec<DuplicateOfKnown>,
    /// Rows with other times than the log holds.
    pub changed_rows: Vec<ChangedRow>,
    /// Rows with more or fewer cells than the header, as found.
    pub ragged: Vec<Ragged>,
    /// Lines of rows of the same trainee, date and practice model with different times: both are ready, look at them.
    pub same_occasion: Vec<(u32, u32)>,
}

impl Preview {
    /// Returns the number of rows that are rejected.
    pub fn rejected_rows(&self) -> usize {
        count_lines(&self.rejected)
    }

    /// Returns the number of rows that wait for an answer.
    pub fn waiting_rows(&self) -> usize {
        count_lines(&self.waiting)
    }
}

fn count_lines(list: &[Rejected]) -> usize {
    let mut lines: Vec<u32> = list.iter().map(|rejected| rejected.line).collect();
    lines.dedup();
    lines.len()
}

/// Reads every row. Nothing is guessed: what can be read in two ways waits for an answer.
pub fn read_rows(table: &Table, mapping: &[Option<Field>], options: &Options<'_>) -> Preview {
    let problems = mapping_problems(mapping, options.book);
    if !problems.is_empty() {
        return Preview { mapping_problems: problems, ..Preview::default() };
    }
    let mut reader = Reader::new(table, mapping, options);
    for row in &table.rows {
        reader.read(row);
    }
    reader.finish()
}

struct Reader<'a> {
    table: &'a Table,
    mapping: &'a [Option<Field>],
    options: &'a Options<'a>,
    settled: Option<DateOrder>,
    people: BTreeMap<String, Vec<&'a PersonId>>,
    codes: BTreeMap<String, &'a PracticeModelId>,
    /// Unknown names as compared, and their place in the preview.
    names: BTreeMap<String, usize>,
    new_codes: BTreeSet<String>,
    read: Vec<ReadyRow>,
    preview: Preview,
}

impl<'a> Reader<'a> {
    fn new(table: &'a Table, mapping: &'a [Option<Field>], options: &'a Options<'a>) -> Self {
        let date_column = mapping.iter().position(|field| *field == Some(Field::Date)).unwrap_or(usize::MAX);
        let settled = settled_order(table.rows.iter().map(|row| row.cell(date_column)));
        let mut people: BTreeMap<String, Vec<&PersonId>> = BTreeMap::new();
        for person in options.people {
            people.entry(fold(&person.name)).or_default().push(&person.id);
        }
        // What a person settled goes before the name itself.
        for (written, id) in options.aliases {
            people.insert(fold(written), vec![id]);
        }
        let codes = map_of(options.practice_models.iter().map(|(code, id)| (fold(code), id)));
        let preview = Preview { ragged: table.ragged.clone(), ..Preview::default() };
        let (names, new_codes) = (BTreeMap::new(), BTreeSet::new());
        Self { table, mapping, options, settled, people, codes, names, new_codes, read: Vec::new(), preview }
    }

    fn read(&mut self, row: &Row) {
        let columns = self.table.header.len().max(self.mapping.len());
        if row.cells.iter().skip(columns).any(|cell| !cell.trim().is_empty()) {
            let value = row.cells.iter().skip(columns).cloned().collect::<Vec<_>>().join(" ");
            let reason = format!(
                "the row has {} cells, the header {columns}: a delimiter stands inside a cell; put that cell in quotes",
                row.cells.len(),
            );
            self.preview.rejected.push(Rejected { line: row.line, column: "whole row".to_owned(), value, reason });
            return;
        }
        let mut one = one::One::new(self, row);
        let ready = one.read();
        let (rejected, waiting) = (one.rejected, one.waiting);
        let (asks_date, asks_duration, unknown) = (one.asks_date, one.asks_duration, one.unknown_trainee);
        // A row that is rejected anyway waits for nothing.
        if rejected.is_empty() {
            self.preview.ambiguous_dates |= asks_date;
            self.preview.ambiguous_durations |= asks_duration;
            self.preview.waiting.extend(waiting);
            if let Some(name) = unknown {
                self.note_unknown(name);
            }
            self.read.extend(ready);
        }
        self.preview.rejected.extend(rejected);
    }

    fn note_unknown(&mut self, name: String) {
        let folded = fold(&name);
        if let Some(known) = self.names.get(&folded).and_then(|place| self.preview.unknown_trainees.get_mut(*place)) {
            known.rows += 1;
            return;
        }
        let of_academy = self.options.people.iter().map(|person| &person.name);
        let of_file = self.preview.unknown_trainees.iter().map(|other| &other.written);
        let propose = self.preview.unknown_trainees.len() < MOST_COMPARED;
        let mut candidates = of_academy.chain(of_file).take(if propose { 2 * MOST_COMPARED } else { 0 });
        let resembles = candidates.find(|other| resemble(other, &name)).cloned();
        self.names.insert(folded, self.preview.unknown_trainees.len());
        self.preview.unknown_trainees.push(UnknownTrainee { written: name, rows: 1, resembles });
    }

    /// Parts what was read into new, repeated, known and changed.
    fn finish(mut self) -> Preview {
        let known: Vec<&KnownRow> = self.options.known.iter().filter(|row| !row.withdrawn).collect();
        let mut by_key: BTreeMap<&RowKey, &KnownRow> = BTreeMap::new();
        for row in &known {
            by_key.entry(&row.key).or_insert(row);
        }
        // A known service that a row repeats is not there to be corrected by another.
        let repeated: Vec<&ServiceId> =
            self.read.iter().filter_map(|row| by_key.get(&row.key)).map(|row| &row.id).collect();
        let repeated = set_of(repeated);
        let mut by_occasion: BTreeMap<&Occasion, Vec<&KnownRow>> = BTreeMap::new();
        for row in known.iter().filter(|row| !repeated.contains(&row.id)) {
            by_occasion.entry(&row.key.occasion).or_default().push(row);
        }
        let mut first_lines: BTreeMap<RowKey, u32> = BTreeMap::new();
        let mut occasions: BTreeMap<Occasion, u32> = BTreeMap::new();
        for row in std::mem::take(&mut self.read) {
            if let Some(first_line) = first_lines.get(&row.key) {
                let duplicate = DuplicateInFile { line: row.line, first_line: *first_line };
                self.preview.duplicates_in_file.push(duplicate);
                continue;
            }
            first_lines.insert(row.key.clone(), row.line);
            if let Some(known) = by_key.get(&row.key) {
                let duplicate = DuplicateOfKnown { line: row.line, known: known.id.clone() };
                self.preview.duplicates_of_known.push(duplicate);
                continue;
            }
            let left = by_occasion.get_mut(&row.key.occasion).filter(|left| !left.is_empty());
            if let Some(left) = left {
                let known = left.remove(0);
                self.preview.changed_rows.push(ChangedRow {
                    row,
                    known: known.id.clone(),
                    known_times: known.key.times.clone(),
                    may_correct: known.imported,
                });
                continue;
            }
            if let Some(earlier) = occasions.get(&row.key.occasion) {
                self.preview.same_occasion.push((*earlier, row.line));
            } else {
                occasions.insert(row.key.occasion.clone(), row.line);
            }
            self.note_new_code(&row);
            self.preview.rows.push(row);
        }
        self.preview
    }

    fn note_new_code(&mut self, row: &ReadyRow) {
        let Some(written) = row.practice_model.as_ref().filter(|written| written.id.is_none()) else {
            return;
        };
        if self.new_codes.insert(fold(&written.code)) {
            self.preview.unknown_practice_models.push(written.code.clone());
        }
    }
}

fn key_of(trainee: PersonId, day: Day, practice_model: Option<&WrittenPracticeModel>, times: &WrittenTimes) -> RowKey {
    let practice_model =
        practice_model.map_or_else(String::new, |written| practice_model_key(written.id.as_ref(), &written.code));
    row_key(Occasion { trainee, day, practice_model }, times)
}

#[cfg(test)]
mod tests;
