//! An invented service at the couch, tap by tap.

use practicum::couch::fold::Run;
use practicum::couch::{Act, Analysis, Direction, DwellPlan, LastLift, Opening, ShieldChoice, Tap, Tint, What};
use practicum::course_book::{CourseBook, LashCondition, Medium, Reach, Stage, Work};
use practicum::eye::Eye;
use practicum::ids::{PersonId, PracticeModelId, ServiceId};
use practicum::moment::{Moment, Reading};
use practicum::practice_model::{Screening, ScreeningAnswer};
use practicum::product::{Lot, ProductKind};
use practicum::section::{Plan, Sections};
use practicum::service::{Closing, Service};

use super::dice::Dice;

/// What an invented service is like.
#[derive(Debug, Clone)]
pub(super) struct Script {
    /// Identifier.
    pub(super) id: ServiceId,
    /// Who works.
    pub(super) trainee: PersonId,
    /// On whom.
    pub(super) person: PracticeModelId,
    /// When it begins.
    pub(super) began: Moment,
    /// Plan.
    pub(super) plan: Plan,
    /// Hands-on seconds of a beginner are multiplied by this.
    pub(super) pace: f64,
    /// Seconds by which each dwell is ended past its plan.
    pub(super) late: u32,
    /// Lash condition.
    pub(super) condition: LashCondition,
    /// Products and lots.
    pub(super) products: Vec<(ProductKind, Lot)>,
    /// Tint.
    pub(super) tint: Tint,
    /// An assessor will mark it.
    pub(super) assessed: bool,
    /// A reaction stops it during the lift lotion.
    pub(super) reaction: Option<practicum::ids::IncidentId>,
}

/// Taps a script through and makes its record; `None` when the course book lacks a stage it needs.
pub(super) fn work(book: &CourseBook, script: &Script, dice: &mut Dice) -> Option<Service> {
    let opening = Opening {
        id: script.id.clone(),
        trainee: script.trainee.clone(),
        what: What::Service,
        plan: script.plan,
        room: "Room 2".to_owned(),
        products: script.products.clone(),
        course_book: book.id.clone(),
    };
    let mut couch = Couch { taps: Vec::new(), began: script.began, ms: 0 };
    couch.tap(Act::Begin);
    prepare(&mut couch, book, script, dice);
    let stages: Vec<&Stage> =
        book.stages.iter().filter(|stage| !stage.only_with_tint || script.tint == Tint::Own).collect();
    for stage in stages.into_iter().skip(1) {
        if let (Work::Dwell(ProductKind::Lift), Some(incident)) = (stage.work, &script.reaction) {
            react(&mut couch, stage, incident);
            break;
        }
        stage_taps(&mut couch, stage, script, dice);
    }
    if script.reaction.is_none() {
        couch.tap(Act::Finish);
    }
    let run = Run::fold(book, &opening, &couch.taps);
    let closing =
        Closing { aftercare_given: Some(script.reaction.is_none()), comfort: String::new(), note: String::new() };
    Service::from_run(&run, &opening, &couch.taps, Medium::Live, closing)
}

/// The taps so far; time moves only when told.
struct Couch {
    taps: Vec<Tap>,
    began: Moment,
    ms: u64,
}

impl Couch {
    fn wait(&mut self, seconds: u32) {
        self.ms += u64::from(seconds) * 1_000;
    }

    fn tap(&mut self, act: Act) {
        let passed = chrono::Duration::milliseconds(i64::try_from(self.ms).unwrap_or(i64::MAX));
        let reading = Reading { at: self.began + passed, page: 7, mono_ms: self.ms };
        let sequence = u32::try_from(self.taps.len()).unwrap_or(u32::MAX);
        self.taps.push(Tap { sequence, reading, act });
    }
}

