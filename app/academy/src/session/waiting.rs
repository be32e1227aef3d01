//! What waits for an instructor or the owner: one line each, leading to where it is done, gone when it is done.

use leptos::prelude::*;
use logbook::duplicates::alike;
use logbook::fact::Reply;
use logbook::records::{Dismissed, Recorded};
use practicum::after_the_couch::{DroppedLifts, dropped_lifts, looks_due};
use practicum::competency::{EvidenceInput, EvidenceState, Held, evidence_state, held};
use practicum::coursework::{CaseState, CoachingNote};
use practicum::evidence::Books;
use practicum::evidence::agreement::chosen_for_double;
use practicum::group::ByTrainee;
use practicum::ids::{CompetencyId, FaultId, PersonId, ServiceId};
use practicum::moment::{Day, Moment};
use practicum::order::InOrder;
use practicum::person::Role;
use practicum::service::{Ending, Service};
use practicum::standing::{Due, StandingInput, standing};

use super::turns::PageTurns;
use super::{Session, reading};
use crate::route::Route;

/// Kinds of things that wait, in the order shown.
pub(crate) const KINDS: [&str; 13] = [
    MARKS,
    SECOND_MARKS,
    INCIDENTS,
    DISPUTES,
    OVERRIDES,
    READY,
    COACHING,
    GAPS,
    LAPSED,
    CASES,
    LOOKS,
    DUPLICATES,
    BACKUP,
];
const MARKS: &str = "Services to mark";
const SECOND_MARKS: &str = "Services to mark a second time";
const INCIDENTS: &str = "Incidents to follow";
const DISPUTES: &str = "Disputes to answer";
const OVERRIDES: &str = "Overrides to confirm";
const READY: &str = "Competencies with all their evidence";
const COACHING: &str = "Trainees to coach";
const GAPS: &str = "Gaps";
const LAPSED: &str = "Sign-offs lapsed or suspended";
const CASES: &str = "Case studies to mark";
const LOOKS: &str = "Lifts to look at again";
const DUPLICATES: &str = "Records that look like the same service";
const BACKUP: &str = "Backups";

/// Identifies the part of the list's page in which overrides are confirmed.
pub(crate) const OVERRIDES_PART: &str = "overrides-part";
/// Identifies the part of the list's page in which records that look alike are settled.
pub(crate) const DUPLICATES_PART: &str = "duplicates-part";

/// Where something that waits is done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Place {
    /// On another page, by its address.
    Page(String),
    /// Further down the list's own page, by the identifier of that part.
    Below(&'static str),
}

/// A line of what waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct WaitingLine {
    /// What kind of thing it is.
    pub(crate) kind: &'static str,
    /// Where it is done.
    pub(crate) to: Place,
    /// What it is.
    pub(crate) words: String,
    /// Whom it concerns, where it is one trainee.
    pub(crate) trainee: Option<PersonId>,
    /// Since which day it waits, where that can be said.
    pub(crate) since: Option<Day>,
}

impl WaitingLine {
    fn new(kind: &'static str, to: String, words: String) -> Self {
        Self { kind, to: Place::Page(to), words, trainee: None, since: None }
    }

    fn of(mut self, trainee: &PersonId) -> Self {
        self.trainee = Some(trainee.clone());
        self
    }

    fn since(mut self, day: Day) -> Self {
        self.since = Some(day);
        self
    }
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

    /// Returns everything that waits for whoever is using the device, kind by kind, in each what waits longest first;
    /// pauses in between, since with hundreds of trainees it goes through every service.
    pub(crate) async fn waiting(&self) -> Vec<WaitingLine> {
        let turns = &mut PageTurns::later().await;
        let mut lines = self.waiting_by_trainee(turns).await;
        lines.extend(self.waiting_services(turns).await);
        turns.rest().await;
        lines.extend(self.waiting_words());
        turns.rest().await;
        if let Some(words) = self.backup_overdue() {
            lines.push(WaitingLine::new(BACKUP, "#/hand-over".to_owned(), words));
        }
        let place = |line: &WaitingLine| KINDS.iter().position(|kind| *kind == line.kind);
        lines.order_by_key(|line| (place(line), line.since.is_none(), line.since));
        lines
    }

