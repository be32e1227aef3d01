//! Choosing the rule of the trial: what each costs and risks at this academy's own thresholds.

use std::sync::Arc;

use leptos::prelude::*;
use practicum::course_book::CourseBook;
use practicum::evidence::{COURSE_SERVICES, Choice, RuleFigures, choose, percent, widening_chances};

use super::table;
use crate::components::Folded;

/// Rules beside each other, worked out when the part is opened.
#[component]
pub(super) fn ChoosingPart(
    /// The book.
    book: Arc<CourseBook>,
) -> impl IntoView {
    let book = StoredValue::new(book);
    let head = view! { <h2>"Choosing the rule of the trial"</h2> }.into_any();
    view! { <Folded class="book-part" head=head>{move || book.with_value(shown)}</Folded> }
}

fn shown(book: &Arc<CourseBook>) -> AnyView {
    let trial = &book.rules.trial;
    let widening = widening_chances(&book.rules).map(|chances| {
        view! { <h3>"Advice to widen"</h3><p>{format!("The rule: the last {} assessed services acceptable. {}", book.rules.widen_last, chances.say(&book.rules))}</p> }
    });
    let choice = match choose(trial) {
        Ok(choice) => choice,
        Err(why) => return view! { <p class="notice notice-caution">{format!("▲ No rule can be worked out for these thresholds: {why}.")}</p>{widening} }.into_any(),
    };
    let Choice { rules, learner, advice } = choice;
    let asked = format!(
        "Not good enough means {} services not acceptable, good enough {}; a trial runs at most {} services, and this \
         academy accepts that {} who are not good enough pass. Every figure is exact for services that do not depend on \
         each other{}.",
        percent(trial.unacceptable),
        percent(trial.acceptable),
        trial.horizon,
        percent(trial.alpha),
        if trial.score.is_some() { "; that the mean mark must pass too makes each pass rarer still" } else { "" },
    );
    let marks = "✓ decides trials opened under this book. ● recommended. ■ passes more than this academy accepts.";
    let course = format!(
        "Courses of 12 to {COURSE_SERVICES} live services are common (proposal, no source): the column says whether a rule fits."
    );
    let head = [
        "Rule",
        "Services at least",
        "On average, good enough",
        "On average, not good enough",
        "Passes who is not good enough",
        "Passes who is good enough",
        "The learner passes",
        "of these too early",
        "In a course",
        "Line in rules.toml",
    ];
    let rows = rules.iter().map(row).collect();
    view! {
        <div class="stack">
            <p>{asked}</p>
            <p><strong>{advice}</strong></p>
            {table("What each rule costs and risks", &head, rows)}
            <p class="small">{marks}" "{course}</p>
            <p class="small">{format!("“The learner”: {learner}. Too early: while still not good enough. “3 in all” is what three observed services amount to.")}</p>
            <h3>"Picking one"</h3>
            <p>"The rule is part of the course book: save it below as a text file, put the line of the rule under [trial] in rules.toml, set shortest_run to its services at least, give a new edition and bring it in. Trials opened from then on are decided by it; earlier ones keep theirs. Without a line the learning chart decides."</p>
            {widening}
        </div>
    }
    .into_any()
}

fn row(rule: &RuleFigures) -> Vec<String> {
    let mut marks = String::new();
    for (holds, mark) in [(rule.in_force, "✓ "), (rule.recommended, "● "), (!rule.keeps_alpha, "■ ")] {
        marks.push_str(if holds { mark } else { "" });
    }
    let fits = match rule.at_least {
        None => "▲ cannot pass in a trial".to_owned(),
        Some(least) if least > COURSE_SERVICES => format!("▲ needs more than {COURSE_SERVICES}"),
        Some(_) if rule.services > f64::from(COURSE_SERVICES) => format!("▲ more than {COURSE_SERVICES} on average"),
        Some(_) => "fits".to_owned(),
    };
    vec![
        format!("{marks}{}", rule.words),
        rule.at_least.map_or_else(|| "–".to_owned(), |least| least.to_string()),
        format!("{:.1}", rule.services),
        format!("{:.1}", rule.services_unacceptable),
        percent(rule.false_pass),
        percent(rule.pass),
        format!("{}, after {:.1}", percent(rule.learner_passes), rule.learner_services),
        percent(rule.learner_too_early),
        fits,
        format!("rule = \"{}\"", rule.rule),
    ]
}
