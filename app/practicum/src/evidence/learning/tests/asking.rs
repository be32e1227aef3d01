//! Which services count, as what, and for whom.

use super::super::*;
use crate::couch::Stop;
use crate::couch::times::StageTime;
use crate::course_book::{CourseBook, Measure, Part, Stage, Target, Work};
use crate::evidence::example::{book, drill, imported, late, on_day, service, trainee};
use crate::evidence::{Books, LeftOut, curve_time};
use crate::eye::Eye;
use crate::ids::PersonId;
use crate::person::{Person, Role};
use crate::section::{Plan, Sections, WorkedPlan};
use crate::service::{Ending, Service};

fn person(id: &str, group: &str, role: Role) -> Person {
    Person { id: id.into(), group: group.into(), role, ..trainee() }
}

fn of(who: &str, number: u32, mut service: Service) -> Service {
    service.trainee = who.into();
    service.id = format!("{who}-{number:03}").as_str().into();
    service
}

fn asked(people: &[Person], services: &[Service], book: &CourseBook, response: &Response, day: u64) -> Asked {
    let people: Vec<&Person> = people.iter().collect();
    let services: Vec<&Service> = services.iter().collect();
    let books = Books { present: book, adopted: &[] };
    ask(&Wanted {
        trainee: &PersonId::from("trainee"),
        people: &people,
        services: &services,
        books: &books,
        response,
        now: &on_day(day),
        present: Plan::Quarters,
    })
}

/// A course book with one shared stage and one per eye, both with hands-on targets.
fn staged() -> CourseBook {
    let stage = |id: &str, per_eye: bool, part: Part| Stage {
        id: id.into(),
        label: id.into(),
        part,
        work: Work::HandsOn,
        per_eye,
        by_section: false,
        interruptible: true,
        longest_wait_after: None,
        only_with_tint: false,
        cautions: Vec::new(),
    };
    let mut book = book();
    book.stages = vec![
        stage("talk", false, Part::Before),
        stage("cleanse", false, Part::Service),
        stage("lash-up", true, Part::Service),
    ];
    for plan in &mut book.plans {
        let target = |seconds: u32, per_eye: bool| Target { seconds, per_eye, measure: Measure::HandsOn };
        plan.stage_targets = vec![
            ("talk".into(), target(900, false)),
            ("cleanse".into(), target(300, false)),
            ("lash-up".into(), target(840, true)),
        ];
    }
    book
}

fn mixed(mut service: Service) -> Service {
    service.worked = Some(WorkedPlan { sections: Sections::THIRDS, mixed: true });
    service
}

#[test]
fn every_live_service_is_counted_and_only_a_time_that_stands_is_fitted() {
    let mut unknown = service(6, 6, Plan::Halves, 2100);
    unknown.worked = None;
    let mut before_lotion = service(7, 7, Plan::Halves, 2000);
    before_lotion.ending = Ending::Stopped(Stop::BeforeLotion("eye infection".into()));
    let mut stopped = service(8, 8, Plan::Halves, 1900);
    stopped.ending = Ending::Stopped(Stop::Reaction);
    let mut long_pauses = service(9, 9, Plan::Halves, 1800);
    long_pauses.times.pauses = Some(900);
    let mut doubtful = service(10, 10, Plan::Halves, 1700);
    doubtful.times.doubts.push("clock set back".into());
    let mut by_hand = service(11, 11, Plan::Halves, 1600);
    by_hand.times.edited = true;
    let services = [
        imported(service(1, 1, Plan::Quarters, 3000)),
        drill(service(2, 2, Plan::Quarters, 600)),
        service(3, 3, Plan::Quarters, 2900),
        late(service(4, 4, Plan::Quarters, 2800)),
        mixed(service(5, 5, Plan::Quarters, 2700)),
        unknown,
        before_lotion,
        stopped,
        long_pauses,
        doubtful,
        by_hand,
        service(12, 12, Plan::Halves, 0),
        service(13, 13, Plan::Halves, 32_400),
    ];
    let found = asked(&[trainee()], &services, &book(), &Response::Whole, 20);
    let rows: Vec<(u32, Plan, u32, f64)> =
        found.ask.rows.iter().map(|row| (row.number, row.plan, row.within, row.seconds)).collect();
    let expected = [
        (2, Plan::Quarters, 1, 2900.0),
        (4, Plan::Thirds, 1, 2700.0),
        (7, Plan::Halves, 2, 1800.0),
        (11, Plan::Halves, 6, 32_400.0),
    ];
    assert_eq!(rows, expected, "drills and what stopped before lotion have no number");
    assert_eq!((found.ask.done, found.ask.done_at), (11, [2, 1, 6, 0]));
    assert_eq!(found.ask.weeks, 1.0);
    assert_eq!(found.ask.past.len(), 9, "all but the imported one and the one without a plan");
    let left_out: Vec<(&str, Vec<LeftOut>)> =
        found.left_out.iter().map(|(id, why)| (id.as_str(), why.clone())).collect();
    assert_eq!(
        left_out,
        [
            ("s001", vec![LeftOut::Imported]),
            ("s004", vec![LeftOut::Late]),
            ("s006", vec![LeftOut::MixedPlan]),
            ("s008", vec![LeftOut::Stopped]),
            ("s010", vec![LeftOut::Doubtful]),
            ("s011", vec![LeftOut::Edited]),
            ("s012", vec![LeftOut::NoTime]),
        ]
    );
    assert_eq!(found.service(2).map(|id| id.as_str()), Some("s009"));
}

