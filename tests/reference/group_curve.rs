//! Mixed fits and forecasts against other programs, and Student-t weights against a second method.
//!
//! `checks/03_*` and `checks/11_*`: lme4, lmerTest and statsmodels; each file names its source.

#[path = "../../app/proficiency/examples/support/forecast.rs"]
mod forecast;
#[path = "../../app/proficiency/examples/support/mixed.rs"]
mod mixed;
#[path = "../../app/proficiency/examples/support/table.rs"]
mod table;

mod second_method;

use crate::check_files::{spoiled_values_are_bad, support};
use table::Library;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/checks");

fn text(name: &str) -> String {
    std::fs::read_to_string(std::path::Path::new(FOLDER).join(name)).unwrap()
}

fn library() -> Library {
    Library(vec![FOLDER.into()])
}

/// Every expected value holds, and there are at least so many.
fn all_hold(name: &str, lines: &[(String, bool)], least: usize) {
    for (line, ok) in lines {
        assert!(ok, "{name}: {line}");
    }
    assert!(lines.len() >= least, "{name}: {} values only", lines.len());
}

fn mixed_file_holds(name: &str, least: usize) {
    let lines = support::lines(&text(name), |file| mixed::compute(file, &library()), mixed::tolerance).unwrap();
    all_hold(name, &lines, least);
}

#[test]
fn mixed_fits_agree_with_lme4() {
    mixed_file_holds("03_lme_sleepstudy.json", 580);
    mixed_file_holds("03_lme_lash12.json", 490);
}

#[test]
fn a_fit_with_a_variance_of_zero_agrees_with_lme4() {
    mixed_file_holds("03_lme_lash5.json", 380);
}

#[test]
fn crossed_effects_agree_with_lme4() {
    mixed_file_holds("03_lme_crossed_penicillin.json", 70);
}

#[test]
fn student_weights_agree_with_their_fixed_point() {
    mixed_file_holds("03_lme_student_t_lash12_s8.json", 260);
}

#[test]
fn forecasts_agree_with_those_made_from_lme4() {
    for (name, least) in [("11_models_still_needed_lash12.json", 220), ("11_basis_averaged_forecast_lash12.json", 190)]
    {
        let beside = forecast::Beside::default();
        let compute = |file: &serde_json::Value| forecast::compute(file, &library(), &beside);
        let lines = support::lines(&text(name), compute, |file, path| forecast::tolerance(file, path, &beside));
        all_hold(name, &lines.unwrap(), least);
    }
}

#[test]
fn a_wrong_value_is_found_wrong() {
    for name in ["sleepstudy", "lash12", "lash5", "crossed_penicillin", "student_t_lash12_s8"] {
        let name = format!("03_lme_{name}.json");
        let compute = |file: &serde_json::Value| mixed::compute(file, &library());
        spoiled_values_are_bad(&name, &text(&name), compute, mixed::tolerance, &["x", "z", "objective_at_theta theta"]);
    }
    for name in ["11_models_still_needed_lash12.json", "11_basis_averaged_forecast_lash12.json"] {
        let beside = forecast::Beside::default();
        let compute = |file: &serde_json::Value| forecast::compute(file, &library(), &beside);
        let tolerance = |file: &serde_json::Value, path: &str| forecast::tolerance(file, path, &beside);
        spoiled_values_are_bad(name, &text(name), compute, tolerance, &["parameter"]);
    }
}
