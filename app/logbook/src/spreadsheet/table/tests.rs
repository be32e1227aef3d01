//! Claims about reading a table.

use super::*;

fn lines(table: &Table) -> Vec<u32> {
    table.rows.iter().map(|row| row.line).collect()
}

#[test]
fn comma_semicolon_and_tab_are_found() {
    for (delimiter, text) in [
        (',', "Trainee,Date,Note\nA,2026-03-01,\"a;b;c;d\"\n"),
        (';', "Trainee;Date;Service time;Note\nA;2026-03-01;47,5;x\nB;2026-03-01;50,5;y\n"),
        ('\t', "Trainee\tDate\tNote\nA\t2026-03-01\tone, two; three\n"),
    ] {
        let table = decode(text.as_bytes()).unwrap();
        assert_eq!(table.delimiter, delimiter, "{text}");
        assert_eq!(table.header.first().map(String::as_str), Some("Trainee"));
    }
}

#[test]
fn a_first_line_that_names_the_delimiter_is_obeyed_and_counted() {
    let table = decode(b"sep=;\r\nTrainee;Date\r\nA,a;2026-03-01\r\n").unwrap();
    assert_eq!((table.delimiter, table.header_line, lines(&table)), (';', Some(2), vec![3]));
}

#[test]
fn newlines_inside_quotes_blank_lines_and_every_line_end_are_counted() {
    for end in ["\n", "\r\n", "\r"] {
        let text =
            ["Trainee,Date,Note", "A,2026-03-01,\"one", "two\"\"", "three\"", "", "B,2026-03-02,x", ""].join(end);
        let table = decode(text.as_bytes()).unwrap();
        assert_eq!((table.header_line, lines(&table)), (Some(1), vec![2, 6]), "{end:?}");
        assert_eq!(table.rows[0].cell(2), format!("one{end}two\"{end}three"));
    }
}

#[test]
fn the_mark_is_taken_off_and_a_title_above_the_header_is_kept_apart() {
    let table = decode("\u{FEFF}Spring term;;\n;;\nTrainee;Date;Note\nA;2026-03-01;\n".as_bytes()).unwrap();
    assert_eq!(table.header, ["Trainee", "Date", "Note"]);
    assert_eq!((table.header_line, table.above.len(), lines(&table)), (Some(3), 1, vec![4]));
}

#[test]
fn a_file_without_a_header_loses_no_row() {
    let table = decode(b"Ana Lind,2026-03-01,PM-1\nAna Lind,2026-03-02,PM-2\n").unwrap();
    assert_eq!((table.header_line, lines(&table)), (None, vec![1, 2]));
    assert_eq!(table.header, ["Column 1", "Column 2", "Column 3"]);
}

#[test]
fn ragged_rows_are_listed_and_kept() {
    let table = decode(b"Trainee,Date,Note\nA,2026-03-01\nB,2026-03-02,x,y\nC,2026-03-02,x,\n").unwrap();
    assert_eq!(table.rows.len(), 3);
    let found: Vec<(u32, usize)> = table.ragged.iter().map(|ragged| (ragged.line, ragged.cells)).collect();
    assert_eq!(found, [(2, 2), (3, 4)]);
}

#[test]
fn files_that_are_no_csv_get_a_sentence() {
    let utf16: Vec<u8> = "Trainee,Date\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    let marked: Vec<u8> = [0xFF, 0xFE].into_iter().chain(utf16.clone()).collect();
    let mut latin = b"Trainee,Date\nA,2026-03-01\nZo".to_vec();
    latin.extend([0xEB, b',', b'x']);
    for (bytes, problem) in [
        (Vec::new(), ReadProblem::Empty),
        (b" \r\n \n".to_vec(), ReadProblem::Empty),
        (utf16, ReadProblem::Utf16),
        (marked, ReadProblem::Utf16),
        (latin, ReadProblem::NotUtf8 { line: 3 }),
        (b"PK\x03\x04rest".to_vec(), ReadProblem::OtherKind("a workbook or an archive")),
        (b"Trainee,Date\nA,2026-03-01\nB\0,2026-03-02\n".to_vec(), ReadProblem::OtherKind("no text")),
        (b"Trainee,Date\nA,2026-03-01\nB,\"2026".to_vec(), ReadProblem::CutShort { line: 3 }),
        (b"Trainee,Date\n".to_vec(), ReadProblem::NoRows),
    ] {
        assert_eq!(decode(&bytes), Err(problem));
    }
}

#[test]
fn the_limits_hold_at_their_edge() {
    let long = |characters: usize| format!("Trainee,Date\n{},2026-03-01\n", "é".repeat(characters));
    assert!(decode(long(MOST_CHARACTERS).as_bytes()).is_ok());
    let problem = ReadProblem::CellTooLong { line: 2, column: 1, characters: MOST_CHARACTERS + 1 };
    assert_eq!(decode(long(MOST_CHARACTERS + 1).as_bytes()), Err(problem));

    let wide = |columns: usize| format!("Trainee,Date{}\nA,2026-03-01\n", ",x".repeat(columns - 2));
    assert!(decode(wide(MOST_COLUMNS).as_bytes()).is_ok());
    let problem = ReadProblem::TooManyColumns { line: 1, columns: MOST_COLUMNS + 1 };
    assert_eq!(decode(wide(MOST_COLUMNS + 1).as_bytes()), Err(problem));

    let tall = |rows: usize| format!("Trainee,Date\n{}", "A,2026-03-01\n".repeat(rows - 1));
    assert!(decode(tall(MOST_ROWS).as_bytes()).is_ok());
    assert_eq!(decode(tall(MOST_ROWS + 1).as_bytes()), Err(ReadProblem::TooManyRows));

    let large = vec![b'a'; MOST_BYTES + 1];
    assert_eq!(decode(&large), Err(ReadProblem::TooLarge(MOST_BYTES + 1)));
    assert!(
        ReadProblem::TooLarge(MOST_BYTES + 1).to_string().starts_with("The file has 5.1 MB; at most 5 MB are read")
    );
}
