//! Everything that is held about one practice model or one person, in one page that opens anywhere: for whom it is about.
//!
//! Others are not named in it: who worked or assessed stands as “a trainee”, “an instructor”.

use logbook::Records;
use logbook::subject::Subject;
use practicum::course_book::CourseBook;
use practicum::eye::Eye;
use practicum::ids::{PersonId, PracticeModelId};
use practicum::moment::Moment;
use practicum::practice_model::TestResult;

use crate::review::html::Html;

fn begun(title: &str, academy: &str, at: &Moment) -> Html {
    let mut html = Html::default();
    html.open("article", &[("class", "review")]);
    html.leaf("h1", title);
    html.leaf(
        "p",
        &format!("Academy: {academy}. Everything held on this device, as of {}.", at.format("%Y-%m-%d %H:%M")),
    );
    html.leaf("p", "Others are not named. What another device of the academy holds is not in it.");
    html
}

fn academy(records: &Records) -> String {
    records.academy().map(|academy| academy.name.clone()).unwrap_or_default()
}

fn contact(html: &mut Html, records: &Records, of: &Subject) {
    html.leaf("h2", "Name and contact");
    match records.contact_of(of) {
        Some(known) => html.leaf("p", &format!("{} {}", known.name, known.contact)),
        None => html.leaf("p", "○ Nothing is held."),
    };
    let notes: Vec<String> = records.follow_ups_of(of).iter().map(|note| note.value.text.clone()).collect();
    if !notes.is_empty() {
        html.leaf("h2", "Notes").list(notes.iter().map(String::as_str));
    }
}

fn section(html: &mut Html, title: &str, head: &[&str], rows: &[Vec<String>]) {
    html.leaf("h2", title);
    match rows.is_empty() {
        true => html.leaf("p", "○ Nothing is held."),
        false => html.table(title, head, rows),
    };
}

