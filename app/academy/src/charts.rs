//! Charts: numbers become drawings that print sharp, with a table of the same numbers.
//!
//! Each chart is a plain function from numbers to a [`Drawing`]; nothing here knows records or pages.

mod axes;
mod canvas;
mod dwells;
mod marks;
mod plan_counts;
mod rubric_strip;
mod service_times;
mod stage_times;
mod table;
mod view;

use practicum::section::Plan;

pub use dwells::{DwellTime, dwells};
pub use plan_counts::{PlanServices, plan_counts};
pub use rubric_strip::{RubricColumn, RubricRow, rubric_strip};
pub use service_times::{ServiceTime, service_times};
pub use stage_times::{StageTime, stage_times};
pub use table::{Row, Table};
pub use view::Chart;

/// A drawing with the same in words and in a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing {
    /// Title, as plain text.
    pub title: String,
    /// What the drawing shows, as plain text: counts and figures, no judgement.
    pub description: String,
    /// The drawing as SVG; every text in it is escaped.
    pub svg: String,
    /// The same numbers.
    pub table: Table,
}

/// The service that a number belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Numbered {
    /// Number of the service in the trainee's course, from 1.
    pub number: u32,
    /// Its day, in words.
    pub day: String,
    /// Address of its page, such as `#/service/ID`.
    pub link: String,
    /// Plan as worked, if known.
    pub plan: Option<Plan>,
    /// Sections changed within an eye or were unequal between the eyes.
    pub mixed: bool,
}

impl Numbered {
    /// Returns the plan in words.
    fn plan_word(&self) -> String {
        let word = self.plan.map_or("not known", Plan::word);
        if self.mixed { format!("{word}, mixed") } else { word.to_owned() }
    }
}

/// Says how many, such as `1 service` or `2 services`.
fn count(number: usize, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {one}s") }
}

#[cfg(test)]
mod tests;
