//! Claims about runs: worked examples with figures, and properties over random taps.

mod late_answers;
mod wrong_clocks;

use proptest::prelude::*;

use super::fold::{Phase, Run, Status, to_take_back};
use super::times::DwellJudgement;
use super::*;
use crate::course_book::{CourseBook, LashCondition, Work, example, text};
use crate::moment::parse_moment;
use crate::product::ProductKind;

fn book() -> CourseBook {
    text::read(&example::files()).expect("the example course book is sound")
}

fn opening(book: &CourseBook) -> Opening {
    Opening {
        id: "s1".into(),
        trainee: "t1".into(),
        what: What::Service,
        plan: Plan::Quarters,
        room: String::new(),
        products: Vec::new(),
        course_book: book.id.clone(),
    }
}

/// A run being tapped: time moves only when told.
struct Couch {
    taps: Vec<Tap>,
    ms: u64,
}

impl Couch {
    fn begun() -> Self {
        let mut couch = Couch { taps: Vec::new(), ms: 0 };
        couch.tap(Act::Begin);
        couch
    }

    fn reading(&self) -> Reading {
        let start = parse_moment("2026-03-02T10:00:00+00:00").unwrap();
        Reading { at: start + chrono::Duration::milliseconds(self.ms as i64), page: 1, mono_ms: self.ms }
    }

    fn wait(&mut self, seconds: u64) -> &mut Self {
        self.ms += seconds * 1000;
        self
    }

    fn tap(&mut self, act: Act) -> &mut Self {
        let sequence = self.taps.len() as u32;
        self.taps.push(Tap { sequence, reading: self.reading(), act });
        self
    }

    fn prepare(&mut self) -> &mut Self {
        let screening = Screening {
            practice_model: "p1".into(),
            at: self.reading().at,
            answers: Vec::new(),
            guardian_present: false,
        };
        self.tap(Act::PracticeModel("p1".into()))
            .tap(Act::ConsentChecked)
            .tap(Act::Screened(screening))
            .tap(Act::TestsChecked)
            .tap(Act::TintChosen(Tint::None))
            .tap(Act::WillBeAssessed(true));
        for eye in Eye::BOTH {
            let analysis = Analysis {
                length_mm: 9,
                condition: LashCondition::Average,
                direction: Direction::Straight,
                last_lift: LastLift::Never,
            };
            let choice = ShieldChoice { tried: vec![("m".into(), Reach::TwoThirds)], chosen: "m".into() };
            self.tap(Act::Analysed(eye, analysis))
                .tap(Act::ShieldChosen(eye, choice))
                .tap(Act::SectionsSet(eye, Sections::QUARTERS));
            for kind in [ProductKind::Lift, ProductKind::Setting] {
                let plan = DwellPlan { planned: 360, minimum: 300, maximum: 420, label_maximum: 600 };
                self.tap(Act::DwellSet(eye, kind, plan));
            }
        }
        self.tap(Act::Done("consultation".into(), None))
    }

    fn check_passed(&mut self) -> &mut Self {
        self.tap(Act::CheckStarts("check".into())).wait(60).tap(Act::CheckDone {
            stage: "check".into(),
            by: None,
            go_on: true,
            note: String::new(),
        })
    }
}

fn lotion_couch() -> Couch {
    let mut couch = Couch::begun();
    couch.wait(600).prepare().tap(Act::Work("cleanse".into(), None)).wait(120).tap(Act::Done("cleanse".into(), None));
    couch.check_passed();
    couch
}

#[test]
fn service_time_is_the_sum_of_its_four_parts() {
    let (book, mut couch) = (book(), lotion_couch());
    let opening = opening(&book);
    couch.tap(Act::Work("lash-up".into(), Some(Eye::Left))).wait(200).tap(Act::Pause("phone".into())).wait(50);
    couch.tap(Act::Resume).wait(10).tap(Act::Done("lash-up".into(), Some(Eye::Left))).wait(30);
    couch.tap(Act::Work("finish".into(), None)).wait(40).tap(Act::Done("finish".into(), None)).wait(500);
    couch.tap(Act::Work("clear-down".into(), None)).wait(90).tap(Act::Finish);
    let run = Run::fold(&book, &opening, &couch.taps);
    assert_eq!(run.ignored(), &[]);
    let times = run.times();
    assert_eq!(times.hands_on, Some(120 + 210 + 40));
    assert_eq!(times.pauses, Some(50));
    assert_eq!(times.checks, Some(60));
    assert_eq!(times.waiting, Some(30));
    assert_eq!(times.service, Some(510), "neither consultation nor clear-down nor what follows the final check counts");
}

