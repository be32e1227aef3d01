//! Whole files: logs, backups, hand-over files, records for the Verify page.
#![no_main]

use libfuzzer_sys::fuzz_target;
use logbook::Logbook;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(file) = logbook::hand_over::read(bytes, None) {
        let empty = Logbook::new("empty".into());
        if let Ok(now) = practicum::moment::parse_moment("2026-03-02T10:00:00+00:00") {
            let _ = file.take_in(&empty, false, &now);
        }
    }
    if let Ok(opened) = logbook::verify::open(bytes, None) {
        let _ = logbook::verify::report(&opened, None);
    }
    let text = String::from_utf8_lossy(bytes);
    let _ = logbook::backup::read(&text);
    let book = Logbook::open("reader".into(), &[&text], "");
    for problem in book.problems() {
        assert!(problem.say().ends_with('.'));
    }
});
