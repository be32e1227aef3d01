//! When a row is one that the log already holds.
//!
//! Same row = same trainee, date, practice model and times. Same trainee, date and practice model with
//! other times = a changed row.

use practicum::ids::{PersonId, PracticeModelId, ServiceId};
use practicum::moment::{Day, Seconds};
use practicum::order::InOrder;
use practicum::service::{Service, WrittenTimes};

/// What makes two rows the same.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RowKey {
    /// Trainee, date, practice model.
    pub occasion: Occasion,
    /// Every time that is known, in a fixed order: what it is and its seconds.
    pub times: Vec<(String, Seconds)>,
}

/// One trainee, one day, one practice model.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Occasion {
    /// The trainee, once the written name is settled.
    pub trainee: PersonId,
    /// The day.
    pub day: Day,
    /// The practice model: its identifier when known, otherwise its code as compared; empty when none.
    pub practice_model: String,
}

/// A service that the log holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownRow {
    /// The service.
    pub id: ServiceId,
    /// What makes it the same as a row.
    pub key: RowKey,
    /// It was imported, so that a row may correct it; a live record is never replaced by a spreadsheet.
    pub imported: bool,
    /// Its batch was withdrawn: it does not count as known.
    pub withdrawn: bool,
}

impl KnownRow {
    /// Makes the known row of a service; `withdrawn` when its batch was undone or the service withdrawn.
    pub fn of(service: &Service, withdrawn: bool) -> Self {
        let occasion = Occasion {
            trainee: service.trainee.clone(),
            day: service.day(),
            practice_model: practice_model_key(service.practice_model.as_ref(), ""),
        };
        let key = row_key(occasion, &written_times(service));
        Self { id: service.id.clone(), key, imported: service.is_imported(), withdrawn }
    }
}

/// Returns the practice model as it is compared: the identifier when known, otherwise the code's folded form.
pub fn practice_model_key(id: Option<&PracticeModelId>, code: &str) -> String {
    match id {
        Some(id) => format!("id {id}"),
        None => crate::spreadsheet::fold::fold(code),
    }
}

/// Makes the key of a row. Times of a stage count for both eyes together, as sheets seldom part them.
pub fn row_key(occasion: Occasion, times: &WrittenTimes) -> RowKey {
    let mut list: Vec<(String, Seconds)> = Vec::new();
    list.extend(times.service.map(|seconds| ("service".to_owned(), seconds)));
    list.extend(times.hands_on.map(|seconds| ("hands-on".to_owned(), seconds)));
    for (stage, _, seconds) in &times.stages {
        let name = format!("stage {stage}");
        match list.iter_mut().find(|(known, _)| *known == name) {
            Some((_, sum)) => *sum = sum.saturating_add(*seconds),
            None => list.push((name, *seconds)),
        }
    }
    for (kind, eye, seconds) in &times.dwells {
        list.push((format!("dwell {} {}", kind.word(), eye.word()), *seconds));
    }
    list.retain(|(_, seconds)| *seconds != 0);
    list.order_by(Ord::cmp);
    RowKey { occasion, times: list }
}

/// Returns a service's times as a spreadsheet holds them.
pub fn written_times(service: &Service) -> WrittenTimes {
    let times = &service.times;
    let dwell = |dwell: &practicum::couch::times::Dwell| {
        let seconds = dwell.off?.saturating_sub(dwell.first_contact);
        Some((dwell.product, dwell.eye, seconds))
    };
    WrittenTimes {
        service: times.service,
        hands_on: times.hands_on,
        stages: times.stages.iter().map(|time| (time.stage.clone(), time.eye, time.hands_on)).collect(),
        dwells: times.dwells.iter().filter_map(dwell).collect(),
    }
}