/// Writes what is held about a practice model; `None` when it is not known here.
pub fn of_practice_model(records: &Records, book: &CourseBook, id: &PracticeModelId, at: &Moment) -> Option<Html> {
    let known = records.practice_model(id)?;
    let mut html = begun(&format!("What is held about {}", known.code), &academy(records), at);
    let born = known.born.map_or_else(|| "not held".to_owned(), |day| day.to_string());
    html.leaf("p", &format!("Birth date: {born}."));
    if let Some(guardian) = &known.guardian {
        let consented = if guardian.consented { "has consented in writing" } else { "has not consented" };
        html.leaf("p", &format!("Guardian: {}, who {consented}.", guardian.name));
    }
    contact(&mut html, records, &Subject::PracticeModel(id.clone()));
    let when = |at: &Moment| at.format("%Y-%m-%d %H:%M").to_string();
    let consents: Vec<Vec<String>> = records
        .consents_of(id)
        .iter()
        .map(|one| {
            let withdrawn = one.value.withdrawn.as_ref().map_or_else(|| "–".to_owned(), when);
            vec![one.value.kind.word().to_owned(), when(&one.value.given), one.value.version.clone(), withdrawn]
        })
        .collect();
    section(&mut html, "Consents", &["To", "Given", "Wording", "Withdrawn"], &consents);
    let mut answers = Vec::new();
    for screening in records.screenings_of(id) {
        for answer in &screening.value.answers {
            let question = book.screening.iter().find(|question| question.id == answer.question);
            let words = question.map_or_else(|| answer.question.to_string(), |question| question.question.clone());
            let said = if answer.yes { "yes" } else { "no" };
            answers.push(vec![
                when(&screening.value.at),
                words,
                said.to_owned(),
                answer.written_advice.clone().unwrap_or_default(),
            ]);
        }
    }
    section(&mut html, "Answers to the screening", &["When", "Question", "Answer", "Written advice"], &answers);
    let tests: Vec<Vec<String>> = records
        .tests_of(id)
        .iter()
        .map(|test| {
            let product = records.product(&test.value.product).map(|known| known.name.clone()).unwrap_or_default();
            let read = test.value.read.as_ref().map_or_else(
                || "not read".to_owned(),
                |reading| {
                    let result = match reading.result {
                        TestResult::NothingSeen => "nothing seen; this does not exclude a reaction",
                        TestResult::Positive => "a reaction was seen",
                    };
                    format!("{}: {result}", when(&reading.at))
                },
            );
            vec![product, test.value.lot.clone(), test.value.site.clone(), when(&test.value.put_on), read]
        })
        .collect();
    section(&mut html, "Sensitivity tests", &["Product", "Lot", "Where", "Put on", "Read"], &tests);
    let own: Vec<_> =
        records.services_in_force().into_iter().filter(|service| service.practice_model.as_ref() == Some(id)).collect();
    let services: Vec<Vec<String>> = own
        .iter()
        .map(|service| {
            let lashes = |eye: Eye| {
                service.analysis.get(eye).as_ref().map_or_else(|| "–".to_owned(), |one| one.condition.word().to_owned())
            };
            let products: Vec<String> = service
                .products
                .iter()
                .map(|(kind, lot)| {
                    let name = records.product(&lot.product).map(|known| known.name.clone()).unwrap_or_default();
                    format!("{}: {name}, lot {}", kind.word(), lot.number)
                })
                .collect();
            let looks: Vec<String> = records
                .lift_looks_of(&service.id)
                .iter()
                .map(|look| {
                    let seen = &look.value;
                    format!("{}: left {}, right {}", seen.on, seen.eyes.left.word(), seen.eyes.right.word())
                })
                .collect();
            vec![
                service.day().to_string(),
                format!("left {}, right {}", lashes(Eye::Left), lashes(Eye::Right)),
                products.join("; "),
                service.comfort.clone(),
                looks.join("; "),
            ]
        })
        .collect();
    section(&mut html, "Services", &["Day", "Lashes", "Products", "Comfort", "How the lift held"], &services);
    let incidents: Vec<Vec<String>> = records
        .incidents()
        .iter()
        .filter(|one| {
            let of_service = one.value.service.as_ref().is_some_and(|service| own.iter().any(|own| own.id == *service));
            one.value.practice_model.as_ref() == Some(id) || of_service
        })
        .map(|one| {
            let steps: Vec<&str> = one.value.steps.iter().map(|step| step.step.as_str()).collect();
            vec![when(&one.value.at), one.value.note.clone(), steps.join("; ")]
        })
        .collect();
    section(&mut html, "Incidents", &["Reported", "Note", "Steps done"], &incidents);
    html.leaf("h2", "Photos");
    let mut photos = 0;
    for service in &own {
        for photo in records.photos_of(&service.id) {
            let words = format!("{}, {} eye, {}", service.day(), photo.value.eye.word(), photo.value.stage.word());
            html.photo(&photo.value, &words);
            photos += 1;
        }
    }
    if photos == 0 {
        html.leaf("p", "○ None is held.");
    }
    html.close("article");
    Some(html)
}

