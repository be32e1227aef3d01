//! The connection to one database: opening, closing for another tab, opening again when it is lost.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use js_sys::Promise;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{Event, IdbDatabase, IdbFactory, IdbObjectStoreParameters, IdbOpenDbRequest, IdbVersionChangeEvent};

use super::transaction::{Mode, Transaction};
use super::{PACKS, STORES, StoreError};
use crate::browser::{panic, timer};

/// Raised when the object stores change; every older version ever released must still open. Version 2 has keys.
const VERSION: u32 = 2;

/// How long an opening waits for tabs of an older version to let go, in milliseconds.
const PATIENCE_MS: u32 = 5_000;

thread_local! {
    static OUTDATED: RefCell<Option<Rc<dyn Fn()>>> = const { RefCell::new(None) };
}

/// One database of this browser, open. Copies share the connection.
#[derive(Debug, Clone)]
pub struct Database {
    name: Rc<str>,
    handle: Rc<RefCell<IdbDatabase>>,
    /// Number of the last change to the log that this tab made itself or has read.
    pub(super) seen: Rc<Cell<u64>>,
}

/// Calls `act` when a newer version of the app takes the records over: from then on nothing can be saved here.
pub fn on_outdated(act: impl Fn() + 'static) {
    OUTDATED.set(Some(Rc::new(act)));
}

fn say_outdated() {
    if let Some(act) = OUTDATED.with_borrow(Clone::clone) {
        act();
    }
}

impl Database {
    /// Opens the database of this name, [`super::RECORDS`] or [`super::DEMO`], and makes it when it is not there.
    ///
    /// It closes itself when another tab wants to remove it or bring it to a newer version.
    ///
    /// # Errors
    /// Returns [`StoreError::Refused`] when the browser keeps nothing for this page and
    /// [`StoreError::Blocked`] when another tab holds another version.
    pub async fn open(name: &str) -> Result<Self, StoreError> {
        let handle = connect(name).await?;
        Ok(Self { name: name.into(), handle: Rc::new(RefCell::new(handle)), seen: Rc::default() })
    }

    /// Returns the name under which the database was opened.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Makes this the database that the page of a broken app copies.
    pub fn rescue_from_now_on(&self) {
        panic::name_database(&self.name);
    }

    /// Runs `work` in one transaction and returns when that is complete; everything or nothing.
    ///
    /// When the connection is lost it is opened again and `work` runs once more, told so by its
    /// second argument: the first run may have been complete after all.
    pub(super) async fn run<T>(
        &self,
        stores: &[&str],
        mode: Mode,
        work: impl AsyncFn(&Transaction, bool) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        match self.run_once(stores, mode, &work, false).await {
            Err(StoreError::Lost) => {
                self.reopen().await?;
                self.run_once(stores, mode, &work, true).await
            }
            done => done,
        }
    }

    async fn run_once<T>(
        &self,
        stores: &[&str],
        mode: Mode,
        work: &impl AsyncFn(&Transaction, bool) -> Result<T, StoreError>,
        replay: bool,
    ) -> Result<T, StoreError> {
        let handle = self.handle.borrow().clone();
        let transaction = Transaction::begin(&handle, stores, mode)?;
        match work(&transaction, replay).await {
            Ok(value) => transaction.complete().await.map(|()| value),
            Err(reason) => Err(transaction.give_up(reason).await),
        }
    }

    async fn reopen(&self) -> Result<(), StoreError> {
        self.handle.borrow().close();
        let fresh = connect(&self.name).await.map_err(|reason| match reason {
            StoreError::Refused => StoreError::Lost,
            other => other,
        })?;
        self.handle.replace(fresh);
        Ok(())
    }
}

/// Deletes a whole database in one act; other tabs let go of it by themselves.
///
/// # Errors
/// Returns [`StoreError::Blocked`] when another tab holds on to it, [`StoreError::Refused`] without storage.
pub async fn delete(name: &str) -> Result<(), StoreError> {
    let request = factory()?.delete_database(name).map_err(|thrown| StoreError::of_opening(&thrown))?;
    settle(&request).await
}

fn factory() -> Result<IdbFactory, StoreError> {
    web_sys::window()
        .ok_or(StoreError::Refused)?
        .indexed_db()
        .map_err(|_| StoreError::Refused)?
        .ok_or(StoreError::Refused)
}

async fn connect(name: &str) -> Result<IdbDatabase, StoreError> {
    let request = factory()?.open_with_u32(name, VERSION).map_err(|thrown| StoreError::of_opening(&thrown))?;
    // It must outlive this wait: an opening that another tab holds up may come to pass later.
    let upgrade = Closure::once_into_js(|event: Event| {
        // A store that could not be made is missed by the first transaction, which says so.
        let _ = make_stores(&event);
    });
    request.set_onupgradeneeded(Some(upgrade.unchecked_ref()));
    settle(&request).await.inspect_err(|reason| {
        if *reason == StoreError::Outdated {
            say_outdated();
        }
    })?;
    let database: IdbDatabase = request.result().map_err(|thrown| StoreError::of_opening(&thrown))?.unchecked_into();
    let held = database.clone();
    let give_way = Closure::<dyn FnMut(Event)>::new(move |event: Event| {
        // What is under way is completed first: the browser closes after it.
        held.close();
        let newer = event.dyn_ref::<IdbVersionChangeEvent>().and_then(IdbVersionChangeEvent::new_version);
        // A removal has no new version; its own tab says what to do.
        if newer.is_some() {
            say_outdated();
        }
    });
    database.set_onversionchange(Some(give_way.into_js_value().unchecked_ref()));
    Ok(database)
}

fn make_stores(event: &Event) -> Result<(), JsValue> {
    let Some(request) = event.target() else { return Ok(()) };
    let database: IdbDatabase = request.unchecked_into::<IdbOpenDbRequest>().result()?.unchecked_into();
    for name in STORES {
        if database.object_store_names().contains(name) {
            continue;
        }
        let how = IdbObjectStoreParameters::new();
        how.set_auto_increment(name == PACKS);
        database.create_object_store_with_optional_parameters(name, &how)?;
    }
    Ok(())
}

/// Waits for an opening or a removal. One that another tab holds up has some seconds, after which it counts as
/// failed; should it succeed later, its connection is closed at once.
async fn settle(request: &IdbOpenDbRequest) -> Result<(), StoreError> {
    let settled = Promise::new(&mut |resolve, reject| {
        request.set_onsuccess(Some(&resolve));
        request.set_onerror(Some(&reject));
        let held_up = Closure::once_into_js(move || {
            wasm_bindgen_futures::spawn_local(async move {
                timer::pause(PATIENCE_MS).await;
                let _ = reject.call1(&JsValue::UNDEFINED, &JsValue::from_str(HELD_UP));
            });
        });
        request.set_onblocked(Some(held_up.unchecked_ref()));
    });
    match JsFuture::from(settled).await {
        Ok(_) => Ok(()),
        Err(reason) if reason.as_string().as_deref() == Some(HELD_UP) => {
            let late = request.clone();
            let let_go = Closure::once_into_js(move || {
                if let Some(database) = late.result().ok().and_then(|found| found.dyn_into::<IdbDatabase>().ok()) {
                    database.close();
                }
            });
            request.set_onsuccess(Some(let_go.unchecked_ref()));
            Err(StoreError::Blocked)
        }
        Err(_) => Err(match request.error() {
            Ok(Some(error)) => StoreError::of_opening(&error),
            _ => StoreError::Refused,
        }),
    }
}

/// What a wait ends with that another tab held up for too long.
const HELD_UP: &str = "held up";
