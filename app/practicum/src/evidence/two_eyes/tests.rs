//! Layouts at a made-up pace, checked by hand.

use super::*;
use crate::couch::times::{Dwell, StageTime};
use crate::course_book::{SectionPlan, Target};
use crate::evidence::Books;
use crate::evidence::example;
use crate::evidence::pace::{Pace, paces};

fn stage(id: &str, work: Work, per_eye: bool) -> Stage {
    Stage {
        id: id.into(),
        label: id.to_owned(),
        part: Part::Service,
        work,
        per_eye,
        by_section: false,
        interruptible: false,
        longest_wait_after: (id == "lash-up").then_some(300),
        only_with_tint: id == "tint",
        cautions: Vec::new(),
    }
}

fn book() -> CourseBook {
    let mut book = example::book();
    book.stages = vec![
        stage("cleanse", Work::HandsOn, false),
        stage("lash-up", Work::HandsOn, true),
        stage("check", Work::Check, false),
        stage("lift", Work::Dwell(ProductKind::Lift), true),
        stage("tint", Work::Dwell(ProductKind::Tint), true),
        stage("finish", Work::HandsOn, false),
    ];
    let target = |seconds, per_eye| Target { seconds, per_eye, measure: Measure::HandsOn };
    let service_target = Target { seconds: 1800, per_eye: false, measure: Measure::ServiceTime };
    book.plans = vec![SectionPlan {
        plan: Plan::Halves,
        label: "Halves".to_owned(),
        allowed: Vec::new(),
        stage_targets: vec![("lash-up".into(), target(300, true)), ("lift".into(), target(60, true))],
        service_target,
    }];
    book
}

/// Times that never vary as far as the planner knows: what is planned is what is typical.
fn pace(stage: &str, piece: Piece, typical: f64) -> Pace {
    Pace { stage: stage.into(), piece, typical, log_sd: 0.0, times: 6 }
}

fn steady() -> Vec<Pace> {
    vec![
        pace("cleanse", Piece::Work, 200.0),
        pace("lash-up", Piece::Work, 600.0),
        pace("lift", Piece::PutOn, 60.0),
        pace("lift", Piece::TakeOff, 40.0),
        pace("finish", Piece::Work, 100.0),
    ]
}

const FIGURES: DwellPlan = DwellPlan { planned: 300, minimum: 240, maximum: 480, label_maximum: 600 };

fn wanted<'a>(book: &'a CourseBook, paces: &'a [Pace], dwells: &'a [(ProductKind, DwellPlan)]) -> Wanted<'a> {
    Wanted { book, plan: Plan::Halves, tint: Tint::None, paces, dwells, check: 30 }
}

