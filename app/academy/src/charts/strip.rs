//! Marks by criterion and service, and services by plan.

use practicum::course_book::Mark;
use practicum::section::Plan;

use super::look::{of_mark, of_plan, plan_words};
use super::paper::{INK, Look, Paper, Shape, WIDTH, colour};

/// Most services that a strip shows, so that each keeps a legible width; the table beside it has them all.
pub const STRIP_SERVICES: usize = 40;

/// Marks of one service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Number of the service, from 1.
    pub number: u32,
    /// Level of each criterion from 0 to 3, in the order of the criteria; `None` where it was not marked.
    pub marks: Vec<Option<u8>>,
    /// Whether the service had a safety breach.
    pub breach: bool,
}

/// Width of the words beside the strip.
const NAMES: f64 = 210.0;
/// Height of a row.
const ROW: f64 = 24.0;
/// Where the first row begins.
const TOP: f64 = 78.0;

/// Draws the marks as a grid: shape, shade and figure (1 to 4) say the level, a flag says a safety breach.
///
/// It shows the last [`STRIP_SERVICES`] services and says so when there are more.
pub fn rubric_strip(criteria: &[String], columns: &[Column]) -> String {
    let shown = columns.get(columns.len().saturating_sub(STRIP_SERVICES)..).unwrap_or_default();
    let mut paper = Paper::blank(TOP + ROW * count(criteria.len().max(1)) + 34.0);
    paper.legend(&strip_legend());
    if shown.len() < columns.len() {
        paper.words(WIDTH - 8.0, 40.0, "end", &format!("the last {} of {} services", shown.len(), columns.len()));
    }
    let step = ((WIDTH - NAMES - 10.0) / count(shown.len().max(1))).min(32.0);
    let across = |column: usize| NAMES + (count(column) + 0.5) * step;
    let down = |row: usize| TOP + (count(row) + 0.5) * ROW;
    for mark in Mark::ALL {
        let at: Vec<_> = cells(criteria, shown)
            .filter(|(_, _, level)| level.and_then(Mark::from_number) == Some(mark))
            .map(|(column, row, _)| (across(column), down(row)))
            .collect();
        paper.marks(of_mark(mark), &at, (step / 2.0 - 1.0).min(10.0));
    }
    let none: Vec<_> = cells(criteria, shown)
        .filter(|(_, _, level)| level.and_then(Mark::from_number).is_none())
        .map(|(column, row, _)| (across(column), down(row)))
        .collect();
    paper.marks(NOT_MARKED, &none, 3.0);
    for (row, name) in criteria.iter().enumerate() {
        paper.words(NAMES - 10.0, down(row) + 4.0, "end", &short(name, 28));
        let figures: Vec<_> = cells(criteria, shown)
            .filter(|(_, of, _)| *of == row)
            .filter_map(|(column, _, level)| {
                let mark = level.and_then(Mark::from_number)?;
                Some((across(column), char::from_digit(u32::from(mark.number()) + 1, 10)?))
            })
            .collect();
        paper.letters(&figures, down(row) + 4.0);
    }
    let breaches: Vec<_> =
        shown.iter().enumerate().filter(|(_, column)| column.breach).map(|(at, _)| (across(at), TOP - 9.0)).collect();
    paper.marks(BREACH, &breaches, 6.0);
    numbers(&mut paper, shown, across, TOP + ROW * count(criteria.len().max(1)));
    if columns.is_empty() {
        paper.words((NAMES + WIDTH) / 2.0, TOP + ROW / 2.0 + 4.0, "middle", "No service is marked yet.");
    }
    paper.end()
}

const BREACH: Look = Look { shape: Shape::Up, colour: colour::VERMILION, filled: true };
const NOT_MARKED: Look = Look { shape: Shape::Dash, colour: "#7d7466", filled: true };

fn strip_legend() -> Vec<(Look, String)> {
    let mut legend: Vec<_> =
        Mark::ALL.map(|mark| (of_mark(mark), format!("{} {}", mark.number() + 1, mark.word()))).to_vec();
    legend.push((NOT_MARKED, "not marked".to_owned()));
    legend.push((BREACH, "safety breach".to_owned()));
    legend
}

/// Lists column, row and level of every cell.
fn cells<'a>(criteria: &'a [String], shown: &'a [Column]) -> impl Iterator<Item = (usize, usize, Option<u8>)> + 'a {
    let rows = criteria.len();
    shown
        .iter()
        .enumerate()
        .flat_map(move |(at, column)| (0..rows).map(move |row| (at, row, column.marks.get(row).copied().flatten())))
}

/// Writes numbers of services under the strip, at most fourteen of them.
fn numbers(paper: &mut Paper, shown: &[Column], across: impl Fn(usize) -> f64, bottom: f64) {
    let every = shown.len().div_ceil(14).max(1);
    for (at, column) in shown.iter().enumerate().step_by(every) {
        paper.words(across(at), bottom + 14.0, "middle", &column.number.to_string());
    }
    paper.words(NAMES - 10.0, bottom + 14.0, "end", "service number");
}

/// Draws services by plan: an outline for all that were planned or worked, a filled bar for those that count.
pub fn services_per_plan(bars: &[(Option<Plan>, u32, u32)]) -> String {
    let mut paper = Paper::blank(64.0 + 40.0 * count(bars.len().max(1)));
    let legend = [
        (Look { shape: Shape::Square, colour: INK, filled: false }, "all services (outline)".to_owned()),
        (Look { shape: Shape::Square, colour: colour::SKY, filled: true }, "of these, counted (filled)".to_owned()),
    ];
    paper.legend(&legend);
    let most = bars.iter().map(|(_, all, counted)| (*all).max(*counted)).max().unwrap_or(0).max(1);
    let wide = |value: u32| f64::from(value) / f64::from(most) * (WIDTH - 330.0);
    for (row, (plan, all, counted)) in bars.iter().enumerate() {
        let y = 44.0 + 40.0 * count(row);
        let bar = |value: u32, inset: f64| {
            let (top, bottom) = (y + inset, y + 26.0 - inset);
            format!("M160 {top:.1}H{:.1}V{bottom:.1}H160z", 160.0 + wide(value))
        };
        let look = of_plan(*plan, false);
        if *counted > 0 {
            paper.path(&bar(*counted, 5.0), look.colour, None, 0.0);
        }
        if *all > 0 {
            paper.path(&bar(*all, 0.0), "none", Some(INK), 1.5);
        }
        paper.marks(look, &[(18.0, y + 13.0)], 5.0);
        paper.words(30.0, y + 17.0, "start", plan_words(*plan));
        paper.words(
            168.0 + wide((*all).max(*counted)),
            y + 17.0,
            "start",
            &format!("{all}, of these counted {counted}"),
        );
    }
    if bars.is_empty() {
        paper.nothing("No service is recorded yet.");
    }
    paper.end()
}

fn short(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}

/// Returns a small count as a number to draw with.
fn count(of: usize) -> f64 {
    f64::from(u32::try_from(of).unwrap_or(u32::MAX))
}
