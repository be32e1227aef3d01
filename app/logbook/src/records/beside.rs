//! What is recorded beside services: coursework, aftercare, certificates; and what the pages ask of it.

use practicum::after_the_couch::{IncidentFollowed, Licence, LiftFollowUp, LotRecall, Photo};
use practicum::certificate::{Certificate, CertificatePrint, CertificateWithdrawal, CredentialKey};
use practicum::coursework::{
    Attendance, CaseFinding, CaseMark, CasePack, CaseState, CaseStudy, CoachingNote, Sample, SampleLook, TheoryResult,
    case_state,
};
use practicum::ids::{EntryId, IncidentId, PersonId, ProductId, ServiceId};
use practicum::moment::Day;
use practicum::order::InOrder;

use super::apply::Told;
use super::{Recorded, Records};
use crate::fact::{Aftercare, Certified, Coursework};

/// What was said when assessors talked over a service that they marked differently.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TalkedOver {
    /// The service.
    pub service: ServiceId,
    /// What was agreed.
    pub words: String,
}

/// Everything recorded beside services, each list as the log is told.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Beside {
    /// Time spent learning.
    pub attendance: Vec<Recorded<Attendance>>,
    /// Results of theory papers.
    pub theory: Vec<Recorded<TheoryResult>>,
    /// Coaching.
    pub coaching: Vec<Recorded<CoachingNote>>,
    /// Services talked over between assessors.
    pub talked_over: Vec<Recorded<TalkedOver>>,
    /// Samples of marking.
    pub samples: Vec<Recorded<Sample>>,
    /// Looks at services of samples.
    pub sample_looks: Vec<Recorded<SampleLook>>,
    /// Case studies set.
    pub cases: Vec<Recorded<CaseStudy>>,
    /// Packs handed in.
    pub packs: Vec<Recorded<CasePack>>,
    /// Marks of packs.
    pub case_marks: Vec<Recorded<CaseMark>>,
    /// Looks at lifts.
    pub lift_looks: Vec<Recorded<LiftFollowUp>>,
    /// Photos that are here.
    pub photos: Vec<Recorded<Photo>>,
    /// Lots called back.
    pub recalls: Vec<Recorded<LotRecall>>,
    /// What followed incidents.
    pub incidents_followed: Vec<Recorded<IncidentFollowed>>,
    /// Licences.
    pub licences: Vec<Recorded<Licence>>,
    /// Certificates issued.
    pub certificates: Vec<Recorded<Certificate>>,
    /// Their prints.
    pub prints: Vec<Recorded<CertificatePrint>>,
    /// Their withdrawals.
    pub withdrawals: Vec<Recorded<CertificateWithdrawal>>,
    /// Keys that sign open credentials.
    pub credential_keys: Vec<Recorded<CredentialKey>>,
}

impl Beside {
    pub(super) fn take_coursework(&mut self, told: &Told, said: &Coursework) {
        match said {
            Coursework::AttendanceNoted(value) => self.attendance.push(told.record(value.clone())),
            Coursework::TheoryMarked(value) => self.theory.push(told.record(value.clone())),
            Coursework::CoachingGiven(value) => self.coaching.push(told.record(value.clone())),
            Coursework::MarksTalkedOver { service, words } => {
                let value = TalkedOver { service: service.clone(), words: words.clone() };
                self.talked_over.push(told.record(value));
            }
            Coursework::SampleDrawn(value) => self.samples.push(told.record(value.clone())),
            Coursework::SampleLookedAt(value) => self.sample_looks.push(told.record(value.clone())),
            Coursework::CaseSet(value) => self.cases.push(told.record(value.clone())),
            Coursework::CaseHandedIn(value) => self.packs.push(told.record(value.clone())),
            Coursework::CaseMarked(value) => self.case_marks.push(told.record(value.clone())),
        }
    }

    pub(super) fn take_aftercare(&mut self, told: &Told, said: &Aftercare) {
        match said {
            Aftercare::LiftLookedAt(value) => self.lift_looks.push(told.record(value.clone())),
            Aftercare::PhotoKept(value) => self.photos.push(told.record(value.clone())),
            Aftercare::LotRecalled(value) => self.recalls.push(told.record(value.clone())),
            Aftercare::IncidentFollowed(value) => self.incidents_followed.push(told.record(value.clone())),
            Aftercare::LicenceNoted(value) => self.licences.push(told.record(value.clone())),
        }
    }

    pub(super) fn take_certified(&mut self, told: &Told, said: &Certified) {
        match said {
            Certified::Issued(value) => self.certificates.push(told.record(value.clone())),
            Certified::Printed(value) => self.prints.push(told.record(value.clone())),
            Certified::Withdrawn(value) => self.withdrawals.push(told.record(value.clone())),
            Certified::CredentialKeyMade(value) => self.credential_keys.push(told.record(value.clone())),
        }
    }
}

