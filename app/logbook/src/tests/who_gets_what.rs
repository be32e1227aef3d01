//! A trainee's device gets what is the trainee's, and headers of the rest: the same records of what it may hold.

use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::person::Role;
use practicum::practice_model::ConsentKind;
use practicum::service::Service;
use proptest::collection::vec;
use proptest::prelude::*;

use super::corrections::late;
use super::{academy, at, person, written};
use crate::Records;
use crate::draft::Draft;
use crate::entry::Content;
use crate::fact::Fact;
use crate::hand_over::giving::write;
use crate::hand_over::{Bodies, Choice, read};
use crate::logbook::Logbook;
use crate::subject::Subject;
use crate::wire::any;

fn now() -> Moment {
    at("2026-04-01T12:00:00+01:00")
}

/// An academy of trainees `a` and `c` and an instructor `b`, the persons that drawn facts speak of.
fn staff() -> Vec<Draft> {
    let owner: PersonId = "owner".into();
    let people = [("owner", Role::Owner), ("b", Role::Instructor), ("a", Role::Trainee), ("c", Role::Trainee)];
    let enrolled = people.into_iter().map(|(id, role)| Draft::person_enrolled(&owner, person(id, role)));
    std::iter::once(Draft::academy_founded(academy("Academy", false))).chain(enrolled).collect()
}

fn of(drafts: Vec<(Draft, Moment)>) -> Logbook {
    let staff = staff().into_iter().map(|draft| (draft, at("2020-01-01T09:00:00+00:00")));
    let all: Vec<_> = staff.chain(drafts).collect();
    let lines: Vec<String> = written(&all, 2).iter().map(|entry| entry.line().to_owned()).collect();
    Logbook::open("d0".into(), &lines, "")
}

fn dated(drafts: Vec<Draft>) -> Logbook {
    of(drafts.into_iter().map(|draft| (draft, at("2026-03-02T10:00:00+00:00"))).collect())
}

fn phone_of(trainee: &str, logbook: &Logbook, also: &[&str]) -> Logbook {
    let also = also.iter().map(|id| (*id).into()).collect();
    let choice = Choice { bodies: Bodies::Of { trainee: trainee.into(), also }, ..Choice::everything() };
    let bytes = write(logbook, &choice, &now()).unwrap();
    read(&bytes, None).unwrap().take_in(&Logbook::new("phone".into()), false, &now()).unwrap().logbook
}

fn facts(logbook: &Logbook) -> Vec<Fact> {
    logbook.log().entries().filter_map(|entry| entry.fact()).map(|fact| Fact::clone(fact)).collect()
}

fn drawn() -> impl Strategy<Value = Vec<(Draft, Moment)>> {
    let left_out = |fact: &Fact| {
        matches!(
            fact,
            Fact::AcademyFounded(_) | Fact::Corrected { .. } | Fact::PersonEnrolled(_) | Fact::PersonLeft { .. }
        )
    };
    vec((proptest::sample::select(vec!["b", "c"]), any::fact(), any::moment()), 1..14).prop_map(move |all| {
        let all = all.into_iter().filter(|(_, fact, _)| !left_out(fact));
        all.map(|(author, fact, at)| (Draft::new(&author.into(), fact), at)).collect()
    })
}

/// What a trainee's own device works with, in words that can be compared.
fn own_state(records: &Records, trainee: &PersonId) -> String {
    let services = records.services_of(trainee);
    let outcomes: Vec<_> = services.iter().map(|service| records.outcomes_of(&service.value.id)).collect();
    let refusals: Vec<_> = services.iter().map(|service| records.refusals_of(&service.value.id)).collect();
    let worked_on = services.iter().filter_map(|service| service.value.practice_model.clone());
    let known: Vec<_> = worked_on
        .map(|id| {
            let tests = records.tests_of(&id);
            (records.practice_model(&id), records.consents_of(&id), records.screenings_of(&id), tests)
        })
        .collect();
    let by_b: PersonId = "b".into();
    let decisions = records.decisions().into_iter().filter(|one| one.trainee == *trainee && one.by == by_b);
    let trials = records.trials().into_iter().filter(|one| one.trainee == *trainee && one.by == by_b);
    let sign_offs = records.sign_offs().into_iter().filter(|one| one.trainee == *trainee && one.by == by_b);
    format!(
        "{services:?}{outcomes:?}{refusals:?}{known:?}{:?}{:?}{:?}{:?}{:?}{:?}",
        decisions.collect::<Vec<_>>(),
        trials.collect::<Vec<_>>(),
        sign_offs.collect::<Vec<_>>(),
        records.products(),
        records.lots(),
        records.academy(),
    )
}

