//! The run under way as the couch pages share it: every tap is on the disk before the screen changes.

use std::collections::VecDeque;
use std::sync::Arc;

use leptos::prelude::*;
use logbook::challenge::Asked;
use logbook::fact::Fact;
use practicum::couch::fold::Run;
use practicum::couch::{Act, Opening, Override, Tap, What};
use practicum::course_book::CourseBook;
use practicum::gate::Gate;
use practicum::moment::Reading;

use super::live::Live;
use crate::browser::store::StoreError;
use crate::session::Session;

/// One tap of the finger: everything it records is saved together or not at all.
#[derive(Debug, Clone)]
struct Tapped {
    reading: Reading,
    acts: Vec<Act>,
    facts: Vec<Fact>,
}

/// The run under way.
#[derive(Clone, Copy)]
pub(crate) struct Couch {
    session: Session,
    book: StoredValue<Arc<CourseBook>>,
    opening: StoredValue<Opening>,
    queue: StoredValue<VecDeque<Tapped>>,
    taps: RwSignal<Arc<Vec<Tap>>>,
    /// Present reading of the clocks, some times a second.
    pub(crate) now: RwSignal<Reading>,
    minute: Memo<i64>,
    /// A sentence about what went wrong with the last tap.
    pub(crate) problem: RwSignal<Option<String>>,
    saving: StoredValue<bool>,
}

impl Couch {
    /// Shares a run that was read from the disk, or has just been opened there.
    pub(crate) fn new(session: Session, book: Arc<CourseBook>, opening: Opening, taps: Vec<Tap>) -> Self {
        let now = RwSignal::new(crate::session::reading());
        Self {
            session,
            minute: Memo::new(move |_| now.get().at.timestamp() / 60),
            book: StoredValue::new(book),
            opening: StoredValue::new(opening),
            queue: StoredValue::new(VecDeque::new()),
            taps: RwSignal::new(Arc::new(taps)),
            now,
            problem: RwSignal::new(None),
            saving: StoredValue::new(false),
        }
    }

    /// Returns the session.
    pub(crate) fn session(&self) -> Session {
        self.session
    }

    /// Returns the course book in force.
    pub(crate) fn book(&self) -> Arc<CourseBook> {
        self.book.get_value()
    }

    /// Returns what was fixed at the start.
    pub(crate) fn opening(&self) -> Opening {
        self.opening.get_value()
    }

    /// Returns the taps, following their changes.
    pub(crate) fn taps(&self) -> Arc<Vec<Tap>> {
        self.taps.get()
    }

    /// Returns the taps as they are now, without following them.
    pub(crate) fn taps_now(&self) -> Arc<Vec<Tap>> {
        self.taps.try_get_untracked().unwrap_or_default()
    }

