//! Claims about answers that are given again, or too late.

use super::*;

fn ignored(book: &CourseBook, couch: &Couch) -> Vec<String> {
    Run::fold(book, &opening(book), &couch.taps).ignored().iter().map(|(_, why)| why.clone()).collect()
}

fn with_lotion() -> Couch {
    let mut couch = lotion_couch();
    couch.tap(Act::LotionStarts("lift".into(), Eye::Left)).wait(20).tap(Act::AllOn("lift".into(), Eye::Left));
    couch
}

fn analysis(condition: LashCondition) -> Analysis {
    Analysis { length_mm: 9, condition, direction: Direction::Straight, last_lift: LastLift::Never }
}

#[test]
fn another_practice_model_is_asked_everything_anew() {
    let (book, mut couch) = (book(), lotion_couch());
    couch.tap(Act::PracticeModel("p2".into()));
    let opening = opening(&book);
    let run = Run::fold(&book, &opening, &couch.taps);
    let missing = run.missing_before_lotion();
    for what in
        ["check the consents", "answer the screening", "check the sensitivity tests", "analyse the lashes of both eyes"]
    {
        assert!(missing.contains(&what), "{what} is not asked anew: {missing:?}");
    }
    assert!(run.prepared().dwell_plans.is_empty() && !run.prepared().check_passed);
    assert_eq!(run.status(&"check".into(), None), Status::NotStarted);
    couch.check_passed();
    assert!(Run::fold(&book, &opening, &couch.taps).prepared().check_passed, "the check can be passed anew");
}

#[test]
fn naming_the_same_practice_model_again_changes_nothing() {
    let (book, mut couch) = (book(), lotion_couch());
    couch.tap(Act::PracticeModel("p1".into()));
    assert_eq!(Run::fold(&book, &opening(&book), &couch.taps).missing_before_lotion(), Vec::<&str>::new());
}

#[test]
fn another_lash_condition_asks_for_the_figures_of_that_eye_anew() {
    let (book, mut couch) = (book(), lotion_couch());
    couch.tap(Act::Analysed(Eye::Left, analysis(LashCondition::Weak)));
    couch.tap(Act::LotionStarts("lift".into(), Eye::Left)).tap(Act::LotionStarts("lift".into(), Eye::Right));
    assert_eq!(ignored(&book, &couch), ["no dwell figures for the lift lotion on the left eye"]);
}

#[test]
fn last_contact_is_tapped_once_so_that_no_dwell_grows() {
    let (book, mut couch) = (book(), with_lotion());
    couch.wait(300).tap(Act::AllOn("lift".into(), Eye::Left));
    let opening = opening(&book);
    let run = Run::fold(&book, &opening, &couch.taps);
    let dwell = run.product_on(Eye::Left).unwrap();
    assert_eq!(dwell.last_contact.unwrap() - dwell.first_contact, 20);
    assert_eq!(ignored(&book, &couch), ["the product is all on already"]);
}

#[test]
fn what_was_declared_before_lotion_stays_once_lotion_is_on() {
    let (book, mut couch) = (book(), with_lotion());
    couch.tap(Act::WillBeAssessed(false)).tap(Act::PracticeModel("p2".into()));
    couch.tap(Act::WillBeAssessed(true)).tap(Act::TintChosen(Tint::Own));
    let opening = opening(&book);
    let run = Run::fold(&book, &opening, &couch.taps);
    assert_eq!(run.prepared().will_be_assessed, Some(true));
    assert_eq!(run.prepared().practice_model, Some("p1".into()));
    assert_eq!(run.prepared().tint, Some(Tint::Own), "a tint of its own may still be chosen");
    assert_eq!(ignored(&book, &couch).len(), 2);
}

