//! Who may write what is recorded beside services.

use practicum::after_the_couch::Photo;
use practicum::ids::{PersonId, ServiceId};
use practicum::practice_model::ConsentKind;

use super::{Author, Rights};
use crate::fact::{Aftercare, Certified, Coursework, Fact};

impl Rights<'_> {
    pub(super) fn coursework(&self, author: &Author, said: &Coursework) -> Result<(), String> {
        match said {
            Coursework::AttendanceNoted(attendance) => {
                attendance.check()?;
                let own = attendance.trainee == author.id && attendance.supervised_by.is_none();
                match own {
                    true => Ok(()),
                    false => author.assesses("noting time that was supervised, or somebody else’s"),
                }?;
                let supervisor = attendance.supervised_by.as_ref();
                match supervisor.is_none_or(|who| self.role(who).is_some_and(|role| role.may_assess())) {
                    true => self.known(&attendance.trainee),
                    false => Err("Only an instructor or the owner supervises.".to_owned()),
                }
            }
            Coursework::TheoryMarked(result) => {
                self.about_another(author, "marking a theory paper", &result.trainee)?;
                result.check()
            }
            Coursework::CoachingGiven(note) => {
                self.about_another(author, "coaching", &note.trainee)?;
                match note.words.trim().is_empty() && note.cause.trim().is_empty() {
                    true => Err("Say what to try.".to_owned()),
                    false => Ok(()),
                }
            }
            Coursework::MarksTalkedOver { service, words } => {
                author.assesses("noting what assessors talked over")?;
                self.here(service)?;
                match words.trim().is_empty() {
                    true => Err("Say what was agreed.".to_owned()),
                    false => Ok(()),
                }
            }
            Coursework::SampleDrawn(sample) => {
                author.assesses("drawing a sample of the marking")?;
                match (sample.assessor.as_ref() == Some(&author.id), sample.services.is_empty()) {
                    (true, _) => {
                        Err("Nobody draws a sample of their own marking: a second pair of eyes does.".to_owned())
                    }
                    (_, true) => Err("No service fits: the sample would be empty.".to_owned()),
                    _ => Ok(()),
                }
            }
            Coursework::SampleLookedAt(look) => {
                author.assesses("looking at a sample of the marking")?;
                self.here(&look.service)?;
                let marked = self.records.outcomes_of(&look.service);
                if marked.iter().any(|outcome| outcome.value.marker == author.id) {
                    return Err(format!("{} marked this service: somebody else looks at it.", author.name));
                }
                match look.finding == practicum::coursework::SampleFinding::Holds || !look.words.trim().is_empty() {
                    true => Ok(()),
                    false => Err("Say what was found.".to_owned()),
                }
            }
            Coursework::CaseSet(case) => {
                self.about_another(author, "setting a case study", &case.trainee)?;
                case.check()
            }
            Coursework::CaseHandedIn(pack) => {
                if pack.trainee != author.id {
                    return Err("Only the trainee whom it was set for hands a case study in.".to_owned());
                }
                let case = self.records.beside().cases.iter().find(|case| case.entry == pack.case);
                let Some(case) = case else { return Err("The case study is not on this device.".to_owned()) };
                let state = self.records.case_state(case, pack.on);
                match case.value.trainee == author.id && state.may_hand_in() {
                    true => Ok(()),
                    false => Err(format!("“{}” cannot be handed in now: {}.", case.value.title, state.word())),
                }
            }
            Coursework::CaseMarked(mark) => {
                self.about_another(author, "marking a case study", &mark.trainee)?;
                let pack = self.records.beside().packs.iter().find(|pack| pack.entry == mark.pack);
                match pack.is_some_and(|pack| pack.value.trainee == mark.trainee) {
                    true => Ok(()),
                    false => Err("The pack is not on this device.".to_owned()),
                }
            }
        }
    }

    pub(super) fn aftercare(&self, author: &Author, said: &Aftercare) -> Result<(), String> {
        match said {
            Aftercare::LiftLookedAt(look) => self.own_or_assesses(author, &look.service, "looking at a lift"),
            Aftercare::PhotoKept(photo) => self.photo(author, photo),
            Aftercare::LotRecalled(_) => author.assesses("calling a lot back"),
            Aftercare::IncidentFollowed(_) => author.assesses("noting what followed an incident"),
            Aftercare::LicenceNoted(licence) => {
                author.assesses("noting a licence")?;
                self.known(&licence.person)
            }
        }
    }

    pub(super) fn certified(&self, author: &Author, said: &Certified) -> Result<(), String> {
        author.owns(match said {
            Certified::Issued(_) => "issuing a certificate",
            Certified::Printed(_) => "printing a certificate",
            Certified::Withdrawn(_) => "withdrawing a certificate",
            Certified::CredentialKeyMade(_) => "making a key for open credentials",
        })?;
        match said {
            Certified::Withdrawn(withdrawal) if withdrawal.why.trim().is_empty() => {
                Err("Say why the certificate is withdrawn.".to_owned())
            }
            _ => Ok(()),
        }
    }

    /// A photo is kept only with the practice model's consent to photos, by who worked the service or who assesses.
    fn photo(&self, author: &Author, photo: &Photo) -> Result<(), String> {
        photo.check()?;
        self.own_or_assesses(author, &photo.service, "keeping a photo")?;
        let service = self.here(&photo.service)?;
        if service.practice_model.as_ref() != Some(&photo.practice_model) {
            return Err("The photo is not of the practice model of this service.".to_owned());
        }
        let given = self.before.iter().any(|draft| {
            matches!(&draft.fact, Fact::ConsentGiven { practice_model, kind: ConsentKind::Photos, .. }
                if *practice_model == photo.practice_model)
        });
        let consents = self.records.consents_of(&photo.practice_model);
        let held =
            consents.iter().any(|consent| consent.value.kind == ConsentKind::Photos && consent.value.holds(&photo.at));
        match held || given {
            true => Ok(()),
            false => Err("The practice model has not consented to photos: nothing is kept.".to_owned()),
        }
    }

    fn own_or_assesses(&self, author: &Author, service: &ServiceId, what: &str) -> Result<(), String> {
        match self.here(service)?.trainee == author.id {
            true => Ok(()),
            false => author.assesses(what),
        }
    }

    fn here(&self, service: &ServiceId) -> Result<&practicum::service::Service, String> {
        self.service(service).ok_or_else(|| "The service is not on this device.".to_owned())
    }

    fn known(&self, person: &PersonId) -> Result<(), String> {
        match self.role(person) {
            Some(_) => Ok(()),
            None => Err("Whom this is about is not enrolled on this device.".to_owned()),
        }
    }

    fn about_another(&self, author: &Author, what: &str, about: &PersonId) -> Result<(), String> {
        self.decides(author, what, &author.id, about)
    }
}
