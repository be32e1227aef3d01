//! Taps that were taken back at the couch: kept, listed, counted for nothing.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::couch::fold::taken_back;
use practicum::course_book::CourseBook;
use practicum::eye::Eye;
use practicum::ids::StageId;
use practicum::service::{Origin, Service};

use super::times::stage_label;
use crate::session::session;

/// Lists the taps that were taken back, if any.
#[component]
pub(super) fn TakenBack(
    /// The service.
    service: Service,
) -> impl IntoView {
    let book = session().book_of(&service);
    let Origin::Live { taps, .. } = &service.origin else { return ().into_any() };
    let line = |tap: &practicum::couch::Tap| {
        let words = act_words(book.as_deref(), &tap.act);
        view! { <li>{format!("{}: {words}", tap.reading.at.format("%H:%M:%S"))}</li> }
    };
    let lines: Vec<_> = taken_back(taps).into_iter().map(line).collect();
    if lines.is_empty() {
        return ().into_any();
    }
    view! {
        <h3>"Taps that were taken back"</h3>
        <p>"They are kept here and count for nothing."</p>
        <ul>{lines}</ul>
    }
    .into_any()
}

/// Says an act in a few words.
pub(crate) fn act_words(book: Option<&CourseBook>, act: &Act) -> String {
    let at = |stage: &StageId, eye: Option<Eye>| {
        let eye = eye.map_or_else(|| "both eyes".to_owned(), |eye| format!("{} eye", eye.word()));
        format!("{}, {eye}", stage_label(book, stage))
    };
    match act {
        Act::Work(stage, eye) => format!("work on {}", at(stage, *eye)),
        Act::SectionDone(stage, eye) => format!("section done, {}", at(stage, Some(*eye))),
        Act::Done(stage, eye) => format!("done with {}", at(stage, *eye)),
        Act::LotionStarts(stage, eye) => format!("on, starting: {}", at(stage, Some(*eye))),
        Act::AllOn(stage, eye) => format!("all on: {}", at(stage, Some(*eye))),
        Act::OffStarts(stage, eye) => format!("off, started: {}", at(stage, Some(*eye))),
        Act::OffDone(stage, eye) => format!("off, done: {}", at(stage, Some(*eye))),
        Act::Pause(why) => format!("pause: {why}"),
        Act::Resume => "end of a pause".to_owned(),
        Act::CheckStarts(stage) => format!("instructor check begins: {}", at(stage, None)),
        Act::CheckDone { stage, go_on, .. } => {
            format!("instructor check, {}: {}", if *go_on { "go on" } else { "not yet" }, at(stage, None))
        }
        Act::Analysed(eye, _) => format!("lash analysis, {} eye", eye.word()),
        Act::ShieldChosen(eye, _) => format!("shield, {} eye", eye.word()),
        Act::SectionsSet(eye, sections) => format!("{} sections, {} eye", sections.number(), eye.word()),
        Act::DwellSet(eye, kind, _) => format!("dwell figures of {}, {} eye", kind.word(), eye.word()),
        Act::TintChosen(_) => "tint or not".to_owned(),
        Act::ProductChosen(_, kind) => format!("choice of {}", kind.word()),
        Act::PracticeModel(_) => "choice of the practice model".to_owned(),
        Act::Screened(_) => "screening".to_owned(),
        Act::ConsentChecked => "consent looked at".to_owned(),
        Act::TestsChecked => "tests looked at".to_owned(),
        Act::WillBeAssessed(yes) => format!("to be marked: {}", if *yes { "yes" } else { "no" }),
        Act::TimeConfirmed { .. } => "what was said about time in doubt".to_owned(),
        _ => "another tap".to_owned(),
    }
}
