//! A course-end review: what one trainee's record says, in lines and in plain words.
//!
//! Everything of the record is in it, services that failed and were stopped included. It is worked out as of a
//! moment, and says so; a later withdrawal shows only in a later one.

use std::collections::{BTreeMap, BTreeSet};

use practicum::certificate::CertificateScope;
use practicum::competency::{Decision, SignOff};
use practicum::couch::{Stop, Tint};
use practicum::course_book::Medium;
use practicum::coursework::hours::{Minutes, Run, hours, say_minutes};
use practicum::coursework::{Learning, TheoryResult};
use practicum::evidence::{Assessed, Books, assessed, breaches};
use practicum::ids::{CourseBookId, EntryId, IncidentId, PersonId, ServiceId};
use practicum::moment::{Day, Moment, Seconds};
use practicum::order::InOrder;
use practicum::outcome::Verdict;
use practicum::section::Plan;
use practicum::service::{Ending, Origin, Service};

use crate::fact::Reply;
use crate::log::Log;
use crate::records::{Recorded, Records, Replied};

/// A service or drill of the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ServiceLine {
    /// Number of the live service, from 1; `None` for drills.
    pub number: Option<u32>,
    /// Which.
    pub id: ServiceId,
    /// On which day.
    pub day: Day,
    /// Strip, head or live.
    pub medium: Medium,
    /// Code of the practice model; empty without one.
    pub practice_model: String,
    /// Section plan, as worked.
    pub plan: Option<Plan>,
    /// Lash condition, tint and shield, in words.
    pub particulars: String,
    /// Hands-on time of both eyes.
    pub hands_on: Option<Seconds>,
    /// Service time.
    pub service_time: Option<Seconds>,
    /// What an assessor's marks amount to, in words.
    pub result: String,
    /// Who assessed it, by name.
    pub assessors: Vec<String>,
    /// How it ended, in words.
    pub ending: String,
    /// How it was recorded: live, late entry or imported.
    pub recorded: &'static str,
    /// What the trainee said to each assessor's marks, and what was answered, in words; both views stay.
    pub replies: Vec<String>,
}

/// An incident and what followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IncidentLine {
    /// Which.
    pub id: IncidentId,
    /// When it was reported.
    pub at: Moment,
    /// What was on the eyes and what was done, in words.
    pub what: String,
    /// What followed, each with its day.
    pub followed: Vec<(Day, String)>,
    /// Nothing more is to follow.
    pub closed: bool,
}

/// A decision about a competency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignOffLine {
    /// Its identifier.
    pub competency: String,
    /// Name of the competency, as the course book in force has it.
    pub label: String,
    /// The decision.
    pub decision: Decision,
    /// Independence level, 0 to 6.
    pub level: u8,
    /// Who decided, by name.
    pub by: String,
    /// When.
    pub at: Moment,
    /// Fingerprint of the key that signed it; `None` where nobody signed.
    pub fingerprint: Option<String>,
    /// Comment.
    pub comment: String,
    /// How the trainee answered, in words.
    pub reply: String,
}

/// Everything that a review says beside its charts and the evidence of each competency.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// Whose.
    pub trainee: PersonId,
    /// As of when.
    pub as_of: Moment,
    /// The course book in force, and every other that services were made under.
    pub course_books: Vec<CourseBookId>,
    /// Every service and drill, the first first.
    pub services: Vec<ServiceLine>,
    /// Incidents, the first first.
    pub incidents: Vec<IncidentLine>,
    /// Time by type.
    pub hours: BTreeMap<Learning, Minutes>,
    /// Theory papers.
    pub theory: Vec<TheoryResult>,
    /// Decisions about competencies, the first first.
    pub sign_offs: Vec<SignOffLine>,
    /// What was practised on live practice models.
    pub scope: CertificateScope,
    /// The whole in plain words.
    pub summary: Vec<String>,
}

