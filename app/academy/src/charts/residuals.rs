//! How far each service lies from the trainee's own curve, with what is unusual marked.

use practicum::section::Plan;

use super::look::{of_plan, plan_words};
use super::paper::{Axes, INK, Look, Paper, Shape};

/// Height of the drawing.
const HEIGHT: f64 = 340.0;
/// Farthest that a service is drawn from the curve; one farther off stands at the edge.
const FARTHEST: f64 = 6.0;
/// Most services that are labelled.
const LABELLED: usize = 20;

/// One service.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResidualPoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// Distance from the curve, above 0 where slower; 1 is the usual distance.
    pub distance: f64,
    /// Its section plan.
    pub plan: Plan,
    /// Whether it is marked as unusual.
    pub unusual: bool,
}

/// Draws the distances about the curve, a run of services at one plan joined by a line; `limit` either way.
pub fn residuals(points: &[ResidualPoint], limit: Option<f64>) -> String {
    let sound: Vec<ResidualPoint> = points.iter().filter(|point| point.distance.is_finite()).copied().collect();
    let limit = limit.filter(|limit| limit.is_finite() && *limit > 0.0).map(|limit| limit.min(FARTHEST));
    let far = |point: &ResidualPoint| point.distance.clamp(-FARTHEST, FARTHEST);
    let highest = sound.iter().map(|point| far(point).abs()).chain(limit).fold(2.0, f64::max) + 0.8;
    let first = sound.iter().map(|point| point.number).min().unwrap_or(1);
    let last = sound.iter().map(|point| point.number).max().unwrap_or(1);
    let x = (f64::from(first) - 0.6, f64::from(last) + 0.6);
    let axes = Axes {
        x,
        y: (-highest, highest),
        x_words: "live service number",
        y_words: "quicker   ←   own curve   →   slower",
    };
    let mut paper = Paper::with_axes(HEIGHT, &axes, &legend(&sound));
    let across = |paper: &Paper, y: f64| format!("M{:.1} {y:.1}H{:.1}", paper.left(), paper.across(x.1));
    let middle = paper.up(0.0);
    let path = across(&paper, middle);
    paper.path(&path, "none", Some(INK), 1.4);
    if let Some(limit) = limit {
        let (slow, quick) = (paper.up(limit), paper.up(-limit));
        let path = format!("{}{}", across(&paper, slow), across(&paper, quick));
        paper.dashed(&path);
        paper.label(paper.left(), slow - 6.0, "unusually slow above");
        paper.label(paper.left(), quick + 16.0, "unusually quick below");
    }
    let place = |paper: &Paper, point: &ResidualPoint| (paper.across(f64::from(point.number)), paper.up(far(point)));
    let (mut path, mut changes) = (String::new(), String::new());
    let top = paper.up(highest);
    let mut before: Option<ResidualPoint> = None;
    for point in &sound {
        let (x, y) = place(&paper, point);
        match before {
            Some(before) if before.plan == point.plan => path.push_str(&format!("L{x:.1} {y:.1}")),
            Some(before) => {
                let between = (paper.across(f64::from(before.number)) + x) / 2.0;
                changes.push_str(&format!("M{between:.1} {top:.1}V{:.1}", paper.bottom()));
                path.push_str(&format!("M{x:.1} {y:.1}"));
            }
            None => path.push_str(&format!("M{x:.1} {y:.1}")),
        }
        before = Some(*point);
    }
    paper.dashed_in(&changes, INK, 1.0, "2 4");
    paper.path(&path, "none", Some(INK), 0.9);
    let r = if sound.len() > 150 { 2.5 } else { 4.5 };
    for plan in Plan::ALL {
        let at: Vec<_> = sound.iter().filter(|point| point.plan == plan).map(|point| place(&paper, point)).collect();
        paper.marks(of_plan(Some(plan), false), &at, r);
    }
    let unusual: Vec<&ResidualPoint> = sound.iter().filter(|point| point.unusual).collect();
    let rings: String = unusual
        .iter()
        .map(|point| {
            let (x, y) = place(&paper, point);
            Shape::Circle.path(x, y, 9.0)
        })
        .collect();
    paper.path(&rings, "none", Some(INK), 2.0);
    for point in unusual.iter().rev().take(LABELLED) {
        let (x, y) = place(&paper, point);
        paper.label(x + 4.0, y + 4.0, &format!("no. {}", point.number));
    }
    if sound.is_empty() {
        paper.nothing("No service can be held against a curve yet.");
    }
    paper.end()
}

fn legend(points: &[ResidualPoint]) -> Vec<(Look, String)> {
    let there = Plan::ALL.into_iter().filter(|plan| points.iter().any(|point| point.plan == *plan));
    let mut legend: Vec<_> =
        there.map(|plan| (of_plan(Some(plan), false), plan_words(Some(plan)).to_owned())).collect();
    if points.iter().any(|point| point.unusual) {
        legend.push((Look { shape: Shape::Circle, colour: INK, filled: false }, "ringed: worth a look".to_owned()));
    }
    legend
}
