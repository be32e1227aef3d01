//! Decisions on competence against published formulas and values of other programs.
//!
//! `checks/04_*`; each file names its source. The figures of [`TABLE`] were worked out by an exact recursion of
//! another program.

use proficiency::competence::learning::{LearningCusum, calibrate};
use proficiency::competence::monitor::{MonitoringCusum, reference};
use proficiency::competence::normal_chart::NormalCusum;
use proficiency::competence::rules::Rule;
use proficiency::competence::sequential::Sequential;
use proficiency::competence::surgical::{Crossing, SurgicalCusum};
use proficiency::competence::{Rates, learner, steady};
use serde_json::Value;

const LEARNING: &str = include_str!("checks/04_lc_cusum.json");
const CALIBRATION: &str = include_str!("checks/04_lc_cusum_calibration.json");
const MONITORING: &str = include_str!("checks/04_bernoulli_cusum_anss.json");
const NORMAL: &str = include_str!("checks/04_normal_cusum_arl.json");
const SEQUENTIAL: &str = include_str!("checks/04_sprt_exact_oc.json");
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

fn count(value: &Value) -> u32 {
    u32::try_from(value.as_u64().unwrap()).unwrap()
}

fn keyed(value: &Value) -> Vec<(f64, Value)> {
    let fields = value.as_object().unwrap();
    assert!(!fields.is_empty());
    fields.iter().map(|(key, value)| (key.parse().unwrap(), value.clone())).collect()
}