impl Beside {
    /// Returns the hash of the entry whose value holds: of coaching, or of the marks of a paper or a case study.
    pub(super) fn hash_of(&self, entry: &EntryId) -> Option<String> {
        fn found<T>(list: &[Recorded<T>], entry: &EntryId) -> Option<String> {
            list.iter().find(|one| one.entry == *entry).map(|known| known.hash.clone())
        }
        found(&self.coaching, entry).or_else(|| found(&self.theory, entry)).or_else(|| found(&self.case_marks, entry))
    }

    /// Returns the trainee whom coaching or the marks of a paper or a case study concern, and who wrote them.
    pub(super) fn concerns(&self, entry: &EntryId) -> Option<(PersonId, PersonId)> {
        fn found<T>(list: &[Recorded<T>], entry: &EntryId, of: fn(&T) -> &PersonId) -> Option<(PersonId, PersonId)> {
            let known = list.iter().find(|one| one.entry == *entry)?;
            Some((of(&known.value).clone(), known.author.clone()))
        }
        found(&self.coaching, entry, |note| &note.trainee)
            .or_else(|| found(&self.theory, entry, |result| &result.trainee))
            .or_else(|| found(&self.case_marks, entry, |mark| &mark.trainee))
    }
}

impl Records {
    /// Returns everything recorded beside services, whoever wrote it: to be asked by the methods below where they
    /// answer, which leave out what its author may not say.
    pub fn beside(&self) -> &Beside {
        &self.beside
    }

    fn by_assessor<T>(&self, known: &Recorded<T>) -> bool {
        !self.is_trainee(&known.author)
    }

    /// Returns a trainee's attendance, by day: time that an assessor noted, and the trainee's own time alone.
    pub fn attendance_of(&self, trainee: &PersonId) -> Vec<&Recorded<Attendance>> {
        let stands = |one: &&Recorded<Attendance>| {
            let alone = one.author == *trainee && one.value.supervised_by.is_none();
            one.value.trainee == *trainee && (alone || self.by_assessor(one))
        };
        let mut all: Vec<_> = self.beside.attendance.iter().filter(stands).collect();
        all.order_by(|a, b| (a.value.on, &a.entry).cmp(&(b.value.on, &b.entry)));
        all
    }

    /// Returns a trainee's theory papers as the log is told.
    pub fn theory_of(&self, trainee: &PersonId) -> Vec<&Recorded<TheoryResult>> {
        let stands = |one: &&Recorded<TheoryResult>| one.value.trainee == *trainee && self.by_assessor(one);
        self.beside.theory.iter().filter(stands).collect()
    }

    /// Returns what a trainee was coached in, the latest last.
    pub fn coaching_of(&self, trainee: &PersonId) -> Vec<&Recorded<CoachingNote>> {
        let stands = |one: &&Recorded<CoachingNote>| one.value.trainee == *trainee && self.by_assessor(one);
        self.beside.coaching.iter().filter(stands).collect()
    }

    /// Returns what was agreed about a service that assessors marked differently.
    pub fn talked_over(&self, service: &ServiceId) -> Vec<&Recorded<TalkedOver>> {
        let stands = |one: &&Recorded<TalkedOver>| one.value.service == *service && self.by_assessor(one);
        self.beside.talked_over.iter().filter(stands).collect()
    }

    /// Returns the samples of the marking, the latest last: drawn by an assessor, and by nobody of their own marking.
    pub fn samples(&self) -> Vec<&Recorded<Sample>> {
        let stands =
            |one: &&Recorded<Sample>| self.by_assessor(one) && one.value.assessor.as_ref() != Some(&one.author);
        self.beside.samples.iter().filter(stands).collect()
    }

    /// Returns the case studies set for a trainee, as the log is told.
    pub fn cases_of(&self, trainee: &PersonId) -> Vec<&Recorded<CaseStudy>> {
        let stands = |one: &&Recorded<CaseStudy>| one.value.trainee == *trainee && self.by_assessor(one);
        self.beside.cases.iter().filter(stands).collect()
    }

    /// Returns the looks at a sample's services; of one service the last counts.
    pub fn looks_at_sample(&self, sample: &EntryId) -> Vec<&Recorded<SampleLook>> {
        let stands = |one: &&Recorded<SampleLook>| one.value.sample == *sample && self.by_assessor(one);
        self.beside.sample_looks.iter().filter(stands).collect()
    }

    /// Returns the packs of a case study in the order handed in, each with its last mark. Only the trainee whom it was
    /// set for hands in, and only an assessor who is somebody else marks.
    pub fn packs_of(&self, case: &Recorded<CaseStudy>) -> Vec<(&Recorded<CasePack>, Option<&Recorded<CaseMark>>)> {
        let own = |pack: &&Recorded<CasePack>| pack.value.case == case.entry && pack.author == case.value.trainee;
        let packs = self.beside.packs.iter().filter(own);
        packs.map(|pack| (pack, self.mark_of_pack(pack))).collect()
    }

