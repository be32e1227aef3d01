//! A text as a picture of squares (QR code, ISO/IEC 18004) that a camera reads, on screen and on paper.

use leptos::prelude::*;
use qrcodegen::{QrCode, QrCodeEcc, QrSegment, Version};

/// Largest version drawn: 97 squares a side, which a phone's camera still tells apart on a phone's screen.
const LARGEST: u8 = 20;
/// White squares around the code (the standard asks for four).
const MARGIN: i32 = 4;

/// A code ready to be drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Drawing {
    /// Squares a side, the margin included.
    side: i32,
    /// The dark squares as one path.
    path: String,
}

/// Lays out a text; `None` when it is too long for a code of the largest version at level M.
fn laid_out(text: &str) -> Option<QrCode> {
    let segments = QrSegment::make_segments(text);
    QrCode::encode_segments_advanced(&segments, QrCodeEcc::Medium, Version::MIN, Version::new(LARGEST), None, true).ok()
}

fn draw(text: &str) -> Option<Drawing> {
    let code = laid_out(text)?;
    let mut path = String::new();
    for y in 0..code.size() {
        let mut x = 0;
        while x < code.size() {
            let start = x;
            while x < code.size() && code.get_module(x, y) {
                x += 1;
            }
            if x > start {
                // Runs of dark squares as one bar each: a quarter of the markup.
                path.push_str(&format!("M{} {}h{}v1h-{}z", start + MARGIN, y + MARGIN, x - start, x - start));
            }
            x += 1;
        }
    }
    Some(Drawing { side: code.size() + 2 * MARGIN, path })
}

/// Draws a text as a code for a document; `None` when it is too long for one.
pub fn code_drawing(text: &str) -> Option<crate::charts::Drawing> {
    let Drawing { side, path } = draw(text)?;
    let frame = format!("<rect width=\"{side}\" height=\"{side}\" fill=\"#ffffff\"/>");
    Some(crate::charts::Drawing::of(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {side}\" shape-rendering=\"crispEdges\">{frame}\
         <path d=\"{path}\" fill=\"#000000\"/></svg>"
    )))
}

/// Draws a text as a code, dark on white in every theme. Where it is too long for one, a sentence says so.
#[component]
pub fn CodePicture(
    /// What the code says.
    #[prop(into)]
    text: Signal<String>,
    /// What it is, for who cannot see it: where the same text stands to be read or typed.
    #[prop(into)]
    label: Signal<String>,
) -> impl IntoView {
    let drawing = Memo::new(move |_| text.with(|text| draw(text)));
    move || {
        match drawing.get() {
        Some(Drawing { side, path }) => view! {
            <svg class="code-picture" viewBox=format!("0 0 {side} {side}") role="img" aria-label=move || label.get()
                shape-rendering="crispEdges">
                <rect width=side height=side fill="#ffffff"></rect>
                <path d=path fill="#000000"></path>
            </svg>
        }
        .into_any(),
        None => view! { <p class="notice notice-caution">"▲ This is too long for a code: hand it over as text or as a file."</p> }.into_any(),
    }
    }
}

/// Draws a text in grey values, so many pixels to a square, for whoever tests the reading.
#[cfg(test)]
pub(crate) fn drawn_for_tests(text: &str, scale: usize) -> (usize, Vec<u8>) {
    let code = laid_out(text).unwrap();
    let side = (code.size() + 2 * MARGIN) as usize * scale;
    let dark = |at: usize| (at / scale) as i32 - MARGIN;
    let grey = |pixel: usize| if code.get_module(dark(pixel % side), dark(pixel / side)) { 0 } else { 255 };
    (side, (0..side * side).map(grey).collect())
}

#[cfg(test)]
mod tests {
    use super::{LARGEST, MARGIN, draw, laid_out};

    #[test]
    fn the_longest_part_of_a_hand_over_fits() {
        let file = vec![0x5a; logbook::hand_over::codes::BYTES_IN_CODE * logbook::hand_over::codes::MOST_CODES];
        for text in logbook::hand_over::codes::cut(&file).unwrap() {
            let code = laid_out(&text).unwrap();
            assert!(code.version().value() <= LARGEST);
            assert!(draw(&text).is_some());
        }
        assert_eq!(draw(&"x".repeat(3_000)), None);
    }

    #[test]
    fn the_drawing_has_a_margin_and_every_dark_square() {
        let (code, drawing) = (laid_out("UPSWEEP").unwrap(), draw("UPSWEEP").unwrap());
        assert_eq!(drawing.side, code.size() + 2 * MARGIN);
        let squares = |text: &str| {
            let bars = text.split('M').skip(1);
            bars.map(|bar| bar.split(['h', 'v']).nth(1).unwrap().parse::<i32>().unwrap()).sum::<i32>()
        };
        let dark = (0..code.size()).flat_map(|y| (0..code.size()).map(move |x| (x, y)));
        assert_eq!(squares(&drawing.path), dark.filter(|(x, y)| code.get_module(*x, *y)).count() as i32);
    }

    /// An independent reader, from Debian's `zbar-tools`, where it is there.
    #[test]
    fn zbar_reads_the_same_texts() {
        if std::process::Command::new("zbarimg").arg("--version").output().is_err() {
            eprintln!("zbarimg, an independent reader, is not on this machine: install zbar-tools");
            return;
        }
        let file: Vec<u8> = (0..2_000_u32).map(|n| (n * 7 % 251) as u8).collect();
        let mut texts = logbook::hand_over::codes::cut(&file).unwrap();
        texts.push("http://example.org/#/verify?a=b".to_owned());
        for text in texts {
            let (side, grey) = super::drawn_for_tests(&text, 3);
            let path = std::env::temp_dir().join(format!("upsweep-code-{}.pgm", std::process::id()));
            std::fs::write(&path, [format!("P5 {side} {side} 255\n").into_bytes(), grey].concat()).unwrap();
            let read = std::process::Command::new("zbarimg").args(["--raw", "-q"]).arg(&path).output().unwrap();
            std::fs::remove_file(&path).unwrap();
            assert_eq!(String::from_utf8(read.stdout).unwrap().trim_end_matches('\n'), text);
        }
    }
}