proptest! {
    #[test]
    fn a_trainees_device_holds_all_headers_and_the_same_own_records(drafts in drawn()) {
        // Rows of an import stand in one body with those of others: they are the one thing that does not come.
        let imports = |draft: &Draft| matches!(draft.fact, Fact::RowsImported(_) | Fact::ImportWithdrawn { .. });
        let mut names = std::collections::BTreeSet::new();
        // Identifiers are random: two trainees never draw the same one for a service, nor two people for a test.
        let mut first = |draft: &Draft| match &draft.fact {
            Fact::ServiceLogged(service) | Fact::DrillLogged(service) => names.insert(service.id.to_string()),
            Fact::TestPutOn(test) => names.insert(format!("test {}", test.id)),
            _ => true,
        };
        let drafts = drafts.into_iter().filter(|(draft, _)| !imports(draft) && first(draft));
        let logbook = of(drafts.collect());
        let phone = phone_of("a", &logbook, &[]);
        prop_assert_eq!(phone.log().header_set_hash(), logbook.log().header_set_hash());
        prop_assert_eq!(phone.problems(), logbook.log().problems());
        let trainee = "a".into();
        prop_assert_eq!(own_state(phone.records(), &trainee), own_state(logbook.records(), &trainee));
    }

    #[test]
    fn nothing_of_others_goes_to_a_trainees_device(drafts in drawn()) {
        let logbook = of(drafts);
        let phone = phone_of("a", &logbook, &[]);
        let own: Vec<_> = logbook.records().services_of(&"a".into()).into_iter().map(|known| &known.value).collect();
        let known: Vec<_> = own.iter().filter_map(|service| service.practice_model.clone()).collect();
        for fact in facts(&phone) {
            match fact {
                Fact::ServiceLogged(service) | Fact::DrillLogged(service) => prop_assert_eq!(service.trainee, "a".into()),
                Fact::SignedOff(sign_off) => prop_assert_eq!(sign_off.trainee, "a".into()),
                Fact::OutcomeMarked(outcome) => prop_assert!(own.iter().any(|service| service.id == outcome.service)),
                Fact::ScreeningAnswered(screening) => prop_assert!(known.contains(&screening.practice_model)),
                Fact::PracticeModelAdded(added) => prop_assert!(known.contains(&added.id)),
                Fact::ContactNoted(contact) => prop_assert_eq!(contact.of, Subject::Person("a".into())),
                Fact::RowsImported(batch) => prop_assert!(batch.rows.iter().all(|row| row.trainee == "a".into())),
                Fact::PersonEnrolled(person) => prop_assert!(person.role.may_assess() || person.id == "a".into()),
                _ => {}
            }
        }
    }
}

#[test]
fn names_of_other_trainees_stay_behind_and_those_of_assessors_come() {
    let phone = phone_of("a", &dated(Vec::new()), &[]);
    let names: Vec<_> = phone.records().people().into_iter().map(|person| person.id.to_string()).collect();
    assert_eq!(names, ["a", "b", "owner"]);
    assert_eq!(phone.log().entries().filter(|entry| *entry.content() == Content::Withheld).count(), 1);
}

#[test]
fn a_practice_model_goes_along_when_the_giver_says_so() {
    let consent = Fact::ConsentGiven {
        practice_model: "m".into(),
        kind: ConsentKind::Record,
        version: "1".to_owned(),
        given: at("2026-03-01T10:00:00+00:00"),
    };
    let contact =
        Draft::contact_noted(&"b".into(), Subject::PracticeModel("m".into()), "Pat".to_owned(), "1".to_owned());
    let logbook = dated(vec![Draft::new(&"b".into(), consent), contact]);
    let consents = |logbook: &Logbook| logbook.records().consents().len();
    assert_eq!(consents(&phone_of("a", &logbook, &[])), 0);
    let phone = phone_of("a", &logbook, &["m"]);
    assert_eq!(consents(&phone), 1);
    // Name and contact stay with the instructors even so.
    assert!(phone.records().contact_of(&Subject::PracticeModel("m".into())).is_none());
}

#[test]
fn what_a_trainee_wrote_comes_back_to_the_trainee() {
    let note = Draft::contact_noted(&"a".into(), Subject::PracticeModel("m".into()), "Pat".to_owned(), "1".to_owned());
    let logbook = dated(vec![note]);
    assert!(phone_of("a", &logbook, &[]).records().contact_of(&Subject::PracticeModel("m".into())).is_some());
    assert!(phone_of("c", &logbook, &[]).records().contact_of(&Subject::PracticeModel("m".into())).is_none());
}

#[test]
fn a_service_goes_to_whom_it_was_corrected_to_by_somebody_who_assesses() {
    let first = Service { trainee: "c".into(), ..late("s") };
    let moved = |author: &str| {
        let fact = Box::new(Fact::ServiceLogged(Service { trainee: "a".into(), ..late("s") }));
        let correction = Fact::Corrected { of: "e5".into(), reason: "the other trainee".to_owned(), fact };
        dated(vec![Draft::new(&"b".into(), Fact::ServiceLogged(first.clone())), Draft::new(&author.into(), correction)])
    };
    let first_goes = |logbook: &Logbook| {
        facts(&phone_of("a", logbook, &[])).iter().any(|fact| matches!(fact, Fact::ServiceLogged(_)))
    };
    assert!(first_goes(&moved("b")));
    assert_eq!(phone_of("a", &moved("b"), &[]).records().services_of(&"a".into()).len(), 1);
    // A correction that a trainee made up for it fetches nothing.
    assert!(!first_goes(&moved("a")));
}