    /// Works something out from the run as it stands after its taps, following their changes.
    pub(crate) fn with_run<T>(&self, ask: impl FnOnce(&Run<'_>) -> T) -> T {
        let (book, opening, taps) = (self.book.get_value(), self.opening.get_value(), self.taps.get());
        ask(&Run::fold(&book, &opening, &taps))
    }

    /// Returns the clocks at the present reading, following taps and time.
    pub(crate) fn live(&self) -> Live {
        let now = self.now.get();
        let rules = &self.book.get_value().rules;
        self.with_run(|run| Live::at(run, &now, rules.early_warning_seconds, rules.late_seconds))
    }

    /// Asks the gate before lotion, following taps, records and, to the minute, time.
    pub(crate) fn gate(&self) -> Gate {
        let _ = self.minute.get();
        let at = self.now.get_untracked().at;
        let drill = self.opening.with_value(|opening| opening.what != What::Service);
        let prepared = self.with_run(|run| run.prepared().clone());
        self.session.gate(&prepared, &self.opening.get_value().trainee, &at, drill)
    }

    /// Returns what the couch asks an instructor for an override of the run under way.
    pub(crate) fn asked(&self, made: &Override) -> Option<Asked> {
        let opening = self.opening.get_value();
        self.session.asked_of(&opening.id, &opening.trainee, made)
    }

    /// Records acts made now, in order: saved first, shown after.
    ///
    /// The reading is taken at the call, not when the disk is ready.
    pub(crate) fn tap(&self, acts: impl IntoIterator<Item = Act>) {
        self.tap_and_write(acts, Vec::new());
    }

    /// As [`Couch::tap`], with entries of who is using the device: taps and entries are saved in one transaction.
    pub(crate) fn tap_and_write(&self, acts: impl IntoIterator<Item = Act>, facts: Vec<Fact>) {
        let reading = crate::session::reading();
        if !crate::browser::alarm::sound_ready() {
            // After a reload the first tap unlocks the sound again.
            leptos::task::spawn_local(async {
                let _ = crate::browser::alarm::unlock().await;
            });
        }
        let tapped = Tapped { reading, acts: acts.into_iter().collect(), facts };
        self.queue.update_value(|queue| queue.push_back(tapped));
        if self.saving.get_value() {
            return;
        }
        self.saving.set_value(true);
        let couch = *self;
        leptos::task::spawn_local(async move {
            while let Some(tapped) = couch.queue.try_update_value(VecDeque::pop_front).flatten() {
                if let Err(sentence) = couch.save_or_take_in(tapped).await {
                    couch.queue.update_value(VecDeque::clear);
                    couch.problem.set(Some(sentence));
                }
            }
            couch.saving.set_value(false);
        });
    }

    /// Saves a tap; where another tab of the browser wrote first, shows what that one recorded.
    ///
    /// When nobody did anything there, and the app only noted its clocks, the tap is saved after that. Else it is not:
    /// whoever tapped looks at what stands there now and decides anew, so that nothing is recorded twice.
    async fn save_or_take_in(&self, tapped: Tapped) -> Result<(), String> {
        match self.save(tapped.clone()).await {
            Err(sentence) if sentence == StoreError::HeadMoved.to_string() => {}
            done => return done,
        }
        let id = self.opening.with_value(|opening| opening.id.clone());
        let stored = self.session.load_run().await?.filter(|(_, opening, _)| opening.id == id);
        let Some((_, _, stored)) = stored else { return Err(ENDED_ELSEWHERE.to_owned()) };
        let noted = only_noted(&self.taps_now(), &stored);
        self.taps.set(Arc::new(stored));
        if noted { self.save(tapped).await } else { Err(DONE_ELSEWHERE.to_owned()) }
    }

    async fn save(&self, tapped: Tapped) -> Result<(), String> {
        let Tapped { reading, acts, facts } = tapped;
        let taps = self.taps.get_untracked();
        let (book, opening) = (self.book.get_value(), self.opening.get_value());
        let locked = |run: &Run<'_>| {
            let drill = opening.what != What::Service;
            let gate = self.session.gate(run.prepared(), &opening.trainee, &reading.at, drill);
            let block = gate.blocks.iter().find(|block| block.shuts())?;
            Some(format!("Lotion is locked: {} {}", block.reason.say(), block.reason.what_to_do()))
        };
        let all = with_acts(&book, &opening, &taps, reading, acts, locked)?;
        let new = all.get(taps.len()..).unwrap_or_default();
        self.session.save_taps(opening.id.as_str(), &opening.trainee, new, facts).await?;
        self.taps.set(Arc::new(all));
        self.now.set(crate::session::reading());
        self.problem.set(None);
        Ok(())
    }
}

/// Said when somebody did something in another tab first.
const DONE_ELSEWHERE: &str = "Another tab of Upsweep recorded something first, so this tap was not saved. \
    This tab now shows how the run stands: look, then tap again.";
/// Said when another tab has ended the run.
const ENDED_ELSEWHERE: &str = "Another tab of Upsweep has ended this run, so this tap was not saved.";

