//! How work is judged: rubric, faults, competencies, independence levels, rules of progression.

use std::sync::Arc;

use leptos::prelude::*;
use practicum::course_book::{Competency, CourseBook, EvidenceNeeded};

use super::{part, table};

/// Rubric, faults, competencies and rules.
#[component]
pub(super) fn JudgingPart(
    /// The book.
    book: Arc<CourseBook>,
) -> impl IntoView {
    let faults = book.faults.iter().map(|fault| {
        let safety = if fault.safety { " (■ advised at once)" } else { "" };
        vec![format!("{}{safety}", fault.label), fault.causes.join("; "), fault.coaching.clone()]
    });
    let faults = faults.collect();
    let competencies = book.competencies.iter().map(|one| competency(&book, one)).collect();
    let levels = book.independence.iter().map(|level| vec![level.level.to_string(), level.label.clone()]).collect();
    view! {
        {part("Rubric", view! {
            {table("Outcome criteria with their levels", &["Criterion", "Not yet", "Nearly", "Meets", "Strong"], rubric(&book))}
        })}
        {part("Faults", view! {
            {table("Faults, likely causes, one coaching line", &["Fault", "Likely causes", "Coaching"], faults)}
        })}
        {part("Competencies", view! {
            {table("What a sign-off needs", &["Competency", "Evidence", "Independence at least"], competencies)}
            {table("Independence levels", &["Level", "Means"], levels)}
        })}
        {part("Rules of progression", view! {
            {table("Thresholds of this course book", &["Rule", "Figure"], rules(&book))}
        })}
    }
}

fn rubric(book: &CourseBook) -> Vec<Vec<String>> {
    let row = |criterion: &practicum::course_book::Criterion| {
        let mut kinds = Vec::new();
        kinds.extend(criterion.safety_critical.then_some("■ safety-critical"));
        kinds.extend(criterion.core.then_some("◆ core"));
        kinds.extend((!criterion.in_drills).then_some("not in drills"));
        kinds.extend((!criterion.without_tint).then_some("with tint only"));
        kinds.extend(criterion.watches_clocks.then_some("capped by the clocks"));
        let kinds = if kinds.is_empty() { String::new() } else { format!(" ({})", kinds.join(", ")) };
        let mut cells = vec![format!("{}{kinds}", criterion.label)];
        cells.extend(criterion.descriptors.iter().cloned());
        cells
    };
    book.criteria.iter().map(row).collect()
}

fn competency(book: &CourseBook, one: &Competency) -> Vec<String> {
    let needs = needs(book, &one.evidence).join("; ");
    let whole = if one.whole_service { " (the whole service)" } else { "" };
    vec![format!("{}{whole}", one.label), needs, one.evidence.level_at_least.to_string()]
}

fn needs(book: &CourseBook, needed: &EvidenceNeeded) -> Vec<String> {
    let counts = [
        (needed.live, "services marked by an assessor"),
        (needed.acceptable, "of these acceptable"),
        (needed.practice_models, "different practice models"),
        (needed.each_condition, "with each lash condition"),
        (needed.shield_sizes, "different shield sizes"),
        (needed.with_tint, "with tint"),
        (needed.without_tint, "without tint"),
        (needed.observed, "observed from end to end"),
        (needed.observed_days, "different days of these"),
        (needed.assessors, "different assessors"),
        (needed.strips, "strip drills"),
        (needed.heads, "drills on a practice head"),
    ];
    let mut lines: Vec<String> =
        counts.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    lines.extend(needed.at_plan.iter().map(|(plan, count)| format!("{count} at {}", plan.word())));
    let criteria: Vec<String> =
        needed.criteria.iter().filter_map(|id| book.criterion(id)).map(|criterion| criterion.label.clone()).collect();
    if needed.real_environment {
        lines.push("real working environment only: drills and imported rows are refused".to_owned());
    }
    if !criteria.is_empty() {
        lines.push(format!("at least Meets in {}", criteria.join(", ")));
    }
    lines
}

