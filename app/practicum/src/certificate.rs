//! Certificates: what the academy says it saw. None of them is a licence.

use crate::ids::{CourseBookId, EntryId, PersonId};
use crate::moment::Day;

/// What a certificate speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CertificateScope {
    /// Lash lift without tint.
    Lift,
    /// Lash lift with and without tint.
    LiftAndTint,
}

impl CertificateScope {
    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            CertificateScope::Lift => "lash lift",
            CertificateScope::LiftAndTint => "lash lift and tint",
        }
    }
}

/// A certificate of the academy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Certificate {
    /// Its number, which begins with letters of the device that issued it, so that no two devices give one twice.
    pub number: String,
    /// For whom.
    pub trainee: PersonId,
    /// What it speaks of.
    pub scope: CertificateScope,
    /// The sign-offs it stands on.
    pub sign_offs: Vec<EntryId>,
    /// Who assessed.
    pub assessor: PersonId,
    /// On which day.
    pub on: Day,
    /// The course book in force.
    pub course_book: CourseBookId,
    /// Hash of the trainee's whole record as it stood.
    pub record_hash: String,
}

/// A certificate was printed: the first time is copy 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CertificatePrint {
    /// The entry that issued it.
    pub certificate: EntryId,
    /// For whom.
    pub trainee: PersonId,
    /// The how manyth, from 1.
    pub copy: u32,
}

/// A certificate holds no more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CertificateWithdrawal {
    /// The entry that issued it.
    pub certificate: EntryId,
    /// For whom it was.
    pub trainee: PersonId,
    /// Why.
    pub why: String,
}

/// A key that signs open credentials for the academy, told of by an entry that the owner's key signs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CredentialKey {
    /// Its algorithm by the name of RFC 7518 or RFC 8037: `RS256` or `EdDSA`.
    pub algorithm: String,
    /// Its public half as a JSON Web Key (RFC 7517).
    pub jwk: String,
}
