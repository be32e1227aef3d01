//! Erasure: bodies go for good wherever the owner's word is believed, and everything else holds as before.

use practicum::person::Person;
use practicum::practice_model::{Guardian, PracticeModel, Screening};
use proptest::prelude::*;

use super::corrections::late;
use super::trust::World;
use super::{at, fresh, logbook, reopened, staff};
use crate::draft::Draft;
use crate::entry::{Content, Entry};
use crate::erasure::bodies_of;
use crate::fact::{Admission, Erasure, Fact, Ground, Hold, Scope};
use crate::log::Log;
use crate::logbook::Logbook;
use crate::store::{MemoryStore, Store};
use crate::subject::Subject;

const SECRET: [&str; 4] = ["Ada Example", "555-0100", "Guardian Example", "allergic to tape"];

fn p() -> Subject {
    Subject::PracticeModel("p".into())
}

fn about_p() -> Vec<Draft> {
    let t = "t".into();
    let guardian = Some(Guardian { name: SECRET[2].to_owned(), consented: true });
    let added = PracticeModel { id: "p".into(), code: "PM-1".to_owned(), born: None, guardian };
    let answer = practicum::practice_model::ScreeningAnswer {
        question: "q".into(),
        yes: true,
        written_advice: Some(SECRET[3].to_owned()),
    };
    let (practice_model, at) = ("p".into(), at("2026-03-02T08:00:00+00:00"));
    vec![
        Draft::practice_model_added(&t, added),
        Draft::contact_noted(&t, p(), SECRET[0].to_owned(), SECRET[1].to_owned()),
        Draft::screening_answered(&t, Screening { practice_model, at, answers: vec![answer], guardian_present: true }),
        Draft::service_logged(&t, late("s")),
    ]
}

fn erasure(book: &Logbook, of: Subject) -> Draft {
    let hashes = bodies_of(book.log(), &of).iter().map(|entry| entry.hash().to_owned()).collect();
    let erasure = Erasure { of, hashes, what: "name and health answers".to_owned(), why: "asked for it".to_owned() };
    Draft::erased(&"owner".into(), erasure)
}

fn whole(store: &mut MemoryStore) -> String {
    store.load().unwrap().lines.join("\n")
}

#[test]
fn what_says_who_somebody_is_goes_and_what_was_done_stays() {
    let (mut book, mut store) = logbook(&[staff(), about_p()].concat());
    let before = (book.log().header_set_hash(), whole(&mut store));
    assert!(SECRET.iter().all(|secret| before.1.contains(secret)));
    let now = at("2026-03-03T10:00:00+00:00");
    let only_code = PracticeModel { id: "p".into(), code: "PM-1".to_owned(), born: None, guardian: None };
    let refused = Draft::new(&"i".into(), erasure(&book, p()).fact);
    assert!(book.record(&mut store, &[refused], now, &mut fresh(5)).is_err(), "only the owner erases");
    let drafts = [erasure(&book, p()), Draft::practice_model_added(&"owner".into(), only_code)];
    book.record(&mut store, &drafts, now, &mut fresh(6)).unwrap();
    let lines = book.lines().join("\n");
    assert!(SECRET.iter().all(|secret| !lines.contains(secret)), "no body is handed out any more");
    assert!(book.holds_erased(), "the store is to be written anew");
    let opened = Logbook::open("d".into(), &book.lines(), &book.head());
    assert!(!opened.holds_erased());
    for book in [&book, &opened, &reopened(&mut store)] {
        assert_eq!(book.problems(), [], "headers, chain and signatures hold");
        let records = book.records();
        assert_eq!(records.practice_model(&"p".into()).unwrap().code, "PM-1");
        assert_eq!((records.contact_of(&p()), records.screenings_of(&"p".into()).len()), (None, 0));
        assert_eq!(records.services_in_force().len(), 1);
        assert_eq!(records.erasures_of(&p())[0].value.why, "asked for it");
        let said = records.not_shown().iter().filter(|one| one.why.contains("erased on 2026-03-03: asked for it"));
        assert_eq!(said.count(), 3);
    }
    assert_ne!(before.0, book.log().header_set_hash(), "two entries came, none went");
}

