//! Spreadsheets.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use logbook::spreadsheet::field::guess_columns;
use logbook::spreadsheet::rows::{Options, read_rows};
use logbook::spreadsheet::table::decode;
use practicum::course_book::{CourseBook, example, text};
use practicum::moment::Day;

static BOOK: LazyLock<Option<CourseBook>> = LazyLock::new(|| text::read(&example::files()).ok());

fuzz_target!(|bytes: &[u8]| {
    let (Ok(table), Some(book)) = (decode(bytes), BOOK.as_ref()) else { return };
    let mapping = guess_columns(&table, book);
    let Some(today) = Day::from_ymd_opt(2026, 6, 30) else { return };
    let options = Options {
        book,
        today,
        date_order: None,
        two_part: None,
        people: &[],
        aliases: &[],
        practice_models: &[],
        known: &[],
    };
    let preview = read_rows(&table, &mapping, &options);
    if preview.mapping_problems.is_empty() {
        let read = preview.rows.len() + preview.duplicates_in_file.len();
        assert_eq!(read + preview.rejected_rows() + preview.waiting_rows(), table.rows.len());
    }
});
