//! Times by service: service time with its parts, and dwells beside.

use practicum::couch::times::DwellJudgement;
use practicum::eye::Eye;
use practicum::moment::Seconds;
use practicum::order::InOrder;
use practicum::product::ProductKind;
use practicum::section::Plan;

use super::Drawing;
use super::look::{of_dwell, of_plan, plan_words};
use super::paper::{Axes, INK, Look, Paper, Shape, colour};

/// Height of a drawing of times.
const HEIGHT: f64 = 380.0;

/// Times of one service, in seconds; `None` where nobody knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimePoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// Its section plan.
    pub plan: Option<Plan>,
    /// Whether sections were mixed.
    pub mixed: bool,
    /// Service time.
    pub service: Option<Seconds>,
    /// Hands-on time.
    pub hands_on: Option<Seconds>,
    /// Waiting.
    pub waiting: Option<Seconds>,
    /// Instructor checks.
    pub checks: Option<Seconds>,
    /// Pauses.
    pub pauses: Option<Seconds>,
}

impl TimePoint {
    /// Returns the parts in the order of the stack, when all of them are known.
    fn parts(&self) -> Option<[Seconds; 4]> {
        Some([self.hands_on?, self.waiting?, self.checks?, self.pauses?])
    }

    /// Returns the service time: as recorded, or the sum of its parts.
    fn total(&self) -> Option<Seconds> {
        self.service.or_else(|| self.parts().map(|parts| parts.into_iter().fold(0, Seconds::saturating_add)))
    }
}

/// One dwell of one eye.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DwellPoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// What dwelt.
    pub product: ProductKind,
    /// On which eye.
    pub eye: Eye,
    /// For how long.
    pub seconds: Seconds,
    /// How it is judged.
    pub judgement: DwellJudgement,
}

/// A target over services that follow each other at one plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TargetStep {
    /// Number of the first service, from 1.
    pub from: u32,
    /// Number of the last service.
    pub to: u32,
    /// The target, in seconds.
    pub seconds: Seconds,
    /// The plan whose target it is.
    pub plan: Plan,
}

const PARTS: [(&str, &str); 4] =
    [("hands-on", colour::SKY), ("waiting", "#DDD6C9"), ("checks", colour::YELLOW), ("pauses", colour::ORANGE)];

/// Draws service times as a stack of their parts, with a point by plan and the target as a stepped line.
///
/// A service whose parts are not all known has a point and no stack.
pub fn service_time(points: &[TimePoint], target: &[TargetStep]) -> String {
    let totals: Vec<_> =
        points.iter().filter_map(|p| p.total().map(|total| (p.number, total, p.plan, p.mixed))).collect();
    let mut legend: Vec<(Look, String)> = PARTS
        .iter()
        .map(|(words, colour)| (Look { shape: Shape::Square, colour, filled: true }, (*words).to_owned()))
        .collect();
    legend.extend(plan_legend(&totals, !target.is_empty()));
    let mut paper = sheet(&totals, target, &legend, "service time, minutes");
    for (part, (_, colour)) in PARTS.iter().enumerate() {
        let path: String = points.iter().filter_map(|point| bar(&paper, point, part)).collect();
        paper.path(&path, colour, None, 0.0);
    }
    finish(paper, &totals, target)
}

/// Draws dwells by service: the shape points to the eye's side, a further sign says what was wrong.
pub fn dwells(points: &[DwellPoint]) -> String {
    let series: Vec<_> = ProductKind::ALL
        .into_iter()
        .flat_map(|product| Eye::BOTH.map(|eye| (product, eye)))
        .filter(|(product, eye)| points.iter().any(|point| point.product == *product && point.eye == *eye))
        .collect();
    let mut legend: Vec<_> = series
        .iter()
        .map(|(product, eye)| (of_dwell(*product, *eye), format!("{}, {}", product.word(), eye.word())))
        .collect();
    let judged: Vec<_> =
        SIGNS.iter().filter(|(judgement, _)| points.iter().any(|p| p.judgement == *judgement)).collect();
    legend.extend(judged.iter().map(|(judgement, look)| (*look, judgement.word().to_owned())));
    let totals: Vec<_> = points.iter().map(|point| (point.number, point.seconds, None, false)).collect();
    let mut paper = sheet(&totals, &[], &legend, "dwell, minutes");
    let place = |paper: &Paper, point: &DwellPoint| {
        let shift = if point.eye == Eye::Left { -0.22 } else { 0.22 };
        (paper.across(f64::from(point.number) + shift), paper.up(minutes(point.seconds)))
    };
    for (product, eye) in series {
        let at: Vec<_> =
            points.iter().filter(|p| p.product == product && p.eye == eye).map(|point| place(&paper, point)).collect();
        paper.marks(of_dwell(product, eye), &at, 4.0);
    }
    for (judgement, look) in judged {
        let at: Vec<_> =
            points.iter().filter(|p| p.judgement == *judgement).map(|point| place(&paper, point)).collect();
        paper.marks(*look, &at, 8.0);
    }
    if points.is_empty() {
        paper.nothing("No dwell is recorded yet.");
    }
    paper.end()
}

