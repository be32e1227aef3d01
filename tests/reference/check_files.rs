//! Check files worked through value by value, by the same code as the examples of `proficiency`.
//!
//! `checks/README.md` names the source of each file.

use std::path::PathBuf;

use proficiency::nonlinear;
use serde_json::Value;

use self::support::Tolerance;

#[path = "../../app/proficiency/examples/support/mod.rs"]
pub(crate) mod support;

// What the computations expect beside them.
#[path = "../../app/proficiency/examples/support/agreement.rs"]
mod agreement;
#[path = "../../app/proficiency/examples/support/charts.rs"]
mod charts;
#[path = "../../app/proficiency/examples/support/cusum.rs"]
mod cusum;
#[path = "../../app/proficiency/examples/support/distribution.rs"]
mod distribution;
#[path = "../../app/proficiency/examples/support/formula.rs"]
mod formula;
#[path = "../../app/proficiency/examples/support/learning_curve.rs"]
mod learning_curve;
#[path = "../../app/proficiency/examples/support/least_squares.rs"]
mod least_squares;
#[path = "../../app/proficiency/examples/support/proportion.rs"]
mod proportion;
#[path = "../../app/proficiency/examples/support/timeline.rs"]
mod timeline;
#[path = "../../app/proficiency/examples/support/trend.rs"]
mod trend;

/// All check files whose names begin with `prefix`, by name.
fn files(prefix: &str) -> Vec<(String, String)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("reference/checks");
    let mut found: Vec<(String, String)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter_map(|path| Some((path.file_name()?.to_str()?.to_owned(), path)))
        .filter(|(name, _)| name.starts_with(prefix))
        .map(|(name, path)| (name, std::fs::read_to_string(path).unwrap()))
        .collect();
    found.sort();
    found
}

/// Works through all files of a prefix; `count` guards against a file that has gone missing.
fn hold(
    prefix: &str,
    count: usize,
    compute: impl Fn(&Value) -> Result<Value, String>,
    tolerance: impl Fn(&Value, &str) -> Tolerance,
) {
    let files = files(prefix);
    assert_eq!(files.len(), count, "{prefix}");
    for (name, text) in files {
        holds(&name, &text, &compute, &tolerance);
    }
}

/// Works through one file.
fn holds(
    name: &str,
    text: &str,
    compute: impl Fn(&Value) -> Result<Value, String>,
    tolerance: impl Fn(&Value, &str) -> Tolerance,
) {
    let lines = support::lines(text, compute, tolerance).unwrap_or_else(|why| panic!("{name}: {why}"));
    assert!(!lines.is_empty(), "{name}");
    let bad: Vec<&str> = lines.iter().filter(|(_, ok)| !ok).map(|(line, _)| line.as_str()).collect();
    assert!(bad.is_empty(), "{name}: {bad:#?}");
}

#[test]
fn least_squares_agree_with_the_reference_datasets() {
    hold("01_linear", 11, least_squares::compute, least_squares::tolerance);
    hold("01_nonlinear", 27, least_squares::compute, least_squares::tolerance);
    hold("01_robust", 6, least_squares::compute, least_squares::tolerance);
}

#[test]
fn curves_are_found_from_either_start_alone() {
    // From these the way downhill leads elsewhere or never ends: starts about the given one must help.
    let far_off = [("01_nonlinear_boxbod.json", 0), ("01_nonlinear_mgh10.json", 0)];
    for (name, text) in files("01_nonlinear") {
        let file: Value = serde_json::from_str(&text).unwrap();
        let problem = least_squares::problem(&file["inputs"]).unwrap();
        assert_eq!(problem.starts.len(), 2);
        for (number, start) in problem.starts.iter().enumerate() {
            let (formula, rows, y) = (&problem.formula, &problem.rows, &problem.y);
            let found = if far_off.contains(&(name.as_str(), number)) {
                nonlinear::fit_best(formula, rows, y, &nonlinear::starts_about(start, 20, 100.0))
            } else {
                nonlinear::fit(formula, rows, y, start)
            };
            let found = found.unwrap_or_else(|why| panic!("{name}, start {}: {why}", number + 1));
            let expected = file["expected"]["sse"].as_f64().unwrap();
            let off = (found.sum_of_squares / expected - 1.0).abs();
            let allowed = file["tolerance"]["sse_rel"].as_f64().unwrap();
            assert!(off < allowed, "{name}, start {}: {} for {expected}", number + 1, found.sum_of_squares);
        }
    }
}

#[test]
fn learning_curves_agree_with_their_files() {
    hold("02", 10, learning_curve::compute, learning_curve::tolerance);
}

#[test]
fn charts_of_competence_agree_with_their_files() {
    hold("04", 6, cusum::compute, cusum::tolerance);
}

#[test]
fn intervals_of_a_rate_agree_with_their_files() {
    hold("05", 2, proportion::compute, proportion::tolerance);
}

#[test]
fn agreement_agrees_with_its_files() {
    hold("06", 6, agreement::compute, agreement::tolerance);
}

#[test]
fn charts_and_rules_agree_with_their_files() {
    hold("07", 2, charts::compute, charts::tolerance);
}

#[test]
fn quantiles_and_chances_agree_with_their_files() {
    hold("08", 3, distribution::compute, distribution::tolerance);
}

#[test]
fn trends_agree_with_their_files() {
    hold("09", 2, trend::compute, trend::tolerance);
}

/// Sixty instances each; `data/timeline.md` names their source.
const MORE_TIMELINES: [(&str, &str); 2] = [
    ("6 operations", include_str!("data/timeline_6_operations.json")),
    ("10 operations", include_str!("data/timeline_10_operations.json")),
];

