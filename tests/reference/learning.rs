//! Mixed fits and forecasts against other programs, and Student-t weights against a second method.
//!
//! `checks/03_*` and `checks/11_*`: lme4, lmerTest and statsmodels; each file names its source.

#[path = "../../app/proficiency/examples/support/forecast.rs"]
mod forecast;
#[path = "../../app/proficiency/examples/support/mixed.rs"]
mod mixed;
#[allow(dead_code, reason = "only the tolerance is used here")]
#[path = "../../app/proficiency/examples/support/mod.rs"]
mod support;
#[path = "../../app/proficiency/examples/support/table.rs"]
mod table;

mod second_method;

use serde_json::Value;
use support::Tolerance;
use table::Library;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/checks");

fn read(name: &str) -> Value {
    let path = std::path::Path::new(FOLDER).join(name);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn library() -> Library {
    Library(vec![FOLDER.into()])
}

/// Compares every leaf; returns how many there were.
fn hold(expected: &Value, found: &Value, path: &str, tolerance: &dyn Fn(&str) -> Tolerance) -> usize {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match expected {
        Value::Object(all) => {
            all.iter().map(|(key, value)| hold(value, &found[key.as_str()], &below(key), tolerance)).sum()
        }
        Value::Array(all) => {
            assert_eq!(found.as_array().map(Vec::len), Some(all.len()), "{path}");
            let each = all.iter().enumerate();
            each.map(|(at, value)| hold(value, &found[at], &below(&at.to_string()), tolerance)).sum()
        }
        leaf => {
            let Tolerance { absolute, relative } = tolerance(path);
            match (leaf.as_f64(), found.as_f64()) {
                (Some(a), Some(b)) => {
                    let allowed = absolute.max(relative * a.abs());
                    assert!((a - b).abs() <= allowed, "{path}: {b} instead of {a}, allowed {allowed:e}");
                }
                _ => assert_eq!(leaf, found, "{path}"),
            }
            1
        }
    }
}

fn mixed_file_holds(name: &str, leaves: usize) {
    let file = read(name);
    let found = mixed::compute(&file, &library()).unwrap();
    let count = hold(&file["expected"], &found, "", &|path| mixed::tolerance(&file, path));
    assert!(count >= leaves, "{name}: {count} values only");
}

#[test]
fn mixed_fits_agree_with_lme4() {
    mixed_file_holds("03_lme_sleepstudy.json", 580);
    mixed_file_holds("03_lme_lash12.json", 490);
}

#[test]
fn a_fit_with_a_variance_of_zero_agrees_with_lme4() {
    mixed_file_holds("03_lme_lash5.json", 380);
}

#[test]
fn crossed_effects_agree_with_lme4() {
    mixed_file_holds("03_lme_crossed_penicillin.json", 70);
}

#[test]
fn student_weights_agree_with_their_fixed_point() {
    mixed_file_holds("03_lme_student_t_lash12_s8.json", 260);
}

#[test]
fn forecasts_agree_with_those_made_from_lme4() {
    for (name, leaves) in [("11_models_still_needed_lash12.json", 220), ("11_basis_averaged_forecast_lash12.json", 190)]
    {
        let file = read(name);
        let beside = forecast::Beside::default();
        let found = forecast::compute(&file, &library(), &beside).unwrap();
        let count = hold(&file["expected"], &found, "", &|path| forecast::tolerance(&file, path, &beside));
        assert!(count >= leaves, "{name}: {count} values only");
    }
}

#[test]
fn the_comparison_sees_a_wrong_value() {
    let mut file = read("03_lme_sleepstudy.json");
    let found = mixed::compute(&file, &library()).unwrap();
    file["expected"]["REML"]["beta"]["Days"] = 10.468.into();
    let seen = std::panic::catch_unwind(|| hold(&file["expected"], &found, "", &|path| mixed::tolerance(&file, path)));
    assert!(seen.is_err());
}
