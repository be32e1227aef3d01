//! The service laid out in time for two eyes and one pair of hands, at a trainee's own pace.
//!
//! Stages that both eyes share (cleansing, the instructor's look) cut the service into parts. Inside a part
//! the two eyes are two chains of work; a dwell is a window between putting on and taking off, from the
//! planned dwell (last contact) to the longest (first contact, the label's longest included). Work is
//! planned at a time that the trainee mostly keeps (how often, the course book says), so that a dwell is not
//! overrun by a slow minute. Nothing here shortens a dwell below what is planned for the product, or lengthens it.

mod present;

use proficiency::timeline::contact::Dwell as Contact;
use proficiency::timeline::overrun::{Spread, overrun};
use proficiency::timeline::{Both, Chain, Lag, Schedule, Side, Solution, Timeline};

use super::pace::{Pace, Piece};
use crate::couch::{DwellPlan, Tint};
use crate::course_book::{CourseBook, Measure, Part, Stage, TwoEyeRules, Work};
use crate::eye::Eye;
use crate::ids::StageId;
use crate::moment::{Seconds, format_seconds};
use crate::order::InOrder;
use crate::product::ProductKind;
use crate::section::Plan;

pub use present::{Present, present};

/// Draws and seed behind the chances; a standard error of at most .007.
const DRAWS: u32 = 4_000;
const SEED: u64 = 20;
/// Longest stage that is laid out, seconds.
const LONGEST: f64 = 86_400.0;

/// What is laid out.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// The course book.
    pub book: &'a CourseBook,
    /// Section plan.
    pub plan: Plan,
    /// Tint or not.
    pub tint: Tint,
    /// The trainee's paces.
    pub paces: &'a [Pace],
    /// Dwell figures of the products in use.
    pub dwells: &'a [(ProductKind, DwellPlan)],
    /// Seconds of an instructor's look, as usual.
    pub check: Seconds,
}

/// What one block of a layout is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BlockKind {
    /// The trainee's hands.
    Hands(Piece),
    /// A product works.
    Dwell(ProductKind),
    /// An instructor looks.
    Check,
}

/// One block of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// The stage.
    pub stage: StageId,
    /// What it is.
    pub kind: BlockKind,
    /// The eye, or both.
    pub eye: Option<Eye>,
    /// Start, seconds from the start of cleansing.
    pub from: Seconds,
    /// End.
    pub until: Seconds,
    /// For a dwell: seconds left until its window closes.
    pub spare: Option<Seconds>,
    /// For a dwell: chance of being overrun, 0 to 1, when times vary.
    pub overrun: Option<f64>,
}

/// A layout of the whole service.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Blocks in the order of their starts.
    pub blocks: Vec<Block>,
    /// Service time, seconds.
    pub total: Seconds,
}

impl Layout {
    /// Returns the largest chance of any dwell being overrun.
    pub fn largest_overrun(&self) -> f64 {
        self.blocks.iter().filter_map(|block| block.overrun).fold(0.0, f64::max)
    }
}

/// What a stage would buy.
#[derive(Debug, Clone, PartialEq)]
pub struct StageWorth {
    /// The stage.
    pub stage: StageId,
    /// Typical seconds of hands-on work now, both eyes together.
    pub now: Seconds,
    /// Its target at this plan, both eyes together.
    pub target: Seconds,
    /// Seconds of service time that reaching the target would save, in the way of working asked about.
    pub saves: Seconds,
}

/// What would bring a service under its target, in one way of working.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Buying {
    /// Stages above their target, the one that saves most first.
    pub stages: Vec<StageWorth>,
    /// Seconds of service time with the first two of them at their targets.
    pub with_two: Seconds,
}

/// Both ways of working, and what each stage would buy.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoEyes {
    /// One eye after the other.
    pub apart: Layout,
    /// Both eyes overlapping, in the shortest way; equal to `apart` in length where overlapping gains nothing.
    pub together: Layout,
    /// Seconds at typical times: one eye after the other, and both eyes overlapping.
    pub typical: (Seconds, Seconds),
    /// What would buy most, one eye after the other.
    pub worth_apart: Buying,
    /// What would buy most, both eyes overlapping.
    pub worth_together: Buying,
    /// The plan's service target, seconds.
    pub target: Option<Seconds>,
    /// Waits longer than the course book allows, in words.
    pub waits: Vec<String>,
    /// The course book's figures that it was laid out by.
    pub figures: TwoEyeRules,
}