#[test]
fn the_order_of_services_and_people_asks_the_same() {
    let people = [trainee(), person("b", "spring", Role::Trainee), person("c", "spring", Role::Trainee)];
    let mut services: Vec<Service> = (1..=6).map(|n| service(n, u64::from(n), Plan::Quarters, 3000 - n)).collect();
    services.extend((1..=4).map(|n| of("b", n, service(n, u64::from(n), Plan::Halves, 2500 + n))));
    let forwards = asked(&people, &services, &book(), &Response::Whole, 9);
    services.reverse();
    let mut backwards_people = people.to_vec();
    backwards_people.reverse();
    assert_eq!(asked(&backwards_people, &services, &book(), &Response::Whole, 9), forwards);
}

#[test]
fn a_group_of_fewer_than_three_with_times_is_fitted_with_the_whole_academy() {
    let mut own = trainee();
    own.group = "spring".into();
    let people = [
        own,
        person("b", "spring", Role::Trainee),
        person("c", "spring", Role::Trainee),
        person("d", "autumn", Role::Trainee),
        person("i", "spring", Role::Instructor),
    ];
    let one = |who: &str| of(who, 1, service(1, 1, Plan::Quarters, 3000));
    let mut services = vec![one("trainee"), one("b"), one("d"), one("i"), imported(one("c"))];
    let academy = asked(&people, &services, &book(), &Response::Whole, 2);
    let names = |asked: &Asked| asked.trainees.iter().map(ToString::to_string).collect::<Vec<_>>();
    assert_eq!((academy.ask.pool, names(&academy)), (Pool::Academy, vec!["b".into(), "d".into(), "trainee".into()]));
    assert_eq!(academy.ask.trainee, Some(2));
    services.push(of("c", 2, service(2, 2, Plan::Quarters, 2900)));
    let group = asked(&people, &services, &book(), &Response::Whole, 2);
    assert_eq!((group.ask.pool, names(&group)), (Pool::Group, vec!["b".into(), "c".into(), "trainee".into()]));
    let c = group.ask.rows.iter().find(|row| row.trainee == 1).unwrap();
    assert_eq!((c.number, c.within), (2, 1), "the imported one has a number and no place within the plan");
}

#[test]
fn targets_are_hands_on_and_a_sum_of_stages_has_to_be_whole() {
    let whole = |book: &CourseBook| asked(&[trainee()], &[], book, &Response::Whole, 1).ask;
    assert_eq!(whole(&book()).targets, [None; 4], "service time is no hands-on target");
    let mut book = staged();
    assert_eq!(whole(&book).target(Plan::Halves), Some(300.0 + 2.0 * 840.0), "the talk before is no part");
    let stage = asked(&[trainee()], &[], &book, &Response::Stage("lash-up".into()), 1).ask;
    assert_eq!(stage.target(Plan::Halves), Some(1680.0));
    book.plans[2].stage_targets.remove(1);
    assert_eq!(whole(&book).target(Plan::Halves), None);
    book.plans[2].service_target.measure = Measure::HandsOn;
    assert_eq!(whole(&book).target(Plan::Halves), Some(3600.0));
    assert_eq!(whole(&book).plans, [Plan::Quarters, Plan::Thirds, Plan::Whole], "present, next and target");
}

#[test]
fn a_stage_counts_both_eyes_or_not_at_all() {
    let book = staged();
    let books = Books { present: &book, adopted: &[] };
    let mut one = service(1, 1, Plan::Quarters, 3000);
    let time = |stage: &str, eye: Option<Eye>, hands_on: u32| StageTime { stage: stage.into(), eye, hands_on };
    one.times.stages =
        vec![time("cleanse", None, 200), time("lash-up", Some(Eye::Left), 900), time("lash-up", Some(Eye::Left), 30)];
    let seconds = |service: &Service, stage: &str| curve_time(service, &books, Some(&stage.into()));
    assert_eq!(seconds(&one, "cleanse"), Ok(200));
    assert_eq!(seconds(&one, "lash-up"), Err(vec![LeftOut::NoTime]));
    one.times.stages.push(time("lash-up", Some(Eye::Right), 800));
    assert_eq!(seconds(&one, "lash-up"), Ok(1730));
    assert_eq!(seconds(&one, "unknown"), Err(vec![LeftOut::NoTime]));
}

#[test]
fn nobody_and_nothing_can_be_asked_about() {
    let found = asked(&[], &[], &book(), &Response::Whole, 1);
    assert_eq!((found.ask.trainee, found.ask.done, found.ask.weeks), (None, 0, 0.0));
    let said = answer(&found.ask);
    assert_eq!(said.basis, Basis::Nothing(TooLittle::NoTimes));
    let mut old = book();
    old.rules.forecast = None;
    let said = answer(&asked(&[trainee()], &[], &old, &Response::Whole, 1).ask);
    assert!(said.curves.iter().all(|curve| curve.no_ahead == Some(NoForecast::NoFigures)));
}