/// Signs over a dwell that was not within its window.
const SIGNS: [(DwellJudgement, Look); 5] = [
    (DwellJudgement::Short, Look { shape: Shape::Dash, colour: INK, filled: true }),
    (DwellJudgement::Late, Look { shape: Shape::Plus, colour: INK, filled: true }),
    (DwellJudgement::Overrun, Look { shape: Shape::Cross, colour: INK, filled: true }),
    (DwellJudgement::PastLabel, Look { shape: Shape::Cross, colour: colour::VERMILION, filled: true }),
    (DwellJudgement::Interrupted, Look { shape: Shape::Dash, colour: colour::VERMILION, filled: true }),
];

type Total = (u32, Seconds, Option<Plan>, bool);

pub(super) fn minutes(seconds: Seconds) -> f64 {
    f64::from(seconds) / 60.0
}

fn sheet(totals: &[Total], target: &[TargetStep], legend: &[(Look, String)], y_words: &str) -> Paper {
    let last = totals.iter().map(|(number, ..)| *number).max().unwrap_or(1).max(1);
    let first = totals.iter().map(|(number, ..)| *number).min().unwrap_or(1);
    let highest = totals.iter().map(|(_, seconds, ..)| *seconds).chain(target.iter().map(|step| step.seconds)).max();
    let y_max = (minutes(highest.unwrap_or(0)) * 1.12).max(5.0);
    let x = (f64::from(first.min(last)) - 0.6, f64::from(last) + 0.6);
    Paper::with_axes(HEIGHT, &Axes { x, y: (0.0, y_max), x_words: "service number", y_words }, legend)
}

/// Returns every look among the points, once.
fn looks(totals: &[Total]) -> Vec<(Option<Plan>, bool)> {
    let plans = Plan::ALL.into_iter().map(Some).chain([None]);
    let all = plans.flat_map(|plan| [(plan, false), (plan, true)]);
    all.filter(|(plan, mixed)| totals.iter().any(|(_, _, p, m)| p == plan && m == mixed)).collect()
}

fn plan_legend(totals: &[Total], target: bool) -> Vec<(Look, String)> {
    let mut legend: Vec<_> = looks(totals)
        .into_iter()
        .map(|(plan, mixed)| {
            (of_plan(plan, mixed), format!("{}{}", plan_words(plan), if mixed { ", mixed" } else { "" }))
        })
        .collect();
    if target {
        legend.push((Look { shape: Shape::Dash, colour: INK, filled: true }, "target (dashed)".to_owned()));
    }
    legend
}

/// Returns the bar of one part of a service's stack.
fn bar(paper: &Paper, point: &TimePoint, part: usize) -> Option<String> {
    let parts = point.parts()?;
    let below: f64 = parts.iter().take(part).map(|seconds| minutes(*seconds)).sum();
    let height = minutes(*parts.get(part)?);
    let (left, right) = (paper.across(f64::from(point.number) - 0.35), paper.across(f64::from(point.number) + 0.35));
    let (left, right) =
        if right - left > 48.0 { ((left + right) / 2.0 - 24.0, (left + right) / 2.0 + 24.0) } else { (left, right) };
    let (top, bottom) = (paper.up(below + height), paper.up(below));
    (height > 0.0).then(|| format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}z"))
}

