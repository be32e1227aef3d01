//! Reads codes with the camera, or from a picture of one: gives each text that it sees to whoever asked.

use std::cell::RefCell;
use std::rc::Rc;

use leptos::prelude::*;
use wasm_bindgen::JsValue;

use super::When;
use crate::browser::camera::{self, Camera, Pixels};
use crate::browser::{self, worker::WorkerError};
use crate::worker::codes::{self, Picture};

/// Milliseconds between two looks.
const PAUSE: u32 = 120;

/// The camera at work, and the browser's own reader where it has one.
#[derive(Default)]
struct Eye {
    camera: Option<Camera>,
    reader: Option<JsValue>,
}

/// Reads codes until `on_text` has what it wants.
///
/// `on_text` gets every text that is seen, the same one again only after another; it returns whether to go on. The
/// camera is opened by a button, and let go when the reading ends or the piece is taken off the page.
#[component]
pub fn CodeReader(
    /// Identifier, unique on the page.
    id: &'static str,
    /// Takes a text; returns whether to go on reading.
    on_text: Callback<String, bool>,
) -> impl IntoView {
    let video = format!("{id}-video");
    let picture = StoredValue::new(format!("{id}-picture"));
    let on = RwSignal::new(false);
    let problem = RwSignal::new(None::<String>);
    let eye = StoredValue::new_local(Rc::new(RefCell::new(Eye::default())));
    let let_go = move || {
        on.try_set(false);
        if let Some(eye) = eye.try_get_value() {
            eye.borrow_mut().camera = None;
        }
    };
    on_cleanup(let_go);
    let name = video.clone();
    let start = move |_| {
        problem.set(None);
        on.set(true);
        let name = name.clone();
        leptos::task::spawn_local(async move {
            // The video element is drawn first.
            browser::timer::pause(0).await;
            match camera::open(&name).await {
                Err(error) => {
                    on.try_set(false);
                    problem.try_set(Some(error.to_string()));
                }
                Ok(camera) => {
                    let reader = camera::browser_reader().await;
                    // The page may have been left, or the reading ended, while the browser asked.
                    if on.try_get_untracked() != Some(true) {
                        return;
                    }
                    let Some(eye) = eye.try_get_value() else { return };
                    *eye.borrow_mut() = Eye { camera: Some(camera), reader };
                    if let Err(sentence) = look(&eye, on_text).await {
                        problem.try_set(Some(sentence));
                    }
                    let_go();
                }
            }
        });
    };
    let chosen = move |_| {
        problem.set(None);
        leptos::task::spawn_local(async move {
            let said = match camera::chosen_picture(&picture.get_value()).await {
                Ok(Some(pixels)) => match read(&pixels).await {
                    Ok(texts) if texts.is_empty() => Some(NONE_FOUND.to_owned()),
                    Ok(texts) => {
                        for text in texts {
                            on_text.try_run(text);
                        }
                        None
                    }
                    Err(sentence) => Some(sentence),
                },
                Ok(None) => None,
                Err(error) => Some(error.to_string()),
            };
            problem.try_set(said);
            if let Some(id) = picture.try_get_value() {
                browser::file::clear_chosen(&id);
            }
        });
    };
    view! {
        <div class="code-reader">
            <When when=move || on.get() fallback=move || view! {
                <button type="button" on:click=start.clone()>"Read with the camera"</button>
            }>
                <video id=video.clone() class="code-video" playsinline="" muted="" aria-label="What the camera sees"></video>
                <p class="small">"Hold the code into the middle, flat and well lit, so that it fills most of the picture. Nothing that the camera sees is kept."</p>
                <button type="button" on:click=move |_| let_go()>"Stop the camera"</button>
            </When>
            <div class="field">
                <label for=picture.get_value()>"Or a picture of a code"</label>
                <input type="file" id=picture.get_value() accept="image/*" on:change=chosen/>
            </div>
            <div role="status">{move || problem.get().map(|sentence| view! { <p class="notice notice-caution">"▲ "{sentence}"."</p> })}</div>
        </div>
    }
}

const NONE_FOUND: &str = "No code was found in this picture: take it closer, straight from above, with the whole code and \
                          its white edge in it";
const NO_WORKER: &str = "This browser cannot read codes: use a file instead, or type the text of the code";

/// Looks again and again until the camera is let go or nothing more is wanted.
async fn look(eye: &Rc<RefCell<Eye>>, on_text: Callback<String, bool>) -> Result<(), String> {
    let mut last = String::new();
    loop {
        browser::timer::pause(PAUSE).await;
        let reader = eye.borrow().reader.clone();
        let texts = match reader {
            Some(reader) => {
                let asked = {
                    let eye = eye.borrow();
                    let Some(camera) = &eye.camera else { return Ok(()) };
                    camera.ask_browser(&reader)
                };
                let found = match asked {
                    Some(asked) => camera::answer_of_browser(asked).await,
                    None => None,
                };
                match found {
                    Some(texts) => texts,
                    None => {
                        eye.borrow_mut().reader = None;
                        continue;
                    }
                }
            }
            None => {
                let pixels = {
                    let eye = eye.borrow();
                    let Some(camera) = &eye.camera else { return Ok(()) };
                    camera.pixels()
                };
                match pixels {
                    Some(pixels) => read(&pixels).await?,
                    None => continue,
                }
            }
        };
        for text in texts.into_iter().filter(|text| !text.is_empty()) {
            if text == last {
                continue;
            }
            last.clone_from(&text);
            if on_text.try_run(text) != Some(true) {
                return Ok(());
            }
        }
    }
}

/// Has the worker read the codes in a picture.
async fn read(pixels: &Pixels) -> Result<Vec<String>, String> {
    let picture = Picture::of_rgba(pixels.width, &pixels.rgba);
    match browser::worker::work_out(&codes::write_ask(&picture)).await {
        Ok(numbers) => Ok(codes::read_answer(&numbers).unwrap_or_default()),
        // A picture that breaks the reading is one in which nothing was read.
        Err(WorkerError::Broke) => Ok(Vec::new()),
        Err(WorkerError::CannotStart) => Err(NO_WORKER.to_owned()),
    }
}
