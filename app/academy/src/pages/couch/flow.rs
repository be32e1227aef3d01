//! What the couch screen offers next, for each eye and for both: pure, so that it can be tested without a browser.

use practicum::couch::fold::{Hand, Phase, Run, Status};
use practicum::couch::{Act, Tint};
use practicum::course_book::{Stage, Work};
use practicum::eye::Eye;
use practicum::moment::Seconds;
use practicum::product::ProductKind;

/// A button at the couch: its words, and the acts that one tap records.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Offer {
    /// Words on the button.
    pub(crate) words: String,
    /// Acts recorded together, in order.
    pub(crate) acts: Vec<Act>,
}

impl Offer {
    fn new(words: impl Into<String>, acts: impl Into<Vec<Act>>) -> Self {
        Self { words: words.into(), acts: acts.into() }
    }
}

/// What one eye's lane shows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Lane {
    /// The eye; `None` for the lane of a shared stage.
    pub(crate) eye: Option<Eye>,
    /// Name of the stage.
    pub(crate) stage: String,
    /// Cautions of the stage.
    pub(crate) cautions: Vec<String>,
    /// A short line: what the state is.
    pub(crate) state: String,
    /// The hands-on clock of this lane runs now.
    pub(crate) running: bool,
    /// An instructor is looking now.
    pub(crate) checking: bool,
    /// Hands-on seconds of the stage so far.
    pub(crate) worked: Seconds,
    /// The large button.
    pub(crate) primary: Option<Offer>,
    /// Smaller buttons.
    pub(crate) others: Vec<Offer>,
}

/// What the screen shows: one shared lane, or a lane for each eye.
pub(crate) fn lanes(run: &Run<'_>) -> Vec<Lane> {
    let next = Eye::BOTH.map(|eye| run.next_stage(eye));
    if let [Some(left), Some(right)] = next
        && left.id == right.id
        && !left.per_eye
    {
        return vec![shared_lane(run, left)];
    }
    let lane = |(eye, stage): (Eye, Option<&Stage>)| match stage {
        Some(stage) if stage.per_eye => Some(eye_lane(run, stage, eye)),
        Some(stage) => Some(waiting_lane(eye, stage)),
        None => None,
    };
    Eye::BOTH.into_iter().zip(next).filter_map(lane).collect()
}

fn waiting_lane(eye: Eye, stage: &Stage) -> Lane {
    Lane { eye: Some(eye), stage: stage.label.clone(), state: "waits for the other eye".to_owned(), ..Lane::default() }
}

fn blank_lane(run: &Run<'_>, stage: &Stage, eye: Option<Eye>) -> Lane {
    let hand = Hand { stage: stage.id.clone(), eye };
    Lane {
        eye,
        stage: stage.label.clone(),
        cautions: stage.cautions.clone(),
        running: run.hand() == Some(&hand),
        worked: run.worked(&stage.id, eye),
        ..Lane::default()
    }
}

fn shared_lane(run: &Run<'_>, stage: &Stage) -> Lane {
    let mut lane = blank_lane(run, stage, None);
    let id = &stage.id;
    match stage.work {
        Work::Check => {
            let done = |go_on| Act::CheckDone { stage: id.clone(), by: None, go_on, note: String::new() };
            if *run.phase() == Phase::Checking(id.clone()) {
                lane.checking = true;
                lane.state = "the instructor is looking".to_owned();
                lane.primary = Some(Offer::new("Checked: go on", [done(true)]));
                lane.others.push(Offer::new("Checked: not yet", [done(false)]));
            } else {
                let lotion = run.stages().iter().any(|stage| matches!(stage.work, Work::Dwell(_)));
                lane.state = format!("call the instructor{}", if lotion { " before any lotion" } else { "" });
                lane.primary = Some(Offer::new("Check starts", [Act::CheckStarts(id.clone())]));
            }
        }
        _ => hands_on(run, stage, None, &mut lane),
    }
    lane
}

fn eye_lane(run: &Run<'_>, stage: &Stage, eye: Eye) -> Lane {
    let mut lane = blank_lane(run, stage, Some(eye));
    match stage.work {
        Work::Dwell(kind) => dwell(run, stage, eye, kind.word(), &mut lane),
        _ => hands_on(run, stage, Some(eye), &mut lane),
    }
    lane
}

