//! What waits for an instructor or the owner beside services to mark: one line each, leading to where it is done.

use leptos::prelude::*;
use practicum::after_the_couch::looks_due;
use practicum::competency::{EvidenceInput, EvidenceState, Held, evidence_state, held};
use practicum::coursework::CaseState;
use practicum::evidence::agreement::chosen_for_double;
use practicum::group::ByTrainee;
use practicum::ids::{CompetencyId, PersonId, ServiceId};
use practicum::person::Role;
use practicum::service::{Ending, Service};
use practicum::standing::{Due, StandingInput, standing};

use super::{Session, reading};

/// Kinds of things that wait, in the order shown.
pub(crate) const KINDS: [&str; 5] = [INCIDENTS, GAPS, CASES, LOOKS, READY];
const LOOKS: &str = "Lifts to look at again";
const INCIDENTS: &str = "Incidents to follow";
const GAPS: &str = "Gaps";
const CASES: &str = "Case studies to mark";
const READY: &str = "Competencies with all their evidence";

/// A line of what waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct WaitingLine {
    /// What kind of thing it is.
    pub(crate) kind: &'static str,
    /// Where it is done.
    pub(crate) to: String,
    /// What it is.
    pub(crate) words: String,
}

/// What evidence is, to be compared later.
fn evidence_words(evidence: &EvidenceState) -> String {
    let line = |line: &practicum::competency::EvidenceLine| format!("{}|{}|{:?}", line.words, line.have, line.services);
    evidence.lines.iter().map(line).collect::<Vec<_>>().join("\n")
}

impl Session {
    /// Keeps in mind that whoever is using the device, unlocked, has opened a competency and its evidence.
    pub(crate) fn note_opened(&self, trainee: &PersonId, competency: &CompetencyId, evidence: &EvidenceState) {
        let Some(who) = untrack(|| self.who()).filter(|_| untrack(|| self.may_assess())) else { return };
        let key = (who.id, trainee.clone(), competency.clone());
        self.opened.update(|opened| {
            opened.insert(key, evidence_words(evidence));
        });
    }

    /// Whether somebody has opened a competency here and its evidence is as it was then.
    pub(crate) fn was_opened(
        &self,
        who: &PersonId,
        trainee: &PersonId,
        competency: &CompetencyId,
        evidence: &EvidenceState,
    ) -> bool {
        let key = (who.clone(), trainee.clone(), competency.clone());
        self.opened.with(|opened| opened.get(&key).is_some_and(|then| *then == evidence_words(evidence)))
    }

    /// Returns a trainee's competencies that have all their evidence and are not signed off.
    pub(crate) fn ready_to_sign(&self, trainee: &PersonId) -> Vec<super::lookups::CompetencyRow> {
        let open = |row: &super::lookups::CompetencyRow| {
            row.evidence.met && matches!(row.held, Held::Undecided | Held::NotYet | Held::Withdrawn)
        };
        self.competencies(trainee).into_iter().filter(open).collect()
    }

    /// Returns the services that wait for a second assessor, who is using the device: marked by one other assessor, not
    /// worked by this one, the oldest first. None for a trainee.
    pub(crate) fn double_marks_due(&self) -> Vec<ServiceId> {
        let Some(me) = self.who().filter(|who| who.role.may_assess()) else { return Vec::new() };
        let Some(share) = self.book().and_then(|book| book.rules.double).map(|rules| rules.share) else {
            return Vec::new();
        };
        let records = self.records();
        let due = |service: &&&Service| self.waits_for_second(service, &me.id, share);
        let services = records.services_in_force();
        services.iter().filter(due).map(|service| service.id.clone()).collect()
    }

    fn waits_for_second(&self, service: &Service, me: &PersonId, share: f64) -> bool {
        if !service.is_service() || service.is_imported() || service.trainee == *me {
            return false;
        }
        if !chosen_for_double(&service.id, share) {
            return false;
        }
        let records = self.records();
        let views = records.assessors_outcomes(service);
        let mut markers: Vec<&PersonId> =
            views.iter().filter(|view| view.withdrawn.is_none()).map(|view| &view.value.marker).collect();
        markers.dedup();
        matches!(markers.as_slice(), [only] if **only != *me)
    }

