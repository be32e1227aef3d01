//! Writing what a preview showed: one batch, all or nothing.

use chrono::Offset;
use logbook::Fact;
use logbook::fact::ImportBatch;
use logbook::spreadsheet::services::{Making, to_correction, to_services};
use practicum::ids::{BatchId, PersonId, PracticeModelId};
use practicum::person::{Person, Role};
use practicum::practice_model::PracticeModel;

use super::reading::{Sheet, Unknown};
use crate::browser;
use crate::session::Session;

impl Sheet {
    /// Writes the batch with new people and practice models, all or nothing.
    ///
    /// # Errors
    /// Returns a sentence when nothing could be saved.
    pub(super) async fn write(mut self, session: Session) -> Result<String, String> {
        let seen = (self.preview.rows.len(), self.corrections());
        // Another tab may have written meanwhile: what is written is what was seen, or nothing.
        self.again(session);
        if seen != (self.preview.rows.len(), self.corrections()) {
            return Err("The log has changed since this preview: read the file again. Nothing was written.".to_owned());
        }
        if seen == (0, 0) {
            return Err("No row is ready. Nothing was written.".to_owned());
        }
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
            chrono::FixedOffset::east_opt(minutes.saturating_mul(60)).unwrap_or_else(|| chrono::Utc.fix())
        };
        let making = Making { batch: &batch, book: &book, offset: &offset, new_practice_model: &find };
        let services = to_services(&self.preview, &making);
        let count = services.len();
        let rejected = u32::try_from(self.preview.rejected_rows()).unwrap_or(u32::MAX);
        let corrections = self.corrections();
        let used = |id: &PersonId| {
            let changed = self.preview.changed_rows.iter().map(|changed| &changed.row);
            self.preview.rows.iter().chain(changed).any(|row| row.trainee == *id)
        };
        let new = self.unknown.iter().filter(|one| one.answer == "new" && used(&one.new));
        let mut facts: Vec<Fact> = new.map(enrolled).collect();
        facts.extend(new_codes.iter().map(|(code, id)| {
            Fact::PracticeModelAdded(PracticeModel { id: id.clone(), code: code.clone(), born: None, guardian: None })
        }));
        if count > 0 {
            let (id, file_name) = (batch.clone(), self.file_name.clone());
            facts.push(Fact::RowsImported(ImportBatch {
                id,
                file_name,
                rows: services,
                outcomes: Vec::new(),
                rejected,
            }));
        }
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
        let corrected = match corrections {
            0 => String::new(),
            1 => " One row was corrected.".to_owned(),
            more => format!(" {more} rows were corrected."),
        };
        Ok(match count {
            0 => format!("✓{corrected}"),
            1 => format!("✓ One row was imported as a batch, not observed. It can be undone below.{corrected}"),
            count => {
                format!("✓ {count} rows were imported as one batch, not observed. It can be undone below.{corrected}")
            }
        })
    }
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
