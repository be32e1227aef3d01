//! Hands-on time by service with the fitted curve, its ranges, and the services to come.

use practicum::section::Plan;

use super::look::{of_plan, plan_words};
use super::paper::{Axes, INK, Look, Paper, Shape, text_width};
use super::times::{TargetStep, minutes, steps};

/// Height of the drawing.
const HEIGHT: f64 = 420.0;
/// Services beyond those drawn that a mark may stretch the axis by.
const STRETCH: u32 = 30;

/// One service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CurvePoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// Its time in seconds.
    pub seconds: u32,
    /// Its section plan.
    pub plan: Option<Plan>,
    /// Whether its time counts in the curve.
    pub counted: bool,
}

/// The curve at one service, in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandPoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// Typical time.
    pub typical: f64,
    /// Range of the typical time.
    pub range: (f64, f64),
    /// Range of a single service.
    pub single: (f64, f64),
}

/// The curve at one plan, so far or to come.
#[derive(Debug, Clone, PartialEq)]
pub struct CurvePart {
    /// The plan.
    pub plan: Plan,
    /// Places on it, in the order of their numbers.
    pub points: Vec<BandPoint>,
    /// Whether these are services to come.
    pub to_come: bool,
}

/// A mark on the axis across.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChanceMark {
    /// Number of the service.
    pub number: u32,
    /// What it says, in a few words.
    pub words: String,
}

/// Everything that is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurveDrawing<'a> {
    /// Services so far.
    pub services: &'a [CurvePoint],
    /// Parts of the curve; none where too little is known.
    pub parts: &'a [CurvePart],
    /// The target where it may be shown.
    pub target: &'a [TargetStep],
    /// When the target is reached, with which chance.
    pub marks: &'a [ChanceMark],
    /// Words of the axis up.
    pub y_words: &'a str,
}

/// Draws services, curve, ranges, target and marks.
///
/// The range of the typical time is tinted, outlined, and hatched where services have been; the range of a single
/// service lies between dotted lines; what is to come is dashed.
pub fn curve(drawing: &CurveDrawing<'_>) -> String {
    let sound = |point: &&BandPoint| {
        let all = [point.typical, point.range.0, point.range.1, point.single.0, point.single.1];
        all.iter().all(|seconds| seconds.is_finite() && *seconds >= 0.0)
    };
    let parts: Vec<CurvePart> = drawing
        .parts
        .iter()
        .map(|part| CurvePart { points: part.points.iter().filter(sound).copied().collect(), ..part.clone() })
        .filter(|part| !part.points.is_empty())
        .collect();
    let all = || parts.iter().flat_map(|part| &part.points);
    let times = drawing.services.iter().map(|point| minutes(point.seconds));
    let highest = times.chain(all().map(|point| point.typical / 60.0)).fold(0.0, f64::max);
    let widest = all().map(|point| point.single.1 / 60.0).fold(highest, f64::max);
    let target = drawing.target.iter().map(|step| minutes(step.seconds)).fold(0.0, f64::max);
    // A range wider than all the times is cut off at the edge, so that the times stay legible.
    let y_max = (widest.min(highest * 1.6).max(target) * 1.1).max(5.0);
    let numbers = || drawing.services.iter().map(|point| point.number).chain(all().map(|point| point.number));
    let (first, drawn) = (numbers().min().unwrap_or(1), numbers().max().unwrap_or(1));
    let farthest = drawn.saturating_add(STRETCH);
    let last = drawing.marks.iter().map(|mark| mark.number).filter(|number| *number <= farthest).max();
    let last = last.map_or(drawn, |last| last.max(drawn));
    let x = (f64::from(first) - 0.6, f64::from(last) + 0.6);
    let y_words: String = drawing.y_words.chars().take(48).collect();
    let axes = Axes { x, y: (0.0, y_max), x_words: "live service number", y_words: &y_words };
    let mut paper = Paper::with_axes(HEIGHT, &axes, &legend(drawing.services));
    for part in &parts {
        draw_part(&mut paper, part, y_max);
    }
    steps(&mut paper, drawing.target);
    draw_services(&mut paper, drawing.services);
    for part in parts.iter().filter(|part| part.to_come) {
        if let Some(end) = part.points.last() {
            let y = paper.up((end.single.0 / 60.0).min(y_max)) + 18.0;
            let words = format!("{}, to come", part.plan.word());
            paper.label(paper.across(f64::from(end.number)) - text_width(&words), y, &words);
        }
    }
    draw_marks(&mut paper, drawing.marks, last);
    if drawing.services.is_empty() && parts.is_empty() {
        paper.nothing("No time is recorded yet.");
    }
    paper.end()
}

/// One place of a part on the paper: across, then typical, range and single range up.
type Edge = (f64, [f64; 5]);

