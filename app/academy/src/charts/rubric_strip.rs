//! The rubric strip: criteria by services, a shape and a shade for each mark, safety breaches flagged.

use practicum::course_book::Mark;
use practicum::outcome::Marked;

use super::axes::{Entry, LETTERS, draw_legend, legend_height};
use super::canvas::{Anchor, Canvas, Paint, colour, drawn};
use super::marks::{Shape, add_bar};
use super::table::{Row, Table};
use super::{Drawing, Numbered, count};

/// A criterion of the strip.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RubricRow {
    /// Name on screen.
    pub label: String,
    /// Whether it is safety-critical.
    pub safety_critical: bool,
}

/// A service of the strip.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RubricColumn {
    /// The service.
    pub of: Numbered,
    /// Its marks in the order of the rows; `None` where an assessor gave none.
    pub marks: Vec<Option<Marked>>,
    /// Whether it has a safety breach.
    pub breach: bool,
}

const LEFT: i32 = 150;
const CELL: i32 = 20;
const SLIM: i32 = 8;

/// What a cell can say, with its shape and shade.
const SAYS: [(Marked, Shape, Paint); 5] = [
    (Marked::Level(Mark::NotYet), Shape::Square, Paint::filled(colour::VERMILLION)),
    (Marked::Level(Mark::Nearly), Shape::Up, Paint::both(0xf3_d9_9b, 0x7a_4b_00)),
    (Marked::Level(Mark::Meets), Shape::Circle, Paint::filled(colour::SKY)),
    (Marked::Level(Mark::Strong), Shape::Diamond, Paint::filled(colour::BLUE)),
    (Marked::NotApplicable, Shape::Dash, Paint::outlined(colour::SOFT, 15)),
];

fn word(mark: Option<Marked>) -> &'static str {
    match mark {
        Some(Marked::Level(level)) => level.word(),
        Some(Marked::NotApplicable) => "Not applicable",
        None => "–",
    }
}

/// Draws the marks of assessors, criteria downwards and services in the order worked.
pub fn rubric_strip(who: &str, rows: &[RubricRow], services: &[RubricColumn]) -> Drawing {
    let title = format!("Marks by criterion and service: {who}");
    let breaches = services.iter().filter(|service| service.breach).count();
    let description = format!(
        "{} by {}; {} with a safety breach, flagged above.",
        if rows.len() == 1 { "1 criterion".to_owned() } else { format!("{} criteria", rows.len()) },
        count(services.len(), "service"),
        breaches
    );
    let legend = legend();
    let cell = if services.len() > 60 { SLIM } else { CELL };
    let columns = i32::try_from(services.len()).unwrap_or(i32::MAX / 64);
    let width = columns.saturating_mul(cell).saturating_add(LEFT + 16).max(360);
    let top = legend_height(&legend, width.min(720)) + 34;
    let height = top + i32::try_from(rows.len().max(1)).unwrap_or(1).saturating_mul(CELL) + 32;
    let size = (width.unsigned_abs(), height.unsigned_abs());
    let nothing = services.iter().all(|service| service.marks.iter().all(Option::is_none) && !service.breach);
    let svg = drawn(size, &title, &description, &mut |canvas| {
        draw_legend(canvas, &legend, width.min(720));
        if nothing {
            let middle = ((LEFT + width) / 2, top - 14);
            canvas.words(middle, "Nothing to draw yet", Anchor::Middle, LETTERS + 2, colour::INK);
        }
        frame(canvas, rows, services, (top, cell));
        cells(canvas, services, (top, cell));
    });
    Drawing { title, description, svg, table: table(rows, services) }
}

fn legend() -> Vec<Entry> {
    let level = |(mark, shape, paint): (Marked, Shape, Paint)| Entry { shape, paint, words: word(Some(mark)).to_owned() };
    let mut legend: Vec<Entry> = SAYS.into_iter().map(level).collect();
    legend.push(Entry { shape: Shape::Cross, paint: BREACH, words: "safety breach".to_owned() });
    legend
}

const BREACH: Paint = Paint::outlined(colour::INK, 25);

/// Draws names of criteria, lines between them, and numbers of services.
fn frame(canvas: &mut Canvas<'_>, rows: &[RubricRow], services: &[RubricColumn], (top, cell): (i32, i32)) {
    let right = LEFT + cell * i32::try_from(services.len()).unwrap_or(0);
    for (row, place) in rows.iter().zip(0_i32..) {
        let y = top + place * CELL;
        canvas.line((LEFT, y + CELL), (right.max(LEFT + cell), y + CELL), colour::HAIR);
        let short: String = row.label.chars().take(20).collect();
        let cut = if row.label.chars().count() > 20 { "…" } else { "" };
        let sign = if row.safety_critical { "▲ " } else { "" };
        canvas.words((LEFT - 8, y + CELL / 2), &format!("{sign}{short}{cut}"), Anchor::End, 12, colour::INK);
    }
    let base = top + CELL * i32::try_from(rows.len().max(1)).unwrap_or(1);
    canvas.line((LEFT, top), (LEFT, base), colour::INK);
    let every = services.len() / 24 + 1;
    for (service, place) in services.iter().zip(0_i32..).step_by(if every > 1 { every.next_multiple_of(5) } else { 1 }) {
        let x = LEFT + place * cell + cell / 2;
        canvas.words((x, base + 12), &service.of.number.to_string(), Anchor::Middle, 12, colour::SOFT);
    }
    canvas.words((LEFT - 8, base + 12), "▲ safety-critical", Anchor::End, 12, colour::SOFT);
}

/// Draws all marks: one path a level, one for the breaches and one for the columns that they are in.
fn cells(canvas: &mut Canvas<'_>, services: &[RubricColumn], (top, cell): (i32, i32)) {
    let half = (cell - 6).clamp(4, 12) / 2;
    let centre = |column: i32, row: i32| (LEFT + column * cell + cell / 2, top + row * CELL + CELL / 2);
    for (mark, shape, paint) in SAYS {
        let mut path = String::new();
        for (service, column) in services.iter().zip(0_i32..) {
            for (given, row) in service.marks.iter().zip(0_i32..) {
                if *given == Some(mark) {
                    shape.add(&mut path, centre(column, row), half);
                }
            }
        }
        canvas.path(&path, paint);
    }
    let (mut flags, mut frames) = (String::new(), String::new());
    for (service, column) in services.iter().zip(0_i32..).filter(|(service, _)| service.breach) {
        let (x, y) = centre(column, -1);
        Shape::Cross.add(&mut flags, (x, y + 4), half);
        let rows = i32::try_from(service.marks.len().max(1)).unwrap_or(1);
        add_bar(&mut frames, (x - cell / 2, top), (x + cell / 2, top + rows * CELL));
    }
    canvas.path(&flags, BREACH);
    canvas.path(&frames, Paint::outlined(colour::INK, 10));
}

fn table(rows: &[RubricRow], services: &[RubricColumn]) -> Table {
    let mut table = Table::with_head(&["Service", "Day", "Safety breach"]);
    table.head.extend(rows.iter().map(|row| row.label.clone()));
    for service in services {
        let breach = if service.breach { "yes" } else { "no" };
        let mut cells = vec![service.of.number.to_string(), service.of.day.clone(), breach.to_owned()];
        let marks = (0..rows.len()).map(|row| word(service.marks.get(row).copied().flatten()).to_owned());
        cells.extend(marks);
        table.rows.push(Row { link: Some(service.of.link.clone()), cells });
    }
    table
}
