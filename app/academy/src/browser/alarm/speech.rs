//! Words spoken by the device.

use web_sys::{SpeechSynthesis, SpeechSynthesisUtterance};

use crate::browser::{page, property};

/// Speaks a text in the page's language, after what is being spoken; silently does nothing where the
/// device has no voice.
pub fn speak(text: &str) {
    if let Some(synthesis) = synthesis()
        && let Ok(words) = SpeechSynthesisUtterance::new_with_text(text)
    {
        words.set_lang(&page::language());
        words.set_volume(1.0);
        synthesis.speak(&words);
    }
}

/// Returns whether the device has a voice, as far as the browser has said yet.
pub fn can_speak() -> bool {
    synthesis().is_some_and(|synthesis| synthesis.get_voices().length() > 0)
}

/// Returns whether words are being spoken or wait to be.
pub(super) fn speaking() -> bool {
    synthesis().is_some_and(|synthesis| synthesis.speaking() || synthesis.pending())
}

/// Stops all words.
pub(super) fn hush() {
    if let Some(synthesis) = synthesis() {
        synthesis.cancel();
    }
}

fn synthesis() -> Option<SpeechSynthesis> {
    let window = web_sys::window()?;
    property(&window, "speechSynthesis")?;
    window.speech_synthesis().ok()
}