/// Places of a run on the paper; a single one is drawn a little wide, so that it can be seen.
fn edges(paper: &Paper, run: &[BandPoint], y_max: f64) -> Vec<Edge> {
    let up = |seconds: f64| paper.up((seconds / 60.0).min(y_max));
    let heights =
        |point: &BandPoint| [point.typical, point.range.0, point.range.1, point.single.0, point.single.1].map(up);
    match run {
        [one] => {
            let number = f64::from(one.number);
            [number - 0.35, number + 0.35].map(|number| (paper.across(number), heights(one))).to_vec()
        }
        _ => run.iter().map(|point| (paper.across(f64::from(point.number)), heights(point))).collect(),
    }
}

/// Returns a line through one of the heights.
fn line(edges: &[Edge], which: usize) -> String {
    let mut path = String::new();
    for (x, heights) in edges {
        let command = if path.is_empty() { 'M' } else { 'L' };
        path.push_str(&format!("{command}{x:.1} {:.1}", heights.get(which).copied().unwrap_or_default()));
    }
    path
}

fn draw_part(paper: &mut Paper, part: &CurvePart, y_max: f64) {
    let look = of_plan(Some(part.plan), false);
    let (mut fill, mut outline, mut hatch, mut typical, mut single) =
        (String::new(), String::new(), String::new(), String::new(), String::new());
    for run in part.points.chunk_by(|one, next| one.number.checked_add(1) == Some(next.number)) {
        let edges = edges(paper, run, y_max);
        let back: Vec<Edge> = edges.iter().rev().copied().collect();
        fill.push_str(&format!("{}{}z", line(&edges, 1), line(&back, 2).replacen('M', "L", 1)));
        outline.push_str(&line(&edges, 1));
        outline.push_str(&line(&edges, 2));
        typical.push_str(&line(&edges, 0));
        single.push_str(&line(&edges, 3));
        single.push_str(&line(&edges, 4));
        for (x, [_, low, high, ..]) in &edges {
            hatch.push_str(&format!("M{x:.1} {low:.1}V{high:.1}"));
        }
    }
    // The tint is the plan's colour, nearly transparent, so that the lines of the axes show through.
    paper.path(&fill, &format!("{}26", look.colour), None, 0.0);
    paper.dashed_in(&single, look.colour, 1.2, "1.5 3.5");
    if part.to_come {
        paper.dashed_in(&outline, look.colour, 1.2, "5 3");
        paper.dashed_in(&typical, look.colour, 2.4, "8 5");
    } else {
        paper.path(&hatch, "none", Some(look.colour), 0.6);
        paper.path(&outline, "none", Some(look.colour), 1.0);
        paper.path(&typical, "none", Some(look.colour), 2.4);
    }
}

fn draw_services(paper: &mut Paper, services: &[CurvePoint]) {
    let r = if services.len() > 150 { 2.5 } else { 4.5 };
    let plans = || Plan::ALL.into_iter().map(Some).chain([None]);
    for (plan, counted) in plans().flat_map(|plan| [(plan, true), (plan, false)]) {
        let of_look = services.iter().filter(|point| point.plan == plan && point.counted == counted);
        let at: Vec<_> =
            of_look.map(|point| (paper.across(f64::from(point.number)), paper.up(minutes(point.seconds)))).collect();
        paper.marks(of_plan(plan, !counted), &at, r);
    }
    for plan in plans() {
        let last = services.iter().filter(|point| point.plan == plan).max_by_key(|point| point.number);
        if let Some(last) = last {
            let (x, y) = (paper.across(f64::from(last.number)), paper.up(minutes(last.seconds)));
            paper.label(x, y - 14.0, plan_words(plan));
        }
    }
}

/// Marks the services at which the target is reached; one beyond the drawing is named at its edge.
fn draw_marks(paper: &mut Paper, marks: &[ChanceMark], last: u32) {
    let bottom = paper.bottom();
    for mark in marks {
        let x = paper.across(f64::from(mark.number.min(last)));
        if mark.number > last {
            let words = format!("{}: no. {} →", mark.words, mark.number);
            paper.label(x, bottom - 62.0, &words);
            continue;
        }
        paper.path(&format!("M{x:.1} {bottom:.1}v-46"), "none", Some(INK), 1.0);
        paper.marks(Look { shape: Shape::Up, colour: INK, filled: true }, &[(x, bottom - 6.0)], 6.0);
        // Near the right edge the words stand before their line, so that the edge does not push them onto it.
        let wide = text_width(&mark.words);
        let before = x + wide + 12.0 > paper.across(f64::from(last));
        paper.label(if before { x - wide - 16.0 } else { x }, bottom - 24.0, &mark.words);
    }
}

fn legend(services: &[CurvePoint]) -> Vec<(Look, String)> {
    let plans = Plan::ALL.into_iter().map(Some).chain([None]);
    let there = plans.filter(|plan| services.iter().any(|point| point.plan == *plan));
    let mut legend: Vec<_> = there.map(|plan| (of_plan(plan, false), plan_words(plan).to_owned())).collect();
    if services.iter().any(|point| !point.counted) {
        let hollow = Look { shape: Shape::Circle, colour: INK, filled: false };
        legend.push((hollow, "hollow: does not count in the curve".to_owned()));
    }
    legend
}
