//! Reads what a service is made of: stages, drills, section plans, dwell examples and shields.

use super::judging::Criteria;
use super::walk::{File, Ids, Row, cut};
use crate::course_book::{
    DrillKind, DwellExample, LashCondition, Measure, Medium, Part, SectionPlan, Shield, Stage, Target, Work,
};
use crate::ids::{CriterionId, DrillKindId, ShieldId, StageId};
use crate::order::InOrder;
use crate::product::ProductKind;
use crate::section::{Plan, Sections};

/// Words for the section plans.
pub(super) const PLANS: [(&str, Plan); 4] =
    [("quarters", Plan::Quarters), ("thirds", Plan::Thirds), ("halves", Plan::Halves), ("whole", Plan::Whole)];

/// Words for the products.
pub(super) const PRODUCTS: [(&str, ProductKind); 4] = [
    ("lift", ProductKind::Lift),
    ("setting", ProductKind::Setting),
    ("tint", ProductKind::Tint),
    ("adhesive", ProductKind::Adhesive),
];

const PARTS: [(&str, Part); 3] = [("before", Part::Before), ("service", Part::Service), ("after", Part::After)];

/// The stages of a service.
pub(super) struct Stages {
    pub(super) list: Vec<Stage>,
    /// The file could not be read: references to stages cannot be judged.
    broken: bool,
}

/// Reads `stages.toml`.
pub(super) fn stages(file: &File<'_>) -> Stages {
    let top = file.top();
    top.source_if_any("stages: order, what may be left, longest waits");
    let rows = top.rows("stage", 1);
    top.done();
    let mut seen = Ids::default();
    let list: Vec<Stage> = rows.iter().map(|row| stage(row, &mut seen)).collect();
    check_order(&rows, &list);
    Stages { list, broken: file.is_broken() }
}

fn stage(row: &Row<'_, '_>, seen: &mut Ids) -> Stage {
    let id = row.id(seen);
    let part = row.one_of("part", &PARTS).unwrap_or(Part::Service);
    let work = work(row);
    let stage = Stage {
        id: StageId::new(id),
        label: row.text("label"),
        part,
        work,
        per_eye: row.yes("per_eye"),
        by_section: row.yes("by_section"),
        interruptible: row.yes("interruptible"),
        longest_wait_after: row.time_if_any("longest_wait_after"),
        only_with_tint: row.yes("only_with_tint"),
        cautions: row.texts("cautions", 0),
    };
    if stage.by_section && (!stage.per_eye || work != Work::HandsOn) {
        row.say(
            "by_section",
            "a stage worked section by section must be hands-on and per eye: set by_section = false or change those",
        );
    }
    match work {
        Work::Dwell(ProductKind::Adhesive) => row.say("product", "adhesive has no dwell: use work = \"hands-on\""),
        Work::Dwell(ProductKind::Tint) if !stage.only_with_tint => {
            row.say("only_with_tint", "a tint stage is worked only with tint: set only_with_tint = true");
        }
        _ => {}
    }
    if matches!(work, Work::Dwell(_)) && !stage.per_eye {
        row.say("per_eye", "a dwell runs on each eye by itself: set per_eye = true");
    }
    if work != Work::HandsOn && part != Part::Service {
        row.say("part", "a dwell or a check belongs to the service time: set part = \"service\"");
    }
    row.done();
    stage
}

fn work(row: &Row<'_, '_>) -> Work {
    let dwells = row.one_of("work", &[("hands-on", 0), ("dwell", 1), ("check", 2)]).unwrap_or(0);
    match dwells {
        1 => Work::Dwell(row.one_of("product", &PRODUCTS).unwrap_or(ProductKind::Lift)),
        _ => {
            if row.has("product") {
                row.say(
                    "product",
                    "only a stage with work = \"dwell\" has a product: delete this line or change the work",
                );
            }
            if dwells == 2 { Work::Check } else { Work::HandsOn }
        }
    }
}