    /// Whether whoever is using the device is to mark a service as the second assessor and may not see the first marks.
    pub(crate) fn is_blind_to(&self, service: &Service) -> bool {
        let Some(me) = self.who().filter(|who| who.role.may_assess()) else { return false };
        let share = self.book().and_then(|book| book.rules.double).map(|rules| rules.share);
        share.is_some_and(|share| self.waits_for_second(service, &me.id, share))
    }

    /// Returns the planned looks at a service's lift that are due now, in days after the service.
    pub(crate) fn lift_looks_due(&self, service: &Service) -> Vec<u32> {
        if !service.is_service() || service.is_imported() || service.ending != Ending::Finished {
            return Vec::new();
        }
        let planned = self.book().map(|book| book.rules.follow_up_days.clone()).unwrap_or_default();
        let records = self.records();
        let looks = records.lift_looks_of(&service.id);
        let done: Vec<_> = looks.iter().map(|look| &look.value).collect();
        let today = reading().at.date_naive();
        looks_due(&planned, service.day(), &done, today).into_iter().map(|look| look.planned_day).collect()
    }

    /// Returns what waits beside services to mark: competencies ready to sign, gaps, incidents to follow, case studies.
    pub(crate) fn waiting(&self) -> Vec<WaitingLine> {
        let records = self.records();
        let now = reading().at;
        let found = self.with_books(|books| {
            let (services, outcomes) = (records.services_in_force(), records.outcomes_in_force());
            let sorted = ByTrainee::of(&services, &outcomes);
            let (decisions, trials, sign_offs) = (records.decisions(), records.trials(), records.sign_offs());
            let mut lines = Vec::new();
            for person in records.people().into_iter().filter(|one| one.role == Role::Trainee && one.left.is_none()) {
                let (services, outcomes) = (sorted.services(&person.id), sorted.outcomes(&person.id));
                let input = EvidenceInput { trainee: &person.id, books, services, outcomes, trials: &trials };
                for competency in &books.present.competencies {
                    let open = matches!(
                        held(competency, &sign_offs, &input, &now).state,
                        Held::Undecided | Held::NotYet | Held::Withdrawn
                    );
                    if open && evidence_state(competency, &input).met {
                        lines.push(WaitingLine {
                            kind: READY,
                            to: format!("#/sign-off/{}/{}", person.id, competency.id),
                            words: format!("{}: {}", person.name, competency.label),
                        });
                    }
                }
                let input =
                    StandingInput { trainee: person, now: &now, books, services, outcomes, decisions: &decisions };
                let standing = standing(&input);
                if standing.gap.due != Due::Nothing {
                    lines.push(WaitingLine {
                        kind: GAPS,
                        to: format!("#/progress/{}", person.id),
                        words: format!("{}: {} ({} days)", person.name, standing.gap.due.say(), standing.gap.days),
                    });
                }
                for case in records.cases_of(&person.id) {
                    if records.case_state(case, now.date_naive()) == CaseState::ToMark {
                        lines.push(WaitingLine {
                            kind: CASES,
                            to: format!("#/coach/{}", person.id),
                            words: format!("{}, {}", case.value.title, person.name),
                        });
                    }
                }
            }
            lines
        });
        let mut lines = found.unwrap_or_default();
        for incident in records.incidents() {
            if !records.incident_closed(&incident.value.id) {
                let to = incident.value.service.as_ref().map_or("#/log".to_owned(), |id| format!("#/service/{id}"));
                let words = format!("Incident of {}", incident.value.at.format("%Y-%m-%d"));
                lines.push(WaitingLine { kind: INCIDENTS, to, words });
            }
        }
        for service in records.services_in_force() {
            if let Some(days) = self.lift_looks_due(service).last() {
                let words = format!("{}: day {days}", self.service_line(service));
                lines.push(WaitingLine { kind: LOOKS, to: format!("#/service/{}", service.id), words });
            }
        }
        lines
    }
}
