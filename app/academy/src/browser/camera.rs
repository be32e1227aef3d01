//! The camera, and pictures from files: pixels for whoever reads codes in them.
//!
//! Nothing that is seen is kept or leaves the device; the camera is let go as soon as its guard is dropped.

use js_sys::{Array, Object, Promise, Reflect};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{
    CanvasRenderingContext2d, HtmlCanvasElement, HtmlVideoElement, ImageBitmap, MediaStream, MediaStreamConstraints,
    MediaStreamTrack,
};

use super::{method, property, words_of};

/// Longest side of a picture that is looked at, in pixels.
const LONGEST_SIDE: f64 = 1_400.0;
/// Largest picture file, in bytes.
const LARGEST_PICTURE: f64 = 30_000_000.0;

/// Why there is no picture, in a sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CameraError {
    /// There is none, or this browser gives none to pages.
    #[error("There is no camera here that this browser can use: choose a picture of the code instead, or use a file")]
    None,
    /// The person or the browser said no.
    #[error(
        "The browser does not let this page use the camera: allow it in the browser’s settings for this page, or choose \
         a picture of the code"
    )]
    Refused,
    /// Another program has it.
    #[error("The camera is in use by another program or page: close that and try again")]
    Busy,
    /// Something else, in the browser's words.
    #[error("The camera could not be used ({0}): choose a picture of the code instead")]
    Other(String),
    /// A picture file is too large.
    #[error("This picture is larger than 30 MB: take a smaller one")]
    TooLarge,
    /// A file is no picture that this browser knows.
    #[error("This file is no picture that this browser can open: take a PNG or JPEG")]
    NoPicture,
}

/// Pixels: the red, green, blue and alpha of each, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pixels {
    /// Pixels in a row.
    pub width: usize,
    /// Four bytes a pixel.
    pub rgba: Vec<u8>,
}

/// The camera at work, shown in a video element; let go when dropped.
#[derive(Debug)]
pub struct Camera {
    stream: MediaStream,
    video: HtmlVideoElement,
    canvas: HtmlCanvasElement,
}

impl Drop for Camera {
    fn drop(&mut self) {
        stop(&self.stream);
        self.video.set_src_object(None);
    }
}

fn stop(stream: &MediaStream) {
    for track in stream.get_tracks().iter() {
        track.unchecked_into::<MediaStreamTrack>().stop();
    }
}

/// Opens the camera, the one at the back where there are two, and shows it in the video element with this id.
///
/// # Errors
/// Returns why there is no picture.
pub async fn open(video_id: &str) -> Result<Camera, CameraError> {
    let window = web_sys::window().ok_or(CameraError::None)?;
    // Absent outside secure pages.
    let devices = property(&property(&window, "navigator").ok_or(CameraError::None)?, "mediaDevices");
    let devices: web_sys::MediaDevices = devices.ok_or(CameraError::None)?.unchecked_into();
    let wanted = object(&[
        ("facingMode", object(&[("ideal", "environment".into())])),
        ("width", object(&[("ideal", 1280.into())])),
        ("height", object(&[("ideal", 720.into())])),
    ]);
    let constraints = MediaStreamConstraints::new();
    constraints.set_video(&wanted);
    let asked = devices.get_user_media_with_constraints(&constraints).map_err(|thrown| reason(&thrown))?;
    let stream: MediaStream = JsFuture::from(asked).await.map_err(|thrown| reason(&thrown))?.unchecked_into();
    let element = window.document().and_then(|document| document.get_element_by_id(video_id));
    let Some(video) = element.and_then(|element| element.dyn_into::<HtmlVideoElement>().ok()) else {
        // The page was left while the browser asked.
        stop(&stream);
        return Err(CameraError::None);
    };
    let camera = Camera { stream, video, canvas: canvas()? };
    camera.video.set_src_object(Some(&camera.stream));
    let played = camera.video.play().map_err(|thrown| reason(&thrown))?;
    JsFuture::from(played).await.map_err(|thrown| reason(&thrown))?;
    Ok(camera)
}

impl Camera {
    /// Takes the middle of what the camera sees; nothing before its first picture.
    pub fn pixels(&self) -> Option<Pixels> {
        let (width, height) = (f64::from(self.video.video_width()), f64::from(self.video.video_height()));
        let side = width.min(height);
        if side < 1.0 {
            return None;
        }
        let scaled = side.min(LONGEST_SIDE).floor();
        let context = sized(&self.canvas, scaled, scaled)?;
        let (left, top) = ((width - side) / 2.0, (height - side) / 2.0);
        context
            .draw_image_with_html_video_element_and_sw_and_sh_and_dx_and_dy_and_dw_and_dh(
                &self.video,
                left,
                top,
                side,
                side,
                0.0,
                0.0,
                scaled,
                scaled,
            )
            .ok()?;
        taken(&context, scaled, scaled)
    }

