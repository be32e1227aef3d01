//! Files: handing one out, reading one that was chosen.

use js_sys::{Array, Uint8Array};
use logbook::size::in_words;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, BlobPropertyBag, File, FilePropertyBag, HtmlAnchorElement, HtmlInputElement, Url};

use super::{method, property, timer, words_of};

/// A file that was chosen and read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChosenFile {
    /// Name as the device gives it; shown, never used as a path.
    pub name: String,
    /// All bytes as they stand in the file, a byte order mark included.
    pub bytes: Vec<u8>,
}

/// Why a file was not read, in a sentence that can stand beside the field.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FileError {
    /// No file is chosen.
    #[error("No file is chosen yet: choose one and try again")]
    NoFile,
    /// The file is larger than this place takes; it was not read.
    #[error(
        "“{name}” has {}, more than the {} allowed here: nothing was read. Is it the right file?",
        in_words(*size),
        in_words(*cap)
    )]
    TooLarge {
        /// Name of the file.
        name: String,
        /// Bytes of the file.
        size: u64,
        /// Bytes allowed.
        cap: u64,
    },
    /// The file is no text in UTF-8.
    #[error(
        "“{name}” is not text in UTF-8 (first wrong byte in line {line}): save it as UTF-8 text, for a spreadsheet “CSV UTF-8”"
    )]
    NotText {
        /// Name of the file.
        name: String,
        /// Line of the first wrong byte, from 1.
        line: usize,
    },
    /// The browser could not read it.
    #[error("“{name}” could not be read ({reason}): was it moved or changed? Choose it again")]
    Unreadable {
        /// Name of the file.
        name: String,
        /// The browser's words.
        reason: String,
    },
}

impl ChosenFile {
    /// Returns the text of the file without its byte order mark.
    ///
    /// # Errors
    /// Returns [`FileError::NotText`] with the line when the file is not UTF-8.
    pub fn text(&self) -> Result<&str, FileError> {
        let bytes = self.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&self.bytes);
        std::str::from_utf8(bytes).map_err(|wrong| {
            let before = bytes.get(..wrong.valid_up_to()).unwrap_or_default();
            let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
            FileError::NotText { name: self.name.clone(), line }
        })
    }
}

/// Reads the file chosen in the file field with this element id, if it has at most `cap` bytes; its size
/// is looked at before anything is read.
///
/// # Errors
/// Returns why nothing was read.
pub async fn read_chosen(input_id: &str, cap: u64) -> Result<ChosenFile, FileError> {
    let file = input(input_id).and_then(|input| input.files()).and_then(|files| files.get(0));
    read(file.ok_or(FileError::NoFile)?, cap).await
}

/// Reads a file, if it has at most `cap` bytes; its size is looked at before anything is read.
pub(super) async fn read(file: File, cap: u64) -> Result<ChosenFile, FileError> {
    let (name, size) = (file.name(), file.size() as u64);
    if size > cap {
        return Err(FileError::TooLarge { name, size, cap });
    }
    match JsFuture::from(file.array_buffer()).await {
        Ok(buffer) => Ok(ChosenFile { name, bytes: Uint8Array::new(&buffer).to_vec() }),
        Err(thrown) => Err(FileError::Unreadable { name, reason: words_of(&thrown) }),
    }
}

/// Empties the file field with this element id, so that the same file can be chosen again.
pub fn clear_chosen(input_id: &str) {
    if let Some(input) = input(input_id) {
        input.set_value("");
    }
}

/// Hands out a text as a file; returns whether the browser took it.
pub fn download(name: &str, mime: &str, text: &str) -> bool {
    try_download(name, mime, &JsValue::from_str(text)).is_ok()
}

/// Hands out bytes as a file; returns whether the browser took it.
pub fn download_bytes(name: &str, mime: &str, bytes: &[u8]) -> bool {
    try_download(name, mime, &Uint8Array::from(bytes)).is_ok()
}