/// Whether what stands on the disk after the taps known here was noted by the app alone, and done by nobody.
fn only_noted(known: &[Tap], stored: &[Tap]) -> bool {
    let by_itself = |tap: &Tap| matches!(tap.act, Act::ClockSeen | Act::AlarmMayBeLost(_));
    stored.strip_prefix(known).is_some_and(|new| new.iter().all(by_itself))
}

/// Returns all taps with those that one tap of the finger adds: every act of it, or a sentence why none.
fn with_acts(
    book: &CourseBook,
    opening: &Opening,
    taps: &[Tap],
    reading: Reading,
    acts: Vec<Act>,
    locked: impl Fn(&Run<'_>) -> Option<String>,
) -> Result<Vec<Tap>, String> {
    let mut all = taps.to_vec();
    for act in acts {
        let run = Run::fold(book, opening, &all);
        if let Some(why) = run.refuses(&act) {
            return Err(format!("Not recorded: {why}."));
        }
        if matches!(act, Act::LotionStarts(..))
            && let Some(sentence) = locked(&run)
        {
            return Err(sentence);
        }
        let sequence = u32::try_from(all.len()).unwrap_or(u32::MAX);
        all.push(Tap { sequence, reading, act });
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use practicum::couch::{Act, Opening, Tap, What};
    use practicum::course_book::CourseBook;
    use practicum::moment::{Reading, parse_moment};
    use practicum::section::Plan;

    use super::{only_noted, with_acts};

    #[test]
    fn what_the_app_noted_in_another_tab_is_told_from_what_somebody_did_there() {
        let tap = |sequence, act| Tap { sequence, reading: reading(sequence.into()), act };
        let known = [tap(0, Act::Begin)];
        let noted = [tap(0, Act::Begin), tap(1, Act::ClockSeen), tap(2, Act::AlarmMayBeLost("closed".to_owned()))];
        assert!(only_noted(&known, &noted));
        let done = [tap(0, Act::Begin), tap(1, Act::ClockSeen), tap(2, Act::ConsentChecked)];
        assert!(!only_noted(&known, &done));
        assert!(!only_noted(&noted, &known), "a disk that holds less is another run");
    }

    fn book() -> CourseBook {
        practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap()
    }

    fn opening(book: &CourseBook) -> Opening {
        Opening {
            id: "run".into(),
            trainee: "t".into(),
            what: What::Service,
            plan: Plan::Quarters,
            room: String::new(),
            products: Vec::new(),
            course_book: book.id.clone(),
        }
    }

    fn reading(seconds: u64) -> Reading {
        let at = parse_moment("2026-03-02T10:00:00+00:00").unwrap();
        Reading { at: at + chrono::TimeDelta::seconds(seconds.cast_signed()), page: 1, mono_ms: seconds * 1000 }
    }

    fn begun(book: &CourseBook, opening: &Opening) -> Vec<Tap> {
        with_acts(book, opening, &[], reading(0), vec![Act::Begin], |_| None).unwrap()
    }

    #[test]
    fn one_tap_with_two_acts_numbers_both_at_one_reading() {
        let book = book();
        let opening = opening(&book);
        let begun = begun(&book, &opening);
        let stage = book.stages.iter().find(|stage| !stage.per_eye).unwrap().id.clone();
        let acts = vec![Act::Work(stage.clone(), None), Act::Done(stage, None)];
        let all = with_acts(&book, &opening, &begun, reading(5), acts, |_| None).unwrap();
        let sequences: Vec<u32> = all.iter().map(|tap| tap.sequence).collect();
        assert_eq!(sequences, [0, 1, 2]);
        assert_eq!(all[1].reading, all[2].reading);
    }

    #[test]
    fn one_tap_whose_second_act_is_refused_records_nothing() {
        let book = book();
        let opening = opening(&book);
        let begun = begun(&book, &opening);
        let stage = book.stages.iter().find(|stage| !stage.per_eye).unwrap().id.clone();
        let acts = vec![Act::Work(stage, None), Act::Resume];
        assert!(with_acts(&book, &opening, &begun, reading(5), acts, |_| None).is_err());
    }
}
