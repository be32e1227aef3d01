//! Works out the rows of a group in steps, so that the page stays in hand.

use leptos::prelude::*;
use leptos::task::spawn_local;
use practicum::group::{ByTrainee, Row, RowInput, row};
use practicum::person::Role;

use crate::browser;
use crate::session::{Session, reading};

/// Longest that a step holds the page, in milliseconds.
const STEP_MS: u64 = 12;

/// How far the work is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Working {
    /// So many rows of so many.
    Under {
        /// Worked out.
        done: usize,
        /// In all.
        of: usize,
    },
    /// All of them.
    Done(usize),
}

/// Rows under way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Work {
    /// The rows that are worked out.
    pub(super) rows: RwSignal<Vec<Row>>,
    /// How far it is.
    pub(super) working: RwSignal<Working>,
    /// Counts up each time the rows were worked out anew.
    pub(super) round: RwSignal<u32>,
}

impl Work {
    /// Begins, and begins anew whenever the records change.
    pub(super) fn begin(session: Session) -> Self {
        let work = Self {
            rows: RwSignal::new(Vec::new()),
            working: RwSignal::new(Working::Under { done: 0, of: 0 }),
            round: RwSignal::new(0),
        };
        let turn = StoredValue::new(0_u32);
        Effect::new(move |_| {
            let _ = (session.records(), session.books());
            let mine = turn.with_value(|turn| turn.wrapping_add(1));
            turn.set_value(mine);
            spawn_local(async move { work.go(session, move || turn.try_get_value() == Some(mine)).await });
        });
        work
    }

    /// Works out all rows; stops when `still` says that it is no longer asked for.
    async fn go(self, session: Session, still: impl Fn() -> bool) {
        // The frame that asked comes first.
        browser::timer::pause(0).await;
        let (records, books) = (session.records_now(), session.books_now());
        let Some(present) = books.last() else { return };
        let adopted: Vec<_> = books.iter().map(std::sync::Arc::as_ref).collect();
        let books = practicum::evidence::Books { present, adopted: &adopted };
        let services = records.services_in_force();
        browser::timer::pause(0).await;
        let outcomes = records.outcomes_in_force();
        browser::timer::pause(0).await;
        let sorted = ByTrainee::of(&services, &outcomes);
        let (decisions, trials) = (records.decisions(), records.trials());
        let trainees: Vec<_> = records.people().into_iter().filter(|person| person.role == Role::Trainee).collect();
        browser::timer::pause(0).await;
        let (now, of) = (reading().at, trainees.len());
        let mut rows = Vec::with_capacity(of);
        let mut began = browser::clock::now().mono_ms;
        for trainee in trainees {
            rows.push(row(&RowInput {
                trainee,
                now: &now,
                books,
                services: sorted.services(&trainee.id),
                outcomes: sorted.outcomes(&trainee.id),
                decisions: &decisions,
                trials: &trials,
            }));
            if browser::clock::now().mono_ms.saturating_sub(began) > STEP_MS {
                self.working.try_set(Working::Under { done: rows.len(), of });
                browser::timer::pause(0).await;
                if !still() {
                    return;
                }
                began = browser::clock::now().mono_ms;
            }
        }
        self.rows.try_set(rows);
        self.round.try_update(|round| *round = round.wrapping_add(1));
        self.working.try_set(Working::Done(of));
    }
}

/// Puts more cards on the page, some at a time, until all that fit are there.
pub(super) fn grow(limit: RwSignal<usize>, wanted: impl Fn() -> usize + 'static) {
    spawn_local(async move {
        while let Some(now) = limit.try_get_untracked().filter(|now| *now < wanted()) {
            browser::timer::pause(0).await;
            // Another of these may be at work too: whoever comes later finds more there.
            if limit.try_set(now + super::AT_ONCE).is_some() {
                return;
            }
        }
    });
}
