//! Check files 08: distribution functions, quantiles, and the intervals of a straight line.

use proficiency::distribution::{
    beta_below, beta_quantile, chi_squared_below, chi_squared_quantile, f_above, f_quantile, gamma_below,
    gamma_quantile, t_below, t_quantile,
};
use proficiency::linear::{self, Intercept};
use proficiency::{normal, special};
use serde_json::{Map, Value, json};

use super::support::{Tolerance, numbers, pair, stated, table};

/// One row for each of `rows`, one column for each of `columns`.
fn grid<R>(rows: &[R], columns: &[f64], of: impl Fn(f64, &R) -> Option<f64>) -> Value {
    let row = |row: &R| columns.iter().map(|column| json!(of(*column, row))).collect::<Value>();
    rows.iter().map(row).collect()
}

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let inputs = &file["inputs"];
    if inputs["x_new"].is_array() {
        return straight_line(inputs, &file["expected"]);
    }
    let listed = |key: &str| if inputs[key].is_null() { Ok(Vec::new()) } else { numbers(&inputs[key], key) };
    let pairs = |key: &str| if inputs[key].is_null() { Ok(Vec::new()) } else { table(&inputs[key], key) };
    let p = listed("p")?;
    let t_df = listed("t_df")?;
    let shapes = pairs("beta_ab")?;
    let of_shapes = |function: fn(f64, f64, f64) -> Option<f64>| {
        move |at: f64, shapes: &Vec<f64>| function(at, *shapes.first()?, *shapes.get(1)?)
    };
    let gamma_shapes = listed("gamma_a")?;
    let freedoms = pairs("f_df")?;
    let mut out = json!({
        "t_ppf": grid(&t_df, &p, |p, df| t_quantile(p, *df)),
        "t_cdf_at_x": grid(&t_df, &listed("t_x")?, |x, df| t_below(x, *df)),
        "normal_ppf": p.iter().map(|p| normal::exceeded_with(*p).map(|z| -z)).collect::<Vec<_>>(),
        "normal_cdf": listed("normal_x")?.iter().map(|x| normal::above(-x)).collect::<Vec<_>>(),
        "beta_ppf": grid(&shapes, &p, of_shapes(beta_quantile)),
        "beta_cdf_at_x": grid(&shapes, &listed("beta_x")?, of_shapes(beta_below)),
        "gamma_p_at_x": grid(&gamma_shapes, &listed("gamma_x")?, |x, shape| gamma_below(x, *shape)),
        "gamma_ppf": grid(&gamma_shapes, &p, |p, shape| gamma_quantile(p, *shape)),
        "lgamma": listed("lgamma_x")?.iter().map(|x| special::ln_gamma(*x)).collect::<Vec<_>>(),
        "f_ppf": grid(&freedoms, &p, of_shapes(f_quantile)),
        "f_sf_at_x": grid(&freedoms, &listed("f_x")?, of_shapes(f_above)),
    });
    // Degrees of freedom of chi-squared values are the names of the values themselves.
    for (name, at, function) in [
        ("chi2_ppf_df", p, chi_squared_quantile as fn(f64, f64) -> Option<f64>),
        ("chi2_cdf_df", listed("chi2_x")?, chi_squared_below),
    ] {
        let mut by_freedom = Map::new();
        for key in file["expected"][name].as_object().into_iter().flatten().map(|(key, _)| key) {
            let freedom: f64 = key.parse().map_err(|_| format!("{key} is not a number of degrees of freedom"))?;
            by_freedom.insert(key.clone(), at.iter().map(|at| json!(function(*at, freedom))).collect());
        }
        out[name] = by_freedom.into();
    }
    Ok(out)
}

fn straight_line(inputs: &Value, expected: &Value) -> Result<Value, String> {
    let fit = linear::fit(&[numbers(&inputs["x"], "x")?], &numbers(&inputs["y"], "y")?, Intercept::Free)
        .map_err(|error| error.to_string())?;
    let predict = |wanted: &Value| -> Option<Value> {
        let (x, level) = (wanted["x"].as_f64()?, wanted["level"].as_f64()?);
        let there = fit.predict(&[1.0, x])?;
        Some(json!({
            "x": wanted["x"],
            "level": level,
            "mean": there.mean,
            "se_mean": there.se_mean,
            "se_pred": there.se_single,
            "ci": pair(there.interval_of_mean(level)),
            "pi": pair(there.interval_of_single(level)),
        }))
    };
    let wanted = expected["predictions"].as_array().cloned().unwrap_or_default();
    Ok(json!({
        "beta": fit.coefficients,
        "se": fit.standard_errors,
        "sigma": fit.residual_sd,
        "df": fit.degrees_of_freedom,
        "predictions": wanted.iter().map(predict).collect::<Vec<_>>(),
    }))
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    let leaf = path.split('.').next().unwrap_or_default();
    let relative = stated(file, &["rel"]).unwrap_or(0.0);
    let of_chances = ["cdf", "gamma_p", "sf"].iter().any(|part| leaf.contains(part));
    let absolute = if of_chances { stated(file, &["abs_cdf", "abs"]) } else { stated(file, &["abs"]) };
    Tolerance { absolute: absolute.unwrap_or(0.0), relative }
}
