//! A trainee's charts, each with the same numbers as a table.

use std::sync::Arc;

use leptos::prelude::*;
use practicum::course_book::{CourseBook, Mark};
use practicum::evidence::{assessed, breaches};
use practicum::ids::{PersonId, ServiceId};
use practicum::moment::{Seconds, format_seconds};
use practicum::outcome::{Marked, Verdict, applicable};
use practicum::section::Plan;
use practicum::service::{Origin, Service};
use practicum::standing::{Standing, may_show_targets};

use super::curve::CurveSection;
use super::quality::quality;
use crate::charts::{Chart, Column, DwellPoint, TargetStep, dwells, rubric_strip, service_time, services_per_plan};
use crate::session::{Session, session};

/// Everything that the charts are drawn from.
#[derive(Clone)]
pub(super) struct Drawn {
    /// Whose.
    pub(super) trainee: PersonId,
    /// Course book in force.
    pub(super) book: Arc<CourseBook>,
    /// Where the trainee is now.
    pub(super) standing: Standing,
    /// Live services, late and imported ones included, in the order begun, with their numbers from 1.
    pub(super) services: Vec<(u32, Service)>,
    /// The services with a safety breach, marked or recorded by a clock.
    pub(super) breaches: Vec<ServiceId>,
}

/// All charts of a trainee.
#[component]
pub(super) fn ChartsSection(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let drawn = move || {
        let mut services: Vec<Service> =
            session.services().into_iter().filter(|s| s.is_service() && s.trainee == id).collect();
        services.reverse();
        let breaches = broken(session, &services);
        let services = (1_u32..).zip(services).collect();
        Some(Drawn { trainee: id.clone(), book: session.book()?, standing: session.standing(&id)?, services, breaches })
    };
    view! {
        <h2>"Charts"</h2>
        {move || drawn().map(|drawn| view! { {quality(&drawn)}<CurveSection drawn=drawn.clone()/><Charts drawn=drawn/> })}
    }
}

/// The charts themselves.
#[component]
fn Charts(
    /// What they are drawn from.
    drawn: Drawn,
) -> impl IntoView {
    let any = Plan::ALL.iter().any(|plan| may_show_targets(&drawn.standing, *plan));
    let first = (!any).then(
        || view! { <p class="notice notice-info">"● Quality first: targets appear once quality is met at a plan."</p> },
    );
    view! {
        {first}
        {service_chart(&drawn)}
        {dwell_chart(&drawn)}
        {strip_chart(&drawn)}
        {plan_chart(&drawn)}
    }
}

fn broken(session: Session, services: &[Service]) -> Vec<ServiceId> {
    let services: Vec<&Service> = services.iter().collect();
    let records = session.records();
    let outcomes = records.outcomes_in_force();
    let found = session.with_books(|books| {
        let marked = assessed(&services, &outcomes, &books);
        breaches(&services, &marked, &books).into_iter().map(|breach| breach.service.id.clone()).collect()
    });
    found.unwrap_or_default()
}

pub(super) fn say(seconds: Option<Seconds>) -> String {
    seconds.map_or_else(|| "–".to_owned(), format_seconds)
}

pub(super) fn head(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

/// Returns the steps of a target: over the services since the day quality was met at their plan, and over no other.
pub(super) fn steps(drawn: &Drawn, target: impl Fn(Plan) -> Option<Seconds>) -> Vec<TargetStep> {
    crate::review::target_steps(&drawn.services, &drawn.standing, target)
}

fn recorded(service: &Service) -> &'static str {
    match service.origin {
        Origin::Live { .. } => "live",
        Origin::Late(_) => "late entry",
        Origin::Imported { .. } => "imported, not observed",
    }
}

/// Returns where each row of a table leads: the service of the number in its first cell.
pub(super) fn links(drawn: &Drawn, numbers: impl Iterator<Item = u32>) -> Vec<String> {
    let of = |number: u32| {
        let found = drawn.services.iter().find(|(known, _)| *known == number);
        found.map(|(_, service)| format!("#/service/{}", service.id)).unwrap_or_default()
    };
    numbers.map(of).collect()
}

