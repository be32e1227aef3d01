//! All times of a service as tables, against targets where these may be shown.

use leptos::prelude::*;
use practicum::course_book::{CourseBook, Measure, Target};
use practicum::ids::StageId;
use practicum::moment::{Seconds, format_seconds};
use practicum::service::Service;
use practicum::standing::may_show_targets;

use super::dwells::{Dwells, Remarks};
use crate::components::{DataTable, text_rows};
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
    let service = StoredValue::new(service);
    let shown = Memo::new(move |_| against && service.with_value(|service| targets_shown(session, service)));
    let table = move || {
        let shown = shown.get();
        let mut head = vec!["What".to_owned(), "Time".to_owned()];
        head.extend(shown.then(|| "Target".to_owned()));
        let rows = service.with_value(|service| {
            let book = session.book_of(service);
            rows(service, book.as_deref()).into_iter().map(|row| row.cells(shown)).collect()
        });
        view! { <DataTable caption="Times" head=head rows=text_rows(rows)/> }
    };
    let first =
        move || {
            (against && !shown.get()).then(|| view! {
        <p class="notice notice-info">"● Quality first. Targets appear once quality is met at this plan."</p>
    })
        };
    let mixed = service.with_value(|service| service.worked.is_some_and(|worked| worked.mixed));
    let late = service.with_value(|service| session.book_of(service).map(|book| book.rules.late_seconds));
    view! {
        {first}
        {mixed.then(|| view! { <p>"▲ Mixed sections: left out of the time standard of this plan."</p> })}
        {table}
        <Dwells dwells=service.with_value(|service| service.times.dwells.clone()) late=late/>
        <Remarks times=service.with_value(|service| service.times.clone())/>
    }
}

fn targets_shown(session: Session, service: &Service) -> bool {
    if session.may_assess() {
        return true;
    }
    let Some(plan) = service.plan() else { return false };
    session.standing(&service.trainee).is_some_and(|standing| may_show_targets(&standing, plan))
}

/// Says a target with what it is for.
pub(crate) fn target_words(target: &Target) -> String {
    let per = if target.per_eye { "per eye" } else { "both eyes" };
    let of = match target.measure {
        Measure::HandsOn => "hands-on",
        Measure::ServiceTime => "service time",
    };
    format!("{} {per}, {of}", format_seconds(target.seconds))
}

/// Name of a stage as the course book says it.
pub(crate) fn stage_label(book: Option<&CourseBook>, id: &StageId) -> String {
    book.and_then(|book| book.stage(id)).map_or_else(|| id.to_string(), |stage| stage.label.clone())
}

/// A time with its target.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Row {
    /// What it is.
    pub(super) name: String,
    /// The time, if known.
    pub(super) seconds: Option<Seconds>,
    /// Target, in words.
    target: String,
}

impl Row {
    fn new(name: impl Into<String>, seconds: Option<Seconds>, target: Option<&Target>) -> Self {
        let target = target.map_or_else(|| "–".to_owned(), target_words);
        Self { name: name.into(), seconds, target }
    }

    /// Says the time.
    pub(super) fn time(&self) -> String {
        self.seconds.map_or_else(|| "not recorded".to_owned(), format_seconds)
    }

    fn cells(self, with_target: bool) -> Vec<String> {
        let mut cells = vec![self.name.clone(), self.time()];
        cells.extend(with_target.then_some(self.target));
        cells
    }
}

/// Lists every time of a service but its dwells.
pub(super) fn rows(service: &Service, book: Option<&CourseBook>) -> Vec<Row> {
    let times = &service.times;
    let plan = book.and_then(|book| service.plan().and_then(|plan| book.plan(plan)));
    let whole = |measure: Measure| plan.map(|plan| &plan.service_target).filter(|target| target.measure == measure);
    let mut rows = vec![
        Row::new("Service time, pauses included", times.service, whole(Measure::ServiceTime)),
        Row::new("Hands-on, in all", times.hands_on, whole(Measure::HandsOn)),
        Row::new("Waiting", times.waiting, None),
        Row::new("Pauses", times.pauses, None),
        Row::new("Instructor checks", times.checks, None),
    ];
    for time in &times.stages {
        let eye = time.eye.map_or_else(|| ", both eyes".to_owned(), |eye| format!(", {} eye", eye.word()));
        let target = plan.and_then(|plan| plan.stage_targets.iter().find(|(stage, _)| *stage == time.stage));
        let name = format!("{}{eye}, hands-on", stage_label(book, &time.stage));
        rows.push(Row::new(name, Some(time.hands_on), target.map(|(_, target)| target)));
    }
    for time in &times.sections {
        let (stage, eye) = (stage_label(book, &time.stage), time.eye.word());
        rows.push(Row::new(format!("{stage}, {eye} eye, section {}", time.number), Some(time.hands_on), None));
    }
    rows
}
