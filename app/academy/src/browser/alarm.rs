//! Alarms: two tones that cannot be taken for one another, spoken words, and a shake.

mod speech;
mod tone;

use std::cell::RefCell;

use wasm_bindgen::JsValue;
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{AudioBufferSourceNode, AudioContext, AudioContextState};

pub use speech::{can_speak, speak};
pub use tone::Side;

use super::{method, property, timer};

/// Milliseconds from one round of an alarm to the next.
const ROUND_MS: u32 = 2000;

struct Running {
    side: Side,
    sound: Option<AudioBufferSourceNode>,
    _rounds: Option<timer::Timer>,
}

thread_local! {
    static CONTEXT: RefCell<Option<AudioContext>> = const { RefCell::new(None) };
    static RUNNING: RefCell<Vec<Running>> = const { RefCell::new(Vec::new()) };
}

/// Makes sound possible; call it from a tap, browsers allow it nowhere else. Returns whether sound runs.
pub async fn unlock() -> bool {
    let Some(context) = context() else { return false };
    if let Ok(resumed) = context.resume() {
        let _ = JsFuture::from(resumed).await;
    }
    sound_ready()
}

/// Returns whether sound was unlocked and still runs; whether the device is muted cannot be known.
pub fn sound_ready() -> bool {
    CONTEXT.with_borrow(|context| context.as_ref().is_some_and(|context| context.state() == AudioContextState::Running))
}

/// Sounds one round of a side's tone; for the sound check and the early warning.
pub fn beep(side: Side) {
    play(side, false);
}

/// Shakes the device: milliseconds on, off, on, ... Returns whether the browser took it; before the first tap of a
/// page life it takes none, and is not asked.
pub fn vibrate(pattern: &[u32]) -> bool {
    let shake = || {
        let navigator = property(&js_sys::global(), "navigator")?;
        let tapped = property(&navigator, "userActivation").and_then(|active| property(&active, "hasBeenActive"));
        if tapped.is_some_and(|tapped| tapped.as_bool() == Some(false)) {
            return Some(false);
        }
        let pattern: js_sys::Array = pattern.iter().map(|ms| JsValue::from(*ms)).collect();
        method(&navigator, "vibrate")?.call1(&navigator, &pattern).ok()?.as_bool()
    };
    shake().unwrap_or(false)
}

/// Starts a side's alarm, which sounds, speaks `words` and shakes until [`stop_alarm`]; one that
/// sounds already goes on.
pub fn start_alarm(side: Side, words: &str) {
    if alarm_on(side) {
        return;
    }
    let sound = play(side, true);
    let words = words.to_owned();
    shake_and_speak(side, &words);
    let rounds = timer::every(ROUND_MS, move || one_round(side, &words));
    RUNNING.with_borrow_mut(|running| running.push(Running { side, sound, _rounds: rounds }));
}

/// Returns whether a side's alarm is on.
pub fn alarm_on(side: Side) -> bool {
    RUNNING.with_borrow(|running| running.iter().any(|alarm| alarm.side == side))
}

/// Stops a side's alarm; the other side's goes on.
pub fn stop_alarm(side: Side) {
    let (stopped, rest) = RUNNING.with_borrow_mut(|running| {
        let stopped: Vec<Running> = running.extract_if(.., |alarm| alarm.side == side).collect();
        (stopped, running.is_empty())
    });
    stopped.iter().for_each(hush);
    if rest && !stopped.is_empty() {
        speech::hush();
        vibrate(&[]);
    }
}

/// Stops all alarms, words and shaking.
pub fn silence() {
    RUNNING.take().iter().for_each(hush);
    speech::hush();
    vibrate(&[]);
}

/// Makes up for what the browser held back: sound that was suspended, or never began, is tried again.
fn one_round(side: Side, words: &str) {
    if !sound_ready() {
        spawn_local(async {
            unlock().await;
        });
    }
    let mute = RUNNING.with_borrow(|running| running.iter().any(|alarm| alarm.side == side && alarm.sound.is_none()));
    if mute && let Some(sound) = play(side, true) {
        RUNNING.with_borrow_mut(|running| {
            if let Some(alarm) = running.iter_mut().find(|alarm| alarm.side == side) {
                alarm.sound = Some(sound);
            }
        });
    }
    shake_and_speak(side, words);
}

fn shake_and_speak(side: Side, words: &str) {
    vibrate(side.shake());
    // Words of two alarms take turns; the same words never pile up.
    if !speech::speaking() {
        speak(words);
    }
}

fn hush(alarm: &Running) {
    if let Some(sound) = &alarm.sound {
        let _ = sound.disconnect();
        if let Some(stop) = method(sound, "stop") {
            let _ = stop.call0(sound);
        }
    }
}

fn context() -> Option<AudioContext> {
    CONTEXT.with_borrow_mut(|context| {
        if context.is_none() {
            *context = AudioContext::new().ok();
        }
        context.clone()
    })
}

/// Plays a side's tone once, or over and over: the sound card repeats it, whatever the timers do.
fn play(side: Side, over_and_over: bool) -> Option<AudioBufferSourceNode> {
    let context = CONTEXT.with_borrow(Clone::clone)?;
    let rate = context.sample_rate();
    let samples = tone::samples(side, rate);
    let buffer = context.create_buffer(1, u32::try_from(samples.len()).ok()?, rate).ok()?;
    buffer.copy_to_channel(&samples, 0).ok()?;
    let source = context.create_buffer_source().ok()?;
    source.set_buffer(Some(&buffer));
    source.set_loop(over_and_over);
    match context.create_stereo_panner() {
        Ok(panner) => {
            panner.pan().set_value(side.pan());
            source.connect_with_audio_node(&panner).ok()?;
            panner.connect_with_audio_node(&context.destination()).ok()?;
        }
        Err(_) => source.connect_with_audio_node(&context.destination()).map(drop).ok()?,
    }
    source.start().ok()?;
    Some(source)
}
