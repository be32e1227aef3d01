//! Check files 04: charts and rules of competence.

use proficiency::competence::learning::{LearningCusum, calibrate};
use proficiency::competence::monitor::{MonitoringCusum, reference};
use proficiency::competence::normal_chart::NormalCusum;
use proficiency::competence::rules::Rule;
use proficiency::competence::sequential::Sequential;
use proficiency::competence::surgical::{Crossing, SurgicalCusum};
use proficiency::competence::{CompetenceError, Rates, steady};
use proficiency::nonlinear::Curve;
use serde_json::{Map, Value, json};

use super::formula::Formula;
use super::support::Tolerance;

type Computed = Result<Value, String>;

/// Which computation a file holds is told by what its inputs and expected values name.
pub(crate) fn compute(file: &Value) -> Computed {
    let (inputs, expected) = (&file["inputs"], &file["expected"]);
    if inputs["settings"].is_array() {
        return normal_charts(inputs, expected);
    }
    let each: fn(&Value, &Value) -> Computed = match &inputs["cases"][0] {
        case if !case["h_times_m"].is_null() => monitoring,
        case if !case["alpha_false_pass"].is_null() => calibration,
        case if !case["p_unacceptable"].is_null() => learning,
        case if !case["max_n"].is_null() => sequential,
        case if !case["failures_01"].is_null() => surgical,
        _ => return Err("inputs of no known kind".to_owned()),
    };
    let cases = inputs["cases"].as_array().ok_or("`cases` is no list")?;
    let wanted = expected["cases"].as_array().ok_or("no list `cases` in `expected`")?;
    let computed: Result<Vec<Value>, String> = wanted
        .iter()
        .enumerate()
        .map(|(place, wanted)| {
            let case = cases.get(place).ok_or_else(|| format!("no input for case {place}"))?;
            each(case, wanted).map_err(|why| format!("case {place}: {why}"))
        })
        .collect();
    Ok(json!({ "cases": computed? }))
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    let given = |key: &str| file["tolerance"][key].as_f64();
    let leaf = |name: &str| path.split('.').any(|part| part == name);
    if let Some(relative) = given("arl_rel") {
        return Tolerance::relative(if path.starts_with("brook_evans") {
            given("brook_evans_rel").unwrap_or(relative)
        } else if path.starts_with("published") {
            given("published_rel").unwrap_or(relative)
        } else {
            relative
        });
    }
    if leaf("first_signal") || leaf("first_crossing") || leaf("shortest_clean_run_to_pass") {
        return Tolerance::EXACT;
    }
    if leaf("h_smallest") {
        return Tolerance::absolute(given("h_abs").unwrap_or_default());
    }
    if leaf("path") || leaf("score_success") || leaf("score_failure") {
        return Tolerance::absolute(given("path_abs").unwrap_or_default());
    }
    if leaf("accept_if_failures_le__reject_if_failures_ge_by_n") {
        return Tolerance::EXACT;
    }
    if leaf("expected_n_truncated") {
        return Tolerance::relative(given("asn_rel").unwrap_or_default());
    }
    if let Some(absolute) = given("prob_abs") {
        return Tolerance::absolute(absolute);
    }
    Tolerance { absolute: given("abs").unwrap_or_default(), relative: given("rel").unwrap_or_default() }
}

fn number(value: &Value, key: &str) -> Result<f64, String> {
    value[key].as_f64().ok_or_else(|| format!("no number `{key}`"))
}

fn count(value: &Value, key: &str) -> Result<u32, String> {
    let whole = value[key].as_u64().and_then(|number| u32::try_from(number).ok());
    whole.ok_or_else(|| format!("no whole number `{key}`"))
}

fn failures(case: &Value) -> Result<Vec<bool>, String> {
    let list = case["failures_01"].as_array().ok_or("no list `failures_01`")?;
    let failed = |value: &Value| match value.as_f64() {
        Some(0.0) => Ok(false),
        Some(1.0) => Ok(true),
        _ => value.as_bool().ok_or_else(|| format!("{value} is neither 0 nor 1")),
    };
    list.iter().map(failed).collect()
}

