//! A small course book and records to test with; its figures are made up.

use std::collections::BTreeMap;

use crate::couch::times::{Dwell, Times};
use crate::couch::{Analysis, Direction, DwellPlan, LastLift, Opening, ShieldChoice, Tint, What};
use crate::course_book::*;
use crate::eye::{Eye, PerEye};
use crate::ids::*;
use crate::moment::{Moment, Seconds, parse_moment};
use crate::outcome::{FaultSeen, Marked, Outcome};
use crate::person::{Person, Role};
use crate::product::ProductKind;
use crate::section::{Plan, WorkedPlan};
use crate::service::{Ending, Origin, Service, WrittenTimes};
use crate::standing::PlanDecision;

pub(crate) fn moment(text: &str) -> Moment {
    parse_moment(text).unwrap()
}

/// Noon of the first of March 2026, and so many days later.
pub(crate) fn on_day(days: u64) -> Moment {
    moment("2026-03-01T12:00:00+01:00") + chrono::Days::new(days)
}

fn criterion(id: &str, safety_critical: bool, core: bool) -> Criterion {
    Criterion {
        id: id.into(),
        label: id.to_owned(),
        descriptors: std::array::from_fn(|level| format!("{id} {level}")),
        safety_critical,
        core,
        in_drills: true,
        without_tint: true,
        watches_clocks: id == "timing",
    }
}

fn question(id: &str, group: ScreeningGroup) -> ScreeningQuestion {
    ScreeningQuestion { id: id.into(), group, question: format!("{id}?"), advice: format!("advice on {id}") }
}

fn fault(id: &str, safety: bool) -> Fault {
    Fault {
        id: id.into(),
        label: id.into(),
        causes: vec![format!("cause of {id}")],
        coaching: format!("try {id}"),
        safety,
    }
}

fn plan(plan: Plan) -> SectionPlan {
    let target = Target { seconds: 3600, per_eye: false, measure: Measure::ServiceTime };
    let (label, allowed) = (plan.word().to_owned(), vec![plan.sections()]);
    SectionPlan { plan, label, allowed, stage_targets: Vec::new(), service_target: target }
}

fn rules() -> Rules {
    Rules {
        widen_last: 3,
        widen_steady_percent: 2.0,
        narrow_after_breach: true,
        narrow_after_low: 2,
        quality_last: 3,
        breach_free_last: 4,
        target_plan: Plan::Whole,
        late_seconds: 30,
        early_warning_seconds: 30,
        fault_short: (2, 3),
        fault_long: (3, 6),
        pause_percent: 10,
        trial: TrialRules {
            unacceptable: 0.3,
            acceptable: 0.05,
            horizon: 30,
            alpha: 0.05,
            shortest_run: 9,
            unassessed_share: 0.2,
            score: None,
            assessors: AssessorRules::default(),
            rule: TrialRule::default(),
        },
        two_eyes: Some(TwoEyeRules { last: 6, planned_share: 0.9, most_overrun: 0.05 }),
        forecast: Some(ForecastRules {
            tau: 0.05,
            ahead: 15,
            standard_chance: 0.8,
            standard_last: 3,
            standard_leeway_percent: 10.0,
        }),
        refresher_days: 56,
        supervised_days: 91,
        reobserve_days: 183,
        lapse_days: 365,
        follow_up_days: Vec::new(),
        case_study: None,
        retention: None,
        group: None,
        double: None,
        overridable: vec!["test-interval-academy".into()],
    }
}

pub(crate) fn book() -> CourseBook {
    CourseBook {
        id: "Example 1".into(),
        title: "Example".into(),
        edition: "1".into(),
        stages: Vec::new(),
        plans: Plan::ALL.into_iter().map(plan).collect(),
        dwell_examples: Vec::new(),
        shields: Vec::new(),
        reach_advice: Default::default(),
        criteria: vec![
            criterion("hygiene", true, false),
            criterion("timing", false, false),
            criterion("curl", false, true),
            criterion("symmetry", false, true),
        ],
        drills: vec![DrillKind {
            id: "strip".into(),
            label: "Strip".into(),
            medium: Medium::Strip,
            stages: Vec::new(),
            criteria: vec!["curl".into()],
        }],
        faults: vec![fault("crossed", false), fault("too near", true)],
        competencies: Vec::new(),
        independence: Vec::new(),
        rules: rules(),
        screening: vec![
            question("infection", ScreeningGroup::DoNotTreat),
            question("glaucoma", ScreeningGroup::Refer),
            question("lenses", ScreeningGroup::Adapt),
        ],
        test_rule: TestRule { academy_hours: 48, insurer_hours: 24, expires_days: 180 },
        rinse_minutes: 15,
        first_response: Vec::new(),
        swelling_steps: Vec::new(),
        first_response_sources: Vec::new(),
        aftercare: Vec::new(),
        cautions: Vec::new(),
        regions: Vec::new(),
        pause_reasons: Vec::new(),
        consent_version: "2".into(),
        photo_consent_texts: [None, None],
        consent_texts: Default::default(),
        handouts: Vec::new(),
        sources: Vec::new(),
    }
}

