//! The learning curve of a group: how the time of a service falls with practice, and jumps with the plan.
//!
//! y = ln(seconds) = intercept + slope * practice(n) + steps of the levels + relearning * ln m
//!                   + each trainee's own intercept and slope + scatter,
//!
//! n counts a trainee's services and m those at the present level, both from 1; relearning counts above
//! the finest level only. Levels go from finer (smaller numbers) to coarser (larger), each step adding to
//! those before it. The curve's shape is not known: up to eight are fitted and weighed by their likelihood
//! (Burnham and Anderson 2002, Springer, section 2.9). The fits are those
//! of [`crate::mixed`].

mod columns;
mod fitting;
mod shape;

use crate::mixed::{Fit, MixedError};
use columns::Columns;

pub use fitting::Fitting;
pub use shape::{SHAPES, Shape};

/// Fewest trainees of a group whose curve is fitted.
pub const LEAST_TRAINEES: usize = 3;
/// A trainee with this many services or more helps to tell the shapes apart.
pub const LONG_PRACTICE: usize = 12;
/// Fewest such trainees for the shapes to be weighed by likelihood.
pub const LEAST_LONG: usize = 3;
/// From this many trainees on, the variances are taken as known when predicting.
pub const VARIANCES_KNOWN: usize = 12;
/// Shapes that weigh less than this add nothing to a forecast.
const LEAST_WEIGHT: f64 = 1e-4;

/// A service, or one stage of it, as the curve sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Service {
    /// Whose, any number.
    pub trainee: usize,
    /// Which of the trainee's services, counted from 1.
    pub number: u32,
    /// Level of the plan: larger is coarser.
    pub level: u8,
    /// Which of the trainee's services at this level, counted from 1.
    pub within: u32,
    /// Hands-on time, in seconds, above 0.
    pub seconds: f64,
    /// Whether it was done on another medium than the rest; gives a column of its own.
    pub other_medium: bool,
}

/// A part of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Term {
    /// ln(seconds) of the first service at the finest level.
    Intercept,
    /// Slope in practice; below 0 when times fall.
    Practice,
    /// Jump from the next finer level to this one.
    Step(u8),
    /// Slope in ln m above the finest level.
    Relearning,
    /// Difference of the other medium.
    Medium,
}

/// A level that too few have reached to have a step of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Merged {
    /// The level.
    pub level: u8,
    /// The neighbour that it is counted with.
    pub into: u8,
    /// Trainees who have reached it.
    pub trainees: usize,
}

/// A term that was left out of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dropped {
    /// The term.
    pub term: Term,
    /// Whether the other terms already say the same; otherwise no trainee has services on both sides.
    pub known: bool,
}

/// How rows far from the curve count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scatter {
    /// Like all others.
    Normal,
    /// Less, with Student-t weights of so many degrees of freedom.
    Student(f64),
}

/// How the variances are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Variances {
    /// By restricted likelihood alone; may be zero. For agreement with other programs.
    Plain,
    /// Kept off zero by a penalty; averaged over in groups of fewer than [`VARIANCES_KNOWN`].
    BySize,
}

/// How a curve is to be fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Shapes to average, one or more.
    pub shapes: Vec<Shape>,
    /// Fewest trainees for a level to have a step of its own.
    pub least_at_level: usize,
    /// How far-off rows count.
    pub scatter: Scatter,
    /// How variances are found.
    pub variances: Variances,
    /// Services at a level after which relearning is over; never when `None`.
    pub relearning_floor: Option<u32>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            shapes: SHAPES.to_vec(),
            least_at_level: 3,
            scatter: Scatter::Student(4.0),
            variances: Variances::BySize,
            // Chosen by the study: without an end, forecasts promised too much wherever times come to rest.
            relearning_floor: Some(12),
        }
    }
}

/// Why a group has no curve.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LearningError {
    /// Too few trainees with a usable service.
    #[error("a group's curve needs {LEAST_TRAINEES} trainees with services, and there are {found}")]
    TooFewTrainees {
        /// Trainees with a usable service.
        found: usize,
    },
    /// No shape was asked for.
    #[error("no shape to fit")]
    NoShape,
    /// The rows cannot be fitted.
    #[error(transparent)]
    Fit(#[from] MixedError),
}

/// One shape fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeFit {
    /// The shape.
    pub shape: Shape,
    /// Share in the average, 0 to 1.
    pub weight: f64,
    /// Fit by full likelihood, by whose objective shapes are weighed.
    pub full: Fit,
    /// Fit by (penalised) restricted likelihood.
    pub fit: Fit,
    /// Fits at other variances, with their weights; the weights sum to 1.
    pub parts: Vec<(f64, Fit)>,
}

