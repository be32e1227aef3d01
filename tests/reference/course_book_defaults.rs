//! The example course book against the figures of common practice.
//!
//! Source: `data/common_practice.json`, common practice, no source.

use practicum::course_book::{CourseBook, LashCondition, Measure, Reach, Work, example, text};
use practicum::product::ProductKind;
use practicum::section::{Plan, Sections};
use serde_json::Value;

fn book() -> CourseBook {
    text::read(&example::files()).expect("the example course book is sound")
}

fn figures() -> Value {
    let figures: Value = serde_json::from_str(include_str!("data/common_practice.json")).expect("valid JSON");
    assert_eq!(figures["provenance"], "common practice, no source");
    figures
}

fn minutes(value: &Value) -> u32 {
    u32::try_from(value.as_u64().expect("whole minutes")).expect("small") * 60
}

fn word<'a>(figures: &'a Value, key: &str) -> &'a str {
    figures[key].as_str().expect("a text")
}

fn cautions(book: &CourseBook, stage: &str) -> String {
    book.stage(&stage.into()).expect("stage").cautions.join(" ")
}

#[test]
fn lift_lotion_dwells_as_common_practice_says() {
    let (book, figures) = (book(), figures());
    let lift = &figures["lift_lotion"];
    for condition in LashCondition::ALL {
        let example = book.dwell_example(ProductKind::Lift, condition, false).expect("an example");
        assert_eq!(example.planned, minutes(&lift["planned_minutes"][condition.word()]), "{condition:?}");
        assert_eq!(example.minimum, minutes(&lift["window_minutes"][0]));
        assert_eq!(example.maximum, minutes(&lift["window_minutes"][1]));
        assert_eq!(example.source, "common practice, no source");
    }
}

#[test]
fn setting_lotion_dwells_longer_with_tint_mixed_in() {
    let (book, figures) = (book(), figures());
    let setting = &figures["setting_lotion"];
    for condition in LashCondition::ALL {
        let planned = |with_tint| {
            let example = book.dwell_example(ProductKind::Setting, condition, with_tint).expect("an example");
            assert_eq!(example.with_tint, with_tint);
            assert!(example.maximum > example.planned, "running a little over is tolerated here");
            assert!(example.source.contains("common practice, no source"));
            example.planned
        };
        assert_eq!(planned(true), minutes(&setting["planned_minutes_with_tint_mixed_in"]));
        assert_eq!(planned(false), minutes(&setting["planned_minutes_without_tint"]));
    }
}

#[test]
fn tips_end_two_thirds_up_the_shield() {
    let (book, figures) = (book(), figures());
    let advice = |reach: Reach| {
        let at = Reach::ALL.iter().position(|other| *other == reach).expect("one of all");
        &book.reach_advice[at]
    };
    assert!(advice(Reach::TwoThirds).contains(word(&figures["shield"], "tips_end_at")));
    assert!(advice(Reach::TwoThirds).contains("fits"));
    assert!(advice(Reach::OverTop).contains(word(&figures["shield"], "tips_past_the_crest")));
    assert!(advice(Reach::BarelyHalf).contains("too large"));
}

#[test]
fn quarters_come_first_and_then_halves() {
    let (book, figures) = (book(), figures());
    let order: Vec<Plan> = figures["learning_order_sections_per_eye"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|number| Sections::new(number.as_u64().expect("a number") as u8).expect("1 to 8").plan())
        .collect();
    assert_eq!(order, [Plan::Quarters, Plan::Halves]);
    let whole = book.competencies.iter().find(|competency| competency.whole_service).expect("one");
    let asked: Vec<Plan> = whole.evidence.at_plan.iter().map(|(plan, _)| *plan).collect();
    assert_eq!(asked, [order, vec![Plan::Whole]].concat(), "thirds are allowed and not asked for");
    assert_eq!(book.plans[0].plan, Plan::Quarters);
}

#[test]
fn lash_up_takes_the_largest_share_of_hands_on_time_at_every_plan() {
    let (book, figures) = (book(), figures());
    for plan in &book.plans {
        let (stage, _) = plan.stage_targets.iter().max_by_key(|(_, target)| target.both_eyes()).expect("targets");
        assert_eq!(stage.as_str(), word(&figures, "largest_share_of_a_service"), "{}", plan.label);
    }
}

#[test]
fn the_whole_service_aims_below_thirty_minutes_and_no_other_plan_does() {
    let (book, figures) = (book(), figures());
    let aim = minutes(&figures["whole_service_below_minutes"]);
    for plan in &book.plans {
        assert_eq!(plan.service_target.measure, Measure::ServiceTime);
        assert!(!plan.service_target.per_eye);
        assert_eq!(plan.service_target.seconds <= aim, plan.plan == Plan::Whole, "{}", plan.label);
    }
}

#[test]
fn cautions_and_aftercare_say_what_common_practice_says() {
    let (book, figures) = (book(), figures());
    assert!(cautions(&book, "shield").contains(word(&figures, "shield_at_a_slant")));
    assert!(cautions(&book, "lash-up").contains(word(&figures, "corner_lashes")));
    assert!(cautions(&book, "lash-up").contains("stay so for the life of the lift"));
    assert!(cautions(&book, "lift").contains(word(&figures, "after_lift_lotion")));
    assert!(cautions(&book, "lift").contains("tips, lash line and waterline stay clear"));
    assert!(cautions(&book, "release").contains(word(&figures, "after_setting_lotion")));
    assert!(cautions(&book, "tint").contains(word(&figures, "kept_away_from_the_lash")));
    let hours = figures["aftercare_hours_without_steam_and_hot_water"].as_u64().expect("hours");
    let first = &book.aftercare[0];
    assert!(first.contains(&format!("{hours} hours")) && first.contains("steam") && first.contains("hot water"));
    let sheet = &book.handouts.iter().find(|(name, _)| name == "aftercare.md").expect("the sheet").1;
    assert!(sheet.contains("about six weeks") && figures["a_lift_lasts_weeks"] == 6);
}

#[test]
fn the_first_line_of_every_first_response_is_the_same() {
    let book = book();
    for product in ProductKind::ALL {
        let response = book.first_response.iter().find(|response| response.product == product).expect("each product");
        assert_eq!(response.steps[0], "Stop. Take the product off both eyes now.");
        assert!(response.steps.iter().any(|step| step.contains("at least 15 minutes")));
    }
    assert_eq!(book.rinse_minutes, 15);
}

#[test]
fn tint_is_off_in_the_united_states() {
    assert!(book().region(&"us".into()).expect("us").tint_off);
}

#[test]
fn an_instructor_looks_before_any_lotion() {
    let book = book();
    let place = |wanted: &dyn Fn(&Work) -> bool| book.stages.iter().position(|stage| wanted(&stage.work));
    assert!(place(&|work| *work == Work::Check) < place(&|work| matches!(work, Work::Dwell(_))));
}