impl TwoEyes {
    /// Whether overlapping saves any time.
    pub fn gains(&self) -> bool {
        self.together.total < self.apart.total
    }

    /// Whether overlapping may be offered as far as its dwells go: none is overrun more often than the course book
    /// lets pass.
    pub fn holds(&self) -> bool {
        self.together.largest_overrun() <= self.figures.most_overrun
    }
}

/// Why nothing can be laid out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoLayout {
    /// The course book has no figures for it.
    #[error("the course book in force has no [two_eyes] part in rules.toml, see the example course book")]
    NoFigures,
    /// No service at this plan has a time that stands.
    #[error(
        "no service at this plan has clock times that stand; imported rows, late entries, times set by hand and stopped \
         services give none"
    )]
    NoServices,
    /// Stages without a time of this trainee at this plan, by label.
    #[error("there are no times yet at this plan for: {}", .0.join(", "))]
    NoTimes(Vec<String>),
    /// Products without dwell figures.
    #[error("dwell figures are missing for: {}", .0.iter().map(|kind| kind.word()).collect::<Vec<_>>().join(", "))]
    NoDwell(Vec<ProductKind>),
    /// A window that cannot be met, in words.
    #[error("{0}")]
    Window(String),
}

/// Lays a service out both ways.
///
/// # Errors
/// When the course book has no figures for it, a time or a dwell figure is missing, or a window cannot be met at
/// this pace; names which.
pub fn two_eyes(wanted: &Wanted) -> Result<TwoEyes, NoLayout> {
    let figures = wanted.book.rules.two_eyes.ok_or(NoLayout::NoFigures)?;
    let parts = parts(wanted, figures.planned_share)?;
    let solved = parts.iter().map(|part| part.solve()).collect::<Result<Vec<_>, _>>()?;
    let lay = |together: bool| {
        let mut layout = Layout { blocks: Vec::new(), total: 0 };
        for (part, solved) in parts.iter().zip(&solved) {
            part.lay(solved, together, &mut layout);
        }
        layout.blocks.order_by_key(|block| (block.from, block.until, block.eye));
        layout
    };
    let (apart, together) = (lay(false), lay(true));
    let target = wanted.book.plan(wanted.plan).map(|plan| plan.service_target);
    Ok(TwoEyes {
        typical: lengths(wanted).unwrap_or((apart.total, together.total)),
        waits: waits(wanted.book, &apart),
        figures,
        worth_apart: buying(wanted, &parts, false, apart.total),
        worth_together: buying(wanted, &parts, true, together.total),
        target: target.filter(|target| target.measure == Measure::ServiceTime).map(|target| target.both_eyes()),
        apart,
        together,
    })
}

/// Returns the seconds of one eye after the other and of both overlapping, at typical times and without laying
/// anything out.
pub(super) fn lengths(wanted: &Wanted) -> Result<(Seconds, Seconds), NoLayout> {
    let (mut apart, mut together) = (0, 0);
    for part in &parts(wanted, 0.5)? {
        if let Stretch::Shared { seconds, .. } = part {
            apart += seconds;
            together += seconds;
        } else if let Some(timeline) = part.timeline()? {
            apart += timeline.sequential();
            together += timeline.shortest(None).map_err(|_| part.too_slow())?.schedule.makespan;
        }
    }
    Ok((whole(apart), whole(together)))
}

/// One piece of work on an eye.
#[derive(Debug, Clone)]
struct Task<'a> {
    stage: &'a Stage,
    piece: Piece,
    spread: Spread,
    planned: i64,
    /// Window after it, with the product that works in it.
    window: Option<(ProductKind, Contact)>,
}

