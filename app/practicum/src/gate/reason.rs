//! Why the gate is shut, in words that say what to do.

use super::InUse;
use crate::course_book::LashCondition;
use crate::eye::Eye;
use crate::ids::{ProductId, TestId};
use crate::product::ProductKind;

/// The product, lot and test that a reason is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnProduct {
    /// The product.
    pub product: ProductId,
    /// Its name as the academy calls it.
    pub name: String,
    /// Its lot as printed.
    pub lot: String,
    /// The sensitivity test, where the reason is about one.
    pub test: Option<TestId>,
}

impl OnProduct {
    pub(super) fn of(in_use: &InUse) -> Self {
        Self {
            product: in_use.product.id.clone(),
            name: in_use.product.name.clone(),
            lot: in_use.lot.number.clone(),
            test: None,
        }
    }

    pub(super) fn with_test(mut self, test: &TestId) -> Self {
        self.test = Some(test.clone());
        self
    }

    fn said(&self) -> String {
        format!("{}, lot {}", self.name, self.lot)
    }
}

/// A reason why lotion may not go on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reason {
    /// No practice model is chosen.
    NoPracticeModel,
    /// No consent to the service is in force.
    NoConsent,
    /// The consents were not looked at today.
    ConsentNotChecked,
    /// The screening of this service is missing.
    NoScreening,
    /// Screening questions without an answer.
    Unanswered(Vec<String>),
    /// A yes to a question of "do not treat today".
    DoNotTreat {
        /// The question.
        question: String,
        /// The course book's advice.
        advice: String,
    },
    /// A yes to a "refer" question without the written advice.
    ReferWithoutAdvice {
        /// The question.
        question: String,
        /// The course book's advice.
        advice: String,
    },
    /// The birth date is not entered, or lies in the future.
    AgeUnknown,
    /// Below the academy's minimum age.
    UnderAge {
        /// Age in whole years.
        age: u32,
        /// The academy's minimum.
        minimum: u32,
    },
    /// A minor without a guardian's written consent.
    NoGuardianConsent,
    /// A minor whose guardian is not in the room.
    GuardianAbsent,
    /// The lashes of an eye are not analysed.
    NoAnalysis(Eye),
    /// No product of a kind in use is chosen.
    NoProduct(ProductKind),
    /// The lot of a product is not entered.
    NoLot(OnProduct),
    /// The lot of a product was called back.
    LotRecalled(OnProduct),
    /// The sensitivity tests were not looked at today.
    TestsNotChecked,
    /// No sensitivity test of the product.
    TestMissing(OnProduct),
    /// Only tests of another lot; the latest one's lot.
    TestOfOtherLot(OnProduct, String),
    /// The test is not read.
    TestUnread(OnProduct),
    /// Nobody is named as the test's reader.
    TestReaderMissing(OnProduct),
    /// A test of the product was positive.
    TestPositive(OnProduct),
    /// The test has expired.
    TestExpired {
        /// Which test.
        on: OnProduct,
        /// Days after which it expires.
        after_days: u32,
    },
    /// The test was read before the hours that label and insurer ask for.
    TestReadTooEarly {
        /// Which test.
        on: OnProduct,
        /// Hours asked for.
        needed_hours: u32,
    },
    /// Less time since the test than label and insurer ask for.
    IntervalTooShort {
        /// Which test.
        on: OnProduct,
        /// Hours asked for.
        needed_hours: u32,
    },
    /// Shorter than the academy's own interval, and the label's is not known.
    IntervalLabelUnknown(OnProduct),
    /// Inside the label's and the insurer's interval but shorter than the academy's own.
    IntervalShorterThanAcademy {
        /// Which test.
        on: OnProduct,
        /// Hours the academy asks for.
        needed_hours: u32,
    },
    /// No label maximum is entered.
    NoLabelMaximum(OnProduct),
    /// No planned dwell is entered for the lashes.
    NoPlannedDwell(OnProduct, LashCondition),
    /// The planned dwell is longer than the label maximum.
    PlannedBeyondLabel(OnProduct, LashCondition),
    /// Least or longest dwell is not entered.
    WindowIncomplete(OnProduct, LashCondition),
    /// Least, planned and longest dwell contradict each other.
    WindowContradicts(OnProduct, LashCondition),
    /// Tint is off at this academy.
    TintOff {
        /// The region's note.
        note: Option<String>,
    },
    /// Tint is to be mixed in, and nobody recorded that both labels permit it.
    MixingNotPermitted(OnProduct),
}

