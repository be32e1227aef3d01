//! Plots as plain SVG: panels side by side, lines, dots with error bars, bars, and a legend.
//!
//! Series differ in pattern or mark as well as in colour (colours: Okabe and Ito 2008, Color Universal Design).

use std::fmt::Write as _;

const COLOURS: [&str; 9] =
    ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00", "#000000", "#7f7f7f", "#8c5a2b"];
const DASHES: [&str; 9] = ["", "7 3", "2 2", "9 2 2 2", "4 4", "12 3", "1 3", "6 2 1 2 1 2", "3 1"];
/// Sizes in units of the picture.
const PANEL: (f64, f64) = (300.0, 210.0);
const LEFT: f64 = 44.0;
const TOP: f64 = 52.0;
const BETWEEN: (f64, f64) = (46.0, 58.0);
const LINE: f64 = 16.0;

/// A picture of panels in a grid.
#[derive(Debug, Clone)]
pub struct Picture {
    title: String,
    columns: usize,
    rows: usize,
    body: String,
    marks: bool,
}

/// What a panel shows.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Its heading.
    pub title: String,
    /// Ends of the axis across.
    pub across: (f64, f64),
    /// Ends of the axis up.
    pub up: (f64, f64),
    /// Places across that are named by their numbers.
    pub ticks_across: Vec<f64>,
}

/// A series: its place chooses colour and pattern.
#[derive(Debug, Clone)]
pub struct Series {
    /// Place in the legend, counted from 0.
    pub place: usize,
    /// What it is.
    pub name: String,
}

/// A panel that is being drawn.
#[derive(Debug)]
pub struct Panel<'a> {
    picture: &'a mut Picture,
    frame: Frame,
    corner: (f64, f64),
}

impl Picture {
    /// An empty picture of so many columns and rows of panels.
    pub fn new(title: &str, columns: usize, rows: usize) -> Self {
        Self { title: title.to_owned(), columns, rows, body: String::new(), marks: false }
    }

    /// Begins a panel: its frame, ticks and heading.
    pub fn panel(&mut self, column: usize, row: usize, frame: &Frame) -> Panel<'_> {
        let corner = (LEFT + column as f64 * (PANEL.0 + BETWEEN.0), TOP + row as f64 * (PANEL.1 + BETWEEN.1));
        let mut panel = Panel { picture: self, frame: frame.clone(), corner };
        panel.begin();
        panel
    }

    /// The whole text, with a legend of the series.
    pub fn finish(&self, legend: &[String]) -> String {
        let width = LEFT + self.columns as f64 * (PANEL.0 + BETWEEN.0);
        let below = TOP + self.rows as f64 * (PANEL.1 + BETWEEN.1);
        let columns = (width / 340.0).floor().max(1.0) as usize;
        let height = below + LINE * (legend.len().div_ceil(columns) as f64 + 0.5);
        let mut text = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" width=\"{width:.0}\" height=\"{height:.0}\" role=\"img\" font-family=\"sans-serif\" font-size=\"11\">\n<title>{title}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n<text x=\"{LEFT}\" y=\"20\" font-size=\"14\">{title}</text>\n{body}",
            title = escaped(&self.title),
            body = self.body,
        );
        for (at, name) in legend.iter().enumerate() {
            let (x, y) = (LEFT + 340.0 * (at % columns) as f64, below + LINE * (at / columns) as f64);
            if self.marks {
                text.push_str(&mark(at, x + 14.0, y - 4.0));
            } else {
                let _ = writeln!(text, "<path d=\"M{x:.1} {:.1}h28\" {}/>", y - 4.0, stroke(at));
            }
            let _ = writeln!(text, "<text x=\"{:.1}\" y=\"{y:.1}\">{}</text>", x + 34.0, escaped(name));
        }
        text.push_str("</svg>\n");
        text
    }
}

