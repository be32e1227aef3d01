//! Replies, disputes and their answers, and two records of one service.

use practicum::service::Service;

use super::corrections::late;
use super::rights::{decision, outcome, sign_off};
use super::{at, fresh, logbook, staff};
use crate::draft::Draft;
use crate::fact::{About, Fact, Settlement};
use crate::logbook::Logbook;
use crate::records::Replied;
use crate::store::MemoryStore;

/// An academy with its people on one device, to write on.
struct Desk {
    book: Logbook,
    store: MemoryStore,
    names: Box<dyn FnMut() -> String>,
    minute: i64,
}

impl Desk {
    fn new(drafts: &[Draft]) -> Self {
        let (book, store) = logbook(&[staff(), drafts.to_vec()].concat());
        Self { book, store, names: Box::new(fresh(7)), minute: 0 }
    }

    fn write(&mut self, draft: Draft) -> Result<crate::entry::Header, String> {
        self.minute += 1;
        let when = at("2026-03-03T10:00:00+00:00") + chrono::TimeDelta::minutes(self.minute);
        let ids = self.book.record(&mut self.store, &[draft], when, &mut self.names).map_err(|why| why.to_string())?;
        Ok(self.book.log().entry(&ids[0]).unwrap().header().clone())
    }

    fn about(&self, entry: &practicum::ids::EntryId, person: &str) -> About {
        let hash = self.book.log().entry(entry).unwrap().hash().to_owned();
        About { entry: entry.clone(), hash, person: person.into() }
    }
}

#[test]
fn whom_marks_concern_replies_and_somebody_else_answers_and_every_view_stays() {
    let mut desk = Desk::new(&[Draft::service_logged(&"t".into(), late("s"))]);
    let marked = desk.write(Draft::outcome_marked(outcome("i", true))).unwrap().id;
    assert_eq!(desk.book.records().replied_to(&marked), Replied::NotYet);
    let about = desk.about(&marked, "t");
    // Nobody replies for another, and nobody to what is not about them.
    let forged = Draft::new(&"t2".into(), Draft::acknowledged(about.clone()).fact);
    assert!(desk.write(forged).unwrap_err().contains("Only the person concerned"));
    let not_theirs = About { person: "t2".into(), ..about.clone() };
    assert!(desk.write(Draft::acknowledged(not_theirs)).unwrap_err().contains("not about you"));
    assert!(desk.write(Draft::disputed(about.clone(), " ".to_owned())).is_err());

    desk.write(Draft::acknowledged(about.clone())).unwrap();
    assert!(matches!(desk.book.records().replied_to(&marked), Replied::Acknowledged(_)));
    let dispute = desk.write(Draft::disputed(about, "the left eye was even".to_owned())).unwrap().id;
    assert_eq!(desk.book.records().open_disputes().len(), 1);
    let answer = |by: &str| Draft::resolved(&by.into(), dispute.clone(), "t".into(), "looked at again".to_owned());
    assert!(desk.write(answer("t2")).is_err(), "a trainee answers no dispute");
    assert!(desk.write(answer("i")).unwrap_err().contains("part of this dispute"));
    // A second opinion is a further assessor's marks, beside the first.
    desk.write(Draft::outcome_marked(outcome("i2", true))).unwrap();
    desk.write(answer("i2")).unwrap();
    let records = desk.book.records();
    assert!(matches!(records.replied_to(&marked), Replied::Resolved(said, answer)
        if said.value.disputed.as_deref() == Some("the left eye was even") && answer.author.as_str() == "i2"));
    assert_eq!(records.open_disputes().len(), 0);
    assert_eq!(records.replies_to(&marked).len(), 2, "both replies stay");
    let service = records.service(&"s".into()).unwrap().value.clone();
    let by: Vec<&str> = records.assessors_outcomes(&service).iter().map(|one| one.author.as_str()).collect();
    assert_eq!(by, ["i", "i2"], "both marks stay");
}

#[test]
fn decisions_and_sign_offs_are_answered_alike() {
    let mut desk = Desk::new(&[]);
    for draft in [Draft::plan_decided(decision("i", "t")), Draft::signed_off(sign_off("i", "t"))] {
        let said = desk.write(draft).unwrap().id;
        let about = desk.about(&said, "t");
        let foreign =
            Draft::new(&"i".into(), Fact::Replied(crate::fact::Reply { about: about.clone(), disputed: None }));
        assert!(desk.write(foreign).is_err());
        desk.write(Draft::disputed(about, "not yet even".to_owned())).unwrap();
        assert!(matches!(desk.book.records().replied_to(&said), Replied::Disputed(_)));
    }
    let enrolled = desk.book.log().entries().nth(4).unwrap().header().id.clone();
    let about = desk.about(&enrolled, "t");
    assert!(desk.write(Draft::acknowledged(about)).is_err(), "an enrolment is nothing to reply to");
}

