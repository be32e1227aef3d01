//! A file as rows of cells: encoding, delimiter, quotes, line numbers, limits.

use crate::size::in_words;
use crate::spreadsheet::export::undo_defuse;
use crate::spreadsheet::fold::is_blank;
use crate::spreadsheet::{date, field};

/// Largest file that is read, in bytes.
pub const MOST_BYTES: usize = 5_000_000;
/// Most rows that are read, header and blank rows included.
pub const MOST_ROWS: usize = 20_000;
/// Most columns that are read.
pub const MOST_COLUMNS: usize = 200;
/// Longest cell that is read, in characters.
pub const MOST_CHARACTERS: usize = 10_000;

/// Rows looked at to find the delimiter.
const SAMPLE: usize = 200;
/// Rows among which the header is looked for.
const HEADER_WITHIN: usize = 10;

/// Why a file cannot be read at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadProblem {
    /// Nothing in it.
    #[error("The file is empty: choose the file again, or export it again from the spreadsheet")]
    Empty,
    /// Larger than [`MOST_BYTES`].
    #[error(
        "The file has {}; at most {} are read: split it into smaller files, one for each term",
        in_words(*.0 as u64),
        in_words(MOST_BYTES as u64)
    )]
    TooLarge(usize),
    /// A workbook or another kind of file.
    #[error("The file is {0}, not CSV: open it in a spreadsheet and save it as CSV UTF-8")]
    OtherKind(&'static str),
    /// UTF-16.
    #[error("The file is written in UTF-16 (“Unicode text”): save it again as CSV UTF-8")]
    Utf16,
    /// Not UTF-8.
    #[error("Line {line} has letters that are not UTF-8: save the file again as CSV UTF-8")]
    NotUtf8 {
        /// Line in the file, from 1.
        line: u32,
    },
    /// A quote is opened and never closed.
    #[error(
        "A quote opened in line {line} is never closed: the file seems cut short; export it again, or close the quote"
    )]
    CutShort {
        /// Line in which the quote opens, from 1.
        line: u32,
    },
    /// More than [`MOST_ROWS`].
    #[error("The file has more than {MOST_ROWS} rows: split it into smaller files, one for each term")]
    TooManyRows,
    /// More than [`MOST_COLUMNS`].
    #[error(
        "Line {line} has {columns} columns; at most {MOST_COLUMNS} are read: remove the columns that are not needed"
    )]
    TooManyColumns {
        /// Line in the file, from 1.
        line: u32,
        /// Columns found.
        columns: usize,
    },
    /// Longer than [`MOST_CHARACTERS`].
    #[error(
        "Line {line}, column {column} has {characters} characters; at most {MOST_CHARACTERS} are read: shorten the cell"
    )]
    CellTooLong {
        /// Line in the file, from 1.
        line: u32,
        /// Column, from 1.
        column: usize,
        /// Characters found.
        characters: usize,
    },
    /// A header and nothing below it.
    #[error("The file has a header and no rows below it")]
    NoRows,
    /// The reader stopped.
    #[error("The file cannot be read as CSV: {0}")]
    Unreadable(String),
}

/// A row of cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Line in the file where the row begins, from 1; newlines inside quotes count.
    pub line: u32,
    /// Cells as written, formula guards taken off.
    pub cells: Vec<String>,
}

impl Row {
    /// Returns a cell; nothing where the row is too short.
    pub fn cell(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }

    /// Whether no cell says anything.
    pub fn is_blank(&self) -> bool {
        self.cells.iter().all(|cell| cell.trim().is_empty())
    }
}

/// A row that has another number of cells than the header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ragged {
    /// Line in the file, from 1.
    pub line: u32,
    /// Cells found.
    pub cells: usize,
    /// Cells of the header.
    pub expected: usize,
}

/// A file as rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// What parts the cells: comma, semicolon or tab.
    pub delimiter: char,
    /// Names of the columns; `Column 1`, `Column 2` ... when the file has no header.
    pub header: Vec<String>,
    /// Line of the header, from 1; `None` when the file has none.
    pub header_line: Option<u32>,
    /// Rows above the header, such as a title.
    pub above: Vec<Row>,
    /// Rows below the header, blank ones left out.
    pub rows: Vec<Row>,
    /// Rows whose cells do not match the header in number; they stand in `rows` too.
    pub ragged: Vec<Ragged>,
}

