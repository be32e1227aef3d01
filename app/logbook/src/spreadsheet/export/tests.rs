//! Claims about the export.

use super::*;
use crate::spreadsheet::example_book;
use crate::spreadsheet::field::{Field, guess_columns};
use crate::spreadsheet::table::decode;

#[test]
fn a_signed_number_stays_a_number_and_comes_back() {
    for text in ["-5", "+1", "-12.5", "+0,5", "'-5", "''-5"] {
        assert_eq!(defuse(text), text);
        assert_eq!(undo_defuse(text), text);
    }
    for text in ["-5.", "-.5", "-1.2.3", "-٣", "-5 ", "-=1"] {
        assert_eq!(defuse(text), format!("'{text}"));
    }
}

#[test]
fn cells_that_a_spreadsheet_could_run_are_defused_and_come_back() {
    for text in [
        "=1+1",
        "+1+1",
        "-1-1",
        "-1;x",
        "+44 20",
        "--1",
        "-",
        "-1e9",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\0=1",
        "＝1+1",
        "＋1",
        "－1",
        "＠x",
        "'=1",
        "''=1",
        "'plain",
        "plain",
        "",
        "'",
        "it's = fine",
        "a=b",
        "🙂",
        "<b>bold</b>",
        "=HYPERLINK(\"http://example.invalid\",\"x\")",
    ] {
        let safe = defuse(text);
        assert!(!is_formula(&safe), "{text:?}");
        assert_eq!(undo_defuse(&safe), text);
    }
}

#[test]
fn the_template_is_matched_by_itself_column_by_column() {
    let book = example_book();
    let table = decode(template(&book).as_bytes()).unwrap();
    assert_eq!(table.rows.len(), 2);
    assert!(table.ragged.is_empty());
    let guess = guess_columns(&table, &book);
    assert!(guess.iter().all(|field| field.as_ref().is_some_and(|field| *field != Field::KeptInNote)), "{guess:?}");
    assert!(guess.contains(&Some(Field::StageTime("lash-up".into(), None))));
}

#[test]
fn every_column_of_the_export_is_matched_by_itself_or_left_out() {
    let book = example_book();
    let text = write_csv(&[header(&book), header(&book)]);
    let table = decode(text.as_bytes()).unwrap();
    let guess = guess_columns(&table, &book);
    let left_out = guess.iter().filter(|field| field.is_none()).count();
    assert_eq!(left_out, 5, "waiting, checks, pauses, how recorded, course book: {guess:?}");
    assert!(!guess.contains(&Some(Field::KeptInNote)), "{guess:?}");
}

#[test]
fn times_go_out_so_that_nobody_has_to_ask() {
    for (seconds, text) in
        [(Some(85), "0:01:25"), (Some(600), "0:10:00"), (Some(5100), "1:25:00"), (Some(0), ""), (None, "")]
    {
        assert_eq!(written(seconds), text);
    }
}
