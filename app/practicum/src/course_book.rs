//! The academy's course book: stages, plans, targets, rubric, faults, competencies, rules and cautions.
//!
//! Every number that decides anything stands here, never in code. A course book is made by
//! [`text::read`] from TOML, and is checked as a whole before anybody may use it.

pub mod example;
pub mod text;
mod trial_rule;

pub use trial_rule::TrialRule;

use crate::ids::{
    CompetencyId, CourseBookId, CriterionId, DrillKindId, FaultId, QuestionId, RegionId, ShieldId, StageId,
};
use crate::moment::Seconds;
use crate::product::ProductKind;
use crate::section::{Plan, Sections};

/// A checked course book.
#[derive(Debug, Clone, PartialEq)]
pub struct CourseBook {
    /// Title and edition in one text: every record keeps it.
    pub id: CourseBookId,
    /// Title.
    pub title: String,
    /// Edition, e.g. `1`.
    pub edition: String,
    /// Stages of a service in working order.
    pub stages: Vec<Stage>,
    /// Section plans, the beginner's first.
    pub plans: Vec<SectionPlan>,
    /// Examples of dwell figures shown beside empty fields.
    pub dwell_examples: Vec<DwellExample>,
    /// Shield sizes, the smallest first.
    pub shields: Vec<Shield>,
    /// What to say about where the tips end, for each [`Reach`].
    pub reach_advice: [String; 3],
    /// Rubric of the outcome.
    pub criteria: Vec<Criterion>,
    /// Kinds of drill.
    pub drills: Vec<DrillKind>,
    /// Faults with causes and one coaching line.
    pub faults: Vec<Fault>,
    /// Competencies with their evidence.
    pub competencies: Vec<Competency>,
    /// Independence levels 0 to 6, in order.
    pub independence: Vec<IndependenceLevel>,
    /// Rules of progression.
    pub rules: Rules,
    /// Screening questions.
    pub screening: Vec<ScreeningQuestion>,
    /// Rule for sensitivity tests.
    pub test_rule: TestRule,
    /// Minutes of rinsing in the first response.
    pub rinse_minutes: u32,
    /// First response for what is on the eye.
    pub first_response: Vec<FirstResponse>,
    /// Steps for swelling or trouble breathing.
    pub swelling_steps: Vec<String>,
    /// Public health sources of the first response.
    pub first_response_sources: Vec<String>,
    /// Aftercare lines.
    pub aftercare: Vec<String>,
    /// Standing cautions shown everywhere.
    pub cautions: Vec<String>,
    /// Regions with their cautions and tint rule.
    pub regions: Vec<Region>,
    /// Reasons offered for a pause.
    pub pause_reasons: Vec<String>,
    /// Version of the consent wording.
    pub consent_version: String,
    /// Wording of the consent for the service and for the record, in this order.
    pub consent_texts: [String; 2],
    /// Wording of the consent for photos and for showing them to others, in this order; `None` where the academy asks
    /// for none, so that no photo is kept or shown.
    pub photo_consent_texts: [Option<String>; 2],
    /// Handouts: file name and Markdown.
    pub handouts: Vec<(String, String)>,
    /// Where the figures come from: the part of the book, and its source or "no source".
    pub sources: Vec<(String, String)>,
}

/// Where in the visit a stage stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// Before the service time starts (consultation).
    Before,
    /// Within the service time.
    Service,
    /// After the service time (clear-down).
    After,
}

/// How a stage takes time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// The trainee works.
    HandsOn,
    /// A product works; putting it on and taking it off is hands-on.
    Dwell(ProductKind),
    /// An instructor looks.
    Check,
}

/// A stage of a service or a drill.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stage {
    /// Identifier.
    pub id: StageId,
    /// Name on screen.
    pub label: String,
    /// Where in the visit.
    pub part: Part,
    /// How it takes time.
    pub work: Work,
    /// One clock for each eye (`true`) or one for both.
    pub per_eye: bool,
    /// Worked section by section: a tap for each finished section.
    pub by_section: bool,
    /// May be left in the middle.
    pub interruptible: bool,
    /// Longest wait after it, in seconds.
    pub longest_wait_after: Option<Seconds>,
    /// Worked only when a tint stage of its own was chosen.
    pub only_with_tint: bool,
    /// Cautions shown while it runs.
    pub cautions: Vec<String>,
}

