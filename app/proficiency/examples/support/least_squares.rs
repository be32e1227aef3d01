//! Check files 01: linear, nonlinear and robust least squares.

use proficiency::linear::{self, Intercept};
use proficiency::nonlinear;
use proficiency::robust::{self, Loss};
use serde_json::{Value, json};

use super::formula::Formula;
use super::support::{FORM, Tolerance, numbers, stated, table};

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let inputs = &file["inputs"];
    if inputs[FORM].is_string() {
        return of_a_formula(inputs);
    }
    let y = numbers(&inputs["y"], "y")?;
    let intercept = if inputs["intercept"].as_bool().unwrap_or(true) { Intercept::Free } else { Intercept::Zero };
    if let Some(norm) = inputs["norm"].as_str() {
        return downweighted(inputs, &y, intercept, norm);
    }
    let fit = if inputs["weights"].is_array() {
        linear::fit_weighted(&columns(inputs)?, &y, intercept, &numbers(&inputs["weights"], "weights")?)
    } else if inputs["x_columns"].is_array() || inputs["x"][0].is_array() {
        linear::fit(&columns(inputs)?, &y, intercept)
    } else {
        let degree = inputs["polynomial_degree"].as_u64().unwrap_or(1);
        let degree = usize::try_from(degree).map_err(|error| error.to_string())?;
        linear::fit_polynomial(&numbers(&inputs["x"], "x")?, &y, degree, intercept)
    };
    let fit = fit.map_err(|error| error.to_string())?;
    Ok(json!({
        "beta": fit.coefficients,
        "se": fit.standard_errors,
        "residual_sd": fit.residual_sd,
        "sse": fit.sum_of_squares,
        "r_squared": fit.r_squared,
        "df_residual": fit.degrees_of_freedom,
        "cov_beta": fit.covariance,
        "residuals": fit.residuals,
    }))
}

/// Predictors column by column, however the file holds them.
fn columns(inputs: &Value) -> Result<Vec<Vec<f64>>, String> {
    if inputs["x_columns"].is_array() {
        return table(&inputs["x_columns"], "x_columns");
    }
    if inputs["x"][0].is_array() {
        let rows = table(&inputs["x"], "x")?;
        let width = rows.first().map_or(0, Vec::len);
        if rows.iter().any(|row| row.len() != width) {
            return Err("the rows of x differ in length".to_owned());
        }
        return Ok((0..width).map(|place| rows.iter().filter_map(|row| row.get(place).copied()).collect()).collect());
    }
    Ok(vec![numbers(&inputs["x"], "x")?])
}

/// A curve to be fitted: its formula, predictors point by point, response, and the starts given.
pub(crate) struct Problem {
    pub(crate) formula: Formula,
    pub(crate) rows: Vec<Vec<f64>>,
    pub(crate) y: Vec<f64>,
    pub(crate) starts: Vec<Vec<f64>>,
}

pub(crate) fn problem(inputs: &Value) -> Result<Problem, String> {
    let formula = Formula::read(inputs[FORM].as_str().unwrap_or_default())?;
    let y: Vec<f64> = numbers(&inputs["y"], "y")?.iter().map(|y| formula.response(*y)).collect();
    let rows = predictors(inputs, y.len())?;
    let mut starts = Vec::new();
    for key in ["start1", "start2", "start"] {
        if inputs[key].is_array() {
            starts.push(numbers(&inputs[key], key)?);
        }
    }
    Ok(Problem { formula, rows, y, starts })
}

