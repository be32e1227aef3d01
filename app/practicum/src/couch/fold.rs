//! What the taps of a run add up to: which stage runs, which product is on, what was prepared.

mod refusal;
mod take_back;

use std::collections::BTreeMap;

pub use take_back::{SLIP_SECONDS, can_take_back, taken_back, to_take_back};

use super::clock::{Doubt, Doubtful, RunClock};
use super::times::{Dwell, SectionTime, StageTime, Times};
use super::{Act, Analysis, DwellPlan, Opening, Override, ShieldChoice, Stop, Tap, Tint, What};
use crate::course_book::{CourseBook, Part, Stage, Work};
use crate::eye::{Eye, PerEye};
use crate::ids::{IncidentId, PersonId, PracticeModelId, StageId};
use crate::moment::{Moment, Reading, Seconds};
use crate::order::{InOrder, map_of};
use crate::practice_model::Screening;
use crate::product::{Lot, ProductKind};
use crate::section::{Sections, WorkedPlan};

/// A hands-on clock that runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hand {
    /// The stage.
    pub stage: StageId,
    /// The eye, for a stage that is per eye.
    pub eye: Option<Eye>,
}

/// Where one stage stands, for one eye or for both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Status {
    /// Not begun.
    #[default]
    NotStarted,
    /// Begun, and its clock may or may not be running now.
    Begun,
    /// The product is on.
    ProductOn,
    /// The product is being taken off.
    ComingOff,
    /// Finished.
    Done,
}

/// What was answered before lotion.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Prepared {
    /// Practice model.
    pub practice_model: Option<PracticeModelId>,
    /// Consents were looked at today.
    pub consent_checked: bool,
    /// Screening.
    pub screening: Option<Screening>,
    /// Sensitivity tests were looked at today.
    pub tests_checked: bool,
    /// Analysis of each eye.
    pub analysis: PerEye<Option<Analysis>>,
    /// Shield of each eye.
    pub shields: PerEye<Option<ShieldChoice>>,
    /// Sections of each eye.
    pub sections: PerEye<Option<Sections>>,
    /// Tint.
    pub tint: Option<Tint>,
    /// Products by kind.
    pub products: BTreeMap<ProductKind, Lot>,
    /// Dwell figures by kind and eye.
    pub dwell_plans: BTreeMap<(ProductKind, Eye), DwellPlan>,
    /// An assessor will mark this service.
    pub will_be_assessed: Option<bool>,
    /// Overrides.
    pub overrides: Vec<Override>,
    /// The instructor's check before lotion let the service go on.
    pub check_passed: bool,
}

/// How a run stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Phase {
    /// Opened, not begun.
    Opened,
    /// Under way.
    Running,
    /// Paused, for this reason.
    Paused(String),
    /// An instructor is checking this stage.
    Checking(StageId),
    /// A reaction was reported.
    Reaction(IncidentId),
    /// Stopped before its end.
    Stopped(Stop),
    /// Finished.
    Finished,
}

/// When an alarm was acknowledged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Heard {
    seconds: Seconds,
    tap: u32,
}

/// A run as it stands after its taps.
#[derive(Debug, Clone)]
pub struct Run<'a> {
    book: &'a CourseBook,
    opening: &'a Opening,
    clock: RunClock,
    last: Option<&'a Tap>,
    phase: Phase,
    prepared: Prepared,
    hand: Option<Hand>,
    resume: Option<Hand>,
    status: BTreeMap<(StageId, Option<Eye>), Status>,
    worked: BTreeMap<(StageId, Option<Eye>), Seconds>,
    section_marks: BTreeMap<(StageId, Eye), Vec<Seconds>>,
    sections_seen: PerEye<Vec<Sections>>,
    dwells: Vec<Dwell>,
    buckets: Buckets,
    until_final_check: Option<Buckets>,
    pauses: Vec<(String, Seconds)>,
    alarms_heard: PerEye<Option<Heard>>,
    tap: u32,
    alarms_lost: Vec<String>,
    sound_checked: Option<bool>,
    incident: Option<IncidentId>,
    reacted_at: Option<Seconds>,
    went_on: Option<PersonId>,
    ignored: Vec<(u32, String)>,
    seconds: Seconds,
}

