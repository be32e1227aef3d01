//! What is recorded after the couch: looks at a lift, photos, recalls, what followed an incident, licences.

use practicum::after_the_couch::{IncidentFollowed, Licence, LiftFollowUp, LotRecall, Photo};

use crate::kind::Kind;
use crate::subject::Subject;

/// What is recorded after the couch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Aftercare {
    /// A lift was looked at again.
    LiftLookedAt(LiftFollowUp),
    /// A photo of an eye.
    PhotoKept(Photo),
    /// A lot is called back.
    LotRecalled(LotRecall),
    /// What followed an incident.
    IncidentFollowed(IncidentFollowed),
    /// A licence that local rules ask for.
    LicenceNoted(Licence),
}

impl Aftercare {
    /// Returns the kind of entry that records it.
    pub fn kind(&self) -> Kind {
        match self {
            Aftercare::LiftLookedAt(_) => Kind::LiftLookedAt,
            Aftercare::PhotoKept(_) => Kind::PhotoKept,
            Aftercare::LotRecalled(_) => Kind::LotRecalled,
            Aftercare::IncidentFollowed(_) => Kind::IncidentFollowed,
            Aftercare::LicenceNoted(_) => Kind::LicenceNoted,
        }
    }

    /// Returns what it is about, as the header says it.
    pub fn subject(&self) -> Subject {
        match self {
            Aftercare::LiftLookedAt(look) => Subject::Service(look.service.clone()),
            Aftercare::PhotoKept(photo) => Subject::PracticeModel(photo.practice_model.clone()),
            Aftercare::LotRecalled(recall) => Subject::Product(recall.product.clone()),
            Aftercare::IncidentFollowed(followed) => Subject::Other(format!("incident:{}", followed.incident)),
            Aftercare::LicenceNoted(licence) => Subject::Person(licence.person.clone()),
        }
    }

    /// Whether a correction may take its place: it speaks of the same thing.
    pub(crate) fn corrected_by(&self, other: &Self) -> bool {
        match (self, other) {
            (Aftercare::LiftLookedAt(first), Aftercare::LiftLookedAt(other)) => first.service == other.service,
            (Aftercare::LicenceNoted(first), Aftercare::LicenceNoted(other)) => first.person == other.person,
            (Aftercare::LotRecalled(first), Aftercare::LotRecalled(other)) => first.product == other.product,
            _ => false,
        }
    }
}