/// Checks the run of the service: lift before setting before tint, a check before any lotion.
fn check_order(rows: &[Row<'_, '_>], stages: &[Stage]) {
    let Some(last) = rows.last() else { return };
    let mut part = Part::Before;
    for (row, stage) in rows.iter().zip(stages) {
        if stage.part < part {
            row.say(
                "part",
                format!(
                    "the stage “{}” stands after a later part of the visit: order the stages before, service, after",
                    stage.label
                ),
            );
        }
        part = part.max(stage.part);
    }
    let places = |work: Work| -> Vec<usize> {
        stages.iter().enumerate().filter(|(_, stage)| stage.work == work).map(|(at, _)| at).collect()
    };
    let say_at = |at: usize, what: &str| rows.get(at).unwrap_or(last).say("work", what);
    let lift = places(Work::Dwell(ProductKind::Lift));
    let setting = places(Work::Dwell(ProductKind::Setting));
    for (product, found) in [("lift", &lift), ("setting", &setting)] {
        match found.as_slice() {
            [] => last.say(
                "",
                format!("no stage has work = \"dwell\" and product = \"{product}\": a lift needs exactly one, add it"),
            ),
            [_] => {}
            [_, second, ..] => {
                say_at(*second, &format!("this is a second stage with product = \"{product}\": keep one"))
            }
        }
    }
    let tint = places(Work::Dwell(ProductKind::Tint));
    if let Some(second) = tint.get(1) {
        say_at(*second, "this is a second stage with product = \"tint\": keep one");
    }
    if let (Some(lift), Some(setting)) = (lift.first(), setting.first()) {
        if setting < lift {
            say_at(*setting, "setting lotion stands before lift lotion: move it after the lift stage");
        }
        if let Some(tint) = tint.first().filter(|tint| *tint < setting) {
            say_at(*tint, "tint stands before setting lotion: move it after the setting stage");
        }
        if !places(Work::Check).iter().any(|check| check < lift) {
            say_at(
                *lift,
                "no instructor check stands before this first lotion: add a stage with work = \"check\" before it",
            );
        }
    }
    if !stages.iter().any(|stage| stage.by_section) {
        last.say(
            "",
            "no stage is worked section by section: set by_section = true for the stage that fixes the lashes",
        );
    }
}

/// Reads `drills.toml`.
pub(super) fn drills(file: &File<'_>, stages: &Stages, criteria: &Criteria) -> Vec<DrillKind> {
    let top = file.top();
    let rows = top.rows("drill", 1);
    top.done();
    let (mut seen, mut seen_stages) = (Ids::default(), Ids::default());
    rows.iter().map(|row| drill(row, &mut seen, &mut seen_stages, stages, criteria)).collect()
}

fn drill(row: &Row<'_, '_>, seen: &mut Ids, seen_stages: &mut Ids, service: &Stages, criteria: &Criteria) -> DrillKind {
    let id = row.id(seen);
    let medium = row.one_of("medium", &[("strip", Medium::Strip), ("head", Medium::Head)]).unwrap_or(Medium::Strip);
    let label = row.text("label");
    row.source(&format!("drill “{label}”"));
    let applying = criteria.references(row, "criteria", 1);
    for (line, criterion) in &applying {
        if criteria.list.iter().any(|known| known.id.as_str() == criterion && !known.in_drills) {
            let what = format!(
                "the criterion “{}” does not apply to drills: delete it here, or set in_drills = true in rubric.toml",
                cut(criterion)
            );
            row.say_in_line(*line, what);
        }
    }
    let stage_rows = row.rows("stage", 1);
    let stages: Vec<Stage> = stage_rows.iter().map(|stage_row| stage(stage_row, seen_stages)).collect();
    for (stage_row, stage) in stage_rows.iter().zip(&stages) {
        if service.list.iter().any(|other| other.id == stage.id) {
            stage_row.say(
                "id",
                format!(
                    "the id “{}” is already used in stages.toml: write for example \"drill-{}\"",
                    stage.id, stage.id
                ),
            );
        }
    }
    row.done();
    DrillKind {
        id: DrillKindId::new(id),
        label,
        medium,
        stages,
        criteria: applying.into_iter().map(|(_, criterion)| CriterionId::new(criterion)).collect(),
    }
}