#[test]
fn a_body_never_comes_back_by_merging() {
    let (mut book, mut store) = logbook(&[staff(), about_p()].concat());
    let old: Vec<String> = book.lines();
    let draft = erasure(&book, p());
    book.record(&mut store, &[draft], at("2026-03-03T10:00:00+00:00"), &mut fresh(6)).unwrap();
    let file = crate::backup::export(&Logbook::open("d".into(), &old, ""), &at("2026-03-03T10:00:00+00:00")).unwrap();
    let restored = crate::backup::read(&file).unwrap().restore(&book, false).unwrap();
    let lines = restored.lines.join("\n");
    assert!(SECRET.iter().all(|secret| !lines.contains(secret)));
    let mut log = book.log().clone();
    let mut other = Log::default();
    old.iter().for_each(|line| {
        log.insert_line(line);
        other.insert_line(line);
    });
    log.merge(&other);
    assert!(log.lines().all(|line| SECRET.iter().all(|secret| !line.contains(secret))));
    // A body that was changed on the way does not come back either.
    let changed = old.iter().find(|line| line.contains(SECRET[1])).unwrap().replace(SECRET[1], "555-0199");
    log.insert_line(&changed);
    assert!(log.lines().all(|line| !line.contains("555-0199")));
    assert_eq!(log.header_set_hash(), book.log().header_set_hash());
}

#[test]
fn a_hand_over_carries_the_erasure_and_never_the_body() {
    use crate::hand_over::{Bodies, Choice, giving::write, read};
    let (mut book, mut store) = logbook(&[staff(), about_p()].concat());
    let phone = Logbook::open("phone".into(), &book.lines(), "");
    let now = at("2026-03-03T10:00:00+00:00");
    let draft = erasure(&book, p());
    book.record(&mut store, &[draft], now, &mut fresh(6)).unwrap();
    let choice = Choice { bodies: Bodies::of(&"t".into()), ..Choice::everything() };
    let file = read(&write(&book, &choice, &now).unwrap(), None).unwrap();
    let taken = file.take_in(&phone, false, &now).unwrap();
    assert!(taken.logbook.holds_erased(), "the phone writes everything anew");
    assert!(taken.logbook.lines().iter().all(|line| SECRET.iter().all(|secret| !line.contains(secret))));
    // The other way round: what the phone still holds does not come back, not even for a moment.
    let file = read(&write(&phone, &Choice::everything(), &now).unwrap(), None).unwrap();
    let taken = file.take_in(&book, false, &now).unwrap();
    assert!(taken.lines.iter().all(|line| SECRET.iter().all(|secret| !line.contains(secret))));
    assert!(taken.logbook.records().contact_of(&p()).is_none());
    let mut empty = Logbook::open("new".into(), &Vec::<String>::new(), "");
    for from in [&phone, &book] {
        let file = read(&write(from, &Choice::everything(), &now).unwrap(), None).unwrap();
        empty = file.take_in(&empty, false, &now).unwrap().logbook;
    }
    assert_eq!(empty.records(), book.records());
}

#[test]
fn a_hold_refuses_an_erasure_until_it_is_lifted() {
    let (mut book, mut store) = logbook(&[staff(), about_p()].concat());
    let (mut names, now) = (fresh(6), at("2026-03-03T10:00:00+00:00"));
    let mut write = |book: &mut Logbook, draft: Draft| book.record(&mut store, &[draft], now, &mut names);
    let hold = Hold { on: p(), ground: Ground::Claim, why: "claim of 2 March".to_owned() };
    assert!(write(&mut book, Draft::hold_placed(&"i".into(), hold.clone())).is_err());
    let placed = write(&mut book, Draft::hold_placed(&"owner".into(), hold)).unwrap().remove(0);
    let draft = erasure(&book, p());
    let why = write(&mut book, draft.clone()).unwrap_err().to_string();
    assert!(why.contains("A hold stands since 2026-03-03: a claim, claim of 2 March"), "{why}");
    // An erasure that comes from elsewhere and was written while the hold stood takes no effect.
    let place = crate::entry::Place {
        id: "elsewhere".into(),
        device: "z".into(),
        sequence: 1,
        previous: String::new(),
        at: now + chrono::TimeDelta::minutes(1),
        salt: "1".repeat(32),
    };
    let elsewhere = Entry::write(&draft, place).unwrap();
    let opened = Logbook::open("d".into(), &[book.lines(), vec![elsewhere.line().to_owned()]].concat(), "");
    assert!(opened.records().contact_of(&p()).is_some());
    let lift = |why: &str| Draft::hold_lifted(&"owner".into(), placed.clone(), p(), why.to_owned());
    assert!(write(&mut book, lift(" ")).is_err());
    write(&mut book, lift("settled")).unwrap();
    assert!(write(&mut book, lift("settled")).is_err(), "it is lifted already");
    write(&mut book, draft).unwrap();
    assert_eq!(book.records().contact_of(&p()), None);
}