/// Adds points, target and direct labels.
fn finish(mut paper: Paper, totals: &[Total], target: &[TargetStep]) -> String {
    steps(&mut paper, target);
    let r = if totals.len() > 150 { 2.5 } else { 4.5 };
    for (plan, mixed) in looks(totals) {
        let of_look = totals.iter().filter(|(_, _, p, m)| *p == plan && *m == mixed);
        let at: Vec<_> = of_look
            .map(|(number, seconds, ..)| (paper.across(f64::from(*number)), paper.up(minutes(*seconds))))
            .collect();
        paper.marks(of_plan(plan, mixed), &at, r);
    }
    for plan in Plan::ALL.into_iter().map(Some).chain([None]) {
        if let Some((number, seconds, ..)) =
            totals.iter().filter(|(_, _, p, _)| *p == plan).max_by_key(|(number, ..)| *number)
        {
            let (x, y) = (paper.across(f64::from(*number)), paper.up(minutes(*seconds)));
            paper.label(x, y - 14.0, plan_words(plan));
        }
    }
    if totals.is_empty() {
        paper.nothing("No time is recorded yet.");
    }
    paper.end()
}

/// Draws the target: level over the services of a step, joined to the next step where that follows at once.
pub(super) fn steps(paper: &mut Paper, target: &[TargetStep]) {
    let mut target = target.to_vec();
    target.order_by_key(|step| step.from);
    let mut path = String::new();
    let mut before = None;
    for step in &target {
        let command = if before == Some(step.from) { 'L' } else { 'M' };
        let (x, y) = (paper.across(f64::from(step.from) - 0.5).max(paper.left()), paper.up(minutes(step.seconds)));
        path.push_str(&format!("{command}{x:.1} {y:.1}H{:.1}", paper.across(f64::from(step.to) + 0.5)));
        before = step.to.checked_add(1);
    }
    paper.dashed(&path);
    // One label a plan, at its last step, keeps the drawing bounded.
    for plan in Plan::ALL {
        if let Some(step) = target.iter().rfind(|step| step.plan == plan) {
            let (x, y) = (paper.across(f64::from(step.from) - 0.5).max(paper.left()), paper.up(minutes(step.seconds)));
            paper.label(x, y - 5.0, &format!("target {}", plan.word()));
        }
    }
}

/// Hands-on time of one eye in one service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EyePoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// Its section plan.
    pub plan: Option<Plan>,
    /// The eye.
    pub eye: Eye,
    /// Seconds of work.
    pub seconds: Seconds,
}

/// Draws hands-on time of each eye: the shape points to the eye's side, a letter below says the plan, the target is a
/// stepped line. It is to be read in black and white too.
pub fn hands_on_by_eye(points: &[EyePoint], target: &[TargetStep]) -> Drawing {
    let look = |eye: Eye| match eye {
        Eye::Left => Look { shape: Shape::Left, colour: colour::BLUE, filled: true },
        Eye::Right => Look { shape: Shape::Right, colour: colour::ORANGE, filled: false },
    };
    let mut legend: Vec<_> = Eye::BOTH.into_iter().map(|eye| (look(eye), format!("{} eye", eye.word()))).collect();
    if !target.is_empty() {
        legend.push((Look { shape: Shape::Dash, colour: INK, filled: true }, "target (dashed)".to_owned()));
    }
    let totals: Vec<Total> = points.iter().map(|point| (point.number, point.seconds, point.plan, false)).collect();
    let mut paper = sheet(&totals, target, &legend, "hands-on of an eye, minutes");
    steps(&mut paper, target);
    for eye in Eye::BOTH {
        let shift = if eye == Eye::Left { -0.18 } else { 0.18 };
        let own = points.iter().filter(|point| point.eye == eye);
        let at: Vec<_> = own
            .map(|point| (paper.across(f64::from(point.number) + shift), paper.up(minutes(point.seconds))))
            .collect();
        paper.marks(look(eye), &at, 4.5);
    }
    let letter = |plan: Option<Plan>| match plan {
        Some(Plan::Quarters) => 'q',
        Some(Plan::Thirds) => 't',
        Some(Plan::Halves) => 'h',
        Some(Plan::Whole) => 'w',
        None => '?',
    };
    let mut letters: Vec<(u32, char)> = points.iter().map(|point| (point.number, letter(point.plan))).collect();
    letters.dedup();
    let letters: Vec<(f64, char)> =
        letters.into_iter().map(|(number, letter)| (paper.across(f64::from(number)), letter)).collect();
    let below = paper.bottom() - 4.0;
    paper.letters(&letters, below);
    if points.is_empty() {
        paper.nothing("No time of an eye is recorded yet.");
    }
    Drawing::of(paper.end())
}
