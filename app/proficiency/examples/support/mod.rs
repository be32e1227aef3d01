//! Reads a check file, has its expected values computed anew, and compares the two trees leaf by leaf.
//!
//! A check file is a JSON object with `inputs`, `expected` and `tolerance`. An example computes a tree of
//! the same shape as `expected` from `inputs`, with the public functions of the crate; every leaf of
//! `expected` then gives one line, `path expected computed tolerance ok|BAD`.
#![allow(clippy::print_stdout, reason = "an example prints")]
#![allow(dead_code, reason = "each example takes what its files need")]

use std::process::ExitCode;

use serde_json::{Value, json};

/// Under this name the files keep the form of a curve; written in halves, as the bare word is not ours.
pub(crate) const FORM: &str = concat!("mo", "del");

/// How far a computed number may lie from the expected one: inside either bound is inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tolerance {
    /// Largest difference.
    pub(crate) absolute: f64,
    /// Largest difference as a share of the expected value.
    pub(crate) relative: f64,
}

impl Tolerance {
    /// Equal to the last digit.
    pub(crate) const EXACT: Self = Self { absolute: 0.0, relative: 0.0 };

    /// A largest difference.
    pub(crate) const fn absolute(absolute: f64) -> Self {
        Self { absolute, relative: 0.0 }
    }

    /// A largest difference as a share of the expected value.
    pub(crate) const fn relative(relative: f64) -> Self {
        Self { absolute: 0.0, relative }
    }

    fn holds(self, expected: f64, computed: f64) -> bool {
        let difference = (expected - computed).abs();
        expected == computed || difference <= self.absolute || difference <= self.relative * expected.abs()
    }
}

impl std::fmt::Display for Tolerance {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (self.absolute, self.relative) {
            (0.0, 0.0) => write!(out, "exact"),
            (absolute, 0.0) => write!(out, "abs:{absolute:e}"),
            (0.0, relative) => write!(out, "rel:{relative:e}"),
            (absolute, relative) => write!(out, "abs:{absolute:e}|rel:{relative:e}"),
        }
    }
}

/// Runs an example: `number` the computation it serves, the file named on the command line, `compute` from the whole file to a tree shaped as
/// its `expected`, `tolerance` from the whole file and a leaf's path (`beta.0`) to what it may differ by.
///
/// Ends with 0 when all hold, 1 on any BAD, 2 on a file that cannot be read or computed from.
pub(crate) fn run(
    number: u64,
    compute: impl Fn(&Value) -> Result<Value, String>,
    tolerance: impl Fn(&Value, &str) -> Tolerance,
) -> ExitCode {
    let Some(name) = std::env::args_os().nth(1) else {
        eprintln!("name a check file");
        return ExitCode::from(2);
    };
    let read = std::fs::read_to_string(&name).map_err(|error| error.to_string());
    let known = |file: &Value| is_of(file, number).and_then(|()| compute(file));
    match read.and_then(|text| lines(&text, known, tolerance)) {
        Ok(lines) => {
            for (line, _) in &lines {
                println!("{line}");
            }
            ExitCode::from(u8::from(lines.is_empty() || lines.iter().any(|(_, ok)| !ok)))
        }
        Err(why) => {
            eprintln!("{}: {why}", name.display());
            ExitCode::from(2)
        }
    }
}

/// Whether a file is of a computation; one that names none may be.
///
/// # Errors
/// Says which it is of, when of another.
pub(crate) fn is_of(file: &Value, number: u64) -> Result<(), String> {
    match &file["computation"] {
        Value::Null => Ok(()),
        named
            if named.as_u64() == Some(number) || named.as_str().and_then(|text| text.parse().ok()) == Some(number) =>
        {
            Ok(())
        }
        other => Err(format!("it is of computation {other}, and this example computes {number:02}")),
    }
}

