//! The paper that charts are drawn on: axes by plotters, marks as few paths, words escaped.

use std::fmt::Write as _;

use plotters::prelude::*;

/// Width of a drawing, in its own units.
pub(super) const WIDTH: f64 = 720.0;

/// Ink of axes and words.
pub(super) const INK: &str = "#26221d";

/// Colours that people with any kind of colour sight can tell apart (Okabe and Ito).
pub(super) mod colour {
    pub(crate) const ORANGE: &str = "#E69F00";
    pub(crate) const SKY: &str = "#56B4E9";
    pub(crate) const GREEN: &str = "#009E73";
    pub(crate) const YELLOW: &str = "#F0E442";
    pub(crate) const BLUE: &str = "#0072B2";
    pub(crate) const VERMILION: &str = "#D55E00";
    pub(crate) const PURPLE: &str = "#CC79A7";
}

/// Shape of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Square,
    Diamond,
    Circle,
    Up,
    Left,
    Right,
    Cross,
    Dash,
    Plus,
}

impl Shape {
    /// Returns the path of the shape around a point; `r` is half its size.
    pub(super) fn path(self, x: f64, y: f64, r: f64) -> String {
        let d = 2.0 * r;
        match self {
            Self::Square => format!("M{:.1} {:.1}h{d:.1}v{d:.1}h-{d:.1}z", x - r, y - r),
            Self::Diamond => format!("M{x:.1} {:.1}l{r:.1} {r:.1}l-{r:.1} {r:.1}l-{r:.1} -{r:.1}z", y - r),
            Self::Circle => format!("M{:.1} {y:.1}a{r:.1} {r:.1} 0 1 0 {d:.1} 0a{r:.1} {r:.1} 0 1 0 -{d:.1} 0z", x - r),
            Self::Up => format!("M{x:.1} {:.1}l{r:.1} {d:.1}h-{d:.1}z", y - r),
            Self::Left => format!("M{:.1} {y:.1}l{d:.1} -{r:.1}v{d:.1}z", x - r),
            Self::Right => format!("M{:.1} {y:.1}l-{d:.1} -{r:.1}v{d:.1}z", x + r),
            Self::Cross => format!("M{:.1} {:.1}l{d:.1} {d:.1}m-{d:.1} 0l{d:.1} -{d:.1}", x - r, y - r),
            Self::Dash => format!("M{:.1} {y:.1}h{d:.1}", x - r),
            Self::Plus => format!("M{:.1} {y:.1}h{d:.1}m-{r:.1} -{r:.1}v{d:.1}", x - r),
        }
    }

    fn is_stroke(self) -> bool {
        matches!(self, Self::Cross | Self::Dash | Self::Plus)
    }
}

/// Look of a series: shape, colour, and whether the shape is filled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub(super) shape: Shape,
    pub(super) colour: &'static str,
    pub(super) filled: bool,
}

/// What the axes say.
pub(super) struct Axes<'a> {
    /// Least and greatest on the axis across.
    pub(super) x: (f64, f64),
    /// Least and greatest on the axis up.
    pub(super) y: (f64, f64),
    /// Words of the axis across.
    pub(super) x_words: &'a str,
    /// Words of the axis up.
    pub(super) y_words: &'a str,
}

/// A drawing under way.
pub(super) struct Paper {
    width: f64,
    height: f64,
    svg: String,
    /// Edges of the field inside the axes: left, top, right, bottom.
    field: (f64, f64, f64, f64),
    x: (f64, f64),
    y: (f64, f64),
    placed: Vec<(f64, f64, f64)>,
}

impl Paper {
    /// Starts an empty sheet.
    pub(super) fn blank(height: f64) -> Self {
        let mut paper = Self {
            width: WIDTH,
            height,
            svg: String::new(),
            field: (0.0, 0.0, WIDTH, height),
            x: (0.0, 1.0),
            y: (0.0, 1.0),
            placed: Vec::new(),
        };
        paper.path(&format!("M0 0H{WIDTH}V{height}H0z"), "#fffdf9", None, 0.0);
        paper
    }

    /// Starts a sheet with axes and, above them, a legend.
    pub(super) fn with_axes(height: f64, axes: &Axes<'_>, legend: &[(Look, String)]) -> Self {
        let top = 14.0 + 20.0 * legend_rows(legend);
        let (low, high) = axes.y;
        let low = if low.is_finite() { low.min(0.0) } else { 0.0 };
        let y = (low, if high.is_finite() { high.max(1.0) } else { 1.0 });
        let mut paper = Self { y, x: axes.x, ..Self::blank(height) };
        match draw_axes(height, top, y, axes) {
            Ok((svg, field)) => {
                paper.svg = svg;
                paper.field = field;
            }
            // Without axes the marks still stand where they belong.
            Err(_) => paper.field = (60.0, top, WIDTH - 16.0, height - 50.0),
        }
        paper.legend(legend);
        paper
    }