/// Makes rows of a file's bytes.
///
/// UTF-8 with or without byte order mark; comma, semicolon or tab, found by which parts the rows most
/// evenly outside quotes; a first line `sep=;` is obeyed. The header is the first of the first ten rows
/// in which at least two words are known; failing that, the first row.
///
/// # Errors
/// Returns what is wrong with the file as a whole, with the line where that is known.
pub fn decode(bytes: &[u8]) -> Result<Table, ReadProblem> {
    if MOST_BYTES < bytes.len() {
        return Err(ReadProblem::TooLarge(bytes.len()));
    }
    refuse_other_kinds(bytes)?;
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
        ReadProblem::NotUtf8 { line: Lines::default().advance(before) }
    })?;
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(ReadProblem::Empty);
    }
    let (delimiter, skip) = match declared_delimiter(text) {
        Some((delimiter, length)) => (delimiter, length),
        None => (likeliest_delimiter(text), 0),
    };
    if let Some(line) = open_quote(text, delimiter) {
        return Err(ReadProblem::CutShort { line });
    }
    let rows = split(text, skip, delimiter)?;
    with_header(rows, char::from(delimiter))
}

fn refuse_other_kinds(bytes: &[u8]) -> Result<(), ReadProblem> {
    if bytes.is_empty() {
        return Err(ReadProblem::Empty);
    }
    let start = bytes.get(..bytes.len().min(1024)).unwrap_or_default();
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(ReadProblem::Utf16);
    }
    let kinds: [(&[u8], &'static str); 5] = [
        (b"PK\x03\x04", "a workbook or an archive"),
        (&[0xD0, 0xCF, 0x11, 0xE0], "an old workbook"),
        (b"%PDF", "a PDF document"),
        (&[0x1F, 0x8B], "a compressed file"),
        (&[0x89, b'P', b'N', b'G'], "a picture"),
    ];
    if let Some((_, kind)) = kinds.iter().find(|(mark, _)| bytes.starts_with(mark)) {
        return Err(ReadProblem::OtherKind(kind));
    }
    // Western text in UTF-16 without a mark has a zero in nearly every second byte, and no other.
    let zeros = |remainder: usize| start.iter().skip(remainder).step_by(2).filter(|byte| **byte == 0).count();
    let (even, odd) = (zeros(0), zeros(1));
    if 8 <= start.len() && even.min(odd) == 0 && start.len() * 2 <= even.max(odd) * 5 {
        return Err(ReadProblem::Utf16);
    }
    if bytes.contains(&0) {
        return Err(ReadProblem::OtherKind("no text"));
    }
    Ok(())
}

/// Returns the delimiter of a first line `sep=;` and that line's length in bytes.
fn declared_delimiter(text: &str) -> Option<(u8, usize)> {
    let line = text.split(['\r', '\n']).next()?;
    let delimiter = match line.get(..4)?.eq_ignore_ascii_case("sep=").then(|| line.get(4..))?? {
        "," => b',',
        ";" => b';',
        "\t" => b'\t',
        _ => return None,
    };
    Some((delimiter, line.len()))
}

/// Where a reader stands among quotes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Quote {
    /// At the start of a cell.
    Start,
    /// In a cell without quotes, or behind the closing quote.
    Bare,
    /// Between quotes.
    Inside,
    /// Behind a quote that closes, unless another follows.
    Closing,
}

impl Quote {
    fn next(self, byte: u8, delimiter: u8) -> Self {
        match (self, byte) {
            (Quote::Start, b'"') | (Quote::Closing, b'"') => Quote::Inside,
            (Quote::Inside, b'"') => Quote::Closing,
            (Quote::Inside, _) => Quote::Inside,
            (_, b'\r' | b'\n') => Quote::Start,
            (_, byte) if byte == delimiter => Quote::Start,
            _ => Quote::Bare,
        }
    }
}

/// Returns the delimiter that parts the first rows most evenly.
fn likeliest_delimiter(text: &str) -> u8 {
    let score = |delimiter: &u8| -> usize {
        let counts = delimiters_by_row(text, *delimiter);
        let fits = |count: usize| counts.iter().filter(|other| **other == count).count();
        counts.iter().map(|count| count * fits(*count)).max().unwrap_or(0)
    };
    // Of equals the last would win: comma stands there.
    [b'\t', b';', b','].into_iter().max_by_key(score).unwrap_or(b',')
}

fn delimiters_by_row(text: &str, delimiter: u8) -> Vec<usize> {
    let (mut counts, mut count, mut state, mut any) = (Vec::new(), 0, Quote::Start, false);
    for byte in text.bytes() {
        let outside = state != Quote::Inside;
        if outside && (byte == b'\n' || byte == b'\r') {
            if any {
                counts.push(count);
            }
            (count, any) = (0, false);
            if SAMPLE <= counts.len() {
                return counts;
            }
        } else {
            any = true;
            count += usize::from(outside && byte == delimiter);
        }
        state = state.next(byte, delimiter);
    }
    if any {
        counts.push(count);
    }
    counts
}