    fn mark_of_pack(&self, pack: &Recorded<CasePack>) -> Option<&Recorded<CaseMark>> {
        let marks = |mark: &&Recorded<CaseMark>| {
            mark.value.pack == pack.entry && mark.author != pack.author && !self.is_trainee(&mark.author)
        };
        self.beside.case_marks.iter().rev().find(marks)
    }

    /// Works out where a case study stands on a day.
    pub fn case_state(&self, case: &Recorded<CaseStudy>, today: Day) -> CaseState {
        let findings: Vec<Option<CaseFinding>> =
            self.packs_of(case).into_iter().map(|(_, mark)| mark.map(|mark| mark.value.finding)).collect();
        case_state(&case.value, &findings, today)
    }

    /// Returns the looks at a service's lift, by day.
    pub fn lift_looks_of(&self, service: &ServiceId) -> Vec<&Recorded<LiftFollowUp>> {
        let mut looks: Vec<_> = self.beside.lift_looks.iter().filter(|one| one.value.service == *service).collect();
        looks.order_by(|a, b| (a.value.on, &a.entry).cmp(&(b.value.on, &b.entry)));
        looks
    }

    /// Returns the photos of a service that are here, in the order of the service, the left eye first. Of several of
    /// one eye and stage the last kept stands first.
    pub fn photos_of(&self, service: &ServiceId) -> Vec<&Recorded<Photo>> {
        let mut photos: Vec<_> = self.beside.photos.iter().rev().filter(|one| one.value.service == *service).collect();
        photos.order_by_key(|photo| (photo.value.stage, photo.value.eye));
        photos
    }

    /// Returns the last recall of a lot.
    pub fn recall_of(&self, product: &ProductId, number: &str) -> Option<&Recorded<LotRecall>> {
        let same = |one: &&Recorded<LotRecall>| {
            one.value.product == *product
                && self.by_assessor(one)
                && one.value.number.trim().eq_ignore_ascii_case(number.trim())
        };
        self.beside.recalls.iter().rev().find(same)
    }

    /// Returns what followed an incident, as the log is told.
    pub fn followed(&self, incident: &IncidentId) -> Vec<&Recorded<IncidentFollowed>> {
        let stands = |one: &&Recorded<IncidentFollowed>| one.value.incident == *incident && self.by_assessor(one);
        self.beside.incidents_followed.iter().filter(stands).collect()
    }

    /// Whether somebody who may assess has said last that nothing more is to follow an incident.
    pub fn incident_closed(&self, incident: &IncidentId) -> bool {
        self.followed(incident).last().is_some_and(|last| last.value.closed)
    }

    /// Returns a person's licences as the log is told.
    pub fn licences_of(&self, person: &PersonId) -> Vec<&Recorded<Licence>> {
        let stands = |one: &&Recorded<Licence>| one.value.person == *person && self.by_assessor(one);
        self.beside.licences.iter().filter(stands).collect()
    }

    fn by_owner<T>(&self, known: &Recorded<T>) -> bool {
        self.academy().is_some_and(|academy| academy.owner == known.author)
    }

    /// Returns the certificates that the owner issued, as the log is told.
    pub fn certificates(&self) -> Vec<&Recorded<Certificate>> {
        self.beside.certificates.iter().filter(|one| self.by_owner(one)).collect()
    }

    /// Returns a certificate by the entry that issued it.
    pub fn certificate(&self, entry: &EntryId) -> Option<&Recorded<Certificate>> {
        self.certificates().into_iter().find(|one| one.entry == *entry)
    }

    /// Returns the withdrawal of a certificate, if it holds no more.
    pub fn withdrawal_of(&self, certificate: &EntryId) -> Option<&Recorded<CertificateWithdrawal>> {
        let stands =
            |one: &&Recorded<CertificateWithdrawal>| one.value.certificate == *certificate && self.by_owner(one);
        self.beside.withdrawals.iter().find(stands)
    }

    /// Returns the prints of a certificate, as the log is told.
    pub fn prints_of(&self, certificate: &EntryId) -> Vec<&Recorded<CertificatePrint>> {
        let stands = |one: &&Recorded<CertificatePrint>| one.value.certificate == *certificate && self.by_owner(one);
        self.beside.prints.iter().filter(stands).collect()
    }

    /// Returns the keys that sign open credentials, the latest last.
    pub fn credential_keys(&self) -> Vec<&Recorded<CredentialKey>> {
        self.beside.credential_keys.iter().filter(|one| self.by_owner(one)).collect()
    }
}
