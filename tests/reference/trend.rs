//! Trend and interval statistics against values computed by others' programs.
//!
//! Each data file names its source: Mann (1945), Kendall (1975), Sen (1968) and Newcombe (1998), computed
//! with open-source statistics packages.

use proficiency::proportion::wilson;
use proficiency::trend::{mann_kendall, theil_sen};
use serde_json::Value;

const TREND: &str = include_str!("checks/09_mann_kendall_theil_sen.json");
const PROPORTION: &str = include_str!("checks/05_proportion_intervals.json");

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn close(found: f64, expected: &Value, tolerance: f64, what: &str) {
    let expected = expected.as_f64().unwrap();
    assert!((found - expected).abs() <= tolerance, "{what}: {found} instead of {expected}");
}

#[test]
fn slopes_and_trend_tests_agree_with_the_published_methods() {
    let data: Value = serde_json::from_str(TREND).unwrap();
    let tolerance = data["tolerance"]["abs"].as_f64().unwrap();
    let series = data["inputs"]["series"].as_object().unwrap();
    assert_eq!(series.len(), 3);
    for (name, values) in series {
        let values = numbers(values);
        let expected = &data["expected"][name];
        let test = mann_kendall(&values).unwrap();
        assert_eq!(test.s, expected["S"].as_i64().unwrap(), "{name}");
        close(test.variance, &expected["var_S"], tolerance, name);
        close(test.z, &expected["Z"], tolerance, name);
        close(test.p_two_sided, &expected["p_two_sided"], tolerance, name);
        let points: Vec<(f64, f64)> = values.iter().zip(1..).map(|(y, x)| (f64::from(x), *y)).collect();
        let line = theil_sen(&points).unwrap();
        close(line.slope, &expected["theil_sen"]["slope"], tolerance, name);
        close(line.intercept, &expected["theil_sen"]["intercept_median_separate"], tolerance, name);
    }
}

#[test]
fn intervals_of_a_rate_agree_with_wilson() {
    let data: Value = serde_json::from_str(PROPORTION).unwrap();
    let tolerance = data["tolerance"]["abs"].as_f64().unwrap();
    let cases = data["inputs"]["cases"].as_array().unwrap();
    let expected = data["expected"]["cases"].as_array().unwrap();
    assert_eq!((cases.len(), expected.len()), (6, 6));
    for (case, expected) in cases.iter().zip(expected) {
        let count = |key: &str| u32::try_from(case[key].as_u64().unwrap()).unwrap();
        let (low, high) = wilson(count("k"), count("n"), case["level"].as_f64().unwrap()).unwrap();
        close(low, &expected["wilson"][0], tolerance, &case.to_string());
        close(high, &expected["wilson"][1], tolerance, &case.to_string());
    }
}
