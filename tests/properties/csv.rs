//! Comma-separated values: whatever the bytes, a sentence or rows; whatever the text, it comes back.

use std::sync::LazyLock;

use chrono::NaiveDate;
use logbook::spreadsheet::export::{defuse, undo_defuse, write_csv};
use logbook::spreadsheet::field::{Field, guess_columns};
use logbook::spreadsheet::fold::fold;
use logbook::spreadsheet::rows::{KnownPerson, Options, read_rows};
use logbook::spreadsheet::table::decode;
use practicum::course_book::CourseBook;
use proptest::prelude::*;

static BOOK: LazyLock<CourseBook> = LazyLock::new(|| {
    practicum::course_book::text::read(&practicum::course_book::example::files())
        .unwrap_or_else(|problems| panic!("{problems:?}"))
});

/// Reads as far as it goes; every row must be accounted for.
pub(crate) fn read_all(bytes: &[u8], book: &CourseBook) {
    let table = match decode(bytes) {
        Ok(table) => table,
        Err(problem) => return assert!(!problem.to_string().is_empty()),
    };
    let mut mapping = guess_columns(&table, book);
    // Any column will do, so that cells are read whatever the header says.
    for (place, field) in
        [Field::Trainee, Field::Date, Field::ServiceTime, Field::Sections(None)].into_iter().enumerate()
    {
        mapping.iter_mut().filter(|mapped| **mapped == Some(field.clone())).for_each(|mapped| *mapped = None);
        if let Some(mapped) = mapping.get_mut(place) {
            *mapped = Some(field);
        }
    }
    let people = [KnownPerson { id: "a".into(), name: "a".into() }];
    let options = Options {
        book,
        today: NaiveDate::from_ymd_opt(2026, 6, 30).unwrap(),
        date_order: None,
        two_part: None,
        people: &people,
        aliases: &[],
        practice_models: &[],
        known: &[],
    };
    let preview = read_rows(&table, &mapping, &options);
    if preview.mapping_problems.is_empty() {
        let read = preview.rows.len() + preview.duplicates_in_file.len();
        assert_eq!(read + preview.rejected_rows() + preview.waiting_rows(), table.rows.len());
    }
}

/// Cells as they come: words, numbers, dates, marks of every kind.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<String>(),
        "[-=+@'\"\t\r\n;, a-c0-9]{0,8}",
        "[0-9]{1,3}[:/.,-][0-9]{1,3}([:/.-][0-9]{1,4})?",
        "[0-9]{1,6} ?(h|min|m|s|sec)? ?[0-9]{0,3}",
        Just("a".to_owned()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_give_a_sentence_or_rows(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        read_all(&bytes, &BOOK);
    }

    #[test]
    fn any_cells_give_a_sentence_or_rows_and_none_is_lost(
        rows in prop::collection::vec(prop::collection::vec(cell(), 1..9), 1..12),
        delimiter in prop::sample::select(vec![",", ";", "\t"]),
        end in prop::sample::select(vec!["\n", "\r\n", "\r"]),
    ) {
        let lines: Vec<String> = rows.iter().map(|row| row.join(delimiter)).collect();
        read_all(lines.join(end).as_bytes(), &BOOK);
    }

    #[test]
    fn what_is_written_comes_back_cell_for_cell(
        rows in prop::collection::vec(prop::collection::vec(cell(), 4), 1..8),
    ) {
        let header: Vec<String> = ["Trainee", "Date", "Service time", "Note"].map(String::from).into();
        let text = write_csv(&[vec![header], rows.clone()].concat());
        // A row that says nothing is left out.
        let expected: Vec<Vec<String>> =
            rows.into_iter().filter(|row| row.iter().any(|cell| !cell.trim().is_empty())).collect();
        let read = decode(text.as_bytes()).map(|table| table.rows.into_iter().map(|row| row.cells).collect::<Vec<_>>());
        match read {
            Ok(found) => prop_assert_eq!(found, expected),
            Err(_) => prop_assert!(expected.is_empty()),
        }
    }

    #[test]
    fn no_cell_goes_out_as_a_formula_and_each_comes_back(text in cell()) {
        let safe = defuse(&text).into_owned();
        // A sign before a plain number makes no formula; a spreadsheet takes it as a number.
        let plain = |rest: &str| rest.bytes().all(|byte| byte.is_ascii_digit() || b".,".contains(&byte));
        let number = text.strip_prefix(['-', '+']).is_some_and(|rest| {
            plain(rest) && rest.replace(',', ".").parse::<f64>().is_ok()
        });
        prop_assert!(number || !safe.starts_with(['=', '+', '-', '@', '\t', '\r', '\0', '＝', '＋', '－', '＠']));
        prop_assert_eq!(undo_defuse(&safe), text);
    }

    #[test]
    fn folding_twice_is_folding_once(text in any::<String>()) {
        prop_assert_eq!(fold(&fold(&text)), fold(&text));
    }
}
