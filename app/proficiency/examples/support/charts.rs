//! Check files 07: chart of individuals and moving ranges, run rules.

use proficiency::chart::{Constants, Limits, limits, signals};
use serde_json::{Value, json};

use super::support::{Tolerance, numbers, stated};

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let inputs = &file["inputs"];
    let values = numbers(&inputs["x"], "x")?;
    let baseline = inputs["baseline_points"].as_u64().and_then(|count| usize::try_from(count).ok());
    let base = values.get(..baseline.unwrap_or(values.len())).ok_or("fewer values than baseline points")?;
    let at = |constants| limits(base, constants).map_err(|error| error.to_string());
    let (exact, printed) = (at(Constants::Exact)?, at(Constants::Printed)?);
    let band = |limits: &Limits, constants: Constants| {
        json!({
            "d2": constants.mean_range(),
            "sigma": limits.sigma,
            "ucl": limits.upper,
            "lcl": limits.lower,
            "mr_ucl": limits.range_upper,
            "mr_ucl_3.267": limits.range_upper,
        })
    };
    let mut out = json!({
        "mean": exact.mean,
        "moving_ranges": exact.moving_ranges,
        "mr_bar": exact.mean_range,
        "median_mr": exact.median_range,
        "exact_d2": band(&exact, Constants::Exact),
        "rounded_d2_1.128": band(&printed, Constants::Printed),
        "published": {
            "mean": printed.mean,
            "mr_bar": printed.mean_range,
            "sigma": printed.sigma,
            "ucl": printed.upper,
            "lcl": printed.lower,
            "mr_ucl": printed.range_upper,
        },
    });
    let found = signals(&values, exact.mean, exact.sigma);
    // The files count values from 1.
    let from_one = |places: &[usize]| places.iter().map(|place| place + 1).collect::<Vec<_>>();
    for key in file["expected"].as_object().into_iter().flatten().map(|(key, _)| key) {
        if key.starts_with("western_electric") {
            out[key] = json!({
                "rule1": from_one(&found.beyond_three),
                "rule2": from_one(&found.two_of_three),
                "rule3": from_one(&found.four_of_five),
                "rule4": from_one(&found.eight_in_a_row),
            });
        }
    }
    Ok(out)
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    if path.starts_with("western_electric") {
        return Tolerance::EXACT;
    }
    if path.starts_with("published") {
        return Tolerance::absolute(stated(file, &["published_abs", "abs"]).unwrap_or(0.0));
    }
    Tolerance { relative: stated(file, &["rel"]).unwrap_or(0.0), absolute: stated(file, &["abs"]).unwrap_or(0.0) }
}
