//! Service time by service: hands-on, waiting, checks and pauses stacked.

use practicum::moment::format_seconds;

use super::axes::{Entry, Field, plan_entries, target_entry};
use super::canvas::{Canvas, Paint, colour, drawn};
use super::marks::{Shape, add_bar};
use super::table::{Row, Table};
use super::{Drawing, Numbered, count};

/// The times of one service, in seconds; `None` where nobody knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ServiceTime {
    /// The service.
    pub of: Numbered,
    /// Service time.
    pub service: Option<u32>,
    /// Hands-on time.
    pub hands_on: Option<u32>,
    /// Waiting.
    pub waiting: Option<u32>,
    /// Instructor checks.
    pub checks: Option<u32>,
    /// Pauses.
    pub pauses: Option<u32>,
    /// Target of the service's plan, only where quality is met there and it may be shown.
    pub target: Option<u32>,
}

/// Parts of a stack with their paints, from the bottom; told apart by shade and outline in print too.
const PARTS: [(&str, Paint); 5] = [
    ("hands-on", Paint::filled(colour::BLUE)),
    ("waiting", Paint::filled(colour::SKY)),
    ("checks", Paint::both(colour::GREEN, colour::INK)),
    ("pauses", Paint::both(0xff_ff_ff, colour::VERMILLION)),
    ("not split", Paint::both(0xee_ea_e2, colour::SOFT)),
];

impl ServiceTime {
    /// Returns the parts in the order of [`PARTS`]; the last one is what no part explains.
    fn parts(&self) -> [u32; 5] {
        let known = [self.hands_on, self.waiting, self.checks, self.pauses].map(|part| part.unwrap_or(0));
        let sum = known.iter().fold(0_u32, |sum, part| sum.saturating_add(*part));
        let [hands_on, waiting, checks, pauses] = known;
        [hands_on, waiting, checks, pauses, self.service.unwrap_or(0).saturating_sub(sum)]
    }

    fn height(&self) -> u32 {
        self.parts().iter().fold(0, |sum, part| sum.saturating_add(*part))
    }
}

/// Draws the service times of a trainee, in the order worked.
pub fn service_times(who: &str, times: &[ServiceTime]) -> Drawing {
    let title = format!("Service time by service: {who}");
    let description = describe(times);
    let all: Vec<&Numbered> = times.iter().map(|time| &time.of).collect();
    let targets: Vec<Option<u32>> = times.iter().map(|time| time.target).collect();
    let mut legend: Vec<Entry> = Vec::new();
    for (part, (words, paint)) in PARTS.iter().enumerate() {
        if times.iter().any(|time| time.parts().get(part).is_some_and(|seconds| *seconds > 0)) {
            legend.push(Entry { shape: Shape::Square, paint: *paint, words: (*words).to_owned() });
        }
    }
    let timed = times.iter().filter(|time| time.service.is_some());
    legend.extend(plan_entries(timed.clone().map(|time| &time.of)));
    if targets.iter().any(Option::is_some) {
        legend.push(target_entry("target of the plan"));
    }
    let longest = times.iter().map(|time| time.height().max(time.target.unwrap_or(0))).max().unwrap_or(0);
    let field = Field::new(times.len(), longest, &legend);
    let nothing = times.iter().all(|time| time.service.is_none() && time.hands_on.is_none());
    let svg = drawn(field.size, &title, &description, &mut |canvas| {
        field.draw(canvas, &all, &legend, nothing);
        stacks(canvas, &field, times);
        field.targets(canvas, &targets);
        field.points(canvas, times.iter().map(|time| (&time.of, time.service.unwrap_or(u32::MAX))));
    });
    Drawing { title, description, svg, table: table(times) }
}

fn stacks(canvas: &mut Canvas<'_>, field: &Field, times: &[ServiceTime]) {
    let half = (field.half - 1).max(1);
    for (part, (_, paint)) in PARTS.iter().enumerate() {
        let mut path = String::new();
        for (place, time) in times.iter().enumerate() {
            let parts = time.parts();
            let below = parts.iter().take(part).fold(0_u32, |sum, seconds| sum.saturating_add(*seconds));
            let seconds = parts.get(part).copied().unwrap_or(0);
            if seconds > 0 {
                let x = field.x(place);
                let (top, bottom) = (field.y(below.saturating_add(seconds)), field.y(below));
                add_bar(&mut path, (x - half, top), (x + half, bottom));
            }
        }
        // Where bars are thin an outline would hide them.
        let paint = if half < 3 { Paint { width: 4, ..*paint } } else { *paint };
        canvas.path(&path, paint);
    }
}

fn describe(times: &[ServiceTime]) -> String {
    let timed: Vec<&ServiceTime> = times.iter().filter(|time| time.service.is_some()).collect();
    let mut words = format!("{}, {} with a service time.", count(times.len(), "service"), timed.len());
    if let Some((time, seconds)) = timed.last().and_then(|time| time.service.map(|seconds| (time, seconds))) {
        words += &format!(
            " The latest, number {}, took {} at {}.",
            time.of.number,
            format_seconds(seconds),
            time.of.plan_word()
        );
    }
    match times.iter().find(|time| time.target.is_some()) {
        Some(first) => words += &format!(" The target is drawn from service {}.", first.of.number),
        None => words += " No target is drawn: quality first.",
    }
    words
}

fn table(times: &[ServiceTime]) -> Table {
    let head = ["Service", "Day", "Plan", "Service time", "Hands-on", "Waiting", "Checks", "Pauses", "Target"];
    let mut table = Table::with_head(&head);
    let say = |seconds: Option<u32>| seconds.map_or_else(|| "–".to_owned(), format_seconds);
    for time in times {
        let mut cells = vec![time.of.number.to_string(), time.of.day.clone(), time.of.plan_word()];
        cells.extend([time.service, time.hands_on, time.waiting, time.checks, time.pauses, time.target].map(say));
        table.rows.push(Row { link: Some(time.of.link.clone()), cells });
    }
    table
}
