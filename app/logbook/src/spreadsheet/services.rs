//! Services made of rows.

use chrono::{FixedOffset, NaiveDateTime, NaiveTime, TimeZone};
use practicum::couch::ShieldChoice;
use practicum::couch::times::{Dwell, StageTime, Times};
use practicum::course_book::{CourseBook, Medium};
use practicum::eye::PerEye;
use practicum::ids::{BatchId, PracticeModelId, ServiceId};
use practicum::moment::Moment;
use practicum::section::{Sections, WorkedPlan};
use practicum::service::{Origin, Service, WrittenTimes};

use crate::spreadsheet::field::dwell_stage;
use crate::spreadsheet::rows::{ChangedRow, Preview, ReadyRow, WrittenPracticeModel};

/// What rows are made services with.
pub struct Making<'a> {
    /// The batch; no two batches share one.
    pub batch: &'a BatchId,
    /// Course book in force.
    pub book: &'a CourseBook,
    /// The academy's offset from UTC at a local time.
    pub offset: &'a dyn Fn(NaiveDateTime) -> FixedOffset,
    /// Identifier of a practice model that is new, by its code as written; `None` leaves it unsaid.
    pub new_practice_model: &'a dyn Fn(&str) -> Option<PracticeModelId>,
}

/// Makes a service of every ready row, marked as imported and not observed.
///
/// The identifier of a service is made of the batch and the line, so that the same confirmed preview
/// gives the same services. A row without a time of day begins at noon.
pub fn to_services(preview: &Preview, making: &Making<'_>) -> Vec<Service> {
    let id = |row: &ReadyRow| ServiceId::new(format!("{}-{}", making.batch, row.line));
    preview.rows.iter().map(|row| service(id(row), row, making)).collect()
}

/// Makes the service that corrects a known one; it keeps the known one's identifier.
///
/// `None` when the known service was not imported.
pub fn to_correction(changed: &ChangedRow, making: &Making<'_>) -> Option<Service> {
    changed.may_correct.then(|| service(changed.known.clone(), &changed.row, making))
}

fn service(id: ServiceId, row: &ReadyRow, making: &Making<'_>) -> Service {
    let identify =
        |written: &WrittenPracticeModel| written.id.clone().or_else(|| (making.new_practice_model)(&written.code));
    let shield = |shield: &Option<practicum::ids::ShieldId>| {
        shield.as_ref().map(|chosen| ShieldChoice { tried: Vec::new(), chosen: chosen.clone() })
    };
    Service {
        id,
        trainee: row.trainee.clone(),
        medium: Medium::Live,
        drill: None,
        practice_model: row.practice_model.as_ref().and_then(identify),
        began: began(row, making.offset),
        course_book: making.book.id.clone(),
        room: String::new(),
        sections: row.sections,
        worked: worked(&row.sections),
        analysis: PerEye::default(),
        shields: row.shields.map(|_, chosen| shield(chosen)),
        tint: row.tint,
        products: Vec::new(),
        will_be_assessed: None,
        overrides: Vec::new(),
        incident: None,
        ending: row.ending.clone(),
        aftercare_given: None,
        comfort: String::new(),
        note: row.note.clone(),
        times: times(&row.times, making.book),
        origin: Origin::Imported { batch: making.batch.clone(), line: row.line, times: row.times.clone() },
    }
}

fn began(row: &ReadyRow, offset: &dyn Fn(NaiveDateTime) -> FixedOffset) -> Moment {
    let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
    let local = row.day.and_time(row.time_of_day.unwrap_or(noon));
    let zone = offset(local);
    // With a fixed offset every local time exists once.
    zone.from_local_datetime(&local).single().unwrap_or_else(|| zone.from_utc_datetime(&local))
}

/// The larger number of either eye; unequal eyes are mixed. One eye alone stands for the service.
fn worked(sections: &PerEye<Option<Sections>>) -> Option<WorkedPlan> {
    let larger = sections.left.max(sections.right)?;
    let mixed = matches!((sections.left, sections.right), (Some(left), Some(right)) if left != right);
    Some(WorkedPlan { sections: larger, mixed })
}

/// Returns the times of a service as far as written times tell them: no pauses, checks or waiting.
pub fn times(written: &WrittenTimes, book: &CourseBook) -> Times {
    let stage = |(stage, eye, seconds): &(practicum::ids::StageId, Option<practicum::eye::Eye>, u32)| StageTime {
        stage: stage.clone(),
        eye: *eye,
        hands_on: *seconds,
    };
    let dwell = |(product, eye, seconds): &(practicum::product::ProductKind, practicum::eye::Eye, u32)| {
        Some(Dwell {
            stage: dwell_stage(book, *product)?.clone(),
            product: *product,
            eye: *eye,
            first_contact: 0,
            last_contact: None,
            off: Some(*seconds),
            interrupted: false,
            plan: None,
        })
    };
    Times {
        service: written.service,
        hands_on: written.hands_on,
        stages: written.stages.iter().map(stage).collect(),
        dwells: written.dwells.iter().filter_map(dwell).collect(),
        ..Times::default()
    }
}