/// What a target is measured on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Hands-on time.
    HandsOn,
    /// Service time.
    ServiceTime,
}

/// A target in seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Target {
    /// Seconds allowed.
    pub seconds: Seconds,
    /// For each eye (`true`) or for both together.
    pub per_eye: bool,
    /// Measured on hands-on or service time.
    pub measure: Measure,
}

impl Target {
    /// Returns the seconds allowed for both eyes together.
    pub fn both_eyes(&self) -> Seconds {
        if self.per_eye { self.seconds.saturating_mul(2) } else { self.seconds }
    }
}

/// A section plan with all its targets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionPlan {
    /// Level.
    pub plan: Plan,
    /// Name on screen.
    pub label: String,
    /// Numbers of sections this plan allows on an eye.
    pub allowed: Vec<Sections>,
    /// Target of each stage.
    pub stage_targets: Vec<(StageId, Target)>,
    /// Target of the service.
    pub service_target: Target,
}

/// Lash condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LashCondition {
    /// Fine, sparse, brittle or recently lifted.
    Weak,
    /// Medium, healthy.
    Average,
    /// Coarse, straight, resistant.
    Strong,
}

impl LashCondition {
    /// All conditions in order.
    pub const ALL: [LashCondition; 3] = [LashCondition::Weak, LashCondition::Average, LashCondition::Strong];

    /// Returns the plain word.
    pub fn word(self) -> &'static str {
        match self {
            LashCondition::Weak => "weak",
            LashCondition::Average => "average",
            LashCondition::Strong => "strong",
        }
    }
}

/// An example of dwell figures, never a default for a live service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DwellExample {
    /// Kind of product.
    pub product: ProductKind,
    /// Lash condition.
    pub condition: LashCondition,
    /// With tint mixed in.
    pub with_tint: bool,
    /// Planned dwell, seconds.
    pub planned: Seconds,
    /// Least, seconds.
    pub minimum: Seconds,
    /// Longest, seconds.
    pub maximum: Seconds,
    /// Where the figures come from.
    pub source: String,
}

/// A shield size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shield {
    /// Identifier.
    pub id: ShieldId,
    /// Name on screen.
    pub label: String,
}

/// Where the tips end on a tried shield.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// Past the crest: the shield is too small.
    OverTop,
    /// About two thirds up: fits.
    TwoThirds,
    /// Barely half way: the shield is too large.
    BarelyHalf,
}

impl Reach {
    /// All, in the order of [`CourseBook::reach_advice`].
    pub const ALL: [Reach; 3] = [Reach::OverTop, Reach::TwoThirds, Reach::BarelyHalf];
}

/// Level of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mark {
    /// 0
    NotYet,
    /// 1
    Nearly,
    /// 2
    Meets,
    /// 3
    Strong,
}

impl Mark {
    /// All levels in order.
    pub const ALL: [Mark; 4] = [Mark::NotYet, Mark::Nearly, Mark::Meets, Mark::Strong];

    /// Returns the level as a number, 0 to 3.
    pub fn number(self) -> u8 {
        match self {
            Mark::NotYet => 0,
            Mark::Nearly => 1,
            Mark::Meets => 2,
            Mark::Strong => 3,
        }
    }

    /// Returns the level of a number; `None` above 3.
    pub fn from_number(number: u8) -> Option<Self> {
        Mark::ALL.get(usize::from(number)).copied()
    }

    /// Returns the word on screen.
    pub fn word(self) -> &'static str {
        match self {
            Mark::NotYet => "Not yet",
            Mark::Nearly => "Nearly",
            Mark::Meets => "Meets",
            Mark::Strong => "Strong",
        }
    }
}

/// A row of the rubric.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Criterion {
    /// Identifier.
    pub id: CriterionId,
    /// Name on screen.
    pub label: String,
    /// Descriptor of each level, in the order of [`Mark::ALL`].
    pub descriptors: [String; 4],
    /// A Not yet here makes the whole service Not yet.
    pub safety_critical: bool,
    /// Must be at least Meets for an acceptable service.
    pub core: bool,
    /// Applies to drills.
    pub in_drills: bool,
    /// Applies without tint.
    pub without_tint: bool,
    /// Its mark cannot be above what the clocks allow.
    pub watches_clocks: bool,
}