fn prepare(couch: &mut Couch, book: &CourseBook, script: &Script, dice: &mut Dice) {
    couch.wait(dice.about(90));
    couch.tap(Act::PracticeModel(script.person.clone()));
    couch.tap(Act::ConsentChecked);
    let answer = |question: &practicum::course_book::ScreeningQuestion| ScreeningAnswer {
        question: question.id.clone(),
        yes: false,
        written_advice: None,
    };
    let screening = Screening {
        practice_model: script.person.clone(),
        at: script.began,
        answers: book.screening.iter().map(answer).collect(),
        guardian_present: false,
    };
    couch.wait(dice.about(150));
    couch.tap(Act::Screened(screening));
    couch.tap(Act::TintChosen(script.tint));
    couch.tap(Act::TestsChecked);
    let length_mm = u8::try_from(8 + dice.below(4)).unwrap_or(9);
    let middle = book.shields.get(book.shields.len() / 2).map(|shield| shield.id.clone());
    for eye in Eye::BOTH {
        couch.wait(dice.about(40));
        couch.tap(Act::Analysed(
            eye,
            Analysis {
                length_mm,
                condition: script.condition,
                direction: Direction::Straight,
                last_lift: LastLift::Never,
            },
        ));
        if let Some(chosen) = middle.clone() {
            couch.tap(Act::ShieldChosen(eye, ShieldChoice { tried: vec![(chosen.clone(), Reach::TwoThirds)], chosen }));
        }
        couch.tap(Act::SectionsSet(eye, sections(script.plan)));
        for (kind, _) in &script.products {
            if let Some(example) = book.dwell_example(*kind, script.condition, script.tint == Tint::Mixed) {
                let plan = DwellPlan {
                    planned: example.planned,
                    minimum: example.minimum,
                    maximum: example.maximum,
                    label_maximum: example.maximum + 120,
                };
                couch.tap(Act::DwellSet(eye, *kind, plan));
            }
        }
    }
    couch.tap(Act::WillBeAssessed(script.assessed));
    couch.tap(Act::SoundChecked(true));
    if let Some(first) = book.stages.first() {
        couch.tap(Act::Done(first.id.clone(), None));
    }
}

fn sections(plan: Plan) -> Sections {
    plan.sections()
}

/// A beginner's hands-on seconds in quarters, one eye or both together.
fn beginner(stage: &Stage, plan: Plan) -> f64 {
    let by_plan = match plan {
        Plan::Quarters => 1.0,
        Plan::Thirds => 0.85,
        Plan::Halves => 0.7,
        Plan::Whole => 0.45,
    };
    match stage.id.as_str() {
        "cleanse" => 260.0,
        "lower-protection" => 290.0,
        "shield" => 200.0,
        "lash-up" => 720.0 * by_plan,
        "release" => 380.0,
        "finish" => 300.0,
        _ => 240.0,
    }
}

fn stage_taps(couch: &mut Couch, stage: &Stage, script: &Script, dice: &mut Dice) {
    let seconds = |dice: &mut Dice| dice.about_f(beginner(stage, script.plan) * script.pace);
    match stage.work {
        Work::Check => {
            couch.tap(Act::CheckStarts(stage.id.clone()));
            couch.wait(dice.about(80));
            couch.tap(Act::CheckDone { stage: stage.id.clone(), by: None, go_on: true, note: String::new() });
        }
        Work::HandsOn if !stage.per_eye => {
            couch.tap(Act::Work(stage.id.clone(), None));
            couch.wait(seconds(dice));
            couch.tap(Act::Done(stage.id.clone(), None));
        }
        Work::HandsOn => {
            for eye in Eye::BOTH {
                couch.tap(Act::Work(stage.id.clone(), Some(eye)));
                let parts = if stage.by_section { u32::from(sections(script.plan).number()) } else { 1 };
                let each = seconds(dice) / parts;
                for _ in 0..parts {
                    couch.wait(each);
                    if stage.by_section {
                        couch.tap(Act::SectionDone(stage.id.clone(), eye));
                    }
                }
                couch.tap(Act::Done(stage.id.clone(), Some(eye)));
            }
        }
        Work::Dwell(kind) => dwell(couch, stage, kind, script, dice),
    }
    couch.wait(dice.about(12));
}

fn dwell(couch: &mut Couch, stage: &Stage, kind: ProductKind, script: &Script, dice: &mut Dice) {
    let plan = couch.taps.iter().find_map(|tap| match &tap.act {
        Act::DwellSet(_, set, plan) if *set == kind => Some(*plan),
        _ => None,
    });
    let Some(plan) = plan else { return };
    let mut due = Vec::new();
    for eye in Eye::BOTH {
        couch.tap(Act::LotionStarts(stage.id.clone(), eye));
        let longest = couch.ms + u64::from(plan.maximum) * 1_000;
        couch.wait(dice.about(35));
        couch.tap(Act::AllOn(stage.id.clone(), eye));
        due.push((eye, longest.min(couch.ms + u64::from(plan.planned) * 1_000)));
        couch.wait(5);
    }
    for (eye, at) in due {
        couch.ms = couch.ms.max(at + u64::from(script.late) * 1_000);
        couch.tap(Act::AlarmHeard(eye));
        couch.tap(Act::OffStarts(stage.id.clone(), eye));
        couch.wait(dice.about(30));
        couch.tap(Act::OffDone(stage.id.clone(), eye));
    }
}

fn react(couch: &mut Couch, stage: &Stage, incident: &practicum::ids::IncidentId) {
    couch.tap(Act::LotionStarts(stage.id.clone(), Eye::Left));
    couch.wait(40);
    couch.tap(Act::AllOn(stage.id.clone(), Eye::Left));
    couch.wait(110);
    couch.tap(Act::Reaction(incident.clone()));
    couch.wait(960);
    couch.tap(Act::Stop(practicum::couch::Stop::Reaction));
}