#[test]
fn tapping_into_the_other_eye_stops_the_first_clock() {
    let (book, mut couch) = (book(), Couch::begun());
    let opening = opening(&book);
    couch.tap(Act::Work("lash-up".into(), Some(Eye::Left))).wait(100);
    couch.tap(Act::Work("lash-up".into(), Some(Eye::Right))).wait(70);
    let run = Run::fold(&book, &opening, &couch.taps).at(&couch.reading());
    assert_eq!(run.worked(&"lash-up".into(), Some(Eye::Left)), 100);
    assert_eq!(run.worked(&"lash-up".into(), Some(Eye::Right)), 70);
    assert_eq!(run.status(&"lash-up".into(), Some(Eye::Left)), Status::Begun);
}

#[test]
fn lotion_is_refused_while_anything_is_missing() {
    let (book, mut couch) = (book(), Couch::begun());
    let opening = opening(&book);
    couch.tap(Act::LotionStarts("lift".into(), Eye::Left));
    let run = Run::fold(&book, &opening, &couch.taps);
    assert!(!run.lotion_begun());
    assert_eq!(run.ignored().len(), 1);
    assert_eq!(run.missing_before_lotion().len(), 10);
}

#[test]
fn the_two_dwell_clocks_judge_as_defined() {
    let cases = [
        (30, 360, DwellJudgement::Within),
        (30, 299, DwellJudgement::Short),
        (30, 391, DwellJudgement::Late),
        (30, 421, DwellJudgement::Overrun),
        (30, 571, DwellJudgement::PastLabel),
    ];
    for (putting_on, after, expected) in cases {
        let (book, mut couch) = (book(), lotion_couch());
        let opening = opening(&book);
        couch
            .tap(Act::LotionStarts("lift".into(), Eye::Left))
            .wait(putting_on)
            .tap(Act::AllOn("lift".into(), Eye::Left));
        couch.wait(after).tap(Act::OffStarts("lift".into(), Eye::Left)).wait(20);
        couch.tap(Act::OffDone("lift".into(), Eye::Left));
        let run = Run::fold(&book, &opening, &couch.taps);
        assert_eq!(run.ignored(), &[]);
        let dwell = &run.times().dwells[0];
        assert_eq!(dwell.judge(0, 30), expected, "{putting_on} s on, then {after} s");
        assert_eq!(run.worked(&"lift".into(), Some(Eye::Left)), putting_on as u32 + 20);
    }
}

#[test]
fn the_alarm_follows_whichever_limit_comes_first() {
    let (book, mut couch) = (book(), lotion_couch());
    let opening = opening(&book);
    couch.tap(Act::LotionStarts("lift".into(), Eye::Right));
    let start = Run::fold(&book, &opening, &couch.taps).seconds();
    couch.wait(30).tap(Act::AllOn("lift".into(), Eye::Right));
    let alarm = |couch: &Couch| Run::fold(&book, &opening, &couch.taps).product_on(Eye::Right).unwrap().alarm_at();
    assert_eq!(alarm(&couch), Some(start + 30 + 360), "planned dwell from last contact comes first");
    couch.tap(Act::TakeBack).wait(70).tap(Act::AllOn("lift".into(), Eye::Right));
    assert_eq!(alarm(&couch), Some(start + 420), "maximum from first contact comes first");
    let gone: Vec<&Act> = fold::taken_back(&couch.taps).into_iter().map(|tap| &tap.act).collect();
    assert_eq!(gone, [&Act::AllOn("lift".into(), Eye::Right)], "what was taken back stays listed, once");
}

#[test]
fn a_reaction_interrupts_both_eyes_at_that_second() {
    let (book, mut couch) = (book(), lotion_couch());
    let opening = opening(&book);
    couch.tap(Act::LotionStarts("lift".into(), Eye::Left)).wait(40).tap(Act::AllOn("lift".into(), Eye::Left)).wait(10);
    couch.tap(Act::LotionStarts("lift".into(), Eye::Right)).wait(15).tap(Act::Reaction("i1".into())).wait(300);
    couch.tap(Act::Work("finish".into(), None));
    let run = Run::fold(&book, &opening, &couch.taps);
    let off: Vec<_> = run.dwells().iter().map(|d| (d.off, d.interrupted)).collect();
    let second = run.seconds() - 300;
    assert_eq!(off, vec![(Some(second), true), (Some(second), true)]);
    assert_eq!(run.ignored().len(), 1, "work waits for an instructor's decision");
    couch.tap(Act::Stop(Stop::Reaction));
    assert_eq!(*Run::fold(&book, &opening, &couch.taps).phase(), Phase::Stopped(Stop::Reaction));
}

#[test]
fn lotion_on_can_be_taken_back_only_as_a_slip() {
    let (book, mut couch) = (book(), lotion_couch());
    let opening = opening(&book);
    couch.wait(1).tap(Act::LotionStarts("lift".into(), Eye::Left)).wait(20);
    assert_eq!(to_take_back(&couch.taps, &couch.reading()).len(), 1);
    couch.wait(20);
    assert!(to_take_back(&couch.taps, &couch.reading()).is_empty());
    couch.tap(Act::TakeBack);
    assert!(Run::fold(&book, &opening, &couch.taps).lotion_begun());
}

