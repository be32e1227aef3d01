//! Results of services in a row, and a decision chart that rises or falls with each of them.

use super::look::plan_words;
use super::paper::{Axes, INK, Look, Paper, Shape, WIDTH, colour};
use practicum::section::Plan;

/// Height of a decision chart.
const HEIGHT: f64 = 340.0;
/// Most results that a row shows, so that each keeps a legible width; the table beside it has them all.
pub const ROW_RESULTS: usize = 30;
/// Farthest value that is drawn.
const FARTHEST: f64 = 1e6;
/// Most places that a decision chart keeps free for services to come.
const MOST_ROOM: u32 = 100;

const ACCEPTABLE: Look = Look { shape: Shape::Circle, colour: colour::BLUE, filled: true };
const NOT_ACCEPTABLE: Look = Look { shape: Shape::Cross, colour: colour::VERMILION, filled: true };
const BREACH: Look = Look { shape: Shape::Up, colour: colour::VERMILION, filled: true };
const NOT_COUNTED: Look = Look { shape: Shape::Dash, colour: "#7d7466", filled: true };

/// One service of a decision chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DecisionPoint {
    /// Value of the chart after it; `None` where the chart does not count it.
    pub value: Option<f64>,
    /// Acceptable or not; `None` while no mark counts.
    pub acceptable: Option<bool>,
    /// A safety breach.
    pub breach: bool,
}

/// A decision chart and its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision<'a> {
    /// Services in the order begun.
    pub points: &'a [DecisionPoint],
    /// Value that decides.
    pub line: f64,
    /// What reaching it means, in two or three words.
    pub line_words: &'a str,
    /// Place of the point that reached it first, from 0.
    pub reached: Option<usize>,
    /// What stands from there on.
    pub reached_words: &'a str,
    /// Services that may still come.
    pub room: u32,
    /// Words of the axis up.
    pub y_words: &'a str,
}

/// Draws the value after each service against the line that decides; breaches stand apart along the top.
pub fn decision(chart: &Decision<'_>) -> String {
    let line = Some(chart.line).filter(|line| *line > 0.0 && *line < FARTHEST);
    let value = |point: &DecisionPoint| {
        point.value.filter(|value| value.is_finite()).map(|value| value.clamp(-FARTHEST, FARTHEST))
    };
    let highest = chart.points.iter().filter_map(value).chain(line).fold(1.0, f64::max);
    // The sequential test goes below zero, and the others do not.
    let lowest = chart.points.iter().filter_map(value).fold(0.0, f64::min) * 1.2;
    let last = count(chart.points.len()) + f64::from(chart.room.min(MOST_ROOM));
    let x = (0.4, last.max(1.0) + 0.6);
    let axes = Axes { x, y: (lowest, highest * 1.3), x_words: "service of the trial", y_words: chart.y_words };
    let mut paper = Paper::with_axes(HEIGHT, &axes, &legend(chart.points.iter().map(kind)));
    if let Some(line) = line {
        let y = paper.up(line);
        paper.dashed(&format!("M{:.1} {y:.1}H{:.1}", paper.left(), paper.across(x.1)));
        // At the left a narrow screen shows it; what passes early would be covered there, and stays above the line.
        let (at, beside) = if chart.reached.is_some() { (paper.across(x.1), 16.0) } else { (paper.left(), -6.0) };
        paper.label(at, y + beside, chart.line_words);
    }
    let place = |paper: &Paper, at: usize| paper.across(count(at) + 1.0);
    let mut path = String::new();
    for (at, point) in chart.points.iter().enumerate() {
        if let Some(value) = value(point) {
            let command = if path.is_empty() { 'M' } else { 'L' };
            path.push_str(&format!("{command}{:.1} {:.1}", place(&paper, at), paper.up(value)));
        }
    }
    paper.path(&path, "none", Some(INK), 1.2);
    let reached = chart.reached.and_then(|at| Some((at, value(chart.points.get(at)?)?)));
    if let (Some((at, value)), Some(line)) = (reached, line) {
        let (x0, y0) = (place(&paper, at), paper.up(value));
        let y = paper.up(line);
        paper.path(&format!("M{x0:.1} {y:.1}H{:.1}", paper.across(x.1)), "none", Some(INK), 3.0);
        paper.path(&Shape::Circle.path(x0, y0, 9.0), "none", Some(INK), 2.0);
        let bottom = paper.bottom();
        paper.path(&format!("M{x0:.1} {:.1}V{bottom:.1}", y0 + 9.0), "none", Some(INK), 0.8);
        paper.label(x0, bottom - 14.0, chart.reached_words);
    }
    let r = if chart.points.len() > 150 { 2.5 } else { 4.5 };
    for look in [ACCEPTABLE, NOT_ACCEPTABLE, NOT_COUNTED] {
        let of = |(_, point): &(usize, &DecisionPoint)| look_of(point).shape == look.shape;
        let at: Vec<_> = chart.points.iter().enumerate().filter(of).collect();
        // What is not counted stands a little above the axis, which would hide it.
        let up = |point: &DecisionPoint| value(point).map_or(paper.bottom() - 8.0, |value| paper.up(value));
        let at: Vec<_> = at.into_iter().map(|(at, point)| (place(&paper, at), up(point))).collect();
        paper.marks(look, &at, r);
    }
    let broken = chart.points.iter().enumerate().filter(|(_, point)| point.breach);
    let top = paper.up(highest * 1.3) + 9.0;
    let broken: Vec<_> = broken.map(|(at, _)| (place(&paper, at), top)).collect();
    paper.marks(BREACH, &broken, 6.0);
    if chart.points.is_empty() {
        paper.nothing("No service of the trial is recorded yet.");
    }
    paper.end()
}

