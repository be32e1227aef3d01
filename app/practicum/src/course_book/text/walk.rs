//! Walks a TOML file table by table; every value knows its line, and every problem is kept.
//!
//! A reader here always returns something. Where the text was wrong it returns a stand-in and puts
//! a problem on the file's list; a course book with one problem is never handed out, so a stand-in
//! is never seen.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Problem;
use crate::moment::Seconds;
use crate::order::InOrder;

/// Stands for a file whose text was refused before it was read.
pub(super) const UNREADABLE: &str = "\u{0}";

/// Longest text of one value, in characters.
const LONGEST_TEXT: usize = 2_000;
/// Most items in one list.
const MOST_ITEMS: usize = 300;

/// One TOML file being read.
pub(super) struct File<'t> {
    name: &'static str,
    table: DeTable<'t>,
    line_starts: Vec<usize>,
    /// Not there or not valid TOML: nothing more is said about its content.
    broken: bool,
    problems: RefCell<Vec<Problem>>,
    sources: RefCell<Vec<(String, String)>>,
}

impl<'t> File<'t> {
    /// Parses a file; `None` stands for a missing one.
    pub(super) fn open(name: &'static str, text: Option<&'t str>) -> Self {
        let line_starts = |text: &str| {
            std::iter::once(0)
                .chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at + 1))
                .collect()
        };
        let mut file = File {
            name,
            table: DeTable::new(),
            line_starts: text.map(line_starts).unwrap_or_else(|| vec![0]),
            broken: true,
            problems: RefCell::default(),
            sources: RefCell::default(),
        };
        match text {
            None => file.say_anyway(
                1,
                format!("the file {name} is missing: put it beside the others, or start from the example course book"),
            ),
            Some(UNREADABLE) => {}
            Some(text) => {
                let (table, errors) = DeTable::parse_recoverable(text);
                file.table = table.into_inner();
                file.broken = !errors.is_empty();
                // Errors close behind one another are mostly one slip and its echo.
                let mut lines: Vec<(usize, &str)> = errors
                    .iter()
                    .map(|error| (error.span().map_or(1, |span| file.line_of(span.start)), error.message()))
                    .collect();
                lines.order_by_key(|(line, _)| *line);
                let mut last = 0;
                for (line, message) in lines.into_iter().take(MOST_ITEMS) {
                    if last == 0 || line > last + 1 {
                        file.say_anyway(line, explained(message));
                    }
                    last = line;
                }
            }
        }
        file
    }

    /// Tells whether the file could not be read at all.
    pub(super) fn is_broken(&self) -> bool {
        self.broken
    }

    /// Returns the file's top table.
    pub(super) fn top(&self) -> Row<'_, 't> {
        Row { file: self, table: Some(&self.table), line: 1, place: String::new(), known: RefCell::default() }
    }

    /// Puts a problem on the list.
    pub(super) fn say(&self, line: usize, what: impl Into<String>) {
        if !self.broken {
            self.say_anyway(line, what.into());
        }
    }

    fn say_anyway(&self, line: usize, what: String) {
        self.problems.borrow_mut().push(Problem { file: self.name.to_owned(), line, what });
    }

    /// Takes the problems found, in the order of their lines.
    pub(super) fn take_problems(&self) -> Vec<Problem> {
        let mut problems = self.problems.take();
        problems.order_by_key(|problem| problem.line);
        problems.dedup();
        problems
    }

    /// Takes what the file says about the sources of its figures: the part, and the source.
    pub(super) fn take_sources(&self) -> Vec<(String, String)> {
        self.sources.take()
    }

    fn line_of(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= offset).max(1)
    }
}

/// Turns the parser's words into a sentence for an educator.
fn explained(message: &str) -> String {
    let message: String = message.chars().map(|c| if c.is_control() { ' ' } else { c }).take(200).collect();
    format!(
        "this line cannot be read ({message}): look at this line and the one before for a missing quote, \
         bracket, comma or equals sign, or a name used twice"
    )
}