/// Reads `plans.toml`.
pub(super) fn plans(file: &File<'_>, stages: &Stages) -> Vec<SectionPlan> {
    let top = file.top();
    let rows = top.rows("plan", 0);
    top.done();
    let mut plans: Vec<SectionPlan> = Vec::new();
    for row in rows {
        let level = row.one_of("plan", &PLANS);
        let row = row.called("plan", level.map_or("", Plan::word));
        if let Some(level) = level
            && plans.iter().any(|plan| plan.plan == level)
        {
            row.say("plan", "this plan stands in the file twice: keep one");
        }
        plans.push(plan(&row, level.unwrap_or(Plan::Quarters), stages));
    }
    for (word, level) in PLANS {
        if !plans.iter().any(|plan| plan.plan == level) {
            top.say(
                "plan",
                format!("the plan \"{word}\" is missing: add a [[plan]] with plan = \"{word}\" and its targets"),
            );
        }
    }
    plans.order_by_key(|plan| plan.plan);
    plans
}

fn plan(row: &Row<'_, '_>, level: Plan, stages: &Stages) -> SectionPlan {
    let label = row.text("label");
    row.source(&format!("targets of the plan “{label}”"));
    let usual = level.sections().number();
    let mut allowed: Vec<Sections> = Vec::new();
    for number in row.wholes("allowed", 1, 1..=8, &format!("[{usual}]")) {
        let Some(sections) = u8::try_from(number).ok().and_then(Sections::new) else { continue };
        if row.has("plan") && sections.plan() != level {
            row.say(
                "allowed",
                format!(
                    "{number} sections belong to another plan ({}): delete the number here",
                    sections.plan().word()
                ),
            );
        } else if allowed.contains(&sections) {
            row.say("allowed", format!("{number} stands in “allowed” twice: delete one"));
        }
        allowed.push(sections);
    }
    if !allowed.is_empty() && !allowed.contains(&level.sections()) {
        row.say("allowed", format!("“allowed” must hold the plan's own number of sections, {usual}: add it"));
    }
    let service = row.part("service_target");
    let service_target = target(&service);
    if service_target.measure != Measure::ServiceTime || service_target.per_eye {
        service.say("counts", "the target of the whole service counts both eyes and service time: set counts = \"both eyes\", on = \"service time\"");
    }
    service.done();
    let stage_targets = stage_targets(row, stages);
    let hands_on = |id: &StageId| stages.list.iter().any(|stage| stage.id == *id && stage.part == Part::Service);
    let sum: u64 =
        stage_targets.iter().filter(|(id, _)| hands_on(id)).map(|(_, target)| u64::from(target.both_eyes())).sum();
    if sum > u64::from(service_target.seconds) && service_target.seconds > 0 {
        row.say(
            "service_target",
            format!(
                "the hands-on targets of the stages add up to {}:{:02} for both eyes, more than the service target: raise it or lower those",
                sum / 60,
                sum % 60
            ),
        );
    }
    row.done();
    SectionPlan { plan: level, label, allowed, stage_targets, service_target }
}

fn stage_targets(row: &Row<'_, '_>, stages: &Stages) -> Vec<(StageId, Target)> {
    let mut targets: Vec<(StageId, Target)> = Vec::new();
    for line in row.rows("targets", 1) {
        let id = line.text("stage");
        let line = line.called("target of stage", &id);
        let known = stages.list.iter().find(|stage| stage.id.as_str() == id);
        match known {
            None if !id.is_empty() && !stages.broken => {
                line.say(
                    "stage",
                    format!(
                        "no stage has this id in stages.toml: {}",
                        nearest(&id, stages.list.iter().map(|stage| stage.id.as_str()))
                    ),
                );
            }
            Some(stage) if stage.work == Work::Check => {
                line.say("stage", "an instructor check has no target: delete this line");
            }
            _ => {}
        }
        if targets.iter().any(|(other, _)| other.as_str() == id) {
            line.say("stage", "this stage has two targets in this plan: delete one");
        }
        let target = target(&line);
        if target.measure != Measure::HandsOn {
            line.say("on", "the target of a stage is on hands-on time: set on = \"hands-on\"");
        }
        if target.per_eye && known.is_some_and(|stage| !stage.per_eye) {
            line.say("counts", "this stage has one clock for both eyes: set counts = \"both eyes\"");
        }
        line.done();
        targets.push((StageId::new(id), target));
    }
    let targeted = |stage: &Stage| targets.iter().any(|(id, _)| *id == stage.id);
    for stage in stages.list.iter().filter(|stage| stage.work == Work::HandsOn && !targeted(stage)) {
        row.say(
            "targets",
            format!(
                "the hands-on stage “{}” has no target in this plan: add a line with stage = \"{}\"",
                stage.label, stage.id
            ),
        );
    }
    targets
}

