//! Services that lie unusually far from the trainee's own curve, one click from each.

use leptos::prelude::*;
use practicum::evidence::individuals;
use practicum::evidence::learning::{Answer, Asked};
use practicum::section::Plan;

use super::charts::{Drawn, head};
use crate::charts::{Chart, ResidualPoint, residuals};

/// Most services that are named above the table, the latest.
const NAMED: usize = 12;

/// Shows how far each service lies from the curve, and what is unusual.
pub(super) fn residual_part(drawn: &Drawn, asked: &Asked, answer: &Answer) -> AnyView {
    let found = individuals(answer);
    if found.readings.is_empty() {
        return view! { <p>"○ No service can be held against a curve yet."</p> }.into_any();
    }
    let point = |reading: &practicum::evidence::Reading| ResidualPoint {
        number: reading.number,
        distance: reading.distance,
        plan: reading.plan,
        unusual: !reading.unusual.is_empty(),
    };
    let points: Vec<ResidualPoint> = found.readings.iter().map(point).collect();
    let link = |row: u32| asked.service(row).map(|id| format!("#/service/{id}")).unwrap_or_default();
    let links = found.readings.iter().map(|reading| link(reading.row)).collect();
    let cells = |reading: &practicum::evidence::Reading| {
        let side = if reading.distance > 0.0 { "slower" } else { "quicker" };
        let said = reading.say();
        vec![
            reading.number.to_string(),
            reading.plan.word().to_owned(),
            format!("{:.1} {side}", reading.distance.abs()),
            if said.is_empty() { String::new() } else { format!("◎ {said}") },
        ]
    };
    let rows = found.readings.iter().map(cells).collect();
    let unusual = found.readings.iter().rev().filter(|reading| !reading.unusual.is_empty()).take(NAMED);
    let named = unusual.map(|reading| {
        let day = asked.service(reading.row).and_then(|id| {
            let known = drawn.services.iter().find(|(_, service)| service.id == *id);
            known.map(|(_, service)| service.day().to_string())
        });
        let words = format!("No. {}, {}", reading.number, day.unwrap_or_default());
        view! { <li>"◎ "<a class="service-link" href=link(reading.row)>{words}</a>{format!(": {}", reading.say())}</li> }
    });
    let named: Vec<_> = named.collect();
    let none = named.is_empty().then(|| {
        let words = if found.limit.is_some() {
            "✓ No service stands out from this trainee’s own curve."
        } else {
            "○ No service stands out; there are too few at one plan for limits."
        };
        view! { <p>{words}</p> }
    });
    let plans: usize = Plan::ALL.iter().filter(|plan| points.iter().any(|point| point.plan == **plan)).count();
    let description = if plans > 1 {
        "How far each service lies from this trainee’s own curve; 1 is the usual distance. Each plan is judged by itself. A \
         ring marks what is worth a look together: what happened there? It is no fault by itself."
    } else {
        "How far each service lies from this trainee’s own curve; 1 is the usual distance. A ring marks what is worth a look \
         together: what happened there? It is no fault by itself."
    };
    view! {
        <Chart title="Services that stand out" description=description svg=residuals(&points, found.limit)
            head=head(&["No.", "Plan", "From own curve", "Worth a look"]) rows=rows links=links/>
        <ul class="plain-list stand-out">{named}</ul>
        {none}
        <details>
            <summary>"How this was worked out"</summary>
            <ul>{found.workings.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </details>
    }
    .into_any()
}
