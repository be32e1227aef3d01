//! Intervals and forecasts: every world, size of group and way to fit, as rows of a table.

use std::time::Instant;

use anyhow::Result;
use proficiency::group_curve::{Options, Scatter, Shape, Variances};

use super::cell::{AHEAD, Cell, Scores, Share, middle, run};
use super::table::{Row, Table};
use super::truth::World;
use super::{Files, SEED};

/// Name of the results' file.
pub const FILE: &str = "intervals.tsv";
/// How the app itself fits.
pub const AS_THE_APP: &str = "as the app fits";
/// Size of a group, groups drawn, trainees scored of each: 1000 trainees or more in each cell.
pub const SIZES: [(usize, u32, usize); 5] = [(3, 350, 3), (5, 400, 5), (12, 160, 12), (40, 60, 40), (300, 20, 60)];
/// The same, to weigh ways to fit against each other.
const SIZES_OF_WAYS: [(usize, u32, usize); 2] = [(12, 100, 12), (40, 30, 40)];
/// Worlds in which ways to fit are weighed against each other.
const WORLDS_OF_WAYS: [World; 3] = [World::Rough, World::Plateau, World::Floor];
/// Gates of the coverage of 80 % and 95 % intervals.
pub const COVERAGE_GATES: [(f64, f64); 2] = [(0.76, 0.88), (0.92, 0.98)];
/// Levels of the intervals, in per cent.
pub const LEVELS: [u32; 2] = [80, 95];
/// Chances of the forecasts, in per cent.
pub const CHANCES: [u32; 3] = [50, 80, 95];

const HEAD: [&str; 35] = [
    "world",
    "group",
    "way",
    "seed",
    "groups",
    "trainees",
    "without",
    "minutes",
    "cover 80 +1",
    "cover 80 +1 se",
    "cover 95 +1",
    "cover 95 +1 se",
    "cover 80 +5",
    "cover 80 +5 se",
    "cover 95 +5",
    "cover 95 +5 se",
    "cover 80 +10",
    "cover 80 +10 se",
    "cover 95 +10",
    "cover 95 +10 se",
    "reached 50",
    "reached 50 se",
    "reached 50 of",
    "reached 80",
    "reached 80 se",
    "reached 80 of",
    "reached 95",
    "reached 95 se",
    "reached 95 of",
    "never",
    "never se",
    "never of",
    "error",
    "half width",
    "scored",
];

/// Lowest share of targets reached by the service named at 80 %.
pub fn forecast_gate(world: World) -> f64 {
    if world == World::Plateau { 0.70 } else { 0.75 }
}

/// The results so far.
///
/// # Errors
/// When their file cannot be read.
pub fn results(files: &Files) -> Result<Table> {
    Table::new(&HEAD, 3).load(&files.of(FILE))
}

