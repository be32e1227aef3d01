//! Who may write what. Asked before every entry is made, so that no page can forget it.
//!
//! Whether an instructor or the owner has unlocked the device is not known here: whoever writes in their name
//! asks that first.

mod beside;
mod said;

use practicum::couch::{Act, Tap};
use practicum::ids::{EntryId, PersonId, ServiceId};
use practicum::outcome::Outcome;
use practicum::person::{Person, Role};
use practicum::service::{Origin, Service};

use crate::draft::Draft;
use crate::fact::{Academy, Fact};
use crate::log::Log;
use crate::records::Records;

/// What is known when a draft is looked at: everything recorded, and the drafts saved together with it.
pub(crate) struct Rights<'a> {
    log: &'a Log,
    records: &'a Records,
    before: &'a [Draft],
}

impl<'a> Rights<'a> {
    /// Looks at a draft after others that are saved together with it.
    pub(crate) fn new(log: &'a Log, records: &'a Records, before: &'a [Draft]) -> Self {
        Self { log, records, before }
    }

    /// Says why an author may not write a draft.
    ///
    /// # Errors
    /// Returns the sentence.
    pub(crate) fn check(&self, draft: &Draft) -> Result<(), String> {
        if let Fact::AcademyFounded(academy) = &draft.fact {
            return match academy.owner == draft.author {
                true => Ok(()),
                false => Err("An academy is founded by its owner.".to_owned()),
            };
        }
        let author = self.author(&draft.author)?;
        match &draft.fact {
            Fact::Corrected { of, fact, .. } => self.correction(&author, of, fact),
            fact => self.fact(&author, fact),
        }
    }

    fn fact(&self, author: &Author, fact: &Fact) -> Result<(), String> {
        match fact {
            Fact::AcademyAmended(_) | Fact::BookAdopted { .. } | Fact::ProductEntered(_) | Fact::DeviceEnded { .. } => {
                author.owns(what(fact))?;
                match fact {
                    Fact::AcademyAmended(academy) => self.same_owner(academy),
                    _ => Ok(()),
                }
            }
            Fact::PersonEnrolled(person) => {
                author.assesses(what(fact))?;
                self.enrols(author, person)
            }
            Fact::PersonLeft { person, .. } => {
                author.assesses(what(fact))?;
                match self.role(person) {
                    Some(Role::Owner) => Err("The owner cannot leave the academy.".to_owned()),
                    _ => Ok(()),
                }
            }
            Fact::AcademyKeyMade { .. } | Fact::KeyAdmitted(_) | Fact::KeyEnded { .. } => author.owns(what(fact)),
            Fact::LotOpened(_)
            | Fact::LogSeen { .. }
            | Fact::TimesShown { .. }
            | Fact::DeviceAdmitted { .. }
            | Fact::RowsImported(_)
            | Fact::ImportWithdrawn { .. }
            | Fact::CoachingDismissed { .. } => author.assesses(what(fact)),
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => match service.trainee == author.id {
                true => Ok(()),
                false => author.assesses("writing down somebody else’s service"),
            },
            Fact::OutcomeMarked(outcome) => self.marks(author, outcome),
            Fact::OverlapAllowed { trainee, .. } => self.decides(author, what(fact), &author.id, trainee),
            Fact::PlanDecided(decision) => self.decides(author, what(fact), &decision.by, &decision.trainee),
            Fact::TrialOpened(trial) => self.decides(author, what(fact), &trial.by, &trial.trainee),
            Fact::SignedOff(sign_off) => self.decides(author, what(fact), &sign_off.by, &sign_off.trainee),
            Fact::OverrideNoted { service, made } => {
                author.assesses(what(fact))?;
                if made.by != author.id {
                    return Err(format!(
                        "Only {} confirms this override: it was claimed in that name.",
                        self.name(&made.by)
                    ));
                }
                self.override_of(author, service, &made.reason_code, &made.by)
            }
            Fact::OverrideAnswered(answer) => {
                author.assesses(what(fact))?;
                if answer.trainee == author.id {
                    return Err("Nobody lets an override of their own service pass.".to_owned());
                }
                match answer.allowed || !answer.why.trim().is_empty() {
                    true => Ok(()),
                    false => Err("Say why the override is refused.".to_owned()),
                }
            }
            Fact::OverrideRefused { service, reason_code, by, why } => {
                author.assesses(what(fact))?;
                if *by != author.id {
                    return Err(format!("Only {} refuses this override: it was claimed in that name.", self.name(by)));
                }
                if why.trim().is_empty() {
                    return Err("Say why the override is refused.".to_owned());
                }
                self.override_of(author, service, reason_code, by)
            }
            Fact::Replied(answer) => self.answers(author, answer),
            Fact::Resolved(resolution) => self.resolves(author, resolution),
            Fact::DuplicateSettled(settlement) => self.settles(author, settlement),
            Fact::Erased(erasure) => self.erases(author, erasure),
            Fact::HoldPlaced(hold) => self.holds(author, hold),
            Fact::HoldLifted { hold, on, why } => self.lifts(author, hold, on, why),
            Fact::Coursework(said) => self.coursework(author, said),
            Fact::Aftercare(said) => self.aftercare(author, said),
            Fact::Certified(said) => self.certified(author, said),
            // Anybody of the academy writes these; the entry keeps who did.
            Fact::AcademyFounded(_)
            | Fact::KeyAsked(_)
            | Fact::AnswerTyped { .. }
            | Fact::ContactNoted(_)
            | Fact::PracticeModelAdded(_)
            | Fact::ConsentGiven { .. }
            | Fact::ConsentWithdrawn { .. }
            | Fact::ScreeningAnswered(_)
            | Fact::TestPutOn(_)
            | Fact::TestRead { .. }
            | Fact::IncidentReported(_)
            | Fact::FollowUpNoted(_)
            | Fact::Corrected { .. } => Ok(()),
        }
    }

