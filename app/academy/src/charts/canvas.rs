//! One drawing. Plotters draws lines, bars and words; marks of one kind are one path of our own.

use std::fmt::Write as _;

use plotters::backend::SVGBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color as _, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle};
use plotters_backend::DrawingBackend;

/// Pixels to one `rem`: drawings grow with the reader's text.
const REM: f64 = 16.0;

/// Colours of the drawings: Okabe and Ito's, told apart by most eyes, and two inks.
pub(super) mod colour {
    /// Nearly black, for words and frames.
    pub(crate) const INK: u32 = 0x26221d;
    /// Grey, for secondary words.
    pub(crate) const SOFT: u32 = 0x5c554b;
    /// Light grey, for lines behind.
    pub(crate) const HAIR: u32 = 0xddd6c9;
    /// Blue.
    pub(crate) const BLUE: u32 = 0x0072b2;
    /// Sky blue.
    pub(crate) const SKY: u32 = 0x56b4e9;
    /// Bluish green.
    pub(crate) const GREEN: u32 = 0x009e73;
    /// Orange.
    pub(crate) const ORANGE: u32 = 0xe69f00;
    /// Vermillion.
    pub(crate) const VERMILLION: u32 = 0xd55e00;
}

/// How a path is painted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Paint {
    /// Colour of the area, if filled.
    pub(super) fill: Option<u32>,
    /// Colour of the outline, if drawn.
    pub(super) stroke: Option<u32>,
    /// Width of the outline in tenths of a pixel.
    pub(super) width: u32,
    /// Whether the outline is dashed.
    pub(super) dashed: bool,
}

impl Paint {
    /// Paints an area without outline.
    pub(super) const fn filled(colour: u32) -> Self {
        Self { fill: Some(colour), stroke: None, width: 0, dashed: false }
    }

    /// Paints an outline, tenths of a pixel wide.
    pub(super) const fn outlined(colour: u32, width: u32) -> Self {
        Self { fill: None, stroke: Some(colour), width, dashed: false }
    }

    /// Paints an area with an outline one pixel wide.
    pub(super) const fn both(fill: u32, stroke: u32) -> Self {
        Self { fill: Some(fill), stroke: Some(stroke), width: 10, dashed: false }
    }

    /// Returns the same with a dashed outline.
    pub(super) const fn dashed(self) -> Self {
        Self { dashed: true, ..self }
    }
}

/// Where a word stands to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// The point is at its start.
    Start,
    /// The point is in its middle.
    Middle,
    /// The point is at its end.
    End,
}

/// A drawing under way; writing into a text cannot fail, so that the backend's results are left aside.
pub(super) struct Canvas<'a> {
    backend: SVGBackend<'a>,
    paths: &'a mut String,
}

impl Canvas<'_> {
    /// Draws a straight line, one pixel wide.
    pub(super) fn line(&mut self, from: (i32, i32), to: (i32, i32), colour: u32) {
        drop(self.backend.draw_line(from, to, &rgb(colour).stroke_width(1)));
    }

    /// Draws a filled rectangle.
    pub(super) fn bar(&mut self, from: (i32, i32), to: (i32, i32), colour: u32) {
        let style: ShapeStyle = rgb(colour).filled();
        drop(self.backend.draw_rect(from, to, &style, true));
    }

    /// Draws words, `size` pixels high; their middle is level with the point.
    pub(super) fn words(&mut self, at: (i32, i32), text: &str, anchor: Anchor, size: u32, colour: u32) {
        let horizontal = match anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        // The backend divides sizes by 1.24.
        let font = FontDesc::new(FontFamily::SansSerif, f64::from(size) * 1.24, FontStyle::Normal);
        let style = TextStyle::from(font).color(&rgb(colour)).pos(Pos::new(horizontal, VPos::Center));
        drop(self.backend.draw_text(text, &style, at));
    }

    /// Adds one path above all the rest; nothing when it is empty.
    pub(super) fn path(&mut self, steps: &str, paint: Paint) {
        if steps.is_empty() {
            return;
        }
        let colour = |colour: Option<u32>| colour.map_or_else(|| "none".to_owned(), |colour| format!("#{colour:06X}"));
        let _ = write!(self.paths, r#"<path d="{steps}" fill="{}""#, colour(paint.fill));
        if paint.stroke.is_some() {
            let width = f64::from(paint.width) / 10.0;
            let _ = write!(self.paths, r#" stroke="{}" stroke-width="{width}""#, colour(paint.stroke));
        }
        if paint.dashed {
            self.paths.push_str(r#" stroke-dasharray="6 4""#);
        }
        self.paths.push_str("/>\n");
    }
}

/// Makes an SVG of a size in pixels with a title and a description for those who do not see it.
pub(super) fn drawn(size: (u32, u32), title: &str, description: &str, make: &mut dyn FnMut(&mut Canvas<'_>)) -> String {
    let (mut inner, mut paths) = (String::new(), String::new());
    {
        let mut canvas = Canvas { backend: SVGBackend::with_string(&mut inner, size), paths: &mut paths };
        make(&mut canvas);
        drop(canvas.backend.present());
    }
    // The backend's own root has neither role nor words: its first and last tag give way to ours.
    let inner = inner.split_once('>').map_or("", |(_, rest)| rest);
    let inner = inner.trim_end().strip_suffix("</svg>").unwrap_or(inner);
    let (width, height) = size;
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" role="img" class="chart-svg" viewBox="0 0 {width} {height}" width="{}rem" height="{}rem"><title>{}</title><desc>{}</desc>{inner}{paths}</svg>"#,
        f64::from(width) / REM,
        f64::from(height) / REM,
        escaped(title),
        escaped(description),
    )
}

/// Makes text harmless in markup and in attributes; what XML cannot hold becomes a replacement character.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '&' => safe.push_str("&amp;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            letter if letter.is_control() && !letter.is_whitespace() => safe.push('\u{fffd}'),
            letter => safe.push(letter),
        }
    }
    safe
}

fn rgb(colour: u32) -> RGBColor {
    let [_, red, green, blue] = colour.to_be_bytes();
    RGBColor(red, green, blue)
}