/// Ways to fit that are weighed against the app's.
pub fn other_ways() -> [(&'static str, Options); 4] {
    let app = Options::default();
    [
        ("relearning over after 6", Options { relearning_floor: Some(6), ..app.clone() }),
        ("relearning never over", Options { relearning_floor: None, ..app.clone() }),
        ("power law alone", Options { shapes: vec![Shape::Power], ..app.clone() }),
        ("no weights, no penalty", Options { scatter: Scatter::Normal, variances: Variances::Plain, ..app }),
    ]
}

/// Runs every world with the app's way to fit; with `only`, the size of group named alone.
///
/// # Errors
/// When the results cannot be kept.
pub fn run_all(files: &Files, only: Option<usize>) -> Result<()> {
    for (trainees, groups, scored) in SIZES.into_iter().filter(|size| only.is_none_or(|only| only == size.0)) {
        for world in World::ALL {
            let cell = Cell { world, trainees, groups, scored, options: Options::default() };
            keep(files, &cell, AS_THE_APP)?;
        }
    }
    Ok(())
}

/// Runs the other ways to fit, on the same groups.
///
/// # Errors
/// When the results cannot be kept.
pub fn run_ways(files: &Files, only: Option<usize>) -> Result<()> {
    for (trainees, groups, scored) in SIZES_OF_WAYS.into_iter().filter(|size| only.is_none_or(|only| only == size.0)) {
        for (way, options) in other_ways() {
            for world in WORLDS_OF_WAYS {
                keep(files, &Cell { world, trainees, groups, scored, options: options.clone() }, way)?;
            }
        }
    }
    Ok(())
}

fn keep(files: &Files, cell: &Cell, way: &str) -> Result<()> {
    let began = Instant::now();
    let scores = run(cell, SEED);
    let minutes = began.elapsed().as_secs_f64() / 60.0;
    eprintln!("{}, groups of {}, {way}: {minutes:.1} min", cell.world.name(), cell.trainees);
    let mut table = results(files)?;
    table.put(row(cell, way, &scores, minutes))?;
    table.save(&files.of(FILE))
}

fn row(cell: &Cell, way: &str, scores: &Scores, minutes: f64) -> Vec<String> {
    let mut row = vec![cell.world.name().to_owned(), cell.trainees.to_string(), way.to_owned(), SEED.to_string()];
    row.extend([cell.groups, scores.trainees, scores.without].map(|count| count.to_string()));
    row.push(format!("{minutes:.1}"));
    let both = |share: &Share| [share.value(), share.error()].map(|value| format!("{value:.4}"));
    row.extend(scores.coverage.iter().flatten().flat_map(both));
    for share in scores.reached.iter().chain([&scores.never]) {
        row.extend(both(share));
        row.push(format!("{:.0}", share.tries()));
    }
    row.extend([middle(&scores.errors), middle(&scores.widths)].map(|value| format!("{value:.4}")));
    row.push(cell.scored.to_string());
    row
}

/// The world of a row.
pub fn world(row: &Row<'_>) -> Option<World> {
    World::ALL.into_iter().find(|world| world.name() == row.text("world"))
}

/// Names of the columns with the coverage at a level so many services ahead.
pub fn coverage_column(level: u32, ahead: u32) -> String {
    format!("cover {level} +{ahead}")
}

/// Whether a share of a row can lie from `low` to `high`: some value within two standard errors does.
///
/// A share of no trainees can lie anywhere.
pub fn can_be_within(row: &Row<'_>, column: &str, low: f64, high: f64) -> bool {
    let (value, error) = (row.number(column), row.number(&format!("{column} se")));
    let reach = if error.is_finite() { 2.0 * error } else { f64::INFINITY };
    value.is_nan() || (value + reach >= low && value - reach <= high)
}

/// Gates that a row does not hold, in words; with the app's way to fit there should be none.
pub fn broken(row: &Row<'_>) -> Vec<String> {
    let mut broken = Vec::new();
    for (level, (low, high)) in LEVELS.into_iter().zip(COVERAGE_GATES) {
        for ahead in AHEAD {
            let column = coverage_column(level, ahead);
            if !can_be_within(row, &column, low, high) {
                broken.push(format!("{level} % intervals, +{ahead}"));
            }
        }
    }
    if world(row).is_some_and(|world| !can_be_within(row, "reached 80", forecast_gate(world), 1.0)) {
        broken.push("forecasts at 80 %".to_owned());
    }
    broken
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The study in small: few groups, the same gates.
    #[test]
    fn intervals_and_forecasts_keep_their_word() {
        let mut table = Table::new(&HEAD, 3);
        for world in World::ALL {
            let cell = Cell { world, trainees: 12, groups: 40, scored: 12, options: Options::default() };
            let scores = run(&cell, SEED);
            assert_eq!((scores.trainees, scores.without), (40 * 12, 0), "{world:?}");
            table.put(row(&cell, AS_THE_APP, &scores, 0.0)).unwrap();
        }
        for row in table.rows() {
            assert_eq!(broken(&row), Vec::<String>::new(), "{row:?}");
        }
    }

    /// Times that come to rest, and a fit that does not know of it: the same gates say so.
    #[test]
    fn a_way_to_fit_that_promises_too_much_breaks_a_gate() {
        let options = Options { shapes: vec![Shape::Power], relearning_floor: None, ..Options::default() };
        let cell = Cell { world: World::Plateau, trainees: 12, groups: 40, scored: 12, options };
        let mut table = Table::new(&HEAD, 3);
        table.put(row(&cell, "power law alone", &run(&cell, SEED), 0.0)).unwrap();
        let row = table.rows().next().unwrap();
        assert!(broken(&row).contains(&"forecasts at 80 %".to_owned()), "{row:?}");
    }

    #[test]
    fn the_same_seed_gives_the_same_study() {
        let options = Options { shapes: vec![Shape::Power], ..Options::default() };
        let cell = Cell { world: World::Rough, trainees: 5, groups: 3, scored: 5, options };
        assert_eq!(run(&cell, 1).errors, run(&cell, 1).errors);
        assert_ne!(run(&cell, 1).errors, run(&cell, 2).errors);
    }
}
