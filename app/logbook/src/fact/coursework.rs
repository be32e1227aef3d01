//! What is recorded of a course beside services: attendance, theory, coaching, samples of marking, case studies.

use practicum::coursework::{
    Attendance, CaseMark, CasePack, CaseStudy, CoachingNote, Sample, SampleLook, TheoryResult,
};
use practicum::ids::{PersonId, ServiceId};

use crate::kind::Kind;
use crate::subject::Subject;

/// What is recorded of a course beside services.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Coursework {
    /// Time spent learning.
    AttendanceNoted(Attendance),
    /// Result of a theory paper.
    TheoryMarked(TheoryResult),
    /// A word to a trainee about what repeats itself.
    CoachingGiven(CoachingNote),
    /// Assessors who marked a service differently have talked it over.
    MarksTalkedOver {
        /// The service.
        service: ServiceId,
        /// What was agreed, in words. Both marks stay as they are.
        words: String,
    },
    /// A list of marked services for a second pair of eyes.
    SampleDrawn(Sample),
    /// A service of a sample was looked at.
    SampleLookedAt(SampleLook),
    /// A case study is set.
    CaseSet(CaseStudy),
    /// A pack is handed in.
    CaseHandedIn(CasePack),
    /// A pack is marked.
    CaseMarked(CaseMark),
}

impl Coursework {
    /// Returns the kind of entry that records it.
    pub fn kind(&self) -> Kind {
        match self {
            Coursework::AttendanceNoted(_) => Kind::AttendanceNoted,
            Coursework::TheoryMarked(_) => Kind::TheoryMarked,
            Coursework::CoachingGiven(_) => Kind::CoachingGiven,
            Coursework::MarksTalkedOver { .. } => Kind::MarksTalkedOver,
            Coursework::SampleDrawn(_) => Kind::SampleDrawn,
            Coursework::SampleLookedAt(_) => Kind::SampleLookedAt,
            Coursework::CaseSet(_) => Kind::CaseSet,
            Coursework::CaseHandedIn(_) => Kind::CaseHandedIn,
            Coursework::CaseMarked(_) => Kind::CaseMarked,
        }
    }

    /// Returns the trainee it is about; `None` where it is about a service or about nobody alone.
    pub fn trainee(&self) -> Option<&PersonId> {
        match self {
            Coursework::AttendanceNoted(attendance) => Some(&attendance.trainee),
            Coursework::TheoryMarked(result) => Some(&result.trainee),
            Coursework::CoachingGiven(note) => Some(&note.trainee),
            Coursework::CaseSet(case) => Some(&case.trainee),
            Coursework::CaseHandedIn(pack) => Some(&pack.trainee),
            Coursework::CaseMarked(mark) => Some(&mark.trainee),
            Coursework::MarksTalkedOver { .. } | Coursework::SampleDrawn(_) | Coursework::SampleLookedAt(_) => None,
        }
    }

    /// Returns what it is about, as the header says it.
    pub fn subject(&self) -> Subject {
        match (self.trainee(), self) {
            (Some(trainee), _) => Subject::Person(trainee.clone()),
            (None, Coursework::MarksTalkedOver { service, .. }) => Subject::Service(service.clone()),
            (None, Coursework::SampleLookedAt(look)) => Subject::Service(look.service.clone()),
            (None, _) => Subject::Academy,
        }
    }

    /// Whether a correction may take its place: it speaks of the same person and was not fixed for others to rely on.
    pub(crate) fn corrected_by(&self, other: &Self) -> bool {
        match (self, other) {
            (Coursework::AttendanceNoted(first), Coursework::AttendanceNoted(other)) => first.trainee == other.trainee,
            (Coursework::TheoryMarked(first), Coursework::TheoryMarked(other)) => first.trainee == other.trainee,
            _ => false,
        }
    }
}
