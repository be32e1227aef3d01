//! All times of a service as tables, against targets where these may be shown.

use leptos::prelude::*;
use practicum::couch::times::Dwell;
use practicum::course_book::{CourseBook, Measure};
use practicum::eye::Eye;
use practicum::moment::{Seconds, format_seconds};
use practicum::service::Service;
use practicum::standing::may_show_targets;

use crate::session::{Session, session};

/// Times of a service.
#[component]
pub(crate) fn TimesTable(
    /// The service.
    service: Service,
    /// Show targets where quality is met, or to an assessor.
    against: bool,
) -> impl IntoView {
    let session = session();
    let book = session.book_of(&service);
    let shown = against && targets_shown(session, &service);
    let rows = rows(&service, book.as_deref().filter(|_| shown));
    let row = |(name, seconds, target): (String, Option<Seconds>, Option<Seconds>)| {
        let say = |seconds: Option<Seconds>| seconds.map_or_else(|| "–".to_owned(), format_seconds);
        view! {
            <tr><th scope="row">{name}</th><td>{say(seconds)}</td>{shown.then(|| view! { <td>{say(target)}</td> })}</tr>
        }
    };
    let late = book.as_ref().map_or(30, |book| book.rules.late_seconds);
    view! {
        {(!shown).then(|| view! { <p class="notice notice-info">"● Quality first: targets appear once quality is met at this plan."</p> })}
        <div class="table-wrap"><table>
            <caption>"Times, hands-on unless said otherwise"</caption>
            <thead><tr>
                <th scope="col">"What"</th><th scope="col">"Time"</th>{shown.then(|| view! { <th scope="col">"Target"</th> })}
            </tr></thead>
            <tbody>{rows.into_iter().map(row).collect_view()}</tbody>
        </table></div>
        <Dwells dwells=service.times.dwells.clone() late=late/>
        <Remarks service=service.clone()/>
    }
}

fn targets_shown(session: Session, service: &Service) -> bool {
    if session.may_assess() {
        return true;
    }
    let Some(plan) = service.plan() else { return false };
    session.standing(&service.trainee).is_some_and(|standing| may_show_targets(&standing, plan))
}

type Row = (String, Option<Seconds>, Option<Seconds>);

fn rows(service: &Service, book: Option<&CourseBook>) -> Vec<Row> {
    let times = &service.times;
    let plan = book.and_then(|book| service.plan().and_then(|plan| book.plan(plan)));
    let whole =
        |measure: Measure| plan.map(|plan| plan.service_target).filter(|t| t.measure == measure).map(|t| t.both_eyes());
    let mut rows: Vec<Row> = vec![
        ("Service time, pauses included".to_owned(), times.service, whole(Measure::ServiceTime)),
        ("Hands-on".to_owned(), times.hands_on, whole(Measure::HandsOn)),
        ("Waiting".to_owned(), times.waiting, None),
        ("Pauses".to_owned(), times.pauses, None),
        ("Instructor checks".to_owned(), times.checks, None),
    ];
    for time in &times.stages {
        let eye = time.eye.map(|eye| format!(", {} eye", eye.word())).unwrap_or_default();
        let target =
            plan.and_then(|plan| plan.stage_targets.iter().find(|(stage, _)| *stage == time.stage)).map(|(_, t)| t);
        let target = target.map(|t| if time.eye.is_some() && !t.per_eye { t.seconds / 2 } else { t.seconds });
        rows.push((format!("{}{eye}", time.stage), Some(time.hands_on), target));
    }
    for time in &times.sections {
        rows.push((
            format!("{}, {} eye, section {}", time.stage, time.eye.word(), time.number),
            Some(time.hands_on),
            None,
        ));
    }
    rows
}

/// Every dwell with both its clocks.
#[component]
fn Dwells(
    /// The dwells.
    dwells: Vec<Dwell>,
    /// The course book's late seconds.
    late: Seconds,
) -> impl IntoView {
    let row = move |dwell: &Dwell| {
        let window = dwell.plan.map_or_else(
            || "–".to_owned(),
            |plan| {
                format!(
                    "{} to {}, label {}",
                    format_seconds(plan.minimum),
                    format_seconds(plan.maximum),
                    format_seconds(plan.label_maximum)
                )
            },
        );
        let eye: Eye = dwell.eye;
        view! {
            <tr>
                <th scope="row">{format!("{}, {} eye", dwell.product.word(), eye.word())}</th>
                <td>{format_seconds(dwell.from_first(0))}</td>
                <td>{dwell.from_last(0).map_or_else(|| "–".to_owned(), format_seconds)}</td>
                <td>{window}</td><td>{dwell.judge(0, late).word()}</td>
            </tr>
        }
    };
    (!dwells.is_empty()).then(|| view! {
        <div class="table-wrap"><table>
            <caption>"Dwell"</caption>
            <thead><tr>
                <th scope="col">"Product"</th><th scope="col">"From first contact"</th><th scope="col">"From last contact"</th>
                <th scope="col">"Window"</th><th scope="col">"Judged"</th>
            </tr></thead>
            <tbody>{dwells.iter().map(row).collect_view()}</tbody>
        </table></div>
    })
}

/// What must be said beside the times.
#[component]
fn Remarks(
    /// The service.
    service: Service,
) -> impl IntoView {
    let times = &service.times;
    let pauses = times.pause_reasons.iter().map(|(why, seconds)| format!("Pause: {why}, {}", format_seconds(*seconds)));
    let doubts = times.doubts.iter().map(|doubt| format!("▲ Times in doubt: {doubt}"));
    let lost = times.alarms_lost.iter().map(|why| format!("▲ An alarm may not have sounded: {why}"));
    let edited = times.edited.then(|| "▲ A time was set right by hand.".to_owned());
    let lines: Vec<String> = pauses.chain(doubts).chain(lost).chain(edited).collect();
    view! { <ul class="plain-list">{lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul> }
}
