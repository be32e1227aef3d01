//! Timers. They run late while the page is hidden: show what the clock says, never count the calls.

use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use wasm_bindgen_futures::JsFuture;

/// Calls until it is dropped.
#[must_use = "the calls stop when this is dropped"]
#[derive(Debug)]
pub struct Timer {
    id: i32,
    // Held so that the browser has something to call.
    _closure: Closure<dyn FnMut()>,
}

impl Drop for Timer {
    fn drop(&mut self) {
        if let Some(window) = web_sys::window() {
            window.clear_interval_with_handle(self.id);
        }
    }
}

/// Calls `act` every `milliseconds`, the first time after that many; nothing without a window.
pub fn every(milliseconds: u32, act: impl FnMut() + 'static) -> Option<Timer> {
    let closure = Closure::<dyn FnMut()>::new(act);
    let milliseconds = i32::try_from(milliseconds).unwrap_or(i32::MAX);
    let id = web_sys::window()?
        .set_interval_with_callback_and_timeout_and_arguments_0(closure.as_ref().unchecked_ref(), milliseconds)
        .ok()?;
    Some(Timer { id, _closure: closure })
}

/// Lets the page do what else waits, and goes on at once after it. Where the browser has a scheduler of its own, that is
/// asked: a timer waits four milliseconds more each time (HTML standard, section 8.6).
pub async fn breathe() {
    let scheduler = js_sys::Reflect::get(&js_sys::global(), &"scheduler".into()).ok();
    let scheduler = scheduler.filter(wasm_bindgen::JsValue::is_object);
    let turn = scheduler.as_ref().and_then(|scheduler| {
        let give = super::method(scheduler, "yield")?;
        give.call0(scheduler).ok()?.dyn_into::<js_sys::Promise>().ok()
    });
    match turn {
        Some(turn) => {
            let _ = JsFuture::from(turn).await;
        }
        None => pause(0).await,
    }
}

/// Waits for so many milliseconds.
pub async fn pause(milliseconds: u32) {
    let milliseconds = i32::try_from(milliseconds).unwrap_or(i32::MAX);
    let waited = js_sys::Promise::new(&mut |resolve, _| {
        if let Some(window) = web_sys::window() {
            let _ = window.set_timeout_with_callback_and_timeout_and_arguments_0(&resolve, milliseconds);
        }
    });
    let _ = JsFuture::from(waited).await;
}