#[test]
fn a_reply_is_never_corrected() {
    let mut desk = Desk::new(&[]);
    let said = desk.write(Draft::plan_decided(decision("i", "t"))).unwrap().id;
    let about = desk.about(&said, "t");
    let reply = desk.write(Draft::disputed(about.clone(), "no".to_owned())).unwrap().id;
    let other = Draft::disputed(about, "yes".to_owned()).fact;
    assert!(desk.write(Draft::correction(&"t".into(), reply, "typed wrongly".to_owned(), other)).is_err());
}

/// Services on two devices as their lines, one log of both.
fn on_two_devices(one: Service, other: Service) -> Logbook {
    let drafts = [staff(), vec![Draft::service_logged(&"t".into(), one)]].concat();
    let (first, _) = logbook(&drafts);
    let mut lines: Vec<String> = first.log().lines().map(str::to_owned).collect();
    let place = crate::entry::Place {
        id: "elsewhere".into(),
        device: "phone".into(),
        sequence: 1,
        previous: String::new(),
        at: at("2026-03-02T11:00:00+00:00"),
        salt: "0".repeat(32),
    };
    lines
        .push(crate::entry::Entry::write(&Draft::service_logged(&"t".into(), other), place).unwrap().line().to_owned());
    Logbook::open("d".into(), &lines, &first.head())
}

#[test]
fn records_of_two_devices_look_alike_until_somebody_says_what_they_are() {
    let twin = Service { began: late("a").began + chrono::TimeDelta::seconds(20), ..late("b") };
    let mut book = on_two_devices(late("a"), twin);
    let alike = crate::duplicates::alike(book.log(), book.records());
    assert_eq!(
        alike.iter().map(|pair| (pair.first.id.as_str(), pair.second.id.as_str())).collect::<Vec<_>>(),
        [("a", "b")]
    );
    let settlement = |same| Settlement { keep: "a".into(), other: "b".into(), same, why: "seen together".to_owned() };
    let mut store = MemoryStore::default();
    store.written_elsewhere("", &book.head());
    let mut names = fresh(9);
    let mut write = |book: &mut Logbook, by: &str, same| {
        let draft = Draft::duplicate_settled(&by.into(), settlement(same));
        book.record(&mut store, &[draft], at("2026-03-03T10:00:00+00:00"), &mut names)
    };
    assert!(write(&mut book, "t", true).is_err(), "who worked it does not choose the record that counts");
    let in_force = |book: &Logbook| {
        book.records().services_in_force().iter().map(|one| one.id.as_str().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(in_force(&book), ["a", "b"], "nothing happens by itself");
    write(&mut book, "i", true).unwrap();
    assert_eq!(in_force(&book), ["a"]);
    assert!(book.records().service(&"b".into()).unwrap().withdrawn.as_ref().unwrap().reason.contains("seen together"));
    assert_eq!(crate::duplicates::alike(book.log(), book.records()), []);
    write(&mut book, "i", false).unwrap();
    assert_eq!(in_force(&book), ["a", "b"], "the last word holds");
    assert_eq!(crate::duplicates::alike(book.log(), book.records()), [], "not asked again");
    // The same whatever came first.
    let mut lines: Vec<String> = book.log().lines().map(str::to_owned).collect();
    lines.reverse();
    assert_eq!(Logbook::open("d".into(), &lines, &book.head()).records(), book.records());
}

#[test]
fn different_services_do_not_look_alike() {
    let tomorrow = Service { began: late("a").began + chrono::TimeDelta::days(1), ..late("b") };
    let later = Service { began: late("a").began + chrono::TimeDelta::hours(2), ..late("b") };
    let other = Service { trainee: "t2".into(), ..late("b") };
    for second in [tomorrow, later, other] {
        let book = on_two_devices(late("a"), second);
        assert_eq!(crate::duplicates::alike(book.log(), book.records()), []);
    }
    let same_person = |id: &str, hours| Service {
        began: late("a").began + chrono::TimeDelta::hours(hours),
        practice_model: Some("p".into()),
        ..late(id)
    };
    let book = on_two_devices(same_person("a", 0), same_person("b", 2));
    assert_eq!(crate::duplicates::alike(book.log(), book.records()).len(), 1);
    let (one_device, _) = logbook(
        &[staff(), vec![Draft::service_logged(&"t".into(), late("a")), Draft::service_logged(&"t".into(), late("b"))]]
            .concat(),
    );
    assert_eq!(crate::duplicates::alike(one_device.log(), one_device.records()), [], "one device numbers its own");
}
