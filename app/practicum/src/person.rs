//! People of the academy: trainees, instructors, the owner.

use crate::ids::PersonId;
use crate::moment::Day;

/// What a person does at the academy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Learns.
    Trainee,
    /// Teaches, assesses, signs.
    Instructor,
    /// Owns the academy; may do all that an instructor may.
    Owner,
}

impl Role {
    /// Returns the plain word.
    pub fn word(self) -> &'static str {
        match self {
            Role::Trainee => "trainee",
            Role::Instructor => "instructor",
            Role::Owner => "owner",
        }
    }

    /// Whether this person may assess, decide and sign off.
    pub fn may_assess(self) -> bool {
        self != Role::Trainee
    }
}

/// A person of the academy. Contacts are kept apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Identifier.
    pub id: PersonId,
    /// Name as typed.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Group of trainees who started together; empty when none.
    pub group: String,
    /// Day of enrolment.
    pub since: Option<Day>,
    /// Day the person left, if so.
    pub left: Option<Day>,
    /// Trainee: an instructor has chosen to show own times against targets before quality is met.
    pub show_times_early: bool,
}
