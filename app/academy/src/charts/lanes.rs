//! A service laid out in time: one lane for each eye, hands-on work and dwell told apart by pattern.

use std::fmt::Write as _;

use practicum::moment::{Seconds, format_seconds};

use super::paper::{INK, Paper, WIDTH, colour, text_width};

/// What fills a bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bar {
    /// The trainee's hands: filled.
    Hands,
    /// A product works: hatched.
    Dwell,
    /// An instructor looks: empty.
    Check,
}

/// One bar of a layout.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaneBar {
    /// Lane: 0 left eye, 1 right eye, `None` over both.
    pub lane: Option<usize>,
    /// Start in seconds.
    pub from: Seconds,
    /// End in seconds.
    pub until: Seconds,
    /// What fills it.
    pub bar: Bar,
    /// Words in it, left out where there is no room.
    pub words: String,
}

/// A layout with its title.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lanes {
    /// Title above the lanes.
    pub title: String,
    /// The bars.
    pub bars: Vec<LaneBar>,
    /// Length of the whole in seconds.
    pub total: Seconds,
}

/// Width of the words beside the lanes.
const NAMES: f64 = 74.0;
/// Height of a lane.
const LANE: f64 = 30.0;
/// Height of one layout with its title.
const LAYOUT: f64 = 2.0 * LANE + 40.0;
/// Where the first layout begins.
const TOP: f64 = 34.0;
/// Width of a letter, about.
const LETTER: f64 = 6.6;

/// Draws layouts one below the other on one scale of minutes; a target, when given, as a dashed line.
pub fn lanes(layouts: &[Lanes], target: Option<Seconds>) -> String {
    let bottom = TOP + LAYOUT * layouts.len() as f64;
    let mut paper = Paper::blank(bottom + 44.0);
    let longest = layouts.iter().map(|layout| layout.total).chain(target).max().unwrap_or(0).max(60);
    let across = |seconds: Seconds| NAMES + f64::from(seconds) / f64::from(longest) * (WIDTH - NAMES - 24.0);
    legend(&mut paper);
    for (number, layout) in layouts.iter().enumerate() {
        let top = TOP + LAYOUT * number as f64;
        paper.words(8.0, top + 20.0, "start", &format!("{}: {}", layout.title, format_seconds(layout.total)));
        for (lane, word) in ["left eye", "right eye"].iter().enumerate() {
            paper.words(NAMES - 8.0, top + 28.0 + LANE * (lane as f64 + 0.5) + 4.0, "end", word);
        }
        for bar in &layout.bars {
            draw(&mut paper, bar, top + 28.0, &across);
        }
    }
    let step = minutes_step(longest);
    let mut ticks = format!("M{NAMES:.1} {bottom:.1}H{:.1}", WIDTH - 24.0);
    for tick in (0..=longest / step).map(|tick| tick * step) {
        let _ = write!(ticks, "M{:.1} {bottom:.1}v5", across(tick));
        paper.words(across(tick), bottom + 18.0, "middle", &(tick / 60).to_string());
    }
    paper.path(&ticks, "none", Some(INK), 1.0);
    paper.words((WIDTH + NAMES) / 2.0, bottom + 36.0, "middle", "minutes from the start of cleansing");
    if let Some(target) = target {
        let x = across(target);
        paper.dashed(&format!("M{x:.1} {TOP:.1}V{bottom:.1}"));
        paper.words(x - 4.0, TOP + 6.0, "end", &format!("target {}", format_seconds(target)));
    }
    paper.end()
}

fn minutes_step(longest: Seconds) -> Seconds {
    [300, 600, 900, 1800].into_iter().find(|step| longest / step <= 12).unwrap_or_else(|| longest.div_ceil(12))
}

fn draw(paper: &mut Paper, bar: &LaneBar, top: f64, across: &impl Fn(Seconds) -> f64) {
    let (left, right) = (across(bar.from), across(bar.until));
    let (y, height) = match bar.lane {
        Some(lane) => (top + LANE * lane as f64 + 2.0, LANE - 4.0),
        None => (top + 2.0, 2.0 * LANE - 4.0),
    };
    let frame = |left: f64, width: f64| format!("M{left:.1} {y:.1}h{width:.1}v{height:.1}h-{width:.1}z");
    let width = (right - left).max(0.5);
    match bar.bar {
        Bar::Hands => paper.path(&frame(left, width), colour::SKY, Some(INK), 0.8),
        Bar::Check => paper.path(&frame(left, width), "none", Some(INK), 1.4),
        Bar::Dwell => {
            let mut lines = frame(left, width);
            let mut x = left + 4.0;
            while x < right {
                let _ = write!(lines, "M{x:.1} {y:.1}v{height:.1}");
                x += 4.0;
            }
            paper.path(&lines, "none", Some(colour::VERMILION), 1.0);
        }
    }
    if bar.bar == Bar::Dwell {
        let wide = text_width(&bar.words);
        if wide > 0.0 && width > wide {
            // On the hatching words need paper behind them.
            paper.over(left + width / 2.0, y + height / 2.0 + 4.5, &bar.words);
        }
    } else if width > LETTER * bar.words.chars().count() as f64 + 6.0 {
        paper.words(left + width / 2.0, y + height / 2.0 + 4.0, "middle", &bar.words);
    }
}

fn legend(paper: &mut Paper) {
    let bar = |from, until, bar| LaneBar { lane: Some(0), from, until, bar, words: String::new() };
    for (left, kind, words) in
        [(8, Bar::Hands, "hands on"), (150, Bar::Dwell, "product works"), (330, Bar::Check, "instructor looks")]
    {
        draw(paper, &bar(left, left + 26, kind), 0.0, &|x| f64::from(x));
        paper.words(f64::from(left) + 34.0, 20.0, "start", words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(lane: Option<usize>, from: Seconds, until: Seconds, bar: Bar, words: &str) -> LaneBar {
        LaneBar { lane, from, until, bar, words: words.to_owned() }
    }

    #[test]
    fn words_are_escaped_and_left_out_where_there_is_no_room() {
        let bars = vec![
            bar(Some(0), 0, 1200, Bar::Hands, "<b>lash-up</b>"),
            bar(Some(1), 1200, 1210, Bar::Hands, "narrow"),
            bar(None, 1210, 1800, Bar::Dwell, "lift"),
        ];
        let svg = lanes(&[Lanes { title: "A & B".to_owned(), bars, total: 1800 }], Some(1500));
        assert!(svg.contains("&lt;b&gt;lash-up") && !svg.contains("<b>"));
        assert!(svg.contains("A &amp; B: 30:00") && svg.contains("target 25:00"));
        assert!(!svg.contains("narrow"));
        assert!(svg.contains(">lift</text>"), "a dwell has its words too: {svg}");
    }

    #[test]
    fn nothing_and_far_too_long_are_drawn_without_trouble() {
        assert!(lanes(&[], None).starts_with("<svg"));
        let bars = vec![bar(Some(7), 5, 2, Bar::Dwell, ""), bar(None, 0, Seconds::MAX, Bar::Hands, "x")];
        let svg = lanes(&[Lanes { title: String::new(), bars, total: Seconds::MAX }], None);
        assert!(svg.len() < 10_000_000, "{}", svg.len());
    }

    #[test]
    fn a_scale_never_has_more_than_a_dozen_steps_of_minutes_in_a_day_course() {
        for longest in [60, 1800, 3600, 5400, 7200, 14_400] {
            assert!(longest / minutes_step(longest) <= 12);
        }
    }
}
