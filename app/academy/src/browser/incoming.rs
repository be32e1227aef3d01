//! What comes to the page from outside: files dropped or pasted onto it, texts pasted, files that the system hands
//! to the app.

use std::rc::Rc;

use js_sys::{Array, Function, Promise};
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{ClipboardEvent, DragEvent, Event, File, FileList};

use super::file::{ChosenFile, FileError, read};
use super::listener::Listener;
use super::{method, property};

/// Something that came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Incoming {
    /// A file, or why it was not read.
    File(Result<ChosenFile, FileError>),
    /// A text.
    Text(String),
}

/// Calls `act` with every file that is dropped onto the page, and every file or text that is pasted outside a field.
pub fn listen(cap: u64, act: impl Fn(Incoming) + 'static) -> [Listener; 3] {
    let Some(window) = web_sys::window() else { return [Listener::deaf(), Listener::deaf(), Listener::deaf()] };
    let act: Rc<dyn Fn(Incoming)> = Rc::new(act);
    let (dropped, pasted) = (Rc::clone(&act), act);
    [
        // Without this the browser would leave the app and show the file.
        Listener::new(&window, "dragover", |event: Event| event.prevent_default()),
        Listener::new(&window, "drop", move |event: Event| {
            event.prevent_default();
            let data = event.dyn_ref::<DragEvent>().and_then(DragEvent::data_transfer);
            take(data.and_then(|data| data.files()), cap, &dropped);
        }),
        Listener::new(&window, "paste", move |event: Event| {
            let data = event.dyn_ref::<ClipboardEvent>().and_then(ClipboardEvent::clipboard_data);
            let Some(data) = data.filter(|_| !in_a_field(&event)) else { return };
            if !take(data.files(), cap, &pasted)
                && let Ok(text) = data.get_data("text/plain")
                && !text.trim().is_empty()
            {
                pasted(Incoming::Text(text));
            }
        }),
    ]
}

/// Calls `act` with the files that the system opened the app with, where the browser can do that.
pub fn on_launch(cap: u64, act: impl Fn(Incoming) + 'static) {
    let act: Rc<dyn Fn(Incoming)> = Rc::new(act);
    let consumer = Closure::<dyn FnMut(JsValue)>::new(move |launched: JsValue| {
        let files = property(&launched, "files").and_then(|files| files.dyn_into::<Array>().ok()).unwrap_or_default();
        for handle in files.iter() {
            let act = Rc::clone(&act);
            spawn_local(async move {
                let Some(asked) = method(&handle, "getFile").and_then(|get| get.call0(&handle).ok()) else { return };
                if let Ok(file) = JsFuture::from(Promise::resolve(&asked)).await {
                    act(Incoming::File(read(file.unchecked_into(), cap).await));
                }
            });
        }
    });
    let queue = web_sys::window().and_then(|window| property(&window, "launchQueue"));
    if let Some(queue) = queue
        && let Some(set) = method(&queue, "setConsumer")
    {
        let consumer: Function = consumer.into_js_value().unchecked_into();
        let _ = set.call1(&queue, &consumer);
    }
}

/// Takes the file that the system's share sheet gave to the app, once; the service worker has kept it.
pub async fn shared(cap: u64) -> Option<Incoming> {
    let window: JsValue = web_sys::window()?.into();
    let caches = property(&window, "caches")?;
    let answered = async |of: &JsValue, name: &str, argument: &JsValue| {
        let asked = method(of, name)?.call1(of, argument).ok()?;
        JsFuture::from(Promise::resolve(&asked)).await.ok()
    };
    let place = "upsweep-shared".into();
    // To open what is not there would make it.
    if !answered(&caches, "has", &place).await?.is_truthy() {
        return None;
    }
    let kept = answered(&caches, "open", &place).await?;
    let name = "./shared-file".into();
    let answer = answered(&kept, "match", &name).await.filter(|answer| !answer.is_undefined())?;
    let blob = method(&answer, "blob")?.call0(&answer).ok()?;
    let blob: web_sys::Blob = JsFuture::from(Promise::resolve(&blob)).await.ok()?.dyn_into().ok()?;
    let file = File::new_with_blob_sequence(&Array::of1(&blob), "shared file").ok()?;
    let read = read(file, cap).await;
    answered(&kept, "delete", &name).await;
    Some(Incoming::File(read))
}

/// Takes the files of a list; returns whether there were any.
fn take(files: Option<FileList>, cap: u64, act: &Rc<dyn Fn(Incoming)>) -> bool {
    let files: Vec<File> =
        files.map(|files| (0..files.length()).filter_map(|n| files.get(n)).collect()).unwrap_or_default();
    let any = !files.is_empty();
    for file in files {
        let act = Rc::clone(act);
        spawn_local(async move { act(Incoming::File(read(file, cap).await)) });
    }
    any
}

fn in_a_field(event: &Event) -> bool {
    let target = event.target().and_then(|target| target.dyn_into::<web_sys::Element>().ok());
    target.is_some_and(|target| matches!(target.tag_name().as_str(), "INPUT" | "TEXTAREA" | "SELECT"))
}

/// Puts a text into the clipboard; returns whether the browser took it.
pub async fn copy(text: &str) -> bool {
    let Some(clipboard) =
        property(&js_sys::global(), "navigator").and_then(|navigator| property(&navigator, "clipboard"))
    else {
        return false;
    };
    let clipboard: web_sys::Clipboard = clipboard.unchecked_into();
    JsFuture::from(clipboard.write_text(text)).await.is_ok()
}
