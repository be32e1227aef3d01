//! Trainees drawn at random and judged one by one, against the exact recursions.
//!
//! The judges here are written plainly, service by service, and share nothing with the recursions but the
//! numbers of a rule; the charts are asked by the functions that the app asks.

use anyhow::Result;
use proficiency::competence::rubric::{self, Scores};
use proficiency::competence::rules::Rule;
use proficiency::competence::steady;

use super::draw::Draw;
use super::rules::{SETTINGS, Setting, words};
use super::table::Table;
use super::{Files, SEED};

/// Name of the results' file.
pub const FILE: &str = "decisions.tsv";
/// Trainees drawn for each line.
pub const TRAINEES: u32 = 100_000;
/// Most standard errors between a simulated share and the exact chance.
pub const MOST_ERRORS: f64 = 4.0;

const HEAD: [&str; 10] = [
    "setting",
    "rule",
    "path",
    "seed",
    "trainees",
    "exact pass",
    "simulated pass",
    "pass errors",
    "exact services",
    "services errors",
];

/// Shares of one rule on one path, beside what is exact.
#[derive(Debug, Clone, Copy)]
pub struct Compared {
    /// Exact chance of a pass.
    pub exact: f64,
    /// Share of simulated trainees who pass.
    pub simulated: f64,
    /// Their difference in standard errors.
    pub errors: f64,
    /// Exact mean services; NaN where none is worked out.
    pub services: f64,
    /// Difference of the simulated mean services in standard errors; 0 where none is worked out.
    pub services_errors: f64,
}

/// Judges one trainee: whether a pass, and after how many services there is an end.
fn judged(rule: &Rule, failures: &[bool]) -> (bool, usize) {
    let failed = |some: &[bool]| u32::try_from(some.iter().filter(|failed| **failed).count()).unwrap_or(u32::MAX);
    let size = |count: u32| usize::try_from(count).unwrap_or(usize::MAX);
    let all = failures.len();
    let mut done = 0;
    let mut sum = 0.0;
    while done < all {
        done += 1;
        let so_far = failures.get(..done).unwrap_or_default();
        let last = |count: usize| so_far.get(done.saturating_sub(count)..).unwrap_or_default();
        match *rule {
            Rule::Fixed { services, failures } if done == size(services) => return (failed(so_far) <= failures, done),
            Rule::Curtailed { services, failures } => {
                let left = size(services).saturating_sub(done);
                if failed(so_far) > failures {
                    return (false, done);
                }
                if size(failed(so_far)) + left <= size(failures) {
                    return (true, done);
                }
            }
            Rule::InAll { passes } if done - size(failed(so_far)) >= size(passes) => return (true, done),
            Rule::InARow { passes } if done >= size(passes) && failed(last(size(passes))) == 0 => return (true, done),
            Rule::OfLast { window, failures } if done >= size(window) && failed(last(size(window))) <= failures => {
                return (true, done);
            }
            Rule::Sequential(test) => {
                sum += if so_far.last() == Some(&true) { test.fail_score() } else { test.pass_score() };
                if sum <= test.pass_bound() + 1e-12 {
                    return (true, done);
                }
                if sum >= test.reject_bound() - 1e-12 {
                    return (false, done);
                }
            }
            _ => {}
        }
    }
    match rule {
        Rule::Learning(chart) => chart.first_signal(failures).map_or((false, all), |at| (true, at)),
        _ => (false, all),
    }
}

/// Simulates a rule on a path; `against` is the rule whose exact course it is held to, as a rule itself.
///
/// # Errors
/// When the exact course cannot be worked out.
pub fn simulated(rule: &Rule, against: &Rule, path: &[f64], trainees: u32, number: u64) -> Result<Compared> {
    let course = against.course(path)?;
    let mut draw = Draw::new(SEED, number);
    let (mut passes, mut services, mut squares) = (0.0, 0.0, 0.0);
    for _ in 0..trainees {
        let failures: Vec<bool> = path.iter().map(|rate| draw.even() < *rate).collect();
        let (passed, done) = judged(rule, &failures);
        passes += if passed { 1.0 } else { 0.0 };
        services += done as f64;
        squares += (done as f64).powi(2);
    }
    let count = f64::from(trainees);
    let (share, mean) = (passes / count, services / count);
    let spread = ((squares / count - mean * mean).max(0.0) / count).sqrt();
    let difference = mean - course.services();
    Ok(Compared {
        exact: course.passes(),
        simulated: share,
        errors: errors_apart(share, course.passes(), count),
        services: course.services(),
        services_errors: if difference.abs() < 1e-9 { 0.0 } else { difference / spread },
    })
}