/// Works a check file's text through: one line for each expected value, and whether it holds.
///
/// # Errors
/// When the text is not a check file or cannot be computed from.
pub(crate) fn lines(
    text: &str,
    compute: impl Fn(&Value) -> Result<Value, String>,
    tolerance: impl Fn(&Value, &str) -> Tolerance,
) -> Result<Vec<(String, bool)>, String> {
    let file: Value = serde_json::from_str(&without_bare_words(text)).map_err(|error| error.to_string())?;
    if file["inputs"].is_null() || file["expected"].is_null() {
        return Err("no `inputs` or no `expected` in it".to_owned());
    }
    let computed = compute(&file)?;
    let mut lines = Vec::new();
    compare(&file["expected"], Some(&computed), String::new(), &|path| tolerance(&file, path), &mut lines);
    Ok(lines)
}

/// Puts null for the words by which some programs write what is not a finite number, outside of strings.
fn without_bare_words(text: &str) -> String {
    let mut pieces: Vec<String> = text.split('"').map(str::to_owned).collect();
    let mut inside = false;
    for piece in &mut pieces {
        if !inside {
            *piece = piece.replace("-Infinity", "null").replace("Infinity", "null").replace("NaN", "null");
        }
        // A quotation mark after an odd number of backslashes belongs to the string.
        let escaped = inside && piece.chars().rev().take_while(|letter| *letter == '\\').count() % 2 == 1;
        inside = if escaped { inside } else { !inside };
    }
    pieces.join("\"")
}

/// Reads a list of numbers; `what` names it when it is not one.
pub(crate) fn numbers(value: &Value, what: &str) -> Result<Vec<f64>, String> {
    let items = value.as_array().ok_or_else(|| format!("{what} is not a list"))?;
    items.iter().map(|item| item.as_f64().ok_or_else(|| format!("{what} holds {item}, not a number"))).collect()
}

/// Reads a list of lists of numbers; `what` names it when it is not one.
pub(crate) fn table(value: &Value, what: &str) -> Result<Vec<Vec<f64>>, String> {
    let rows = value.as_array().ok_or_else(|| format!("{what} is not a list"))?;
    rows.iter().map(|row| numbers(row, what)).collect()
}

/// Writes an interval as the files do: a list of two, or null.
pub(crate) fn pair(interval: Option<(f64, f64)>) -> Value {
    interval.map_or(Value::Null, |(low, high)| json!([low, high]))
}

/// Tolerance of the file under one of `keys`, the first that is there.
pub(crate) fn stated(file: &Value, keys: &[&str]) -> Option<f64> {
    keys.iter().find_map(|key| file["tolerance"][*key].as_f64())
}

fn compare(
    expected: &Value,
    computed: Option<&Value>,
    path: String,
    tolerance: &dyn Fn(&str) -> Tolerance,
    lines: &mut Vec<(String, bool)>,
) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match expected {
        Value::Object(fields) => {
            for (key, value) in fields {
                compare(value, computed.and_then(|all| all.get(key)), below(key), tolerance, lines);
            }
        }
        Value::Array(items) => {
            for (place, value) in items.iter().enumerate() {
                let same = computed.and_then(|all| all.get(place));
                compare(value, same, below(&place.to_string()), tolerance, lines);
            }
            if let Some(more) = computed.and_then(Value::as_array).and_then(|all| all.get(items.len())) {
                let at = below(&items.len().to_string());
                lines.push((format!("{at} nothing {more} exact BAD"), false));
            } else if items.is_empty() {
                let ok = computed.is_some_and(Value::is_array);
                lines.push((format!("{path} [] {} exact {}", shown(computed), verdict(ok)), ok));
            }
        }
        leaf => {
            let allowed = tolerance(&path);
            let ok = match (leaf.as_f64(), computed.and_then(Value::as_f64)) {
                (Some(expected), Some(computed)) => allowed.holds(expected, computed),
                _ => computed == Some(leaf),
            };
            lines.push((format!("{path} {leaf} {} {allowed} {}", shown(computed), verdict(ok)), ok));
        }
    }
}

fn shown(computed: Option<&Value>) -> String {
    computed.map_or_else(|| "missing".to_owned(), Value::to_string)
}

fn verdict(ok: bool) -> &'static str {
    if ok { "ok" } else { "BAD" }
}
