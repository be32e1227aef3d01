//! Whether quality is shown: the latest trial's charts, or without a trial the plain results.

use leptos::prelude::*;
use practicum::course_book::TrialRule;
use practicum::evidence::{LIKELY_SHARE, TrialChart, TrialService, TrialState, TrialVerdict, likely_share};
use practicum::ids::ServiceId;
use practicum::section::Plan;

use super::ServiceLinks;
use super::charts::{Drawn, head, links};
use crate::charts::{Chart, Decision, DecisionPoint, ResultRow, decision, results};
use crate::session::session;

/// Shows how the latest trial stands.
pub(super) fn quality(drawn: &Drawn) -> AnyView {
    let id = &drawn.trainee;
    let whole = drawn.book.competencies.iter().find(|competency| competency.whole_service);
    let link = whole.map(|whole| format!("#/sign-off/{id}/{}", whole.id));
    let page = move || link.clone().map(|link| view! { <a href=link>"sign-off page of the whole service"</a> });
    match session().trials(id) {
        Err(why) => view! {
            <h3>"Quality"</h3>
            <p class="notice notice-info">{format!("The trial cannot be worked out: {why}.")}</p>
            {plain(drawn)}
        }
        .into_any(),
        Ok(mut states) => match states.pop() {
            Some(state) => view! { {trial(drawn, &state)}<p class="small">"All trials stand on the "{page()}"."</p> }.into_any(),
            None => view! {
                <h3>"Quality"</h3>
                <p>"○ No trial is opened yet. A sign-off of the whole service stands on one: an instructor opens it on the "{page()}"."</p>
                {plain(drawn)}
            }
            .into_any(),
        },
    }
}

fn number(drawn: &Drawn, id: &ServiceId) -> Option<u32> {
    drawn.services.iter().find(|(_, service)| service.id == *id).map(|(number, _)| *number)
}

fn say_number(number: Option<u32>) -> String {
    number.map_or_else(|| "–".to_owned(), |number| number.to_string())
}

/// One chart of the latest trial and its words.
struct Panel<'a> {
    title: String,
    description: &'a str,
    /// The services it shows, with the value after each.
    services: Vec<(&'a TrialService, Option<f64>)>,
    line: f64,
    line_words: &'a str,
    reached: Option<&'a ServiceId>,
    reached_words: &'a str,
    room: u32,
    y_words: &'a str,
    /// Whether the table has the mean mark too.
    scored: bool,
}

fn panel(drawn: &Drawn, panel: Panel<'_>) -> AnyView {
    let of = |(one, value): &(&TrialService, Option<f64>)| DecisionPoint {
        value: *value,
        acceptable: one.acceptable,
        breach: one.breach,
    };
    let points: Vec<DecisionPoint> = panel.services.iter().map(of).collect();
    let reached = panel.reached.and_then(|id| panel.services.iter().position(|(one, _)| one.service == *id));
    let svg = decision(&Decision {
        points: &points,
        line: panel.line,
        line_words: panel.line_words,
        reached,
        reached_words: panel.reached_words,
        room: panel.room,
        y_words: panel.y_words,
    });
    let numbers: Vec<Option<u32>> = panel.services.iter().map(|(one, _)| number(drawn, &one.service)).collect();
    let links = links(drawn, numbers.iter().map(|number| number.unwrap_or(0)));
    let row = |((one, value), number): (&(&TrialService, Option<f64>), &Option<u32>)| {
        let value =
            value.map_or_else(|| "not counted here".to_owned(), |value| format!("{value:.2} of {:.2}", panel.line));
        let result = match one.acceptable {
            Some(true) => "✓ acceptable",
            Some(false) => "○ not acceptable",
            None => "○ no mark counts yet",
        };
        let breach = if one.breach { "■ breach" } else { "" };
        let mut row = vec![say_number(*number), one.day.to_string(), result.to_owned(), breach.to_owned(), value];
        if panel.scored {
            row.push(one.score.map_or_else(|| "–".to_owned(), |score| format!("{score:.2}")));
        }
        row
    };
    let rows = panel.services.iter().zip(&numbers).map(row).collect();
    let mut heads = head(&["No.", "Day", "Result", "Safety", "Chart after it"]);
    if panel.scored {
        heads.push("Mean mark, from 0 (Not yet) to 3 (Strong)".to_owned());
    }
    view! { <Chart title=panel.title description=panel.description svg=svg head=heads rows=rows links=links/> }
        .into_any()
}

/// Joins the values of a chart, one for each marked service up to the trial's last, to the services.
fn with_values<'a>(services: &'a [TrialService], values: &[f64]) -> Vec<(&'a TrialService, Option<f64>)> {
    let mut values = values.iter().copied();
    services.iter().map(|one| (one, one.acceptable.and_then(|_| values.next()))).collect()
}

/// Says how the chart of a rule is read.
fn how_it_moves(rule: TrialRule) -> &'static str {
    match rule {
        TrialRule::Learning => {
            "Each service of the trial that is marked moves the line: an acceptable one up, another one down, never below the \
             bottom. At the dashed line it passes, and that pass stands. Safety is judged apart: a triangle along the top marks \
             a breach."
        }
        TrialRule::Sequential => {
            "Each service of the trial that is marked moves the line: an acceptable one up, another one down. At the dashed line \
             it passes, and that pass stands; far enough below zero the trial ends without one. Safety is judged apart: a \
             triangle along the top marks a breach."
        }
        _ => {
            "The line counts the acceptable services as the rule of this trial counts them. At the dashed line it passes, a \
             fixed number of services once they are complete, and that pass stands. Safety is judged apart: a triangle along \
             the top marks a breach."
        }
    }
}