/// What is practised on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Medium {
    /// A live practice model: a service.
    Live,
    /// A strip: a drill.
    Strip,
    /// A practice head: a drill.
    Head,
}

impl Medium {
    /// Returns the plain word.
    pub fn word(self) -> &'static str {
        match self {
            Medium::Live => "live practice model",
            Medium::Strip => "strip",
            Medium::Head => "practice head",
        }
    }
}

/// A kind of drill.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrillKind {
    /// Identifier.
    pub id: DrillKindId,
    /// Name on screen.
    pub label: String,
    /// Strip or head.
    pub medium: Medium,
    /// Own short run of stages.
    pub stages: Vec<Stage>,
    /// Criteria that apply.
    pub criteria: Vec<CriterionId>,
}

/// A named defect seen in a result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Identifier.
    pub id: FaultId,
    /// Name on screen.
    pub label: String,
    /// Likely causes, the most likely first.
    pub causes: Vec<String>,
    /// One coaching line.
    pub coaching: String,
    /// Advised at once, not only when repeated.
    pub safety: bool,
}

/// Something signed off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Competency {
    /// Identifier.
    pub id: CompetencyId,
    /// Name on screen.
    pub label: String,
    /// Evidence it needs.
    pub evidence: EvidenceNeeded,
    /// It is the service competency: sign-off also needs the trial and the breach-free run.
    pub whole_service: bool,
}

/// Counts of evidence; zero where nothing is asked.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct EvidenceNeeded {
    /// Live services marked by an assessor.
    pub live: u32,
    /// Of these, acceptable services.
    pub acceptable: u32,
    /// Services at each plan.
    pub at_plan: Vec<(Plan, u32)>,
    /// Different practice models.
    pub practice_models: u32,
    /// Services for each lash condition.
    pub each_condition: u32,
    /// Different shield sizes.
    pub shield_sizes: u32,
    /// Services with tint.
    pub with_tint: u32,
    /// Services without tint.
    pub without_tint: u32,
    /// Services observed from end to end.
    pub observed: u32,
    /// Different calendar days on which one was observed from end to end.
    pub observed_days: u32,
    /// Only work on practice models in the real working environment counts: drills and imported rows are refused, and
    /// the evidence says how many.
    pub real_environment: bool,
    /// Different assessors.
    pub assessors: u32,
    /// Strip drills.
    pub strips: u32,
    /// Head drills.
    pub heads: u32,
    /// Criteria that must be at least Meets in the counted services; empty means the rule of an
    /// acceptable service.
    pub criteria: Vec<CriterionId>,
    /// Lowest independence level a sign-off may give.
    pub level_at_least: u8,
}

/// A level of independence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IndependenceLevel {
    /// 0 to 6.
    pub level: u8,
    /// Name on screen.
    pub label: String,
}

/// All thresholds of progression.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Widening looks at the last this many assessed services at the present plan.
    pub widen_last: u32,
    /// Hands-on time counts as steady when its trend over these is at most this many percent a service.
    pub widen_steady_percent: f64,
    /// Narrowing is advised after a safety breach.
    pub narrow_after_breach: bool,
    /// Narrowing is advised when the same core criterion is below Meets this many times in a row.
    pub narrow_after_low: u32,
    /// Quality is met at a plan when the last this many assessed services there are acceptable.
    pub quality_last: u32,
    /// A sign-off needs no safety breach in the last this many services at the target plan.
    pub breach_free_last: u32,
    /// Plan at which the service competency is signed off.
    pub target_plan: Plan,
    /// Seconds past the maximum that are late; beyond is overrun.
    pub late_seconds: Seconds,
    /// Early warning before the planned end of a dwell, seconds.
    pub early_warning_seconds: Seconds,
    /// Coaching: the same fault this many times...
    pub fault_short: (u32, u32),
    /// ... or this many times, each as (times, of the last).
    pub fault_long: (u32, u32),
    /// Pauses above this percentage of hands-on keep a service out of the time standard.
    pub pause_percent: u32,
    /// Thresholds of the trial.
    pub trial: TrialRules,
    /// Figures of the layout for two eyes, when one is laid out.
    pub two_eyes: Option<TwoEyeRules>,
    /// Figures of forecasts and of the time standard, when any are given.
    pub forecast: Option<ForecastRules>,
    /// Days without a service after which a refresher is due.
    pub refresher_days: u32,
    /// Days after which a supervised refresher is needed.
    pub supervised_days: u32,
    /// Days after which the trainee is observed again.
    pub reobserve_days: u32,
    /// Days after which a sign-off lapses.
    pub lapse_days: u32,
    /// Gate reasons that a named instructor may override, by the code of [`crate::gate::Reason`].
    pub overridable: Vec<String>,
    /// Days after a service at which the lift is looked at again, in order; empty where nobody does.
    pub follow_up_days: Vec<u32>,
    /// Window and resubmissions of a case study, when the academy sets any.
    pub case_study: Option<CaseStudyRules>,
    /// How long records are kept, when the academy has said so.
    pub retention: Option<RetentionRules>,
    /// Figures of the group's page, when any are given.
    pub group: Option<GroupRules>,
    /// Figures of marking by a second assessor, when any are given.
    pub double: Option<DoubleRules>,
}

