//! Computes what the check files of prefix 11 expect: services still needed, shapes averaged.
#![allow(unreachable_pub, dead_code, reason = "shared by examples and tests, each of which takes what it needs")]

use std::cell::RefCell;
use std::collections::BTreeMap;

use proficiency::forecast::{Forecast, Gap, Needed, Outlook, Question, ahead_by, forecast, outlooks};
use proficiency::group_curve::{Curve, Options, SHAPES, Scatter, Service, Shape, Variances, fit};
use serde_json::{Map, Value, json};

use super::support::Tolerance;
use super::table::{Labels, Library, PLANS, Table};

/// Whole numbers that may differ because the chance lies next to its level, by path.
pub type Beside = RefCell<BTreeMap<String, f64>>;

struct Group {
    names: Labels,
    services: Vec<Service>,
    plans: Vec<String>,
}

/// Computes the tree of `expected`; what may differ by the file's rule for whole numbers goes to `beside`.
pub fn compute(file: &Value, library: &Library, beside: &Beside) -> Result<Value, String> {
    let (inputs, expected) = (&file["inputs"], &file["expected"]);
    let table = Table::read(inputs, library)?;
    let group = read(&table)?;
    let target = inputs["target_s"].as_f64().ok_or("no `target_s`")?;
    let slack = if expected["forecast"].is_object() { 5e-3 } else { 1e-3 };
    // These files do not merge levels, trust every row alike and take the variances as they come.
    let options = |shapes: &[Shape]| Options {
        shapes: shapes.to_vec(),
        least_at_level: 0,
        scatter: Scatter::Normal,
        variances: Variances::Plain,
        relearning_floor: None,
    };
    let curve_of = |shapes: &[Shape]| fit(&group.services, &options(shapes)).map_err(|error| error.to_string());
    let each = |curve: &Curve, asked: &Value, above: &str| -> Result<Value, String> {
        let mut found = Map::new();
        for (name, asked) in asked.as_object().into_iter().flatten() {
            let allow = Allow { path: format!("{above}{name}"), slack, beside };
            found.insert(name.clone(), trainee(curve, &group, name, asked, target, &allow)?);
        }
        Ok(Value::Object(found))
    };
    if !expected["forecast"].is_object() {
        return each(&curve_of(&[Shape::Power])?, expected, "");
    }

    let asked: Vec<&Value> = expected["bases"].as_array().into_iter().flatten().collect();
    let shapes: Vec<Shape> = if asked.is_empty() {
        SHAPES.to_vec()
    } else {
        asked.iter().map(|basis| shape(basis)).collect::<Result<_, _>>()?
    };
    let mut curve = curve_of(&shapes)?;
    // The files weigh shapes by likelihood whatever the group.
    let least = curve.shapes.iter().map(|shape| shape.full.objective()).fold(f64::INFINITY, f64::min);
    let weights: Vec<f64> = curve.shapes.iter().map(|shape| (-(shape.full.objective() - least) / 2.0).exp()).collect();
    let total: f64 = weights.iter().sum();
    curve.shapes.iter_mut().zip(&weights).for_each(|(shape, weight)| shape.weight = weight / total);

    let mut bases = Vec::new();
    for (basis, shape) in asked.iter().zip(&curve.shapes) {
        bases.push(json!({
            "basis": basis["basis"], "parameter": basis["parameter"],
            "theta_REML": shape.fit.theta(), "theta_ML": shape.full.theta(),
            "minus2loglik_ML": shape.full.objective(), "REML_criterion": shape.fit.objective(),
            "beta_REML": shape.fit.beta(), "sigma_REML": shape.fit.sigma(),
        }));
    }
    let forecasts = each(&curve, &expected["forecast"], "forecast.")?;
    let weights: Vec<f64> = curve.shapes.iter().map(|shape| shape.weight).collect();
    Ok(json!({"bases": bases, "weights": weights, "forecast": forecasts}))
}

fn shape(basis: &Value) -> Result<Shape, String> {
    let parameter = basis["parameter"].as_f64().unwrap_or(0.0);
    match basis["basis"].as_str() {
        Some("pow") if parameter == 0.0 => Ok(Shape::Power),
        Some("pow") => Ok(Shape::PowerPlateau(parameter)),
        Some("exp") => Ok(Shape::Exponential(parameter)),
        _ => Err(format!("no basis {}", basis["basis"])),
    }
}

fn read(table: &Table) -> Result<Group, String> {
    let names = Labels::new(&table.labels("trainee")?);
    let plans = table.labels("plan")?;
    let (numbers, withins, times) = (table.numbers("n")?, table.numbers("m_within_plan")?, table.numbers("time_s")?);
    let count =
        |value: f64| -> Result<u32, String> { u32::try_from(value as i64).map_err(|_| format!("{value} is no count")) };
    let mut services = Vec::new();
    for (((trainee, plan), (number, within)), seconds) in
        names.rows.iter().zip(&plans).zip(numbers.iter().zip(&withins)).zip(&times)
    {
        services.push(Service {
            trainee: *trainee,
            number: count(*number)?,
            level: level(plan)?,
            within: count(*within)?,
            seconds: *seconds,
            other_medium: false,
        });
    }
    Ok(Group { names, services, plans })
}

fn level(plan: &str) -> Result<u8, String> {
    let at = PLANS.iter().position(|known| *known == plan);
    at.and_then(|at| u8::try_from(at).ok()).ok_or_else(|| format!("no plan {plan}"))
}

