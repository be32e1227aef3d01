//! Computes what the check files of prefix 03 expect: mixed fits.
#![allow(unreachable_pub, dead_code, reason = "shared by examples and tests, each of which takes what it needs")]

use proficiency::mixed::{Criterion, Fit, Mixed};
use serde_json::{Map, Value, json};

use super::support::{FORM, Tolerance};
use super::table::{Library, Request, Table, request};

/// Computes the tree of `expected`.
pub fn compute(file: &Value, library: &Library) -> Result<Value, String> {
    let (inputs, expected) = (&file["inputs"], &file["expected"]);
    let table = Table::read(inputs, library)?;
    let request = request(inputs, expected, &table)?;
    if !expected["weights"].is_null() || !inputs["nu"].is_null() {
        return student(inputs, expected, &request);
    }
    let mut found = Map::new();
    for (key, section) in expected.as_object().into_iter().flatten() {
        found.insert(key.clone(), part(key, section, &request, &table)?);
    }
    Ok(Value::Object(found))
}

fn part(key: &str, section: &Value, request: &Request, table: &Table) -> Result<Value, String> {
    let criterion = if key.ends_with("ML") && !key.ends_with("REML") { Criterion::Ml } else { Criterion::Reml };
    if key.starts_with("predictions") {
        let fit = request.fit(criterion)?;
        return Ok(section.as_array().into_iter().flatten().map(|case| prediction(case, request, &fit)).collect());
    }
    if key.starts_with("satterthwaite") {
        return Ok(coefficients(section, request, &request.fit(criterion)?));
    }
    if key.starts_with("statsmodels") {
        return Ok(fitted(section, request, &request.prepare()?, &request.fit(Criterion::Reml)?));
    }
    // A part with a random formula of its own: another fit of the same rows.
    if let Some(random) = section["random"].as_str() {
        let request = request.clone().with_random(random, table)?;
        if section["objective"].is_null() {
            let mut found = Map::new();
            for (key, section) in section.as_object().into_iter().flatten() {
                let value = if key == "random" { section.clone() } else { part(key, section, &request, table)? };
                found.insert(key.clone(), value);
            }
            return Ok(Value::Object(found));
        }
        return Ok(fitted(section, &request, &request.prepare()?, &request.fit(criterion)?));
    }
    Ok(fitted(section, request, &request.prepare()?, &request.fit(criterion)?))
}

/// Answers every key of a section about one fit.
fn fitted(section: &Value, request: &Request, rows: &Mixed, fit: &Fit) -> Value {
    let mut found = Map::new();
    let covariance = fit.group_covariance();
    let sds: Vec<f64> = covariance.iter().enumerate().map(|(at, row)| row[at].sqrt()).collect();
    let variance = fit.beta_covariance();
    let errors: Vec<f64> = variance.iter().enumerate().map(|(at, row)| row[at].sqrt()).collect();
    let criterion = fit.criterion();
    for (key, asked) in section.as_object().into_iter().flatten() {
        let value = match key.as_str() {
            "objective" | "minus2_restricted_loglik" => json!(fit.objective()),
            "objective_name" | "random" => asked.clone(),
            FORM => asked.clone(),
            "logLik" => json!(-fit.objective() / 2.0),
            "sigma" => json!(fit.sigma()),
            "sigma2" => json!(fit.sigma().powi(2)),
            "theta" => theta(asked, request, fit),
            "beta" => beta(asked, request, &fit.beta()),
            "se_beta" => beta(asked, request, &errors),
            "vcov_beta" => json!(variance),
            "varcomp" | "cov_re" => json!(covariance),
            "sd_ranef" if asked.is_number() => json!(sds[0]),
            "sd_ranef" => json!(sds),
            "sd" => factors(asked, request, |factor| match factor {
                None => json!(sds[0]),
                Some(at) => json!(fit.crossed_sd()[at]),
            }),
            "corr" => match (covariance.first(), covariance.get(1)) {
                (Some(a), Some(b)) => json!(a[1] / (a[0] * b[1]).sqrt()),
                _ => Value::Null,
            },
            "levels" => levels(asked, &request.group.1.names),
            "blup" if asked.is_object() => blups(asked, request, fit),
            "blup" => each_level(section, request, |label| json!(fit.group_effects(label))),
            "condvar_blup" => each_level(section, request, |label| json!(fit.group_effects_covariance(label))),
            "objective_at_theta" => {
                let one = |case: &Value| {
                    let theta = given_theta(&case["theta"], request);
                    json!({"theta": case["theta"], "value": rows.objective(criterion, &theta).ok()})
                };
                asked.as_array().into_iter().flatten().map(one).collect()
            }
            _ => Value::Null,
        };
        found.insert(key.clone(), value);
    }
    Value::Object(found)
}