    /// Services to mark, lifts to look at again, incidents to follow.
    async fn waiting_services(&self, turns: &mut PageTurns) -> Vec<WaitingLine> {
        let records = self.records_now();
        let me = self.who_now().filter(|who| who.role.may_assess()).map(|who| who.id);
        let share = self.book().and_then(|book| book.rules.double).map(|rules| rules.share);
        let mut lines: Vec<WaitingLine> = Vec::new();
        for service in records.services_in_force() {
            turns.turn().await;
            let line =
                |kind, to: String, words| WaitingLine::new(kind, to, words).of(&service.trainee).since(service.day());
            if self.waits_for_marks(service) && Some(&service.trainee) != me.as_ref() {
                lines.push(line(MARKS, format!("#/mark/{}", service.id), self.service_line(service)));
            }
            if let (Some(me), Some(share)) = (&me, share)
                && self.waits_for_second(service, me, share)
            {
                lines.push(line(SECOND_MARKS, format!("#/mark/{}", service.id), self.service_line(service)));
            }
            if let Some(days) = self.lift_looks_due(service).last() {
                let words = format!("{}: day {days}", self.service_line(service));
                lines.push(line(LOOKS, format!("#/service/{}", service.id), words));
            }
        }
        for incident in records.incidents() {
            if records.incident_closed(&incident.value.id) {
                continue;
            }
            let service = incident.value.service.as_ref();
            let to = service.map_or("#/log".to_owned(), |id| format!("#/service/{id}"));
            let whose =
                incident.value.trainee.clone().or_else(|| Some(records.service(service?)?.value.trainee.clone()));
            let by = whose.as_ref().map_or_else(String::new, |whose| format!(", {}", self.person_name(whose)));
            let words = format!("Incident of {}{by}", incident.value.at.format("%Y-%m-%d"));
            let line = WaitingLine::new(INCIDENTS, to, words).since(incident.value.at.date_naive());
            lines.push(WaitingLine { trainee: whose, ..line });
        }
        lines
    }

    /// What was said and waits for a word: disputes, overrides, records that look alike.
    fn waiting_words(&self) -> Vec<WaitingLine> {
        let records = self.records();
        let mut lines: Vec<WaitingLine> = Vec::new();
        for dispute in records.open_disputes() {
            let person = &dispute.value.about.person;
            let (words, to) = self.disputed(dispute);
            let words = format!("{}: {words}", self.person_name(person));
            lines.push(WaitingLine::new(DISPUTES, to, words).of(person).since(dispute.recorded_at.date_naive()));
        }
        for (id, made) in self.overrides_to_confirm() {
            let Some(service) = records.service(&id).map(|known| &known.value) else { continue };
            let words = format!("{}, by {}", self.service_line(service), self.person_name(&made.by));
            let line = WaitingLine::new(OVERRIDES, String::new(), words).of(&service.trainee).since(service.day());
            lines.push(WaitingLine { to: Place::Below(OVERRIDES_PART), ..line });
        }
        for (first, _, why) in self.look_alikes() {
            let Some(service) = records.service(&first).map(|known| &known.value) else { continue };
            let words = format!("{}: {why}", self.service_line(service));
            let line = WaitingLine::new(DUPLICATES, String::new(), words).of(&service.trainee).since(service.day());
            lines.push(WaitingLine { to: Place::Below(DUPLICATES_PART), ..line });
        }
        lines
    }

    /// Says what is disputed, and where it stands.
    fn disputed(&self, dispute: &Recorded<Reply>) -> (String, String) {
        let records = self.records();
        let entry = &dispute.value.about.entry;
        if let Some(marks) = records.outcome_record(entry) {
            let by = self.person_name(&marks.value.marker);
            let line = self.service(&marks.value.service).map(|service| self.service_line(&service));
            let words = format!("marks by {by} of {}", line.unwrap_or_else(|| marks.value.service.to_string()));
            return (words, Route::Service(marks.value.service.clone()).to_hash());
        }
        if let Some(sign_off) = records.sign_off_record(entry) {
            let (by, value) = (self.person_name(&sign_off.value.by), &sign_off.value);
            let words = format!("“{}” on {} by {by}", value.decision.word(), value.at.date_naive());
            return (words, Route::SignOff(value.trainee.clone(), value.competency.clone()).to_hash());
        }
        let by = records.decision_record(entry).map(|decision| self.person_name(&decision.value.by));
        let words = format!("the decision about the plan by {}", by.unwrap_or_default());
        (words, Route::Progress(dispute.value.about.person.clone()).to_hash())
    }

    /// Returns the records that look like the same service, with the reason.
    pub(crate) fn look_alikes(&self) -> Vec<(ServiceId, ServiceId, &'static str)> {
        let records = self.records();
        self.with_log(|log| {
            let found = alike(log, &records).into_iter();
            found.map(|pair| (pair.first.id.clone(), pair.second.id.clone(), pair.why)).collect()
        })
    }

    /// Whether nobody has spoken to a trainee about a fault since it was last seen in these services. Without a fault
    /// it is about lifts that dropped: seen when they were looked at again, and spoken of by a word about something
    /// else than a fault that repeats itself.
    fn not_spoken_of(&self, trainee: &PersonId, fault: Option<&FaultId>, seen: &[ServiceId]) -> bool {
        let records = self.records();
        let last_seen = |id: &ServiceId| match fault {
            Some(_) => records.service(id).map(|known| known.value.began),
            None => records.lift_looks_of(id).iter().map(|look| look.recorded_at).max(),
        };
        let last = seen.iter().filter_map(last_seen).max();
        let since = |at: Moment| last.is_some_and(|last| at > last);
        let spoken = |note: &&Recorded<CoachingNote>| note.value.fault.as_ref() == fault && since(note.recorded_at);
        let put_away = |away: &&Recorded<Dismissed>| {
            fault.is_some_and(|fault| away.value.fault == *fault) && since(away.recorded_at)
        };
        !records.coaching_of(trainee).iter().any(spoken) && !records.dismissed_of(trainee).iter().any(put_away)
    }