    fn correction(&self, author: &Author, of: &EntryId, fact: &Fact) -> Result<(), String> {
        let first = self.first_author(of);
        if first.as_ref() != Some(&author.id) {
            author.assesses("correcting what somebody else wrote")?;
        }
        match fact {
            Fact::AcademyFounded(academy) => {
                author.owns("changing the academy’s particulars")?;
                self.same_owner(academy)
            }
            Fact::PersonEnrolled(person) => {
                author.assesses("changing an enrolment")?;
                match (self.role(&person.id), person.role) {
                    (Some(Role::Owner), Role::Owner) => Ok(()),
                    (Some(Role::Owner), _) | (_, Role::Owner) => Err(OWNER_STAYS.to_owned()),
                    _ => Ok(()),
                }
            }
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => {
                if let Some(known) = self.service(&service.id) {
                    if known.trainee != service.trainee {
                        author.assesses("saying that somebody else worked a service")?;
                    }
                    if speaks_for_another(known, service, &author.id) {
                        return Err(
                            "Nobody states a time in the name of somebody else: switch at the top first.".to_owned()
                        );
                    }
                    let raised = |made: &practicum::couch::Override| {
                        let same = |other: &&practicum::couch::Override| {
                            other.by == made.by && other.reason_code == made.reason_code
                        };
                        made.confirmed && !known.overrides.iter().find(same).is_some_and(|known| known.confirmed)
                    };
                    if service.overrides.iter().any(raised) {
                        return Err(
                            "A correction cannot confirm an override: the named instructor does, under Marking."
                                .to_owned(),
                        );
                    }
                }
                self.fact(author, fact)
            }
            // The value stays in the name of who wrote it first, so only the right to write it is asked.
            Fact::OutcomeMarked(outcome) => {
                let outcome = Outcome { marker: author.id.clone(), ..outcome.clone() };
                self.marks(author, &outcome)
            }
            Fact::PlanDecided(decision) => self.decides(author, what(fact), &author.id, &decision.trainee),
            Fact::SignedOff(sign_off) => self.decides(author, what(fact), &author.id, &sign_off.trainee),
            fact => self.fact(author, fact),
        }
    }