/// Writes what is held about a person of the academy; `None` when they are not known here.
pub fn of_person(records: &Records, book: &CourseBook, id: &PersonId, at: &Moment) -> Option<Html> {
    let person = records.person(id)?;
    let mut html = begun(&format!("What is held about {}", person.name), &academy(records), at);
    let mut about = vec![person.role.word().to_owned()];
    if !person.group.is_empty() {
        about.push(format!("group {}", person.group));
    }
    about.extend(person.since.map(|day| format!("since {day}")));
    about.extend(person.left.map(|day| format!("left {day}")));
    html.leaf("p", &about.join("; "));
    contact(&mut html, records, &Subject::Person(id.clone()));
    let licences: Vec<Vec<String>> = records
        .licences_of(id)
        .iter()
        .map(|one| {
            let until = one.value.expires.map_or_else(|| "–".to_owned(), |day| day.to_string());
            vec![one.value.name.clone(), one.value.number.clone(), one.value.issuer.clone(), until]
        })
        .collect();
    section(&mut html, "Licences", &["Name", "Number", "Given by", "Until"], &licences);
    let time: Vec<Vec<String>> = records
        .attendance_of(id)
        .iter()
        .map(|one| {
            let value = &one.value;
            let how = if value.supervised_by.is_some() { "supervised" } else { "alone" };
            vec![
                value.on.to_string(),
                value.learning.word().to_owned(),
                value.minutes.to_string(),
                how.to_owned(),
                value.title.clone(),
            ]
        })
        .collect();
    section(&mut html, "Attendance", &["Day", "Type", "Minutes", "How", "About"], &time);
    let papers: Vec<Vec<String>> = records
        .theory_of(id)
        .iter()
        .map(|one| {
            let value = &one.value;
            vec![value.paper.clone(), value.on.to_string(), format!("{} of {}", value.points, value.out_of)]
        })
        .collect();
    section(&mut html, "Theory papers", &["Paper", "Day", "Points"], &papers);
    let coaching: Vec<Vec<String>> = records
        .coaching_of(id)
        .iter()
        .map(|one| vec![one.recorded_at.date_naive().to_string(), one.value.cause.clone(), one.value.words.clone()])
        .collect();
    section(&mut html, "Coaching", &["Day", "Cause to try", "Words"], &coaching);
    let services: Vec<Vec<String>> = records
        .services_of(id)
        .iter()
        .map(|one| {
            let service = &one.value;
            let marks: Vec<String> = records
                .assessors_outcomes(service)
                .iter()
                .flat_map(|outcome| {
                    outcome.value.marks.iter().filter_map(|(criterion, marked)| {
                        let label = book
                            .criterion(criterion)
                            .map_or_else(|| criterion.to_string(), |known| known.label.clone());
                        match marked {
                            practicum::outcome::Marked::Level(mark) => Some(format!("{label}: {}", mark.word())),
                            practicum::outcome::Marked::NotApplicable => None,
                        }
                    })
                })
                .collect();
            vec![service.day().to_string(), service.medium.word().to_owned(), service.note.clone(), marks.join("; ")]
        })
        .collect();
    section(&mut html, "Services and drills", &["Day", "On", "Note", "Assessors’ marks"], &services);
    let sign_offs: Vec<Vec<String>> = records
        .sign_offs()
        .iter()
        .filter(|one| one.trainee == *id)
        .map(|one| {
            let label = book
                .competency(&one.competency)
                .map_or_else(|| one.competency.to_string(), |known| known.label.clone());
            vec![
                one.at.date_naive().to_string(),
                label,
                one.decision.word().to_owned(),
                one.level.to_string(),
                one.comment.clone(),
            ]
        })
        .collect();
    section(
        &mut html,
        "Decisions about competencies",
        &["Day", "Competency", "Decision", "Level", "Comment"],
        &sign_offs,
    );
    html.close("article");
    Some(html)
}

#[cfg(test)]
mod tests {
    use practicum::moment::parse_moment;

    use super::*;
    use crate::demo::tests::logbook_of_the_demo;

    #[test]
    fn it_holds_what_is_held_and_names_nobody_else() {
        let (logbook, _) = logbook_of_the_demo();
        let (records, at) = (logbook.records(), parse_moment("2026-12-01T10:00:00+00:00").unwrap());
        let book = records.present_book().unwrap();
        let service = records.incidents()[0].value.service.clone().unwrap();
        let id = records.service(&service).unwrap().value.practice_model.clone().unwrap();
        let html = of_practice_model(records, book, &id, &at).unwrap().into_text();
        for words in ["Consents", "nothing seen; this does not exclude a reaction", "Stinging of the left eye (demo)"] {
            assert!(html.contains(words), "{words}");
        }
        let own = records.services_in_force().into_iter().filter(|one| one.practice_model.as_ref() == Some(&id));
        for service in own {
            assert!(html.contains(&service.day().to_string()));
        }
        for person in records.people() {
            assert!(!html.contains(&person.name), "{}", person.name);
        }
        let trainee = records.trainees()[0];
        let html = of_person(records, book, &trainee.id, &at).unwrap().into_text();
        assert!(html.contains(&trainee.name) && html.contains("Theory papers"));
        for other in records.people().into_iter().filter(|person| person.id != trainee.id) {
            assert!(!html.contains(&other.name), "{}", other.name);
        }
        assert!(of_person(records, book, &"nobody".into(), &at).is_none());
    }
}
