//! Rules that decide on sign-off, compared at the same chance of a false pass; exact, nothing is drawn.
//!
//! Each kind may choose its own numbers: the smallest fixed number as strong as the learning CUSUM and the whole
//! horizon, both with their curtailed forms, passes in a row, so many of the last, the learning CUSUM, and
//! sequential tests that reject with different chances.

use anyhow::{Result, ensure};
use proficiency::competence::comparison::{Row, at_equal_alpha, compare, recommend, smallest_fixed};
use proficiency::competence::rules::Rule;
use proficiency::competence::sequential::Sequential;
use proficiency::competence::{Rates, learner, steady};

use super::Files;
use super::plot::{Frame, Picture, Series};
use super::table::Table;

/// Name of the results' file.
pub const FILE: &str = "rules.tsv";
/// Name of the plot.
pub const PLOT: &str = "rules.svg";
/// Power that is asked of a rule before learners count, as on the app's page for choosing.
const WANTED_POWER: f64 = 0.8;

/// Thresholds of an academy.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    /// Unacceptable failure rate.
    pub unacceptable: f64,
    /// Acceptable failure rate.
    pub acceptable: f64,
    /// Most services.
    pub horizon: u32,
    /// Chance of a false pass.
    pub alpha: f64,
}

/// What is compared; the first is the example course book's.
pub const SETTINGS: [Setting; 4] = [
    Setting { unacceptable: 0.4, acceptable: 0.05, horizon: 20, alpha: 0.1 },
    Setting { unacceptable: 0.4, acceptable: 0.1, horizon: 30, alpha: 0.05 },
    Setting { unacceptable: 0.3, acceptable: 0.1, horizon: 40, alpha: 0.1 },
    Setting { unacceptable: 0.3, acceptable: 0.1, horizon: 40, alpha: 0.05 },
];

const HEAD: [&str; 14] = [
    "setting",
    "rule",
    "kept",
    "recommended",
    "fewest",
    "false pass",
    "services at p_u",
    "pass",
    "services at p_a",
    "learner",
    "premature",
    "services of learner",
    "fixed of equal power",
    "its failures",
];

impl Setting {
    /// A few words for a table.
    pub fn name(&self) -> String {
        let Self { unacceptable, acceptable, horizon, alpha } = self;
        format!("{unacceptable:.2} / {acceptable:.2}, {horizon} services, alpha {alpha:.2}")
    }

    /// Its rates.
    ///
    /// # Errors
    /// When they do not lie in order.
    pub fn rates(&self) -> Result<Rates> {
        Ok(Rates::new(self.unacceptable, self.acceptable)?)
    }

    /// The failure rates of a learner: from .6 towards .05 with pace 8, so that skill comes in the end.
    ///
    /// # Errors
    /// When the horizon is out of range.
    pub fn learner(&self) -> Result<Vec<f64>> {
        Ok(learner(0.6, 0.05, 8.0, self.horizon)?)
    }

    /// The rules compared at equal alpha.
    ///
    /// # Errors
    /// When no rule can be worked out.
    pub fn rules(&self) -> Result<Vec<Rule>> {
        let rates = self.rates()?;
        let mut rules = at_equal_alpha(rates, self.horizon, self.alpha)?;
        let whole = rules.iter().find_map(|rule| match *rule {
            Rule::Fixed { services, failures } if services == self.horizon => {
                Some(Rule::Curtailed { services, failures })
            }
            _ => None,
        });
        let patient = Sequential::calibrated(rates, self.horizon, self.alpha, 0.001).ok().map(Rule::Sequential);
        for rule in whole.into_iter().chain(patient) {
            if !rules.contains(&rule) {
                rules.push(rule);
            }
        }
        Ok(rules)
    }
}

/// A rule in a few words.
pub fn words(rule: &Rule) -> String {
    match rule {
        Rule::Fixed { services, failures } => format!("{services} services, at most {failures} failed"),
        Rule::Curtailed { services, failures } => {
            format!("{services} services, at most {failures} failed, ended when certain")
        }
        Rule::InAll { passes } => format!("{passes} passes in all"),
        Rule::InARow { passes } => format!("{passes} passes in a row"),
        Rule::OfLast { window, failures } => format!("last {window} with at most {failures} failed"),
        Rule::Learning(chart) => format!("learning CUSUM, limit {:.3}", chart.limit()),
        Rule::Sequential(test) => {
            format!("sequential test, bounds {:.2} and {:.2}", test.pass_bound(), test.reject_bound())
        }
    }
}

