//! Services at each plan.

use practicum::section::Plan;

use super::axes::{Entry, LETTERS, Scale, draw_legend, legend_height};
use super::canvas::{Anchor, Paint, colour, drawn};
use super::marks::{Shape, add_bar};
use super::table::{Row, Table};
use super::{Drawing, count};

/// Services at one plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlanServices {
    /// The plan; `None` for services whose plan nobody knows.
    pub plan: Option<Plan>,
    /// Acceptable by an assessor's marks.
    pub acceptable: u32,
    /// Assessed and not acceptable.
    pub not_acceptable: u32,
    /// Not assessed.
    pub not_assessed: u32,
}

const PARTS: [(&str, Paint); 3] = [
    ("acceptable", Paint::filled(colour::BLUE)),
    ("assessed, not acceptable", Paint::both(colour::ORANGE, colour::INK)),
    ("not assessed", Paint::both(0xff_ff_ff, colour::SOFT)),
];

const LEFT: i32 = 130;
const WIDTH: i32 = 480;
const BAR: i32 = 34;

impl PlanServices {
    fn parts(&self) -> [u32; 3] {
        [self.acceptable, self.not_acceptable, self.not_assessed]
    }

    fn sum(&self) -> u32 {
        self.parts().iter().fold(0, |sum, part| sum.saturating_add(*part))
    }

    fn word(&self) -> &'static str {
        self.plan.map_or("plan not known", Plan::word)
    }
}

/// Draws the services at each plan, in the order given.
pub fn plan_counts(who: &str, plans: &[PlanServices]) -> Drawing {
    let title = format!("Services at each section plan: {who}");
    let all = plans.iter().fold(0_u32, |sum, plan| sum.saturating_add(plan.sum()));
    let each: Vec<String> = plans.iter().map(|plan| format!("{}: {}", plan.word(), plan.sum())).collect();
    let description = format!("{}. {}.", count(usize::try_from(all).unwrap_or(usize::MAX), "service"), each.join("; "));
    let legend: Vec<Entry> = PARTS
        .iter()
        .map(|(words, paint)| Entry { shape: Shape::Square, paint: *paint, words: (*words).to_owned() })
        .collect();
    let top = legend_height(&legend, WIDTH) + 8;
    let most = plans.iter().map(PlanServices::sum).max().unwrap_or(0).max(1);
    let rows = i32::try_from(plans.len().max(1)).unwrap_or(1);
    let size = (WIDTH.unsigned_abs(), (top + rows * BAR + 8).unsigned_abs());
    let x = Scale::new(0.0, f64::from(most), (LEFT, WIDTH - 40));
    let svg = drawn(size, &title, &description, &mut |canvas| {
        draw_legend(canvas, &legend, WIDTH);
        if all == 0 {
            canvas.words((WIDTH / 2 + 60, top + BAR / 2), "Nothing to draw yet", Anchor::Middle, LETTERS + 2, colour::INK);
        }
        let mut paths = [String::new(), String::new(), String::new()];
        for (plan, row) in plans.iter().zip(0_i32..) {
            let y = top + row * BAR;
            canvas.words((LEFT - 8, y + BAR / 2), plan.word(), Anchor::End, LETTERS, colour::INK);
            let mut done = 0_u32;
            for (path, part) in paths.iter_mut().zip(plan.parts()) {
                let next = done.saturating_add(part);
                if part > 0 {
                    add_bar(path, (x.at(f64::from(done)), y + 6), (x.at(f64::from(next)), y + BAR - 6));
                }
                done = next;
            }
            if all > 0 {
                let end = (x.at(f64::from(done)) + 8, y + BAR / 2);
                canvas.words(end, &done.to_string(), Anchor::Start, LETTERS, colour::INK);
            }
        }
        for (path, (_, paint)) in paths.iter().zip(PARTS) {
            canvas.path(path, paint);
        }
        canvas.line((LEFT, top), (LEFT, top + rows * BAR), colour::INK);
    });
    Drawing { title, description, svg, table: table(plans) }
}

fn table(plans: &[PlanServices]) -> Table {
    let mut table = Table::with_head(&["Plan", "Services", "Acceptable", "Assessed, not acceptable", "Not assessed"]);
    for plan in plans {
        let mut cells = vec![plan.word().to_owned(), plan.sum().to_string()];
        cells.extend(plan.parts().map(|part| part.to_string()));
        table.rows.push(Row { link: None, cells });
    }
    table
}
