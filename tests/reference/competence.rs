//! Decisions on competence against published formulas and values of other programs.
//!
//! `check_files` works through `checks/04_*` at their tolerances; here stands what goes beyond: single values held
//! tighter, and figures not in the files. Those of [`TABLE`] were worked out by an exact recursion of another program.

use proficiency::competence::learning::calibrate;
use proficiency::competence::monitor::reference;
use proficiency::competence::rules::Rule;
use proficiency::competence::sequential::Sequential;
use proficiency::competence::surgical::{Crossing, SurgicalCusum};
use proficiency::competence::{Rates, learner, steady};
use serde_json::Value;

const MONITORING: &str = include_str!("checks/04_bernoulli_cusum_anss.json");
const SURGICAL: &str = include_str!("checks/04_surgical_cusum_params.json");

/// Unacceptable and acceptable rate, horizon, alpha; limit, shortest clean run, power at the acceptable rate and
/// at half of it.
type Line = (f64, f64, u32, f64, f64, u32, f64, f64);

const TABLE: [Line; 8] = [
    (0.30, 0.10, 20, 0.05, 3.016, 13, 0.562, 0.837),
    (0.30, 0.10, 30, 0.05, 3.518, 15, 0.716, 0.941),
    (0.30, 0.10, 40, 0.05, 3.770, 16, 0.846, 0.987),
    (0.30, 0.10, 40, 0.10, 3.267, 14, 0.913, 0.995),
    (0.30, 0.05, 30, 0.05, 3.970, 14, 0.935, 0.989),
    (0.40, 0.10, 20, 0.05, 3.649, 10, 0.844, 0.971),
    (0.40, 0.10, 30, 0.05, 4.055, 11, 0.947, 0.997),
    (0.40, 0.05, 20, 0.10, 3.435, 8, 0.980, f64::NAN),
];

fn pairs(text: &str) -> Vec<(Value, Value)> {
    let file: Value = serde_json::from_str(text).unwrap();
    let list = |value: &Value| value["cases"].as_array().unwrap().clone();
    let pairs: Vec<(Value, Value)> = list(&file["inputs"]).into_iter().zip(list(&file["expected"])).collect();
    assert!(!pairs.is_empty());
    pairs
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn failures(case: &Value) -> Vec<bool> {
    case["failures_01"].as_array().unwrap().iter().map(|failed| failed == 1).collect()
}

fn close(found: f64, expected: &Value, tolerance: f64, what: &str) {
    let expected = number(expected);
    assert!((found - expected).abs() <= tolerance, "{what}: {found} instead of {expected}");
}

fn close_share(found: f64, expected: &Value, share: f64, what: &str) {
    close(found, expected, share * number(expected).abs(), what);
}

fn passes(rule: Rule, rate: f64, horizon: u32) -> f64 {
    rule.course(&steady(rate, horizon).unwrap()).unwrap().passes()
}

#[test]
fn limits_for_other_thresholds_are_those_of_another_program() {
    for (unacceptable, acceptable, horizon, alpha, limit, run, power, power_at_half) in TABLE {
        let found = calibrate(Rates::new(unacceptable, acceptable).unwrap(), horizon, alpha).unwrap();
        let what = format!("{unacceptable} {acceptable} {horizon} {alpha}: {found:?}");
        assert!((found.chart.limit() - limit).abs() < 1e-3, "{what}");
        assert_eq!(found.shortest_clean_run, run, "{what}");
        assert!((found.power - power).abs() < 1e-3, "{what}");
        let half = passes(Rule::Learning(found.chart), acceptable / 2.0, horizon);
        assert!(power_at_half.is_nan() || (half - power_at_half).abs() < 1e-3, "{what}");
    }
    let example = calibrate(Rates::new(0.4, 0.05).unwrap(), 20, 0.1).unwrap();
    assert!((example.false_pass - 0.099).abs() < 5e-4, "{example:?}");
}

#[test]
fn simpler_rules_pass_as_often_as_another_program_says() {
    for (window, failures, bad, good) in [(10, 1, 0.734, 0.999), (20, 2, 0.155, 0.951), (20, 3, 0.355, 0.993)] {
        let rule = Rule::OfLast { window, failures };
        // Their figures for windows come from simulation; the crate's own tests count all runs.
        assert!((passes(rule, 0.3, 40) - bad).abs() < 2e-3, "{rule:?} {}", passes(rule, 0.3, 40));
        assert!((passes(rule, 0.1, 40) - good).abs() < 2e-3, "{rule:?} {}", passes(rule, 0.1, 40));
    }
    let run = learner(0.6, 0.05, 8.0, 40).unwrap();
    let five = Rule::InARow { passes: 5 }.course(&run).unwrap();
    assert!((five.premature(&run, 0.2) - 0.379).abs() < 2e-3, "{}", five.premature(&run, 0.2));
    let rates = Rates::new(0.3, 0.1).unwrap();
    let test = Sequential::wald(rates, 0.05, 0.1).unwrap().course(&run).unwrap();
    assert!((test.passes() - 0.259).abs() < 2e-3 && (test.stop_by(40) - 0.664).abs() < 2e-3, "{}", test.passes());
}

#[test]
fn the_monitoring_chart_moves_in_the_steps_of_its_file() {
    for (case, _) in pairs(MONITORING) {
        let found = reference(number(&case["p0"]), number(&case["p1"])).unwrap();
        assert_eq!(Some(u64::from(found.m)), case["m"].as_u64());
    }
}

#[test]
fn the_unreset_chart_has_the_limits_of_its_source() {
    for (case, expected) in pairs(SURGICAL) {
        let value = |key: &str| number(&case[key]);
        let chart = SurgicalCusum::new(value("p0"), value("p1"), value("alpha"), value("beta")).unwrap();
        let parameters = [("P", chart.p), ("Q", chart.q), ("s", chart.s), ("a", chart.a), ("b", chart.b)];
        for (key, found) in parameters.into_iter().chain([("h0", chart.h0), ("h1", chart.h1)]) {
            close_share(found, &expected[key], 1e-12, key);
        }
        for (found, expected) in chart.path(&failures(&case)).iter().zip(expected["cusum_path"].as_array().unwrap()) {
            close(*found, expected, 1e-12, "path");
        }
        let crossing = match chart.first_crossing(&failures(&case)) {
            None => Value::Null,
            Some(Crossing::Competent(at)) => serde_json::json!(["accept_p0_competent", at]),
            Some(Crossing::Unacceptable(at)) => serde_json::json!(["unacceptable", at]),
        };
        assert_eq!(crossing, expected["first_crossing"]);
    }
}