/// Seconds of the service time by what they were spent on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Buckets {
    started: bool,
    hands_on: Seconds,
    pauses: Seconds,
    checks: Seconds,
    waiting: Seconds,
}

impl Buckets {
    fn service(&self) -> Seconds {
        self.hands_on + self.pauses + self.checks + self.waiting
    }
}

impl<'a> Run<'a> {
    /// Works out how a run stands from all its taps.
    ///
    /// A tap that cannot be (say, "off" where nothing is on) changes nothing and is listed in
    /// [`Run::ignored`]; it stays in the raw record.
    pub fn fold(book: &'a CourseBook, opening: &'a Opening, taps: &'a [Tap]) -> Self {
        let mut run = Self::opened(book, opening, RunClock::of(taps, |by| *by != opening.trainee));
        for place in take_back::effective(&run.clock, taps) {
            let Some(tap) = taps.get(place) else { continue };
            run.pass_time(run.clock.seconds_at(place));
            run.tap = tap.sequence;
            match run.refuses(&tap.act) {
                Some(why) => run.ignored.push((tap.sequence, why)),
                None => run.apply(&tap.act),
            }
        }
        run.last = taps.last();
        let end = run.clock.seconds_at(taps.len().saturating_sub(1));
        run.pass_time(end);
        run
    }

    fn opened(book: &'a CourseBook, opening: &'a Opening, clock: RunClock) -> Self {
        Run {
            book,
            opening,
            clock,
            last: None,
            phase: Phase::Opened,
            prepared: Prepared::default(),
            hand: None,
            resume: None,
            status: BTreeMap::new(),
            worked: BTreeMap::new(),
            section_marks: BTreeMap::new(),
            sections_seen: PerEye::default(),
            dwells: Vec::new(),
            buckets: Buckets::default(),
            until_final_check: None,
            pauses: Vec::new(),
            alarms_heard: PerEye::default(),
            tap: 0,
            alarms_lost: Vec::new(),
            sound_checked: None,
            incident: None,
            reacted_at: None,
            went_on: None,
            ignored: Vec::new(),
            seconds: 0,
        }
    }