#[test]
fn what_one_touch_recorded_goes_back_together() {
    let (book, mut couch) = (book(), Couch::begun());
    let opening = opening(&book);
    couch.wait(5).tap(Act::Work("cleanse".into(), None)).wait(60);
    let touch = [Act::Done("cleanse".into(), None), Act::Work("lash-up".into(), Some(Eye::Left))];
    for act in touch.clone() {
        couch.tap(act);
    }
    couch.wait(7).tap(Act::ClockSeen);
    let undone: Vec<Act> = to_take_back(&couch.taps, &couch.reading()).iter().map(|tap| tap.act.clone()).collect();
    assert_eq!(undone, [touch[1].clone(), touch[0].clone()]);
    for _ in undone {
        couch.tap(Act::TakeBack);
    }
    let gone: Vec<&Act> = fold::taken_back(&couch.taps).into_iter().map(|tap| &tap.act).collect();
    assert_eq!(gone, [&touch[0], &touch[1]]);
    let run = Run::fold(&book, &opening, &couch.taps);
    assert_eq!(run.worked(&"cleanse".into(), None), 67, "its clock went on");
    let next: Vec<&Act> = to_take_back(&couch.taps, &couch.reading()).iter().map(|tap| &tap.act).collect();
    assert_eq!(next, [&Act::Work("cleanse".into(), None)]);
}

#[test]
fn unequal_or_changed_sections_are_mixed_and_the_larger_number_counts() {
    let (book, mut couch) = (book(), Couch::begun());
    let opening = opening(&book);
    couch.tap(Act::SectionsSet(Eye::Left, Sections::HALVES)).tap(Act::SectionsSet(Eye::Right, Sections::HALVES));
    let plan = |couch: &Couch| Run::fold(&book, &opening, &couch.taps).worked_plan().unwrap();
    assert!(!plan(&couch).mixed);
    couch.tap(Act::Work("lash-up".into(), Some(Eye::Left))).wait(60);
    couch.tap(Act::SectionsSet(Eye::Left, Sections::QUARTERS));
    assert!(plan(&couch).mixed);
    assert_eq!(plan(&couch).sections, Sections::QUARTERS);
}

fn any_act(book: &CourseBook) -> impl Strategy<Value = Act> + use<> {
    let stages: Vec<_> = book.stages.iter().map(|s| (s.id.clone(), s.per_eye, s.work)).collect();
    let eye = prop_oneof![Just(Eye::Left), Just(Eye::Right)];
    (0..stages.len(), eye, 0..14_u8).prop_map(move |(place, eye, what)| {
        let (stage, per_eye, work) = stages[place].clone();
        let key = per_eye.then_some(eye);
        match what {
            0 => Act::Done(stage, key),
            1 => Act::SectionDone(stage, eye),
            2 => Act::Pause("rest".into()),
            3 => Act::Resume,
            4 => Act::CheckStarts(stage),
            5 => Act::CheckDone { stage, by: None, go_on: true, note: String::new() },
            6 => Act::TakeBack,
            7 | 8 => Act::AllOn(stage, eye),
            9 => Act::OffStarts(stage, eye),
            10 => Act::OffDone(stage, eye),
            _ if matches!(work, Work::Dwell(_)) => Act::LotionStarts(stage, eye),
            _ => Act::Work(stage, key),
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn any_taps_give_times_that_add_up(
        steps in proptest::collection::vec((any_act(&book()), 0_i64..400_000, -7_200_000_i64..7_200_000, 0..20_u8), 0..60),
    ) {
        let book = book();
        let opening = opening(&book);
        let mut couch = lotion_couch();
        let (mut wall_shift, mut page) = (0_i64, 1_u32);
        for (act, pass, jump, chance) in steps {
            couch.ms += pass as u64;
            if chance == 0 { wall_shift += jump; }
            if chance == 1 { page += 1; }
            couch.tap(act);
            let last = couch.taps.last_mut().unwrap();
            last.reading.at += chrono::Duration::milliseconds(wall_shift);
            last.reading.page = page;
        }
        let run = Run::fold(&book, &opening, &couch.taps);
        let times = run.times();
        let sum = times.hands_on.unwrap() + times.pauses.unwrap() + times.checks.unwrap() + times.waiting.unwrap();
        prop_assert_eq!(times.service, Some(sum));
        let inside: u32 = times.stages.iter()
            .filter(|t| !["consultation", "clear-down"].contains(&t.stage.as_str()))
            .map(|t| t.hands_on).sum();
        prop_assert_eq!(times.hands_on, Some(inside), "one pair of hands: stage clocks never overlap");
        for dwell in &times.dwells {
            let last = dwell.last_contact.unwrap_or(dwell.first_contact);
            prop_assert!(dwell.first_contact <= last && last <= dwell.off.unwrap_or(u32::MAX));
        }
        // A run told in two parts is the run told in one: a dead phone changes nothing.
        let half = couch.taps.len() / 2;
        let first = Run::fold(&book, &opening, &couch.taps[..half]);
        prop_assert!(first.seconds() <= run.seconds());
    }
}
