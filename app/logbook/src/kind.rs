//! What an entry records.

use std::fmt;

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident $word:literal),* $(,)?) => {
        /// What an entry records. A kind that this version does not know is kept as it came.
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind {
            $($(#[$doc])* $name,)*
            /// A kind of a later version, kept and passed on untouched.
            Other(String),
        }

        impl Kind {
            /// All kinds that this version knows.
            pub const KNOWN: &[Kind] = &[$(Kind::$name),*];

            /// Returns the kind of a word.
            pub fn of(word: &str) -> Self {
                match word {
                    $($word => Kind::$name,)*
                    other => Kind::Other(other.to_owned()),
                }
            }

            /// Returns the word that stands in the header.
            pub fn word(&self) -> &str {
                match self {
                    $(Kind::$name => $word,)*
                    Kind::Other(word) => word,
                }
            }
        }
    };
}

kinds! {
    /// The academy is founded.
    AcademyFounded "academy founded",
    /// The academy's particulars are changed.
    AcademyAmended "academy amended",
    /// A course book is adopted.
    BookAdopted "course book adopted",
    /// A product is entered, or its figures anew.
    ProductEntered "product entered",
    /// A lot is opened.
    LotOpened "lot opened",
    /// A person is enrolled.
    PersonEnrolled "person enrolled",
    /// A person has left.
    PersonLeft "person left",
    /// Name and contact of somebody, kept apart.
    ContactNoted "contact noted",
    /// A trainee may see own times against targets early, or no longer.
    TimesShown "times shown",
    /// A device is admitted.
    DeviceAdmitted "device admitted",
    /// A device writes no more.
    DeviceEnded "device ended",
    /// The academy's key is made, and vouches for what was written before it.
    AcademyKeyMade "academy key made",
    /// A key asks to be admitted.
    KeyAsked "key asked",
    /// A key may sign for the academy.
    KeyAdmitted "key admitted",
    /// A key signs no more.
    KeyEnded "key ended",
    /// Another device's log was seen up to an entry.
    LogSeen "receipt",
    /// A practice model is added.
    PracticeModelAdded "practice model added",
    /// A consent is given.
    ConsentGiven "consent given",
    /// A consent is withdrawn.
    ConsentWithdrawn "consent withdrawn",
    /// A screening is answered.
    ScreeningAnswered "screening answered",
    /// A sensitivity test is put on.
    TestPutOn "test put on",
    /// A sensitivity test is read.
    TestRead "test read",
    /// A service is logged.
    ServiceLogged "service logged",
    /// A drill is logged.
    DrillLogged "drill logged",
    /// An outcome is marked.
    OutcomeMarked "outcome marked",
    /// Overlapping the two eyes is allowed to a trainee, or no longer.
    OverlapAllowed "overlap allowed",
    /// A section plan is decided.
    PlanDecided "plan decided",
    /// A trial is opened.
    TrialOpened "trial opened",
    /// An incident is reported.
    IncidentReported "incident reported",
    /// A competency is looked at and signed off, or not yet.
    SignedOff "sign-off given",
    /// A sign-off is withdrawn.
    SignOffWithdrawn "sign-off withdrawn",
    /// An override is claimed or confirmed.
    OverrideNoted "override",
    /// A claimed override is refused by the instructor it names.
    OverrideRefused "override refused",
    /// An instructor answers an override's code from the own device.
    OverrideAnswered "override answered",
    /// The answer that was typed at the couch.
    AnswerTyped "answer typed",
    /// Rows of a spreadsheet are imported.
    RowsImported "import",
    /// An import is withdrawn.
    ImportWithdrawn "import withdrawn",
    /// An earlier entry is corrected.
    Correction "correction",
    /// Something to follow up, or a note.
    FollowUpNoted "follow-up noted",
    /// A coaching line is put away.
    CoachingDismissed "coaching dismissed",
    /// The person concerned has taken note of what an entry says.
    Acknowledged "acknowledged",
    /// The person concerned does not agree with what an entry says.
    Disputed "disputed",
    /// A dispute is answered.
    Resolved "resolved",
    /// Two records that look like the same service: they are, or they are not.
    DuplicateSettled "duplicate settled",
    /// Bodies are erased for good.
    Erased "erased",
    /// Nothing about somebody may be erased.
    HoldPlaced "hold placed",
    /// Erasing is free again.
    HoldLifted "hold lifted",
    /// Time spent learning.
    AttendanceNoted "attendance noted",
    /// Result of a theory paper.
    TheoryMarked "theory marked",
    /// A word to a trainee about what repeats itself.
    CoachingGiven "coaching given",
    /// Assessors have talked over marks that differ.
    MarksTalkedOver "marks talked over",
    /// A sample of marked services is drawn for a second pair of eyes.
    SampleDrawn "sample drawn",
    /// A service of a sample was looked at.
    SampleLookedAt "sample looked at",
    /// A case study is set.
    CaseSet "case study set",
    /// A pack for a case study is handed in.
    CaseHandedIn "case study handed in",
    /// A pack for a case study is marked.
    CaseMarked "case study marked",
    /// A lift was looked at some time later.
    LiftLookedAt "lift looked at",
    /// A photo of an eye.
    PhotoKept "photo kept",
    /// A lot is called back.
    LotRecalled "lot recalled",
    /// What followed an incident.
    IncidentFollowed "incident followed up",
    /// A licence that local rules ask for.
    LicenceNoted "licence noted",
    /// A certificate is issued.
    CertificateIssued "certificate issued",
    /// A certificate was printed.
    CertificatePrinted "certificate printed",
    /// A certificate holds no more.
    CertificateWithdrawn "certificate withdrawn",
    /// A key that signs open credentials is made.
    CredentialKeyMade "credential key made",
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::Kind;

    #[test]
    fn every_word_names_its_own_kind() {
        for kind in Kind::KNOWN {
            assert_eq!(Kind::of(kind.word()), *kind);
        }
        assert_eq!(Kind::of("weather noted"), Kind::Other("weather noted".to_owned()));
    }
}