/// Figures of marking by a second assessor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoubleRules {
    /// Share of the services that a second assessor marks too, 0.01 to 1.
    pub share: f64,
    /// Services marked twice before agreement is worked out, at least 10.
    pub needed: u32,
}

/// Figures of the group's page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupRules {
    /// Somebody does not get on after this many marked services at one plan without being ready for the next...
    pub stall_services: u32,
    /// ... or after this many days without a live service.
    pub stall_days: u32,
    /// The group is weak in a criterion when this share of its latest marks is below Meets, 0.1 to 1.
    pub weak_share: f64,
    /// Nothing that compares people is said for fewer than this many, at least 5.
    pub compare_from: u32,
}

/// Window and resubmissions of a case study.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CaseStudyRules {
    /// Days from the day it opens to the last day on which it may be handed in.
    pub window_days: u32,
    /// How often a pack may be handed in again after the first time.
    pub resubmissions: u32,
}

/// How long records are kept before they fall due for erasure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RetentionRules {
    /// Years after the last service on a practice model.
    pub practice_model_years: u32,
    /// For somebody who was a minor at the last service: years after coming of age.
    pub minor_years: u32,
    /// Age at which somebody is of age, in years.
    pub of_age: u32,
    /// Years after a trainee has left.
    pub trainee_years: u32,
}

/// Figures of the layout of a service for two eyes and one pair of hands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoEyeRules {
    /// The last this many services at a plan give the pace.
    pub last: u32,
    /// Share of times that planned work keeps within, 0.5 to 0.99.
    pub planned_share: f64,
    /// Largest chance of overrunning any one dwell with which overlapping is offered, 0 to 0.05.
    pub most_overrun: f64,
}

/// Figures of forecasts from the learning curve, and of the time standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForecastRules {
    /// How much time away widens what is known: standard deviation on the natural logarithm of the time, gained in
    /// the first 1.7 weeks; 0 to 1.
    pub tau: f64,
    /// Services to come that a curve is drawn over, 1 to 60.
    pub ahead: u32,
    /// Time standard: chance with which the next service must be within the target, 0.5 to 0.99.
    pub standard_chance: f64,
    /// Time standard: the last this many services must be within the target and its leeway, 1 to 20.
    pub standard_last: u32,
    /// Time standard: leeway on the target for these, 0 to 50 percent.
    pub standard_leeway_percent: f64,
}

/// Thresholds of a trial, fixed when it is opened.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialRules {
    /// Unacceptable failure rate, 0 to 1.
    pub unacceptable: f64,
    /// Acceptable failure rate, 0 to 1.
    pub acceptable: f64,
    /// Most services a trial may run.
    pub horizon: u32,
    /// Chance of a false pass allowed, 0 to 1.
    pub alpha: f64,
    /// Shortest run that can pass, as worked out for these thresholds.
    pub shortest_run: u32,
    /// Share of unassessed services above which the error bound is withdrawn, 0 to 1.
    pub unassessed_share: f64,
    /// Thresholds on the mean mark, when the trial also looks at it.
    pub score: Option<ScoreRules>,
    /// How often assessors are assumed to err.
    pub assessors: AssessorRules,
    /// The rule that decides on acceptable or not.
    pub rule: TrialRule,
}

