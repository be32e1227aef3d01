//! Reads a check file, has its expected values computed anew, and compares the two trees leaf by leaf.
//!
//! A check file is a JSON object with `inputs`, `expected` and `tolerance`. An example computes a tree of
//! the same shape as `expected` from `inputs`, with the public functions of the crate; every leaf of
//! `expected` then gives one line, `path expected computed tolerance ok|BAD`.
#![allow(clippy::print_stdout, unreachable_pub, reason = "an example prints, and shares this file with others")]

use std::process::ExitCode;

use serde_json::Value;

/// How far a computed number may lie from the expected one: inside either bound is inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Largest difference.
    pub absolute: f64,
    /// Largest difference as a share of the expected value.
    pub relative: f64,
}

#[allow(dead_code, reason = "each example takes what its files need")]
impl Tolerance {
    /// Equal to the last digit.
    pub const EXACT: Self = Self { absolute: 0.0, relative: 0.0 };

    /// A largest difference.
    pub const fn absolute(absolute: f64) -> Self {
        Self { absolute, relative: 0.0 }
    }

    /// A largest difference as a share of the expected value.
    pub const fn relative(relative: f64) -> Self {
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

/// Runs an example: the file named on the command line, `compute` from the whole file to a tree shaped as
/// its `expected`, `tolerance` from the whole file and a leaf's path (`beta.0`) to what it may differ by.
///
/// Ends with 0 when all hold, 1 on any BAD, 2 on a file that cannot be read or computed from.
pub fn run(
    compute: impl Fn(&Value) -> Result<Value, String>,
    tolerance: impl Fn(&Value, &str) -> Tolerance,
) -> ExitCode {
    let Some(name) = std::env::args_os().nth(1) else {
        eprintln!("name a check file");
        return ExitCode::from(2);
    };
    let read = std::fs::read_to_string(&name).map_err(|error| error.to_string());
    let read = read.and_then(|text| serde_json::from_str::<Value>(&text).map_err(|error| error.to_string()));
    let computed = read.and_then(|file| {
        if file["inputs"].is_null() || file["expected"].is_null() {
            return Err("no `inputs` or no `expected` in it".to_owned());
        }
        Ok((compute(&file)?, file))
    });
    match computed {
        Ok((computed, file)) => {
            let mut lines = Vec::new();
            compare(&file["expected"], Some(&computed), String::new(), &|path| tolerance(&file, path), &mut lines);
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
        }
        leaf => {
            let allowed = tolerance(&path);
            let ok = match (leaf.as_f64(), computed.and_then(Value::as_f64)) {
                (Some(expected), Some(computed)) => allowed.holds(expected, computed),
                _ => computed == Some(leaf),
            };
            let shown = computed.map_or_else(|| "missing".to_owned(), Value::to_string);
            let verdict = if ok { "ok" } else { "BAD" };
            lines.push((format!("{path} {leaf} {shown} {allowed} {verdict}"), ok));
        }
    }
}