/// Simulates the chart on scores at a mean.
///
/// # Errors
/// When the exact chance cannot be worked out.
pub fn simulated_scores(
    setting: &Setting,
    scores: (f64, f64, f64),
    mean: f64,
    trainees: u32,
    number: u64,
) -> Result<Compared> {
    let (unacceptable, acceptable, spread) = scores;
    let chart =
        rubric::calibrate(Scores::new(unacceptable, acceptable, spread)?, setting.horizon, setting.alpha)?.chart;
    let exact = chart.passes(mean, setting.horizon)?;
    let mut draw = Draw::new(SEED, number);
    let mut passes = 0.0;
    for _ in 0..trainees {
        let marks: Vec<f64> = (0..setting.horizon).map(|_| mean + spread * draw.normal()).collect();
        passes += if chart.first_signal(&marks).is_some() { 1.0 } else { 0.0 };
    }
    let count = f64::from(trainees);
    let errors = errors_apart(passes / count, exact, count);
    Ok(Compared { exact, simulated: passes / count, errors, services: f64::NAN, services_errors: 0.0 })
}

/// Difference of a share from its chance, in standard errors of the chance; for chances next to 0 or 1 at least
/// those of one trainee.
fn errors_apart(share: f64, exact: f64, count: f64) -> f64 {
    let error = (exact * (1.0 - exact) / count).sqrt().max(1.0 / count);
    (share - exact) / error
}

/// Runs all lines.
///
/// # Errors
/// When results cannot be kept.
pub fn run(files: &Files) -> Result<()> {
    let mut table = Table::new(&HEAD, 3);
    let mut number = 0;
    let mut line = |setting: &Setting, rule: String, path: &str, found: Compared| {
        table.put(vec![
            setting.name(),
            rule,
            path.to_owned(),
            SEED.to_string(),
            TRAINEES.to_string(),
            format!("{:.4}", found.exact),
            format!("{:.4}", found.simulated),
            format!("{:.2}", found.errors),
            format!("{:.2}", found.services),
            format!("{:.2}", found.services_errors),
        ])
    };
    let [example, .., last] = &SETTINGS;
    for setting in [example, last] {
        for (name, path) in paths(setting)? {
            for rule in setting.rules()? {
                number += 1;
                line(setting, words(&rule), name, simulated(&rule, &rule, &path, TRAINEES, number)?)?;
            }
        }
    }
    for (name, mean) in [("mu_u", 1.5), ("mu_a", 2.2)] {
        number += 1;
        let found = simulated_scores(example, (1.5, 2.2, 0.5), mean, TRAINEES, number)?;
        line(example, "learning CUSUM on scores, 1.5 against 2.2, spread .5".to_owned(), name, found)?;
    }
    table.save(&files.of(FILE))
}

/// The results so far.
///
/// # Errors
/// When their file cannot be read.
pub fn results(files: &Files) -> Result<Table> {
    Table::new(&HEAD, 3).load(&files.of(FILE))
}

fn paths(setting: &Setting) -> Result<[(&'static str, Vec<f64>); 3]> {
    Ok([
        ("p_u", steady(setting.unacceptable, setting.horizon)?),
        ("p_a", steady(setting.acceptable, setting.horizon)?),
        ("learner", setting.learner()?),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proficiency::competence::learning::{LearningCusum, calibrate};

    /// Enough that a chance that is 2 in 100 off is found.
    const FEW: u32 = 10_000;

    #[test]
    fn simulated_trainees_pass_as_often_as_the_recursions_say() {
        let [setting, ..] = &SETTINGS;
        let mut number = 0;
        for (name, path) in paths(setting).unwrap() {
            for rule in setting.rules().unwrap() {
                number += 1;
                let found = simulated(&rule, &rule, &path, FEW, number).unwrap();
                let apart = found.errors.abs().max(found.services_errors.abs());
                assert!(apart < MOST_ERRORS, "{name}, {}: {found:?}", words(&rule));
            }
        }
        for mean in [1.5, 2.2] {
            let found = simulated_scores(setting, (1.5, 2.2, 0.5), mean, FEW, 99).unwrap();
            assert!(found.errors.abs() < MOST_ERRORS, "{found:?}");
        }
    }

    #[test]
    fn a_chart_that_passes_one_service_early_is_found() {
        let [setting, ..] = &SETTINGS;
        let chart = calibrate(setting.rates().unwrap(), setting.horizon, setting.alpha).unwrap().chart;
        let early = LearningCusum::new(chart.rates(), chart.limit() - chart.pass_score()).unwrap();
        let path = steady(setting.unacceptable, setting.horizon).unwrap();
        let found = simulated(&Rule::Learning(early), &Rule::Learning(chart), &path, FEW, 1).unwrap();
        assert!(found.errors > MOST_ERRORS, "{found:?}");
    }
}
