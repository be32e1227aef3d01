//! Services and drills as recorded.

use crate::couch::fold::{Phase, Run};
use crate::couch::times::Times;
use crate::couch::{Analysis, Opening, Override, ShieldChoice, Stop, Tap, Tint, What};
use crate::course_book::{LashCondition, Medium};
use crate::eye::{Eye, PerEye};
use crate::ids::{BatchId, CourseBookId, DrillKindId, IncidentId, PersonId, PracticeModelId, ServiceId, StageId};
use crate::moment::{Day, Moment, Seconds};
use crate::product::{Lot, ProductKind};
use crate::section::{Plan, Sections, WorkedPlan};

/// How a record came about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// Tapped at the couch.
    Live {
        /// What was fixed at the start.
        opening: Opening,
        /// Every tap.
        taps: Vec<Tap>,
    },
    /// Written down after the fact by the trainee.
    Late(WrittenTimes),
    /// Imported from a spreadsheet, not observed.
    Imported {
        /// The batch.
        batch: BatchId,
        /// Line in the file, from 1.
        line: u32,
        /// Times as read.
        times: WrittenTimes,
    },
}

/// Times that nobody's clock took.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WrittenTimes {
    /// Service time.
    pub service: Option<Seconds>,
    /// Hands-on time of the whole service.
    pub hands_on: Option<Seconds>,
    /// Hands-on time by stage, both eyes together or one eye.
    pub stages: Vec<(StageId, Option<Eye>, Seconds)>,
    /// Dwell by product kind and eye, first contact to off.
    pub dwells: Vec<(ProductKind, Eye, Seconds)>,
}

/// How a service ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// Finished.
    Finished,
    /// Stopped before its end.
    Stopped(Stop),
}

/// A service on a live practice model, or a drill, as recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Service {
    /// Identifier.
    pub id: ServiceId,
    /// Who worked.
    pub trainee: PersonId,
    /// A live practice model, strip or head. Only `Live` is a service; the others are drills.
    pub medium: Medium,
    /// Kind of drill, when it is one.
    pub drill: Option<DrillKindId>,
    /// Practice model, for a service.
    pub practice_model: Option<PracticeModelId>,
    /// When it began; imported rows may only know the day (then at noon of the academy's zone).
    pub began: Moment,
    /// Course book it was made under.
    pub course_book: CourseBookId,
    /// Room as typed.
    pub room: String,
    /// Sections as set for each eye.
    pub sections: PerEye<Option<Sections>>,
    /// Plan as worked: the larger number of either eye, and mixed or not.
    pub worked: Option<WorkedPlan>,
    /// Analysis of each eye.
    pub analysis: PerEye<Option<Analysis>>,
    /// Shield of each eye.
    pub shields: PerEye<Option<ShieldChoice>>,
    /// Tint or not.
    pub tint: Tint,
    /// Products and lots used.
    pub products: Vec<(ProductKind, Lot)>,
    /// Whether an assessor was to mark it, as declared before lotion.
    pub will_be_assessed: Option<bool>,
    /// Overrides used.
    pub overrides: Vec<Override>,
    /// Incident, if any.
    pub incident: Option<IncidentId>,
    /// How it ended.
    pub ending: Ending,
    /// Aftercare was given.
    pub aftercare_given: Option<bool>,
    /// Comfort, in the trainee's words.
    pub comfort: String,
    /// Note.
    pub note: String,
    /// Times as worked out from the taps, or as written down.
    pub times: Times,
    /// How the record came about.
    pub origin: Origin,
}

/// What the trainee adds at the end of a run.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Closing {
    /// Aftercare was given.
    pub aftercare_given: Option<bool>,
    /// Comfort, in words.
    pub comfort: String,
    /// Note.
    pub note: String,
}

impl Service {
    /// Makes the record of a run that has ended. `medium` is the drill's medium, or `Live`.
    ///
    /// Returns `None` while the run has no first tap or has not ended.
    pub fn from_run(run: &Run<'_>, opening: &Opening, taps: &[Tap], medium: Medium, closing: Closing) -> Option<Self> {
        let ending = match run.phase() {
            Phase::Finished => Ending::Finished,
            Phase::Stopped(stop) => Ending::Stopped(stop.clone()),
            _ => return None,
        };
        let prepared = run.prepared();
        Some(Service {
            id: opening.id.clone(),
            trainee: opening.trainee.clone(),
            medium,
            drill: match &opening.what {
                What::Service => None,
                What::Drill(kind) => Some(kind.clone()),
            },
            practice_model: prepared.practice_model.clone(),
            began: Run::began(taps)?,
            course_book: opening.course_book.clone(),
            room: opening.room.clone(),
            sections: prepared.sections,
            worked: run.worked_plan(),
            analysis: prepared.analysis.clone(),
            shields: prepared.shields.clone(),
            tint: prepared.tint.unwrap_or_default(),
            products: prepared.products.iter().map(|(kind, lot)| (*kind, lot.clone())).collect(),
            will_be_assessed: prepared.will_be_assessed,
            overrides: prepared.overrides.clone(),
            incident: run.incident().cloned(),
            ending,
            aftercare_given: closing.aftercare_given,
            comfort: closing.comfort,
            note: closing.note,
            times: run.times(),
            origin: Origin::Live { opening: opening.clone(), taps: taps.to_vec() },
        })
    }

    /// Whether this is a service on a live practice model (never a drill).
    pub fn is_service(&self) -> bool {
        self.medium == Medium::Live
    }

    /// Returns the plan as worked.
    pub fn plan(&self) -> Option<Plan> {
        self.worked.map(|worked| worked.sections.plan())
    }

    /// Whether it was tapped live at the couch.
    pub fn is_live_entry(&self) -> bool {
        matches!(self.origin, Origin::Live { .. })
    }

    /// Whether it was imported.
    pub fn is_imported(&self) -> bool {
        matches!(self.origin, Origin::Imported { .. })
    }

    /// Returns the calendar day on which it began, where it was worked.
    pub fn day(&self) -> Day {
        self.began.date_naive()
    }

    /// Returns the condition of the lashes: the weaker of both eyes.
    pub fn condition(&self) -> Option<LashCondition> {
        let conditions = self.analysis.map(|_, analysis| analysis.as_ref().map(|a| a.condition));
        [conditions.left, conditions.right].into_iter().flatten().min()
    }
}