/// The fitted curve of a group.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    columns: Columns,
    scatter: Scatter,
    /// The shapes, in the order asked for.
    pub shapes: Vec<ShapeFit>,
    /// Whether the shapes were weighed by likelihood; otherwise the shape is unknown and all weigh alike.
    pub shape_known: bool,
    /// Levels counted with a neighbour.
    pub merged: Vec<Merged>,
    /// Terms left out.
    pub dropped: Vec<Dropped>,
    /// Services left out, counted from 0: time not finite or not above 0, or a count of 0.
    pub left_out: Vec<usize>,
    /// Student-t weight of each service given; 0 for one left out, 1 without such weights.
    pub weights: Vec<f64>,
    /// Services far from the curve, counted from 0, for a person to look at; none is ever deleted.
    pub flagged: Vec<usize>,
    /// Residual of each service from the trainee's own curve, in standard deviations; NaN for one left out.
    pub residuals: Vec<f64>,
    /// Trainees with a usable service.
    pub trainees: usize,
    /// Degrees of freedom for predictions, 3 or more; infinite (normal) with [`Variances::Plain`].
    pub freedom: f64,
}

/// Fits the curve of a group.
///
/// The order of the services does not matter. Services that cannot be used are left out and listed. The same in
/// steps, for whoever has to look up in between, is [`Fitting`].
///
/// # Errors
/// [`LearningError`] when too little is left.
pub fn fit(services: &[Service], options: &Options) -> Result<Curve, LearningError> {
    let mut fitting = Fitting::new(services, options)?;
    loop {
        if let Some(curve) = fitting.step()? {
            return Ok(curve);
        }
    }
}

impl Curve {
    /// Terms of the curve, one per fixed column of its fits.
    pub fn terms(&self) -> Vec<Term> {
        self.columns.all()
    }

    /// Value and standard error of a term, averaged over the shapes; `None` for one that is not in the curve.
    ///
    /// The error counts the scatter within shapes and between them (Burnham and Anderson 2002, section 4.3).
    /// Intercept and practice mean different things from shape to shape: ask them of [`Curve::shapes`].
    pub fn effect(&self, term: Term) -> Option<(f64, f64)> {
        let at = self.columns.all().iter().position(|own| *own == term)?;
        if self.dropped.iter().any(|dropped| dropped.term == term) {
            return None;
        }
        let of = |shape: &ShapeFit| {
            let variance = shape.fit.beta_covariance();
            let variance = variance.get(at).and_then(|row| row.get(at)).copied().unwrap_or(f64::NAN);
            (shape.weight, shape.fit.beta().get(at).copied().unwrap_or(f64::NAN), variance)
        };
        let parts: Vec<(f64, f64, f64)> = self.shapes.iter().map(of).collect();
        let mean: f64 = parts.iter().map(|(weight, value, _)| weight * value).sum();
        let spread: f64 = parts.iter().map(|(weight, value, own)| weight * (own + (value - mean).powi(2))).sum();
        Some((mean, spread.sqrt()))
    }

    /// Whether the services had a level.
    pub fn knows_level(&self, level: u8) -> bool {
        self.columns.knows(level)
    }

    /// Whether a trainee has a usable service in the curve.
    pub fn knows_trainee(&self, trainee: usize) -> bool {
        self.shapes.first().is_some_and(|shape| shape.fit.groups().binary_search(&trainee).is_ok())
    }

    /// The level that another one is counted with; itself when it stands alone.
    pub fn counted_with(&self, level: u8) -> u8 {
        self.columns.level(level)
    }

    /// Whether the step to a level was left out because no trainee has worked on both sides of it.
    pub fn step_unknown(&self, level: u8) -> bool {
        self.columns.steps_to(level).any(|step| self.dropped.iter().any(|dropped| dropped.term == Term::Step(step)))
    }

    pub(crate) fn scatter(&self) -> Scatter {
        self.scatter
    }

    pub(crate) fn columns_of(&self, shape: Shape, service: &Service) -> (Vec<f64>, [f64; 2]) {
        (self.columns.fixed(shape, service), Columns::random(shape, service))
    }

    /// Shapes that weigh enough to matter.
    pub(crate) fn heavy(&self) -> impl Iterator<Item = &ShapeFit> {
        self.shapes.iter().filter(|shape| shape.weight >= LEAST_WEIGHT)
    }
}
