//! A spreadsheet while it is being looked at: the file, the answers so far, and what they give.

use logbook::spreadsheet::date::DateOrder;
use logbook::spreadsheet::duration::TwoPart;
use logbook::spreadsheet::field::{Field, guess_columns};
use logbook::spreadsheet::rows::{KnownPerson, Options, Preview, read_rows};
use logbook::spreadsheet::same_row::KnownRow;
use logbook::spreadsheet::table::{Table, decode};
use practicum::ids::{PersonId, PracticeModelId};
use practicum::moment::format_seconds;

use crate::browser;
use crate::session::Session;

/// What the file asks.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Asks {
    /// In which order dates are written.
    pub(super) dates: bool,
    /// What short times mean.
    pub(super) durations: bool,
}

/// A name that nobody bears, and what was answered.
#[derive(Debug, Clone)]
pub(super) struct Unknown {
    /// The name as written.
    pub(super) written: String,
    /// A name that it may be another spelling of.
    resembles: Option<String>,
    /// A person, `new`, or nothing.
    pub(super) answer: String,
    /// Identifier under which a new trainee is enrolled.
    pub(super) new: PersonId,
}

/// A spreadsheet with the answers so far.
#[derive(Debug, Clone)]
pub(super) struct Sheet {
    /// Differs from one reading of a file to the next.
    pub(super) id: String,
    /// Name of the file.
    pub(super) file_name: String,
    table: Table,
    mapping: Vec<Option<Field>>,
    date_order: Option<DateOrder>,
    two_part: Option<TwoPart>,
    asks: Asks,
    /// Names that nobody bears.
    pub(super) unknown: Vec<Unknown>,
    /// Rows that differ are to be recorded as corrections.
    pub(super) correct: bool,
    /// What the answers give.
    pub(super) preview: Preview,
}

impl Sheet {
    /// Reads a file; writes nothing.
    ///
    /// # Errors
    /// Returns a sentence when it is no spreadsheet that can be read.
    pub(super) fn read(session: Session, file_name: &str, bytes: &[u8]) -> Result<Self, String> {
        let table = decode(bytes).map_err(|error| error.to_string())?;
        let book = session.book().ok_or("No course book is in force.")?;
        let mapping = guess_columns(&table, &book);
        let mut sheet = Sheet {
            id: browser::random::hex_id(),
            file_name: file_name.to_owned(),
            table,
            mapping,
            date_order: None,
            two_part: None,
            asks: Asks::default(),
            unknown: Vec::new(),
            correct: false,
            preview: Preview::default(),
        };
        sheet.again(session);
        sheet.asks = Asks { dates: sheet.preview.ambiguous_dates, durations: sheet.preview.ambiguous_durations };
        Ok(sheet)
    }

    /// Works the preview out again from the answers.
    pub(super) fn again(&mut self, session: Session) {
        let Some(book) = session.book() else { return };
        let records = session.records_now();
        let new = self.unknown.iter().filter(|one| one.answer == "new");
        let people: Vec<KnownPerson> = records
            .trainees()
            .into_iter()
            .map(|person| KnownPerson { id: person.id.clone(), name: person.name.clone() })
            .chain(new.map(|one| KnownPerson { id: one.new.clone(), name: one.written.clone() }))
            .collect();
        let settled = self.unknown.iter().filter(|one| !one.answer.is_empty() && one.answer != "new");
        let aliases: Vec<(String, PersonId)> =
            settled.map(|one| (one.written.clone(), PersonId::new(one.answer.as_str()))).collect();
        let practice_models: Vec<(String, PracticeModelId)> =
            records.practice_models().into_iter().map(|known| (known.code.clone(), known.id.clone())).collect();
        let known: Vec<KnownRow> = records
            .services()
            .into_iter()
            .filter(|service| service.value.is_service())
            .map(|service| KnownRow::of(&service.value, service.withdrawn.is_some()))
            .collect();
        self.preview = read_rows(
            &self.table,
            &self.mapping,
            &Options {
                book: &book,
                today: crate::session::reading().at.date_naive(),
                date_order: self.date_order,
                two_part: self.two_part,
                people: &people,
                aliases: &aliases,
                practice_models: &practice_models,
                known: &known,
            },
        );
        self.asks.dates |= self.preview.ambiguous_dates;
        self.asks.durations |= self.preview.ambiguous_durations;
        for one in &self.preview.unknown_trainees {
            if !self.unknown.iter().any(|known| known.written == one.written) {
                let new = PersonId::new(browser::random::hex_id());
                let (written, resembles) = (one.written.clone(), one.resembles.clone());
                self.unknown.push(Unknown { written, resembles, answer: String::new(), new });
            }
        }
    }

    /// Returns what the file asks.
    pub(super) fn asks(&self) -> Asks {
        self.asks
    }

    /// Returns the names that nobody bears: place, name as written, and a name that it may be another spelling of.
    pub(super) fn unknown_names(&self) -> Vec<(usize, String, Option<String>)> {
        let one = |(place, one): (usize, &Unknown)| (place, one.written.clone(), one.resembles.clone());
        self.unknown.iter().enumerate().map(one).collect()
    }

    /// Returns what was answered to whose name it is.
    pub(super) fn answer_to(&self, place: usize) -> String {
        self.unknown.get(place).map(|one| one.answer.clone()).unwrap_or_default()
    }