fn look_of(point: &DecisionPoint) -> Look {
    match (point.value, point.acceptable) {
        (None, _) | (_, None) => NOT_COUNTED,
        (_, Some(true)) => ACCEPTABLE,
        (_, Some(false)) => NOT_ACCEPTABLE,
    }
}

fn kind(point: &DecisionPoint) -> (Look, bool) {
    (look_of(point), point.breach)
}

/// Names the looks that are there.
fn legend(all: impl Iterator<Item = (Look, bool)> + Clone) -> Vec<(Look, String)> {
    let words = [
        (ACCEPTABLE, "acceptable"),
        (NOT_ACCEPTABLE, "not acceptable"),
        (NOT_COUNTED, "not counted here"),
        (BREACH, "safety breach"),
    ];
    let there =
        |look: &Look| all.clone().any(|(of, breach)| of.shape == look.shape || (breach && look.shape == BREACH.shape));
    words.into_iter().filter(|(look, _)| there(look)).map(|(look, words)| (look, words.to_owned())).collect()
}

/// Results of the assessed services at one plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ResultRow {
    /// The plan.
    pub plan: Option<Plan>,
    /// Number of each service, whether it was acceptable, whether safety was breached; in the order begun.
    pub results: Vec<(u32, bool, bool)>,
}

/// Draws the results of each plan as a plain row, the last [`ROW_RESULTS`] of each, and says how many there are.
pub fn results(rows: &[ResultRow]) -> String {
    let mut paper = Paper::blank(52.0 + 44.0 * count(rows.len().max(1)));
    let look = |result: &(u32, bool, bool)| (if result.1 { ACCEPTABLE } else { NOT_ACCEPTABLE }, result.2);
    paper.legend(&legend(rows.iter().flat_map(|row| row.results.iter().map(look))));
    const NAMES: f64 = 130.0;
    for (at, row) in rows.iter().enumerate() {
        let y = 58.0 + 44.0 * count(at);
        let shown = row.results.get(row.results.len().saturating_sub(ROW_RESULTS)..).unwrap_or_default();
        let step = ((WIDTH - NAMES - 110.0) / count(shown.len().max(1))).min(24.0);
        let place = |column: usize| NAMES + (count(column) + 0.5) * step;
        let of = |wanted: fn(&(u32, bool, bool)) -> bool, y: f64| -> Vec<(f64, f64)> {
            let found = shown.iter().enumerate().filter(|(_, result)| wanted(result));
            found.map(|(column, _)| (place(column), y)).collect()
        };
        paper.marks(ACCEPTABLE, &of(|result| result.1, y), 5.0);
        paper.marks(NOT_ACCEPTABLE, &of(|result| !result.1, y), 5.0);
        paper.marks(BREACH, &of(|result| result.2, y - 14.0), 5.0);
        paper.words(NAMES - 12.0, y + 4.0, "end", plan_words(row.plan));
        let good = row.results.iter().filter(|result| result.1).count();
        let words = format!("{good} of {}", row.results.len());
        paper.words(place(shown.len()) + 4.0, y + 4.0, "start", &words);
        let ends = [shown.first().map(|first| (0, first.0)), shown.last().map(|last| (shown.len() - 1, last.0))];
        let ends = ends.into_iter().flatten().take(shown.len());
        for (column, number) in ends {
            paper.words(place(column), y + 20.0, "middle", &number.to_string());
        }
    }
    if rows.is_empty() {
        paper.words(WIDTH / 2.0, 58.0, "middle", "No service is marked yet.");
    }
    paper.end()
}

/// Returns a small count as a number to draw with.
fn count(of: usize) -> f64 {
    f64::from(u32::try_from(of).unwrap_or(u32::MAX))
}
