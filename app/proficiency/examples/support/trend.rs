//! Check files 09: Mann-Kendall test, Theil-Sen slope, rank correlations.

use proficiency::rank::{kendall_exact_p, kendall_tau_b, spearman_rho};
use proficiency::trend::{mann_kendall, slope_interval, theil_sen};
use serde_json::{Map, Value, json};

use super::support::{Tolerance, pair, stated};

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let series = file["inputs"]["series"].as_object().ok_or("inputs hold no `series`")?;
    let time = &file["inputs"]["time"];
    let mut out = Map::new();
    for (name, values) in series {
        let listed = |value: &Value| -> Option<Vec<f64>> {
            // A gap is no number, and is left out with its time.
            Some(value.as_array()?.iter().map(|value| value.as_f64().unwrap_or(f64::NAN)).collect())
        };
        let values = listed(values).ok_or_else(|| format!("{name} is not a list"))?;
        let times = listed(time)
            .or_else(|| listed(&time[name]))
            .unwrap_or_else(|| (1..=values.len()).map(|n| n as f64).collect());
        let points: Vec<(f64, f64)> = times.into_iter().zip(values.iter().copied()).collect();
        let test = mann_kendall(&values);
        let by_place: Vec<(f64, f64)> = values.iter().enumerate().map(|(place, y)| (place as f64, *y)).collect();
        let line = theil_sen(&points);
        let mut slope = json!({
            "slope": line.map(|line| line.slope),
            "intercept_median_separate": line.map(|line| line.intercept),
        });
        for key in file["expected"][name]["theil_sen"].as_object().into_iter().flatten().map(|(key, _)| key) {
            if let Some(percent) = key.strip_prefix("ci").and_then(|percent| percent.parse::<f64>().ok()) {
                slope[key] = pair(slope_interval(&points, percent / 100.0));
            }
        }
        out.insert(
            name.clone(),
            json!({
                "S": test.map(|test| test.s),
                "var_S": test.map(|test| test.variance),
                "Z": test.map(|test| test.z),
                "p_two_sided": test.map(|test| test.p_two_sided),
                "sen_slope": theil_sen(&by_place).map(|line| line.slope),
                "theil_sen": slope,
                "kendall_tau_b": kendall_tau_b(&points),
                "kendall_exact_p": kendall_exact_p(&points),
                "spearman_rho": spearman_rho(&points),
            }),
        );
    }
    Ok(out.into())
}

pub(crate) fn tolerance(file: &Value, _: &str) -> Tolerance {
    Tolerance { absolute: stated(file, &["abs"]).unwrap_or(0.0), relative: stated(file, &["rel"]).unwrap_or(0.0) }
}
