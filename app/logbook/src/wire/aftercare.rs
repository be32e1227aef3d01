//! Stored forms of what is recorded after the couch, and of certificates.

use practicum::after_the_couch::{
    Comfort, IncidentFollowed, Licence, LiftFollowUp, LiftSeen, LotRecall, Photo, PhotoStage,
};
use practicum::certificate::{Certificate, CertificatePrint, CertificateScope, CertificateWithdrawal, CredentialKey};
use serde_json::Value;

use super::Twin;
use super::basics::EyeV1;
use super::bodies::{json, twin};
use super::twin::EyesV1;
use crate::fact::{Aftercare, Certified};
use crate::kind::Kind;

twin_words!(LiftSeenV1 = LiftSeen {
    Held "held",
    PartlyDropped "partly dropped",
    Dropped "dropped",
    NotSeen "not seen",
});
twin_words!(ComfortV1 = Comfort {
    NoComplaint "no complaint",
    Slight "slight",
    ToReport "to report",
    NotAsked "not asked",
});
twin!(LiftFollowUpV1 = LiftFollowUp {
    service: String,
    on: String,
    planned_day: Option<u32>,
    eyes: EyesV1<LiftSeenV1>,
    uneven: bool,
    comfort: ComfortV1,
    words: String,
});
twin_words!(PhotoStageV1 = PhotoStage { Before "before", LashUp "lash-up", After "after" });
twin!(
    PhotoV1 = Photo {
        practice_model: String,
        service: String,
        eye: EyeV1,
        stage: PhotoStageV1,
        at: String,
        width: u32,
        height: u32,
        jpeg: String,
    }
);
twin!(LotRecallV1 = LotRecall { product: String, number: String, on: String, why: String });
twin!(IncidentFollowedV1 = IncidentFollowed { incident: String, on: String, words: String, closed: bool });
twin!(LicenceV1 = Licence {
    person: String,
    name: String,
    number: String,
    issuer: String,
    expires: Option<String>,
});
twin_words!(ScopeV1 = CertificateScope { Lift "lift", LiftAndTint "lift and tint" });
twin!(CertificateV1 = Certificate {
    number: String,
    trainee: String,
    scope: ScopeV1,
    sign_offs: Vec<String>,
    assessor: String,
    on: String,
    course_book: String,
    record_hash: String,
});
twin!(PrintV1 = CertificatePrint { certificate: String, trainee: String, copy: u32 });
twin!(WithdrawalV1 = CertificateWithdrawal { certificate: String, trainee: String, why: String });
twin!(CredentialKeyV1 = CredentialKey { algorithm: String, jwk: String });

/// Makes the stored body.
pub(super) fn encode(said: &Aftercare) -> Result<Value, String> {
    match said {
        Aftercare::LiftLookedAt(look) => json(&LiftFollowUpV1::of(look)),
        Aftercare::PhotoKept(photo) => json(&PhotoV1::of(photo)),
        Aftercare::LotRecalled(recall) => json(&LotRecallV1::of(recall)),
        Aftercare::IncidentFollowed(followed) => json(&IncidentFollowedV1::of(followed)),
        Aftercare::LicenceNoted(licence) => json(&LicenceV1::of(licence)),
    }
}

/// Reads a stored body; `None` where the kind is none of these.
pub(super) fn decode(kind: &Kind, content: Value) -> Result<Option<Aftercare>, String> {
    Ok(Some(match kind {
        Kind::LiftLookedAt => Aftercare::LiftLookedAt(twin::<LiftFollowUpV1, _>(content)?),
        Kind::PhotoKept => Aftercare::PhotoKept(twin::<PhotoV1, _>(content)?),
        Kind::LotRecalled => Aftercare::LotRecalled(twin::<LotRecallV1, _>(content)?),
        Kind::IncidentFollowed => Aftercare::IncidentFollowed(twin::<IncidentFollowedV1, _>(content)?),
        Kind::LicenceNoted => Aftercare::LicenceNoted(twin::<LicenceV1, _>(content)?),
        _ => return Ok(None),
    }))
}

/// Makes the stored body of what is recorded of certificates.
pub(super) fn encode_certified(said: &Certified) -> Result<Value, String> {
    match said {
        Certified::Issued(certificate) => json(&CertificateV1::of(certificate)),
        Certified::Printed(print) => json(&PrintV1::of(print)),
        Certified::Withdrawn(withdrawal) => json(&WithdrawalV1::of(withdrawal)),
        Certified::CredentialKeyMade(key) => json(&CredentialKeyV1::of(key)),
    }
}

/// Reads a stored body of what is recorded of certificates; `None` where the kind is none of these.
pub(super) fn decode_certified(kind: &Kind, content: Value) -> Result<Option<Certified>, String> {
    Ok(Some(match kind {
        Kind::CertificateIssued => Certified::Issued(twin::<CertificateV1, _>(content)?),
        Kind::CertificatePrinted => Certified::Printed(twin::<PrintV1, _>(content)?),
        Kind::CertificateWithdrawn => Certified::Withdrawn(twin::<WithdrawalV1, _>(content)?),
        Kind::CredentialKeyMade => Certified::CredentialKeyMade(twin::<CredentialKeyV1, _>(content)?),
        _ => return Ok(None),
    }))
}
