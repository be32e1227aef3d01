//! `cargo xtask study`: what the intervals and forecasts are worth, on simulated academies.
//!
//! Everything is drawn from a seed, so that a run can be repeated to the last digit.

pub mod cell;
pub mod draw;
pub mod truth;

use std::fmt::Write as _;

use anyhow::{Context, Result};
use proficiency::group_curve::{Options, Scatter, Shape, Variances};

use crate::workspace::Workspace;
use cell::{AHEAD, Cell, Scores, middle, run as run_cell};
use truth::World;

const SEED: u64 = 20_260_101;
/// Where the results stand.
const RESULTS: &str = "app/proficiency/STUDY.md";
/// Size of a group, groups drawn, trainees scored of each: 1000 trainees or more in each cell.
const SIZES: [(usize, u32, usize); 4] = [(5, 210, 5), (12, 100, 12), (40, 50, 40), (300, 8, 150)];

/// Gates of the coverage of 80 % and 95 % intervals.
pub const COVERAGE_GATES: [(f64, f64); 2] = [(0.76, 0.88), (0.92, 0.98)];

/// Lowest share of targets reached by the service named at 80 %.
pub fn forecast_gate(world: World) -> f64 {
    if world == World::Plateau { 0.70 } else { 0.75 }
}

/// Runs the study and writes its tables; with `only`, the size of group named alone, printed and not written.
///
/// # Errors
/// When the file cannot be written.
pub fn run(workspace: &Workspace, only: Option<usize>) -> Result<()> {
    let mut text = String::from(HEAD);
    if let Some(only) = only {
        writeln!(text, "**Groups of {only} only**; `cargo xtask study` runs groups of 5, 12, 40 and 300.\n")?;
    }
    let sizes: Vec<_> = SIZES.into_iter().filter(|size| only.is_none_or(|only| only == size.0)).collect();
    let mut rows = Vec::new();
    for world in World::ALL {
        for (trainees, groups, scored) in &sizes {
            let (trainees, groups, scored) = (*trainees, *groups, *scored);
            let cell = Cell { world, trainees, groups, scored, options: Options::default() };
            eprintln!("{} {trainees}", world.name());
            rows.push((world, trainees, run_cell(&cell, SEED)));
        }
    }
    coverage(&mut text, &rows)?;
    forecasts(&mut text, &rows)?;
    ways(&mut text, only)?;
    if only.is_some() {
        println!("{text}");
        return Ok(());
    }
    std::fs::write(workspace.root.join(RESULTS), text).with_context(|| format!("cannot write {RESULTS}"))
}

const HEAD: &str = "\
# What intervals and forecasts are worth

Written by `cargo xtask study`; do not edit.
Simulated academies (`app/xtask/src/study/truth.rs`): sizes are guesses, there are no data on lash lifts.
Trainees are 6 to 29 services far and go from quarters over halves to the whole lash line; every service asked about is on the whole lash line.
Standard errors count groups, not trainees.
A gate holds when some value within two standard errors of the estimate lies inside it; one that does not is marked **!**.

";

fn shown(share: &cell::Share, low: f64, high: f64) -> String {
    if share.tries() == 0.0 {
        return "none".to_owned();
    }
    let mark = if share.can_be_within(low, high) { "" } else { " **!**" };
    format!("{:.3} ({:.3}){mark}", share.value(), share.error())
}

fn coverage(text: &mut String, rows: &[(World, usize, Scores)]) -> Result<()> {
    text.push_str("## Intervals of one service\n\nShare of services inside (standard error). Gates: .76 to .88 and .92 to .98.\n\n");
    text.push_str("| world | group | trainees | 80 %, +1 | 80 %, +5 | 80 %, +10 | 95 %, +1 | 95 %, +5 | 95 %, +10 |\n");
    text.push_str("|---|---|---|---|---|---|---|---|---|\n");
    for (world, trainees, scores) in rows {
        write!(text, "| {} | {trainees} | {} |", world.name(), scores.trainees)?;
        for (level, (low, high)) in COVERAGE_GATES.iter().enumerate() {
            for ahead in 0..AHEAD.len() {
                let share = scores.coverage.get(ahead).and_then(|both| both.get(level));
                write!(text, " {} |", share.map(|share| shown(share, *low, *high)).unwrap_or_default())?;
            }
        }
        text.push('\n');
    }
    text.push('\n');
    Ok(())
}