/// Thresholds of a trial on the mean of a service's marks, 0 to 3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoreRules {
    /// Unacceptable mean.
    pub unacceptable: f64,
    /// Acceptable mean.
    pub acceptable: f64,
    /// Spread (standard deviation) of a trainee's services around their mean.
    pub spread: f64,
}

/// How often assessors are assumed to err: the academy's assumption, never estimated.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AssessorRules {
    /// Chance that a service that is not acceptable is marked acceptable, 0 to 1.
    pub false_accept: f64,
    /// Chance that an acceptable service is marked not acceptable, 0 to 1.
    pub false_reject: f64,
}

/// What a yes to a screening question means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ScreeningGroup {
    /// Do not treat today.
    DoNotTreat,
    /// Written medical advice is recorded first.
    Refer,
    /// Restrict or adapt.
    Adapt,
}

/// A screening question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScreeningQuestion {
    /// Identifier.
    pub id: QuestionId,
    /// What a yes means.
    pub group: ScreeningGroup,
    /// The question, answered yes or no.
    pub question: String,
    /// What to do after a yes.
    pub advice: String,
}

/// The academy's rule for sensitivity tests.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TestRule {
    /// Hours between putting on and lotion that the academy asks for.
    pub academy_hours: u32,
    /// Hours that the insurer asks for.
    pub insurer_hours: u32,
    /// Days after putting on when the test expires.
    pub expires_days: u32,
}

/// First response when a product reaches the eye.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirstResponse {
    /// What is on the eye.
    pub product: ProductKind,
    /// Steps in order.
    pub steps: Vec<String>,
}

/// A country or region.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Region {
    /// Identifier.
    pub id: RegionId,
    /// Name on screen.
    pub label: String,
    /// Tint is off unless the owner states a legal ground.
    pub tint_off: bool,
    /// Why, in a sentence.
    pub tint_note: String,
    /// Cautions of the region.
    pub cautions: Vec<String>,
    /// Emergency number commonly used there, offered as a proposal.
    pub emergency_number: String,
    /// What licence, if any, local rules ask of whoever works there, in a sentence; `None` where nothing is noted.
    pub licence_note: Option<String>,
}

impl CourseBook {
    /// Returns the section plan of a level.
    pub fn plan(&self, plan: Plan) -> Option<&SectionPlan> {
        self.plans.iter().find(|candidate| candidate.plan == plan)
    }

    /// Returns a stage of the service, or of any drill.
    pub fn stage(&self, id: &StageId) -> Option<&Stage> {
        self.stages.iter().chain(self.drills.iter().flat_map(|drill| &drill.stages)).find(|stage| stage.id == *id)
    }

    /// Returns a criterion.
    pub fn criterion(&self, id: &CriterionId) -> Option<&Criterion> {
        self.criteria.iter().find(|criterion| criterion.id == *id)
    }

    /// Returns a fault.
    pub fn fault(&self, id: &FaultId) -> Option<&Fault> {
        self.faults.iter().find(|fault| fault.id == *id)
    }

    /// Returns a competency.
    pub fn competency(&self, id: &CompetencyId) -> Option<&Competency> {
        self.competencies.iter().find(|competency| competency.id == *id)
    }

    /// Returns a shield size.
    pub fn shield(&self, id: &ShieldId) -> Option<&Shield> {
        self.shields.iter().find(|shield| shield.id == *id)
    }

    /// Returns a kind of drill.
    pub fn drill(&self, id: &DrillKindId) -> Option<&DrillKind> {
        self.drills.iter().find(|drill| drill.id == *id)
    }

    /// Returns a region.
    pub fn region(&self, id: &RegionId) -> Option<&Region> {
        self.regions.iter().find(|region| region.id == *id)
    }

    /// Returns the example of dwell figures.
    pub fn dwell_example(
        &self,
        product: ProductKind,
        condition: LashCondition,
        with_tint: bool,
    ) -> Option<&DwellExample> {
        let fits = |e: &&DwellExample| e.product == product && e.condition == condition;
        let exact = self.dwell_examples.iter().filter(fits).find(|e| e.with_tint == with_tint);
        exact.or_else(|| self.dwell_examples.iter().find(fits))
    }
}