/// Returns the ending and kind under which the system's share sheet takes a file here; `None` where there is none.
///
/// Browsers built on Chromium share files of a few kinds only (from memory: text, pictures, sound, film, PDF).
pub fn share_kind() -> Option<(&'static str, &'static str)> {
    let navigator = property(&js_sys::global(), "navigator")?;
    let kind = match property(&navigator, "userAgentData") {
        Some(_) => (".txt", "text/plain"),
        None => ("", "application/octet-stream"),
    };
    let asked = method(&navigator, "canShare")?.call1(&navigator, &parcel("x.txt", kind.1, b"x").ok()?).ok()?;
    (asked.is_truthy() && method(&navigator, "share").is_some()).then_some(kind)
}

/// Hands bytes to the system's share sheet as a file; returns whether they were shared, or the browser's words.
pub async fn share(name: &str, mime: &str, bytes: &[u8]) -> Result<bool, String> {
    let navigator = property(&js_sys::global(), "navigator").ok_or("no navigator")?;
    let share = method(&navigator, "share").ok_or("this browser shares nothing")?;
    let parcel = parcel(name, mime, bytes).map_err(|thrown| words_of(&thrown))?;
    let asked = share.call1(&navigator, &parcel).map_err(|thrown| words_of(&thrown))?;
    match JsFuture::from(js_sys::Promise::resolve(&asked)).await {
        Ok(_) => Ok(true),
        // Whoever closes the sheet has changed their mind.
        Err(thrown) if property(&thrown, "name").is_some_and(|name| name == "AbortError") => Ok(false),
        Err(thrown) => Err(words_of(&thrown)),
    }
}

fn parcel(name: &str, mime: &str, bytes: &[u8]) -> Result<JsValue, JsValue> {
    let kind = FilePropertyBag::new();
    kind.set_type(mime);
    let part: JsValue = Uint8Array::from(bytes).into();
    let file = File::new_with_u8_array_sequence_and_options(&Array::of1(&part), name, &kind)?;
    let parcel = js_sys::Object::new();
    js_sys::Reflect::set(&parcel, &"files".into(), &Array::of1(&file))?;
    Ok(parcel.into())
}

fn try_download(name: &str, mime: &str, part: &JsValue) -> Result<(), JsValue> {
    let document = web_sys::window().and_then(|window| window.document()).ok_or(JsValue::NULL)?;
    let kind = BlobPropertyBag::new();
    kind.set_type(mime);
    let parts = Array::of1(part);
    let blob = match part.is_string() {
        true => Blob::new_with_str_sequence_and_options(&parts, &kind)?,
        false => Blob::new_with_u8_array_sequence_and_options(&parts, &kind)?,
    };
    let url = Url::create_object_url_with_blob(&blob)?;
    let link: HtmlAnchorElement = document.create_element("a")?.unchecked_into();
    link.set_href(&url);
    link.set_download(name);
    link.click();
    // Some browsers begin to read a little later.
    wasm_bindgen_futures::spawn_local(async move {
        timer::pause(60_000).await;
        let _ = Url::revoke_object_url(&url);
    });
    Ok(())
}

fn input(id: &str) -> Option<HtmlInputElement> {
    web_sys::window()?.document()?.get_element_by_id(id)?.dyn_into().ok()
}

#[cfg(test)]
mod tests {
    use super::{ChosenFile, FileError};

    fn file(bytes: &[u8]) -> ChosenFile {
        ChosenFile { name: "term.csv".to_owned(), bytes: bytes.to_vec() }
    }

    #[test]
    fn a_byte_order_mark_is_no_part_of_the_text() {
        assert_eq!(file("\u{feff}date;name".as_bytes()).text(), Ok("date;name"));
        assert_eq!(file("date;né".as_bytes()).text(), Ok("date;né"));
    }

    #[test]
    fn a_size_is_said_as_people_read_it() {
        let large = FileError::TooLarge { name: "term.csv".to_owned(), size: 6_049_000, cap: 5_000_000 };
        let said = "“term.csv” has 6.1 MB, more than the 5 MB allowed here: nothing was read. Is it the right file?";
        assert_eq!(large.to_string(), said);
    }

    #[test]
    fn a_wrong_byte_is_found_with_its_line() {
        let wrong = file(b"one\ntwo\nthr\xE9e\n");
        assert_eq!(wrong.text(), Err(FileError::NotText { name: "term.csv".to_owned(), line: 3 }));
    }
}
