//! Who may answer, dispute, resolve, settle, erase and hold.

use practicum::ids::{EntryId, PersonId};

use super::{Author, Rights};
use crate::erasure;
use crate::fact::{Coursework, Erasure, Fact, Hold, Reply, Resolution, Settlement};
use crate::subject::Subject;

impl Rights<'_> {
    /// The person concerned answers what somebody else said about them: marks, a plan decision, a sign-off.
    pub(super) fn answers(&self, author: &Author, answer: &Reply) -> Result<(), String> {
        let about = &answer.about;
        if about.person != author.id {
            return Err("Only the person concerned answers this, as themself at the top.".to_owned());
        }
        if answer.disputed.as_ref().is_some_and(|why| why.trim().is_empty()) {
            return Err("Say what you do not agree with.".to_owned());
        }
        let (said_by, concerns) = self.said_about(&about.entry)?;
        if concerns.as_ref() != Some(&author.id) || said_by == author.id {
            return Err("This is not about you, so it is not yours to answer.".to_owned());
        }
        match self.log.by_hash(&about.hash) {
            Some(_) => Ok(()),
            None => Err("What is answered is not on this device.".to_owned()),
        }
    }

    /// An assessor who did not say it first answers a dispute.
    pub(super) fn resolves(&self, author: &Author, resolution: &Resolution) -> Result<(), String> {
        author.assesses("answering a dispute")?;
        if resolution.words.trim().is_empty() {
            return Err("Say how it was resolved.".to_owned());
        }
        let Some(Fact::Replied(Reply { about, disputed: Some(_) })) = self.fact_of(&resolution.dispute) else {
            return Err("The dispute is not on this device.".to_owned());
        };
        if about.person != resolution.person {
            return Err("The dispute is somebody else’s.".to_owned());
        }
        let (said_by, _) = self.said_about(&about.entry)?;
        match said_by == author.id || about.person == author.id {
            true => {
                Err(format!("{} is part of this dispute: another instructor or the owner answers it.", author.name))
            }
            false => Ok(()),
        }
    }

    /// An assessor says whether two records of one trainee are the same service.
    pub(super) fn settles(&self, author: &Author, settlement: &Settlement) -> Result<(), String> {
        author.assesses("saying whether two records are the same service")?;
        let (Some(keep), Some(other)) = (self.service(&settlement.keep), self.service(&settlement.other)) else {
            return Err("One of the two records is not on this device.".to_owned());
        };
        if keep.id == other.id || keep.trainee != other.trainee {
            return Err("Only two records of one trainee can be the same service.".to_owned());
        }
        match keep.trainee == author.id {
            true => Err(format!(
                "{} worked this service: another instructor or the owner says which record counts.",
                author.name
            )),
            false => Ok(()),
        }
    }

    /// The owner erases, unless a hold stands; a person only once they have left.
    pub(super) fn erases(&self, author: &Author, erasure: &Erasure) -> Result<(), String> {
        author.owns("erasing for good")?;
        if let Some(hold) = self.records.holds_on(&erasure.of).first() {
            return Err(format!(
                "A hold stands since {}: {}, {}. Lift it first; nothing was erased.",
                hold.recorded_at.date_naive(),
                hold.value.ground.word(),
                hold.value.why.trim_end_matches('.')
            ));
        }
        if erasure.why.trim().is_empty() || erasure.what.trim().is_empty() {
            return Err("Say what is erased, and why.".to_owned());
        }
        if let Subject::Person(person) = &erasure.of {
            let left = self.enrolled(person).is_none_or(|person| person.left.is_some());
            if !left {
                return Err("Only somebody who has left is erased: note first that they have left.".to_owned());
            }
        }
        if erasure.hashes.is_empty() {
            return Err("There is nothing to erase.".to_owned());
        }
        let may_go = |hash: &String| self.log.by_hash(hash).is_some_and(|entry| erasure::may_go(entry, &erasure.of));
        match erasure.hashes.iter().all(may_go) {
            true => Ok(()),
            false => Err("Something of this may not be erased, or is not on this device.".to_owned()),
        }
    }

    /// The owner places a hold.
    pub(super) fn holds(&self, author: &Author, hold: &Hold) -> Result<(), String> {
        author.owns("placing a hold")?;
        match hold.why.trim().is_empty() {
            true => Err("Say which claim or law asks for the hold.".to_owned()),
            false => Ok(()),
        }
    }

    /// The owner lifts a hold that stands.
    pub(super) fn lifts(&self, author: &Author, hold: &EntryId, on: &Subject, why: &str) -> Result<(), String> {
        author.owns("lifting a hold")?;
        if why.trim().is_empty() {
            return Err("Say why the hold is lifted.".to_owned());
        }
        match self.records.holds_on(on).iter().any(|standing| standing.entry == *hold) {
            true => Ok(()),
            false => Err("No such hold stands on this device.".to_owned()),
        }
    }

    /// Whether a draft saved together with this one erases a person: their enrolment is then said anew.
    pub(super) fn erases_now(&self, person: &PersonId) -> bool {
        let of = Subject::Person(person.clone());
        self.before.iter().any(|draft| matches!(&draft.fact, Fact::Erased(erasure) if erasure.of == of))
    }

    fn fact_of(&self, entry: &EntryId) -> Option<&Fact> {
        self.log.entry(entry).and_then(|entry| entry.fact()).map(std::sync::Arc::as_ref)
    }

    /// Returns who said what an entry says about a person, and about whom.
    fn said_about(&self, entry: &EntryId) -> Result<(PersonId, Option<PersonId>), String> {
        let author = self.log.entry(entry).map(|entry| entry.header().author.clone());
        let concerns = match self.fact_of(entry) {
            Some(Fact::OutcomeMarked(outcome)) => self.service(&outcome.service).map(|service| service.trainee.clone()),
            Some(Fact::PlanDecided(decision)) => Some(decision.trainee.clone()),
            Some(Fact::SignedOff(sign_off)) => Some(sign_off.trainee.clone()),
            Some(Fact::Coursework(
                said @ (Coursework::TheoryMarked(_) | Coursework::CoachingGiven(_) | Coursework::CaseMarked(_)),
            )) => said.trainee().cloned(),
            _ => None,
        };
        author.map(|author| (author, concerns)).ok_or_else(|| "What is answered is not on this device.".to_owned())
    }
}