/// A part of the service between shared stages.
#[derive(Debug, Clone)]
enum Stretch<'a> {
    Shared { stage: &'a Stage, seconds: i64 },
    Eyes(Vec<Task<'a>>),
}

/// A part solved: nothing to solve for a shared stage.
struct Solved {
    apart: Schedule,
    solution: Solution,
    chances: Vec<(Side, usize, f64)>,
}

fn parts<'a>(wanted: &Wanted<'a>, planned_share: f64) -> Result<Vec<Stretch<'a>>, NoLayout> {
    let mut parts: Vec<Stretch> = Vec::new();
    let (mut no_times, mut no_dwell) = (Vec::new(), Vec::new());
    let stages = wanted.book.stages.iter().filter(|stage| stage.part == Part::Service);
    for stage in stages.filter(|stage| !stage.only_with_tint || wanted.tint == Tint::Own) {
        let mut task = |piece: Piece| -> Option<Task<'a>> {
            let pace = wanted.paces.iter().find(|pace| pace.stage == stage.id && pace.piece == piece);
            let Some(pace) = pace else {
                if !no_times.contains(&stage.label) {
                    no_times.push(stage.label.clone());
                }
                return None;
            };
            let spread = Spread { median: pace.typical.clamp(1.0, LONGEST), log_sd: pace.log_sd.clamp(0.0, 2.0) };
            let planned = spread.planned(planned_share).ok()?;
            Some(Task { stage, piece, spread, planned, window: None })
        };
        match stage.work {
            Work::Check => parts.push(Stretch::Shared { stage, seconds: i64::from(wanted.check) }),
            Work::HandsOn if !stage.per_eye => {
                let seconds = task(Piece::Work).map_or(0, |task| task.planned);
                parts.push(Stretch::Shared { stage, seconds });
            }
            Work::HandsOn => push(&mut parts, task(Piece::Work)),
            Work::Dwell(kind) => {
                let figures = wanted.dwells.iter().find(|(of, _)| *of == kind).map(|(_, figures)| *figures);
                if figures.is_none() {
                    no_dwell.push(kind);
                }
                let window = figures.map(|figures| (kind, contact(&figures)));
                push(&mut parts, task(Piece::PutOn).map(|task| Task { window, ..task }));
                push(&mut parts, task(Piece::TakeOff));
            }
        }
    }
    match (no_times.is_empty(), no_dwell.is_empty()) {
        (false, _) => Err(NoLayout::NoTimes(no_times)),
        (_, false) => Err(NoLayout::NoDwell(no_dwell)),
        _ => Ok(parts),
    }
}

fn push<'a>(parts: &mut Vec<Stretch<'a>>, task: Option<Task<'a>>) {
    let Some(task) = task else { return };
    match parts.last_mut() {
        Some(Stretch::Eyes(tasks)) => tasks.push(task),
        _ => parts.push(Stretch::Eyes(vec![task])),
    }
}

/// The planned dwell from last contact, the longest from first contact.
fn contact(figures: &DwellPlan) -> Contact {
    let maximum = i64::from(figures.maximum.min(figures.label_maximum));
    let minimum = i64::from(figures.planned.max(figures.minimum)).min(maximum);
    Contact { minimum, maximum, before_first: 0, after_last: 0 }
}