    /// Returns where a value stands across.
    pub(super) fn across(&self, value: f64) -> f64 {
        let (left, _, right, _) = self.field;
        left + (value - self.x.0) / (self.x.1 - self.x.0).max(f64::MIN_POSITIVE) * (right - left)
    }

    /// Returns the left edge of the field inside the axes.
    pub(super) fn left(&self) -> f64 {
        self.field.0
    }

    /// Returns the lower edge of the field inside the axes.
    pub(super) fn bottom(&self) -> f64 {
        self.field.3
    }

    /// Returns where a value stands up.
    pub(super) fn up(&self, value: f64) -> f64 {
        let (_, top, _, bottom) = self.field;
        bottom - (value - self.y.0) / (self.y.1 - self.y.0) * (bottom - top)
    }

    /// Draws a path; without a stroke the width says nothing.
    pub(super) fn path(&mut self, path: &str, fill: &str, stroke: Option<&str>, width: f64) {
        if !path.is_empty() {
            let stroke = stroke.unwrap_or("none");
            let _ = write!(self.svg, r#"<path d="{path}" fill="{fill}" stroke="{stroke}" stroke-width="{width}"/>"#);
        }
    }

    /// Draws a dashed line.
    pub(super) fn dashed(&mut self, path: &str) {
        self.dashed_in(path, INK, 2.0, "7 4");
    }

    /// Draws a line of dashes and gaps, whose lengths `dashes` names.
    pub(super) fn dashed_in(&mut self, path: &str, stroke: &str, width: f64, dashes: &str) {
        if !path.is_empty() {
            let _ = write!(
                self.svg,
                r#"<path d="{path}" fill="none" stroke="{stroke}" stroke-width="{width}" stroke-dasharray="{dashes}"/>"#
            );
        }
    }

    /// Draws marks of one look as one path.
    pub(super) fn marks(&mut self, look: Look, points: &[(f64, f64)], r: f64) {
        let path: String = points.iter().map(|(x, y)| look.shape.path(*x, *y, r)).collect();
        if look.shape.is_stroke() {
            self.path(&path, "none", Some(look.colour), 2.0);
        } else if look.filled {
            self.path(&path, look.colour, Some(INK), 0.7);
        } else {
            self.path(&path, "#fffdf9", Some(look.colour), 1.8);
        }
    }

    /// Writes words; `anchor` is `start`, `middle` or `end`.
    pub(super) fn words(&mut self, x: f64, y: f64, anchor: &str, words: &str) {
        let words = escape(words);
        let _ = write!(
            self.svg,
            r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" font-family="sans-serif" font-size="13" fill="{INK}">{words}</text>"#
        );
    }

    /// Writes one letter at each place across, as one element.
    pub(super) fn letters(&mut self, at: &[(f64, char)], y: f64) {
        if !at.is_empty() {
            let places: Vec<String> = at.iter().map(|(x, _)| format!("{x:.1}")).collect();
            let letters: String = at.iter().map(|(_, letter)| *letter).collect();
            let _ = write!(
                self.svg,
                r#"<text x="{}" y="{y:.1}" text-anchor="middle" font-family="sans-serif" font-size="11" fill="{INK}">{}</text>"#,
                places.join(" "),
                escape(&letters)
            );
        }
    }

    /// Writes words in the middle of a place that is drawn over, with paper behind them.
    pub(super) fn over(&mut self, x: f64, y: f64, words: &str) {
        let start = x - text_width(words) / 2.0;
        self.bold(start, y, words);
    }

    /// Writes a label beside a mark, moved up or down until it covers no other label.
    pub(super) fn label(&mut self, x: f64, y: f64, words: &str) {
        let (left, top, right, bottom) = self.field;
        let wide = text_width(words);
        let start = (x + 8.0).min(right - wide).max(left);
        let free = |y: f64| {
            self.placed.iter().all(|(x0, x1, other)| start > *x1 || start + wide < *x0 || (other - y).abs() >= 14.0)
        };
        let tries = (0..24).flat_map(|step| [y - f64::from(step) * 7.0, y + f64::from(step) * 7.0]);
        let y = tries
            .filter(|y| (top + 10.0..bottom).contains(y))
            .find(|y| free(*y))
            .unwrap_or(y.clamp(top + 10.0, bottom));
        self.placed.push((start, start + wide, y));
        self.bold(start, y, words);
    }

    fn bold(&mut self, start: f64, y: f64, words: &str) {
        let (text, paper) = (escape(words), "#fffdf9");
        let _ = write!(
            self.svg,
            r#"<text x="{start:.1}" y="{y:.1}" font-family="sans-serif" font-size="13" font-weight="bold" fill="{INK}" stroke="{paper}" stroke-width="3" paint-order="stroke">{text}</text>"#
        );
    }

    /// Says in the middle that there is nothing to draw.
    pub(super) fn nothing(&mut self, words: &str) {
        let (left, top, right, bottom) = self.field;
        self.words((left + right) / 2.0, (top + bottom) / 2.0, "middle", words);
    }

    /// Draws a legend from the top left corner.
    pub(super) fn legend(&mut self, legend: &[(Look, String)]) {
        let (mut x, mut y) = (12.0, 18.0);
        for (look, words) in legend {
            let wide = text_width(words) + 34.0;
            if x > 12.0 && x + wide > self.width {
                (x, y) = (12.0, y + 20.0);
            }
            self.marks(*look, &[(x + 6.0, y - 4.0)], 5.0);
            self.words(x + 17.0, y, "start", words);
            x += wide;
        }
    }

    /// Ends the drawing.
    pub(super) fn end(self) -> String {
        let (width, height, inside) = (self.width, self.height, self.svg);
        format!(r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">{inside}</svg>"#)
    }
}

fn legend_rows(legend: &[(Look, String)]) -> f64 {
    let (mut rows, mut x) = (if legend.is_empty() { 0.0 } else { 1.0 }, 12.0);
    for (_, words) in legend {
        let wide = text_width(words) + 34.0;
        if x > 12.0 && x + wide > WIDTH {
            (rows, x) = (rows + 1.0, 12.0);
        }
        x += wide;
    }
    rows
}

/// Estimates the width of words, since a string of text has no font here.
pub(super) fn text_width(words: &str) -> f64 {
    7.2 * words.chars().map(|letter| if letter.is_ascii() { 1.0 } else { 1.6 }).sum::<f64>()
}

type Drawn = (String, (f64, f64, f64, f64));

/// Draws axes with plotters; returns what stands inside its `svg` element and the edges of the field.
fn draw_axes(height: f64, top: f64, y: (f64, f64), axes: &Axes<'_>) -> Result<Drawn, Box<dyn std::error::Error>> {
    let mut svg = String::new();
    let field = {
        let size = (format!("{WIDTH:.0}").parse()?, format!("{height:.0}").parse()?);
        let root = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        let (paper, ink, hair) = (RGBColor(255, 253, 249), RGBColor(38, 34, 29), RGBColor(216, 208, 194));
        root.fill(&paper).map_err(|problem| problem.to_string())?;
        let mut chart = ChartBuilder::on(&root)
            .margin_top(format!("{top:.0}").parse::<i32>()?)
            .margin_right(16)
            .margin_left(4)
            .margin_bottom(4)
            .x_label_area_size(44)
            .y_label_area_size(56)
            .build_cartesian_2d(axes.x.0..axes.x.1, y.0..y.1)
            .map_err(|problem| problem.to_string())?;
        let whole =
            |value: &f64| if (value - value.round()).abs() < 1e-6 { format!("{value:.0}") } else { String::new() };
        chart
            .configure_mesh()
            .disable_x_mesh()
            .bold_line_style(hair)
            .light_line_style(TRANSPARENT)
            .axis_style(ink)
            .x_labels(10)
            .y_labels(6)
            .x_label_formatter(&whole)
            .y_label_formatter(&whole)
            .x_desc(axes.x_words)
            .y_desc(axes.y_words)
            .label_style(("sans-serif", 16).into_font().color(&ink))
            .axis_desc_style(("sans-serif", 16).into_font().color(&ink))
            .draw()
            .map_err(|problem| problem.to_string())?;
        let (across, up) = chart.plotting_area().get_pixel_range();
        root.present().map_err(|problem| problem.to_string())?;
        (f64::from(across.start), f64::from(up.start), f64::from(across.end), f64::from(up.end))
    };
    let inside = svg.split_once('>').map_or("", |(_, inside)| inside).trim_end().trim_end_matches("</svg>");
    Ok((inside.to_owned(), field))
}

/// Makes any text fit to stand in a drawing; letters that XML forbids become a sign for the unknown.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            letter if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') => safe.push('\u{fffd}'),
            letter => safe.push(letter),
        }
    }
    safe
}
