//! A spreadsheet while it is being looked at: the file, the answers so far, and what they give.

use chrono::Offset;
use logbook::Fact;
use logbook::fact::ImportBatch;
use logbook::spreadsheet::date::DateOrder;
use logbook::spreadsheet::duration::TwoPart;
use logbook::spreadsheet::field::{Field, guess_columns};
use logbook::spreadsheet::rows::{KnownPerson, Options, Preview, read_rows};
use logbook::spreadsheet::same_row::KnownRow;
use logbook::spreadsheet::services::{Making, to_correction, to_services};
use logbook::spreadsheet::table::{Table, decode};
use practicum::ids::{BatchId, PersonId, PracticeModelId};
use practicum::moment::format_seconds;
use practicum::person::{Person, Role};
use practicum::practice_model::PracticeModel;

use crate::browser;
use crate::session::Session;

/// A column on the screen: place, name, choices, and which is chosen.
pub(super) type ColumnChoice = (usize, String, Vec<String>, Option<usize>);

/// What the file asks.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Asks {
    /// In which order dates are written.
    pub(super) dates: bool,
    /// What short times mean.
    pub(super) durations: bool,
}

/// A name that nobody bears, and what was answered.
#[derive(Debug, Clone)]
struct Unknown {
    written: String,
    answer: String,
    new: PersonId,
}

/// A spreadsheet with the answers so far.
#[derive(Debug, Clone)]
pub(super) struct Sheet {
    file_name: String,
    table: Table,
    mapping: Vec<Option<Field>>,
    date_order: Option<DateOrder>,
    two_part: Option<TwoPart>,
    asks: Asks,
    unknown: Vec<Unknown>,
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
                self.unknown.push(Unknown { written: one.written.clone(), answer: String::new(), new });
            }
        }
    }

    /// Returns what the file asks.
    pub(super) fn asks(&self) -> Asks {
        self.asks
    }

    /// Returns the names that nobody bears, with what was answered.
    pub(super) fn unknown_names(&self) -> Vec<(usize, String, String)> {
        self.unknown.iter().enumerate().map(|(place, one)| (place, one.written.clone(), one.answer.clone())).collect()
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

    /// Returns every column with its choices.
    pub(super) fn columns(&self, session: Session) -> Vec<ColumnChoice> {
        let Some(book) = session.book() else { return Vec::new() };
        let fields = Field::all(&book);
        let labels: Vec<String> = fields.iter().map(|field| field.label(&book)).collect();
        let one = |(place, name): (usize, &String)| {
            let chosen =
                self.mapping.get(place).and_then(Option::as_ref).and_then(|f| fields.iter().position(|g| g == f));
            (place, name.clone(), labels.clone(), chosen)
        };
        self.table.header.iter().enumerate().map(one).collect()
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

    /// Writes the batch with new people and practice models, all or nothing.
    ///
    /// # Errors
    /// Returns a sentence when nothing could be saved.
    pub(super) async fn write(self, session: Session) -> Result<String, String> {
        if !session.may_assess() {
            return Err(
                "An instructor or the owner imports: switch at the top and unlock. Nothing was written.".to_owned()
            );
        }
        let book = session.book().ok_or("No course book is in force.")?;
        let batch = BatchId::new(browser::random::hex_id());
        let new_codes: Vec<(String, PracticeModelId)> = self
            .preview
            .unknown_practice_models
            .iter()
            .map(|code| (code.clone(), PracticeModelId::new(browser::random::hex_id())))
            .collect();
        let find = |code: &str| new_codes.iter().find(|(known, _)| known == code).map(|(_, id)| id.clone());
        let offset = |local: chrono::NaiveDateTime| {
            let minutes = browser::clock::offset_minutes_at(local.and_utc().timestamp_millis());
            chrono::FixedOffset::east_opt(minutes * 60).unwrap_or(chrono::FixedOffset::east_opt(0).unwrap_or_else(zero))
        };
        let making = Making { batch: &batch, book: &book, offset: &offset, new_practice_model: &find };
        let services = to_services(&self.preview, &making);
        let count = services.len();
        let rejected = u32::try_from(self.preview.rejected_rows()).unwrap_or(u32::MAX);
        let mut facts: Vec<Fact> = self.unknown.iter().filter(|one| one.answer == "new").map(enrolled).collect();
        facts.extend(new_codes.iter().map(|(code, id)| {
            Fact::PracticeModelAdded(PracticeModel { id: id.clone(), code: code.clone(), born: None, guardian: None })
        }));
        facts.push(Fact::RowsImported(ImportBatch {
            id: batch.clone(),
            file_name: self.file_name.clone(),
            rows: services,
            outcomes: Vec::new(),
            rejected,
        }));
        if self.correct {
            let records = session.records_now();
            let corrections = self.preview.changed_rows.iter().filter_map(|changed| {
                let of = records.service(&changed.known)?.latest.clone();
                let fact = Box::new(Fact::ServiceLogged(to_correction(changed, &making)?));
                Some(Fact::Corrected { of, reason: format!("corrected by spreadsheet {}", self.file_name), fact })
            });
            facts.extend(corrections);
        }
        session.write(facts).await?;
        Ok(format!("✓ {count} rows were imported as one batch, not observed. It can be undone below."))
    }
}

fn zero() -> chrono::FixedOffset {
    chrono::Utc.fix()
}

fn enrolled(one: &Unknown) -> Fact {
    Fact::PersonEnrolled(Person {
        id: one.new.clone(),
        name: one.written.clone(),
        role: Role::Trainee,
        group: String::new(),
        since: None,
        left: None,
        show_times_early: false,
    })
}
