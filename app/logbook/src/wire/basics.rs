//! Stored forms of identifiers, moments and the small words of the trade.

use practicum::couch::{Direction, Tint};
use practicum::course_book::{LashCondition, Medium, Reach};
use practicum::eye::Eye;
use practicum::ids::{
    BatchId, CompetencyId, CourseBookId, CriterionId, DeviceId, DrillKindId, EntryId, FaultId, IncidentId, PersonId,
    PracticeModelId, ProductId, QuestionId, RegionId, ServiceId, ShieldId, StageId, TestId,
};
use practicum::moment::{Day, Moment, Seconds, parse_moment};
use practicum::product::ProductKind;
use practicum::section::{Plan, Sections, WorkedPlan};

use super::Twin;
use crate::subject::Subject;

macro_rules! ids {
    ($($id:ident),* $(,)?) => {$(
        impl Twin<$id> for String {
            fn of(domain: &$id) -> Self {
                domain.as_str().to_owned()
            }

            fn back(self) -> Result<$id, String> {
                Ok($id::new(self))
            }
        }
    )*};
}

ids!(
    BatchId,
    CompetencyId,
    CourseBookId,
    CriterionId,
    DeviceId,
    DrillKindId,
    EntryId,
    FaultId,
    IncidentId,
    PersonId,
    PracticeModelId,
    ProductId,
    QuestionId,
    RegionId,
    ServiceId,
    ShieldId,
    StageId,
    TestId,
);

impl Twin<Moment> for String {
    fn of(domain: &Moment) -> Self {
        domain.to_rfc3339()
    }

    fn back(self) -> Result<Moment, String> {
        parse_moment(&self)
    }
}

impl Twin<Day> for String {
    fn of(domain: &Day) -> Self {
        domain.to_string()
    }

    fn back(self) -> Result<Day, String> {
        self.parse().map_err(|_| format!("“{self}” is not a day such as 2026-03-29"))
    }
}

impl Twin<Subject> for String {
    fn of(domain: &Subject) -> Self {
        domain.to_string()
    }

    fn back(self) -> Result<Subject, String> {
        Ok(Subject::of(&self))
    }
}

impl Twin<Sections> for u8 {
    fn of(domain: &Sections) -> Self {
        domain.number()
    }

    fn back(self) -> Result<Sections, String> {
        Sections::new(self).ok_or_else(|| format!("{self} sections: an eye has 1 to 8"))
    }
}

/// Longest duration taken, in seconds: three years, so that sums of durations stay in range.
const LONGEST: u32 = 99_999_999;

/// Seconds within reason.
#[derive(Debug, Clone, Copy, serde::Serialize, serde::Deserialize)]
#[serde(transparent)]
pub(crate) struct SecondsV1(u32);

impl Twin<Seconds> for SecondsV1 {
    fn of(domain: &Seconds) -> Self {
        Self(*domain)
    }

    fn back(self) -> Result<Seconds, String> {
        match self.0 <= LONGEST {
            true => Ok(self.0),
            false => Err(format!("{} seconds are more than three years", self.0)),
        }
    }
}

twin!(WorkedPlanV1 = WorkedPlan { sections: u8, mixed: bool });
twin_words!(EyeV1 = Eye { Left "left", Right "right" });
twin_words!(PlanV1 = Plan { Quarters "quarters", Thirds "thirds", Halves "halves", Whole "whole" });
twin_words!(ProductKindV1 = ProductKind { Lift "lift", Setting "setting", Tint "tint", Adhesive "adhesive" });
twin_words!(ConditionV1 = LashCondition { Weak "weak", Average "average", Strong "strong" });
twin_words!(MediumV1 = Medium { Live "live", Strip "strip", Head "head" });
twin_words!(TintV1 = Tint { None "none", Own "own stage", Mixed "mixed in" });
twin_words!(DirectionV1 = Direction { Up "up", Straight "straight", Down "down", Mixed "mixed" });
twin_words!(ReachV1 = Reach { OverTop "over the top", TwoThirds "two thirds", BarelyHalf "barely half" });