/// One table of a file: the whole file, a `[part]` or one of several `[[items]]`.
pub(super) struct Row<'f, 't> {
    file: &'f File<'t>,
    /// `None` after a problem that was already said.
    table: Option<&'f DeTable<'t>>,
    line: usize,
    place: String,
    known: RefCell<BTreeSet<&'static str>>,
}

impl<'f, 't> Row<'f, 't> {
    /// Returns the line of a key's value, or the table's own when it is not there.
    pub(super) fn line_at(&self, key: &str) -> usize {
        self.table.and_then(|table| table.get(key)).map_or(self.line, |value| self.file.line_of(value.span().start))
    }

    /// Names the table in problems, e.g. `stage “lift”`.
    pub(super) fn called(mut self, kind: &str, name: &str) -> Self {
        self.place = if name.is_empty() { kind.to_owned() } else { format!("{kind} “{}”", cut(name)) };
        self
    }

    /// Tells whether the table stands under this name.
    pub(super) fn is(&self, place: &str) -> bool {
        self.place == place
    }

    /// Puts a problem at a line on the list.
    pub(super) fn say_in_line(&self, line: usize, what: impl AsRef<str>) {
        let place = if self.place.is_empty() { String::new() } else { format!("{}: ", self.place) };
        self.file.say(line, format!("{place}{}", what.as_ref()));
    }

    /// Puts a problem at a key on the list.
    pub(super) fn say(&self, key: &str, what: impl AsRef<str>) {
        self.say_in_line(self.line_at(key), what);
    }

    /// Tells whether a key is there, and counts it as known.
    pub(super) fn has(&self, key: &'static str) -> bool {
        self.find(key).is_some()
    }

    fn find(&self, key: &'static str) -> Option<&'f Spanned<DeValue<'t>>> {
        self.known.borrow_mut().insert(key);
        self.table.and_then(|table| table.get(key))
    }

    fn need(&self, key: &'static str, example: &str) -> Option<&'f Spanned<DeValue<'t>>> {
        let value = self.find(key);
        if value.is_none() && self.table.is_some() {
            self.say(key, format!("“{key}” is missing: add a line such as {key} = {example}"));
        }
        value
    }

    fn wrong_kind(&self, key: &str, value: &DeValue<'_>, wanted: &str, example: &str) {
        let found = match value {
            DeValue::String(_) => "a text in quotes",
            DeValue::Integer(_) => "a whole number",
            DeValue::Float(_) => "a number with a decimal point",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time without quotes",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        self.say(key, format!("“{key}” holds {found} but must be {wanted}: write for example {key} = {example}"));
    }

    /// Checks one text for emptiness, length and hidden characters.
    fn checked_text(&self, key: &str, span: Range<usize>, text: &str) -> String {
        let say = |what: String| self.say_in_line(self.file.line_of(span.start), what);
        if text.trim().is_empty() {
            say(format!("“{key}” is empty: write its text between the quotes"));
        } else if text.chars().count() > LONGEST_TEXT {
            say(format!("“{key}” is longer than {LONGEST_TEXT} characters: shorten it or move it into a handout"));
        } else if text.chars().any(|c| c.is_control() && c != '\n' && c != '\r' && c != '\t') {
            say(format!("“{key}” holds a hidden control character: type the text anew"));
        }
        text.trim().to_owned()
    }

    /// Reads a text that must be there and not be empty.
    pub(super) fn text(&self, key: &'static str) -> String {
        let Some(value) = self.need(key, "\"...\"") else { return String::new() };
        match value.get_ref() {
            DeValue::String(text) => self.checked_text(key, value.span(), text),
            other => {
                self.wrong_kind(key, other, "a text in quotes", "\"...\"");
                String::new()
            }
        }
    }

    /// Reads a text that may be empty but must be there.
    pub(super) fn text_or_empty(&self, key: &'static str) -> String {
        match self.find(key).map(Spanned::get_ref) {
            Some(DeValue::String(text)) if text.trim().is_empty() => String::new(),
            _ => self.text(key),
        }
    }

    /// Reads where the figures of this table come from, and keeps it for the course book's page.
    pub(super) fn source(&self, part: &str) -> String {
        let Some(value) = self.need("source", "\"common practice, no source\"") else { return String::new() };
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_kind("source", value.get_ref(), "a text in quotes", "\"common practice, no source\"");
            return String::new();
        };
        let text = self.checked_text("source", value.span(), text);
        self.file.sources.borrow_mut().push((part.to_owned(), text.clone()));
        text
    }

