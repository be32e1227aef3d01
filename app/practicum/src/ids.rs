//! Typed identifiers: one type for each kind of thing, so that they cannot be mixed up.

use std::fmt;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(String);

        impl $name {
            /// Makes the identifier from its text.
            pub fn new(text: impl Into<String>) -> Self {
                Self(text.into())
            }

            /// Returns the identifier's text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }
    )*};
}

ids! {
    /// Names one line of the log.
    EntryId,
    /// Names a device that writes entries.
    DeviceId,
    /// Names a person who learns, teaches or owns: trainee, instructor or owner.
    PersonId,
    /// Names a practice model by its code; identity is kept apart.
    PracticeModelId,
    /// Names a service.
    ServiceId,
    /// Names a drill.
    DrillId,
    /// Names a sensitivity test.
    TestId,
    /// Names a product of the academy.
    ProductId,
    /// Names an incident.
    IncidentId,
    /// Names a batch of imported rows.
    BatchId,
    /// Names a stage of the course book.
    StageId,
    /// Names a criterion of the outcome rubric.
    CriterionId,
    /// Names a fault of the course book.
    FaultId,
    /// Names a competency of the course book.
    CompetencyId,
    /// Names a shield size of the course book.
    ShieldId,
    /// Names a screening question of the course book.
    QuestionId,
    /// Names a kind of drill of the course book.
    DrillKindId,
    /// Names a region of the course book.
    RegionId,
    /// Names a version of a course book: its title and edition in one text.
    CourseBookId,
}