fn words(error: CompetenceError) -> String {
    error.to_string()
}

/// Answers every key of an object, a number written as text, from the number.
fn by_key(expected: &Value, answer: impl Fn(f64) -> Computed) -> Computed {
    let keys = expected.as_object().ok_or("an object of numbers is missing")?;
    let mut found = Map::new();
    for key in keys.keys() {
        let number = key.parse().map_err(|_| format!("`{key}` is no number"))?;
        found.insert(key.clone(), answer(number)?);
    }
    Ok(Value::Object(found))
}

fn services(number: f64) -> Result<u32, String> {
    format!("{number}").parse().map_err(|_| format!("{number} is no number of services"))
}

fn learning(case: &Value, expected: &Value) -> Computed {
    let rates = Rates::new(number(case, "p_unacceptable")?, number(case, "p_acceptable")?).map_err(words)?;
    let chart = LearningCusum::new(rates, number(case, "h")?).map_err(words)?;
    let failures = failures(case)?;
    let mut lengths = Vec::new();
    for wanted in expected["run_length"].as_array().into_iter().flatten() {
        let rate = number(wanted, "p_fail")?;
        let chances = by_key(&wanted["prob_signal_by_n"], |by| {
            let path = steady(rate, services(by)?).map_err(words)?;
            Ok(json!(chart.course(&path).map_err(words)?.passes()))
        })?;
        lengths.push(json!({ "p_fail": rate, "prob_signal_by_n": chances }));
    }
    Ok(json!({
        "score_success": chart.pass_score(),
        "score_failure": chart.fail_score(),
        "path": chart.path(&failures),
        "first_signal": chart.first_signal(&failures),
        "run_length": lengths,
    }))
}

fn calibration(case: &Value, expected: &Value) -> Computed {
    let rates = Rates::new(number(case, "p_unacceptable")?, number(case, "p_acceptable")?).map_err(words)?;
    let horizon = count(case, "max_models")?;
    let found = calibrate(rates, horizon, number(case, "alpha_false_pass")?).map_err(words)?;
    let at = |rule: Rule, rate: f64| -> Computed {
        Ok(json!(rule.course(&steady(rate, horizon).map_err(words)?).map_err(words)?.passes()))
    };
    let mut computed = json!({
        "h_smallest": found.chart.limit(),
        "false_pass_at_h": found.false_pass,
        "false_pass_just_below_h": found.false_pass_below,
        "shortest_clean_run_to_pass": found.shortest_clean_run,
    });
    let in_a_row = |rate: f64| move |passes: f64| -> Computed { at(Rule::InARow { passes: services(passes)? }, rate) };
    for (key, value) in expected.as_object().into_iter().flatten() {
        let answer = match key.as_str() {
            "pass_probability_by_N" => by_key(value, |rate| at(Rule::Learning(found.chart), rate))?,
            "learner_failure_prob_0based" => value.clone(),
            "learner_pass_prob_by_model" => {
                let text = expected["learner_failure_prob_0based"].as_str().ok_or("no run of the learner")?;
                let rate = Formula::read(&format!("y = {text}"))?;
                by_key(value, |by| {
                    let path: Vec<f64> = (0..services(by)?).map(|t| rate.at(&[f64::from(t)], &[])).collect();
                    Ok(json!(found.chart.course(&path).map_err(words)?.passes()))
                })?
            }
            "run_of_k_rule_false_pass" => by_key(value, in_a_row(rates.unacceptable()))?,
            "run_of_k_rule_pass_at_acceptable" => by_key(value, in_a_row(rates.acceptable()))?,
            _ => continue,
        };
        computed[key] = answer;
    }
    Ok(computed)
}

