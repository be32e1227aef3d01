//! What is recorded of certificates and of the keys that sign open credentials.

use practicum::certificate::{Certificate, CertificatePrint, CertificateWithdrawal, CredentialKey};
use practicum::ids::PersonId;

use crate::kind::Kind;
use crate::subject::Subject;

/// What is recorded of certificates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Certified {
    /// A certificate is issued.
    Issued(Certificate),
    /// It was printed.
    Printed(CertificatePrint),
    /// It holds no more.
    Withdrawn(CertificateWithdrawal),
    /// A key that signs open credentials.
    CredentialKeyMade(CredentialKey),
}

impl Certified {
    /// Returns the kind of entry that records it.
    pub fn kind(&self) -> Kind {
        match self {
            Certified::Issued(_) => Kind::CertificateIssued,
            Certified::Printed(_) => Kind::CertificatePrinted,
            Certified::Withdrawn(_) => Kind::CertificateWithdrawn,
            Certified::CredentialKeyMade(_) => Kind::CredentialKeyMade,
        }
    }

    /// Returns the trainee it is about; `None` for a key.
    pub fn trainee(&self) -> Option<&PersonId> {
        match self {
            Certified::Issued(certificate) => Some(&certificate.trainee),
            Certified::Printed(print) => Some(&print.trainee),
            Certified::Withdrawn(withdrawal) => Some(&withdrawal.trainee),
            Certified::CredentialKeyMade(_) => None,
        }
    }

    /// Returns what it is about, as the header says it.
    pub fn subject(&self) -> Subject {
        self.trainee().map_or(Subject::Academy, |trainee| Subject::Person(trainee.clone()))
    }
}
