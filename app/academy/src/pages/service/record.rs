//! What a record says beside its times and marks, name by name.

use leptos::prelude::*;
use practicum::couch::{Analysis, Direction, LastLift, ShieldChoice, Tint};
use practicum::course_book::{CourseBook, Reach};
use practicum::eye::Eye;
use practicum::moment::format_moment;
use practicum::service::{Origin, Service};

use super::{ending_words, mode_words};
use crate::components::{DataTable, text_rows};
use crate::pages::marking::{claim_in_words, state_in_words};
use crate::session::{Session, session};

/// What is shown of a record: name and words.
pub(super) type Line = (String, String);

/// The record as a table.
#[component]
pub(super) fn Record(
    /// The service.
    service: Service,
) -> impl IntoView {
    let rows = lines(session(), &service).into_iter().map(|(name, words)| vec![name, words]).collect();
    view! { <DataTable caption="Record" head=vec!["What".to_owned(), "Recorded".to_owned()] rows=text_rows(rows)/> }
}

/// Whether comfort and notes may be shown: to the trainee, and to who has unlocked.
pub(crate) fn may_read(session: Session, service: &Service) -> bool {
    session.may_see_private() || session.who().is_some_and(|who| who.id == service.trainee)
}

/// Lists what a record says.
pub(super) fn lines(session: Session, service: &Service) -> Vec<Line> {
    let book = session.book_of(service);
    let mut lines = head(session, service);
    for eye in Eye::BOTH {
        lines.extend(of_eye(book.as_deref(), service, eye));
    }
    let products = service.products.iter().map(|(kind, lot)| {
        let opened = lot.opened_on.map(|day| format!(", opened {day}")).unwrap_or_default();
        format!("{}: {}, lot {}{opened}", kind.word(), session.product_name(&lot.product), lot.number)
    });
    let products: Vec<String> = products.collect();
    let said = |text: &str| match (text.is_empty(), may_read(session, service)) {
        (true, _) => "–".to_owned(),
        (false, true) => text.to_owned(),
        (false, false) => "hidden: unlock at the top to read it".to_owned(),
    };
    let yes_no = |answer: Option<bool>, unsaid: &str| {
        answer.map_or(unsaid.to_owned(), |yes| if yes { "yes" } else { "no" }.to_owned())
    };
    lines.extend([
        ("Tint".to_owned(), tint_words(service.tint).to_owned()),
        ("Products".to_owned(), if products.is_empty() { "not recorded".to_owned() } else { products.join("; ") }),
        ("To be marked by an assessor".to_owned(), yes_no(service.will_be_assessed, "not declared")),
        ("Aftercare given".to_owned(), yes_no(service.aftercare_given, "not said")),
        ("Comfort".to_owned(), said(&service.comfort)),
        ("Note".to_owned(), said(&service.note)),
    ]);
    for made in &service.overrides {
        let state = state_in_words(session, &session.override_state(&service.id, made));
        lines.push(("Override".to_owned(), format!("{} ({state})", claim_in_words(session, made))));
    }
    lines
}

fn head(session: Session, service: &Service) -> Vec<Line> {
    let book = session.book_of(service);
    let medium = match &service.drill {
        Some(kind) => {
            let label = book.as_ref().and_then(|book| book.drill(kind).map(|drill| drill.label.clone()));
            format!("drill: {} ({})", label.unwrap_or_else(|| kind.to_string()), service.medium.word())
        }
        None => "service on a live practice model".to_owned(),
    };
    let plan = service.worked.map_or_else(
        || "not recorded".to_owned(),
        |worked| format!("{}{}", worked.sections.plan().word(), if worked.mixed { ", mixed" } else { "" }),
    );
    let mut mode = mode_words(service).to_owned();
    if let Origin::Imported { line, .. } = &service.origin {
        mode.push_str(&format!(" (line {line} of the file)"));
    }
    let person = service.practice_model.as_ref().map_or_else(|| "not recorded".to_owned(), |id| session.code_of(id));
    let row = |name: &str, words: String| (name.to_owned(), words);
    let mut lines = vec![
        row("How recorded", mode),
        row("Trainee", session.person_name(&service.trainee)),
        row("What", medium),
        row("Began", format_moment(&service.began).replace('T', " ")),
        row("Ended", ending_words(service)),
        row("Course book", service.course_book.to_string()),
        row("Plan as worked", plan),
        row("Room", if service.room.is_empty() { "–".to_owned() } else { service.room.clone() }),
    ];
    if service.is_service() {
        lines.insert(2, row("Practice model", person));
    }
    if let Some(known) = session.records().service(&service.id) {
        lines.push(row("Signature", session.signed_words(&known.entry).to_owned()));
    }
    lines
}

fn of_eye(book: Option<&CourseBook>, service: &Service, eye: Eye) -> Vec<Line> {
    let word = eye.word();
    let analysis = service.analysis.get(eye).as_ref().map_or_else(|| "not recorded".to_owned(), analysis_words);
    let shield = service.shields.get(eye).as_ref().map_or_else(|| "not recorded".to_owned(), |c| shield_words(book, c));
    let sections = service.sections.get(eye).map_or_else(|| "not recorded".to_owned(), |s| s.number().to_string());
    vec![
        (format!("Lashes, {word} eye"), analysis),
        (format!("Shield, {word} eye"), shield),
        (format!("Sections, {word} eye"), sections),
    ]
}

/// Says a lash analysis.
fn analysis_words(analysis: &Analysis) -> String {
    let direction = match analysis.direction {
        Direction::Up => "growing upward",
        Direction::Straight => "growing straight out",
        Direction::Down => "growing downward",
        Direction::Mixed => "growing in mixed directions",
    };
    let last = match analysis.last_lift {
        LastLift::Never => "never lifted before".to_owned(),
        LastLift::On(day) => format!("last lifted {day}"),
        LastLift::Unknown => "last lift not known".to_owned(),
    };
    format!("{} mm, {}, {direction}, {last}", analysis.length_mm, analysis.condition.word())
}

fn shield_words(book: Option<&CourseBook>, choice: &ShieldChoice) -> String {
    let label = |id: &practicum::ids::ShieldId| {
        book.and_then(|book| book.shield(id)).map_or_else(|| id.to_string(), |shield| shield.label.clone())
    };
    let tried = choice.tried.iter().map(|(id, reach)| {
        let reach = match reach {
            Reach::OverTop => "tips over the top: too small",
            Reach::TwoThirds => "tips about two thirds up",
            Reach::BarelyHalf => "tips barely half way: too large",
        };
        format!("{} ({reach})", label(id))
    });
    let tried: Vec<String> = tried.collect();
    let tried = if tried.is_empty() { String::new() } else { format!("; tried: {}", tried.join(", ")) };
    format!("{}{tried}", label(&choice.chosen))
}

fn tint_words(tint: Tint) -> &'static str {
    match tint {
        Tint::None => "none",
        Tint::Own => "a stage of its own",
        Tint::Mixed => "mixed into the setting lotion",
    }
}