fn theta(asked: &Value, request: &Request, fit: &Fit) -> Value {
    let theta = fit.theta();
    if asked.is_number() {
        return json!(theta[0]);
    }
    if asked.is_array() {
        return json!(theta);
    }
    let own = theta.len() - request.crossed.len();
    factors(asked, request, |factor| json!(factor.map_or(theta[0], |at| theta[own + at])))
}

fn given_theta(asked: &Value, request: &Request) -> Vec<f64> {
    if let Some(number) = asked.as_f64() {
        return vec![number];
    }
    if let Some(named) = asked.as_object() {
        let names = std::iter::once(&request.group.0).chain(request.crossed.iter().map(|factor| &factor.0));
        return names
            .filter_map(|name| named.iter().find(|(key, _)| factor_of(key) == name).and_then(|(_, v)| v.as_f64()))
            .collect();
    }
    asked.as_array().into_iter().flatten().filter_map(Value::as_f64).collect()
}

/// `plate.(Intercept)` is about the factor `plate`.
fn factor_of(key: &str) -> &str {
    key.strip_suffix(".(Intercept)").unwrap_or(key)
}

/// Answers per factor: `None` is the leading one, `Some` the place of a crossed one.
fn factors(asked: &Value, request: &Request, answer: impl Fn(Option<usize>) -> Value) -> Value {
    let mut found = Map::new();
    for key in asked.as_object().into_iter().flatten().map(|(key, _)| key) {
        let name = factor_of(key);
        if name == request.group.0 {
            found.insert(key.clone(), answer(None));
        } else if let Some(at) = request.crossed.iter().position(|factor| factor.0 == name) {
            found.insert(key.clone(), answer(Some(at)));
        }
    }
    Value::Object(found)
}

fn blups(asked: &Value, request: &Request, fit: &Fit) -> Value {
    let of_group = || -> Value {
        let effect = |(label, name): (usize, &String)| {
            let effects = fit.group_effects(label).unwrap_or_default();
            (name.clone(), if effects.len() == 1 { json!(effects[0]) } else { json!(effects) })
        };
        Value::Object(request.group.1.names.iter().enumerate().map(effect).collect())
    };
    // Levels of a single factor may stand without the factor's name above them.
    let names: Vec<&String> = asked.as_object().into_iter().flatten().map(|(key, _)| key).collect();
    if names.iter().all(|name| request.group.1.number(name).is_some()) {
        return of_group();
    }
    factors(asked, request, |factor| match factor {
        None => of_group(),
        Some(at) => {
            let names = &request.crossed[at].1.names;
            let effects = fit.crossed_effects(at);
            effects.iter().map(|effect| (names[effect.label].clone(), json!(effect.value))).collect()
        }
    })
}

/// The levels in the order asked when they are the same levels, in their own otherwise.
fn levels(asked: &Value, names: &[String]) -> Value {
    let listed: Vec<&str> = asked.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let mut sorted = listed.clone();
    sorted.sort_unstable();
    if sorted == names { json!(listed) } else { json!(names) }
}