/// Returns the line in which a quote opens that nothing closes.
fn open_quote(text: &str, delimiter: u8) -> Option<u32> {
    let (mut state, mut opened) = (Quote::Start, 0);
    for (place, byte) in text.bytes().enumerate() {
        let next = state.next(byte, delimiter);
        if state == Quote::Start && next == Quote::Inside {
            opened = place;
        }
        state = next;
    }
    let before = text.as_bytes().get(..opened).unwrap_or_default();
    (state == Quote::Inside).then(|| Lines::default().advance(before))
}

/// Counts lines: CR LF, LF or CR alone end one.
#[derive(Default)]
struct Lines {
    ended: u32,
    after_cr: bool,
}

impl Lines {
    /// Goes on over more bytes and returns the line, from 1, in which the next byte stands.
    fn advance(&mut self, bytes: &[u8]) -> u32 {
        for byte in bytes {
            let ends = *byte == b'\r' || (*byte == b'\n' && !self.after_cr);
            self.ended = self.ended.saturating_add(u32::from(ends));
            self.after_cr = *byte == b'\r';
        }
        self.ended.saturating_add(1)
    }
}

/// Splits the text behind its first `skip` bytes into rows; blank rows are kept.
fn split(text: &str, skip: usize, delimiter: u8) -> Result<Vec<Row>, ReadProblem> {
    let bytes = text.as_bytes();
    let body = bytes.get(skip..).unwrap_or_default();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(body);
    let (mut lines, mut seen, mut rows) = (Lines::default(), 0, Vec::new());
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).map_err(|error| ReadProblem::Unreadable(error.to_string()))? {
        // The reader's own line numbers pass over line ends that it skips before a record.
        let reported = record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or(0));
        let start = start_of_record(bytes, skip.saturating_add(reported));
        let line = lines.advance(bytes.get(seen..start).unwrap_or_default());
        seen = start.max(seen);
        if MOST_ROWS <= rows.len() {
            return Err(ReadProblem::TooManyRows);
        }
        if MOST_COLUMNS < record.len() {
            return Err(ReadProblem::TooManyColumns { line, columns: record.len() });
        }
        rows.push(Row { line, cells: cells(&record, line)? });
    }
    Ok(rows)
}

fn start_of_record(bytes: &[u8], from: usize) -> usize {
    let rest = bytes.get(from..).unwrap_or_default();
    from.saturating_add(rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count())
}

fn cells(record: &csv::StringRecord, line: u32) -> Result<Vec<String>, ReadProblem> {
    let cell = |(place, text): (usize, &str)| {
        if MOST_CHARACTERS < text.len() {
            let characters = text.chars().count();
            if MOST_CHARACTERS < characters {
                return Err(ReadProblem::CellTooLong { line, column: place + 1, characters });
            }
        }
        Ok(undo_defuse(text).to_owned())
    };
    record.iter().enumerate().map(cell).collect()
}

fn with_header(rows: Vec<Row>, delimiter: char) -> Result<Table, ReadProblem> {
    let known = |row: &Row| row.cells.iter().filter(|cell| field::is_known_word(cell)).count();
    let place = rows.iter().take(HEADER_WITHIN).position(|row| 2 <= known(row));
    let first = rows.iter().position(|row| !row.is_blank()).ok_or(ReadProblem::Empty)?;
    let is_data = rows.get(first).is_some_and(|row| row.cells.iter().any(|cell| date::looks_like_date(cell)));
    let (header_at, bare) = match place {
        Some(place) => (place, false),
        None => (first, is_data),
    };
    let mut above: Vec<Row> = rows;
    let mut below = above.split_off(header_at);
    let (header, header_line) = if bare {
        let columns = below.iter().map(|row| row.cells.len()).max().unwrap_or(0);
        ((1..=columns).map(|number| format!("Column {number}")).collect::<Vec<_>>(), None)
    } else {
        let row = below.remove(0);
        (row.cells.iter().map(|cell| cell.trim().to_owned()).collect(), Some(row.line))
    };
    above.retain(|row| !row.is_blank());
    below.retain(|row| !row.is_blank());
    if below.is_empty() {
        return Err(ReadProblem::NoRows);
    }
    let expected = header.len();
    let uneven = |row: &&Row| {
        row.cells.len() != expected && !row.cells.iter().skip(expected).all(|cell| is_blank(cell))
            || row.cells.len() < expected
    };
    let ragged = below.iter().filter(uneven);
    let ragged = ragged.map(|row| Ragged { line: row.line, cells: row.cells.len(), expected }).collect();
    Ok(Table { delimiter, header, header_line, above, rows: below, ragged })
}

#[cfg(test)]
mod tests;
