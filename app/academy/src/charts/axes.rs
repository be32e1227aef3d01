//! Axes: services by their number from left to right, minutes upwards, and a legend above.

use plotters::coord::ranged1d::{BoldPoints, Ranged};
use plotters::coord::types::RangedCoordf64;
use practicum::section::Plan;

use super::Numbered;
use super::canvas::{Anchor, Canvas, Paint, colour};
use super::marks::{Shape, stepped};

const LEFT: i32 = 46;
const RIGHT: i32 = 14;
const BOTTOM: i32 = 42;
const HEIGHT: i32 = 220;
/// Height of a line of the legend.
const LEGEND: i32 = 22;
/// Letters of the drawings' words, in pixels.
pub(super) const LETTERS: u32 = 13;

/// A scale from values to pixels.
pub(super) struct Scale {
    values: RangedCoordf64,
    pixels: (i32, i32),
}

impl Scale {
    /// Makes a scale; the values' range must not be empty.
    pub(super) fn new(low: f64, high: f64, pixels: (i32, i32)) -> Self {
        Self { values: (low..high.max(low + 1e-9)).into(), pixels }
    }

    /// Returns the pixel of a value.
    pub(super) fn at(&self, value: f64) -> i32 {
        self.values.map(&value, self.pixels)
    }

    /// Returns at most `most` round values.
    pub(super) fn ticks(&self, most: usize) -> Vec<f64> {
        self.values.key_points(BoldPoints(most))
    }
}

/// An entry of the legend.
pub(super) struct Entry {
    /// Its mark.
    pub(super) shape: Shape,
    /// Its paint.
    pub(super) paint: Paint,
    /// Its words.
    pub(super) words: String,
}

/// The field of a chart of times by service.
pub(super) struct Field {
    /// Width and height of the drawing.
    pub(super) size: (u32, u32),
    /// Pixels from a service's middle to its edge, at least 1.
    pub(super) half: i32,
    top: i32,
    services: usize,
    x: Scale,
    y: Scale,
}

impl Field {
    /// Lays out a field for a number of services and the longest time, in seconds.
    pub(super) fn new(services: usize, longest: u32, legend: &[Entry]) -> Self {
        let wanted = i32::try_from(services).unwrap_or(i32::MAX).saturating_mul(18);
        let width = wanted.saturating_add(LEFT + RIGHT).clamp(320, 960);
        let top = LEGEND * placed(legend, width).last().map_or(0, |(_, line)| line + 1) + 12;
        let right = width - RIGHT;
        let count = services.max(1) as f64;
        let minutes = if longest == 0 { 1.0 } else { f64::from(longest) / 60.0 * 1.1 };
        let room = i32::try_from(services.max(1)).map_or(1, |count| (right - LEFT) / count);
        Self {
            size: (width.unsigned_abs(), (top + HEIGHT + BOTTOM).unsigned_abs()),
            half: (room / 2).clamp(1, 14),
            top,
            services,
            x: Scale::new(0.5, count + 0.5, (LEFT, right)),
            y: Scale::new(0.0, minutes, (top + HEIGHT, top)),
        }
    }

    /// Returns the pixel of a service by its place in the row, from 0.
    pub(super) fn x(&self, place: usize) -> i32 {
        self.x.at(place as f64 + 1.0)
    }

    /// Returns the pixel of a time in seconds.
    pub(super) fn y(&self, seconds: u32) -> i32 {
        self.y.at(f64::from(seconds) / 60.0)
    }

    /// Half the width of a mark, in pixels.
    pub(super) fn mark(&self) -> i32 {
        self.half.clamp(2, 5)
    }

    /// Draws lines, figures and legend; says so when there is nothing to draw.
    pub(super) fn draw(&self, canvas: &mut Canvas<'_>, all: &[&Numbered], legend: &[Entry], nothing: bool) {
        let (width, base) = (i32::try_from(self.size.0).unwrap_or(i32::MAX), self.top + HEIGHT);
        for minutes in self.y.ticks(6) {
            let y = self.y.at(minutes);
            canvas.line((LEFT, y), (width - RIGHT, y), colour::HAIR);
            canvas.words((LEFT - 6, y), &figure(minutes), Anchor::End, LETTERS, colour::SOFT);
        }
        canvas.line((LEFT, base), (width - RIGHT, base), colour::INK);
        canvas.words((LEFT - 40, base + 30), "minutes", Anchor::Start, LETTERS, colour::SOFT);
        canvas.words((width - RIGHT, base + 30), "number of the service", Anchor::End, LETTERS, colour::SOFT);
        if nothing {
            let middle = ((LEFT + width - RIGHT) / 2, self.top + HEIGHT / 2);
            canvas.words(middle, "Nothing to draw yet", Anchor::Middle, LETTERS + 2, colour::INK);
        }
        for place in self.x.ticks(usize::try_from((width - LEFT) / 40).unwrap_or(1)) {
            let whole = place.round();
            if (whole - place).abs() < 1e-6 && whole >= 1.0 && whole <= self.services as f64 {
                let number = all.get(whole as usize - 1).map_or(whole as u32, |service| service.number);
                canvas.words((self.x.at(whole), base + 12), &number.to_string(), Anchor::Middle, LETTERS, colour::SOFT);
            }
        }
        draw_legend(canvas, legend, width);
    }