#[test]
fn a_person_goes_after_leaving_and_keeps_a_name_that_says_nothing() {
    let of = Subject::Person("t".into());
    let contact = Draft::contact_noted(&"i".into(), of.clone(), String::new(), SECRET[1].to_owned());
    let (mut book, mut store) =
        logbook(&[staff(), vec![contact, Draft::service_logged(&"t".into(), late("s"))]].concat());
    let (mut names, now) = (fresh(6), at("2026-03-03T10:00:00+00:00"));
    let mut write = |book: &mut Logbook, drafts: &[Draft]| book.record(&mut store, drafts, now, &mut names);
    let known = book.records().person(&"t".into()).unwrap().clone();
    let anew = Draft::person_enrolled(&"owner".into(), Person { name: "Former trainee 1".to_owned(), ..known });
    let draft = erasure(&book, of.clone());
    assert!(write(&mut book, &[draft.clone(), anew.clone()]).unwrap_err().to_string().contains("has left"));
    write(&mut book, &[Draft::person_left(&"i".into(), "t".into(), now.date_naive())]).unwrap();
    assert!(write(&mut book, std::slice::from_ref(&anew)).is_err(), "nobody is enrolled twice but for an erasure");
    write(&mut book, &[draft, anew]).unwrap();
    let person = book.records().person(&"t".into()).unwrap();
    assert_eq!((person.name.as_str(), person.left), ("Former trainee 1", Some(now.date_naive())));
    assert!(book.lines().iter().all(|line| !line.contains("t by name") && !line.contains(SECRET[1])));
    assert_eq!(book.records().services_of(&"t".into()).len(), 1);
}

#[test]
fn only_what_says_who_somebody_is_may_go() {
    let (book, _) = logbook(&[staff(), about_p()].concat());
    let service = book.records().service(&"s".into()).unwrap().hash.clone();
    let founding = book.log().foundings()[0].to_owned();
    for (of, hash) in [(p(), service.clone()), (Subject::Person("t".into()), service), (Subject::Academy, founding)] {
        let erasure = Erasure { of, hashes: vec![hash], what: "all".to_owned(), why: "no".to_owned() };
        let draft = Draft::erased(&"owner".into(), erasure);
        let now = at("2026-03-03T10:00:00+00:00");
        assert!(book.prepare(std::slice::from_ref(&draft), now, &mut fresh(6)).is_err());
        // Forced in from elsewhere, it takes nothing away.
        let (id, device, previous) = ("forced".into(), "z".into(), String::new());
        let place = crate::entry::Place { id, device, sequence: 1, previous, at: now, salt: "1".repeat(32) };
        let forced = Entry::write(&draft, place).unwrap();
        let opened = Logbook::open("d".into(), &[book.lines(), vec![forced.line().to_owned()]].concat(), "");
        assert!(opened.log().entries().all(|entry| *entry.content() != Content::Withheld));
    }
}

/// A keyed academy with somebody's contact on the phone, and the erasures that several keys sign.
fn keyed() -> (Vec<Entry>, Entry, Vec<Entry>) {
    let mut world = World::new();
    let mut laptop = super::trust::Device::new("laptop", 4);
    let scope = Scope::Owning;
    let (key, person) = (laptop.key(), Some("owner".into()));
    let admission = Admission { key, device: "laptop".into(), person, scope, label: "laptop".to_owned() };
    let admitted = world.academy.write("owner", Fact::KeyAdmitted(admission));
    let noted =
        world.phone.write("t", Draft::contact_noted(&"t".into(), p(), SECRET[0].to_owned(), String::new()).fact);
    world.take(&admitted);
    world.take(&noted);
    let entries = world.log.entries().map(|entry| entry.as_ref().clone()).collect();
    let erasure = Fact::Erased(Erasure {
        of: p(),
        hashes: vec![noted.hash().to_owned()],
        what: "a name".to_owned(),
        why: "asked".to_owned(),
    });
    let good = laptop.write("owner", erasure.clone());
    let unsigned = crate::entry::Place {
        id: "unsigned".into(),
        device: "desk".into(),
        sequence: 1,
        previous: String::new(),
        at: super::trust::when(),
        salt: "1".repeat(32),
    };
    let mut stranger = super::trust::Device::new("stranger", 9);
    let bad = vec![
        world.phone.write("t", erasure.clone()),
        world.phone.write("owner", erasure.clone()),
        world.tablet.write("i", erasure.clone()),
        stranger.write("owner", erasure.clone()),
        Entry::write(&Draft::new(&"owner".into(), erasure), unsigned).unwrap(),
    ];
    (entries, good, bad)
}