fn services(number: f64) -> u32 {
    format!("{number}").parse().unwrap()
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
fn the_learning_cusum_scores_and_signals_as_expected() {
    for (case, expected) in pairs(LEARNING) {
        let rates = Rates::new(number(&case["p_unacceptable"]), number(&case["p_acceptable"])).unwrap();
        let chart = LearningCusum::new(rates, number(&case["h"])).unwrap();
        close(chart.pass_score(), &expected["score_success"], 1e-10, "pass score");
        close(chart.fail_score(), &expected["score_failure"], 1e-10, "fail score");
        let path = chart.path(&failures(&case));
        for (found, expected) in path.iter().zip(expected["path"].as_array().unwrap()) {
            close(*found, expected, 1e-10, "path");
        }
        let signal = chart.first_signal(&failures(&case)).map(|at| at as u64);
        assert_eq!(signal, expected["first_signal"].as_u64());
        for lengths in expected["run_length"].as_array().unwrap() {
            for (by, chance) in keyed(&lengths["prob_signal_by_n"]) {
                let found = passes(Rule::Learning(chart), number(&lengths["p_fail"]), services(by));
                close(found, &chance, 1e-8, "chance of a signal");
            }
        }
    }
}

#[test]
fn calibrated_limits_and_what_they_do_are_as_expected() {
    for (case, expected) in pairs(CALIBRATION) {
        let rates = Rates::new(number(&case["p_unacceptable"]), number(&case["p_acceptable"])).unwrap();
        let horizon = count(&case["max_models"]);
        let found = calibrate(rates, horizon, number(&case["alpha_false_pass"])).unwrap();
        close(found.chart.limit(), &expected["h_smallest"], 2e-5, "limit");
        close(found.false_pass, &expected["false_pass_at_h"], 1e-7, "false pass");
        close(found.false_pass_below, &expected["false_pass_just_below_h"], 1e-7, "false pass below");
        assert_eq!(found.shortest_clean_run, count(&expected["shortest_clean_run_to_pass"]));
        for (rate, chance) in keyed(&expected["pass_probability_by_N"]) {
            close(passes(Rule::Learning(found.chart), rate, horizon), &chance, 1e-7, "pass");
        }
        assert_eq!(expected["learner_failure_prob_0based"], "0.05+0.55*exp(-t/8)");
        for (by, chance) in keyed(&expected["learner_pass_prob_by_model"]) {
            let run = learner(0.6, 0.05, 8.0, services(by)).unwrap();
            close(found.chart.course(&run).unwrap().passes(), &chance, 1e-7, "learner");
        }
        for (key, rate) in [
            ("run_of_k_rule_false_pass", rates.unacceptable()),
            ("run_of_k_rule_pass_at_acceptable", rates.acceptable()),
        ] {
            for (run, chance) in keyed(&expected[key]) {
                close(passes(Rule::InARow { passes: services(run) }, rate, horizon), &chance, 1e-7, key);
            }
        }
    }
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
fn the_monitoring_chart_runs_as_long_as_expected() {
    for (case, expected) in pairs(MONITORING) {
        let found = reference(number(&case["p0"]), number(&case["p1"])).unwrap();
        close_share(found.r1, &expected["r1"], 1e-9, "r1");
        close_share(found.r2, &expected["r2"], 1e-9, "r2");
        close_share(found.gamma, &expected["gamma_exact"], 1e-9, "gamma");
        assert_eq!(found.m, count(&case["m"]));
        let chart = MonitoringCusum { m: found.m, limit: count(&case["h_times_m"]) };
        for length in expected["ANSS_from_zero"].as_array().unwrap() {
            let services = chart.services_to_signal(number(&length["p"])).unwrap();
            close_share(services, &length["anss"], 1e-9, "services to a signal");
        }
    }
}

#[test]
fn normal_charts_run_as_long_as_expected() {
    let file: Value = serde_json::from_str(NORMAL).unwrap();
    let settings = file["inputs"]["settings"].as_array().unwrap();
    for (setting, lengths) in settings.iter().zip(file["expected"]["arl"].as_array().unwrap()) {
        let chart = NormalCusum::new(number(&setting["k"]), number(&setting["h"])).unwrap();
        let start = number(&setting["headstart"]);
        for (mean, length) in setting["mu"].as_array().unwrap().iter().zip(lengths.as_array().unwrap()) {
            let found = match setting["sided"] == "two" {
                true => chart.run_length_two_sided(number(mean), start),
                false => chart.run_length(number(mean), start),
            };
            close_share(found.unwrap(), length, 1e-5, &setting.to_string());
        }
    }
    let limits = &file["expected"]["h_for_one_sided_in_control_ARL_k0.5"];
    for (limit, length) in limits["h"].as_array().unwrap().iter().zip(limits["L"].as_array().unwrap()) {
        close_share(NormalCusum::limit_for(0.5, number(length)).unwrap(), limit, 1e-5, "limit");
    }
    for limit in [4.0, 5.0] {
        for states in [5, 10, 20, 50, 100] {
            let key = format!("k=0.5,h={limit},t={states}");
            let chart = NormalCusum::new(0.5, limit).unwrap();
            for (mean, length) in keyed(&file["expected"]["brook_evans_markov_chain_t_states"][&key]) {
                close_share(chart.run_length_by_chain(mean, states).unwrap(), &length, 1e-9, &key);
            }
        }
    }
}

#[test]
fn the_sequential_test_ends_as_often_and_as_soon_as_expected() {
    for (case, expected) in pairs(SEQUENTIAL) {
        let rates = Rates::new(number(&case["p1"]), number(&case["p0"])).unwrap();
        let test = Sequential::wald(rates, number(&case["alpha"]), number(&case["beta"])).unwrap();
        close(test.reject_bound(), &expected["upper_log_bound_A"], 1e-10, "upper bound");
        close(test.pass_bound(), &expected["lower_log_bound_B"], 1e-10, "lower bound");
        let most = count(&case["max_n"]);
        let bounds = expected["accept_if_failures_le__reject_if_failures_ge_by_n"].as_array().unwrap();
        assert_eq!(bounds.len(), usize::try_from(most).unwrap());
        for (services, bound) in (1..=most).zip(bounds) {
            let found = test.bounds(services);
            let or_none = |failures: Option<u32>| failures.map_or(-1, i64::from);
            assert_eq!(Some(or_none(found.pass_at_most)), bound[0].as_i64(), "{services}");
            assert_eq!(Some(or_none(found.reject_at_least)), bound[1].as_i64(), "{services}");
        }
        for expected in expected["operating_characteristic"].as_array().unwrap() {
            let course = test.course(&steady(number(&expected["p"]), most).unwrap()).unwrap();
            close(course.passes(), &expected["accept_p0"], 1e-10, "pass");
            close(course.stop_by(usize::try_from(most).unwrap()), &expected["reject_p0"], 1e-10, "reject");
            close_share(course.services(), &expected["expected_n_truncated"], 1e-9, "services");
            for (by, chances) in keyed(&expected["cum"]) {
                let by = usize::try_from(services(by)).unwrap();
                close(course.pass_by(by), &chances[0], 1e-10, "pass by");
                close(course.stop_by(by), &chances[1], 1e-10, "reject by");
            }
        }
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
