//! How the work runs: stages, section plans with their targets, drills, shields, examples of dwell.

use std::sync::Arc;

use leptos::prelude::*;
use practicum::course_book::{CourseBook, Part, Stage, Work};
use practicum::evidence::{Composed, Ways, composed};
use practicum::moment::format_seconds;

use super::{part, table};
use crate::pages::service::{stage_label, target_words};

/// Stages, plans, drills, shields and dwell.
#[component]
pub(super) fn WorkPart(
    /// The book.
    book: Arc<CourseBook>,
) -> impl IntoView {
    let stages = stage_rows(&book.stages);
    let shields = book.shields.iter().map(|shield| vec![shield.label.clone()]).collect();
    let [over, fits, barely] = book.reach_advice.clone();
    view! {
        {part("Stages of a service", view! {
            {table("Stages in working order", &["Stage", "When", "How", "For", "Section by section", "May be left", "Longest wait after", "Cautions"], stages)}
        })}
        {part("Section plans and targets", view! {
            {plans(&book)}
        })}
        {part("Drills", view! {
            {drills(&book)}
        })}
        {part("Shields", view! {
            {table("Sizes, the smallest first", &["Size"], shields)}
            <ul><li>{over}</li><li>{fits}</li><li>{barely}</li></ul>
        })}
        {part("Examples of dwell", view! {
            {table("Examples only: each product’s label comes first", &["For", "Planned", "Window", "Source"], dwell_rows(&book))}
        })}
    }
}

fn stage_rows(stages: &[Stage]) -> Vec<Vec<String>> {
    let yes = |yes: bool| if yes { "yes" } else { "no" }.to_owned();
    let row = |stage: &Stage| {
        let part = match stage.part {
            Part::Before => "before the service time",
            Part::Service => "in the service time",
            Part::After => "after the service time",
        };
        let work = match stage.work {
            Work::HandsOn => "hands-on".to_owned(),
            Work::Dwell(kind) => format!("dwell of {}", kind.word()),
            Work::Check => "instructor check".to_owned(),
        };
        let tint = if stage.only_with_tint { " (with tint only)" } else { "" };
        vec![
            format!("{}{tint}", stage.label),
            part.to_owned(),
            work,
            if stage.per_eye { "each eye" } else { "both eyes" }.to_owned(),
            yes(stage.by_section),
            yes(stage.interruptible),
            stage.longest_wait_after.map_or_else(|| "–".to_owned(), format_seconds),
            stage.cautions.join(" "),
        ]
    };
    stages.iter().map(row).collect()
}

fn plans(book: &CourseBook) -> impl IntoView + use<> {
    let label = |id: &practicum::ids::StageId| stage_label(Some(book), id);
    let composed = composed(book);
    let one = |plan: &practicum::course_book::SectionPlan| {
        let composed = composed.iter().find(|found| found.plan == plan.plan).map_or(
            "○ Whether its stage targets can meet the service target cannot be said: no service time, or examples of dwell are missing.".to_owned(),
            composed_words,
        );
        let allowed: Vec<String> = plan.allowed.iter().map(|sections| sections.number().to_string()).collect();
        let mut rows = vec![vec!["The whole service".to_owned(), target_words(&plan.service_target)]];
        rows.extend(plan.stage_targets.iter().map(|(stage, target)| vec![label(stage), target_words(target)]));
        let head = format!("{} ({} sections an eye)", plan.label, allowed.join(", "));
        view! { <details><summary>{head}</summary><p>{composed}</p>{table(&format!("Targets of {}", plan.label), &["What", "Target"], rows)}</details> }
    };
    book.plans.iter().map(one).collect_view()
}

/// Says what a plan's stage targets come to, beside its service target.
fn composed_words(found: &Composed) -> String {
    let target = found.target;
    let Ways { shortest, apart } = match &found.ways {
        Ok(ways) => *ways,
        Err(why) => {
            return format!("■ Its stage targets cannot be worked at all with the shortest example dwells: {why}.");
        }
    };
    let fits = match (shortest <= target, apart <= target) {
        (true, true) => "✓ Its stage targets can meet the service target, also one eye after the other",
        (true, false) => {
            "▲ Its stage targets meet the service target only with both eyes overlapping, which an instructor allows"
        }
        (false, _) => "■ Its stage targets cannot meet the service target in any way of working",
    };
    format!(
        "{fits}: {} allowed; with every stage at its target the shortest service is {} one eye after the other, {} \
         overlapping (shortest example dwells, no tint, no time for the instructor’s look).",
        format_seconds(target),
        format_seconds(apart),
        format_seconds(shortest),
    )
}

fn drills(book: &CourseBook) -> impl IntoView + use<> {
    let one = |drill: &practicum::course_book::DrillKind| {
        let stages: Vec<String> = drill.stages.iter().map(|stage| stage.label.clone()).collect();
        let criteria = drill.criteria.iter().filter_map(|id| book.criterion(id)).map(|c| c.label.clone());
        vec![
            drill.label.clone(),
            drill.medium.word().to_owned(),
            stages.join(", "),
            criteria.collect::<Vec<_>>().join(", "),
        ]
    };
    let rows = book.drills.iter().map(one).collect();
    table("Kinds of drill; none counts as a service", &["Drill", "On", "Stages", "Criteria"], rows)
}

fn dwell_rows(book: &CourseBook) -> Vec<Vec<String>> {
    let row = |example: &practicum::course_book::DwellExample| {
        let tint = if example.with_tint { ", tint mixed in" } else { "" };
        vec![
            format!("{}, {} lashes{tint}", example.product.word(), example.condition.word()),
            format_seconds(example.planned),
            format!("{} to {}", format_seconds(example.minimum), format_seconds(example.maximum)),
            example.source.clone(),
        ]
    };
    book.dwell_examples.iter().map(row).collect()
}