/// Codes of all reasons, in the order of [`Reason`].
pub const CODES: [&str; 33] = [
    "no-practice-model",
    "no-consent",
    "consent-not-checked",
    "no-screening",
    "screening-unanswered",
    "do-not-treat",
    "refer-without-advice",
    "age-unknown",
    "under-age",
    "no-guardian-consent",
    "guardian-absent",
    "no-analysis",
    "no-product",
    "no-lot",
    "lot-recalled",
    "tests-not-checked",
    "test-missing",
    "test-other-lot",
    "test-unread",
    "test-reader-missing",
    "test-positive",
    "test-expired",
    "test-read-too-early",
    "test-interval-label-or-insurer",
    "test-interval-label-unknown",
    "test-interval-academy",
    "no-label-maximum",
    "no-planned-dwell",
    "planned-beyond-label",
    "window-incomplete",
    "window-contradicts",
    "tint-off",
    "mixing-not-permitted",
];

/// Codes that a course book may let an instructor override; every other code is never overridden.
pub const OVERRIDABLE_CODES: [&str; 2] = ["test-interval-academy", "test-expired"];

impl Reason {
    /// Returns the stable code, the same for every product.
    pub fn code(&self) -> &'static str {
        match self {
            Reason::NoPracticeModel => "no-practice-model",
            Reason::NoConsent => "no-consent",
            Reason::ConsentNotChecked => "consent-not-checked",
            Reason::NoScreening => "no-screening",
            Reason::Unanswered(_) => "screening-unanswered",
            Reason::DoNotTreat { .. } => "do-not-treat",
            Reason::ReferWithoutAdvice { .. } => "refer-without-advice",
            Reason::AgeUnknown => "age-unknown",
            Reason::UnderAge { .. } => "under-age",
            Reason::NoGuardianConsent => "no-guardian-consent",
            Reason::GuardianAbsent => "guardian-absent",
            Reason::NoAnalysis(_) => "no-analysis",
            Reason::NoProduct(_) => "no-product",
            Reason::NoLot(_) => "no-lot",
            Reason::LotRecalled(_) => "lot-recalled",
            Reason::TestsNotChecked => "tests-not-checked",
            Reason::TestMissing(_) => "test-missing",
            Reason::TestOfOtherLot(..) => "test-other-lot",
            Reason::TestUnread(_) => "test-unread",
            Reason::TestReaderMissing(_) => "test-reader-missing",
            Reason::TestPositive(_) => "test-positive",
            Reason::TestExpired { .. } => "test-expired",
            Reason::TestReadTooEarly { .. } => "test-read-too-early",
            Reason::IntervalTooShort { .. } => "test-interval-label-or-insurer",
            Reason::IntervalLabelUnknown(_) => "test-interval-label-unknown",
            Reason::IntervalShorterThanAcademy { .. } => "test-interval-academy",
            Reason::NoLabelMaximum(_) => "no-label-maximum",
            Reason::NoPlannedDwell(..) => "no-planned-dwell",
            Reason::PlannedBeyondLabel(..) => "planned-beyond-label",
            Reason::WindowIncomplete(..) => "window-incomplete",
            Reason::WindowContradicts(..) => "window-contradicts",
            Reason::TintOff { .. } => "tint-off",
            Reason::MixingNotPermitted(_) => "mixing-not-permitted",
        }
    }

    /// Returns what an override has to name: the code, and for a product also product, lot and test, so
    /// that a changed product locks again.
    pub fn key(&self) -> String {
        match self.on() {
            None => self.code().to_owned(),
            Some(on) => {
                let test = on.test.as_ref().map_or("", TestId::as_str);
                format!("{}:{}:{}:{test}", self.code(), on.product, on.lot)
            }
        }
    }

    /// Whether no course book and no instructor may ever let this pass.
    pub fn never_overridable(&self) -> bool {
        !OVERRIDABLE_CODES.contains(&self.code())
    }

    /// Returns the product that the reason is about, if any.
    pub fn on(&self) -> Option<&OnProduct> {
        match self {
            Reason::NoLot(on)
            | Reason::LotRecalled(on)
            | Reason::TestMissing(on)
            | Reason::TestOfOtherLot(on, _)
            | Reason::TestUnread(on)
            | Reason::TestReaderMissing(on)
            | Reason::TestPositive(on)
            | Reason::TestExpired { on, .. }
            | Reason::TestReadTooEarly { on, .. }
            | Reason::IntervalTooShort { on, .. }
            | Reason::IntervalLabelUnknown(on)
            | Reason::IntervalShorterThanAcademy { on, .. }
            | Reason::NoLabelMaximum(on)
            | Reason::NoPlannedDwell(on, _)
            | Reason::PlannedBeyondLabel(on, _)
            | Reason::WindowIncomplete(on, _)
            | Reason::WindowContradicts(on, _)
            | Reason::MixingNotPermitted(on) => Some(on),
            _ => None,
        }
    }

    /// Returns what is wrong, in one sentence.
    pub fn say(&self) -> String {
        let on = self.on().map(OnProduct::said).unwrap_or_default();
        match self {
            Reason::NoPracticeModel => "No practice model is chosen.".into(),
            Reason::NoConsent => "No consent to this service is in force.".into(),
            Reason::ConsentNotChecked => "The consent was not looked at today.".into(),
            Reason::NoScreening => "The screening of this service is missing.".into(),
            Reason::Unanswered(questions) => format!("Screening has no answer to: {}", questions.join(" · ")),
            Reason::DoNotTreat { question, .. } => format!("Do not treat today. Answered yes: {question}"),
            Reason::ReferWithoutAdvice { question, .. } => {
                format!("Written advice is missing. Answered yes: {question}")
            }
            Reason::AgeUnknown => "The practice model's birth date is not entered, or lies in the future.".into(),
            Reason::UnderAge { age, minimum } => {
                format!("The practice model is {age}; this academy's minimum age is {minimum}.")
            }
            Reason::NoGuardianConsent => {
                "The practice model is a minor and no guardian's written consent is recorded.".into()
            }
            Reason::GuardianAbsent => "The practice model is a minor and the guardian is not in the room.".into(),
            Reason::NoAnalysis(eye) => format!("The lashes of the {} eye are not analysed.", eye.word()),
            Reason::NoProduct(kind) => format!("No {} is chosen.", kind.word()),
            Reason::NoLot(on) => format!("The lot of {} is not entered.", on.name),
            Reason::LotRecalled(_) => format!("{on} was called back."),
            Reason::TestsNotChecked => "The sensitivity tests were not looked at today.".into(),
            Reason::TestMissing(_) => format!("There is no sensitivity test of {on}."),
            Reason::TestOfOtherLot(_, tested) => format!("The sensitivity test is of lot {tested}, not of {on}."),
            Reason::TestUnread(_) => format!("The sensitivity test of {on} is not read."),
            Reason::TestReaderMissing(_) => format!("Nobody is named as having read the sensitivity test of {on}."),
            Reason::TestPositive(on) => format!("A sensitivity test of {} was positive.", on.name),
            Reason::TestExpired { after_days, .. } => {
                format!("The sensitivity test of {on} is older than {after_days} days.")
            }
            Reason::TestReadTooEarly { needed_hours, .. } => {
                format!(
                    "The sensitivity test of {on} was read before the {needed_hours} hours of label and insurer had passed."
                )
            }
            Reason::IntervalTooShort { needed_hours, .. } => {
                format!(
                    "The sensitivity test of {on} was put on less than the {needed_hours} hours ago that label and insurer ask for."
                )
            }
            Reason::IntervalLabelUnknown(_) => format!(
                "The sensitivity test of {on} is more recent than this academy asks for, and the label's own hours are not entered."
            ),
            Reason::IntervalShorterThanAcademy { needed_hours, .. } => format!(
                "The sensitivity test of {on} was put on or read before the {needed_hours} hours that this academy asks for."
            ),
            Reason::NoLabelMaximum(_) => format!("The label maximum of {on} is not entered."),
            Reason::NoPlannedDwell(_, lashes) => {
                format!("No planned dwell of {on} is entered for {} lashes.", lashes.word())
            }
            Reason::PlannedBeyondLabel(_, lashes) => {
                format!("The planned dwell of {on} for {} lashes is longer than the label maximum.", lashes.word())
            }
            Reason::WindowIncomplete(_, lashes) => {
                format!("The least or the longest dwell of {on} for {} lashes is not entered.", lashes.word())
            }
            Reason::WindowContradicts(_, lashes) => {
                format!("Least, planned and longest dwell of {on} for {} lashes are not in this order.", lashes.word())
            }
            Reason::TintOff { note } => match note.as_deref().map(str::trim).filter(|note| !note.is_empty()) {
                Some(note) => format!("Tint is off at this academy. {note}"),
                None => "Tint is off at this academy.".into(),
            },
            Reason::MixingNotPermitted(_) => {
                format!("It is not recorded that the labels of {on} and of the tint permit mixing.")
            }
        }
    }

    /// Returns what to do about it, in one sentence.
    pub fn what_to_do(&self) -> String {
        match self {
            Reason::NoPracticeModel => "Choose the practice model.".into(),
            Reason::NoConsent => "Read the consent together and record it, or do not treat.".into(),
            Reason::ConsentNotChecked => "Look at the consent with the practice model now.".into(),
            Reason::NoScreening | Reason::Unanswered(_) => "Ask every question and record each answer.".into(),
            Reason::DoNotTreat { advice, .. } => format!("Stop here today. {advice}").trim_end().to_owned(),
            Reason::ReferWithoutAdvice { advice, .. } => {
                format!("Record the written advice first. {advice}").trim_end().to_owned()
            }
            Reason::AgeUnknown => "Enter the birth date of the practice model.".into(),
            Reason::UnderAge { .. } => "Do not treat this person at this academy.".into(),
            Reason::NoGuardianConsent => "Record the guardian's written consent, or do not treat.".into(),
            Reason::GuardianAbsent => "Wait for the guardian and record the presence in the screening.".into(),
            Reason::NoAnalysis(_) => "Record the lash analysis of this eye.".into(),
            Reason::NoProduct(_) => "Choose the product.".into(),
            Reason::NoLot(_) => "Enter the lot as printed on the product.".into(),
            Reason::LotRecalled(_) => "Set this lot aside and use another one that was tested.".into(),
            Reason::TestsNotChecked => "Look at the tests of each product with the practice model now.".into(),
            Reason::TestMissing(_) | Reason::TestOfOtherLot(..) => {
                "Put on a test of this product and lot, wait and read it, or use a lot that was tested.".into()
            }
            Reason::TestUnread(_) | Reason::TestReaderMissing(_) => "Read the test and record who read it.".into(),
            Reason::TestPositive(_) => "Do not use this product on this person.".into(),
            Reason::TestExpired { .. } => "Put on a new test, wait and read it.".into(),
            Reason::TestReadTooEarly { .. } => "Read the test again now and record it.".into(),
            Reason::IntervalTooShort { .. } => "Wait until the hours have passed, then read the test again.".into(),
            Reason::IntervalLabelUnknown(_) => {
                "Wait for the academy's hours and read the test again, or have the owner enter the label's hours."
                    .into()
            }
            Reason::IntervalShorterThanAcademy { .. } => {
                "Wait for the academy's hours and read the test again, or ask an instructor.".into()
            }
            Reason::NoLabelMaximum(_) => "Have the owner enter the longest dwell as the label says it.".into(),
            Reason::NoPlannedDwell(..) | Reason::WindowIncomplete(..) => {
                "Have the owner enter the dwell figures.".into()
            }
            Reason::PlannedBeyondLabel(..) | Reason::WindowContradicts(..) => {
                "Have the owner set the dwell figures right by the label.".into()
            }
            Reason::TintOff { .. } => "Go on without tint.".into(),
            Reason::MixingNotPermitted(_) => {
                "Use the tint as a stage of its own, or have the owner record what both labels say.".into()
            }
        }
    }
}