impl Panel<'_> {
    fn begin(&mut self) {
        let (x, y) = self.corner;
        let (width, height) = PANEL;
        let mut body = String::new();
        let _ = writeln!(
            body,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"none\" stroke=\"#999999\"/>"
        );
        let _ = writeln!(body, "<text x=\"{x}\" y=\"{:.1}\">{}</text>", y - 8.0, escaped(&self.frame.title));
        for tick in &self.frame.ticks_across {
            let place = self.across(*tick);
            let _ = writeln!(
                body,
                "<text x=\"{place:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{tick}</text>",
                y + height + 14.0
            );
        }
        let (low, high) = self.frame.up;
        for step in 0..=4 {
            let value = low + (high - low) * f64::from(step) / 4.0;
            let place = self.up(value);
            let shown = format!("{value:.2}");
            let _ = writeln!(
                body,
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{shown}</text>",
                x - 5.0,
                place + 4.0
            );
            let _ = writeln!(body, "<path d=\"M{x} {place:.1}h{width}\" stroke=\"#e5e5e5\"/>");
        }
        self.picture.body.push_str(&body);
    }

    fn across(&self, value: f64) -> f64 {
        let (low, high) = self.frame.across;
        self.corner.0 + PANEL.0 * ((value - low) / (high - low)).clamp(0.0, 1.0)
    }

    fn up(&self, value: f64) -> f64 {
        let (low, high) = self.frame.up;
        self.corner.1 + PANEL.1 * (1.0 - ((value - low) / (high - low)).clamp(0.0, 1.0))
    }

    /// Shades what lies between two heights.
    pub fn band(&mut self, low: f64, high: f64) {
        let (top, bottom) = (self.up(high), self.up(low));
        let _ = writeln!(
            self.picture.body,
            "<rect x=\"{}\" y=\"{top:.1}\" width=\"{}\" height=\"{:.1}\" fill=\"#009e73\" fill-opacity=\"0.12\"/>",
            self.corner.0,
            PANEL.0,
            bottom - top
        );
    }

    /// A thin line across at a height, with its name.
    pub fn level(&mut self, value: f64, name: &str) {
        let (x, y) = (self.corner.0, self.up(value));
        let _ = writeln!(
            self.picture.body,
            "<path d=\"M{x} {y:.1}h{}\" stroke=\"#555555\" stroke-dasharray=\"2 3\"/>",
            PANEL.0
        );
        let _ = writeln!(
            self.picture.body,
            "<text x=\"{:.1}\" y=\"{:.1}\" fill=\"#555555\">{}</text>",
            x + 3.0,
            y - 3.0,
            escaped(name)
        );
    }

    /// Text below the axis at a place across.
    pub fn name_across(&mut self, value: f64, name: &str) {
        let (x, y) = (self.across(value), self.corner.1 + PANEL.1 + 14.0);
        let _ = writeln!(
            self.picture.body,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"middle\">{}</text>",
            escaped(name)
        );
    }

    /// A line through points; those that are not finite are left out.
    pub fn line(&mut self, series: &Series, points: &[(f64, f64)]) {
        let finite = points.iter().filter(|(x, y)| x.is_finite() && y.is_finite());
        let places = finite.map(|(x, y)| format!("{:.1} {:.1}", self.across(*x), self.up(*y)));
        let path = places.collect::<Vec<_>>().join("L");
        if !path.is_empty() {
            let name = escaped(&series.name);
            let _ = writeln!(
                self.picture.body,
                "<path d=\"M{path}\" {}><title>{name}</title></path>",
                stroke(series.place)
            );
        }
    }

    /// A dot with a bar of two standard errors up and down.
    pub fn dot(&mut self, series: &Series, (x, y): (f64, f64), error: f64) {
        self.picture.marks = true;
        if !y.is_finite() {
            return;
        }
        let place = (self.across(x), self.up(y));
        let colour = COLOURS.get(series.place % COLOURS.len()).unwrap_or(&"#000000");
        if error.is_finite() {
            let (top, bottom) = (self.up(y + 2.0 * error), self.up(y - 2.0 * error));
            let _ =
                writeln!(self.picture.body, "<path d=\"M{:.1} {top:.1}V{bottom:.1}\" stroke=\"{colour}\"/>", place.0);
        }
        self.picture.body.push_str(&mark(series.place, place.0, place.1));
    }

    /// A bar from the ground between two places across.
    pub fn bar(&mut self, (from, to): (f64, f64), value: f64) {
        let (left, right) = (self.across(from), self.across(to));
        let (top, ground) = (self.up(value), self.up(self.frame.up.0));
        let _ = writeln!(
            self.picture.body,
            "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"#0072b2\" fill-opacity=\"0.7\" stroke=\"#ffffff\"/>",
            right - left,
            ground - top
        );
    }
}

fn stroke(place: usize) -> String {
    let colour = COLOURS.get(place % COLOURS.len()).unwrap_or(&"#000000");
    let dash = DASHES.get(place % DASHES.len()).unwrap_or(&"");
    format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.6\" stroke-dasharray=\"{dash}\"")
}

fn mark(place: usize, x: f64, y: f64) -> String {
    let colour = COLOURS.get(place % COLOURS.len()).unwrap_or(&"#000000");
    let path = match place % 5 {
        0 => format!("M{:.1} {y:.1}a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0", x - 3.5),
        1 => format!("M{:.1} {:.1}h6v6h-6z", x - 3.0, y - 3.0),
        2 => format!("M{x:.1} {:.1}l4 7h-8z", y - 4.0),
        3 => format!("M{x:.1} {:.1}l4 4l-4 4l-4 -4z", y - 4.0),
        _ => format!("M{:.1} {:.1}h3v3h2v-3h3v-2h-3v-3h-2v3h-3z", x - 4.0, y + 1.0),
    };
    format!("<path d=\"{path}\" fill=\"{colour}\"/>\n")
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_holds_what_was_drawn_and_nothing_beyond_its_frame() {
        let mut picture = Picture::new("a < b", 1, 1);
        let frame = Frame { title: "t".to_owned(), across: (0.0, 10.0), up: (0.0, 1.0), ticks_across: vec![0.0, 10.0] };
        let mut panel = picture.panel(0, 0, &frame);
        let series = Series { place: 0, name: "s".to_owned() };
        panel.line(&series, &[(0.0, 0.0), (f64::NAN, 0.5), (20.0, 7.0)]);
        panel.dot(&series, (5.0, f64::NAN), 0.1);
        let text = picture.finish(&["s".to_owned()]);
        assert!(text.contains("a &lt; b") && !text.contains("NaN"), "{text}");
        // Clamped to the upper right corner.
        assert!(text.contains(&format!("L{:.1} {TOP:.1}", LEFT + PANEL.0)), "{text}");
    }
}
