//! A service or drill under way: a list of taps, and what they add up to.
//!
//! A tap is a fact with the readings of the device's clocks. Nothing is counted while time passes:
//! every clock on the screen is worked out from the taps and the present reading, so that a dead phone,
//! a closed tab or a frozen page cannot lose or bend a duration. See [`times`] for the definitions.

pub mod clock;
pub mod fold;
pub mod times;

#[cfg(test)]
mod tests;

use crate::course_book::Reach;
use crate::eye::Eye;
use crate::ids::{CourseBookId, DrillKindId, IncidentId, PersonId, PracticeModelId, ServiceId, ShieldId, StageId};
use crate::moment::{Day, Reading, Seconds};
use crate::practice_model::Screening;
use crate::product::{Lot, ProductKind};
use crate::section::{Plan, Sections};

/// What is fixed when a run is opened on the couch page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opening {
    /// Identifier of the service or drill.
    pub id: ServiceId,
    /// Who works.
    pub trainee: PersonId,
    /// A live service, or a kind of drill.
    pub what: What,
    /// Plan intended.
    pub plan: Plan,
    /// Room, as typed; may be empty.
    pub room: String,
    /// Products with their lots, as chosen: lotions, tint, adhesive.
    pub products: Vec<(ProductKind, Lot)>,
    /// Course book in force.
    pub course_book: CourseBookId,
}

/// A live service or a drill.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A service on a live practice model.
    Service,
    /// A drill of this kind.
    Drill(DrillKindId),
}

/// One tap: what was done, and when by the device's clocks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tap {
    /// Number in the run, from 0.
    pub sequence: u32,
    /// The device's clocks.
    pub reading: Reading,
    /// What was done.
    pub act: Act,
}

/// Choice about tint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tint {
    /// No tint.
    #[default]
    None,
    /// A stage of its own after setting.
    Own,
    /// Mixed into the setting lotion.
    Mixed,
}

/// Analysis of one eye's lashes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Analysis {
    /// Length in millimetres, 1 to 25.
    pub length_mm: u8,
    /// Condition.
    pub condition: crate::course_book::LashCondition,
    /// Direction of growth, in a word.
    pub direction: Direction,
    /// Last lift, if any is known.
    pub last_lift: LastLift,
}

/// Direction in which the lashes grow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Upward.
    Up,
    /// Straight out.
    Straight,
    /// Downward.
    Down,
    /// Mixed.
    Mixed,
}

/// When these lashes were last lifted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LastLift {
    /// Never.
    Never,
    /// On this day.
    On(Day),
    /// Lifted before, day not known.
    Unknown,
}

/// Shields tried on one eye and the one chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShieldChoice {
    /// Tried sizes and where the tips ended.
    pub tried: Vec<(ShieldId, Reach)>,
    /// Size chosen.
    pub chosen: ShieldId,
}

/// An override of one gate reason by a named instructor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Override {
    /// Code of the gate reason.
    pub reason_code: String,
    /// Who allows it.
    pub by: PersonId,
    /// Why.
    pub why: String,
    /// Made while the instructor was unlocked on this device; otherwise claimed, not confirmed.
    pub confirmed: bool,
}

/// Dwell figures in force for one eye, all in seconds.
///
/// `planned` and `minimum` count from last contact, `maximum` and `label_maximum` from first contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DwellPlan {
    /// Planned dwell, from last contact.
    pub planned: Seconds,
    /// Least dwell, from last contact.
    pub minimum: Seconds,
    /// Longest dwell, from first contact.
    pub maximum: Seconds,
    /// The label's longest dwell, from first contact.
    pub label_maximum: Seconds,
}

/// What a tap says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act {
    /// The run begins: the clock of the first stage starts.
    Begin,
    /// The practice model is chosen.
    PracticeModel(PracticeModelId),
    /// The consents were looked at with the practice model today.
    ConsentChecked,
    /// All screening questions are answered.
    Screened(Screening),
    /// The sensitivity tests were looked at today.
    TestsChecked,
    /// Lash analysis of one eye.
    Analysed(Eye, Analysis),
    /// Shield of one eye.
    ShieldChosen(Eye, ShieldChoice),
    /// Sections of one eye, first set or changed.
    SectionsSet(Eye, Sections),
    /// Tint or not.
    TintChosen(Tint),
    /// A product or lot is chosen or changed.
    ProductChosen(Lot, ProductKind),
    /// Dwell figures in force for one eye and product kind, from the product's label and the lash condition.
    DwellSet(Eye, ProductKind, DwellPlan),
    /// Whether an assessor will mark this service; declared before lotion.
    WillBeAssessed(bool),
    /// An instructor lets a gate reason pass.
    Overridden(Override),
    /// Hands-on work on a stage starts, or goes on; any other hands-on clock stops.
    Work(StageId, Option<Eye>),
    /// A section is finished.
    SectionDone(StageId, Eye),
    /// Hands-on work on a stage is finished.
    Done(StageId, Option<Eye>),
    /// Lotion on, starting: first contact.
    LotionStarts(StageId, Eye),
    /// All on: last contact.
    AllOn(StageId, Eye),
    /// Off, started: both dwell clocks of the eye end.
    OffStarts(StageId, Eye),
    /// Off, done: the eye's stage is finished.
    OffDone(StageId, Eye),
    /// A pause begins.
    Pause(String),
    /// The pause ends; the hands-on clock that ran before goes on.
    Resume,
    /// The instructor's check begins.
    CheckStarts(StageId),
    /// The instructor's check ends; go on or not yet.
    CheckDone {
        /// The stage.
        stage: StageId,
        /// Who looked, if named.
        by: Option<PersonId>,
        /// May go on.
        go_on: bool,
        /// Note; may be empty.
        note: String,
    },
    /// An alarm was acknowledged.
    AlarmHeard(Eye),
    /// The alarm may not have sounded; why.
    AlarmMayBeLost(String),
    /// The sound check was done; heard or not.
    SoundChecked(bool),
    /// The clocks were read without a tap: the page was opened again, or they had come to disagree.
    ClockSeen,
    /// A person confirmed, or set right, a doubtful stretch of time before this tap.
    TimeConfirmed {
        /// Sequence number of the tap at the end of the doubtful stretch.
        at_tap: u32,
        /// Seconds that really passed.
        seconds: Seconds,
        /// Who says so.
        by: PersonId,
        /// What happened, in a few words.
        what: String,
    },
    /// A reaction: alarms fall silent, both eyes are interrupted.
    Reaction(IncidentId),
    /// A named instructor lets the service go on after a reaction.
    GoOn {
        /// Who.
        by: PersonId,
        /// Note.
        note: String,
    },
    /// The run is stopped before its end.
    Stop(Stop),
    /// The last stage is finished and the run ends.
    Finish,
    /// The tap before this one that still counts is taken back.
    TakeBack,
}

/// Why a run stopped before its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stop {
    /// Before lotion, for a screening, test or consent reason: does not count in a trial.
    BeforeLotion(String),
    /// For a fault.
    Fault(String),
    /// For a reaction.
    Reaction,
    /// For another reason.
    Other(String),
}
