//! Comma-separated values against the examples that the standard prints.
//!
//! Source: RFC 4180, section 2, definitions 1 to 7 (October 2005). The words of the examples are the standard's.

use logbook::spreadsheet::export::write_csv;
use logbook::spreadsheet::table::decode;

/// All rows of a text, the header among them where the reader took one.
fn rows(text: &str) -> Vec<Vec<String>> {
    let table = decode(text.as_bytes()).unwrap_or_else(|problem| panic!("{problem}"));
    let mut rows = Vec::new();
    rows.extend(table.header_line.map(|_| table.header.clone()));
    rows.extend(table.rows.into_iter().map(|row| row.cells));
    rows
}

fn check(text: &str, expected: &[&[&str]]) {
    assert_eq!(rows(text), expected, "{text:?}");
}

const PLAIN: [&[&str]; 2] = [&["aaa", "bbb", "ccc"], &["zzz", "yyy", "xxx"]];

/// RFC 4180, 2.1: each record on a line of its own, ended by CR LF.
#[test]
fn records_stand_on_lines_of_their_own() {
    check("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", &PLAIN);
}

/// RFC 4180, 2.2: the last record may lack the line break.
#[test]
fn the_last_record_may_lack_its_line_break() {
    check("aaa,bbb,ccc\r\nzzz,yyy,xxx", &PLAIN);
}

/// RFC 4180, 2.3: a header line may stand first, in the same form.
#[test]
fn a_header_stands_first() {
    let header: &[&str] = &["field_name", "field_name", "field_name"];
    check("field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", &[header, PLAIN[0], PLAIN[1]]);
}

/// RFC 4180, 2.4: spaces belong to a field, and each line should have the same number of fields.
#[test]
fn spaces_belong_to_the_field_and_uneven_lines_are_listed() {
    let table = decode(b"aaa,bbb,ccc\r\n zzz,yyy ,x x\r\nzzz,yyy\r\n").unwrap();
    assert_eq!(table.rows[0].cells, [" zzz", "yyy ", "x x"]);
    let uneven: Vec<(u32, usize, usize)> = table.ragged.iter().map(|row| (row.line, row.cells, row.expected)).collect();
    assert_eq!(uneven, [(3, 2, 3)]);
}

/// RFC 4180, 2.5: fields may be quoted or not.
#[test]
fn quotes_around_a_field_are_not_part_of_it() {
    check("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", &PLAIN);
}

/// RFC 4180, 2.6: a field with a line break, quote or comma is quoted.
#[test]
fn a_line_break_inside_quotes_belongs_to_the_field() {
    let table = decode(b"x,y,z\r\n\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx").unwrap();
    assert_eq!(table.rows[0].cells, ["aaa", "b\r\nbb", "ccc"]);
    assert_eq!((table.rows[0].line, table.rows[1].line), (2, 4));
}

/// RFC 4180, 2.7: a quote inside a quoted field is written twice.
#[test]
fn a_doubled_quote_is_one_quote() {
    let table = decode(b"x,y,z\r\n\"aaa\",\"b\"\"bb\",\"ccc\"").unwrap();
    assert_eq!(table.rows[0].cells, ["aaa", "b\"bb", "ccc"]);
}

/// RFC 4180, 2.1, 2.6 and 2.7, in the other direction.
#[test]
fn what_is_written_follows_the_same_rules() {
    let cells = |row: &[&str]| row.iter().map(|cell| (*cell).to_owned()).collect::<Vec<_>>();
    let written = write_csv(&[cells(&["aaa", "b\r\nbb", "c\"c"]), cells(&["zzz", "y,yy", ""])]);
    assert_eq!(written, "aaa,\"b\r\nbb\",\"c\"\"c\"\r\nzzz,\"y,yy\",\r\n");
}