    /// Answers whose name it is: a person, `new`, or nothing.
    pub(super) fn name_is(&mut self, place: usize, answer: String) {
        if let Some(one) = self.unknown.get_mut(place) {
            one.answer = answer;
        }
    }

    /// Answers which part of a date comes first.
    pub(super) fn dates_are(&mut self, answer: String) {
        self.date_order = match answer.as_str() {
            "day" => Some(DateOrder::DayFirst),
            "month" => Some(DateOrder::MonthFirst),
            _ => None,
        };
    }

    /// Answers what short times mean.
    pub(super) fn durations_are(&mut self, answer: String) {
        self.two_part = match answer.as_str() {
            "hours" => Some(TwoPart::HoursMinutes),
            "minutes" => Some(TwoPart::MinutesSeconds),
            _ => None,
        };
    }

    /// Returns the names of the columns.
    pub(super) fn columns(&self) -> Vec<String> {
        self.table.header.clone()
    }

    /// Returns the first cell of each column that says something, cut short, so that a column is known without its name.
    pub(super) fn samples(&self) -> Vec<String> {
        let first = |place: usize| {
            let mut cells = self.table.rows.iter().map(|row| row.cell(place).trim());
            cells.find(|cell| !cell.is_empty()).unwrap_or_default()
        };
        (0..self.table.header.len()).map(|place| first(place).chars().take(30).collect()).collect()
    }

    /// Returns the words of the fields that a column can be matched to.
    pub(super) fn fields(session: Session) -> Vec<String> {
        let Some(book) = session.book() else { return Vec::new() };
        Field::all(&book).iter().map(|field| field.label(&book)).collect()
    }

    /// Returns the place of the field that a column is matched to.
    pub(super) fn matched(&self, session: Session, place: usize) -> Option<usize> {
        let book = session.book()?;
        let field = self.mapping.get(place)?.as_ref()?;
        Field::all(&book).iter().position(|one| one == field)
    }

    /// Returns how many known rows would be corrected.
    pub(super) fn corrections(&self) -> usize {
        if self.correct { self.preview.changed_rows.iter().filter(|changed| changed.may_correct).count() } else { 0 }
    }

    /// Says what is worth a look beside the rows: repeated ones, two on one occasion, odd numbers of cells, new codes.
    pub(super) fn remarks(&self) -> Vec<String> {
        let preview = &self.preview;
        let repeated = preview.duplicates_in_file.iter();
        let repeated = repeated.map(|one| format!("Line {} repeats line {}: left out.", one.line, one.first_line));
        let known = preview.duplicates_of_known.iter();
        let known = known.map(|one| format!("Line {} is in the log already: left out.", one.line));
        let twice = preview.same_occasion.iter().map(|(first, second)| {
            format!("Lines {first} and {second}: same trainee, day and practice model, other times. Both come in.")
        });
        let ragged = preview.ragged.iter();
        let ragged =
            ragged.map(|one| format!("Line {} has {} cells, the header {}.", one.line, one.cells, one.expected));
        let codes = preview.unknown_practice_models.iter();
        let codes = codes.map(|code| format!("Practice model {code} is new and is added without a name."));
        repeated.chain(known).chain(twice).chain(ragged).chain(codes).collect()
    }

    /// Matches a column to a field.
    pub(super) fn match_column(&mut self, session: Session, place: usize, choice: Option<usize>) {
        let Some(book) = session.book() else { return };
        let field = choice.and_then(|choice| Field::all(&book).get(choice).cloned());
        if let Some(slot) = self.mapping.get_mut(place) {
            *slot = field;
        }
        self.again(session);
    }

    /// Says what would happen.
    pub(super) fn summary(&self) -> String {
        let preview = &self.preview;
        format!(
            "{} rows ready, {} left out, {} wait for an answer, {} repeat a row of this file, {} are in the log already, {} differ from the log, {} practice models are new.",
            preview.rows.len(),
            preview.rejected_rows(),
            preview.waiting_rows(),
            preview.duplicates_in_file.len(),
            preview.duplicates_of_known.len(),
            preview.changed_rows.len(),
            preview.unknown_practice_models.len()
        )
    }

    /// Says which rows differ from the log.
    pub(super) fn changed(&self, session: Session) -> Vec<String> {
        let say = |changed: &logbook::spreadsheet::rows::ChangedRow| {
            let times: Vec<String> = changed
                .known_times
                .iter()
                .map(|(what, seconds)| format!("{what} {}", format_seconds(*seconds)))
                .collect();
            let may = if changed.may_correct { "" } else { " (not imported, so a spreadsheet may not correct it)" };
            format!(
                "Line {}: {} on {}; the log holds {}{may}",
                changed.row.line,
                session.person_name(&changed.row.trainee),
                changed.row.day,
                times.join(", ")
            )
        };
        self.preview.changed_rows.iter().map(say).collect()
    }

    /// Returns the first rows as text.
    pub(super) fn first_rows(&self) -> Vec<[String; 6]> {
        let number = |sections: &Option<practicum::section::Sections>| {
            sections.map_or_else(|| "–".to_owned(), |sections| sections.number().to_string())
        };
        let row = |row: &logbook::spreadsheet::rows::ReadyRow| {
            [
                row.line.to_string(),
                row.written_trainee.clone(),
                row.day.to_string(),
                format!("{}, {}", number(&row.sections.left), number(&row.sections.right)),
                row.times.service.map_or_else(|| "–".to_owned(), format_seconds),
                row.note.clone(),
            ]
        };
        self.preview.rows.iter().take(10).map(row).collect()
    }
}
