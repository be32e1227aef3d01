//! An invented academy to look around in.
//!
//! It lives in a database of its own, its founding entry says that it is a demo, and every name in it is
//! invented. The same day gives the same demo.

mod class;
mod couch;
mod dice;
mod group;

#[cfg(test)]
pub(crate) mod tests;

use chrono::Duration;
use logbook::fact::{Academy, Fact};
use practicum::course_book::{CourseBook, example, text};
use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::order::InOrder;
use practicum::practice_model::{ConsentKind, SensitivityTest, TestReading, TestResult};
use practicum::product::ProductKind;
use practicum::trial::{Terms, Trial};

use group::Group;

/// A fact with its author and moment.
pub(crate) struct Dated {
    /// Who wrote it.
    pub(crate) author: PersonId,
    /// When.
    pub(crate) at: Moment,
    /// What.
    pub(crate) fact: Fact,
}

/// Returns every fact of the demo in the order it happened, for a day.
pub(crate) fn facts(book: &CourseBook, today: Moment) -> Vec<Dated> {
    let group = group::invent(book, today);
    let start = today - Duration::weeks(10) - Duration::days(4);
    let owner = PersonId::new("demo-owner");
    let mut facts = Vec::new();
    let mut say = |author: &PersonId, at: Moment, fact: Fact| facts.push(Dated { author: author.clone(), at, fact });
    say(&owner, start, Fact::AcademyFounded(academy(owner.clone())));
    let text = text::join(&example::files());
    say(&owner, start, Fact::BookAdopted { id: book.id.clone(), text });
    group.people.iter().for_each(|person| say(&owner, start, Fact::PersonEnrolled(person.clone())));
    group.products.iter().for_each(|product| say(&owner, start, Fact::ProductEntered(product.clone())));
    group.lots.iter().for_each(|lot| say(&owner, start, Fact::LotOpened(lot.clone())));
    practice_models(&group, book, start, &mut say);
    services(&group, book, &mut say);
    class::beside(&group, book, start, &mut say);
    facts.order_by_key(|dated| dated.at);
    facts
}

fn academy(owner: PersonId) -> Academy {
    Academy {
        name: "Fernhill Lash Room (demo)".to_owned(),
        region: "uk".into(),
        emergency_number: "999 (demo)".to_owned(),
        minimum_age: 18,
        time_zone: "Europe/London".to_owned(),
        owner,
        tint_legal_ground: None,
        demo: true,
    }
}

fn practice_models(group: &Group, book: &CourseBook, start: Moment, say: &mut impl FnMut(&PersonId, Moment, Fact)) {
    let instructor = PersonId::new("demo-instructor-1");
    for person in &group.practice_models {
        say(&instructor, start, Fact::PracticeModelAdded(person.clone()));
        for kind in [ConsentKind::Service, ConsentKind::Record, ConsentKind::Photos] {
            let version = book.consent_version.clone();
            let given = Fact::ConsentGiven { practice_model: person.id.clone(), kind, version, given: start };
            say(&instructor, start, given);
        }
        let tested =
            group.products.iter().zip(&group.lots).filter(|(product, _)| product.kind != ProductKind::Adhesive);
        for (product, lot) in tested {
            let id = practicum::ids::TestId::new(format!("{}-{}", person.id, product.id));
            let test = SensitivityTest {
                id: id.clone(),
                practice_model: person.id.clone(),
                product: product.id.clone(),
                lot: lot.number.clone(),
                site: "behind the ear".to_owned(),
                put_on: start,
                put_on_by: instructor.clone(),
                read: None,
            };
            say(&instructor, start, Fact::TestPutOn(test));
            let at = start + Duration::hours(50);
            let reading = TestReading { at, by: instructor.clone(), result: TestResult::NothingSeen };
            say(&instructor, at, Fact::TestRead { test: id, reading });
        }
    }
}

fn services(group: &Group, book: &CourseBook, say: &mut impl FnMut(&PersonId, Moment, Fact)) {
    for service in &group.services {
        let at = service.began + Duration::hours(2);
        say(&service.trainee, at, Fact::ServiceLogged(service.clone()));
    }
    for outcome in &group.outcomes {
        say(&outcome.marker, outcome.at, Fact::OutcomeMarked(outcome.clone()));
    }
    for decision in &group.decisions {
        say(&decision.by, decision.at, Fact::PlanDecided(decision.clone()));
        if decision.plan == book.rules.target_plan {
            let trial = Trial {
                id: decision.id.clone(),
                trainee: decision.trainee.clone(),
                by: decision.by.clone(),
                at: decision.at,
                terms: Terms::of(&book.rules),
                course_book: book.id.clone(),
            };
            say(&decision.by, decision.at, Fact::TrialOpened(trial));
        }
        // One of them may overlap the eyes, so that both ways of working are there to be looked at.
        if group
            .people
            .iter()
            .find(|person| !person.role.may_assess())
            .is_some_and(|first| first.id == decision.trainee)
        {
            let why = "Keeps every dwell inside its window (demo).".to_owned();
            let fact = Fact::OverlapAllowed { trainee: decision.trainee.clone(), allowed: true, why };
            say(&decision.by, decision.at, fact);
        }
    }
}
