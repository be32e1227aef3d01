//! Lines of a log, canonical JSON, keys and signatures.
#![no_main]

use libfuzzer_sys::fuzz_target;
use logbook::entry::{Checked, Unverified, canonical_json};

fuzz_target!(|bytes: &[u8]| {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(entry) = Unverified::read(&text) {
        assert_eq!(Unverified::read(entry.line()).as_ref(), Ok(&entry));
        if let Checked::Sound(sound) = entry.check() {
            let _ = sound.content();
        }
    }
    if let Ok(canonical) = canonical_json(&text) {
        assert_eq!(canonical_json(&canonical), Ok(canonical));
    }
    if let Ok(key) = logbook::signature::PublicKey::read(&text) {
        assert_eq!(key.text(), text);
    }
    let _ = logbook::signature::Signature::read(&text);
    let _ = logbook::recovery::read(&text);
    let _ = logbook::challenge::Asked::read(&text);
});