impl Review {
    /// Works it out; `None` when the trainee is not known here.
    pub fn of(records: &Records, log: &Log, books: &Books, trainee: &PersonId, as_of: &Moment) -> Option<Self> {
        let person = records.person(trainee)?;
        let name = |id: &PersonId| records.person(id).map_or_else(|| id.to_string(), |person| person.name.clone());
        let known: Vec<&Service> = records
            .services_of(trainee)
            .into_iter()
            .filter(|service| service.withdrawn.is_none())
            .map(|service| &service.value)
            .collect();
        let outcomes: Vec<_> = known
            .iter()
            .flat_map(|service| records.assessors_outcomes(service))
            .filter(|outcome| outcome.withdrawn.is_none())
            .map(|outcome| &outcome.value)
            .collect();
        let marked = assessed(&known, &outcomes, books);
        let of = |id: &ServiceId| marked.iter().find(|one| one.service.id == *id);
        let mut number = 0;
        let services: Vec<ServiceLine> = known
            .iter()
            .map(|service| {
                number += u32::from(service.is_service());
                line(records, service, of(&service.id), service.is_service().then_some(number), &name)
            })
            .collect();
        let runs: Vec<Run> = known
            .iter()
            .filter(|service| !service.is_imported())
            .map(|service| Run { service, supervised: of(&service.id).is_some_and(|one| one.observed) })
            .collect();
        let attendance = records.attendance_of(trainee);
        let attendance: Vec<_> = attendance.iter().map(|known| &known.value).collect();
        let mut course_books: Vec<CourseBookId> = vec![books.present.id.clone()];
        course_books.extend(known.iter().map(|service| service.course_book.clone()));
        let mut seen = BTreeSet::new();
        course_books.retain(|id| seen.insert(id.clone()));
        let mut review = Self {
            trainee: trainee.clone(),
            as_of: *as_of,
            course_books,
            incidents: incidents(records, trainee),
            hours: hours(&attendance, &runs),
            theory: records.theory_of(trainee).into_iter().map(|known| known.value.clone()).collect(),
            sign_offs: sign_offs(records, log, books, trainee, &name),
            scope: scope(&known),
            services,
            summary: Vec::new(),
        };
        let safety = breaches(&known, &marked, books).len();
        review.summary = summary(&review, &person.name, &marked, safety);
        Some(review)
    }

    /// Returns the competencies whose last decision is a sign-off.
    pub fn signed(&self) -> Vec<&SignOffLine> {
        let mut last: BTreeMap<&str, &SignOffLine> = BTreeMap::new();
        for line in &self.sign_offs {
            last.insert(&line.competency, line);
        }
        last.into_values().filter(|line| line.decision == Decision::Signed).collect()
    }
}

fn scope(services: &[&Service]) -> CertificateScope {
    let tinted =
        |service: &&&Service| service.is_service() && service.tint != Tint::None && service.ending == Ending::Finished;
    match services.iter().find(tinted) {
        Some(_) => CertificateScope::LiftAndTint,
        None => CertificateScope::Lift,
    }
}

fn line(
    records: &Records,
    service: &Service,
    marked: Option<&Assessed>,
    number: Option<u32>,
    name: &dyn Fn(&PersonId) -> String,
) -> ServiceLine {
    let code = |id| records.practice_model(id).map_or_else(|| id.to_string(), |known| known.code.clone());
    let mut particulars = Vec::new();
    if let Some(condition) = service.condition() {
        particulars.push(format!("{} lashes", condition.word()));
    }
    if service.tint != Tint::None {
        particulars.push("tint".to_owned());
    }
    let marks = records.assessors_outcomes(service).into_iter().filter(|outcome| outcome.withdrawn.is_none());
    let replies = marks.map(|outcome| reply(records, &outcome.entry, name)).collect();
    ServiceLine {
        number,
        id: service.id.clone(),
        day: service.day(),
        medium: service.medium,
        practice_model: service.practice_model.as_ref().map(code).unwrap_or_default(),
        plan: service.plan(),
        particulars: particulars.join(", "),
        hands_on: service.times.hands_on,
        service_time: service.times.service,
        result: result(marked, service),
        assessors: marked.map(|one| one.assessors.iter().map(|id| name(id)).collect()).unwrap_or_default(),
        ending: ending(&service.ending),
        recorded: match service.origin {
            Origin::Live { .. } => "live",
            Origin::Late(_) => "late entry",
            Origin::Imported { .. } => "imported",
        },
        replies,
    }
}