    fn marks(&self, author: &Author, outcome: &Outcome) -> Result<(), String> {
        if outcome.marker != author.id {
            return Err("Nobody marks in the name of somebody else: switch at the top first.".to_owned());
        }
        let Some(service) = self.service(&outcome.service) else {
            return Err("The service that is marked is not on this device.".to_owned());
        };
        if service.trainee != author.id {
            return author.assesses("marking as an assessor");
        }
        match outcome.observed || outcome.independence_next.is_some() {
            true => Err(format!(
                "{} worked this service: somebody else assesses it, an instructor or the owner.",
                author.name
            )),
            false => Ok(()),
        }
    }

    fn decides(&self, author: &Author, what: &str, by: &PersonId, about: &PersonId) -> Result<(), String> {
        author.assesses(what)?;
        if by != &author.id {
            return Err("Nobody decides in the name of somebody else: switch at the top first.".to_owned());
        }
        if about == &author.id {
            return Err(format!("{} cannot decide about themself: another instructor or the owner does.", author.name));
        }
        match self.role(about) {
            Some(_) => Ok(()),
            None => Err("Whom this is about is not enrolled on this device.".to_owned()),
        }
    }

    fn override_of(&self, author: &Author, service: &ServiceId, code: &str, by: &PersonId) -> Result<(), String> {
        let Some(known) = self.service(service) else {
            return Err("The service with this override is not on this device.".to_owned());
        };
        if known.trainee == author.id {
            return Err("Nobody lets an override of their own service pass.".to_owned());
        }
        match known.overrides.iter().any(|made| made.reason_code == code && made.by == *by) {
            true => Ok(()),
            false => Err("This service holds no such override.".to_owned()),
        }
    }

    fn enrols(&self, author: &Author, person: &Person) -> Result<(), String> {
        let owner = self.academy().map(|academy| &academy.owner);
        match (person.role, owner == Some(&person.id)) {
            (Role::Owner, true) if author.id == person.id => {}
            (Role::Owner, _) | (_, true) => return Err(OWNER_STAYS.to_owned()),
            _ => {}
        }
        match self.enrolled(&person.id).is_some() && !self.erases_now(&person.id) {
            true => Err(format!("{} is enrolled already: correct the enrolment instead.", person.name)),
            false => Ok(()),
        }
    }

    fn same_owner(&self, academy: &Academy) -> Result<(), String> {
        match self.academy().is_none_or(|known| known.owner == academy.owner) {
            true => Ok(()),
            false => Err(OWNER_STAYS.to_owned()),
        }
    }

    fn author(&self, id: &PersonId) -> Result<Author, String> {
        let Some(role) = self.role(id) else {
            return Err("Whoever writes this is not enrolled on this device: switch at the top first.".to_owned());
        };
        if self.enrolled(id).is_some_and(|person| person.left.is_some()) {
            return Err(format!("{} has left the academy and writes no more: switch at the top first.", self.name(id)));
        }
        Ok(Author { id: id.clone(), name: self.name(id), role })
    }

    fn academy(&self) -> Option<&Academy> {
        let founded = self.before.iter().find_map(|draft| match &draft.fact {
            Fact::AcademyFounded(academy) => Some(academy),
            _ => None,
        });
        self.records.academy().or(founded)
    }

    fn role(&self, id: &PersonId) -> Option<Role> {
        if self.academy().is_some_and(|academy| academy.owner == *id) {
            return Some(Role::Owner);
        }
        // Only the academy's owner owns it, whatever an entry from elsewhere says.
        self.enrolled(id).map(|person| match person.role {
            Role::Owner => Role::Instructor,
            role => role,
        })
    }

    fn enrolled(&self, id: &PersonId) -> Option<&Person> {
        let now = self.before.iter().find_map(|draft| match &draft.fact {
            Fact::PersonEnrolled(person) if person.id == *id => Some(person),
            _ => None,
        });
        self.records.person(id).or(now)
    }