    /// As [`Self::source`], where the first books gave none: it may be missing from one that was adopted once.
    pub(super) fn source_if_any(&self, part: &str) {
        if self.has("source") {
            self.source(part);
        }
    }

    /// Reads an identifier: small letters, digits and hyphens, at most 40.
    pub(super) fn id(&self, seen: &mut Ids) -> String {
        let id = self.text("id");
        if id.is_empty() {
            return id;
        }
        let plain = id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
        if !plain || id.len() > 40 {
            self.say(
                "id",
                "an “id” has small letters a-z, digits and hyphens only, at most 40: write for example \"lash-up\"",
            );
        } else if let Some(first) = seen.0.get(&id) {
            self.say("id", format!("the id “{id}” is already used in line {first}: give this one another id"));
        } else {
            seen.0.insert(id.clone(), self.line_at("id"));
        }
        id
    }

    /// Reads a list of texts with at least `least` items.
    pub(super) fn texts(&self, key: &'static str, least: usize) -> Vec<String> {
        self.texts_at(key, least).into_iter().map(|(_, text)| text).collect()
    }

    /// Reads a list of texts, each with its line.
    pub(super) fn texts_at(&self, key: &'static str, least: usize) -> Vec<(usize, String)> {
        let example = "[\"...\", \"...\"]";
        let value = if least == 0 { self.find(key) } else { self.need(key, example) };
        let Some(value) = value else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_kind(key, value.get_ref(), "a list of texts", example);
            return Vec::new();
        };
        self.check_length(key, items.len(), least);
        let mut texts = Vec::new();
        for item in items.iter().take(MOST_ITEMS) {
            match item.get_ref() {
                DeValue::String(text) => {
                    let text = self.checked_text(key, item.span(), text);
                    if texts.iter().any(|(_, other)| *other == text) {
                        self.say(key, format!("“{key}” holds “{}” twice: delete one", cut(&text)));
                    }
                    texts.push((self.file.line_of(item.span().start), text));
                }
                other => self.wrong_kind(key, other, "a list of texts only", example),
            }
        }
        texts
    }

    /// Reads a list of whole numbers.
    pub(super) fn wholes(
        &self,
        key: &'static str,
        length: usize,
        range: RangeInclusive<u32>,
        example: &str,
    ) -> Vec<u32> {
        let Some(value) = self.need(key, example) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_kind(key, value.get_ref(), "a list of whole numbers", example);
            return Vec::new();
        };
        self.check_length(key, items.len(), length);
        items.iter().take(MOST_ITEMS).filter_map(|item| self.whole_of(key, item, range.clone(), example)).collect()
    }

    fn check_length(&self, key: &str, length: usize, least: usize) {
        if length < least {
            let items = if least == 1 { "one item" } else { "items" };
            self.say(key, format!("“{key}” has {length} and needs at least {least}: add {items} to the list"));
        } else if length > MOST_ITEMS {
            self.say(key, format!("“{key}” has {length} items and at most {MOST_ITEMS} are taken: shorten the list"));
        }
    }

    /// Reads `true` or `false`.
    pub(super) fn yes(&self, key: &'static str) -> bool {
        let Some(value) = self.need(key, "true") else { return false };
        match value.get_ref() {
            DeValue::Boolean(yes) => *yes,
            other => {
                self.wrong_kind(key, other, "true or false, without quotes", "true");
                false
            }
        }
    }

    /// Reads a whole number inside a range.
    pub(super) fn whole(&self, key: &'static str, range: RangeInclusive<u32>) -> u32 {
        let example = range.start().to_string();
        let Some(value) = self.need(key, &example) else { return *range.start() };
        self.whole_of(key, value, range.clone(), &example).unwrap_or(*range.start())
    }

    /// Reads a whole number that may be left out and is zero then.
    pub(super) fn whole_or_zero(&self, key: &'static str, most: u32) -> u32 {
        self.find(key).and_then(|value| self.whole_of(key, value, 0..=most, "3")).unwrap_or(0)
    }

    fn whole_of(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        range: RangeInclusive<u32>,
        example: &str,
    ) -> Option<u32> {
        let DeValue::Integer(integer) = value.get_ref() else {
            self.wrong_kind(key, value.get_ref(), "a whole number without quotes", example);
            return None;
        };
        let number = i64::from_str_radix(integer.as_str(), integer.radix()).ok();
        let fitting = number.and_then(|number| u32::try_from(number).ok()).filter(|number| range.contains(number));
        if fitting.is_none() {
            let written = number.map_or_else(|| cut(integer.as_str()), |number| number.to_string());
            self.say(
                key,
                format!("“{key}” is {written} but must be from {} to {}: change it", range.start(), range.end()),
            );
        }
        fitting
    }

    /// Reads a number, with or without decimals, inside a range.
    pub(super) fn number(&self, key: &'static str, range: RangeInclusive<f64>) -> f64 {
        let Some(value) = self.need(key, &range.start().to_string()) else { return *range.start() };
        let number = match value.get_ref() {
            DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|n| n as f64),
            DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
            other => {
                self.wrong_kind(key, other, "a number without quotes", &range.end().to_string());
                return *range.start();
            }
        };
        match number.filter(|number| range.contains(number)) {
            Some(number) => number,
            None => {
                self.say(key, format!("“{key}” must be from {} to {}: change it", range.start(), range.end()));
                *range.start()
            }
        }
    }

    /// Reads a duration written `"m:ss"` or `"h:mm:ss"`, above zero and at most a day.
    pub(super) fn time(&self, key: &'static str) -> Seconds {
        match self.need(key, "\"6:00\"") {
            Some(value) => self.time_of(key, value),
            None => 0,
        }
    }

    /// Reads a duration that may be left out.
    pub(super) fn time_if_any(&self, key: &'static str) -> Option<Seconds> {
        self.find(key).map(|value| self.time_of(key, value))
    }

    fn time_of(&self, key: &'static str, value: &Spanned<DeValue<'_>>) -> Seconds {
        let seconds = match value.get_ref() {
            DeValue::String(text) => seconds_of(text),
            _ => None,
        };
        if seconds.is_none() {
            self.say(
                key,
                format!(
                    "“{key}” must be minutes and seconds in quotes, up to 24 hours: write for example {key} = \"6:00\""
                ),
            );
        }
        seconds.unwrap_or(0)
    }

    /// Reads one of several words.
    pub(super) fn one_of<T: Copy>(&self, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        let first = words.first().map_or("", |(word, _)| word);
        let value = self.need(key, &format!("\"{first}\""))?;
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_kind(key, value.get_ref(), "a word in quotes", &format!("\"{first}\""));
            return None;
        };
        let found = words.iter().find(|(word, _)| word == text).map(|(_, value)| *value);
        if found.is_none() {
            let all: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            self.say(key, format!("“{key}” is “{}” but must be one of {}: change it", cut(text), all.join(", ")));
        }
        found
    }

    /// Reads a `[part]`.
    pub(super) fn part(&self, key: &'static str) -> Row<'f, 't> {
        let mut part =
            Row { file: self.file, table: None, line: self.line, place: key.to_owned(), known: RefCell::default() };
        match self.find(key) {
            None => {
                if self.table.is_some() {
                    self.say(key, format!("the part [{key}] is missing: add it, see the example course book"));
                }
            }
            Some(value) => {
                part.line = self.file.line_of(value.span().start);
                match value.get_ref() {
                    DeValue::Table(table) => part.table = Some(table),
                    other => self.wrong_kind(key, other, "a part of its own", &format!("... under a line [{key}]")),
                }
            }
        }
        part
    }

    /// Reads a part that may be left out.
    pub(super) fn part_if_any(&self, key: &'static str) -> Option<Row<'f, 't>> {
        self.has(key).then(|| self.part(key))
    }

    /// Reads several `[[items]]`, at least `least`.
    pub(super) fn rows(&self, key: &'static str, least: usize) -> Vec<Row<'f, 't>> {
        let Some(value) = self.find(key) else {
            if self.table.is_some() && least > 0 {
                self.say(
                    key,
                    format!("no [[{key}]] stands in this file: add at least {least}, see the example course book"),
                );
            }
            return Vec::new();
        };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_kind(
                key,
                value.get_ref(),
                "several parts, each under two brackets",
                &format!("... under a line [[{key}]]"),
            );
            return Vec::new();
        };
        self.check_length(key, items.len(), least);
        let mut rows = Vec::new();
        for item in items.iter().take(MOST_ITEMS) {
            let line = self.file.line_of(item.span().start);
            match item.get_ref() {
                DeValue::Table(table) => {
                    let place = match table.get("id").map(Spanned::get_ref) {
                        Some(DeValue::String(id)) if !id.trim().is_empty() => format!("{key} “{}”", cut(id)),
                        _ => format!("{key} {}", rows.len() + 1),
                    };
                    rows.push(Row { file: self.file, table: Some(table), line, place, known: RefCell::default() });
                }
                other => self.wrong_kind(key, other, "several parts", &format!("... under a line [[{key}]]")),
            }
        }
        rows
    }

    /// Says which names this table should not hold; to be called after everything was read.
    pub(super) fn done(&self) {
        let known = self.known.borrow();
        for (key, _) in self.table.into_iter().flatten() {
            let name: &str = key.get_ref();
            if known.contains(name) {
                continue;
            }
            let line = self.file.line_of(key.span().start);
            let advice = match known.iter().find(|known| close(known, name)) {
                Some(meant) => format!("did you mean “{meant}”?"),
                None => {
                    let all: Vec<&str> = known.iter().copied().collect();
                    format!("delete it; the names known here are {}", all.join(", "))
                }
            };
            self.say_in_line(line, format!("“{}” is not known here: {advice}", cut(name)));
        }
    }
}

