//! Stored forms of times: as worked out when the record was written, and as written down by hand.

use practicum::couch::times::{Dwell, SectionTime, StageTime, Times};
use practicum::service::WrittenTimes;

use super::basics::{EyeV1, ProductKindV1, SecondsV1};
use super::couch::DwellPlanV1;

twin!(StageTimeV1 = StageTime { stage: String, eye: Option<EyeV1>, hands_on: SecondsV1 });
twin!(SectionTimeV1 = SectionTime { stage: String, eye: EyeV1, number: u8, hands_on: SecondsV1 });
twin!(DwellV1 = Dwell {
    stage: String,
    product: ProductKindV1,
    eye: EyeV1,
    first_contact: SecondsV1,
    last_contact: Option<SecondsV1>,
    off: Option<SecondsV1>,
    interrupted: bool,
    plan: Option<DwellPlanV1>,
});
twin!(TimesV1 = Times {
    service: Option<SecondsV1>,
    hands_on: Option<SecondsV1>,
    pauses: Option<SecondsV1>,
    checks: Option<SecondsV1>,
    waiting: Option<SecondsV1>,
    stages: Vec<StageTimeV1>,
    sections: Vec<SectionTimeV1>,
    dwells: Vec<DwellV1>,
    pause_reasons: Vec<(String, SecondsV1)>,
    doubts: Vec<String>,
    alarms_lost: Vec<String>,
    edited: bool,
});
twin!(WrittenTimesV1 = WrittenTimes {
    service: Option<SecondsV1>,
    hands_on: Option<SecondsV1>,
    stages: Vec<(String, Option<EyeV1>, SecondsV1)>,
    dwells: Vec<(ProductKindV1, EyeV1, SecondsV1)>,
});