impl Stretch<'_> {
    fn chain(tasks: &[Task]) -> Result<Chain, NoLayout> {
        let mut chain = Chain::default();
        for (place, task) in tasks.iter().enumerate() {
            chain.operations.push(task.planned);
            let Some(next) = tasks.get(place + 1) else { continue };
            let wait = task.stage.longest_wait_after.filter(|_| next.stage.id != task.stage.id);
            chain.lags.push(match (task.window, wait) {
                (Some((_, window)), _) => window.lag().map_err(|error| NoLayout::Window(error.to_string()))?,
                (None, Some(most)) => Lag::between(0, i64::from(most)),
                (None, None) => Lag::FREE,
            });
        }
        Ok(chain)
    }

    fn timeline(&self) -> Result<Option<Timeline>, NoLayout> {
        let Stretch::Eyes(tasks) = self else { return Ok(None) };
        let chain = Stretch::chain(tasks)?;
        Timeline::new(chain.clone(), chain).map(Some).map_err(|_| self.too_slow())
    }

    /// Names the dwell that this pace cannot keep.
    fn too_slow(&self) -> NoLayout {
        let Stretch::Eyes(tasks) = self else { return NoLayout::Window(String::new()) };
        let fails =
            |task: &&Task| task.window.is_some_and(|(_, window)| task.planned + window.minimum > window.maximum);
        let said = tasks.iter().find(fails).and_then(|task| Some((task, task.window?.1))).map(|(task, window)| {
            format!(
                "{}: putting it on takes up to {}, and with a planned dwell of {} that is past the longest dwell of {} \
                 from first contact",
                task.stage.label,
                format_seconds(whole(task.planned)),
                format_seconds(whole(window.minimum)),
                format_seconds(whole(window.maximum)),
            )
        });
        NoLayout::Window(said.unwrap_or_else(|| "a window cannot be met at this pace".to_owned()))
    }

    fn solve(&self) -> Result<Option<Solved>, NoLayout> {
        let (Stretch::Eyes(tasks), Some(timeline)) = (self, self.timeline()?) else { return Ok(None) };
        let wrong = |_| self.too_slow();
        let solution = timeline.shortest(None).map_err(wrong)?;
        let apart = timeline.one_after_the_other().map_err(wrong)?;
        let spreads: Vec<Spread> = tasks.iter().map(|task| task.spread).collect();
        let spreads = Both { first: spreads.clone(), second: spreads };
        let kept = overrun(&timeline, &solution.schedule, solution.even_spare, &spreads, DRAWS, SEED);
        let kept = kept.map_err(|error| NoLayout::Window(error.to_string()))?;
        let chances = kept.windows.iter().map(|window| (window.chain, window.after, window.chance)).collect();
        Ok(Some(Solved { apart, solution, chances }))
    }

    fn lay(&self, solved: &Option<Solved>, together: bool, layout: &mut Layout) {
        let start = i64::from(layout.total);
        match (self, solved) {
            (Stretch::Shared { stage, seconds }, _) => {
                let kind = if stage.work == Work::Check { BlockKind::Check } else { BlockKind::Hands(Piece::Work) };
                layout.total = whole(start + seconds);
                let (from, until) = (whole(start), layout.total);
                let stage = stage.id.clone();
                layout.blocks.push(Block { stage, kind, eye: None, from, until, spare: None, overrun: None });
            }
            (Stretch::Eyes(tasks), Some(solved)) => {
                let schedule = if together { &solved.solution.schedule } else { &solved.apart };
                for side in Side::BOTH {
                    lay_eye(tasks, schedule.starts.of(side), side, start, solved, together, &mut layout.blocks);
                }
                layout.total = whole(start + schedule.makespan);
            }
            (Stretch::Eyes(_), None) => {}
        }
    }
}

fn lay_eye(
    tasks: &[Task],
    starts: &[i64],
    side: Side,
    begin: i64,
    solved: &Solved,
    together: bool,
    blocks: &mut Vec<Block>,
) {
    let eye = Some(eye_of(side));
    for (place, (task, at)) in tasks.iter().zip(starts).enumerate() {
        let (from, end) = (begin + at, begin + at + task.planned);
        let stage = task.stage.id.clone();
        let hands = Block {
            stage: stage.clone(),
            kind: BlockKind::Hands(task.piece),
            eye,
            from: whole(from),
            until: whole(end),
            spare: None,
            overrun: None,
        };
        blocks.push(hands);
        let (Some((product, window)), Some(next)) = (task.window, starts.get(place + 1)) else { continue };
        let chance = solved.chances.iter().find(|(of, after, _)| *of == side && *after == place).map(|chance| chance.2);
        blocks.push(Block {
            stage,
            kind: BlockKind::Dwell(product),
            eye,
            from: whole(end),
            until: whole(begin + next),
            spare: Some(whole(from + window.maximum - (begin + next))),
            // One eye after the other leaves the hands free when the dwell ends.
            overrun: if together { chance } else { None },
        });
    }
}

fn eye_of(side: Side) -> Eye {
    match side {
        Side::First => Eye::Left,
        Side::Second => Eye::Right,
    }
}