fn of_a_formula(inputs: &Value) -> Result<Value, String> {
    let Problem { formula, rows, y, starts } = problem(inputs)?;
    let found: Vec<_> = starts.iter().map(|start| nonlinear::fit(&formula, &rows, &y, start)).collect();
    for (number, found) in found.iter().enumerate() {
        match found {
            Ok(fit) => eprintln!("start {}: sum of squares {:e}, {} steps", number + 1, fit.sum_of_squares, fit.steps),
            Err(why) => eprintln!("start {}: {why}", number + 1),
        }
    }
    let agree = found.iter().filter_map(|found| found.as_ref().ok()).map(|fit| fit.sum_of_squares);
    let (least, most) = agree.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), s| (low.min(s), high.max(s)));
    // Where the given starts do not lead to one and the same end, starts about them are tried as well.
    let settled = starts.len() > 1 && found.iter().all(Result::is_ok) && most <= least * (1.0 + 1e-6) + 1e-20;
    let wide: Vec<Vec<f64>> = if settled {
        starts
    } else {
        starts.iter().flat_map(|start| nonlinear::starts_about(start, 20, 100.0)).collect()
    };
    let fit = nonlinear::fit_best(&formula, &rows, &y, &wide).map_err(|error| error.to_string())?;
    Ok(json!({
        "beta": fit.parameters,
        "se": fit.standard_errors,
        "sse": fit.sum_of_squares,
        "residual_sd": fit.residual_sd,
        "df_residual": fit.degrees_of_freedom,
        "cov_beta": fit.covariance,
        "certified_beta": fit.parameters,
        "certified_se": fit.standard_errors,
        "certified_sse": fit.sum_of_squares,
        "certified_residual_sd": fit.residual_sd,
    }))
}

/// One row of predictors a point: from x (a list, rows or columns), or from x1, x2, ...
fn predictors(inputs: &Value, points: usize) -> Result<Vec<Vec<f64>>, String> {
    let mut columns = if inputs["x1"].is_array() {
        let keys = (1..).map(|number| format!("x{number}"));
        keys.map_while(|key| inputs[&key].is_array().then(|| numbers(&inputs[&key], &key))).collect::<Result<_, _>>()?
    } else {
        columns(inputs)?
    };
    if inputs["x"][0].is_array() && columns.first().is_some_and(|column| column.len() != points) {
        columns = table(&inputs["x"], "x")?;
    }
    Ok((0..points).map(|row| columns.iter().filter_map(|column| column.get(row).copied()).collect()).collect())
}

fn downweighted(inputs: &Value, y: &[f64], intercept: Intercept, norm: &str) -> Result<Value, String> {
    let (name, constants) = norm.split_once('_').unwrap_or((norm, ""));
    let constants: Vec<f64> = constants.split(['_', ',']).filter_map(|text| text.parse().ok()).collect();
    let constant = |place: usize, usual: f64| constants.get(place).copied().unwrap_or(usual);
    let loss = match name.to_lowercase().as_str() {
        "huber" | "hubert" => Loss::Huber { bend: constant(0, 1.345) },
        "tukey" | "bisquare" | "biweight" | "tukeybiweight" => Loss::Bisquare { reject: constant(0, 4.685) },
        "andrew" | "andrews" | "andrewwave" => Loss::Wave { width: constant(0, 1.339) },
        "hampel" => Loss::ThreePart { bend: constant(0, 2.0), fall: constant(1, 4.0), reject: constant(2, 8.0) },
        "ramsay" | "ramsaye" => Loss::Exponential { rate: constant(0, 0.3) },
        "trimmed" | "trimmedmean" => Loss::Trimmed { reject: constant(0, 2.0) },
        "ls" | "leastsquares" | "least" => Loss::Squares,
        _ => return Err(format!("norm {norm} is not known")),
    };
    let fit = robust::fit(&columns(inputs)?, y, intercept, loss).map_err(|error| error.to_string())?;
    Ok(json!({
        "beta": fit.coefficients,
        "se": fit.standard_errors,
        "bse": fit.standard_errors,
        "scale_mad": fit.scale,
        "scale": fit.scale,
        "weights": fit.weights,
        "residuals": fit.residuals,
    }))
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    let leaf = path.split('.').next().unwrap_or_default();
    let key: &[&str] = match leaf {
        "df_residual" => return Tolerance::EXACT,
        "beta" | "certified_beta" => &["beta_rel", "rel"],
        "sse" | "certified_sse" => &["sse_rel", "se_rel", "rel"],
        _ => &["se_rel", "rel"],
    };
    let relative = stated(file, key).unwrap_or(0.0);
    Tolerance { relative, absolute: stated(file, &["abs"]).unwrap_or(0.0) }
}