#[test]
fn in_an_academy_with_a_key_only_the_owners_signature_erases() {
    let (entries, good, bad) = keyed();
    let open = |more: &[&Entry]| {
        let lines: Vec<&str> = entries.iter().chain(more.iter().copied()).map(Entry::line).collect();
        Logbook::open("reader".into(), &lines, "")
    };
    for forged in &bad {
        let book = open(&[forged]);
        assert!(book.records().contact_of(&p()).is_some(), "{:?}", book.trust().of_entry(forged, book.log()));
    }
    let book = open(&bad.iter().chain([&good]).collect::<Vec<_>>());
    assert_eq!(book.records().contact_of(&p()), None);
    assert!(book.lines().iter().all(|line| !line.contains(SECRET[0])));
    assert_eq!(book.log().problems().len(), open(&bad.iter().collect::<Vec<_>>()).log().problems().len());
}

#[test]
fn a_key_that_usurps_the_academys_erases_nothing_where_the_true_one_is_known() {
    let founded = World::new();
    let (truth, mut usurper) = (founded.academy.key(), super::trust::Device::new("usurper", 7));
    let lines: Vec<String> = founded.log.lines().map(str::to_owned).collect();
    let mut world = founded;
    let noted =
        world.phone.write("t", Draft::contact_noted(&"t".into(), p(), SECRET[0].to_owned(), String::new()).fact);
    let made = usurper.write("owner", Fact::AcademyKeyMade { adopts: Vec::new() });
    let mut laptop = super::trust::Device::new("laptop", 4);
    let admission = Admission {
        key: laptop.key(),
        device: "laptop".into(),
        person: Some("owner".into()),
        scope: Scope::Owning,
        label: "laptop".to_owned(),
    };
    let admitted = usurper.write("owner", Fact::KeyAdmitted(admission));
    let (hashes, what, why) = (vec![noted.hash().to_owned()], "a name".to_owned(), "asked".to_owned());
    let erased = laptop.write("owner", Fact::Erased(Erasure { of: p(), hashes, what, why }));
    let lines: Vec<String> =
        lines.into_iter().chain([noted, made, admitted, erased].map(|entry| entry.line().to_owned())).collect();
    let book = Logbook::open_pinned("reader".into(), &lines, "", Some(truth));
    assert!(book.records().contact_of(&p()).is_some() && !book.holds_erased());
    let usurped = Logbook::open_pinned("reader".into(), &lines, "", Some(usurper.key()));
    assert!(usurped.records().contact_of(&p()).is_none(), "the test erases where it is believed");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn in_whatever_order_and_parts_entries_come_an_erased_body_stays_away(order in any::<u64>(), cut in any::<u8>()) {
        let (entries, good, _) = keyed();
        let mut lines: Vec<String> =
            entries.iter().chain([&good]).map(|entry| entry.line().to_owned()).collect();
        // Some copies were handed on without bodies, and some lines come twice.
        let extra: Vec<String> = entries.iter().enumerate()
            .filter(|(place, _)| cut >> (place % 8) & 1 == 1)
            .map(|(_, entry)| entry.without_body().line().to_owned()).collect();
        lines.extend(extra);
        let mut draw = order | 1;
        for place in (1..lines.len()).rev() {
            draw = draw.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            lines.swap(place, (draw >> 33) as usize % (place + 1));
        }
        // In two parts, as two files would bring them in.
        let half = lines.len() / 2;
        let mut book = Logbook::open("reader".into(), &lines[..half], "");
        book.catch_up(&lines, "");
        let straight: Vec<&str> = entries.iter().chain([&good]).map(Entry::line).collect();
        let straight = Logbook::open("reader".into(), &straight, "");
        prop_assert_eq!(book.lines(), straight.lines());
        prop_assert_eq!(book.records(), straight.records());
        prop_assert!(book.lines().iter().all(|line| !line.contains(SECRET[0])));
    }
}