/// Says what whom an entry concerns replied last, and what was answered.
fn reply(records: &Records, entry: &EntryId, name: &dyn Fn(&PersonId) -> String) -> String {
    let disputed = |reply: &Recorded<Reply>| {
        let why = reply.value.disputed.as_deref().unwrap_or_default();
        format!("disputed by the trainee on {}: {why}", reply.recorded_at.date_naive())
    };
    match records.replied_to(entry) {
        Replied::NotYet => "not yet acknowledged".to_owned(),
        Replied::Acknowledged(_) => "acknowledged".to_owned(),
        Replied::Disputed(reply) => format!("{}; not answered yet", disputed(reply)),
        Replied::Resolved(reply, answer) => {
            let (by, on) = (name(&answer.author), answer.recorded_at.date_naive());
            format!("{}; answered by {by} on {on}: {}", disputed(reply), answer.value.words)
        }
    }
}

fn result(marked: Option<&Assessed>, service: &Service) -> String {
    let Some(one) = marked else {
        return match service.is_imported() {
            true => "imported, never counted".to_owned(),
            false => "not marked".to_owned(),
        };
    };
    let words = match &one.verdict {
        Verdict::Acceptable => "✓ acceptable".to_owned(),
        Verdict::NotAcceptable(_) => "○ not acceptable".to_owned(),
        Verdict::SafetyBreach(what) => format!("■ safety breach: {}", what.join("; ")),
    };
    match one.counts() || !service.is_service() {
        true => words,
        false => format!("{words} (not counted: late entry not observed)"),
    }
}

fn ending(ending: &Ending) -> String {
    match ending {
        Ending::Finished => "finished".to_owned(),
        Ending::Stopped(Stop::BeforeLotion(why)) => format!("stopped before lotion: {why}"),
        Ending::Stopped(Stop::Fault(why)) => format!("stopped for a fault: {why}"),
        Ending::Stopped(Stop::Reaction) => "stopped for a reaction".to_owned(),
        Ending::Stopped(Stop::Other(why)) => format!("stopped: {why}"),
    }
}

fn incidents(records: &Records, trainee: &PersonId) -> Vec<IncidentLine> {
    let theirs = |incident: &crate::fact::Incident| {
        let service = incident.service.as_ref().and_then(|id| records.service(id));
        incident.trainee.as_ref() == Some(trainee) || service.is_some_and(|known| known.value.trainee == *trainee)
    };
    let known = records.incidents().into_iter().filter(|incident| theirs(&incident.value));
    known
        .map(|incident| {
            let value = &incident.value;
            let on: Vec<String> =
                value.on_the_eye.iter().map(|on| format!("{} on the {} eye", on.kind.word(), on.eye.word())).collect();
            let mut what = match on.is_empty() {
                true => "nothing noted on the eyes".to_owned(),
                false => on.join(", "),
            };
            if let Some(seconds) = value.rinsed {
                what.push_str(&format!("; rinsed for {} min", seconds / 60));
            }
            if value.swelling_or_breathing {
                what.push_str("; swelling of the face or trouble breathing was seen");
            }
            what.push_str(&format!("; {} steps of the first response noted", value.steps.len()));
            let service = value.service.as_ref().and_then(|id| records.service(id));
            if let Some(said) = service.map(|known| known.value.comfort.as_str()).filter(|said| !said.is_empty()) {
                what.push_str(&format!("; said at the service: {said}"));
            }
            let followed = records.followed(&value.id).into_iter();
            IncidentLine {
                id: value.id.clone(),
                at: value.at,
                what,
                followed: followed.map(|known| (known.value.on, known.value.words.clone())).collect(),
                closed: records.incident_closed(&value.id),
            }
        })
        .collect()
}

