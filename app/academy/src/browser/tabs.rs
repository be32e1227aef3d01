//! Word from tab to tab of this browser.

use std::cell::RefCell;

use wasm_bindgen::{JsCast, JsValue};
use web_sys::{BroadcastChannel, MessageEvent};

use super::listener::Listener;

const NAME: &str = "upsweep";

thread_local! {
    // One channel for speaking and hearing: a channel does not hear itself.
    static CHANNEL: RefCell<Option<BroadcastChannel>> = const { RefCell::new(None) };
}

/// Tells the other tabs, for example `changed`; silently does nothing where tabs cannot talk.
pub fn announce(message: &str) {
    if let Some(channel) = channel() {
        let _ = channel.post_message(&JsValue::from_str(message));
    }
}

/// Calls `act` with each message of another tab.
pub fn on_message(act: impl Fn(String) + 'static) -> Listener {
    let Some(channel) = channel() else { return Listener::deaf() };
    Listener::new(&channel, "message", move |event| {
        if let Some(message) = event.dyn_ref::<MessageEvent>().and_then(|event| event.data().as_string()) {
            act(message);
        }
    })
}

fn channel() -> Option<BroadcastChannel> {
    CHANNEL.with_borrow_mut(|channel| {
        if channel.is_none() {
            *channel = BroadcastChannel::new(NAME).ok();
        }
        channel.clone()
    })
}
