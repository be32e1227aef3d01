//! Charts of a trainee's way: numbers become drawings that print sharp, with a table of the same numbers.
//!
//! Each function takes plain numbers and returns an SVG text in which every word is escaped.

mod curve;
pub mod figure;
mod lanes;
mod look;
mod paper;
mod quality;
mod residuals;
mod small;
mod strip;
mod times;

#[cfg(test)]
mod tests;

pub use curve::{BandPoint, ChanceMark, CurveDrawing, CurvePart, CurvePoint, curve};
pub use figure::Chart;
pub use lanes::{Bar, LaneBar, Lanes, lanes};
pub use quality::{Decision, DecisionPoint, ResultRow, decision, results};
pub use residuals::{ResidualPoint, residuals};
pub use small::{SmallPoint, SmallScale, small};
pub use strip::{Column, STRIP_SERVICES, rubric_strip, services_per_plan};
pub use times::{DwellPoint, EyePoint, TargetStep, TimePoint, dwells, hands_on_by_eye, service_time};

/// A drawing that one of the functions here made, so that its words are escaped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing(String);

impl Drawing {
    /// Takes a drawing of this module.
    pub(crate) fn of(svg: String) -> Self {
        Self(svg)
    }

    /// Returns it as SVG.
    pub fn svg(&self) -> &str {
        &self.0
    }
}
