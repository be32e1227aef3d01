//! Claims about the document of a review, on the demo's invented records.

use practicum::evidence::Books;
use practicum::group::ByTrainee;
use practicum::ids::PersonId;
use practicum::moment::{Moment, parse_moment};
use practicum::person::Person;

use super::document::{Paper, STYLE};
use super::{Material, article, page_rules, standalone};
use crate::demo::tests::logbook_of_the_demo;
use crate::session::Reviewed;

fn now() -> Moment {
    parse_moment("2026-11-25T12:00:00+00:00").unwrap()
}

/// The document of a trainee of the demo, with what it was made of.
fn made(of: impl Fn(&mut Person)) -> (Reviewed, String) {
    let (logbook, _) = logbook_of_the_demo();
    let records = logbook.records();
    let present = records.present_book().unwrap();
    let books = Books { present, adopted: &[] };
    let (services, outcomes) = (records.services_in_force(), records.outcomes_in_force());
    let sorted = ByTrainee::of(&services, &outcomes);
    let trainee: PersonId = records.incidents()[0].value.trainee.clone().unwrap_or_else(|| {
        let service = records.incidents()[0].value.service.clone().unwrap();
        records.service(&service).unwrap().value.trainee.clone()
    });
    let mut reviewed = Reviewed::gather(records, logbook.log(), &sorted, books, &trainee, &now()).unwrap();
    of(&mut reviewed.person);
    let outcomes: Vec<_> = reviewed.outcomes.iter().collect();
    let html = article(
        &Material {
            review: &reviewed.review,
            person: &reviewed.person,
            academy: "Fernhill Lash Room (demo)",
            demo: true,
            books,
            standing: &reviewed.standing,
            trial: reviewed.trial.as_ref(),
            competencies: &reviewed.competencies,
            services: &reviewed.services,
            outcomes: &outcomes,
            photos: &[],
            forecast: &["A line of the forecast.".to_owned()],
            code: Some("UPSWEEP-REVIEW-1|for a test"),
            no_code: "",
            cautions: &["Training record only.".to_owned()],
        },
        3,
    );
    (reviewed.clone(), html.into_text())
}

#[test]
fn every_service_decision_and_incident_of_the_record_stands_in_it() {
    let (reviewed, html) = made(|_| {});
    let table = html.split("Every service and drill").nth(1).unwrap().split("</table>").next().unwrap();
    assert_eq!(table.matches("<tr>").count(), reviewed.review.services.len() + 1, "a row each, and the head");
    for line in &reviewed.review.services {
        assert!(table.contains(&line.day.to_string()));
    }
    assert!(!reviewed.review.incidents.is_empty());
    let incident = reviewed.review.incidents[0].at.format("%Y-%m-%d %H:%M").to_string();
    assert!(html.contains(&incident), "{incident}");
    for competency in &reviewed.competencies {
        assert!(html.contains(&competency.label));
    }
    for words in ["not a licence", "Hours by type", "A line of the forecast", "not yet acknowledged", "Course book: "] {
        assert!(html.contains(words), "{words}");
    }
    for line in &reviewed.review.summary {
        assert!(html.contains(line.as_str()), "{line}");
    }
    assert_eq!(html.matches("<svg").count(), html.matches("</svg>").count());
    assert!(!html.contains("NaN"));
}

#[test]
fn elements_close_in_the_order_in_which_they_were_opened() {
    let (_, html) = made(|_| {});
    let mut open: Vec<&str> = Vec::new();
    for part in html.split('<').skip(1) {
        let tag = part.split('>').next().unwrap();
        let name = |tag: &'_ str| tag.split([' ', '/']).find(|part| !part.is_empty()).unwrap_or_default().len();
        if let Some(closed) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(closed.trim()), "{tag}");
        } else if !tag.ends_with('/') {
            open.push(&tag[..name(tag)]);
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn names_are_words_and_never_markup() {
    let hostile = "</style><script>alert(1)</script>\"'} @page { size: A0 } \u{202e}";
    let (reviewed, html) = made(|person| person.name = hostile.to_owned());
    assert!(!html.contains("<script") && !html.contains("</style"));
    let rules = page_rules(&reviewed.person, &now(), Paper::Letter, "review", 3);
    assert!(!rules.contains('<') && !rules.contains("alert(1)"), "{rules}");
    assert_eq!(rules.matches("@page").count(), 1, "{rules}");
    assert!(rules.contains("size: letter") && rules.contains("counter(pages)"));
    let file = standalone(hostile, &rules, &[super::html::Html::of_document(html)]);
    assert!(!file.contains("<script") && file.matches("</style>").count() == 1);
    for outside in ["http:", "https:", "src=", "@import", "url("] {
        let own = file.replace("http://www.w3.org/2000/svg", "");
        assert!(!own.contains(outside), "{outside}");
    }
    assert!(file.contains(STYLE.lines().next().unwrap()));
}
