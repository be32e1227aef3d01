//! Stored forms of an opening and its taps.

use practicum::couch::{Act, Analysis, DwellPlan, LastLift, Opening, Override, ShieldChoice, Stop, Tap, What};
use practicum::moment::Reading;

use super::basics::{ConditionV1, DirectionV1, EyeV1, PlanV1, ProductKindV1, ReachV1, SecondsV1, TintV1};
use super::people::{LotV1, ScreeningV1};

twin_enum!(WhatV1 = What { Service "service" {}, Drill "drill" { 0 => kind: String } });
twin!(OpeningV1 = Opening {
    id: String,
    trainee: String,
    what: WhatV1,
    plan: PlanV1,
    room: String,
    products: Vec<(ProductKindV1, LotV1)>,
    course_book: String,
});
twin!(ClocksV1 = Reading { at: String, page: u32, mono_ms: u64 });
twin!(TapV1 = Tap { sequence: u32, reading: ClocksV1, act: ActV1 });
twin_enum!(LastLiftV1 = LastLift { Never "never" {}, On "on" { 0 => day: String }, Unknown "unknown" {} });
twin!(AnalysisV1 = Analysis { length_mm: u8, condition: ConditionV1, direction: DirectionV1, last_lift: LastLiftV1 });
twin!(ShieldChoiceV1 = ShieldChoice { tried: Vec<(String, ReachV1)>, chosen: String });
twin!(OverrideV1 = Override { reason_code: String, by: String, why: String, confirmed: bool });
twin!(DwellPlanV1 = DwellPlan { planned: SecondsV1, minimum: SecondsV1, maximum: SecondsV1, label_maximum: SecondsV1 });
twin_enum!(StopV1 = Stop {
    BeforeLotion "before lotion" { 0 => why: String },
    Fault "fault" { 0 => why: String },
    Reaction "reaction" {},
    Other "other" { 0 => why: String },
});
twin_enum!(ActV1 = Act {
    Begin "begin" {},
    PracticeModel "practice model" { 0 => id: String },
    ConsentChecked "consent checked" {},
    Screened "screened" { 0 => screening: ScreeningV1 },
    TestsChecked "tests checked" {},
    Analysed "analysed" { 0 => eye: EyeV1, 1 => analysis: AnalysisV1 },
    ShieldChosen "shield chosen" { 0 => eye: EyeV1, 1 => choice: ShieldChoiceV1 },
    SectionsSet "sections set" { 0 => eye: EyeV1, 1 => sections: u8 },
    TintChosen "tint chosen" { 0 => tint: TintV1 },
    ProductChosen "product chosen" { 0 => lot: LotV1, 1 => kind: ProductKindV1 },
    DwellSet "dwell set" { 0 => eye: EyeV1, 1 => kind: ProductKindV1, 2 => plan: DwellPlanV1 },
    WillBeAssessed "will be assessed" { 0 => yes: bool },
    Overridden "overridden" { 0 => made: OverrideV1 },
    Work "work" { 0 => stage: String, 1 => eye: Option<EyeV1> },
    SectionDone "section done" { 0 => stage: String, 1 => eye: EyeV1 },
    Done "done" { 0 => stage: String, 1 => eye: Option<EyeV1> },
    LotionStarts "lotion starts" { 0 => stage: String, 1 => eye: EyeV1 },
    AllOn "all on" { 0 => stage: String, 1 => eye: EyeV1 },
    OffStarts "off starts" { 0 => stage: String, 1 => eye: EyeV1 },
    OffDone "off done" { 0 => stage: String, 1 => eye: EyeV1 },
    Pause "pause" { 0 => reason: String },
    Resume "resume" {},
    CheckStarts "check starts" { 0 => stage: String },
    CheckDone "check done" {
        stage => stage: String, by => by: Option<String>, go_on => go_on: bool, note => note: String
    },
    AlarmHeard "alarm heard" { 0 => eye: EyeV1 },
    AlarmMayBeLost "alarm may be lost" { 0 => why: String },
    SoundChecked "sound checked" { 0 => heard: bool },
    ClockSeen "clock seen" {},
    TimeConfirmed "time confirmed" {
        at_tap => at_tap: u32, seconds => seconds: SecondsV1, by => by: String, what => what: String
    },
    Reaction "reaction" { 0 => incident: String },
    GoOn "go on" { by => by: String, note => note: String },
    Stop "stop" { 0 => why: StopV1 },
    Finish "finish" {},
    TakeBack "take back" {},
});
