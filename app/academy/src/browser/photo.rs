//! Photos of an eye: a chosen or taken picture is drawn anew, cropped, and written as a small JPEG, so that nothing of
//! the camera's file but the pixels remains: no place, no device, no time.

use practicum::after_the_couch::Photo;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement, HtmlInputElement, ImageBitmap};

/// Largest file opened, in bytes.
const LARGEST: f64 = 40_000_000.0;
/// Height of a cropped picture, as a share of its width.
const SHAPE: f64 = 0.75;
/// Widths and qualities tried until the picture is small enough.
const TRIES: [(f64, f64); 7] =
    [(960.0, 0.8), (800.0, 0.75), (640.0, 0.75), (640.0, 0.6), (480.0, 0.6), (400.0, 0.5), (320.0, 0.4)];

/// Which part of a picture is kept: its middle as shares of width and height, and its width as a share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crop {
    /// Middle across, 0 to 1.
    pub x: f64,
    /// Middle down, 0 to 1.
    pub y: f64,
    /// Width, 0.1 to 1.
    pub part: f64,
}

/// A picture that was opened.
#[derive(Debug, Clone)]
pub struct Picture {
    bitmap: ImageBitmap,
}

/// A picture ready to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Small {
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// As JPEG in Base64.
    pub jpeg: String,
}

/// Opens the picture chosen in the file field with this element id.
///
/// # Errors
/// Returns a sentence when none is chosen, or it cannot be opened.
pub async fn open_chosen(input_id: &str) -> Result<Picture, String> {
    let window = web_sys::window().ok_or("There is no page.")?;
    let input = window.document().and_then(|document| document.get_element_by_id(input_id));
    let input = input.and_then(|input| input.dyn_into::<HtmlInputElement>().ok());
    let file = input.and_then(|input| input.files()).and_then(|files| files.get(0)).ok_or("Choose a picture first.")?;
    if file.size() > LARGEST {
        return Err("This file is larger than 40 MB: choose a smaller picture.".to_owned());
    }
    let wrong = |_: JsValue| "This file is no picture that the browser can open: choose a JPEG or PNG.".to_owned();
    let promise = window.create_image_bitmap_with_blob(&file).map_err(wrong)?;
    let bitmap: ImageBitmap = JsFuture::from(promise).await.map_err(wrong)?.unchecked_into();
    match bitmap.width() > 0 && bitmap.height() > 0 {
        true => Ok(Picture { bitmap }),
        false => Err("This picture is empty: choose another one.".to_owned()),
    }
}

impl Picture {
    /// Draws the part that would be kept into the canvas with this id.
    pub fn show(&self, canvas_id: &str, crop: Crop) {
        let document = web_sys::window().and_then(|window| window.document());
        let canvas = document.and_then(|document| document.get_element_by_id(canvas_id));
        if let Some(canvas) = canvas.and_then(|canvas| canvas.dyn_into::<HtmlCanvasElement>().ok()) {
            let _ = self.draw(&canvas, crop, 480.0);
        }
    }

    /// Makes the picture to be kept, in the largest form that is small enough; `None` where the browser makes none.
    pub fn small(&self, crop: Crop) -> Option<Small> {
        let canvas: HtmlCanvasElement =
            web_sys::window()?.document()?.create_element("canvas").ok()?.dyn_into().ok()?;
        TRIES.into_iter().find_map(|(width, quality)| {
            let (width, height) = self.draw(&canvas, crop, width)?;
            let url = canvas.to_data_url_with_type_and_encoder_options("image/jpeg", &quality.into()).ok()?;
            let jpeg = url.strip_prefix("data:image/jpeg;base64,")?.to_owned();
            (jpeg.len() <= Photo::MOST_CHARACTERS).then_some(Small { width, height, jpeg })
        })
    }

    fn draw(&self, canvas: &HtmlCanvasElement, crop: Crop, width: f64) -> Option<(u32, u32)> {
        let (all_width, all_height) = (f64::from(self.bitmap.width()), f64::from(self.bitmap.height()));
        // The part keeps its shape and lies within the picture.
        let part_width = (all_width * crop.part.clamp(0.1, 1.0)).min(all_height / SHAPE);
        let part_height = part_width * SHAPE;
        let left = (all_width * crop.x - part_width / 2.0).clamp(0.0, all_width - part_width);
        let top = (all_height * crop.y - part_height / 2.0).clamp(0.0, all_height - part_height);
        let width = width.min(part_width.ceil()).max(1.0).floor();
        let height = (width * SHAPE).max(1.0).floor();
        let whole = |length: f64| format!("{length:.0}").parse::<u32>().ok();
        let (columns, rows) = (whole(width)?, whole(height)?);
        canvas.set_width(columns);
        canvas.set_height(rows);
        let context: CanvasRenderingContext2d = canvas.get_context("2d").ok()??.dyn_into().ok()?;
        context
            .draw_image_with_image_bitmap_and_sw_and_sh_and_dx_and_dy_and_dw_and_dh(
                &self.bitmap,
                left,
                top,
                part_width,
                part_height,
                0.0,
                0.0,
                width,
                height,
            )
            .ok()?;
        Some((columns, rows))
    }
}
