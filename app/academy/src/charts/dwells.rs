//! Dwell of one product, left and right eye beside each other, never stacked.

use practicum::eye::Eye;
use practicum::moment::format_seconds;

use super::axes::{Entry, Field, target_entry};
use super::canvas::{Paint, colour, drawn};
use super::marks::{Shape, stepped};
use super::table::{Row, Table};
use super::{Drawing, Numbered, count};

/// The dwells of one product in one service, first contact to off, in seconds; `None` where there was none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DwellTime {
    /// The service.
    pub of: Numbered,
    /// On the left eye.
    pub left: Option<u32>,
    /// On the right eye.
    pub right: Option<u32>,
    /// Maximum on the product's label, as it stood then.
    pub label_maximum: Option<u32>,
}

impl DwellTime {
    fn of_eye(&self, eye: Eye) -> Option<u32> {
        match eye {
            Eye::Left => self.left,
            Eye::Right => self.right,
        }
    }
}

fn paint(eye: Eye) -> (Shape, Paint) {
    match eye {
        Eye::Left => (Shape::Left, Paint::filled(colour::BLUE)),
        Eye::Right => (Shape::Right, Paint::filled(colour::VERMILLION)),
    }
}

/// Draws the dwells of a product, such as "lift lotion", in the order worked.
pub fn dwells(who: &str, product: &str, times: &[DwellTime]) -> Drawing {
    let title = format!("Dwell of {product} by service: {who}");
    let dwelt = times.iter().flat_map(|time| [time.left, time.right]).flatten().count();
    let description = format!(
        "{} in {}, each eye on its own, first contact to off; the line is the label maximum as it stood then.",
        count(dwelt, "dwell"),
        count(times.len(), "service")
    );
    let all: Vec<&Numbered> = times.iter().map(|time| &time.of).collect();
    let mut legend: Vec<Entry> = Vec::new();
    for eye in Eye::BOTH.into_iter().filter(|eye| times.iter().any(|time| time.of_eye(*eye).is_some())) {
        let (shape, paint) = paint(eye);
        legend.push(Entry { shape, paint, words: format!("{} eye", eye.word()) });
    }
    if times.iter().any(|time| time.label_maximum.is_some()) {
        legend.push(target_entry("label maximum"));
    }
    let seconds = times.iter().flat_map(|time| [time.left, time.right, time.label_maximum]).flatten();
    let field = Field::new(times.len(), seconds.max().unwrap_or(0), &legend);
    let svg = drawn(field.size, &title, &description, &mut |canvas| {
        field.draw(canvas, &all, &legend, dwelt == 0);
        let limits = times.iter().map(|time| time.label_maximum.map(|seconds| field.y(seconds)));
        let limits = limits.enumerate().map(|(place, y)| (field.x(place), y));
        canvas.path(&stepped(limits, field.half), Paint::outlined(colour::INK, 20));
        for eye in Eye::BOTH {
            let (shape, paint) = paint(eye);
            let aside = if eye == Eye::Left { -field.half / 2 } else { field.half / 2 };
            let mut path = String::new();
            for (place, time) in times.iter().enumerate() {
                if let Some(seconds) = time.of_eye(eye) {
                    shape.add(&mut path, (field.x(place) + aside, field.y(seconds)), field.mark());
                }
            }
            canvas.path(&path, paint);
        }
    });
    Drawing { title, description, svg, table: table(times) }
}

fn table(times: &[DwellTime]) -> Table {
    let mut table = Table::with_head(&["Service", "Day", "Left eye", "Right eye", "Label maximum"]);
    let say = |seconds: Option<u32>| seconds.map_or_else(|| "–".to_owned(), format_seconds);
    for time in times {
        let mut cells = vec![time.of.number.to_string(), time.of.day.clone()];
        cells.extend([time.left, time.right, time.label_maximum].map(say));
        table.rows.push(Row { link: Some(time.of.link.clone()), cells });
    }
    table
}