fn each_level(section: &Value, request: &Request, answer: impl Fn(usize) -> Value) -> Value {
    let listed: Vec<&str> = section["levels"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let names = &request.group.1;
    if listed.is_empty() {
        return (0..names.names.len()).map(answer).collect();
    }
    listed.iter().map(|name| names.number(name).map_or(Value::Null, &answer)).collect()
}

/// Fixed effects as a list, a number or by the names of the file.
fn beta(asked: &Value, request: &Request, values: &[f64]) -> Value {
    if asked.is_number() {
        return json!(values.first());
    }
    let Some(named) = asked.as_object() else { return json!(values) };
    let places = places(&named.keys().map(String::as_str).collect::<Vec<_>>(), request);
    named.keys().zip(places).map(|(key, at)| (key.clone(), json!(at.and_then(|at| values.get(at))))).collect()
}

/// The column that each name of a file stands for.
fn places(names: &[&str], request: &Request) -> Vec<Option<usize>> {
    let known = |name: &str| {
        let same = match name {
            "1" => "(Intercept)",
            "ln n" => "ln",
            "h*ln m" => "lm",
            name => name,
        };
        same.to_owned()
    };
    let columns: Vec<String> = request.fixed.iter().map(|column| known(&column.0)).collect();
    let mut found: Vec<Option<usize>> =
        names.iter().map(|name| columns.iter().position(|column| *column == known(name))).collect();
    // A file may call its columns otherwise than its formula does (`x`, Days): what is left goes together.
    let mut left = (0..columns.len()).filter(|at| !found.contains(&Some(*at))).collect::<Vec<_>>().into_iter();
    for place in found.iter_mut().filter(|place| place.is_none()) {
        *place = left.next();
    }
    found
}

fn prediction(case: &Value, request: &Request, fit: &Fit) -> Value {
    let list =
        |key: &str| -> Vec<f64> { case[key].as_array().into_iter().flatten().filter_map(Value::as_f64).collect() };
    let group = case["level"].as_str().and_then(|name| request.group.1.number(name));
    let found = fit.predict(group, &list("x"), &list("z"));
    let half = proficiency::normal::exceeded_with(0.025).unwrap_or(f64::NAN) * found.single().sqrt();
    json!({
        "level": case["level"], "x": case["x"], "z": case["z"],
        "mean": found.mean, "var_mean": found.variance, "var_pred": found.single(),
        "pi95_normal": [found.mean - half, found.mean + half],
    })
}

fn coefficients(section: &Value, request: &Request, fit: &Fit) -> Value {
    let terms: Vec<&str> = section["terms"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let all = fit.coefficients();
    let listed: Vec<_> = if terms.is_empty() {
        all.clone()
    } else {
        places(&terms, request).into_iter().map(|at| at.and_then(|at| all.get(at).copied().flatten())).collect()
    };
    let of = |value: fn(proficiency::mixed::Coefficient) -> f64| -> Value {
        listed.iter().map(|coefficient| json!(coefficient.map(value))).collect()
    };
    json!({"terms": terms, "df": of(|c| c.df), "t": of(|c| c.t), "p": of(|c| c.p_two_sided)})
}

fn student(inputs: &Value, expected: &Value, request: &Request) -> Result<Value, String> {
    let nu = inputs["nu"].as_f64().unwrap_or(4.0);
    let robust = request.prepare()?.fit_student(Criterion::Reml, nu).map_err(|error| error.to_string())?;
    let plain = request.fit(Criterion::Reml)?;
    Ok(json!({
        "beta": beta(&expected["beta"], request, &robust.fit.beta()),
        "sigma_scale": robust.fit.sigma(),
        "theta": robust.fit.theta(),
        "weights": robust.weights,
        "flagged": robust.flagged,
        "unweighted_REML_sigma": plain.sigma(),
        "unweighted_beta": beta(&expected["unweighted_beta"], request, &plain.beta()),
    }))
}

/// What the file allows a leaf to differ by; where it says nothing, what is said here.
pub fn tolerance(file: &Value, path: &str) -> Tolerance {
    let said = &file["tolerance"];
    let number = |key: &str, usual: f64| said[key].as_f64().unwrap_or(usual);
    let parts: Vec<&str> = path.split('.').collect();
    let has = |name: &str| parts.contains(&name);
    if has("objective_at_theta") {
        return Tolerance::absolute(number("objective_at_theta_abs", 1e-6));
    }
    if has("objective") || has("logLik") || has("minus2_restricted_loglik") {
        return Tolerance::absolute(number("objective_abs", 1e-5));
    }
    if has("theta") {
        return Tolerance::absolute(number("theta_abs", 2e-4));
    }
    if has("weights") {
        return Tolerance::absolute(number("weights_abs", 5e-3));
    }
    if has("blup") {
        // "1e-4 * residual sigma", the sigma of the same section.
        let section = parts.iter().take_while(|part| **part != "blup");
        let section = section.fold(&file["expected"], |node, key| &node[*key]);
        let sigma = section["sigma"].as_f64().unwrap_or(1.0);
        let share = said["blup_abs"].as_str().and_then(|text| text.split('*').next()?.trim().parse::<f64>().ok());
        return Tolerance::absolute(share.map_or_else(|| number("blup_abs", 1e-4), |share| share * sigma));
    }
    if let Some(absolute) = said["beta_abs"].as_f64()
        && (has("beta") || has("unweighted_beta"))
    {
        return Tolerance::absolute(absolute);
    }
    if has("beta") || has("unweighted_beta") {
        return Tolerance::relative(number("beta_rel", 1e-5));
    }
    if has("se_beta") {
        return Tolerance::relative(number("se_beta_rel", 1e-4));
    }
    if has("sigma") || has("sigma_scale") || has("unweighted_REML_sigma") {
        return Tolerance::relative(number("sigma_rel", 1e-5));
    }
    if has("sd") {
        return Tolerance { absolute: 1e-8, relative: number("sd_rel", 1e-4) };
    }
    if has("mean") || has("pi95_normal") {
        // An expected value moves with the effects: its bound is theirs.
        return Tolerance { absolute: 0.0, relative: number("beta_rel", 1e-5) };
    }
    if has("df") {
        return Tolerance::relative(number("df_rel", 1e-3));
    }
    if has("t") {
        return Tolerance::relative(number("se_beta_rel", 1e-4));
    }
    if has("p") {
        return Tolerance { absolute: 1e-6, relative: number("p_rel", 1e-2) };
    }
    if has("x") || has("z") {
        return Tolerance::EXACT;
    }
    // Variances, and the correlation and standard deviations made of them. A variance of zero is met in
    // other units than its own: a share of nothing would bar any rounding.
    Tolerance { absolute: 1e-9, relative: number("var_rel", 1e-3) }
}
