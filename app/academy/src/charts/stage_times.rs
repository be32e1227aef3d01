//! Hands-on time of one stage against its target.

use practicum::moment::format_seconds;

use super::axes::{Field, plan_entries, target_entry};
use super::canvas::drawn;
use super::table::{Row, Table};
use super::{Drawing, Numbered, count};

/// Hands-on time of the stage in one service, both eyes together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageTime {
    /// The service.
    pub of: Numbered,
    /// Seconds of work; `None` where nobody knows or the stage was not worked.
    pub hands_on: Option<u32>,
    /// Target of the plan for both eyes, only where quality is met there and it may be shown.
    pub target: Option<u32>,
}

/// Draws the hands-on time of a stage by its label, in the order worked.
pub fn stage_times(who: &str, stage: &str, times: &[StageTime]) -> Drawing {
    let title = format!("Hands-on time, {stage}: {who}");
    let worked = times.iter().filter(|time| time.hands_on.is_some());
    let mut description =
        format!("{}, the stage timed in {}.", count(times.len(), "service"), worked.clone().count());
    if let Some((time, seconds)) = worked.clone().last().and_then(|time| time.hands_on.map(|seconds| (time, seconds))) {
        description += &format!(" The latest, number {}: {}.", time.of.number, format_seconds(seconds));
    }
    let targets: Vec<Option<u32>> = times.iter().map(|time| time.target).collect();
    if targets.iter().all(Option::is_none) {
        description += " No target is drawn: quality first.";
    }
    let all: Vec<&Numbered> = times.iter().map(|time| &time.of).collect();
    let mut legend = plan_entries(worked.clone().map(|time| &time.of));
    if targets.iter().any(Option::is_some) {
        legend.push(target_entry("target of the stage"));
    }
    let longest = times.iter().flat_map(|time| [time.hands_on, time.target]).flatten().max().unwrap_or(0);
    let field = Field::new(times.len(), longest, &legend);
    let nothing = worked.clone().next().is_none();
    let svg = drawn(field.size, &title, &description, &mut |canvas| {
        field.draw(canvas, &all, &legend, nothing);
        field.targets(canvas, &targets);
        field.points(canvas, times.iter().map(|time| (&time.of, time.hands_on.unwrap_or(u32::MAX))));
    });
    Drawing { title, description, svg, table: table(times) }
}

fn table(times: &[StageTime]) -> Table {
    let mut table = Table::with_head(&["Service", "Day", "Plan", "Hands-on", "Target"]);
    let say = |seconds: Option<u32>| seconds.map_or_else(|| "–".to_owned(), format_seconds);
    for time in times {
        let mut cells = vec![time.of.number.to_string(), time.of.day.clone(), time.of.plan_word()];
        cells.extend([time.hands_on, time.target].map(say));
        table.rows.push(Row { link: Some(time.of.link.clone()), cells });
    }
    table
}