/// Offers for a hands-on stage. "Done, next" also starts the next stage where that needs no decision.
fn hands_on(run: &Run<'_>, stage: &Stage, eye: Option<Eye>, lane: &mut Lane) {
    let id = &stage.id;
    let start = Act::Work(id.clone(), eye);
    let done = Act::Done(id.clone(), eye);
    let begun = run.status(id, eye) == Status::Begun;
    if !lane.running {
        lane.state = if begun { "left, to be finished" } else { "next" }.to_owned();
        let words = if begun { format!("Go on: {}", stage.label) } else { format!("Start: {}", stage.label) };
        lane.primary = Some(Offer::new(words, [start]));
        if begun {
            lane.others.push(Offer::new("Done", [done]));
        }
        return;
    }
    lane.state = "working".to_owned();
    let (finished, all) = match eye {
        Some(eye) if stage.by_section => {
            let all = run.prepared().sections.get(eye).map_or(0, |sections| usize::from(sections.number()));
            (run.sections_done(id, eye), all)
        }
        _ => (0, 0),
    };
    if let (Some(eye), true) = (eye, finished < all) {
        let section = Act::SectionDone(id.clone(), eye);
        if finished + 1 == all {
            lane.primary = Some(done_and_next(run, stage, Some(eye), "Last section done", vec![section, done]));
        } else {
            lane.primary = Some(Offer::new(format!("Section {} of {all} done", finished + 1), [section]));
            lane.others.push(Offer::new("Stage done", [done]));
        }
        lane.state = format!("section {} of {all}", finished + 1);
    } else {
        lane.primary = Some(done_and_next(run, stage, eye, "Done", vec![done]));
        lane.others.push(Offer::new("Done, nothing next", [Act::Done(id.clone(), eye)]));
    }
}

/// Adds the start of the natural next stage: the other eye first, then the stage after.
fn done_and_next(run: &Run<'_>, stage: &Stage, eye: Option<Eye>, words: &str, mut acts: Vec<Act>) -> Offer {
    if let Some(other) = eye.map(Eye::other).filter(|other| unfinished(run, stage, *other)) {
        acts.push(Act::Work(stage.id.clone(), Some(other)));
        return Offer::new(format!("{words}. Next: {} eye", other.word()), acts);
    }
    let stages = run.stages();
    let after = stages.iter().position(|s| s.id == stage.id).and_then(|place| stages.get(place + 1)).copied();
    let Some(next) = after.filter(|next| next.work == Work::HandsOn) else {
        return Offer::new(words, acts);
    };
    let theirs = next.per_eye.then_some(Eye::Left);
    acts.push(Act::Work(next.id.clone(), theirs));
    let side = theirs.map(|eye| format!(", {} eye", eye.word())).unwrap_or_default();
    Offer::new(format!("{words}. Next: {}{side}", next.label), acts)
}

fn unfinished(run: &Run<'_>, stage: &Stage, eye: Eye) -> bool {
    stage.work == Work::HandsOn && run.next_stage(eye).is_some_and(|theirs| theirs.id == stage.id)
}

fn dwell(run: &Run<'_>, stage: &Stage, eye: Eye, product: &str, lane: &mut Lane) {
    let id = &stage.id;
    match run.status(id, Some(eye)) {
        Status::NotStarted | Status::Begun | Status::Done => {
            lane.state = format!("{product}: not on yet");
            let words =
                if stage.work == Work::Dwell(ProductKind::Tint) { "Tint on, starting" } else { "Lotion on, starting" };
            lane.primary = Some(Offer::new(words, [Act::LotionStarts(id.clone(), eye)]));
        }
        Status::ProductOn => {
            let last = run.product_on(eye).and_then(|dwell| dwell.last_contact);
            let off = Offer::new("Off, started", [Act::OffStarts(id.clone(), eye)]);
            if last.is_none() {
                lane.state = format!("{product} going on");
                lane.primary = Some(Offer::new("All on", [Act::AllOn(id.clone(), eye)]));
                lane.others.push(off);
            } else {
                lane.state = format!("{product} is on");
                lane.primary = Some(off);
            }
        }
        Status::ComingOff => {
            lane.state = format!("{product} coming off");
            lane.primary = Some(Offer::new("Off, done", [Act::OffDone(id.clone(), eye)]));
        }
    }
}

/// Whether the run may be finished: every stage is done, or only stages after the service are left.
pub(crate) fn can_finish(run: &Run<'_>) -> bool {
    use practicum::course_book::Part;
    let left = Eye::BOTH.iter().filter_map(|eye| run.next_stage(*eye));
    let mut left = left.peekable();
    left.peek().is_none() || left.all(|stage| stage.part == Part::After)
}

/// Words for the choice about tint.
pub(crate) fn tint_words(tint: Tint) -> &'static str {
    match tint {
        Tint::None => "no tint",
        Tint::Own => "tint as a stage of its own after setting",
        Tint::Mixed => "tint mixed into the setting lotion",
    }
}
