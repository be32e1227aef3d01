//! The run under way as the couch pages share it: every tap is on the disk before the screen changes.

use std::collections::VecDeque;
use std::sync::Arc;

use leptos::prelude::*;
use practicum::couch::fold::Run;
use practicum::couch::{Act, Opening, Tap, What};
use practicum::course_book::CourseBook;
use practicum::gate::Gate;
use practicum::moment::Reading;

use super::live::Live;
use crate::session::Session;

/// The run under way.
#[derive(Clone, Copy)]
pub(crate) struct Couch {
    session: Session,
    book: StoredValue<Arc<CourseBook>>,
    opening: StoredValue<Opening>,
    queue: StoredValue<VecDeque<(Reading, Act)>>,
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

    /// Records acts made now, in order: saved first, shown after.
    ///
    /// The reading is taken at the call, not when the disk is ready.
    pub(crate) fn tap(&self, acts: impl IntoIterator<Item = Act>) {
        let reading = crate::session::reading();
        if !crate::browser::alarm::sound_ready() {
            // After a reload the first tap unlocks the sound again.
            leptos::task::spawn_local(async {
                let _ = crate::browser::alarm::unlock().await;
            });
        }
        self.queue.update_value(|queue| queue.extend(acts.into_iter().map(|act| (reading, act))));
        if self.saving.get_value() {
            return;
        }
        self.saving.set_value(true);
        let couch = *self;
        leptos::task::spawn_local(async move {
            while let Some((reading, act)) = couch.queue.try_update_value(VecDeque::pop_front).flatten() {
                if let Err(sentence) = couch.save(reading, act).await {
                    couch.queue.update_value(VecDeque::clear);
                    couch.problem.set(Some(sentence));
                }
            }
            couch.saving.set_value(false);
        });
    }

    async fn save(&self, reading: Reading, act: Act) -> Result<(), String> {
        let taps = self.taps.get_untracked();
        let (book, opening) = (self.book.get_value(), self.opening.get_value());
        let run = Run::fold(&book, &opening, &taps);
        if let Some(why) = run.refuses(&act) {
            return Err(format!("Not recorded: {why}."));
        }
        if matches!(act, Act::LotionStarts(..)) {
            let drill = opening.what != What::Service;
            let gate = self.session.gate(run.prepared(), &opening.trainee, &reading.at, drill);
            if let Some(block) = gate.blocks.iter().find(|block| block.shuts()) {
                return Err(format!("Lotion is locked: {} {}", block.reason.say(), block.reason.what_to_do()));
            }
        }
        let sequence = u32::try_from(taps.len()).unwrap_or(u32::MAX);
        let tap = Tap { sequence, reading, act };
        self.session.save_tap(opening.id.as_str(), &tap).await?;
        self.taps.update(|taps| {
            let mut longer = taps.as_ref().clone();
            longer.push(tap);
            *taps = Arc::new(longer);
        });
        self.now.set(crate::session::reading());
        self.problem.set(None);
        Ok(())
    }
}