fn forecasts(text: &mut String, rows: &[(World, usize, Scores)]) -> Result<()> {
    text.push_str("## Services still needed\n\nShare of trainees whose typical service was within 2700 s by the service named (standard error), of forecasts that name the second service or a later one. Gate at 80 %: .75, with a plateau .70.\n\n");
    text.push_str("| world | group | at 50 % | at 80 % | at 95 % | named at 80 % | \"not reached\" and right | error at +10 | half width of 95 % |\n");
    text.push_str("|---|---|---|---|---|---|---|---|---|\n");
    for (world, trainees, scores) in rows {
        let [even, four, nineteen] = &scores.reached;
        writeln!(
            text,
            "| {} | {trainees} | {} | {} | {} | {:.0} | {} | {:.3} | {:.3} |",
            world.name(),
            shown(even, 0.0, 1.0),
            shown(four, forecast_gate(*world), 1.0),
            shown(nineteen, 0.0, 1.0),
            four.tries(),
            shown(&scores.never, 0.0, 1.0),
            middle(&scores.errors),
            middle(&scores.widths),
        )?;
    }
    text.push('\n');
    Ok(())
}

/// Ways to fit that were weighed against each other.
pub fn other_ways() -> [(&'static str, Options); 5] {
    let app = Options::default();
    [
        ("as the app fits", app.clone()),
        ("relearning over after 6", Options { relearning_floor: Some(6), ..app.clone() }),
        ("relearning never over", Options { relearning_floor: None, ..app.clone() }),
        ("power law alone", Options { shapes: vec![Shape::Power], ..app.clone() }),
        ("no weights, no penalty", Options { scatter: Scatter::Normal, variances: Variances::Plain, ..app }),
    ]
}

fn ways(text: &mut String, only: Option<usize>) -> Result<()> {
    text.push_str("## Ways to fit\n\n");
    text.push_str(
        "| world | group | way | 80 %, +10 | 95 %, +10 | at 50 % | at 80 % | error at +10 | half width of 95 % |\n",
    );
    text.push_str("|---|---|---|---|---|---|---|---|---|\n");
    for world in [World::Rough, World::Plateau, World::Floor] {
        for (trainees, groups) in [(5, 240), (12, 100), (40, 30)] {
            if only.is_some_and(|only| only != trainees) {
                continue;
            }
            for (name, options) in other_ways() {
                let cell = Cell { world, trainees, groups, scored: trainees, options };
                let scores = run_cell(&cell, SEED);
                let [_, _, [near, far]] = &scores.coverage;
                let [even, four, _] = &scores.reached;
                writeln!(
                    text,
                    "| {} | {trainees} | {name} | {} | {} | {} | {} | {:.3} | {:.3} |",
                    world.name(),
                    shown(near, 0.76, 0.88),
                    shown(far, 0.92, 0.98),
                    shown(even, 0.0, 1.0),
                    shown(four, forecast_gate(world), 1.0),
                    middle(&scores.errors),
                    middle(&scores.widths),
                )?;
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The study in small: few groups, the same gates.
    #[test]
    fn intervals_and_forecasts_keep_their_word() {
        for world in World::ALL {
            let cell = Cell { world, trainees: 12, groups: 40, scored: 12, options: Options::default() };
            let scores = run_cell(&cell, SEED);
            assert_eq!((scores.trainees, scores.without), (40 * 12, 0), "{world:?}");
            for (share, (low, high)) in scores.coverage.iter().flat_map(|both| both.iter().zip(COVERAGE_GATES)) {
                let (value, error) = (share.value(), share.error());
                assert!(share.can_be_within(low, high), "{world:?}: {value} ({error}) outside {low} to {high}");
            }
            let [_, four, _] = &scores.reached;
            let (value, error) = (four.value(), four.error());
            assert!(four.can_be_within(forecast_gate(world), 1.0), "{world:?}: {value} ({error}) at 80 %");
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_study() {
        let options = Options { shapes: vec![Shape::Power], ..Options::default() };
        let cell = Cell { world: World::Rough, trainees: 5, groups: 3, scored: 5, options };
        assert_eq!(run_cell(&cell, 1).errors, run_cell(&cell, 1).errors);
        assert_ne!(run_cell(&cell, 1).errors, run_cell(&cell, 2).errors);
    }
}