#[test]
fn tint_cannot_be_mixed_in_or_out_once_the_setting_lotion_was_on() {
    let (book, mut couch) = (book(), with_lotion());
    couch.wait(360).tap(Act::OffStarts("lift".into(), Eye::Left)).wait(20).tap(Act::OffDone("lift".into(), Eye::Left));
    couch.tap(Act::LotionStarts("setting".into(), Eye::Left)).tap(Act::TintChosen(Tint::Mixed));
    assert_eq!(ignored(&book, &couch), ["the tint or the setting lotion has touched an eye already"]);
}

#[test]
fn a_product_is_not_exchanged_while_it_is_on_an_eye() {
    let (book, mut couch) = (book(), with_lotion());
    let lot = Lot { product: "x".into(), number: "7".into(), opened_on: None };
    couch.tap(Act::ProductChosen(lot.clone(), ProductKind::Lift)).tap(Act::ProductChosen(lot, ProductKind::Setting));
    assert_eq!(ignored(&book, &couch), ["this product is on an eye now"]);
}

#[test]
fn a_stage_is_not_finished_without_being_begun_and_a_dwell_only_by_its_own_taps() {
    let (book, mut couch) = (book(), lotion_couch());
    couch.tap(Act::Done("release".into(), Some(Eye::Left))).tap(Act::Done("lift".into(), Some(Eye::Left)));
    assert_eq!(ignored(&book, &couch), ["this stage has not begun", "this stage has its own taps"]);
}

#[test]
fn nobody_lets_their_own_service_pass_the_check_or_go_on_after_a_reaction() {
    let (book, mut couch) = (book(), Couch::begun());
    let done =
        |by: &str| Act::CheckDone { stage: "check".into(), by: Some(by.into()), go_on: true, note: String::new() };
    couch.tap(Act::CheckStarts("check".into())).tap(done("t1")).tap(done("i1"));
    couch.tap(Act::Reaction("r1".into()));
    let go_on = |by: &str| Act::GoOn { by: by.into(), note: "rinsed, no redness".into() };
    couch.tap(go_on("t1"));
    assert_eq!(ignored(&book, &couch).len(), 2);
    couch.tap(go_on("i1"));
    let opening = opening(&book);
    let run = Run::fold(&book, &opening, &couch.taps);
    assert_eq!((run.phase(), run.ignored().len()), (&Phase::Running, 2));
}

#[test]
fn off_without_a_last_contact_is_judged_by_the_first() {
    let (book, mut couch) = (book(), lotion_couch());
    couch.tap(Act::LotionStarts("lift".into(), Eye::Left)).wait(40).tap(Act::OffStarts("lift".into(), Eye::Left));
    let opening = opening(&book);
    let times = Run::fold(&book, &opening, &couch.taps).times();
    assert_eq!(times.dwells[0].judge(0, 30), DwellJudgement::Short);
}

#[test]
fn the_alarm_calls_again_at_each_limit_that_is_passed() {
    let (book, mut couch) = (book(), with_lotion());
    let heard = |couch: &Couch| {
        let opening = opening(&book);
        Run::fold(&book, &opening, &couch.taps).at(&couch.reading()).alarm_heard(Eye::Left)
    };
    couch.wait(360).tap(Act::AlarmHeard(Eye::Left));
    assert!(heard(&couch), "planned dwell");
    couch.wait(39);
    assert!(heard(&couch), "one second before the maximum");
    couch.wait(1);
    assert!(!heard(&couch), "maximum, 420 s from first contact");
    couch.tap(Act::AlarmHeard(Eye::Left)).wait(179);
    assert!(heard(&couch));
    couch.wait(1);
    assert!(!heard(&couch), "label maximum, 600 s from first contact");
}

#[test]
fn the_rinse_runs_from_the_reaction_whatever_is_tapped_after_it() {
    let (book, mut couch) = (book(), lotion_couch());
    couch.tap(Act::Reaction("r1".into()));
    let opening = opening(&book);
    let at = Run::fold(&book, &opening, &couch.taps).seconds();
    couch.wait(200).tap(Act::SoundChecked(true));
    assert_eq!(Run::fold(&book, &opening, &couch.taps).reacted_at(), Some(at));
}