fn monitoring(case: &Value, expected: &Value) -> Computed {
    let found = reference(number(case, "p0")?, number(case, "p1")?).map_err(words)?;
    let m = if case["m"].is_null() { found.m } else { count(case, "m")? };
    let chart = MonitoringCusum { m, limit: count(case, "h_times_m")? };
    let mut lengths = Vec::new();
    for wanted in expected["ANSS_from_zero"].as_array().into_iter().flatten() {
        let rate = number(wanted, "p")?;
        lengths.push(json!({ "p": rate, "anss": chart.services_to_signal(rate).map_err(words)? }));
    }
    Ok(json!({
        "r1": found.r1,
        "r2": found.r2,
        "gamma_exact": found.gamma,
        "gamma_used": 1.0 / f64::from(m),
        "ANSS_from_zero": lengths,
    }))
}

fn surgical(case: &Value, expected: &Value) -> Computed {
    let (p0, p1) = (number(case, "p0")?, number(case, "p1")?);
    let chart = SurgicalCusum::new(p0, p1, number(case, "alpha")?, number(case, "beta")?).map_err(words)?;
    let failures = failures(case)?;
    let crossing = match chart.first_crossing(&failures) {
        None => Value::Null,
        Some(Crossing::Competent(at)) => json!(["accept_p0_competent", at]),
        Some(Crossing::Unacceptable(at)) => {
            // The word for the other limit is the file's, as long as it speaks of that limit.
            let theirs = expected["first_crossing"][0].as_str().unwrap_or_default();
            let other = ["reject", "unaccept", "accept_p1"].iter().any(|word| theirs.contains(word));
            json!([if other { theirs } else { "reject_p0_unacceptable" }, at])
        }
    };
    Ok(json!({
        "P": chart.p,
        "Q": chart.q,
        "s": chart.s,
        "a": chart.a,
        "b": chart.b,
        "h0": chart.h0,
        "h1": chart.h1,
        "cusum_path": chart.path(&failures),
        "first_crossing": crossing,
    }))
}

fn sequential(case: &Value, expected: &Value) -> Computed {
    let rates = Rates::new(number(case, "p1")?, number(case, "p0")?).map_err(words)?;
    let test = Sequential::wald(rates, number(case, "alpha")?, number(case, "beta")?).map_err(words)?;
    let most = count(case, "max_n")?;
    let bounds = (1..=most).map(|services| {
        let bounds = test.bounds(services);
        let or_none = |failures: Option<u32>| failures.map_or(-1, i64::from);
        json!([or_none(bounds.pass_at_most), or_none(bounds.reject_at_least)])
    });
    let mut characteristic = Vec::new();
    for wanted in expected["operating_characteristic"].as_array().into_iter().flatten() {
        let rate = number(wanted, "p")?;
        let course = test.course(&steady(rate, most).map_err(words)?).map_err(words)?;
        let all = usize::try_from(most).map_err(|error| error.to_string())?;
        let by = |number: f64| -> Computed {
            let by = usize::try_from(services(number)?).map_err(|error| error.to_string())?;
            Ok(json!([course.pass_by(by), course.stop_by(by)]))
        };
        let mut found = json!({
            "p": rate,
            "accept_p0": course.passes(),
            "reject_p0": course.stop_by(all),
            "undecided": 1.0 - course.passes() - course.stop_by(all),
            "expected_n_truncated": course.services(),
        });
        if wanted["cum"].is_object() {
            found["cum"] = by_key(&wanted["cum"], by)?;
        }
        characteristic.push(found);
    }
    Ok(json!({
        "upper_log_bound_A": test.reject_bound(),
        "lower_log_bound_B": test.pass_bound(),
        "llr_failure": test.fail_score(),
        "llr_success": test.pass_score(),
        "accept_if_failures_le__reject_if_failures_ge_by_n": bounds.collect::<Vec<Value>>(),
        "operating_characteristic": characteristic,
    }))
}