    /// Returns the lifts of a trainee that had dropped often enough to speak of, by the course book's rule for faults.
    pub(crate) fn dropped_lifts(&self, trainee: &PersonId) -> Option<DroppedLifts> {
        let records = self.records();
        let rule = self.book()?.rules.fault_short;
        let services = records.services_of(trainee).into_iter().filter(|known| known.withdrawn.is_none());
        let with_looks: Vec<_> = services
            .map(|known| {
                let looks = records.lift_looks_of(&known.value.id);
                (&known.value, looks.into_iter().map(|look| &look.value).collect::<Vec<_>>())
            })
            .collect();
        dropped_lifts(&with_looks, rule)
    }

    /// Competencies ready to sign or lapsed, coaching, gaps, case studies.
    async fn waiting_by_trainee(&self, turns: &mut PageTurns) -> Vec<WaitingLine> {
        let (records, now, books) = (self.records_now(), reading().at, self.books_now());
        let Some(present) = books.last() else { return Vec::new() };
        let adopted: Vec<_> = books.iter().map(std::sync::Arc::as_ref).collect();
        let books = Books { present, adopted: &adopted };
        let services = records.services_in_force();
        turns.rest().await;
        let outcomes = records.outcomes_in_force();
        turns.rest().await;
        let sorted = ByTrainee::of(&services, &outcomes);
        turns.rest().await;
        let (decisions, trials, sign_offs) = (records.decisions(), records.trials(), records.sign_offs());
        let mut lines = Vec::new();
        for person in records.people().into_iter().filter(|one| one.role == Role::Trainee && one.left.is_none()) {
            turns.rest().await;
            let (services, outcomes) = (sorted.services(&person.id), sorted.outcomes(&person.id));
            let input = EvidenceInput { trainee: &person.id, books, services, outcomes, trials: &trials };
            for competency in &books.present.competencies {
                let to = || format!("#/sign-off/{}/{}", person.id, competency.id);
                let name = |more: &str| format!("{}: {}{more}", person.name, competency.label);
                match held(competency, &sign_offs, &input, &now).state {
                    Held::Undecided | Held::NotYet | Held::Withdrawn => {
                        if evidence_state(competency, &input).met {
                            lines.push(WaitingLine::new(READY, to(), name("")).of(&person.id));
                        }
                    }
                    Held::Lapsed(day) => {
                        let line = WaitingLine::new(LAPSED, to(), name(&format!(", lapsed since {day}")));
                        lines.push(line.of(&person.id).since(day));
                    }
                    Held::Suspended(_) => {
                        let words = name(", suspended by a safety breach");
                        lines.push(WaitingLine::new(LAPSED, to(), words).of(&person.id));
                    }
                    Held::Signed => {}
                }
            }
            let input = StandingInput { trainee: person, now: &now, books, services, outcomes, decisions: &decisions };
            let standing = standing(&input);
            if standing.gap.due != Due::Nothing {
                let words = format!("{}: {} ({} days)", person.name, standing.gap.due.say(), standing.gap.days);
                lines.push(WaitingLine::new(GAPS, format!("#/progress/{}", person.id), words).of(&person.id));
            }
            for line in &standing.coaching {
                if self.not_spoken_of(&person.id, Some(&line.fault), &line.services) {
                    let words = format!(
                        "{}: {} in {} of the last {} live services",
                        person.name, line.label, line.times, line.of_last
                    );
                    lines.push(WaitingLine::new(COACHING, format!("#/coach/{}", person.id), words).of(&person.id));
                }
            }
            if let Some(dropped) = self.dropped_lifts(&person.id)
                && self.not_spoken_of(&person.id, None, &dropped.services)
            {
                let words = format!(
                    "{}: the lift had dropped in {} of the last {} looked at again",
                    person.name,
                    dropped.services.len(),
                    dropped.of_last
                );
                lines.push(WaitingLine::new(COACHING, format!("#/coach/{}", person.id), words).of(&person.id));
            }
            for case in records.cases_of(&person.id) {
                if records.case_state(case, now.date_naive()) == CaseState::ToMark {
                    let words = format!("{}, {}", case.value.title, person.name);
                    lines.push(WaitingLine::new(CASES, format!("#/coach/{}", person.id), words).of(&person.id));
                }
            }
        }
        lines
    }
}
