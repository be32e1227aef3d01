//! A trainee's learning curve: asked of the records, worked out beside the page, kept while nothing changes.

use std::cell::RefCell;
use std::sync::Arc;

use leptos::prelude::*;
use practicum::evidence::learning::{Answer, Answering, Ask, Asked, Response, Wanted, ask, standard_times};
use practicum::ids::PersonId;
use practicum::moment::Seconds;
use practicum::section::Plan;

use super::{Session, reading};
use crate::browser;
use crate::browser::worker::WorkerError;
use crate::worker::encoding;

/// Answers that are kept.
const KEPT: usize = 24;
/// Milliseconds that the page has for itself between two steps of work on it.
const BREATH: u32 = 8;
/// Milliseconds after which an answer is not waited for any longer.
const LONGEST_WAIT: u32 = 30_000;

/// What the curve says: nothing yet, the answer, or why there is none in a sentence.
pub(crate) type Learning = ArcRwSignal<Option<Result<Arc<Answer>, String>>>;

/// A question and its answer to come.
#[derive(Debug, Clone)]
pub(crate) struct Learned {
    /// What was asked: whose rows, and of which services.
    pub(crate) asked: Arc<Asked>,
    /// The answer, once it is there.
    pub(crate) answer: Learning,
}

thread_local! {
    /// Questions with their answers, the last asked at the end.
    static KNOWN: RefCell<Vec<(Ask, Learning)>> = const { RefCell::new(Vec::new()) };
}

impl Session {
    /// Asks what a trainee's times say; the same question is worked out once.
    ///
    /// Follows the records where something follows: what it returns is of the moment, and its answer comes later.
    /// `None` while there is no course book.
    pub(crate) fn learned(&self, trainee: &PersonId, response: &Response) -> Option<Learned> {
        let records = self.records();
        let now = reading().at;
        let present = self.standing(trainee).map_or(Plan::Quarters, |standing| standing.plan);
        let asked = self.with_books(|books| {
            ask(&Wanted {
                trainee,
                people: &records.people(),
                services: &records.services_in_force(),
                books: &books,
                response,
                now: &now,
                present,
            })
        })?;
        let answer = known(&asked.ask).unwrap_or_else(|| {
            let answer = Learning::new(None);
            keep(asked.ask.clone(), answer.clone());
            let (ask, to) = (asked.ask.clone(), answer.clone());
            leptos::task::spawn_local(async move {
                let found = work_out(&ask).await;
                if found.is_err() {
                    forget(&ask);
                }
                to.set(Some(found.map(Arc::new)));
            });
            answer
        });
        Some(Learned { asked: Arc::new(asked), answer })
    }

    /// Waits for what a trainee's times say, as [`Session::learned`] does without waiting.
    pub(crate) async fn learned_whole(&self, trainee: &PersonId) -> Option<Arc<Answer>> {
        let learned = untrack(|| self.learned(trainee, &Response::Whole))?;
        for _ in 0..LONGEST_WAIT / BREATH {
            match learned.answer.get_untracked() {
                Some(answer) => return answer.ok(),
                None => browser::timer::pause(BREATH).await,
            }
        }
        None
    }
}

impl Session {
    /// Returns the hands-on seconds of a trainee's services at a plan that the time standard looks at, in the order
    /// begun.
    pub(crate) fn standard_times(&self, trainee: &PersonId, plan: Plan) -> Vec<Seconds> {
        let records = self.records();
        let times = self.with_books(|books| standard_times(trainee, &records.services_in_force(), &books, plan));
        times.unwrap_or_default()
    }
}

fn known(ask: &Ask) -> Option<Learning> {
    KNOWN.with_borrow(|known| known.iter().find(|(other, _)| other == ask).map(|(_, answer)| answer.clone()))
}

fn keep(ask: Ask, answer: Learning) {
    KNOWN.with_borrow_mut(|known| {
        if known.len() >= KEPT {
            known.remove(0);
        }
        known.push((ask, answer));
    });
}

/// A question that was not answered may be asked again.
fn forget(ask: &Ask) {
    KNOWN.with_borrow_mut(|known| known.retain(|(other, _)| other != ask));
}

async fn work_out(ask: &Ask) -> Result<Answer, String> {
    match browser::worker::work_out(&encoding::write_ask(ask)).await {
        Ok(numbers) => encoding::read_answer(&numbers)
            .ok_or_else(|| "The learning curve came back unreadable: reload the page and try again.".to_owned()),
        Err(WorkerError::Broke) => Err("The learning curve could not be worked out from these services: the work \
                                        broke off. Nothing is lost; the services themselves are shown."
            .to_owned()),
        Err(WorkerError::CannotStart) => Ok(on_page(ask).await),
    }
}

/// Works it out on the page where no worker can be started: in short steps, so that typing and taps come in between.
async fn on_page(ask: &Ask) -> Answer {
    let mut answering = Answering::new(ask);
    loop {
        browser::timer::pause(BREATH).await;
        if let Some(answer) = answering.step() {
            return answer;
        }
    }
}