fn trial(drawn: &Drawn, state: &TrialState) -> AnyView {
    let mark = crate::pages::trial::sign(state.verdict);
    let settles = (!state.settles.is_empty()).then(|| view! { <p>{state.settles.clone()}</p> });
    let breaches = state.safety.breaches.clone();
    let safety = (!breaches.is_empty()).then(|| {
        view! { <p class="notice notice-danger">"■ Safety breaches since it was opened: "<ServiceLinks ids=breaches/></p> }
    });
    let room = if state.verdict == TrialVerdict::Open { state.left } else { 0 };
    let of = |chart: &'_ TrialChart| with_values(&state.services, &chart.values);
    let quality = panel(
        drawn,
        Panel {
            title: format!("Acceptable or not: trial {} at {}", state.number, state.terms.plan.word()),
            description: how_it_moves(state.rule),
            services: of(&state.quality),
            line: state.quality.limit,
            line_words: "passes here",
            reached: state.quality.passed.as_ref(),
            reached_words: "passed, and it stands",
            room,
            y_words: "evidence so far",
            scored: false,
        },
    );
    let score = state.score.as_ref().map(|chart| panel(drawn, Panel {
        title: format!("How good: mean marks in trial {}", state.number),
        description: "The same services by their mean mark: the better it is, the further the line goes up; a low one takes it \
            down. The trial asks both charts to pass.",
        services: of(chart),
        line: chart.limit,
        line_words: "passes here",
        reached: chart.passed.as_ref(),
        reached_words: "passed, and it stands",
        room,
        y_words: "evidence so far",
        scored: true,
    }));
    view! {
        <h3>{format!("Quality: trial {}", state.number)}</h3>
        <p>{format!("{mark}{}", state.sentence)}</p>
        {settles}
        <p>{state.say_risk()}</p>
        {safety}
        {quality}
        {score}
        {watch(drawn, state)}
        <details>
            <summary>"How this was worked out"</summary>
            <ul>{state.workings.iter().cloned().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </details>
    }
    .into_any()
}

/// The services after the pass, and whether skill is going.
fn watch(drawn: &Drawn, state: &TrialState) -> Option<AnyView> {
    let watch = state.watch.as_ref().filter(|watch| !watch.values.is_empty())?;
    let marked = state.services.iter().filter(|one| one.acceptable.is_some());
    let since = marked.clone().count().saturating_sub(watch.values.len());
    let values = watch.values.iter().map(|value| Some(f64::from(*value)));
    let signal = watch.signalled.clone().map(|id| {
        view! {
            <p class="notice notice-caution">
                "▲ Since the pass, results have slipped: look together at what has changed. First seen at "
                <ServiceLinks ids=vec![id]/>
            </p>
        }
    });
    let chart = panel(
        drawn,
        Panel {
            title: format!("Since the pass of trial {}", state.number),
            description: "After the pass the chart looks for slipping: a service that is not acceptable moves the line up, others \
            bring it down. At the dashed line it is time to look again together; the pass is not taken away by it.",
            services: marked.skip(since).zip(values).collect(),
            line: f64::from(watch.limit),
            line_words: "look again here",
            reached: watch.signalled.as_ref(),
            reached_words: "look again",
            room: 0,
            y_words: "signs of slipping",
            scored: false,
        },
    );
    Some(view! { {signal}{chart} }.into_any())
}

/// The results at each plan, without a decision.
fn plain(drawn: &Drawn) -> AnyView {
    let assessed = drawn.standing.counts.iter().filter(|count| !count.assessed.is_empty());
    let row = |count: &practicum::standing::PlanCount| ResultRow {
        plan: count.plan,
        results: count
            .assessed
            .iter()
            .filter_map(|id| Some((number(drawn, id)?, count.acceptable.contains(id), drawn.breaches.contains(id))))
            .collect(),
    };
    let rows: Vec<ResultRow> = assessed.map(row).collect();
    let say = |row: &ResultRow| {
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let good = count(row.results.iter().filter(|result| result.1).count());
        let all = count(row.results.len());
        let (low, high) = likely_share(good, all)?;
        let plan = row.plan.map_or("plan not recorded", Plan::word);
        let words = format!(
            "{plan}: {good} of {all} acceptable, which fits a share of anything from {:.0} to {:.0} in 100.",
            low * 100.0,
            high * 100.0
        );
        Some(view! { <li>{words}</li> })
    };
    let said = rows.iter().filter_map(say).collect_view();
    let any = !rows.is_empty();
    let table = rows.iter().flat_map(|row| row.results.iter().map(|result| (row.plan, *result))).collect::<Vec<_>>();
    let links = links(drawn, table.iter().map(|(_, (number, ..))| *number));
    let cells = |(plan, (number, good, breach)): &(Option<Plan>, (u32, bool, bool))| {
        vec![
            number.to_string(),
            plan.map_or("–", Plan::word).to_owned(),
            if *good { "✓ acceptable" } else { "○ not acceptable" }.to_owned(),
            if *breach { "■ breach" } else { "" }.to_owned(),
        ]
    };
    let cells = table.iter().map(cells).collect();
    let described = any.then(|| {
        view! {
            <p>"Descriptive; no decision stands on it:"</p>
            <ul class="plain-list">{said}</ul>
            <details><summary>"How this was worked out"</summary><p>{LIKELY_SHARE}</p></details>
        }
    });
    view! {
        <Chart title="Acceptable or not, by plan"
            description="Each sign is one service that an assessor has marked, in the order begun, with the numbers of the first and the last below. A triangle above marks a safety breach."
            svg=results(&rows) head=head(&["No.", "Plan", "Result", "Safety"]) rows=cells links=links/>
        {described}
    }
    .into_any()
}