fn sign_offs(
    records: &Records,
    log: &Log,
    books: &Books,
    trainee: &PersonId,
    name: &dyn Fn(&PersonId) -> String,
) -> Vec<SignOffLine> {
    let mut known: Vec<&SignOff> =
        records.sign_offs().into_iter().filter(|sign_off| sign_off.trainee == *trainee).collect();
    known.order_by(|a, b| (a.at, &a.id).cmp(&(b.at, &b.id)));
    let line = |sign_off: &SignOff| {
        let label = books.present.competency(&sign_off.competency).map(|known| known.label.clone());
        SignOffLine {
            competency: sign_off.competency.to_string(),
            label: label.unwrap_or_else(|| sign_off.competency.to_string()),
            decision: sign_off.decision,
            level: sign_off.level,
            by: name(&sign_off.by),
            at: sign_off.at,
            fingerprint: log.entry(&sign_off.id).and_then(|entry| entry.signer()).map(|key| key.fingerprint()),
            comment: sign_off.comment.clone(),
            reply: reply(records, &sign_off.id, name),
        }
    };
    known.into_iter().map(line).collect()
}

fn summary(review: &Review, name: &str, marked: &[Assessed], safety: usize) -> Vec<String> {
    let live: Vec<&ServiceLine> = review.services.iter().filter(|line| line.number.is_some()).collect();
    let drills = review.services.len() - live.len();
    let counting: Vec<&Assessed> = marked.iter().filter(|one| one.counts()).collect();
    let acceptable = counting.iter().filter(|one| one.acceptable()).count();
    let people: BTreeSet<&str> =
        live.iter().map(|line| line.practice_model.as_str()).filter(|code| !code.is_empty()).collect();
    let mut words = Vec::new();
    match (live.first(), live.last()) {
        (Some(first), Some(last)) => words.push(format!(
            "{name} worked {} on {} from {} to {}, and {}.",
            count(live.len(), "live service"),
            count(people.len(), "practice model"),
            first.day,
            last.day,
            count(drills, "drill")
        )),
        _ => words.push(format!("{name} has worked no live service yet, and {}.", count(drills, "drill"))),
    }
    if !live.is_empty() {
        words.push(format!(
            "Assessors’ marks count for {} of them: {acceptable} acceptable, {} not.",
            counting.len(),
            counting.len() - acceptable
        ));
    }
    words.push(match safety {
        0 => "No safety breach was recorded.".to_owned(),
        breaches => format!("Safety was breached in {}.", count(breaches, "service")),
    });
    match review.incidents.len() {
        0 => words.push("No incident was reported.".to_owned()),
        reported => {
            let open = review.incidents.iter().filter(|incident| !incident.closed).count();
            words.push(format!("{} reported; still to follow: {open}.", count(reported, "incident")));
        }
    }
    let signed = review.signed();
    words.push(match signed.is_empty() {
        true => "No competency is signed off.".to_owned(),
        false => {
            let labels: Vec<&str> = signed.iter().map(|line| line.label.as_str()).collect();
            format!("Signed off: {}.", labels.join(", "))
        }
    });
    let all: u32 = review.hours.values().map(|minutes| minutes.all()).fold(0, u32::saturating_add);
    let supervised: u32 = review.hours.values().map(|minutes| minutes.supervised).fold(0, u32::saturating_add);
    words.push(format!("Time noted: {}, {} of it supervised.", say_minutes(all), say_minutes(supervised)));
    words
}

fn count(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}