#[test]
fn timelines_agree_with_their_files() {
    hold("10", 2, timeline::compute, timeline::tolerance);
    for (name, text) in MORE_TIMELINES {
        holds(name, text, timeline::compute, timeline::tolerance);
    }
}

type Compute = fn(&Value) -> Result<Value, String>;

#[test]
fn damaged_files_are_answered_or_refused() {
    let all: [(&str, Compute); 10] = [
        ("01_linear_n", least_squares::compute),
        ("01_nonlinear_danwood", least_squares::compute),
        ("02", learning_curve::compute),
        ("04", cusum::compute),
        ("05_proportion_intervals", proportion::compute),
        ("06", agreement::compute),
        ("07", charts::compute),
        ("08_line", distribution::compute),
        ("09", trend::compute),
        ("10_schedule", timeline::compute),
    ];
    for (prefix, compute) in all {
        for (_, text) in files(prefix) {
            let file: Value = serde_json::from_str(&text).unwrap();
            for junk in [Value::Null, "x".into(), 1e300.into(), 0.into(), (-1).into(), Value::Array(vec![])] {
                for number in 0..60 {
                    let mut damaged = file.clone();
                    let mut left = number;
                    let done = damage(&mut damaged["inputs"], &junk, &mut left)
                        || damage(&mut damaged["expected"], &junk, &mut left);
                    // What is asked for here is only that it comes back.
                    let _ = compute(&damaged);
                    if !done {
                        break;
                    }
                }
            }
        }
    }
}

/// Puts `junk` in the place of the value that comes after `left` others; false when there are not so many.
fn damage(value: &mut Value, junk: &Value, left: &mut usize) -> bool {
    if *left == 0 {
        *value = junk.clone();
        return true;
    }
    *left -= 1;
    match value {
        Value::Array(items) => items.iter_mut().any(|item| damage(item, junk, left)),
        Value::Object(fields) => fields.values_mut().any(|field| damage(field, junk, left)),
        _ => false,
    }
}

#[test]
fn a_file_of_another_computation_is_refused() {
    for (_, text) in files("0").into_iter().chain(files("1")) {
        let file: Value = serde_json::from_str(&text).unwrap();
        let own = file["computation"].as_u64().unwrap();
        assert_eq!(support::is_of(&file, own), Ok(()));
        let refused = support::is_of(&file, own + 1).unwrap_err();
        assert!(refused.contains(&own.to_string()), "{refused}");
    }
    assert_eq!(support::is_of(&Value::Null, 3), Ok(()));
    assert!(support::is_of(&serde_json::json!({ "computation": "a new one" }), 3).is_err());
}

#[test]
fn a_wrong_value_is_found_wrong() {
    type Allow = fn(&Value, &str) -> Tolerance;
    let all: [(&str, Compute, Allow, &[&str]); 9] = [
        ("01", least_squares::compute, least_squares::tolerance, &[]),
        ("02", learning_curve::compute, learning_curve::tolerance, &["n"]),
        ("04", cusum::compute, cusum::tolerance, &["p", "p_fail", "L", "mu"]),
        ("05", proportion::compute, proportion::tolerance, &[]),
        ("06", agreement::compute, agreement::tolerance, &["agreement_weights"]),
        ("07", charts::compute, charts::tolerance, &[]),
        ("08", distribution::compute, distribution::tolerance, &["x", "level"]),
        ("09", trend::compute, trend::tolerance, &[]),
        ("10", timeline::compute, timeline::tolerance, &[]),
    ];
    for (prefix, compute, tolerance, asked) in all {
        for (name, text) in files(prefix) {
            spoiled_values_are_bad(&name, &text, compute, tolerance, asked);
        }
    }
}

/// Shifts every expected number of a file: none may hold then. Those under all keys of an entry of `asked` say what
/// is asked, come back as they are and stay.
pub(crate) fn spoiled_values_are_bad(
    name: &str,
    text: &str,
    compute: impl Fn(&Value) -> Result<Value, String>,
    tolerance: impl Fn(&Value, &str) -> Tolerance,
    asked: &[&str],
) {
    let mut file: Value = serde_json::from_str(text).unwrap();
    let is_asked = |path: &str| {
        let has = |key: &str| path.split('.').any(|own| own == key);
        asked.iter().any(|together| together.split(' ').all(has))
    };
    let mut count = 0;
    spoil(&mut file["expected"], "", &is_asked, &mut count);
    assert!(count > 0, "{name}");
    let lines = support::lines(&file.to_string(), compute, tolerance).unwrap();
    let bad = lines.iter().filter(|(_, ok)| !ok).count();
    let good: Vec<&str> = lines.iter().filter(|(_, ok)| *ok).map(|(line, _)| line.as_str()).collect();
    assert_eq!(bad, count, "{name}: {good:#?}");
}

/// Shifts every number by three hundredths and more, whole ones by a whole number, and counts them.
fn spoil(value: &mut Value, path: &str, is_asked: &dyn Fn(&str) -> bool, count: &mut usize) {
    match value {
        _ if is_asked(path) => {}
        Value::Array(items) => items.iter_mut().for_each(|item| spoil(item, path, is_asked, count)),
        Value::Object(fields) => {
            fields.iter_mut().for_each(|(key, field)| spoil(field, &format!("{path}.{key}"), is_asked, count));
        }
        Value::Number(number) => {
            let shift = |number: f64| 0.03 * (1.0 + number.abs());
            let shifted =
                |number: f64| number + if number.fract() == 0.0 { shift(number).ceil() } else { shift(number) };
            *value = number.as_f64().map(shifted).into();
            *count += 1;
        }
        _ => {}
    }
}