/// Compares the rules of a setting, and which of them to recommend; those that do not keep alpha stand at the end.
///
/// # Errors
/// When nothing can be compared.
pub fn compared(setting: &Setting) -> Result<(Vec<Row>, Option<usize>)> {
    let mut rules = setting.rules()?;
    rules.extend([3, 5].map(|passes| Rule::InARow { passes }));
    rules.push(Rule::OfLast { window: 10, failures: 1 });
    let rows = compare(setting.rates()?, &setting.learner()?, &rules)?;
    let recommended = recommend(&rows, setting.alpha, WANTED_POWER);
    Ok((rows, recommended))
}

/// Works out all settings, and draws the first.
///
/// # Errors
/// When results cannot be kept.
pub fn run(files: &Files) -> Result<()> {
    let mut table = Table::new(&HEAD, 2);
    for setting in &SETTINGS {
        let (rows, recommended) = compared(setting)?;
        for (at, row) in rows.iter().enumerate() {
            table.put(cells(setting, row, recommended == Some(at))?)?;
        }
    }
    table.save(&files.of(FILE))?;
    let [first, ..] = &SETTINGS;
    std::fs::write(files.of(PLOT), picture(first)?)?;
    Ok(())
}

/// The results so far.
///
/// # Errors
/// When their file cannot be read.
pub fn results(files: &Files) -> Result<Table> {
    Table::new(&HEAD, 2).load(&files.of(FILE))
}

fn cells(setting: &Setting, row: &Row, recommended: bool) -> Result<Vec<String>> {
    let three = |value: f64| format!("{value:.3}");
    let one = |value: f64| format!("{value:.1}");
    // A hair less than its power, which is worked out by another sum.
    let equal = smallest_fixed(setting.rates()?, setting.alpha, row.acceptable.pass - 1e-9).ok();
    let yes = |yes: bool| if yes { "yes" } else { "no" }.to_owned();
    Ok(vec![
        setting.name(),
        words(&row.rule),
        yes(row.unacceptable.pass <= setting.alpha),
        yes(recommended),
        row.shortest.map_or_else(String::new, |fewest| fewest.to_string()),
        three(row.unacceptable.pass),
        one(row.unacceptable.services),
        three(row.acceptable.pass),
        one(row.acceptable.services),
        three(row.learner.pass),
        three(row.learner.premature),
        one(row.learner.services),
        equal.map_or_else(String::new, |fixed| fixed.0.to_string()),
        equal.map_or_else(String::new, |fixed| fixed.1.to_string()),
    ])
}

/// Chance of having passed after each service, at three paths.
fn picture(setting: &Setting) -> Result<String> {
    let horizon = f64::from(setting.horizon);
    let rules = setting.rules()?;
    let paths = [
        (format!("unacceptable rate {:.2}", setting.unacceptable), steady(setting.unacceptable, setting.horizon)?),
        (format!("acceptable rate {:.2}", setting.acceptable), steady(setting.acceptable, setting.horizon)?),
        ("a learner, .60 falling to .05".to_owned(), setting.learner()?),
    ];
    let mut picture = Picture::new(&format!("Chance of a pass by each service: {}", setting.name()), 3, 1);
    for (column, (title, path)) in paths.iter().enumerate() {
        let ticks: Vec<f64> = (0..=setting.horizon / 5).map(|tick| f64::from(tick * 5)).collect();
        let frame = Frame { title: title.clone(), across: (0.0, horizon), up: (0.0, 1.0), ticks_across: ticks };
        let mut panel = picture.panel(column, 0, &frame);
        if column == 0 {
            panel.level(setting.alpha, "alpha");
        }
        for (at, rule) in rules.iter().enumerate() {
            let course = rule.course(path)?;
            let places = (0..=usize::try_from(setting.horizon)?).map(|done| (done as f64, course.pass_by(done)));
            panel.line(&Series { place: at, name: words(rule) }, &places.collect::<Vec<_>>());
        }
    }
    ensure!(!rules.is_empty(), "no rule to draw");
    Ok(picture.finish(&rules.iter().map(words).collect::<Vec<_>>()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_called_kept_keep_alpha_and_one_of_them_is_recommended() {
        for setting in &SETTINGS {
            let (rows, recommended) = compared(setting).unwrap();
            let chosen = &rows[recommended.unwrap()];
            assert!(chosen.unacceptable.pass <= setting.alpha, "{chosen:?}");
            let kinds = rows.iter().filter(|row| row.unacceptable.pass <= setting.alpha).count();
            assert!(kinds >= 7, "{}: {kinds}", setting.name());
            // Five passes in a row are no proof at any of these thresholds.
            assert!(
                rows.iter().any(|row| row.rule == Rule::InARow { passes: 5 } && row.unacceptable.pass > setting.alpha)
            );
        }
    }
}