    /// Asks the browser's own reader what codes the camera sees; `None` where it cannot be asked.
    pub fn ask_browser(&self, reader: &JsValue) -> Option<Promise> {
        let promise = method(reader, "detect")?.call1(reader, &self.video).ok()?;
        Some(Promise::resolve(&promise))
    }
}

/// Waits for what the browser's own reader found; `None` when it could not read.
pub async fn answer_of_browser(asked: Promise) -> Option<Vec<String>> {
    let found: Array = JsFuture::from(asked).await.ok()?.dyn_into().ok()?;
    Some(found.iter().filter_map(|code| property(&code, "rawValue")?.as_string()).collect())
}

/// Returns the browser's own reader of such codes; `None` where it has none, or one that does not know them.
pub async fn browser_reader() -> Option<JsValue> {
    let window: JsValue = web_sys::window()?.into();
    let class: js_sys::Function = property(&window, "BarcodeDetector")?.dyn_into().ok()?;
    let promise = method(&class, "getSupportedFormats")?.call0(&class).ok()?;
    let formats: Array = JsFuture::from(Promise::resolve(&promise)).await.ok()?.dyn_into().ok()?;
    if !formats.includes(&"qr_code".into(), 0) {
        return None;
    }
    let options = object(&[("formats", Array::of1(&"qr_code".into()).into())]);
    Reflect::construct(&class, &Array::of1(&options)).ok()
}

/// Opens the picture chosen in the file field with this element id.
///
/// # Errors
/// Returns why there is no picture; `Ok(None)` when no file is chosen.
pub async fn chosen_picture(input_id: &str) -> Result<Option<Pixels>, CameraError> {
    let window = web_sys::window().ok_or(CameraError::NoPicture)?;
    let input = window.document().and_then(|document| document.get_element_by_id(input_id));
    let input = input.and_then(|input| input.dyn_into::<web_sys::HtmlInputElement>().ok());
    let Some(file) = input.and_then(|input| input.files()).and_then(|files| files.get(0)) else { return Ok(None) };
    if file.size() > LARGEST_PICTURE {
        return Err(CameraError::TooLarge);
    }
    let no_picture = |_| CameraError::NoPicture;
    let promise = window.create_image_bitmap_with_blob(&file).map_err(no_picture)?;
    let picture: ImageBitmap = JsFuture::from(promise).await.map_err(no_picture)?.unchecked_into();
    let (width, height) = (f64::from(picture.width()), f64::from(picture.height()));
    if width < 1.0 || height < 1.0 {
        return Err(CameraError::NoPicture);
    }
    let scale = (LONGEST_SIDE / width.max(height)).min(1.0);
    let (width, height) = ((width * scale).ceil(), (height * scale).ceil());
    let context = sized(&canvas()?, width, height).ok_or(CameraError::NoPicture)?;
    context.draw_image_with_image_bitmap_and_dw_and_dh(&picture, 0.0, 0.0, width, height).map_err(no_picture)?;
    taken(&context, width, height).map(Some).ok_or(CameraError::NoPicture)
}

fn canvas() -> Result<HtmlCanvasElement, CameraError> {
    let document = web_sys::window().and_then(|window| window.document()).ok_or(CameraError::None)?;
    let element = document.create_element("canvas").map_err(|thrown| reason(&thrown))?;
    Ok(element.unchecked_into())
}

/// Gives a canvas its size, both sides whole, and returns what draws on it.
fn sized(canvas: &HtmlCanvasElement, width: f64, height: f64) -> Option<CanvasRenderingContext2d> {
    canvas.set_width(width as u32);
    canvas.set_height(height as u32);
    let options = object(&[("willReadFrequently", true.into())]);
    canvas.get_context_with_context_options("2d", &options).ok()??.dyn_into().ok()
}

fn taken(context: &CanvasRenderingContext2d, width: f64, height: f64) -> Option<Pixels> {
    let data = context.get_image_data(0.0, 0.0, width, height).ok()?;
    Some(Pixels { width: data.width() as usize, rgba: data.data().0 })
}

fn reason(thrown: &JsValue) -> CameraError {
    match property(thrown, "name").and_then(|name| name.as_string()).as_deref() {
        Some("NotAllowedError" | "SecurityError") => CameraError::Refused,
        Some("NotFoundError" | "OverconstrainedError") => CameraError::None,
        Some("NotReadableError" | "AbortError") => CameraError::Busy,
        _ => CameraError::Other(words_of(thrown)),
    }
}

/// Makes an object of fixed keys.
fn object(parts: &[(&str, JsValue)]) -> JsValue {
    let object = Object::new();
    for (key, value) in parts {
        let _ = Reflect::set(&object, &JsValue::from_str(key), value);
    }
    object.into()
}
