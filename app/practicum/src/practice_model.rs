//! Practice models: consents, screening and sensitivity tests.

use crate::ids::{PersonId, PracticeModelId, ProductId, QuestionId, TestId};
use crate::moment::{Day, Moment};

/// The person practised on, kept as a code. Name and contact stand apart in the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PracticeModel {
    /// Identifier.
    pub id: PracticeModelId,
    /// Code shown on screens, e.g. `PM-014`.
    pub code: String,
    /// Year of birth or full birthday as known: the day the person turns the academy's minimum age is
    /// worked out from it. `None`: not asked yet.
    pub born: Option<Day>,
    /// Guardian of a minor, if recorded.
    pub guardian: Option<Guardian>,
}

/// A minor's guardian.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Guardian {
    /// Name as typed.
    pub name: String,
    /// The guardian has consented in writing.
    pub consented: bool,
}

/// What a consent allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ConsentKind {
    /// The service itself.
    Service,
    /// Keeping a training record of it.
    Record,
    /// Photos of the eyes, kept with the record.
    Photos,
    /// Showing photos to others than the academy, the practice model and whoever checks the record.
    Publicity,
}

impl ConsentKind {
    /// All, each asked for apart.
    pub const ALL: [ConsentKind; 4] =
        [ConsentKind::Service, ConsentKind::Record, ConsentKind::Photos, ConsentKind::Publicity];

    /// Returns what it allows, in plain words.
    pub fn word(self) -> &'static str {
        match self {
            ConsentKind::Service => "the service",
            ConsentKind::Record => "the training record",
            ConsentKind::Photos => "photos",
            ConsentKind::Publicity => "showing photos to others",
        }
    }
}

/// A consent given and perhaps withdrawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consent {
    /// Who gave it.
    pub practice_model: PracticeModelId,
    /// What for.
    pub kind: ConsentKind,
    /// Version of the wording that was read.
    pub version: String,
    /// When given.
    pub given: Moment,
    /// When withdrawn, if so.
    pub withdrawn: Option<Moment>,
}

impl Consent {
    /// Whether the consent holds at a moment.
    pub fn holds(&self, at: &Moment) -> bool {
        self.given <= *at && self.withdrawn.is_none_or(|withdrawn| *at < withdrawn)
    }
}

/// An answer to a screening question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScreeningAnswer {
    /// The question.
    pub question: QuestionId,
    /// Yes means that the condition is there.
    pub yes: bool,
    /// For a "refer" question answered yes: the written advice recorded, in words.
    pub written_advice: Option<String>,
}

/// All answers of one screening.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Screening {
    /// Who answered.
    pub practice_model: PracticeModelId,
    /// When.
    pub at: Moment,
    /// One answer for each question of the course book.
    pub answers: Vec<ScreeningAnswer>,
    /// For a minor: the guardian is in the room.
    pub guardian_present: bool,
}

/// Result of reading a sensitivity test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TestResult {
    /// Nothing was seen. This does not exclude a reaction.
    NothingSeen,
    /// A reaction was seen.
    Positive,
}

/// A sensitivity test: put on, and perhaps read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensitivityTest {
    /// Identifier.
    pub id: TestId,
    /// On whom.
    pub practice_model: PracticeModelId,
    /// Product tested.
    pub product: ProductId,
    /// Lot tested.
    pub lot: String,
    /// Site on the body, in words.
    pub site: String,
    /// When put on.
    pub put_on: Moment,
    /// By whom.
    pub put_on_by: PersonId,
    /// When, by whom and with what result it was read.
    pub read: Option<TestReading>,
}

/// The reading of a test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TestReading {
    /// When.
    pub at: Moment,
    /// By whom.
    pub by: PersonId,
    /// Result.
    pub result: TestResult,
}
