//! Check files 02: factors and identities of learning curves, one trainee's curve, curves with a plateau.

use proficiency::learning_curve::{self as law, ExponentialLaw, PowerLaw};
use proficiency::linear::Prediction;
use proficiency::own_curve::{self, OwnCurve};
use proficiency::plateau::{self, Bounds, Shape};
use serde_json::{Map, Value, json};

use super::support::{FORM, Tolerance, numbers, pair, stated};

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let inputs = &file["inputs"];
    if inputs["rates_percent"].is_array() {
        return factors(inputs);
    }
    if inputs["power"].is_object() || inputs["exp"].is_object() {
        return identities(inputs, &file["expected"]);
    }
    let services: Vec<(f64, f64)> =
        numbers(&inputs["n"], "n")?.into_iter().zip(numbers(&inputs["time_s"], "time_s")?).collect();
    if let Some(form) = inputs[FORM].as_str() {
        return with_plateau(&services, form, &file["expected"]);
    }
    alone(&services, inputs, &file["expected"])
}

fn factors(inputs: &Value) -> Result<Value, String> {
    let n = numbers(&inputs["n"], "n")?;
    let mut out = Map::new();
    for rate in inputs["rates_percent"].as_array().into_iter().flatten() {
        let percent = rate.as_f64().ok_or_else(|| format!("rate {rate} is not a number"))?;
        let exponent = law::exponent_of_rate(percent / 100.0);
        let each = |of: &dyn Fn(f64, f64) -> Option<f64>| -> Vec<Option<f64>> {
            n.iter().map(|n| of(exponent?, *n)).collect()
        };
        let units = each(&law::unit_factor);
        out.insert(
            rate.to_string(),
            json!({
                "exponent_b": exponent,
                "unit_factor": units,
                "cumulative_total_factor": each(&|exponent, n| law::total_factor(exponent, n as u32)),
                "wright_cumulative_average_factor": units,
                "wright_implied_unit_time_of_nth": each(&law::unit_factor_under_average),
            }),
        );
    }
    Ok(out.into())
}

fn identities(inputs: &Value, expected: &Value) -> Result<Value, String> {
    let n = numbers(&inputs["n"], "n")?;
    let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
    let power = PowerLaw { first: number(&inputs["power"]["a"]), exponent: number(&inputs["power"]["b"]) };
    let fall = &inputs["exp"];
    let fall = ExponentialLaw { floor: number(&fall["c"]), gain: number(&fall["a"]), rate: number(&fall["rate"]) };
    let mut out = json!({
        "learning_rate_of_power": law::rate_of_exponent(power.exponent),
        "power_y": n.iter().map(|n| power.at(*n)).collect::<Vec<_>>(),
        "power_RLR": n.iter().map(|n| power.relative_learning_rate(*n)).collect::<Vec<_>>(),
        "exp_y": n.iter().map(|n| fall.at(*n)).collect::<Vec<_>>(),
        "exp_RLR": n.iter().map(|_| fall.relative_learning_rate()).collect::<Vec<_>>(),
    });
    // The target stands in the name of the value: n_to_reach_power_1000s.
    for key in expected.as_object().into_iter().flatten().map(|(key, _)| key) {
        let Some((form, target)) = key.strip_prefix("n_to_reach_").and_then(|rest| rest.rsplit_once('_')) else {
            continue;
        };
        let target: f64 = target.trim_end_matches('s').parse().map_err(|_| format!("{key} names no target"))?;
        out[key] = json!(if form == "power" { power.reaches(target) } else { fall.reaches(target) });
    }
    Ok(out)
}

/// Percent in the middle of a name such as `pi95_time`.
fn level_in(key: &str) -> Option<f64> {
    let digits: String = key.chars().skip_while(|letter| !letter.is_ascii_digit()).collect();
    let end = digits.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(digits.len());
    digits.get(..end)?.parse::<f64>().ok().map(|percent| percent / 100.0)
}

