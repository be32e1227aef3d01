//! Rows of a run under way.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let text = String::from_utf8_lossy(bytes);
    let _ = logbook::tap_wire::read_tap(&text);
    let _ = logbook::tap_wire::read_opening(&text);
    let _ = logbook::answers::Answers::read(&text);
});
