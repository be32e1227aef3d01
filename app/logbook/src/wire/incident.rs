//! Stored forms of incidents and imports.

use super::basics::{EyeV1, ProductKindV1, SecondsV1};
use super::outcome::OutcomeV1;
use super::service::ServiceV1;
use crate::fact::{ImportBatch, Incident, OnEye, StepDone};

twin!(OnEyeV1 = OnEye {
    eye: EyeV1,
    kind: ProductKindV1,
    product: Option<String>,
    name: String,
    lot: String,
    seconds_on: Option<SecondsV1>,
});
twin!(StepDoneV1 = StepDone { step: String, at: Option<String> });
twin!(IncidentV1 = Incident {
    id: String,
    service: Option<String>,
    practice_model: Option<String>,
    trainee: Option<String>,
    at: String,
    on_the_eye: Vec<OnEyeV1>,
    steps: Vec<StepDoneV1>,
    rinsed: Option<SecondsV1>,
    swelling_or_breathing: bool,
    instructor: Option<String>,
    note: String,
});
twin!(ImportBatchV1 = ImportBatch {
    id: String,
    file_name: String,
    rows: Vec<ServiceV1>,
    outcomes: Vec<OutcomeV1>,
    rejected: u32,
});
