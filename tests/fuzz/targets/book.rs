//! Course books.
#![no_main]

use libfuzzer_sys::fuzz_target;
use practicum::course_book::{example, text};

fuzz_target!(|bytes: &[u8]| {
    let changed = String::from_utf8_lossy(bytes);
    let mut files = example::files();
    let place = bytes.len() % files.len();
    if let Some(file) = files.get_mut(place) {
        file.1 = &changed;
    }
    let _ = text::read(&files);
    let _ = text::split(&changed);
});
