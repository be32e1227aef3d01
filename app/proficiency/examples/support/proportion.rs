//! Check files 05: intervals of one proportion.

use proficiency::proportion::{
    agresti_coull, clopper_pearson, exact_lower_limit, exact_upper_limit, jeffreys, wilson, wilson_corrected,
};
use serde_json::{Map, Value, json};

use super::support::{Tolerance, pair, stated};

fn count(value: &Value, what: &str) -> Result<u32, String> {
    let whole = value.as_f64().filter(|number| number.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(number));
    whole.map(|number| number as u32).ok_or_else(|| format!("{what} is {value}, not a count"))
}

fn one(hits: u32, tries: u32, level: f64) -> Value {
    let corrected = pair(wilson_corrected(hits, tries, level));
    json!({
        "k": hits,
        "n": tries,
        "level": level,
        "wilson": pair(wilson(hits, tries, level)),
        "wilson_continuity_corrected": corrected,
        "wilson_cc": corrected,
        "clopper_pearson": pair(clopper_pearson(hits, tries, level)),
        "jeffreys": pair(jeffreys(hits, tries, level)),
        "agresti_coull_center_halfwidth": pair(agresti_coull(hits, tries, level)),
        "clopper_pearson_one_sided_lower": exact_lower_limit(hits, tries, level),
        "clopper_pearson_one_sided_upper": exact_upper_limit(hits, tries, level),
    })
}

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let cases = file["inputs"]["cases"].as_array().ok_or("inputs have no list `cases`")?;
    let mut out = Vec::new();
    for case in cases {
        let level = case["level"].as_f64().unwrap_or(0.95);
        out.push(one(count(&case["k"], "k")?, count(&case["n"], "n")?, level));
    }
    // Printed limits are named by their counts, 81/263, at 95 %.
    let mut published = Map::new();
    for name in file["expected"]["published_4dp"].as_object().into_iter().flatten().map(|(name, _)| name) {
        let parts =
            name.split_once('/').and_then(|(hits, tries)| hits.trim().parse().ok().zip(tries.trim().parse().ok()));
        let (hits, tries) = parts.ok_or_else(|| format!("{name} is not hits/tries"))?;
        published.insert(name.clone(), one(hits, tries, 0.95));
    }
    Ok(json!({ "cases": out, "published_4dp": published }))
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    let keys: &[&str] = if path.starts_with("published") { &["published_abs", "abs"] } else { &["abs"] };
    Tolerance { absolute: stated(file, keys).unwrap_or(0.0), relative: stated(file, &["rel"]).unwrap_or(0.0) }
}