fn alone(services: &[(f64, f64)], inputs: &Value, expected: &Value) -> Result<Value, String> {
    let curve = own_curve::fit(services).map_err(|error| error.to_string())?;
    let target = inputs["target_s"].as_f64().unwrap_or(f64::NAN);
    let line = &curve.line;
    let mut out = json!({
        "log_a": curve.ln_first(),
        "a": curve.ln_first().exp(),
        "b": curve.exponent(),
        "learning_rate": law::rate_of_exponent(curve.exponent()),
        "se_log_a": line.standard_errors.first(),
        "se_b": line.standard_errors.get(1),
        "cov_loga_b": line.covariance.first().and_then(|row| row.get(1)),
        "sigma_log": line.residual_sd,
        "df": line.degrees_of_freedom,
        "sse_log": line.sum_of_squares,
        "n_to_reach_target_point": curve.reaches(target),
    });
    let listed = |key: &str| expected[key].as_array().cloned().unwrap_or_default();
    out["predictions"] = listed("predictions").iter().map(|wanted| at(&curve, wanted)).collect();
    let chance =
        |wanted: &Value| json!({ "n": wanted["n"], "p": curve.chance_within(wanted["n"].as_f64()?, target) }).into();
    out["p_next_below_target"] = listed("p_next_below_target").iter().filter_map(chance).collect();
    for key in expected.as_object().into_iter().flatten().map(|(key, _)| key) {
        if let Some(level) = key.strip_prefix("n_to_reach_target_fieller").and_then(level_in) {
            out[key] = pair(curve.meets_interval(target, level));
            out["fieller_exists"] = json!(curve.meets_interval(target, level).is_some());
        }
    }
    Ok(out)
}

/// What is wanted of one service number, by the names that the file uses.
fn at(curve: &OwnCurve, wanted: &Value) -> Value {
    let Some((n, there)) = wanted["n"].as_f64().and_then(|n| Some((n, curve.ln_time(n)?))) else { return Value::Null };
    let mut out = json!({
        "n": wanted["n"],
        "log_mean": there.mean,
        "median_time": there.mean.exp(),
        "se_mean_log": there.se_mean,
        "se_pred_log": there.se_single,
    });
    for key in wanted.as_object().into_iter().flatten().map(|(key, _)| key) {
        if let Some(level) = key.strip_prefix("ci").and_then(level_in) {
            out[key] = pair(curve.median_interval(n, level));
        } else if let Some(level) = key.strip_prefix("pi").and_then(level_in) {
            out[key] = pair(curve.single_interval(n, level));
        }
    }
    out
}

fn with_plateau(services: &[(f64, f64)], form: &str, expected: &Value) -> Result<Value, String> {
    let shape = if form.contains("exp") { Shape::Exponential } else { Shape::Power };
    let fit = plateau::fit(services, shape, Bounds::Free).map_err(|error| error.to_string())?;
    let errors = fit.errors.as_ref();
    let predict = |wanted: &Value| -> Value {
        let at = |n: f64| -> Option<Prediction> { fit.predict(n) };
        let Some(there) = wanted["n"].as_f64().and_then(at) else { return Value::Null };
        let mut out = json!({ "n": wanted["n"], "mean": there.mean, "se_mean": there.se_mean });
        for key in wanted.as_object().into_iter().flatten().map(|(key, _)| key) {
            if let Some(level) = key.strip_prefix("ci").and_then(level_in) {
                out[key] = pair(there.interval_of_mean(level));
            } else if let Some(level) = key.strip_prefix("pi").and_then(level_in) {
                out[key] = pair(there.interval_of_single(level));
            }
        }
        out
    };
    let wanted = expected["predictions_delta_method"].as_array().cloned().unwrap_or_default();
    eprintln!("plateau: {:?}", fit.doubt);
    Ok(json!({
        "beta_c_a_rate": [fit.floor, fit.gain, fit.rate],
        "se": errors.map(|errors| &errors.standard_errors),
        "cov": errors.map(|errors| &errors.covariance),
        "sse": fit.sum_of_squares,
        "sigma": errors.map(|errors| errors.residual_sd),
        "df": errors.map(|errors| errors.degrees_of_freedom),
        "predictions_delta_method": wanted.iter().map(predict).collect::<Vec<_>>(),
    }))
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    let key: &[&str] = match path.split('.').next().unwrap_or_default() {
        "beta_c_a_rate" => &["beta_rel", "rel"],
        "sse" => &["sse_rel", "rel"],
        _ => &["se_rel", "rel"],
    };
    Tolerance { relative: stated(file, key).unwrap_or(0.0), absolute: stated(file, &["abs"]).unwrap_or(0.0) }
}
