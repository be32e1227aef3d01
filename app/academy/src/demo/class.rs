//! What the invented group did beside services: classes, a theory paper, a word of coaching, what followed an incident.

use chrono::Duration;
use logbook::fact::{Aftercare, Coursework, Fact, Incident, OnEye, StepDone};
use practicum::after_the_couch::IncidentFollowed;
use practicum::course_book::CourseBook;
use practicum::coursework::{Attendance, CoachingNote, Learning, TheoryResult};
use practicum::eye::Eye;
use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::person::Role;
use practicum::product::ProductKind;

use super::group::Group;

/// Classes of the first week: day after the start, kind, minutes, title.
const CLASSES: [(i64, Learning, u32, &str); 4] = [
    (1, Learning::Theory, 150, "The eye, lashes and skin (demo)"),
    (1, Learning::Demonstration, 60, "A lift from start to end (demo)"),
    (2, Learning::Theory, 120, "Lotions, dwell and the label (demo)"),
    (2, Learning::Head, 90, "Lash-up on a practice head (demo)"),
];

/// Says what the group did beside services.
pub(super) fn beside(group: &Group, book: &CourseBook, start: Moment, say: &mut impl FnMut(&PersonId, Moment, Fact)) {
    let instructor = PersonId::new("demo-instructor-1");
    let trainees: Vec<_> = group.people.iter().filter(|person| person.role == Role::Trainee).collect();
    for (day, learning, minutes, title) in CLASSES {
        let at = start + Duration::days(day) + Duration::hours(6);
        for person in &trainees {
            let (title, supervised_by) = (title.to_owned(), Some(instructor.clone()));
            let (trainee, on) = (person.id.clone(), at.date_naive());
            let time = Attendance { trainee, on, learning, minutes, title, supervised_by };
            say(&instructor, at, Fact::Coursework(Coursework::AttendanceNoted(time)));
        }
    }
    let at = start + Duration::days(3) + Duration::hours(3);
    for (place, person) in (0_u32..).zip(&trainees) {
        let (paper, trainee) = ("Lotions and the label (demo)".to_owned(), person.id.clone());
        let points = 20 - place.saturating_mul(3) % 7;
        let result = TheoryResult { trainee, paper, on: at.date_naive(), points, out_of: 20, needed: 14 };
        say(&instructor, at, Fact::Coursework(Coursework::TheoryMarked(result)));
    }
    incidents(group, &instructor, say);
    coaching(group, book, &instructor, say);
}

fn incidents(group: &Group, instructor: &PersonId, say: &mut impl FnMut(&PersonId, Moment, Fact)) {
    for service in &group.services {
        let Some(id) = service.incident.clone() else { continue };
        let at = service.began + Duration::minutes(95);
        let on = OnEye {
            eye: Eye::Left,
            kind: ProductKind::Lift,
            product: None,
            name: "Lift lotion (demo)".to_owned(),
            lot: String::new(),
            seconds_on: Some(240),
        };
        let step = |words: &str| StepDone { step: words.to_owned(), at: Some(at) };
        let incident = Incident {
            id: id.clone(),
            service: Some(service.id.clone()),
            practice_model: service.practice_model.clone(),
            trainee: Some(service.trainee.clone()),
            at,
            on_the_eye: vec![on],
            steps: vec![step("Lotion off (demo)"), step("Rinsed with water (demo)")],
            rinsed: Some(900),
            swelling_or_breathing: false,
            instructor: Some(instructor.clone()),
            note: "Stinging of the left eye (demo)".to_owned(),
        };
        say(&service.trainee, at, Fact::IncidentReported(incident));
        let at = at + Duration::days(1);
        let words = "Telephoned: no complaint any more; asked to see a doctor if it comes back (demo)".to_owned();
        let followed = IncidentFollowed { incident: id, on: at.date_naive(), words, closed: true };
        say(instructor, at, Fact::Aftercare(Aftercare::IncidentFollowed(followed)));
    }
}

/// One word of coaching to whoever showed a fault last.
fn coaching(group: &Group, book: &CourseBook, instructor: &PersonId, say: &mut impl FnMut(&PersonId, Moment, Fact)) {
    let seen = group.outcomes.iter().rev().find_map(|outcome| {
        let fault = outcome.faults.first()?.fault.clone();
        let service = group.services.iter().find(|service| service.id == outcome.service)?;
        (outcome.marker != service.trainee).then_some((outcome, service, fault))
    });
    let Some((outcome, service, fault)) = seen else { return };
    let known = book.fault(&fault);
    let note = CoachingNote {
        trainee: service.trainee.clone(),
        fault: Some(fault.clone()),
        services: vec![service.id.clone()],
        cause: known.and_then(|fault| fault.causes.first().cloned()).unwrap_or_default(),
        words: known.map(|fault| fault.coaching.clone()).unwrap_or_default(),
    };
    let at = outcome.at + Duration::minutes(5);
    say(instructor, at, Fact::Coursework(Coursework::CoachingGiven(note)));
}
