//! What was said about what stands in the records: replies and disputes, duplicates, erasures and holds.

use std::sync::Arc;

use practicum::ids::{EntryId, PersonId, ServiceId};

use super::apply::Told;
use super::{Recorded, Records, Withdrawal};
use crate::entry::Entry;
use crate::fact::{Erasure, Hold, Reply, Resolution, Settlement};
use crate::subject::Subject;

/// How the person concerned has answered what an entry says about them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Replied<'a> {
    /// Not at all.
    NotYet,
    /// Took note of it.
    Acknowledged(&'a Recorded<Reply>),
    /// Does not agree, and nobody has answered that yet.
    Disputed(&'a Recorded<Reply>),
    /// Did not agree, and somebody answered.
    Resolved(&'a Recorded<Reply>, &'a Recorded<Resolution>),
}

impl Records {
    /// Returns all that the person concerned has replied to an entry, the first one first.
    pub fn replies_to(&self, entry: &EntryId) -> Vec<&Recorded<Reply>> {
        let own = |reply: &&Recorded<Reply>| {
            reply.value.about.entry == *entry
                && reply.value.about.person == reply.author
                && self.concerned_by(entry).as_ref() == Some(&reply.author)
        };
        self.replies.iter().filter(own).collect()
    }

    /// Returns the person whom an entry concerns, who did not write it: of marks, a plan decision, a sign-off,
    /// coaching, or the marks of a theory paper or a case study.
    pub fn concerned_by(&self, entry: &EntryId) -> Option<PersonId> {
        let marked = self.outcomes.iter().find(|outcome| outcome.entry == *entry);
        let marked = marked.and_then(|outcome| {
            Some((self.service(&outcome.value.service)?.value.trainee.clone(), outcome.value.marker.clone()))
        });
        let decided = || {
            let decision = self.decisions.iter().find(|decision| decision.entry == *entry)?;
            Some((decision.value.trainee.clone(), decision.value.by.clone()))
        };
        let signed = || {
            let sign_off = self.sign_offs.iter().find(|sign_off| sign_off.entry == *entry)?;
            Some((sign_off.value.trainee.clone(), sign_off.value.by.clone()))
        };
        let (person, by) = marked.or_else(decided).or_else(signed).or_else(|| self.beside.concerns(entry))?;
        (person != by).then_some(person)
    }

    /// Returns the last word of the person concerned about an entry, and what became of it.
    pub fn replied_to(&self, entry: &EntryId) -> Replied<'_> {
        let Some(last) = self.replies_to(entry).pop() else { return Replied::NotYet };
        match (&last.value.disputed, self.resolution_of(&last.entry)) {
            (None, _) => Replied::Acknowledged(last),
            (Some(_), None) => Replied::Disputed(last),
            (Some(_), Some(resolution)) => Replied::Resolved(last, resolution),
        }
    }

    /// Returns how a dispute was answered: by an assessor who was no part of it, the first answer first.
    pub fn resolution_of(&self, dispute: &EntryId) -> Option<&Recorded<Resolution>> {
        let dispute = self.replies.iter().find(|reply| reply.entry == *dispute)?;
        let said_by = self.said_by(&dispute.value.about.entry);
        let answers = |resolution: &&Recorded<Resolution>| {
            resolution.value.dispute == dispute.entry
                && resolution.author != dispute.author
                && Some(&resolution.author) != said_by.as_ref()
                && !self.is_trainee(&resolution.author)
        };
        self.resolutions.iter().find(answers)
    }

    /// Returns who wrote the marks, plan decision or sign-off.
    pub fn said_by(&self, entry: &EntryId) -> Option<PersonId> {
        let marked = self.outcomes.iter().find(|one| one.entry == *entry).map(|one| one.author.clone());
        let decided = || self.decisions.iter().find(|one| one.entry == *entry).map(|one| one.author.clone());
        let signed = || self.sign_offs.iter().find(|one| one.entry == *entry).map(|one| one.author.clone());
        marked.or_else(decided).or_else(signed).or_else(|| self.beside.concerns(entry).map(|(_, by)| by))
    }

    /// Returns the disputes that nobody has answered, the first one first.
    pub fn open_disputes(&self) -> Vec<&Recorded<Reply>> {
        let open = |reply: &&Recorded<Reply>| match self.replied_to(&reply.value.about.entry) {
            Replied::Disputed(last) => last.entry == reply.entry,
            _ => false,
        };
        self.replies.iter().filter(open).collect()
    }

    /// Returns the hash of the entry whose value holds now: of marks, a plan decision or a sign-off.
    pub fn hash_of_value(&self, entry: &EntryId) -> Option<String> {
        let marked = self.outcomes.iter().find(|one| one.entry == *entry).map(|one| one.hash.clone());
        let decided = || self.decisions.iter().find(|one| one.entry == *entry).map(|one| one.hash.clone());
        let signed = || self.sign_offs.iter().find(|one| one.entry == *entry).map(|one| one.hash.clone());
        marked.or_else(decided).or_else(signed).or_else(|| self.beside.hash_of(entry))
    }

    /// Returns a plan decision as recorded.
    pub fn decision_record(&self, entry: &EntryId) -> Option<&Recorded<practicum::standing::PlanDecision>> {
        self.decisions.iter().find(|decision| decision.entry == *entry)
    }

    /// Returns a sign-off as recorded.
    pub fn sign_off_record(&self, entry: &EntryId) -> Option<&Recorded<practicum::competency::SignOff>> {
        self.sign_offs.iter().find(|sign_off| sign_off.entry == *entry)
    }

    /// Returns an outcome as recorded.
    pub fn outcome_record(&self, entry: &EntryId) -> Option<&Recorded<practicum::outcome::Outcome>> {
        self.outcomes.iter().find(|outcome| outcome.entry == *entry)
    }

    /// Returns the last word on whether two records are the same service.
    pub fn settled(&self, one: &ServiceId, other: &ServiceId) -> Option<&Recorded<Settlement>> {
        self.settlements.get(&pair(one, other))
    }

    /// Returns all settlements about a service.
    pub fn settlements_of(&self, service: &ServiceId) -> Vec<&Recorded<Settlement>> {
        let about = |(one, other): &(ServiceId, ServiceId)| one == service || other == service;
        self.settlements.iter().filter(|(pair, _)| about(pair)).map(|(_, settlement)| settlement).collect()
    }

    pub(super) fn settle(&mut self, entry: &Arc<Entry>, told: &Told, settlement: &Settlement) {
        if settlement.keep == settlement.other {
            return self.double(entry, "it speaks of one record only");
        }
        self.settling.insert(entry.header().id.clone());
        self.settlements.insert(pair(&settlement.keep, &settlement.other), told.record(settlement.clone()));
        self.change(entry, &told.fact);
    }

    /// Returns one of the two records that is not here yet.
    pub(super) fn missing_of(&self, settlement: &Settlement) -> Option<ServiceId> {
        [&settlement.keep, &settlement.other].into_iter().find(|id| self.service(id).is_none()).cloned()
    }

    /// Lets each of two records count no more, or again, by the last word on every pair that it is part of.
    pub(super) fn withdraw_duplicate(&mut self, settlement: &Settlement) {
        for id in [&settlement.keep, &settlement.other] {
            let about: Vec<Recorded<Settlement>> = self.settlements_of(id).into_iter().cloned().collect();
            let trainee = |id: &ServiceId| self.service(id).map(|known| known.value.trainee.clone());
            let drops = |last: &&Recorded<Settlement>| {
                let worked = trainee(&last.value.keep);
                let one_trainee = worked.is_some() && worked == trainee(&last.value.other);
                last.value.same && last.value.other == *id && one_trainee && worked.as_ref() != Some(&last.author)
            };
            let dropped = about.iter().find(drops).map(|last| Withdrawal {
                entry: last.entry.clone(),
                by: last.author.clone(),
                at: last.recorded_at,
                reason: same_words(&last.value),
            });
            let settling = self.settling.clone();
            let Some(known) = self.service_mut(id) else { continue };
            // What a withdrawn import took away stays away.
            if known.withdrawn.as_ref().is_none_or(|gone| settling.contains(&gone.entry)) {
                known.withdrawn = dropped;
            }
        }
    }

    /// Returns the erasures, as the log is told.
    pub fn erasures(&self) -> Vec<&Recorded<Erasure>> {
        self.erasures.iter().filter(|erasure| self.owners(&erasure.author)).collect()
    }

    /// Returns the erasures about a practice model or a person.
    pub fn erasures_of(&self, of: &Subject) -> Vec<&Recorded<Erasure>> {
        self.erasures().into_iter().filter(|erasure| erasure.value.of == *of).collect()
    }

    /// Returns all holds that were ever placed on a practice model or a person, with what lifted each.
    pub fn all_holds_on(&self, on: &Subject) -> Vec<(&Recorded<Hold>, Option<&Withdrawal>)> {
        let about = |hold: &&Recorded<Hold>| hold.value.on == *on && self.owners(&hold.author);
        self.holds.iter().filter(about).map(|hold| (hold, self.lifted.get(&hold.entry))).collect()
    }

    /// Returns the holds that stand on a practice model or a person.
    pub fn holds_on(&self, on: &Subject) -> Vec<&Recorded<Hold>> {
        let all = self.all_holds_on(on).into_iter();
        all.filter(|(_, lifted)| lifted.is_none_or(|by| !self.owners(&by.by))).map(|(hold, _)| hold).collect()
    }

    fn owners(&self, who: &PersonId) -> bool {
        self.academy().is_some_and(|academy| academy.owner == *who)
    }
}

fn pair(one: &ServiceId, other: &ServiceId) -> (ServiceId, ServiceId) {
    if one <= other { (one.clone(), other.clone()) } else { (other.clone(), one.clone()) }
}

fn same_words(settlement: &Settlement) -> String {
    match settlement.why.trim().trim_end_matches('.') {
        "" => "the same service stands in another record, which counts".to_owned(),
        why => format!("the same service stands in another record, which counts: {why}"),
    }
}
