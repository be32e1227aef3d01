//! A worker: the same program once more, beside the page, for work that would hold the page up.
//!
//! It is started by the first work that is given to it, from the file that the page names, and kept. Lists of
//! numbers go to and fro, each led by the ticket of its work; a list that holds nothing is the worker's word that
//! it is ready, and one of a ticket alone that the work broke it.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use js_sys::{Float64Array, Function, Promise};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{Element, Event, MessageEvent, Worker, WorkerOptions, WorkerType};

use super::listener::Listener;

/// Why a worker gave no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WorkerError {
    /// It cannot be started in this browser.
    #[error("this browser cannot start a worker")]
    CannotStart,
    /// It broke at this work; the next work gets a new one.
    #[error("the worker broke at this work")]
    Broke,
}

/// Who waits for an answer: resolved with the list, or with nothing.
type Waiting = Rc<RefCell<BTreeMap<u32, Function>>>;

struct Running {
    worker: Worker,
    ready: Rc<RefCell<bool>>,
    waiting: Waiting,
    _listeners: [Listener; 3],
}

impl Drop for Running {
    fn drop(&mut self) {
        self.worker.terminate();
    }
}

#[derive(Default)]
struct Place {
    running: Option<Running>,
    /// It could not be started once: no other try is made.
    refused: bool,
    ticket: u32,
}

thread_local! {
    static PLACE: RefCell<Place> = RefCell::default();
}

/// Has the worker work something out.
///
/// # Errors
/// When no worker can be started here, or it broke.
pub async fn work_out(numbers: &[f64]) -> Result<Vec<f64>, WorkerError> {
    let (waited, ready) = PLACE.with_borrow_mut(|place| give(place, numbers))?;
    let found = JsFuture::from(waited).await.ok().and_then(|found| found.dyn_into::<Float64Array>().ok());
    // The first number is the ticket.
    match found.map(|list| list.to_vec()) {
        Some(list) if list.len() > 1 => Ok(list.get(1..).unwrap_or_default().to_vec()),
        _ if *ready.borrow() => Err(WorkerError::Broke),
        _ => Err(WorkerError::CannotStart),
    }
}

fn give(place: &mut Place, numbers: &[f64]) -> Result<(Promise, Rc<RefCell<bool>>), WorkerError> {
    if place.refused {
        return Err(WorkerError::CannotStart);
    }
    if place.running.is_none() {
        place.running = start();
        place.refused = place.running.is_none();
    }
    let running = place.running.as_ref().ok_or(WorkerError::CannotStart)?;
    place.ticket = place.ticket.wrapping_add(1);
    let ticket = place.ticket;
    let list = [&[f64::from(ticket)], numbers].concat();
    let waiting = Rc::clone(&running.waiting);
    let waited = Promise::new(&mut |resolve, _| {
        waiting.borrow_mut().insert(ticket, resolve);
    });
    if running.worker.post_message(&Float64Array::from(list.as_slice())).is_err() {
        waiting.borrow_mut().remove(&ticket);
        return Err(WorkerError::Broke);
    }
    Ok((waited, Rc::clone(&running.ready)))
}

/// Starts the worker from the file that the page names; `None` where the page names none or the browser refuses.
fn start() -> Option<Running> {
    let document = web_sys::window()?.document()?;
    let named: Element = document.query_selector("meta[name=\"worker\"]").ok().flatten()?;
    let file = named.get_attribute("content")?;
    let options = WorkerOptions::new();
    options.set_type(WorkerType::Module);
    let worker = Worker::new_with_options(&file, &options).ok()?;
    let (ready, waiting) = (Rc::new(RefCell::new(false)), Waiting::default());
    let hear = {
        let (ready, waiting) = (Rc::clone(&ready), Rc::clone(&waiting));
        move |event: Event| {
            let data = event.dyn_ref::<MessageEvent>().map(MessageEvent::data).unwrap_or(JsValue::NULL);
            let Ok(list) = data.dyn_into::<Float64Array>() else {
                return stop(*ready.borrow());
            };
            match list.length() {
                0 => *ready.borrow_mut() = true,
                1 => stop(true),
                _ => answer(&waiting, &list),
            }
        }
    };
    let failed = {
        let ready = Rc::clone(&ready);
        move |event: Event| {
            event.prevent_default();
            stop(*ready.borrow());
        }
    };
    let listeners = [
        Listener::new(&worker, "message", hear),
        Listener::new(&worker, "error", failed.clone()),
        Listener::new(&worker, "messageerror", failed),
    ];
    Some(Running { worker, ready, waiting, _listeners: listeners })
}

fn answer(waiting: &Waiting, list: &Float64Array) {
    // Tickets are whole and within range: nothing is cut off.
    let ticket = list.get_index(0) as u32;
    let resolve = waiting.borrow_mut().remove(&ticket);
    if let Some(resolve) = resolve {
        let _ = resolve.call1(&JsValue::UNDEFINED, list);
    }
}

/// Ends the worker and tells all who wait; one that had never been ready is not tried again.
fn stop(was_ready: bool) {
    let running = PLACE.with_borrow_mut(|place| {
        place.refused = !was_ready;
        place.running.take()
    });
    if let Some(running) = running {
        let waiting = std::mem::take(&mut *running.waiting.borrow_mut());
        for resolve in waiting.into_values() {
            let _ = resolve.call0(&JsValue::UNDEFINED);
        }
        // This runs inside a callback of one of its listeners, which must outlive the call.
        wasm_bindgen_futures::spawn_local(async move { drop(running) });
    }
}