fn target(row: &Row<'_, '_>) -> Target {
    Target {
        seconds: row.time("time"),
        per_eye: row.one_of("counts", &[("each eye", true), ("both eyes", false)]).unwrap_or(false),
        measure: row
            .one_of("on", &[("hands-on", Measure::HandsOn), ("service time", Measure::ServiceTime)])
            .unwrap_or(if row.is("service_target") { Measure::ServiceTime } else { Measure::HandsOn }),
    }
}

/// Says which known name was probably meant, or lists them all.
pub(super) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> String {
    let known: Vec<&str> = known.collect();
    match known.iter().find(|candidate| super::walk::close(candidate, name)) {
        Some(meant) => format!("did you mean “{meant}”?"),
        None => format!("use one of {}", cut_list(&known)),
    }
}

fn cut_list(names: &[&str]) -> String {
    let shown: Vec<&str> = names.iter().take(30).copied().collect();
    shown.join(", ")
}

/// Reads `dwell-examples.toml`.
pub(super) fn dwell_examples(file: &File<'_>) -> Vec<DwellExample> {
    let top = file.top();
    let rows = top.rows("example", 1);
    top.done();
    let mut examples: Vec<DwellExample> = Vec::new();
    for row in rows {
        let example = dwell_example(&row);
        let same = |other: &&DwellExample| {
            (other.product, other.condition, other.with_tint) == (example.product, example.condition, example.with_tint)
        };
        if examples.iter().any(|other| same(&other)) {
            row.say("product", "an example for the same product, condition and tint stands above: keep one");
        }
        row.done();
        examples.push(example);
    }
    examples
}

fn dwell_example(row: &Row<'_, '_>) -> DwellExample {
    let conditions = LashCondition::ALL.map(|condition| (condition.word(), condition));
    let product = row.one_of("product", &PRODUCTS).unwrap_or(ProductKind::Lift);
    let condition = row.one_of("condition", &conditions).unwrap_or(LashCondition::Average);
    let with_tint = row.yes("with_tint");
    let (minimum, planned, maximum) = (row.time("minimum"), row.time("planned"), row.time("maximum"));
    if product == ProductKind::Adhesive {
        row.say("product", "adhesive has no dwell: delete this example");
    }
    if [minimum, planned, maximum].iter().all(|seconds| *seconds > 0) && !(minimum <= planned && planned <= maximum) {
        row.say("planned", "the planned dwell must lie between minimum and maximum: change one of the three");
    }
    let part = format!(
        "dwell of {} on {} lashes{}",
        product.word(),
        condition.word(),
        if with_tint { ", tint mixed in" } else { "" }
    );
    DwellExample { product, condition, with_tint, planned, minimum, maximum, source: row.source(&part) }
}

/// The shield sizes and what is said about each reach.
pub(super) struct Shields {
    pub(super) list: Vec<Shield>,
    pub(super) reach_advice: [String; 3],
}

/// Reads `shields.toml`.
pub(super) fn shields(file: &File<'_>) -> Shields {
    let top = file.top();
    let reach = top.part("reach");
    reach.source("reach rule of the shields");
    let reach_advice = ["over_top", "two_thirds", "barely_half"].map(|key| reach.text(key));
    reach.done();
    let rows = top.rows("shield", 1);
    top.done();
    let mut seen = Ids::default();
    let list = rows
        .iter()
        .map(|row| {
            let id = row.id(&mut seen);
            let shield = Shield { id: ShieldId::new(id), label: row.text("label") };
            row.done();
            shield
        })
        .collect();
    Shields { list, reach_advice }
}