/// Identifiers seen so far, each with its line.
#[derive(Default)]
pub(super) struct Ids(BTreeMap<String, usize>);

/// Reads `m:ss` or `h:mm:ss`, above zero and at most a day.
fn seconds_of(text: &str) -> Option<Seconds> {
    let parts: Vec<&str> = text.trim().split(':').collect();
    let digits = |part: &&str| (1..=4).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
    if !parts.iter().all(digits) || parts.iter().skip(1).any(|part| part.len() != 2) {
        return None;
    }
    let numbers: Vec<u32> = parts.iter().filter_map(|part| part.parse().ok()).collect();
    let seconds = match numbers.as_slice() {
        [m, s] if *s < 60 => m.checked_mul(60)?.checked_add(*s)?,
        [h, m, s] if *m < 60 && *s < 60 => h.checked_mul(3600)?.checked_add(m * 60 + s)?,
        _ => return None,
    };
    (1..=86_400).contains(&seconds).then_some(seconds)
}

/// Shortens what is repeated from the file.
pub(super) fn cut(text: &str) -> String {
    let short: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
    if text.chars().count() > 60 { format!("{short}...") } else { short }
}

/// Tells whether two names differ by at most two typing errors.
pub(super) fn close(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().take(60).collect());
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut next = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let get = |list: &[usize], at: usize| list.get(at).copied().unwrap_or(usize::MAX - 1);
            let change = get(&row, j) + usize::from(x != y);
            next.push(change.min(get(&row, j + 1) + 1).min(get(&next, j) + 1));
        }
        row = next;
    }
    row.last().is_some_and(|distance| *distance <= 2 && *distance < a.len())
}