fn rules(book: &CourseBook) -> Vec<Vec<String>> {
    let rules = &book.rules;
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let rows = [
        ("Widening looks at the last assessed services at the plan", rules.widen_last.to_string()),
        ("Hands-on time counts as steady up to this trend a service", format!("{} %", rules.widen_steady_percent)),
        ("Narrowing after a safety breach", if rules.narrow_after_breach { "yes" } else { "no" }.to_owned()),
        ("Narrowing after the same core criterion was low in a row", rules.narrow_after_low.to_string()),
        ("Quality is met when the last assessed services are acceptable", rules.quality_last.to_string()),
        ("Sign-off needs no safety breach in the last services", rules.breach_free_last.to_string()),
        ("Plan of the sign-off", rules.target_plan.word().to_owned()),
        ("Late up to, then overrun", format!("{} s past the maximum", rules.late_seconds)),
        ("Early warning before the planned end of a dwell", format!("{} s", rules.early_warning_seconds)),
        (
            "Coaching when a fault is seen",
            format!(
                "{} of {}, or {} of {} services",
                rules.fault_short.0, rules.fault_short.1, rules.fault_long.0, rules.fault_long.1
            ),
        ),
        ("Pauses keep a service out of the time standard above", format!("{} % of hands-on time", rules.pause_percent)),
        ("Trial: unacceptable failure rate", percent(rules.trial.unacceptable)),
        ("Trial: acceptable failure rate", percent(rules.trial.acceptable)),
        ("Trial: most services", rules.trial.horizon.to_string()),
        ("Trial: chance of a false pass", percent(rules.trial.alpha)),
        ("Trial: rule", rules.trial.rule.to_string()),
        ("Trial: shortest run that can pass", rules.trial.shortest_run.to_string()),
        ("Trial: unassessed services at most", percent(rules.trial.unassessed_share)),
        (
            "Trial: mean mark too low, good enough",
            rules.trial.score.map_or_else(
                || "not looked at".to_owned(),
                |score| format!("{:.2}, {:.2}", score.unacceptable, score.acceptable),
            ),
        ),
        (
            "Trial: assessors are assumed to accept what is not acceptable, and not to accept what is",
            format!("{}, {}", percent(rules.trial.assessors.false_accept), percent(rules.trial.assessors.false_reject)),
        ),
        ("Refresher due after", format!("{} days", rules.refresher_days)),
        ("Supervised refresher after", format!("{} days", rules.supervised_days)),
        ("Observed again after", format!("{} days", rules.reobserve_days)),
        ("A sign-off lapses after", format!("{} days", rules.lapse_days)),
        (
            "An instructor may override",
            rules.overridable.iter().map(|code| code.replace('-', " ")).collect::<Vec<_>>().join("; "),
        ),
    ];
    let two_eyes = rules.two_eyes.map(|figures| {
        [
            ("Two eyes: the pace is that of the last services at the plan", figures.last.to_string()),
            ("Two eyes: planned work keeps within this share of the times", percent(figures.planned_share)),
            (
                "Two eyes: no overlapping above this chance of an overrun",
                format!("{:.1} %", figures.most_overrun * 100.0),
            ),
        ]
    });
    let forecast = rules.forecast.map(|figures| {
        let leeway = format!("{} % above the target", figures.standard_leeway_percent);
        [
            ("Forecasts: time away widens ranges (tau)", figures.tau.to_string()),
            ("Forecasts: services to come that a curve is drawn over", figures.ahead.to_string()),
            ("Time standard: chance of the next service within the target", percent(figures.standard_chance)),
            (
                "Time standard: the last services looked at, and how far each may be",
                format!("{}, {leeway}", figures.standard_last),
            ),
        ]
    });
    let parts = two_eyes.into_iter().flatten().chain(forecast.into_iter().flatten());
    rows.into_iter().chain(parts).map(|(rule, figure)| vec![rule.to_owned(), figure]).collect()
}