    /// Returns the stages of this run in working order; tint only when it was chosen as its own stage.
    pub fn stages(&self) -> Vec<&'a Stage> {
        let all = match &self.opening.what {
            What::Service => &self.book.stages,
            What::Drill(kind) => match self.book.drill(kind) {
                Some(drill) => &drill.stages,
                None => return Vec::new(),
            },
        };
        let wanted = |stage: &&Stage| !stage.only_with_tint || self.prepared.tint == Some(Tint::Own);
        all.iter().filter(wanted).collect()
    }

    fn stage(&self, id: &StageId) -> Option<&'a Stage> {
        let all = match &self.opening.what {
            What::Service => &self.book.stages,
            What::Drill(kind) => &self.book.drill(kind)?.stages,
        };
        all.iter().find(|stage| stage.id == *id)
    }

    /// Returns what was answered before lotion.
    pub fn prepared(&self) -> &Prepared {
        &self.prepared
    }

    /// Returns how the run stands.
    pub fn phase(&self) -> &Phase {
        &self.phase
    }

    /// Returns the hands-on clock that runs, if any.
    pub fn hand(&self) -> Option<&Hand> {
        self.hand.as_ref()
    }

    /// Returns the hands-on clock that a pause or check interrupted.
    pub fn interrupted_hand(&self) -> Option<&Hand> {
        self.resume.as_ref()
    }

    /// Returns where a stage stands, for one eye or for both.
    pub fn status(&self, stage: &StageId, eye: Option<Eye>) -> Status {
        self.status.get(&(stage.clone(), eye)).copied().unwrap_or_default()
    }

    /// Returns the first stage that is not finished, for one eye; shared stages count for both.
    pub fn next_stage(&self, eye: Eye) -> Option<&'a Stage> {
        self.stages().into_iter().find(|stage| {
            let key = stage.per_eye.then_some(eye);
            self.status(&stage.id, key) != Status::Done
        })
    }

    /// Returns the product that is on an eye now.
    pub fn product_on(&self, eye: Eye) -> Option<&Dwell> {
        self.dwells.iter().rev().find(|dwell| dwell.eye == eye && dwell.off.is_none())
    }

    /// Returns all dwells so far.
    pub fn dwells(&self) -> &[Dwell] {
        &self.dwells
    }

    /// Returns how many sections are finished in a stage on an eye.
    pub fn sections_done(&self, stage: &StageId, eye: Eye) -> usize {
        self.section_marks.get(&(stage.clone(), eye)).map_or(0, Vec::len)
    }

    /// Whether the present alarm of an eye was acknowledged: at or after the last limit that has passed, each
    /// limit calling anew, and after a stretch of unknown length if there was one.
    pub fn alarm_heard(&self, eye: Eye) -> bool {
        let Some(dwell) = self.product_on(eye) else { return false };
        let Some(heard) = self.alarms_heard.get(eye) else { return false };
        let passed = dwell.alarms().into_iter().filter(|due| *due <= self.seconds).max();
        let unknown = self.unknown_tap(eye);
        // A stretch of unknown length counts no second, so that only the order of the taps tells what came first.
        (passed.is_some() || unknown.is_some())
            && passed.is_none_or(|due| due <= heard.seconds)
            && unknown.is_none_or(|at_tap| at_tap < heard.tap)
    }

    /// Whether a stretch of unknown length lies within the time that the product now on an eye was on, and nobody
    /// has said how long it was. No countdown of that eye can be trusted then.
    pub fn time_unknown(&self, eye: Eye) -> bool {
        self.unknown_tap(eye).is_some()
    }

    fn unknown_tap(&self, eye: Eye) -> Option<u32> {
        let on_since = self.product_on(eye)?.first_contact;
        let unknown = |doubtful: &&Doubtful| doubtful.doubt == Doubt::BackWhileClosed && on_since <= doubtful.ends;
        self.clock.open_doubts().filter(unknown).map(|doubtful| doubtful.at_tap).max()
    }

    /// Returns the reasons why an alarm may not have sounded, as recorded.
    pub fn alarms_lost(&self) -> &[String] {
        &self.alarms_lost
    }

    /// Whether the sound check was done in this run, and whether it was heard.
    pub fn sound_checked(&self) -> Option<bool> {
        self.sound_checked
    }

    /// Returns the incident, if a reaction was reported.
    pub fn incident(&self) -> Option<&IncidentId> {
        self.incident.as_ref()
    }

    /// Returns the second at which the last reaction was reported, if one was.
    pub fn reacted_at(&self) -> Option<Seconds> {
        self.reacted_at
    }

    /// Returns the instructor who let the service go on after a reaction.
    pub fn went_on(&self) -> Option<&PersonId> {
        self.went_on.as_ref()
    }

    /// Returns the taps that could not be, with the reason.
    pub fn ignored(&self) -> &[(u32, String)] {
        &self.ignored
    }

    /// Returns every doubtful stretch of time, those included that a person has spoken about.
    pub fn doubtful(&self) -> &[Doubtful] {
        self.clock.doubtful()
    }

    /// Returns the moment of the first tap.
    pub fn began(taps: &[Tap]) -> Option<Moment> {
        taps.first().map(|tap| tap.reading.at)
    }

    /// Whether lotion has touched an eye.
    pub fn lotion_begun(&self) -> bool {
        !self.dwells.is_empty()
    }

    /// Returns the plan as worked: the larger number of sections of either eye, and mixed or not.
    pub fn worked_plan(&self) -> Option<WorkedPlan> {
        let most = |eye: Eye| self.sections_seen.get(eye).iter().max().copied();
        let (left, right) = (most(Eye::Left), most(Eye::Right));
        let sections = left.max(right)?;
        let changed = |eye: Eye| self.sections_seen.get(eye).windows(2).any(|pair| pair.first() != pair.last());
        let mixed = changed(Eye::Left) || changed(Eye::Right) || left != right;
        Some(WorkedPlan { sections, mixed })
    }

    /// Returns the seconds since the first tap at the present reading, and whether they are doubtful.
    pub fn seconds_now(&self, now: &Reading) -> (Seconds, Option<Doubt>) {
        match self.last {
            Some(last) => self.clock.seconds_now(last, now),
            None => (0, None),
        }
    }

    /// Returns the run as it stands at the present reading: the running clocks have gone on.
    pub fn at(&self, now: &Reading) -> Self {
        let mut run = self.clone();
        if !matches!(run.phase, Phase::Finished | Phase::Stopped(_)) {
            let (seconds, _) = run.seconds_now(now);
            run.pass_time(seconds);
        }
        run
    }

    /// Returns the seconds since the first tap at which this run stands.
    pub fn seconds(&self) -> Seconds {
        self.seconds
    }

    /// Returns the hands-on seconds of a stage so far.
    pub fn worked(&self, stage: &StageId, eye: Option<Eye>) -> Seconds {
        self.worked.get(&(stage.clone(), eye)).copied().unwrap_or(0)
    }

    /// Returns all times up to where this run stands.
    pub fn times(&self) -> Times {
        let ended = matches!(self.phase, Phase::Finished);
        let buckets = if ended { self.until_final_check.unwrap_or(self.buckets) } else { self.buckets };
        let known = |seconds: Seconds| buckets.started.then_some(seconds);
        let order = |id: &StageId| self.stages().iter().position(|stage| stage.id == *id);
        let mut stages: Vec<StageTime> = self
            .worked
            .iter()
            .map(|((stage, eye), seconds)| StageTime { stage: stage.clone(), eye: *eye, hands_on: *seconds })
            .collect();
        stages.order_by_key(|time| (order(&time.stage), time.eye));
        Times {
            service: known(buckets.service()),
            hands_on: known(buckets.hands_on),
            pauses: known(buckets.pauses),
            checks: known(buckets.checks),
            waiting: known(buckets.waiting),
            stages,
            sections: self.section_times(),
            dwells: self.dwells.clone(),
            pause_reasons: self.pauses.clone(),
            doubts: self.clock.open_doubts().map(|doubtful| doubtful.doubt.say().to_owned()).collect(),
            alarms_lost: self.alarms_lost.clone(),
            edited: self.clock.edited(),
        }
    }

    fn section_times(&self) -> Vec<SectionTime> {
        let mut times = Vec::new();
        for ((stage, eye), marks) in &self.section_marks {
            let mut before = 0;
            for (number, mark) in (1_u8..).zip(marks) {
                let hands_on = mark.saturating_sub(before);
                times.push(SectionTime { stage: stage.clone(), eye: *eye, number, hands_on });
                before = *mark;
            }
        }
        times
    }

    /// Lets time run to `seconds` since the first tap: each second goes to exactly one bucket.
    fn pass_time(&mut self, seconds: Seconds) {
        let passed = seconds.saturating_sub(self.seconds);
        self.seconds = self.seconds.max(seconds);
        if passed == 0 || matches!(self.phase, Phase::Opened | Phase::Stopped(_) | Phase::Finished) {
            return;
        }
        let mut in_service = true;
        if let Some(hand) = &self.hand {
            *self.worked.entry((hand.stage.clone(), hand.eye)).or_default() += passed;
            in_service = self.stage(&hand.stage).is_some_and(|stage| stage.part == Part::Service);
        }
        if let (Phase::Paused(_), Some((_, pause))) = (&self.phase, self.pauses.last_mut()) {
            *pause += passed;
        }
        if !self.buckets.started {
            return;
        }
        let bucket = match (&self.phase, &self.hand) {
            (Phase::Paused(_), _) => &mut self.buckets.pauses,
            (Phase::Checking(_), _) => &mut self.buckets.checks,
            (_, Some(_)) if in_service => &mut self.buckets.hands_on,
            _ => &mut self.buckets.waiting,
        };
        *bucket += passed;
    }

    fn apply(&mut self, act: &Act) {
        match act {
            Act::Begin => {
                self.phase = Phase::Running;
                self.prepared.products = map_of(self.opening.products.iter().cloned());
                if let Some(first) = self.stages().first().copied().filter(|s| s.work == Work::HandsOn && !s.per_eye) {
                    self.work(&first.id, None);
                }
            }
            Act::PracticeModel(id) => {
                // Another person: whatever was looked at or answered was about somebody else.
                if self.prepared.practice_model.as_ref().is_some_and(|before| before != id) {
                    let kept = std::mem::take(&mut self.prepared);
                    self.prepared = Prepared {
                        tint: kept.tint,
                        products: kept.products,
                        sections: kept.sections,
                        will_be_assessed: kept.will_be_assessed,
                        ..Prepared::default()
                    };
                    // The instructor looks at this person's eyes too.
                    for stage in self.stages().into_iter().filter(|stage| stage.work == Work::Check) {
                        self.set_status(&stage.id, None, Status::NotStarted);
                    }
                }
                self.prepared.practice_model = Some(id.clone());
            }
            Act::ConsentChecked => self.prepared.consent_checked = true,
            Act::Screened(screening) => self.prepared.screening = Some(screening.clone()),
            Act::TestsChecked => self.prepared.tests_checked = true,
            Act::Analysed(eye, analysis) => {
                let before = self.prepared.analysis.get_mut(*eye).replace(analysis.clone());
                // Figures belong to the condition of the lashes: another condition asks for them anew.
                if before.is_some_and(|before| before.condition != analysis.condition) {
                    self.prepared.dwell_plans.retain(|(_, planned), _| planned != eye);
                }
            }
            Act::ShieldChosen(eye, choice) => *self.prepared.shields.get_mut(*eye) = Some(choice.clone()),
            Act::SectionsSet(eye, sections) => {
                *self.prepared.sections.get_mut(*eye) = Some(*sections);
                self.note_sections(*eye, *sections);
            }
            Act::TintChosen(tint) => {
                let before = self.prepared.tint.replace(*tint);
                if before.is_some_and(|before| before != *tint) {
                    // Another product is used, and mixed in it has the stricter label: both are looked at anew.
                    self.prepared.tests_checked &= *tint == Tint::None;
                    if before == Some(Tint::Mixed) || *tint == Tint::Mixed {
                        self.prepared.dwell_plans.retain(|(planned, _), _| *planned != ProductKind::Setting);
                    }
                }
            }
            Act::ProductChosen(lot, kind) => {
                // A changed product locks again: its figures and the look at the tests are asked anew.
                if self.prepared.products.insert(*kind, lot.clone()).as_ref() != Some(lot) {
                    self.prepared.tests_checked = false;
                    self.prepared.dwell_plans.retain(|(planned, _), _| planned != kind);
                }
            }
            Act::DwellSet(eye, kind, plan) => {
                self.prepared.dwell_plans.insert((*kind, *eye), *plan);
            }
            Act::WillBeAssessed(yes) => self.prepared.will_be_assessed = Some(*yes),
            Act::Overridden(allowed) => self.prepared.overrides.push(allowed.clone()),
            Act::SoundChecked(heard) => self.sound_checked = Some(*heard),
            Act::AlarmHeard(eye) => {
                *self.alarms_heard.get_mut(*eye) = Some(Heard { seconds: self.seconds, tap: self.tap });
            }
            Act::AlarmMayBeLost(why) => self.alarms_lost.push(why.clone()),
            Act::TimeConfirmed { .. } | Act::ClockSeen | Act::TakeBack => {}
            _ => self.apply_stage(act),
        }
    }

    fn apply_stage(&mut self, act: &Act) {
        match act {
            Act::Work(stage, eye) => self.work(stage, *eye),
            Act::SectionDone(stage, eye) => {
                let worked = self.worked(stage, Some(*eye));
                self.section_marks.entry((stage.clone(), *eye)).or_default().push(worked);
            }
            Act::Done(stage, eye) => {
                self.lay_down(stage, *eye);
                self.set_status(stage, *eye, Status::Done);
                self.mark_final(stage);
            }
            Act::LotionStarts(stage, eye) => self.put_on(stage, *eye),
            Act::AllOn(stage, eye) => {
                let now = self.seconds;
                if let Some(dwell) = self.open_dwell(*eye) {
                    dwell.last_contact = Some(now);
                }
                self.lay_down(stage, Some(*eye));
            }
            Act::OffStarts(stage, eye) => {
                let now = self.seconds;
                if let Some(dwell) = self.open_dwell(*eye) {
                    dwell.off = Some(now);
                }
                self.phase = Phase::Running;
                self.work(stage, Some(*eye));
                self.set_status(stage, Some(*eye), Status::ComingOff);
            }
            Act::OffDone(stage, eye) => {
                self.lay_down(stage, Some(*eye));
                self.set_status(stage, Some(*eye), Status::Done);
                self.mark_final(stage);
            }
            _ => self.apply_phase(act),
        }
    }

    fn apply_phase(&mut self, act: &Act) {
        match act {
            Act::Pause(reason) => {
                self.resume = self.hand.take();
                self.pauses.push((reason.clone(), 0));
                self.phase = Phase::Paused(reason.clone());
            }
            Act::Resume => {
                self.hand = self.resume.take();
                self.phase = Phase::Running;
            }
            Act::CheckStarts(stage) => {
                self.resume = self.hand.take();
                self.phase = Phase::Checking(stage.clone());
                self.set_status(stage, None, Status::Begun);
            }
            Act::CheckDone { stage, go_on, .. } => {
                self.hand = self.resume.take();
                self.phase = Phase::Running;
                if *go_on {
                    self.prepared.check_passed = true;
                    self.set_status(stage, None, Status::Done);
                    self.mark_final(stage);
                }
            }
            Act::Reaction(incident) => {
                let now = self.seconds;
                for dwell in self.dwells.iter_mut().filter(|dwell| dwell.off.is_none()) {
                    dwell.off = Some(now);
                    dwell.interrupted = true;
                }
                for status in self.status.values_mut().filter(|s| **s == Status::ProductOn) {
                    *status = Status::Begun;
                }
                self.hand = None;
                self.resume = None;
                self.incident = Some(incident.clone());
                self.reacted_at = Some(now);
                self.phase = Phase::Reaction(incident.clone());
            }
            Act::GoOn { by, .. } => {
                self.went_on = Some(by.clone());
                self.phase = Phase::Running;
            }
            Act::Stop(stop) => {
                let now = self.seconds;
                for dwell in self.dwells.iter_mut().filter(|dwell| dwell.off.is_none()) {
                    dwell.off = Some(now);
                    dwell.interrupted = true;
                }
                self.hand = None;
                self.phase = Phase::Stopped(stop.clone());
            }
            Act::Finish => {
                self.hand = None;
                self.phase = Phase::Finished;
            }
            _ => {}
        }
    }

    /// Starts or goes on with a hands-on clock; whichever ran before stops.
    fn work(&mut self, stage: &StageId, eye: Option<Eye>) {
        if self.stage(stage).is_some_and(|found| found.part == Part::Service) {
            self.buckets.started = true;
        }
        self.hand = Some(Hand { stage: stage.clone(), eye });
        self.worked.entry((stage.clone(), eye)).or_default();
        self.set_status(stage, eye, Status::Begun);
    }

    /// Stops the hands-on clock if it is this one.
    fn lay_down(&mut self, stage: &StageId, eye: Option<Eye>) {
        if self.hand.as_ref().is_some_and(|hand| hand.stage == *stage && hand.eye == eye) {
            self.hand = None;
        }
    }

    fn put_on(&mut self, stage: &StageId, eye: Eye) {
        let Some(Stage { work: Work::Dwell(kind), .. }) = self.stage(stage) else {
            return;
        };
        let plan = self.prepared.dwell_plans.get(&(*kind, eye)).copied();
        self.dwells.push(Dwell {
            stage: stage.clone(),
            product: *kind,
            eye,
            first_contact: self.seconds,
            last_contact: None,
            off: None,
            interrupted: false,
            plan,
        });
        self.work(stage, Some(eye));
        self.set_status(stage, Some(eye), Status::ProductOn);
    }

    fn open_dwell(&mut self, eye: Eye) -> Option<&mut Dwell> {
        self.dwells.iter_mut().rev().find(|dwell| dwell.eye == eye && dwell.off.is_none())
    }

    fn set_status(&mut self, stage: &StageId, eye: Option<Eye>, status: Status) {
        self.status.insert((stage.clone(), eye), status);
    }

    /// Remembers the service time up to the end of a stage within it: the last such end is its end.
    fn mark_final(&mut self, stage: &StageId) {
        if self.stage(stage).is_some_and(|found| found.part == Part::Service) {
            self.until_final_check = Some(self.buckets);
        }
    }

    /// Notes the sections of an eye; a change before any section was worked is no change.
    fn note_sections(&mut self, eye: Eye, sections: Sections) {
        let worked = self.section_marks.keys().any(|(_, marked)| *marked == eye)
            || self.worked.iter().any(|((stage, e), s)| {
                *e == Some(eye) && *s > 0 && self.stage(stage).is_some_and(|found| found.by_section)
            });
        let seen = self.sections_seen.get_mut(eye);
        if !worked {
            seen.clear();
        }
        if seen.last() != Some(&sections) {
            seen.push(sections);
        }
    }
}