#[test]
fn one_eye_after_the_other_adds_up_and_overlapping_hides_one_dwell_in_the_other() {
    let (book, paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    let laid = two_eyes(&wanted(&book, &paces, &dwells)).unwrap();
    // Cleansing, two lash-ups, the look, twice (on, dwell, off), the finish.
    assert_eq!(laid.apart.total, 200 + 2 * 600 + 30 + 2 * (60 + 300 + 40) + 100);
    // On left, on right, the left eye's dwell from its last contact, off left, off right.
    assert_eq!(laid.together.total, 200 + 2 * 600 + 30 + (60 + 300 + 40) + 60 + 100);
    assert!(laid.gains() && laid.holds());
    assert_eq!(laid.target, Some(1800));
}

#[test]
fn hands_do_one_thing_at_a_time_and_every_dwell_is_inside_its_window() {
    let (book, mut paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    for pace in &mut paces {
        pace.log_sd = 0.2;
    }
    let laid = two_eyes(&wanted(&book, &paces, &dwells)).unwrap();
    for layout in [&laid.apart, &laid.together] {
        let hands: Vec<&Block> =
            layout.blocks.iter().filter(|block| matches!(block.kind, BlockKind::Hands(_))).collect();
        assert!(hands.windows(2).all(|pair| pair[0].until <= pair[1].from), "{hands:?}");
        let dwells: Vec<&Block> =
            layout.blocks.iter().filter(|block| matches!(block.kind, BlockKind::Dwell(_))).collect();
        assert_eq!(dwells.len(), 2);
        for dwell in dwells {
            let put_on =
                layout.blocks.iter().find(|block| block.eye == dwell.eye && block.until == dwell.from).unwrap();
            assert!(dwell.until - dwell.from >= FIGURES.planned, "never shorter than planned");
            assert_eq!(dwell.until - put_on.from + dwell.spare.unwrap(), FIGURES.maximum, "the rest of the window");
        }
    }
    // A planned minute is longer than a typical one.
    assert!(laid.apart.total > 200 + 2 * 600 + 30 + 2 * (60 + 300 + 40) + 100);
}

#[test]
fn a_plan_that_is_often_overrun_does_not_hold() {
    let (mut book, mut paces) = (book(), steady());
    for pace in &mut paces {
        pace.log_sd = 0.5;
    }
    let close = |maximum| [(ProductKind::Lift, DwellPlan { maximum, ..FIGURES })];
    let wide = two_eyes(&wanted(&book, &paces, &close(600))).unwrap();
    assert!(wide.holds(), "{}", wide.together.largest_overrun());
    // Putting on is planned at 60 s times e^(.5 x 1.2816) = 114 s: the window closes 1 s after the planned dwell.
    let tight = two_eyes(&wanted(&book, &paces, &close(415))).unwrap();
    assert!(!tight.holds(), "{}", tight.together.largest_overrun());
    assert!(tight.apart.blocks.iter().all(|block| block.overrun.is_none()));
    book.rules.two_eyes = Some(TwoEyeRules { most_overrun: 1.0, ..tight.figures });
    assert!(two_eyes(&wanted(&book, &paces, &close(415))).unwrap().holds(), "the course book says how much passes");
}

#[test]
fn the_course_book_says_how_much_of_the_times_is_planned() {
    let (mut book, mut paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    for pace in &mut paces {
        pace.log_sd = 0.3;
    }
    let laid = |book: &CourseBook| two_eyes(&wanted(book, &paces, &dwells));
    let careful = laid(&book).unwrap();
    book.rules.two_eyes = Some(TwoEyeRules { planned_share: 0.5, ..careful.figures });
    let typical = laid(&book).unwrap();
    assert_eq!(typical.apart.total, 200 + 2 * 600 + 30 + 2 * (60 + 300 + 40) + 100, "half the times are longer");
    assert!(typical.apart.total < careful.apart.total);
    book.rules.two_eyes = None;
    assert_eq!(laid(&book), Err(NoLayout::NoFigures));
}

#[test]
fn work_that_never_stops_gains_nothing_by_overlapping() {
    let mut book = book();
    book.stages.retain(|stage| !matches!(stage.work, Work::Dwell(_)));
    let paces = steady();
    let laid = two_eyes(&wanted(&book, &paces, &[])).unwrap();
    assert!(!laid.gains());
    assert_eq!(laid.apart.total, laid.together.total);
}

#[test]
fn what_is_missing_is_named() {
    let (book, mut paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    assert_eq!(two_eyes(&wanted(&book, &paces, &[])), Err(NoLayout::NoDwell(vec![ProductKind::Lift])));
    paces.retain(|pace| pace.stage.as_str() != "lift" && pace.stage.as_str() != "finish");
    let error = two_eyes(&wanted(&book, &paces, &dwells)).unwrap_err();
    assert_eq!(error, NoLayout::NoTimes(vec!["lift".to_owned(), "finish".to_owned()]));
    let own = Wanted { tint: Tint::Own, ..wanted(&book, &paces, &dwells) };
    assert!(two_eyes(&own).unwrap_err().to_string().contains("tint"));
    assert!(two_eyes(&wanted(&book, &[], &dwells)).is_err());
}

#[test]
fn a_pace_that_no_window_takes_is_said_in_words_and_never_answered_by_a_longer_dwell() {
    let (book, mut paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    paces[2].typical = 181.0;
    let error = two_eyes(&wanted(&book, &paces, &dwells)).unwrap_err();
    assert!(matches!(&error, NoLayout::Window(said) if said.contains("lift") && said.contains("8:00")), "{error}");
    paces[2].typical = 180.0;
    assert!(two_eyes(&wanted(&book, &paces, &dwells)).is_ok());
}

#[test]
fn the_label_and_the_planned_dwell_bound_the_window() {
    let (book, paces) = (book(), steady());
    let tight = DwellPlan { label_maximum: 360, ..FIGURES };
    let dwells = [(ProductKind::Lift, tight)];
    let laid = two_eyes(&wanted(&book, &paces, &dwells)).unwrap();
    let spare = laid.together.blocks.iter().filter_map(|block| block.spare).max();
    assert_eq!(spare, Some(0), "60 s on and 300 s planned fill the label's 360 s");
}

#[test]
fn what_reaching_a_target_buys_is_seconds_of_service_time_most_first() {
    let (book, paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    let laid = two_eyes(&wanted(&book, &paces, &dwells)).unwrap();
    let said = |buying: &Buying| -> Vec<(String, u32)> {
        buying.stages.iter().map(|worth| (worth.stage.to_string(), worth.saves)).collect()
    };
    // One after the other every second on both eyes counts: lift work from 100 s to 60 s.
    assert_eq!(said(&laid.worth_apart), [("lash-up".to_owned(), 600), ("lift".to_owned(), 80)]);
    assert_eq!(laid.worth_apart.with_two, laid.apart.total - 680);
    // Two lash-ups from 600 s to 300 s; lift work from 100 s to 60 s: on 36 s, off 24 s. Overlapping, the length
    // is on, on (the second inside the first's dwell), the dwell, off, off.
    let saved = 460 - (36 + 36 + 300 + 24);
    assert_eq!(said(&laid.worth_together), [("lash-up".to_owned(), 600), ("lift".to_owned(), saved)]);
    assert_eq!(laid.worth_together.with_two, laid.together.total - 600 - saved);
    assert_eq!(laid.typical, (laid.apart.total, laid.together.total), "times that never vary");
}

#[test]
fn a_wait_longer_than_the_course_book_allows_is_said() {
    let (book, paces, dwells) = (book(), steady(), [(ProductKind::Lift, FIGURES)]);
    let laid = two_eyes(&wanted(&book, &paces, &dwells)).unwrap();
    // The left eye, lashed up first, waits for the right eye's lash-up and the look.
    assert_eq!(laid.waits.len(), 2, "{:?}", laid.waits);
    assert!(laid.waits[0].contains("left eye waits 10:30"), "{:?}", laid.waits);
}

#[test]
fn an_eye_never_waits_longer_between_two_stages_than_the_course_book_allows() {
    let mut book = book();
    let wait = 100;
    for stage in &mut book.stages {
        if stage.id.as_str() == "lift" {
            stage.longest_wait_after = Some(wait);
        }
    }
    let setting = stage("setting", Work::Dwell(ProductKind::Setting), true);
    book.stages.insert(4, setting);
    book.stages.insert(5, stage("release", Work::HandsOn, true));
    let mut paces = steady();
    paces.extend([pace("setting", Piece::PutOn, 40.0), pace("setting", Piece::TakeOff, 40.0)]);
    paces.push(pace("release", Piece::Work, 200.0));
    let dwells = [(ProductKind::Lift, FIGURES), (ProductKind::Setting, FIGURES)];
    let laid = two_eyes(&wanted(&book, &paces, &dwells)).unwrap();
    let starts = |layout: &Layout, eye, kind, name: &str| {
        let mut of = layout.blocks.iter().filter(|b| b.eye == Some(eye) && b.kind == kind && b.stage.as_str() == name);
        of.next().map(|block| (block.from, block.until)).unwrap()
    };
    assert!(laid.gains());
    for layout in [&laid.apart, &laid.together] {
        for eye in Eye::BOTH {
            let (_, off) = starts(layout, eye, BlockKind::Hands(Piece::TakeOff), "lift");
            let (on, _) = starts(layout, eye, BlockKind::Hands(Piece::PutOn), "setting");
            assert!(on >= off && on - off <= wait, "{eye:?}: {off} to {on}");
        }
    }
}

#[test]
fn paces_come_from_services_whose_time_stands() {
    let book = book();
    let books = Books { present: &book, adopted: &[] };
    let mut services: Vec<_> =
        (1..=4).map(|number| example::service(number, u64::from(number), Plan::Halves, 1000)).collect();
    for (service, seconds) in services.iter_mut().zip([100_u32, 200, 400, 9999]) {
        let on = Dwell {
            stage: "lift".into(),
            product: ProductKind::Lift,
            eye: Eye::Left,
            first_contact: 1000,
            last_contact: Some(1000 + seconds / 4),
            off: Some(1400),
            interrupted: false,
            plan: None,
        };
        service.times.dwells.push(on);
        for eye in Eye::BOTH {
            let time = |stage: &str| StageTime { stage: stage.into(), eye: Some(eye), hands_on: seconds };
            service.times.stages.extend([time("lash-up"), time("lift")]);
        }
    }
    services[3].times.edited = true;
    let services: Vec<_> = services.iter().collect();
    let found = paces(&services, &books, Plan::Halves, 3);
    let one =
        |stage: &str, piece| found.iter().find(|pace| pace.stage.as_str() == stage && pace.piece == piece).unwrap();
    let lash_up = one("lash-up", Piece::Work);
    assert_eq!((lash_up.typical, lash_up.times), (200.0, 6));
    // Logarithms 2 ln 2 apart around the middle, each twice: variance 4 (ln 2)^2 / 5.
    assert!((lash_up.log_sd - 2.0 * std::f64::consts::LN_2 / 5.0_f64.sqrt()).abs() < 1e-12);
    assert_eq!((one("lift", Piece::PutOn).typical, one("lift", Piece::TakeOff).typical), (50.0, 150.0));
    assert!(found.iter().all(|pace| pace.stage.as_str() != "cleanse"), "never worked");
    let last = paces(&services, &books, Plan::Halves, 1);
    assert_eq!(last[0].typical, 400.0, "the edited one does not stand");
    assert!(paces(&services, &books, Plan::Whole, 3).is_empty());
}
