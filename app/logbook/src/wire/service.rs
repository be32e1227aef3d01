//! Stored form of a service or drill.

use practicum::service::{Ending, Origin, Service};

use super::basics::{MediumV1, ProductKindV1, TintV1, WorkedPlanV1};
use super::couch::{AnalysisV1, OpeningV1, OverrideV1, ShieldChoiceV1, StopV1, TapV1};
use super::people::LotV1;
use super::times::{TimesV1, WrittenTimesV1};
use super::twin::EyesV1;

twin_enum!(EndingV1 = Ending { Finished "finished" {}, Stopped "stopped" { 0 => why: StopV1 } });
twin_enum!(OriginV1 = Origin {
    Live "live" { opening => opening: OpeningV1, taps => taps: Vec<TapV1> },
    Late "late" { 0 => times: WrittenTimesV1 },
    Imported "imported" { batch => batch: String, line => line: u32, times => times: WrittenTimesV1 },
});
twin!(ServiceV1 = Service {
    id: String,
    trainee: String,
    medium: MediumV1,
    drill: Option<String>,
    practice_model: Option<String>,
    began: String,
    course_book: String,
    room: String,
    sections: EyesV1<Option<u8>>,
    worked: Option<WorkedPlanV1>,
    analysis: EyesV1<Option<AnalysisV1>>,
    shields: EyesV1<Option<ShieldChoiceV1>>,
    tint: TintV1,
    products: Vec<(ProductKindV1, LotV1)>,
    will_be_assessed: Option<bool>,
    overrides: Vec<OverrideV1>,
    incident: Option<String>,
    ending: EndingV1,
    aftercare_given: Option<bool>,
    comfort: String,
    note: String,
    times: TimesV1,
    origin: OriginV1,
});
