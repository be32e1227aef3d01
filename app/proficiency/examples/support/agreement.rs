//! Check files 06: kappa with and without weights, several assessors, intraclass correlations.

use proficiency::intraclass::{Form, Intraclass, intraclass};
use proficiency::kappa::{Kappa, Table, Weights, fleiss};
use serde_json::{Map, Value, json};

use super::support::{Tolerance, pair, stated, table};

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let inputs = &file["inputs"];
    if inputs["tables"].is_object() {
        return two_assessors(inputs, &file["expected"]);
    }
    if inputs["ratings_rows_targets_cols_raters"].is_object() {
        return scores(&inputs["ratings_rows_targets_cols_raters"], &file["expected"]);
    }
    several(inputs)
}

fn entries(value: &Value) -> impl Iterator<Item = (&String, &Value)> {
    value.as_object().into_iter().flatten()
}

/// Percent at the end of a name such as `ci95`.
fn level_of(key: &str) -> Option<f64> {
    key.rsplit_once("ci").and_then(|(_, percent)| percent.parse::<f64>().ok()).map(|percent| percent / 100.0)
}

fn two_assessors(inputs: &Value, expected: &Value) -> Result<Value, String> {
    let mut out = Map::new();
    for (name, counts) in entries(&inputs["tables"]) {
        let counts = Table::new(&table(counts, name)?).map_err(|error| format!("{name}: {error}"))?;
        let mut here = Map::new();
        for (kind, wanted) in entries(&expected[name]) {
            let weights = match kind.as_str() {
                "prevalence_robust" => {
                    let found = counts.companions().ok();
                    here.insert(
                        kind.clone(),
                        json!({
                            "percent_agreement": found.map(|found| found.share_agreed),
                            "pabak_bennett_s": found.map(|found| found.bennett_s),
                            "gwet_ac1": found.map(|found| found.ac1),
                            "gwet_ac1_se": found.map(|found| found.ac1_standard_error),
                        }),
                    );
                    continue;
                }
                _ if wanted["agreement_weights"].is_array() => {
                    Weights::Given(table(&wanted["agreement_weights"], "agreement_weights")?)
                }
                kind if kind.starts_with("linear") => Weights::Linear,
                kind if kind.starts_with("quadratic") => Weights::Quadratic,
                kind if kind.starts_with("unweighted") => Weights::Same,
                _ => return Err(format!("{name}: {kind} is not known")),
            };
            here.insert(kind.clone(), of_two(counts.kappa(&weights).ok(), wanted));
        }
        out.insert(name.clone(), here.into());
    }
    Ok(out.into())
}

fn of_two(kappa: Option<Kappa>, wanted: &Value) -> Value {
    let mut out = json!({
        "kappa": kappa.map(|kappa| kappa.kappa),
        "se": kappa.map(|kappa| kappa.standard_error),
        "se_null": kappa.map(|kappa| kappa.standard_error_without),
        "z": kappa.and_then(|kappa| kappa.z),
        "p_two_sided": kappa.and_then(|kappa| kappa.p_two_sided),
    });
    for (key, value) in entries(wanted) {
        if let Some(level) = level_of(key) {
            out[key] = pair(kappa.and_then(|kappa| kappa.interval(level)));
        } else if key == "agreement_weights" || value.is_string() {
            // What was handed in, or said in words, comes back as it is.
            out[key] = value.clone();
        }
    }
    out
}

fn several(inputs: &Value) -> Result<Value, String> {
    let counts = if inputs["counts"].is_array() {
        table(&inputs["counts"], "counts")?
    } else {
        // Marks, a row for each subject: the categories are those in use.
        let marks = table(&inputs["ratings"], "ratings")?;
        let mut categories: Vec<f64> = marks.iter().flatten().copied().collect();
        categories.sort_by(f64::total_cmp);
        categories.dedup();
        let count = |row: &Vec<f64>, category: f64| row.iter().filter(|mark| **mark == category).count() as f64;
        marks.iter().map(|row| categories.iter().map(|category| count(row, *category)).collect()).collect()
    };
    let found = fleiss(&counts);
    if let Err(why) = found {
        eprintln!("{why}");
    }
    let found = found.ok();
    Ok(json!({
        "fleiss_kappa": found.map(|found| found.kappa),
        "randolph_free_marginal": found.map(|found| found.free_marginal),
        "se_null": found.map(|found| found.standard_error_without),
        "percent_agreement": found.map(|found| found.share_agreed),
        "gwet_ac1": found.map(|found| found.ac1),
    }))
}

fn scores(ratings: &Value, expected: &Value) -> Result<Value, String> {
    let mut out = Map::new();
    for (name, rows) in entries(ratings) {
        let rows = table(rows, name)?;
        let at = |level: f64| intraclass(&rows, level).map_err(|error| format!("{name}: {error}"));
        let found = at(0.95)?;
        let squares = found.mean_squares;
        let all = named(&found);
        let of_all = |of: &dyn Fn(&Form) -> Value| all.iter().map(|(_, _, form)| of(form)).collect::<Value>();
        let limit = |of: &dyn Fn((f64, f64)) -> f64| of_all(&|form| json!(form.interval.map(of)));
        let mut here = json!({
            "mean_squares": {
                "MSR_between_targets": squares.services,
                "MSC_between_raters": squares.assessors,
                "MSE_residual": squares.residual,
                "MSW_within": squares.within,
            },
            "icc": all.iter().map(|(name, _, form)| ((*name).to_owned(), json!(form.value))).collect::<Map<_, _>>(),
            "ICC(2,1)_satterthwaite_df": found.satterthwaite,
            "psych_table": {
                "type": all.iter().map(|(_, short, _)| *short).collect::<Vec<_>>(),
                "icc": of_all(&|form| json!(form.value)),
                "F": of_all(&|form| json!(form.f)),
                "df1": of_all(&|form| json!(form.freedom_above)),
                "df2": of_all(&|form| json!(form.freedom_below)),
                "p": of_all(&|form| json!(form.p)),
                "lower95": limit(&|interval| interval.0),
                "upper95": limit(&|interval| interval.1),
            },
        });
        for (key, _) in entries(&expected[name]) {
            let Some((form, level)) = key.split_once('_').zip(level_of(key)).map(|((form, _), level)| (form, level))
            else {
                continue;
            };
            let there = at(level)?;
            let of_form =
                named(&there).iter().find(|(name, short, _)| *name == form || *short == form).map(|all| all.2);
            here[key] = pair(of_form.and_then(|form| form.interval));
        }
        out.insert(name.clone(), here);
    }
    Ok(out.into())
}

fn named(found: &Intraclass) -> [(&'static str, &'static str, Form); 6] {
    [
        ("ICC(1,1)", "ICC1", found.one_way_one),
        ("ICC(2,1)", "ICC2", found.two_way_one),
        ("ICC(3,1)", "ICC3", found.fixed_one),
        ("ICC(1,k)", "ICC1k", found.one_way_mean),
        ("ICC(2,k)", "ICC2k", found.two_way_mean),
        ("ICC(3,k)", "ICC3k", found.fixed_mean),
    ]
}

pub(crate) fn tolerance(file: &Value, path: &str) -> Tolerance {
    let of_intervals = ["ci9", "ci8", "ci5", "lower", "upper", ".F.", ".p."].iter().any(|part| path.contains(part));
    let keys: &[&str] = if of_intervals { &["ci_abs", "abs"] } else { &["icc_abs", "abs"] };
    Tolerance { absolute: stated(file, keys).unwrap_or(0.0), relative: stated(file, &["rel"]).unwrap_or(0.0) }
}