    fn name(&self, id: &PersonId) -> String {
        self.enrolled(id).map_or_else(|| "somebody not enrolled here".to_owned(), |person| person.name.clone())
    }

    fn service(&self, id: &ServiceId) -> Option<&Service> {
        let now = self.before.iter().find_map(|draft| draft.fact.service().filter(|service| service.id == *id));
        self.records.service(id).map(|known| &known.value).or(now)
    }

    /// Returns who wrote what a correction reaches, through corrections of corrections.
    fn first_author(&self, of: &EntryId) -> Option<PersonId> {
        let mut id = of.clone();
        for _ in 0..=self.log.len() {
            let entry = self.log.entry(&id)?;
            match entry.fact().map(std::sync::Arc::as_ref) {
                Some(Fact::Corrected { of, .. }) => id = of.clone(),
                _ => return Some(entry.header().author.clone()),
            }
        }
        None
    }
}

/// Whether a correction adds a word about a time in doubt that is not its author's own.
fn speaks_for_another(known: &Service, service: &Service, author: &PersonId) -> bool {
    let (Origin::Live { taps: known, .. }, Origin::Live { taps, .. }) = (&known.origin, &service.origin) else {
        return false;
    };
    let foreign = |tap: &Tap| matches!(&tap.act, Act::TimeConfirmed { by, .. } if by != author);
    taps.iter().skip(known.len()).any(foreign)
}

const OWNER_STAYS: &str = "The academy’s owner stays the one who founded it.";

/// Who wants to write.
struct Author {
    id: PersonId,
    name: String,
    role: Role,
}

impl Author {
    fn assesses(&self, what: &str) -> Result<(), String> {
        match self.role.may_assess() {
            true => Ok(()),
            false => Err(format!(
                "{} is a trainee, and {what} is for an instructor or the owner, unlocked at the top. Nothing was saved.",
                self.name
            )),
        }
    }

    fn owns(&self, what: &str) -> Result<(), String> {
        match self.role == Role::Owner {
            true => Ok(()),
            false => Err(format!("Only the owner does this, unlocked at the top: {what}. Nothing was saved.")),
        }
    }
}

/// Says what a fact does, for a sentence that refuses it.
fn what(fact: &Fact) -> &'static str {
    match fact {
        Fact::AcademyAmended(_) => "changing the academy’s particulars",
        Fact::BookAdopted { .. } => "adopting a course book",
        Fact::ProductEntered(_) => "entering a product and its figures",
        Fact::DeviceEnded { .. } => "ending a device",
        Fact::DeviceAdmitted { .. } => "naming a device",
        Fact::AcademyKeyMade { .. } => "making the academy’s key",
        Fact::KeyAdmitted(_) => "admitting a key",
        Fact::KeyEnded { .. } => "ending a key",
        Fact::LogSeen { .. } => "vouching for what was seen of another device",
        Fact::PersonEnrolled(_) => "enrolling somebody",
        Fact::PersonLeft { .. } => "noting that somebody has left",
        Fact::LotOpened(_) => "opening a lot",
        Fact::TimesShown { .. } => "showing times against targets early",
        Fact::RowsImported(_) => "bringing in a spreadsheet",
        Fact::ImportWithdrawn { .. } => "withdrawing an import",
        Fact::CoachingDismissed { .. } => "putting a coaching line away",
        Fact::OverlapAllowed { .. } => "allowing a trainee to overlap the eyes",
        Fact::PlanDecided(_) => "deciding about a section plan",
        Fact::TrialOpened(_) => "opening a trial",
        Fact::SignedOff(_) => "signing off",
        Fact::OverrideNoted { .. } => "confirming an override",
        Fact::OverrideAnswered(_) => "answering an override",
        Fact::OverrideRefused { .. } => "refusing an override",
        Fact::Resolved(_) => "answering a dispute",
        Fact::DuplicateSettled(_) => "saying whether two records are the same service",
        Fact::Erased(_) => "erasing for good",
        Fact::HoldPlaced(_) => "placing a hold",
        Fact::HoldLifted { .. } => "lifting a hold",
        _ => "this",
    }
}