fn service_chart(drawn: &Drawn) -> impl IntoView + use<> {
    let points = crate::review::time_points(&drawn.services);
    let target = steps(drawn, |plan| drawn.book.plan(plan).map(|plan| plan.service_target.both_eyes()));
    let row = |(number, service): &(u32, Service)| {
        let times = &service.times;
        vec![
            number.to_string(),
            service.day().to_string(),
            recorded(service).to_owned(),
            service.plan().map_or("–", Plan::word).to_owned(),
            say(times.service),
            say(times.hands_on),
            say(times.waiting),
            say(times.checks),
            say(times.pauses),
        ]
    };
    let rows = drawn.services.iter().map(row).collect();
    let links = links(drawn, drawn.services.iter().map(|(number, _)| *number));
    view! {
        <Chart title="Service time by service"
            description="Each bar is one live service: hands-on, waiting, checks and pauses add up to its service time. A point without a bar is a service whose parts nobody recorded. The shape says the section plan; the stepped line is the plan’s target since quality was met there."
            svg=service_time(&points, &target)
            head=head(&["No.", "Day", "Recorded", "Plan", "Service time", "Hands-on", "Waiting", "Checks", "Pauses"]) rows=rows links=links/>
    }
}

fn dwell_chart(drawn: &Drawn) -> impl IntoView + use<> {
    let points = crate::review::dwell_points(&drawn.services, drawn.book.rules.late_seconds);
    let row = |point: &DwellPoint| {
        vec![
            point.number.to_string(),
            point.product.word().to_owned(),
            point.eye.word().to_owned(),
            format_seconds(point.seconds),
            point.judgement.word().to_owned(),
        ]
    };
    let rows = points.iter().map(row).collect();
    let links = links(drawn, points.iter().map(|point| point.number));
    view! {
        <Chart title="Dwell per eye"
            description="Seconds from first contact to off, for each product and eye. The label sets it, not skill: a short dwell is never progress."
            svg=dwells(&points)
            head=head(&["No.", "Product", "Eye", "Dwell", "Judged"]) rows=rows links=links/>
    }
}

fn strip_chart(drawn: &Drawn) -> impl IntoView + use<> {
    let session = session();
    let criteria: Vec<String> = drawn.book.criteria.iter().map(|criterion| criterion.label.clone()).collect();
    let columns: Vec<Column> = drawn.services.iter().filter_map(|numbered| column(session, drawn, numbered)).collect();
    let row = |column: &Column| {
        let say = |mark: Mark| format!("{} {}", mark.number() + 1, mark.word());
        let marks =
            column.marks.iter().map(|mark| mark.and_then(Mark::from_number).map_or_else(|| "–".to_owned(), say));
        let breach = if column.breach { "■ breach" } else { "" };
        std::iter::once(column.number.to_string()).chain(marks).chain([breach.to_owned()]).collect()
    };
    let rows = columns.iter().map(row).collect();
    let links = links(drawn, columns.iter().map(|column| column.number));
    let words =
        std::iter::once("No.".to_owned()).chain(criteria.iter().cloned()).chain(["Safety".to_owned()]).collect();
    view! {
        <Chart title="Marks by criterion and service"
            description="Assessors’ marks: 1 Not yet, 2 Nearly, 3 Meets, 4 Strong. A flag marks a service with a safety breach."
            svg=rubric_strip(&criteria, &columns) head=words rows=rows links=links/>
    }
}

fn column(session: Session, drawn: &Drawn, (number, service): &(u32, Service)) -> Option<Column> {
    let outcomes = session.outcomes_of(&service.id);
    let outcome = outcomes.iter().rev().find(|outcome| outcome.marker != service.trainee)?;
    let late = drawn.book.rules.late_seconds;
    let book = session.book_of(service)?;
    let verdict =
        practicum::outcome::verdict(&applicable(&book, service), &outcome.marks, &service.times.breaches(late));
    let mark = |criterion: &practicum::course_book::Criterion| match outcome.marks.get(&criterion.id) {
        Some(Marked::Level(mark)) => Some(mark.number()),
        _ => None,
    };
    Some(Column {
        number: *number,
        marks: drawn.book.criteria.iter().map(mark).collect(),
        breach: matches!(verdict, Verdict::SafetyBreach(_)),
    })
}

fn plan_chart(drawn: &Drawn) -> impl IntoView + use<> {
    let count = |ids: usize| u32::try_from(ids).unwrap_or(u32::MAX);
    let bar = |c: &practicum::standing::PlanCount| {
        (c.plan, count(c.services.len() + c.imported.len()), count(c.assessed.len()))
    };
    let bars: Vec<_> = drawn.standing.counts.iter().map(bar).collect();
    let rows = bars
        .iter()
        .map(|(plan, all, assessed)| {
            vec![plan.map_or("no plan recorded", Plan::word).to_owned(), all.to_string(), assessed.to_string()]
        })
        .collect();
    view! {
        <Chart title="Services at each plan"
            description="The outline counts every service, imported ones included; the filled bar those whose assessor’s marks count."
            svg=services_per_plan(&bars) head=head(&["Plan", "All", "Assessed"]) rows=rows/>
    }
}