fn normal_charts(inputs: &Value, expected: &Value) -> Computed {
    let mut lengths = Vec::new();
    for setting in inputs["settings"].as_array().into_iter().flatten() {
        let chart = NormalCusum::new(number(setting, "k")?, number(setting, "h")?).map_err(words)?;
        let head_start = setting["headstart"].as_f64().unwrap_or_default();
        let two_sided = match setting["sided"].as_str() {
            Some("two") => true,
            Some("one") | None => false,
            Some(other) => return Err(format!("sided `{other}`")),
        };
        let length = |mean: &Value| -> Computed {
            let mean = mean.as_f64().ok_or("a mean that is no number")?;
            let found = if two_sided {
                chart.run_length_two_sided(mean, head_start)
            } else {
                chart.run_length(mean, head_start)
            };
            Ok(json!(found.map_err(words)?))
        };
        let means = setting["mu"].as_array().ok_or("no list `mu`")?;
        lengths.push(Value::Array(means.iter().map(length).collect::<Result<_, String>>()?));
    }
    let mut computed = json!({ "arl": lengths });
    for (key, value) in expected.as_object().into_iter().flatten() {
        let found = if key.starts_with("published") {
            published(inputs, value)?
        } else if key.starts_with("brook_evans") {
            chains(value)?
        } else if let Some((_, reference)) = key.split_once("_k").filter(|_| key.starts_with("h_for")) {
            let reference = reference.parse().map_err(|_| format!("no reference value in `{key}`"))?;
            limits(reference, value)?
        } else {
            continue;
        };
        computed[key] = found;
    }
    Ok(computed)
}

/// Printed two-sided run lengths, a list for each limit (`h4`), at the reference value of the settings.
fn published(inputs: &Value, expected: &Value) -> Computed {
    let reference = number(&inputs["settings"][0], "k")?;
    let means: Vec<f64> = expected["mu"].as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    let mut found = Map::new();
    for key in expected.as_object().into_iter().flatten().map(|(key, _)| key) {
        let answer = match key.strip_prefix('h').and_then(|limit| limit.parse().ok()) {
            Some(limit) => {
                let chart = NormalCusum::new(reference, limit).map_err(words)?;
                let lengths = means.iter().map(|mean| chart.run_length_two_sided(*mean, 0.0));
                json!(lengths.collect::<Result<Vec<f64>, _>>().map_err(words)?)
            }
            None => expected[key].clone(),
        };
        found.insert(key.clone(), answer);
    }
    Ok(Value::Object(found))
}

/// Run lengths by a Markov chain, under keys such as `k=0.5,h=4,t=5`.
fn chains(expected: &Value) -> Computed {
    let mut found = Map::new();
    for (key, values) in expected.as_object().into_iter().flatten() {
        let part = |name: &str| -> Result<f64, String> {
            let parts = key.split(',').filter_map(|part| part.split_once('='));
            let value = parts.filter(|(known, _)| known.trim() == name).find_map(|(_, value)| value.parse().ok());
            value.ok_or_else(|| format!("no `{name}` in `{key}`"))
        };
        let chart = NormalCusum::new(part("k")?, part("h")?).map_err(words)?;
        let states = services(part("t")?)?;
        let length = |mean: f64| Ok(json!(chart.run_length_by_chain(mean, states).map_err(words)?));
        found.insert(key.clone(), by_key(values, length)?);
    }
    Ok(Value::Object(found))
}

fn limits(reference: f64, expected: &Value) -> Computed {
    let lengths = expected["L"].as_array().ok_or("no list `L`")?;
    let limit = |length: &Value| -> Computed {
        let length = length.as_f64().ok_or("a run length that is no number")?;
        Ok(json!(NormalCusum::limit_for(reference, length).map_err(words)?))
    };
    Ok(json!({ "h": lengths.iter().map(limit).collect::<Result<Vec<Value>, String>>()?, "L": lengths }))
}