pub(crate) fn trainee() -> Person {
    Person {
        id: "trainee".into(),
        name: "A".into(),
        role: Role::Trainee,
        group: String::new(),
        since: None,
        left: None,
        show_times_early: false,
    }
}

/// A finished live service on a day, with its hands-on seconds.
pub(crate) fn service(number: u32, day: u64, plan: Plan, hands_on: Seconds) -> Service {
    let id = ServiceId::new(format!("s{number:03}"));
    let opening = Opening {
        id: id.clone(),
        trainee: "trainee".into(),
        what: What::Service,
        plan,
        room: String::new(),
        products: Vec::new(),
        course_book: "Example 1".into(),
    };
    let analysis = Analysis {
        length_mm: 8,
        condition: LashCondition::Average,
        direction: Direction::Straight,
        last_lift: LastLift::Never,
    };
    let shield = ShieldChoice { tried: Vec::new(), chosen: "m".into() };
    Service {
        id,
        trainee: "trainee".into(),
        medium: Medium::Live,
        drill: None,
        practice_model: Some(PracticeModelId::new(format!("pm{number}"))),
        began: on_day(day) + chrono::TimeDelta::seconds(i64::from(number)),
        course_book: "Example 1".into(),
        room: String::new(),
        sections: PerEye::from_fn(|_| Some(plan.sections())),
        worked: Some(WorkedPlan { sections: plan.sections(), mixed: false }),
        analysis: PerEye::from_fn(|_| Some(analysis.clone())),
        shields: PerEye::from_fn(|_| Some(shield.clone())),
        tint: Tint::None,
        products: Vec::new(),
        will_be_assessed: Some(true),
        overrides: Vec::new(),
        incident: None,
        ending: Ending::Finished,
        aftercare_given: Some(true),
        comfort: String::new(),
        note: String::new(),
        times: Times { service: Some(hands_on * 2), hands_on: Some(hands_on), pauses: Some(0), ..Times::default() },
        origin: Origin::Live { opening, taps: Vec::new() },
    }
}

/// Makes a service an imported one.
pub(crate) fn imported(mut service: Service) -> Service {
    service.origin = Origin::Imported { batch: "b".into(), line: 2, times: WrittenTimes::default() };
    service
}

/// Makes a service a late entry.
pub(crate) fn late(mut service: Service) -> Service {
    service.origin = Origin::Late(WrittenTimes::default());
    service
}

/// Makes a service a strip drill.
pub(crate) fn drill(mut service: Service) -> Service {
    service.medium = Medium::Strip;
    service.drill = Some("strip".into());
    service
}

/// Gives a service a dwell past the label maximum.
pub(crate) fn past_label(mut service: Service) -> Service {
    let figures = DwellPlan { planned: 360, minimum: 300, maximum: 420, label_maximum: 480 };
    service.times.dwells.push(Dwell {
        stage: "lift".into(),
        product: ProductKind::Lift,
        eye: Eye::Left,
        first_contact: 1000,
        last_contact: Some(1020),
        off: Some(1481),
        interrupted: false,
        plan: Some(figures),
    });
    service
}

/// An assessor's view with one level everywhere, but for the named criteria.
pub(crate) fn outcome(service: &Service, marker: &str, level: Mark, but: &[(&str, Mark)]) -> Outcome {
    let mut marks = BTreeMap::new();
    for id in ["hygiene", "timing", "curl", "symmetry"] {
        let special = but.iter().find(|(named, _)| *named == id).map(|(_, mark)| *mark);
        marks.insert(CriterionId::from(id), Marked::Level(special.unwrap_or(level)));
    }
    Outcome {
        service: service.id.clone(),
        marker: marker.into(),
        at: service.began + chrono::TimeDelta::hours(3),
        marks,
        faults: Vec::new(),
        comment: String::new(),
        independence_next: None,
        observed: true,
    }
}

/// Adds a fault on the left eye.
pub(crate) fn with_fault(mut outcome: Outcome, fault: &str) -> Outcome {
    outcome.faults.push(FaultSeen { fault: fault.into(), eye: Eye::Left, section: None });
    outcome
}

/// An instructor's plan decision in the evening of a day.
pub(crate) fn decision(day: u64, plan: Plan) -> PlanDecision {
    PlanDecision {
        id: EntryId::new(format!("d{day}")),
        trainee: "trainee".into(),
        plan,
        at: on_day(day) + chrono::TimeDelta::hours(8),
        by: "instructor".into(),
        why: "seen".into(),
    }
}