    /// Draws points by plan: one path a shape, hollow where the plan was mixed.
    pub(super) fn points<'n>(&self, canvas: &mut Canvas<'_>, points: impl Iterator<Item = (&'n Numbered, u32)> + Clone) {
        for plan in Plan::ALL.into_iter().map(Some).chain([None]) {
            for mixed in [false, true] {
                let mut path = String::new();
                let shape = Shape::of_plan(plan);
                for (place, (service, seconds)) in points.clone().enumerate() {
                    if seconds != u32::MAX && service.plan == plan && service.mixed == mixed {
                        shape.add(&mut path, (self.x(place), self.y(seconds)), self.mark());
                    }
                }
                canvas.path(&path, plan_paint(shape, mixed));
            }
        }
    }

    /// Draws targets as a stepped line with its last figure beside it.
    pub(super) fn targets(&self, canvas: &mut Canvas<'_>, targets: &[Option<u32>]) {
        let steps = targets.iter().enumerate().map(|(place, target)| (self.x(place), target.map(|t| self.y(t))));
        canvas.path(&stepped(steps, self.half), TARGET);
        let last = targets.iter().enumerate().rev().find_map(|(place, target)| target.map(|target| (place, target)));
        if let Some((place, target)) = last {
            let words = format!("target {}", practicum::moment::format_seconds(target));
            let x = self.x(place) + self.half;
            let anchor = if x > LEFT + 90 { Anchor::End } else { Anchor::Start };
            canvas.words((x, self.y(target) - 10), &words, anchor, LETTERS, colour::INK);
        }
    }
}

/// Paint of the line of targets.
pub(super) const TARGET: Paint = Paint::outlined(colour::INK, 20).dashed();

/// Paint of a plan's points.
fn plan_paint(shape: Shape, mixed: bool) -> Paint {
    match (shape, mixed) {
        (Shape::Cross, _) => Paint::outlined(colour::INK, 20),
        (_, true) => Paint::both(0xff_ff_ff, colour::INK),
        (_, false) => Paint::both(colour::INK, 0xff_ff_ff),
    }
}

/// Makes the legend's entries of the plans that occur.
pub(super) fn plan_entries<'n>(services: impl Iterator<Item = &'n Numbered> + Clone) -> Vec<Entry> {
    let plans = Plan::ALL.into_iter().map(Some).chain([None]);
    let there = plans.filter(|plan| services.clone().any(|service| service.plan == *plan));
    let entry = |plan: Option<Plan>| {
        let shape = Shape::of_plan(plan);
        Entry { shape, paint: plan_paint(shape, false), words: plan.map_or("plan not known", Plan::word).to_owned() }
    };
    let mut entries: Vec<Entry> = there.map(entry).collect();
    if services.clone().any(|service| service.mixed) {
        let paint = plan_paint(Shape::Circle, true);
        entries.push(Entry { shape: Shape::Circle, paint, words: "hollow: mixed".to_owned() });
    }
    entries
}

/// Makes the legend's entry of the line of targets.
pub(super) fn target_entry(words: &str) -> Entry {
    Entry { shape: Shape::Dash, paint: Paint::outlined(colour::INK, 20), words: words.to_owned() }
}

/// Draws a legend from the top of the drawing.
pub(super) fn draw_legend(canvas: &mut Canvas<'_>, legend: &[Entry], width: i32) {
    for (entry, (x, line)) in legend.iter().zip(placed(legend, width)) {
        let y = line * LEGEND + LEGEND / 2 + 2;
        let mut path = String::new();
        entry.shape.add(&mut path, (x + 7, y), 5);
        canvas.path(&path, entry.paint);
        canvas.words((x + 18, y), &entry.words, Anchor::Start, LETTERS, colour::INK);
    }
}

/// Height of a legend, in pixels.
pub(super) fn legend_height(legend: &[Entry], width: i32) -> i32 {
    placed(legend, width).last().map_or(0, |(_, line)| (line + 1) * LEGEND)
}

/// Places entries in lines: start in pixels and number of the line.
fn placed(legend: &[Entry], width: i32) -> Vec<(i32, i32)> {
    let (mut x, mut line) = (4, 0);
    let mut places = Vec::new();
    for entry in legend {
        let wide = 32 + 7 * i32::try_from(entry.words.chars().count()).unwrap_or(40);
        if x > 4 && x + wide > width {
            (x, line) = (4, line + 1);
        }
        places.push((x, line));
        x += wide;
    }
    places
}

/// Writes a figure of an axis: whole, or with one or two digits after the point.
fn figure(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