/// Answers every key asked of one trainee.
fn trainee(
    curve: &Curve,
    group: &Group,
    name: &str,
    asked: &Value,
    target: f64,
    allow: &Allow,
) -> Result<Value, String> {
    let who = group.names.number(name);
    let own = || group.services.iter().zip(&group.plans).filter(|(service, _)| Some(service.trainee) == who);
    let whole = level("whole")?;
    let done = own().map(|(service, _)| service.number).max().unwrap_or(0);
    let done_whole = own().filter(|(service, _)| service.level == whole).map(|(service, _)| service.within).max();
    let current = own().max_by_key(|(service, _)| service.number).map(|(_, plan)| plan.clone());
    let question =
        Question { trainee: who, done, level: whole, done_at_level: done_whole.unwrap_or(0), target, gap: Gap::NONE };
    let answer: Forecast = forecast(curve, &question).map_err(|error| format!("{name}: {error}"))?;
    let outlooks = outlooks(curve, who);
    let at = |ahead: u32| -> Outlook { outlooks.at(ahead_by(&question, ahead), Gap::NONE) };
    let ahead = |key: &String| key.parse::<u32>().map_err(|_| format!("{key} is no number of services"));
    let mut found = Map::new();
    for (key, section) in asked.as_object().into_iter().flatten() {
        let value = match key.as_str() {
            "models_done" => json!(done),
            "models_done_in_whole_plan" => json!(question.done_at_level),
            "current_plan" => json!(current),
            "P_median_le_target" | "P_single_service_le_target" => {
                let mut chances = Map::new();
                for step in section.as_object().into_iter().flatten().map(|(step, _)| step) {
                    let outlook = at(ahead(step)?);
                    let single = key.contains("single");
                    let chance = if single { outlook.chance_single(target) } else { outlook.chance_typical(target) };
                    chances.insert(step.clone(), json!(chance));
                }
                Value::Object(chances)
            }
            "curve" => {
                let mut steps = Map::new();
                for step in section.as_object().into_iter().flatten().map(|(step, _)| step) {
                    let outlook = at(ahead(step)?);
                    let value = json!({
                        "log_median": outlook.mean_log(), "sd_median": outlook.sd_log(),
                        "P_median_le_target": outlook.chance_typical(target),
                        "P_single_service_le_target": outlook.chance_single(target),
                    });
                    steps.insert(step.clone(), value);
                }
                Value::Object(steps)
            }
            needed if needed.starts_with("models_still_needed") => {
                let single = needed.contains("single");
                let own = if single { answer.single } else { answer.typical };
                let chance = |ahead: u32| {
                    if single { at(ahead).chance_single(target) } else { at(ahead).chance_typical(target) }
                };
                allow.note(&own, section, needed, &chance);
                json!({"50": own.even, "80": own.four_in_five, "95": own.nineteen_in_twenty})
            }
            _ => Value::Null,
        };
        found.insert(key.clone(), value);
    }
    Ok(Value::Object(found))
}

/// The file's rule for whole numbers of one trainee.
struct Allow<'a> {
    /// Path of the trainee in the file.
    path: String,
    /// How near to its level a chance is next to it.
    slack: f64,
    beside: &'a Beside,
}

impl Allow<'_> {
    /// Notes by how much a whole number under `name` may differ: as far as the chance stays next to its level.
    fn note(&self, own: &Needed, asked: &Value, name: &str, chance: &dyn Fn(u32) -> f64) {
        for (key, own, level) in
            [("50", own.even, 0.5), ("80", own.four_in_five, 0.8), ("95", own.nineteen_in_twenty, 0.95)]
        {
            let (Some(own), Some(asked)) = (own, asked[key].as_u64().and_then(|asked| u32::try_from(asked).ok()))
            else {
                continue;
            };
            let between = own.min(asked)..own.max(asked);
            if !between.is_empty() && between.clone().all(|ahead| (chance(ahead) - level).abs() <= self.slack) {
                let path = format!("{}.{name}.{key}", self.path);
                self.beside.borrow_mut().insert(path, f64::from(own.abs_diff(asked)));
            }
        }
    }
}

/// What the file allows a leaf to differ by; where it says nothing, what is said here.
pub fn tolerance(file: &Value, path: &str, beside: &Beside) -> Tolerance {
    let said = &file["tolerance"];
    let number = |key: &str, usual: f64| said[key].as_f64().unwrap_or(usual);
    if let Some(difference) = beside.borrow().get(path) {
        return Tolerance::absolute(*difference);
    }
    let parts: Vec<&str> = path.split('.').collect();
    let has = |name: &str| parts.iter().any(|part| part.starts_with(name));
    match () {
        () if has("P_") => Tolerance::absolute(number("prob_abs", 2e-3)),
        () if has("weights") => Tolerance::absolute(number("weights_abs", 1e-3)),
        () if has("minus2loglik") => Tolerance::absolute(number("minus2loglik_abs", 1e-4)),
        () if has("REML_criterion") => Tolerance::absolute(number("objective_abs", 1e-4)),
        () if has("theta") => Tolerance::absolute(number("theta_abs", 1e-2)),
        () if has("beta") || has("sigma") => Tolerance::relative(number("beta_rel", 1e-4)),
        () if has("log_median") => Tolerance::absolute(number("log_abs", 1e-5)),
        () if has("sd_median") => Tolerance::relative(number("sd_rel", 1e-3)),
        () => Tolerance::EXACT,
    }
}
