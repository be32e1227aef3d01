//! Marks: a shape for each meaning, many marks in one path.

use std::fmt::Write as _;

use practicum::section::Plan;

/// Shape of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    /// A square.
    Square,
    /// A triangle that points up.
    Up,
    /// A triangle that points left.
    Left,
    /// A triangle that points right.
    Right,
    /// A square on its corner.
    Diamond,
    /// A circle.
    Circle,
    /// Two crossed lines; has no area.
    Cross,
    /// A short level line; has no area.
    Dash,
}

impl Shape {
    /// Returns the shape of a plan's points.
    pub(super) fn of_plan(plan: Option<Plan>) -> Self {
        match plan {
            Some(Plan::Quarters) => Self::Square,
            Some(Plan::Thirds) => Self::Up,
            Some(Plan::Halves) => Self::Diamond,
            Some(Plan::Whole) => Self::Circle,
            None => Self::Cross,
        }
    }

    /// Adds the shape around a point to a path; `half` is half its width in pixels.
    pub(super) fn add(self, path: &mut String, (x, y): (i32, i32), half: i32) {
        let (r, d) = (half, half * 2);
        let _ = match self {
            Self::Square => write!(path, "M{} {}h{d}v{d}h-{d}z", x - r, y - r),
            Self::Up => write!(path, "M{x} {}l{r} {d}h-{d}z", y - r),
            Self::Left => write!(path, "M{} {y}l{d} -{r}v{d}z", x - r),
            Self::Right => write!(path, "M{} {y}l-{d} -{r}v{d}z", x + r),
            Self::Diamond => write!(path, "M{x} {}l{r} {r}l-{r} {r}l-{r} -{r}z", y - r),
            Self::Circle => write!(path, "M{} {y}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0 -{d} 0z", x - r),
            Self::Cross => write!(path, "M{} {}l{d} {d}m0 -{d}l-{d} {d}", x - r, y - r),
            Self::Dash => write!(path, "M{} {y}h{d}", x - r),
        };
    }
}

/// Adds a rectangle to a path.
pub(super) fn add_bar(path: &mut String, (left, top): (i32, i32), (right, bottom): (i32, i32)) {
    let _ = write!(path, "M{left} {top}H{right}V{bottom}H{left}z");
}

/// Makes a stepped line: each point holds for `half` pixels to either side, and a missing one leaves a gap.
pub(super) fn stepped(points: impl Iterator<Item = (i32, Option<i32>)>, half: i32) -> String {
    let mut path = String::new();
    let mut joined = false;
    for (x, y) in points {
        if let Some(y) = y {
            let _ = if joined {
                write!(path, "V{y}H{}", x + half)
            } else {
                write!(path, "M{} {y}H{}", x - half, x + half)
            };
        }
        joined = y.is_some();
    }
    path
}