fn buying(wanted: &Wanted, parts: &[Stretch], together: bool, total: Seconds) -> Buying {
    let Some(plan) = wanted.book.plan(wanted.plan) else { return Buying::default() };
    let length =
        |quicker: &[(&StageId, f64)]| -> Option<i64> { parts.iter().map(|part| length(part, quicker, together)).sum() };
    let Some(now) = length(&[]) else { return Buying::default() };
    let mut worths: Vec<(StageWorth, f64)> = Vec::new();
    for (stage, target) in &plan.stage_targets {
        let of_stage = wanted.paces.iter().filter(|pace| pace.stage == *stage);
        let typical: f64 = of_stage.map(|pace| pace.typical).sum();
        let Some(found) = wanted.book.stage(stage).filter(|stage| stage.part == Part::Service) else { continue };
        let times = if found.per_eye { 2.0 } else { 1.0 };
        let (typical, goal) = (typical * times, f64::from(target.both_eyes()));
        if typical <= goal || goal < 0.0 {
            continue;
        }
        let share = goal / typical;
        let saves = length(&[(stage, share)]).map_or(0, |then| now - then);
        if saves > 0 {
            let (now, target) = (whole(typical as i64), target.both_eyes());
            worths.push((StageWorth { stage: stage.clone(), now, target, saves: whole(saves) }, share));
        }
    }
    worths.order_by_key(|(worth, _)| (std::cmp::Reverse(worth.saves), worth.stage.clone()));
    let two: Vec<(&StageId, f64)> = worths.iter().take(2).map(|(worth, share)| (&worth.stage, *share)).collect();
    let with_two = length(&two).map_or(total, |then| total.saturating_sub(whole(now - then)));
    Buying { stages: worths.into_iter().map(|(worth, _)| worth).collect(), with_two }
}

/// Seconds of a part when some stages take only a share of their time.
fn length(part: &Stretch, quicker: &[(&StageId, f64)], together: bool) -> Option<i64> {
    let share = |stage: &Stage| quicker.iter().find(|(of, _)| **of == stage.id).map(|(_, share)| *share);
    let planned =
        |stage: &Stage, seconds: i64| share(stage).map_or(seconds, |share| (seconds as f64 * share).ceil() as i64);
    let tasks = match part {
        Stretch::Shared { stage, seconds } => return Some(planned(stage, *seconds)),
        Stretch::Eyes(tasks) => tasks,
    };
    let mut then = tasks.clone();
    for task in &mut then {
        task.planned = planned(task.stage, task.planned);
    }
    let timeline = Stretch::Eyes(then).timeline().ok()??;
    match together {
        true => Some(timeline.shortest(None).ok()?.schedule.makespan),
        false => Some(timeline.sequential()),
    }
}

/// Waits across a stage that both eyes share that are longer than the course book allows, when one eye is
/// worked after the other; inside a part no layout has any.
fn waits(book: &CourseBook, layout: &Layout) -> Vec<String> {
    let mut said = Vec::new();
    for eye in Eye::BOTH {
        let of_eye: Vec<&Block> = layout.blocks.iter().filter(|block| block.eye == Some(eye)).collect();
        for (block, next) in of_eye.iter().zip(of_eye.iter().skip(1)) {
            let hands = matches!(block.kind, BlockKind::Hands(Piece::Work | Piece::TakeOff));
            let stage = book.stage(&block.stage).filter(|_| hands && block.stage != next.stage);
            let Some((stage, most)) = stage.and_then(|stage| Some((stage, stage.longest_wait_after?))) else {
                continue;
            };
            let wait = next.from.saturating_sub(block.until);
            if wait > most {
                said.push(format!(
                    "the {} eye waits {} after “{}”; the course book allows {}",
                    eye.word(),
                    format_seconds(wait),
                    stage.label,
                    format_seconds(most),
                ));
            }
        }
    }
    said
}

fn whole(seconds: i64) -> Seconds {
    Seconds::try_from(seconds.max(0)).unwrap_or(Seconds::MAX)
}

#[cfg(test)]
mod tests;
