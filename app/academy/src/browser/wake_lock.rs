//! Keeping the screen awake.

use std::cell::RefCell;
use std::rc::Rc;

use js_sys::Promise;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::EventTarget;

use super::listener::Listener;
use super::{method, property, visibility};

type OnChange = Rc<dyn Fn(bool)>;

#[derive(Default)]
struct Screen {
    wanted: bool,
    asking: bool,
    lock: Option<(EventTarget, Listener)>,
    seen_again: Option<Listener>,
    on_change: Option<OnChange>,
}

thread_local! {
    static SCREEN: RefCell<Screen> = RefCell::default();
}

/// Asks for the screen to stay awake, now and whenever the page is seen again, until [`release`].
pub fn request() {
    SCREEN.with_borrow_mut(|screen| {
        screen.wanted = true;
        if screen.seen_again.is_none() {
            screen.seen_again = Some(visibility::on_visibility_change(|hidden| {
                if !hidden {
                    spawn_local(ask());
                }
            }));
        }
    });
    spawn_local(ask());
}

/// Lets the screen sleep again.
pub fn release() {
    let lock = SCREEN.with_borrow_mut(|screen| {
        screen.wanted = false;
        screen.seen_again = None;
        screen.lock.take()
    });
    if let Some((lock, gone)) = lock {
        // Stops listening first, so that the change is told once.
        drop(gone);
        let_go(&lock);
        tell(false);
    }
}

/// Returns whether the screen is being kept awake.
pub fn held() -> bool {
    SCREEN.with_borrow(|screen| screen.lock.is_some())
}

/// Calls `act` with [`held`]'s answer whenever that may have changed, a refusal included; one callback at a time.
pub fn on_change(act: impl Fn(bool) + 'static) {
    SCREEN.with_borrow_mut(|screen| screen.on_change = Some(Rc::new(act)));
}

async fn ask() {
    let go = SCREEN.with_borrow_mut(|screen| {
        let go = screen.wanted && !screen.asking && screen.lock.is_none() && !visibility::hidden();
        screen.asking |= go;
        go
    });
    if !go {
        return;
    }
    let lock = obtain().await;
    let unwanted = SCREEN.with_borrow_mut(|screen| {
        screen.asking = false;
        match lock {
            Some(lock) if screen.wanted => {
                let gone = Listener::new(&lock, "release", |_| {
                    // Dropped later: this is the listener that is being called.
                    let lock = SCREEN.with_borrow_mut(|screen| screen.lock.take());
                    spawn_local(async move { drop(lock) });
                    tell(false);
                });
                screen.lock = Some((lock, gone));
                None
            }
            other => other,
        }
    });
    if let Some(lock) = unwanted {
        let_go(&lock);
    }
    tell(held());
}

async fn obtain() -> Option<EventTarget> {
    let wake_lock = property(&property(&js_sys::global(), "navigator")?, "wakeLock")?;
    let asked = method(&wake_lock, "request")?.call1(&wake_lock, &JsValue::from_str("screen")).ok()?;
    JsFuture::from(Promise::resolve(&asked)).await.ok()?.dyn_into().ok()
}

fn let_go(lock: &EventTarget) {
    if let Some(release) = method(lock, "release")
        && let Ok(promise) = release.call0(lock)
    {
        spawn_local(async move {
            let _ = JsFuture::from(Promise::resolve(&promise)).await;
        });
    }
}

fn tell(held: bool) {
    // Cloned first, so that the callback may call back into this file.
    let on_change = SCREEN.with_borrow(|screen| screen.on_change.clone());
    if let Some(on_change) = on_change {
        on_change(held);
    }
}
