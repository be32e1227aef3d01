//! Stored forms of people, practice models, products and the academy.

use practicum::moment::Moment;
use practicum::person::{Person, Role};
use practicum::practice_model::{
    ConsentKind, Guardian, PracticeModel, Screening, ScreeningAnswer, SensitivityTest, TestReading, TestResult,
};
use practicum::product::{DwellWindow, Lot, Product};

use super::Twin;
use super::basics::{ProductKindV1, SecondsV1};
use crate::fact::{Academy, Contact, FollowUp};

twin_words!(RoleV1 = Role { Trainee "trainee", Instructor "instructor", Owner "owner" });
twin_words!(ConsentKindV2 = ConsentKind {
    Service "service",
    Record "record",
    Photos "photos",
    Publicity "publicity",
});
twin_words!(TestResultV1 = TestResult { NothingSeen "nothing seen", Positive "positive" });

twin!(AcademyV1 = Academy {
    name: String,
    region: String,
    emergency_number: String,
    minimum_age: u32,
    time_zone: String,
    owner: String,
    tint_legal_ground: Option<String>,
    demo: bool,
});
twin!(PersonV1 = Person {
    id: String,
    name: String,
    role: RoleV1,
    group: String,
    since: Option<String>,
    left: Option<String>,
    show_times_early: bool,
});
twin!(ContactV1 = Contact { of: String, name: String, contact: String });
twin!(FollowUpV1 = FollowUp { about: String, text: String, due: Option<String> });
twin!(GuardianV1 = Guardian { name: String, consented: bool });
twin!(PracticeModelV1 = PracticeModel {
    id: String,
    code: String,
    born: Option<String>,
    guardian: Option<GuardianV1>,
});
twin!(AnswerV1 = ScreeningAnswer { question: String, yes: bool, written_advice: Option<String> });
twin!(ScreeningV1 = Screening {
    practice_model: String,
    at: String,
    answers: Vec<AnswerV1>,
    guardian_present: bool,
});
twin!(ReadingV1 = TestReading { at: String, by: String, result: TestResultV1 });
twin!(WindowV1 = DwellWindow {
    planned: Option<SecondsV1>,
    minimum: Option<SecondsV1>,
    maximum: Option<SecondsV1>,
});
twin!(ProductV1 = Product {
    id: String,
    name: String,
    kind: ProductKindV1,
    windows: [WindowV1; 3],
    label_maximum: Option<SecondsV1>,
    label_test_hours: Option<u32>,
    may_carry_tint: bool,
});
twin!(LotV1 = Lot { product: String, number: String, opened_on: Option<String> });

/// The kinds of consent that the first version knows.
#[derive(Debug, Clone, Copy, serde::Serialize, serde::Deserialize)]
pub(crate) enum ConsentKindV1 {
    #[serde(rename = "service")]
    Service,
    #[serde(rename = "record")]
    Record,
}

impl ConsentKindV1 {
    /// Makes the stored form of a kind that the first version knows.
    pub(crate) fn of_first(kind: ConsentKind) -> Option<Self> {
        match kind {
            ConsentKind::Service => Some(Self::Service),
            ConsentKind::Record => Some(Self::Record),
            ConsentKind::Photos | ConsentKind::Publicity => None,
        }
    }

    /// Makes the domain's kind again.
    pub(crate) fn back(self) -> ConsentKind {
        match self {
            Self::Service => ConsentKind::Service,
            Self::Record => ConsentKind::Record,
        }
    }
}

/// A test as put on; its reading is an entry of its own.
#[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
pub(crate) struct TestV1 {
    id: String,
    practice_model: String,
    product: String,
    lot: String,
    site: String,
    put_on: String,
    put_on_by: String,
}

impl Twin<SensitivityTest> for TestV1 {
    fn of(test: &SensitivityTest) -> Self {
        Self {
            id: Twin::of(&test.id),
            practice_model: Twin::of(&test.practice_model),
            product: Twin::of(&test.product),
            lot: test.lot.clone(),
            site: test.site.clone(),
            put_on: Twin::<Moment>::of(&test.put_on),
            put_on_by: Twin::of(&test.put_on_by),
        }
    }

    fn back(self) -> Result<SensitivityTest, String> {
        Ok(SensitivityTest {
            id: self.id.back()?,
            practice_model: self.practice_model.back()?,
            product: self.product.back()?,
            lot: self.lot,
            site: self.site,
            put_on: self.put_on.back()?,
            put_on_by: self.put_on_by.back()?,
            read: None,
        })
    }
}
