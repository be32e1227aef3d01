//! Small charts of many trainees on one scale: hands-on time by service, and whether each was acceptable.

use std::fmt::Write as _;

use practicum::moment::Seconds;
use practicum::section::Plan;

use super::look::of_plan;
use super::paper::{INK, Look, Shape, escape};

/// Width of a small drawing, in its own units.
const WIDTH: f64 = 300.0;
/// Height of a small drawing.
const HEIGHT: f64 = 116.0;
/// Edges of its field: left, top, right, bottom.
const FIELD: (f64, f64, f64, f64) = (34.0, 18.0, 294.0, 94.0);
/// Where services stand that have no time.
const NO_TIME: f64 = 102.0;

/// A service in a small chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SmallPoint {
    /// Number of the service, from 1.
    pub number: u32,
    /// Its section plan.
    pub plan: Option<Plan>,
    /// Hands-on time, both eyes; `None` where no clock took it.
    pub hands_on: Option<Seconds>,
    /// Acceptable or not; `None` while not marked.
    pub acceptable: Option<bool>,
    /// With a safety breach.
    pub breach: bool,
}

/// The scale that all small charts of a page share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SmallScale {
    /// Greatest number of services.
    pub services: u32,
    /// Greatest time, in whole minutes, a multiple of ten.
    pub minutes: u32,
}

impl SmallScale {
    /// Makes the scale that holds all points.
    pub fn of<'p>(points: impl IntoIterator<Item = &'p SmallPoint>) -> Self {
        let (mut services, mut seconds) = (1, 0);
        for point in points {
            services = services.max(point.number);
            seconds = seconds.max(point.hands_on.unwrap_or(0));
        }
        let minutes = seconds.div_ceil(60).max(1).div_ceil(10).saturating_mul(10);
        Self { services, minutes }
    }

    fn across(self, number: u32) -> f64 {
        let (left, _, right, _) = FIELD;
        left + (f64::from(number) - 0.5) / f64::from(self.services.max(1)) * (right - left)
    }

    fn up(self, seconds: Seconds) -> f64 {
        let (_, top, _, bottom) = FIELD;
        let share = f64::from(seconds) / 60.0 / f64::from(self.minutes.max(1));
        bottom - share.min(1.0) * (bottom - top)
    }
}

/// Draws a small chart. A filled shape is an acceptable service, a hollow one is not acceptable, a small one is not
/// marked, and a cross above stands for a safety breach; the shape says the plan.
pub fn small(points: &[SmallPoint], scale: SmallScale, title: &str) -> String {
    let (left, top, right, bottom) = FIELD;
    let mut svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escape(title)
    );
    let middle = f64::midpoint(top, bottom);
    let lines = format!("M{left} {top}H{right}M{left} {middle}H{right}M{left} {bottom}H{right}");
    let _ = write!(svg, r##"<path d="{lines}" fill="none" stroke="#b8ae9e" stroke-width="0.7"/>"##);
    let half = scale.minutes / 2;
    for (y, words) in [(top, scale.minutes), (middle, half), (bottom, 0)] {
        words_at(&mut svg, left - 4.0, y + 4.0, "end", &words.to_string());
    }
    words_at(&mut svg, left, HEIGHT - 1.0, "start", "1");
    words_at(&mut svg, right, HEIGHT - 1.0, "end", &scale.services.to_string());
    let place = |point: &SmallPoint| (scale.across(point.number), point.hands_on.map_or(NO_TIME, |s| scale.up(s)));
    let path: Vec<String> = points
        .iter()
        .filter(|point| point.hands_on.is_some())
        .map(place)
        .map(|(x, y)| format!("{x:.1} {y:.1}"))
        .collect();
    if let [first, rest @ ..] = path.as_slice() {
        let _ = write!(
            svg,
            r##"<path d="M{first}{}" fill="none" stroke="#8a8072" stroke-width="1"/>"##,
            rest.iter().map(|at| format!("L{at}")).collect::<String>()
        );
    }
    let plans = Plan::ALL.into_iter().map(Some).chain([None]);
    for plan in plans {
        for marked in [Some(true), Some(false), None] {
            let look = Look { filled: marked == Some(true), ..of_plan(plan, false) };
            let here = points.iter().filter(|point| point.plan == plan && point.acceptable == marked);
            let r = if marked.is_none() { 2.0 } else { 3.4 };
            let path: String = here.map(place).map(|(x, y)| look.shape.path(x, y, r)).collect();
            if !path.is_empty() {
                let fill = if look.filled { look.colour } else { "#fffdf9" };
                let _ = write!(
                    svg,
                    r#"<path d="{path}" fill="{fill}" stroke="{}" stroke-width="1.3"/>"#,
                    if look.filled { INK } else { look.colour }
                );
            }
        }
    }
    let breaches: String = points
        .iter()
        .filter(|point| point.breach)
        .map(|point| Shape::Cross.path(place(point).0, top - 9.0, 3.5))
        .collect();
    if !breaches.is_empty() {
        let _ = write!(svg, r#"<path d="{breaches}" fill="none" stroke="{INK}" stroke-width="2"/>"#);
    }
    svg.push_str("</svg>");
    svg
}

fn words_at(svg: &mut String, x: f64, y: f64, anchor: &str, words: &str) {
    let _ = write!(
        svg,
        r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" font-family="sans-serif" font-size="11" fill="{INK}">{}</text>"#,
        escape(words)
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(number: u32, hands_on: Option<Seconds>, acceptable: Option<bool>) -> SmallPoint {
        SmallPoint { number, plan: Some(Plan::Halves), hands_on, acceptable, breach: false }
    }

    #[test]
    fn one_scale_holds_everybody() {
        let (slow, many) = (point(3, Some(3_601), None), point(40, Some(60), None));
        assert_eq!(SmallScale::of([&slow, &many]), SmallScale { services: 40, minutes: 70 });
        assert_eq!(SmallScale::of([]), SmallScale { services: 1, minutes: 10 });
    }

    #[test]
    fn every_point_stands_inside_the_drawing() {
        let scale = SmallScale { services: 30, minutes: 60 };
        for number in [1, 15, 30] {
            let x = scale.across(number);
            assert!((FIELD.0..=FIELD.2).contains(&x), "{x}");
        }
        assert!(scale.up(0) > scale.up(1_800) && scale.up(1_800) > scale.up(3_600));
        assert!((scale.up(9_999) - FIELD.1).abs() < 1e-9, "beyond the scale stays on its edge");
    }

    #[test]
    fn drawings_stay_small_and_words_are_escaped() {
        let points: Vec<SmallPoint> =
            (1..=30).map(|n| point(n, (n % 7 != 0).then_some(n * 60), Some(n % 3 == 0))).collect();
        let svg = small(&points, SmallScale::of(&points), "<b>A & B</b>");
        assert!(svg.contains("&lt;b&gt;A &amp; B"));
        assert!(svg.matches('<').count() < 24, "few elements: {}", svg.matches('<').count());
        assert!(!svg.contains("NaN"));
        let breach = SmallPoint { breach: true, ..point(1, None, None) };
        assert!(small(&[breach], SmallScale { services: 1, minutes: 10 }, "").contains("stroke-width=\"2\""));
    }
}
