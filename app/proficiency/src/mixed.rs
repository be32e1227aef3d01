//! Linear mixed fits: y = X beta + Z b + e with random effects b of each group, and crossed random effects.
//!
//! Method: profiled maximum likelihood, restricted or not, as in Bates, Maechler, Bolker and Walker (2015),
//! Journal of Statistical Software 67(1), worked from the products of each group's columns, so that one
//! evaluation costs the same however many rows a group has. The random effects of a group have covariance
//! sigma^2 Lambda Lambda'; `theta` lists the free cells of the lower triangle Lambda column after column,
//! and then one number per crossed factor.

mod criterion;
mod design;
mod effects;
mod grid;
mod minimise;
mod satterthwaite;
mod student;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use criterion::{Scratch, evaluate};
use design::{Design, Frame, Products};
use minimise::Function;

pub use effects::{Effect, Prediction, Predictor};
pub use grid::Averaged;
pub use satterthwaite::Coefficient;
pub use student::{Robust, WEIGHT_FLAGGED};

/// Which likelihood a fit makes largest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Criterion {
    /// Restricted: for effects, variances and predictions.
    Reml,
    /// Full: to compare fits whose fixed columns differ.
    Ml,
}

/// Which cells of the random effects' covariance factor are free.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Structure {
    /// The whole lower triangle: effects of one group are correlated.
    Full,
    /// The diagonal: they are not.
    Diagonal,
}

/// A further factor whose levels have one random effect each, across the groups.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossed {
    /// Level of each row, any labels.
    pub level: Vec<usize>,
    /// What each row's effect is multiplied by; 1 without.
    pub column: Option<Vec<f64>>,
}

/// Rows to fit; every list has one entry per row. The order of the rows does not matter.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// y.
    pub response: &'a [f64],
    /// Columns of X, the intercept's among them if there is one.
    pub fixed: &'a [Vec<f64>],
    /// Group of each row, any labels; 2 groups or more.
    pub group: &'a [usize],
    /// Columns of Z, 1 to 4.
    pub random: &'a [Vec<f64>],
    /// Covariance of a group's random effects.
    pub structure: Structure,
    /// Further factors.
    pub crossed: &'a [Crossed],
}

/// Why rows cannot be fitted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum MixedError {
    /// Nothing to fit.
    #[error("there are no rows")]
    NoRows,
    /// Lists of unequal length.
    #[error("a column has {found} entries and the response {expected}")]
    Ragged {
        /// Rows of the response.
        expected: usize,
        /// Entries of the column.
        found: usize,
    },
    /// A value is not a number or infinite.
    #[error("row {row} (from 0) holds a value that is not finite")]
    NotFinite {
        /// First such row.
        row: usize,
    },
    /// None or too many random columns.
    #[error("{0} random columns; 1 to 4 can be fitted")]
    RandomColumns(usize),
    /// A random column is zero everywhere.
    #[error("random column {0} (from 0) is zero in every row")]
    EmptyRandomColumn(usize),
    /// Fewer than two groups, or levels of a crossed factor.
    #[error("all rows belong to one group")]
    OneGroup,
    /// No row is left for the scatter.
    #[error("{rows} rows are too few for {columns} fixed columns")]
    TooFewRows {
        /// Rows given.
        rows: usize,
        /// Fixed columns that say something of their own.
        columns: usize,
    },
    /// The fixed columns explain every row exactly.
    #[error("the fixed columns leave no scatter")]
    NoScatter,
    /// Squares overflow.
    #[error("the values are too large to be squared")]
    TooLarge,
    /// The criterion has no finite value where the search ended.
    #[error("no covariance was found that fits")]
    NoFit,
    /// A covariance factor of the wrong length.
    #[error("{found} covariance parameters instead of {expected}")]
    Parameters {
        /// Parameters of this fit.
        expected: usize,
        /// Parameters given.
        found: usize,
    },
}

/// Checked rows, ready to be fitted in several ways.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixed {
    design: Design,
    frame: Arc<Frame>,
    products: Arc<Products>,
}

/// A fit: covariance, effects, and what predictions need. The rows themselves are not kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    frame: Arc<Frame>,
    products: Arc<Products>,
    criterion: Criterion,
    /// Covariance parameters of scaled columns.
    theta: Vec<f64>,
    objective: f64,
    /// Scaled residual variance.
    variance: f64,
    /// Packed factor of crossed and fixed columns.
    factor: Vec<f64>,
    /// Effects of crossed and fixed columns, scaled.
    solution: Vec<f64>,
}

impl Mixed {
    /// Checks rows and works out their products.
    ///
    /// Fixed columns that depend on those before them are left out; see [`Fit::dropped`].
    ///
    /// # Errors
    /// [`MixedError`] for rows that cannot be fitted.
    pub fn new(rows: &Rows<'_>) -> Result<Self, MixedError> {
        let design = Design::new(rows)?;
        let frame = Arc::new(design.frame.clone());
        let products = Arc::new(design.products(None));
        if products.groups.iter().chain(&products.base).all(|cell| cell.is_finite()) {
            Ok(Self { design, frame, products })
        } else {
            Err(MixedError::TooLarge)
        }
    }

    /// Returns -2 log (restricted) likelihood at given covariance parameters, no search.
    ///
    /// # Errors
    /// When `theta` has the wrong length or the criterion no finite value there.
    pub fn objective(&self, criterion: Criterion, theta: &[f64]) -> Result<f64, MixedError> {
        let theta = self.scaled(theta)?;
        let parts = evaluate(&self.frame, &self.products, &theta, &mut Scratch::default());
        parts.map(|parts| parts.criterion(&self.frame, criterion)).ok_or(MixedError::NoFit)
    }

    /// Fits by (restricted) maximum likelihood.
    ///
    /// A variance at its boundary, zero, is an answer like any other.
    ///
    /// # Errors
    /// [`MixedError::NoFit`] when the search ends nowhere.
    pub fn fit(&self, criterion: Criterion) -> Result<Fit, MixedError> {
        let found = search(&self.frame, &self.products, criterion, None);
        Fit::at(&self.frame, &self.products, criterion, &found).ok_or(MixedError::NoFit)
    }

    /// The same rows, each counted with a weight (finite, above 0): error variance sigma^2 / weight.
    ///
    /// # Errors
    /// When the weights are not one per row, or not finite and above 0.
    pub fn weighted(&self, weights: &[f64]) -> Result<Self, MixedError> {
        if weights.len() != self.frame.rows {
            return Err(MixedError::Ragged { expected: self.frame.rows, found: weights.len() });
        }
        if let Some(row) = weights.iter().position(|weight| !(weight.is_finite() && *weight > 0.0)) {
            return Err(MixedError::NotFinite { row });
        }
        let products = Arc::new(self.design.products(Some(weights)));
        Ok(Self { design: self.design.clone(), frame: self.frame.clone(), products })
    }

    fn scaled(&self, theta: &[f64]) -> Result<Vec<f64>, MixedError> {
        let expected = self.frame.parameters();
        if theta.len() != expected {
            return Err(MixedError::Parameters { expected, found: theta.len() });
        }
        if let Some(row) = theta.iter().position(|value| !value.is_finite()) {
            return Err(MixedError::NotFinite { row });
        }
        Ok(theta.iter().enumerate().map(|(at, value)| value * scale_of(&self.frame, at)).collect())
    }
}

/// By how much a covariance parameter of scaled columns is larger than of given ones.
fn scale_of(frame: &Frame, parameter: usize) -> f64 {
    let place = frame.places.get(parameter).and_then(|(row, _)| frame.random_scale.get(*row));
    place.copied().unwrap_or(1.0)
}

/// Whether a covariance parameter is a standard deviation's: on the diagonal, or of a crossed factor.
fn on_diagonal(frame: &Frame, parameter: usize) -> bool {
    frame.places.get(parameter).is_none_or(|(row, column)| row == column)
}

/// The criterion over some of the covariance parameters, the others held at zero.
struct Held<'a> {
    frame: &'a Frame,
    products: &'a Products,
    criterion: Criterion,
    /// Places of the parameters that are free.
    free: Vec<usize>,
    whole: Vec<f64>,
    slopes: Vec<f64>,
    scratch: Scratch,
}

impl<'a> Held<'a> {
    fn new(frame: &'a Frame, products: &'a Products, criterion: Criterion, free: Vec<usize>) -> Self {
        let whole = vec![0.0; frame.parameters()];
        Self { frame, products, criterion, free, whole, slopes: Vec::new(), scratch: Scratch::default() }
    }

    fn spread(&mut self, values: &[f64]) {
        for (place, value) in self.free.iter().zip(values) {
            if let Some(cell) = self.whole.get_mut(*place) {
                *cell = *value;
            }
        }
    }

    fn pick(&self, values: &[f64]) -> Vec<f64> {
        self.free.iter().filter_map(|place| values.get(*place).copied()).collect()
    }
}

impl Function for Held<'_> {
    fn value(&mut self, at: &[f64]) -> f64 {
        self.spread(at);
        let parts = evaluate(self.frame, self.products, &self.whole, &mut self.scratch);
        parts.map_or(f64::INFINITY, |parts| parts.criterion(self.frame, self.criterion))
    }

    fn slope(&mut self, at: &[f64], out: &mut Vec<f64>) -> f64 {
        self.spread(at);
        let Self { frame, products, criterion, whole, slopes, scratch, .. } = self;
        let value = criterion::slope(frame, products, *criterion, whole, scratch, slopes);
        *out = self.pick(&self.slopes);
        value.unwrap_or(f64::INFINITY)
    }
}

/// Finds the covariance parameters, of scaled columns, that make the criterion least.
fn search(frame: &Frame, products: &Products, criterion: Criterion, warm: Option<&[f64]>) -> Vec<f64> {
    let size = frame.parameters();
    let mut function = Held::new(frame, products, criterion, (0..size).collect());
    let mut best = match warm {
        Some(theta) => minimise::minimise(theta, &mut function),
        None => {
            let first = minimise::minimise(&frame.start(1.5, 0.5, -0.1), &mut function);
            let second = minimise::minimise(&frame.start(3.0, 1.5, 0.0), &mut function);
            // Of two that are alike the first stands: a search that ends a hair lower changes nothing.
            if second.value < first.value - 1e-9 || !first.value.is_finite() { second } else { first }
        }
    };
    // The criterion does not change with the sign of a column of the factor, so a variance of zero is
    // approached but not met by the search: it is tried by itself.
    for parameter in 0..size {
        let small = best.at.get(parameter).is_some_and(|value| value.abs() < 0.2 && *value != 0.0);
        if !on_diagonal(frame, parameter) || !small {
            continue;
        }
        let column = frame.places.get(parameter).map(|place| place.1);
        let same =
            |other: usize| other == parameter || (column.is_some() && frame.places.get(other).map(|p| p.1) == column);
        let mut edge = Held::new(frame, products, criterion, (0..size).filter(|other| !same(*other)).collect());
        let found = minimise::minimise(&edge.pick(&best.at), &mut edge);
        if found.value <= best.value + 1e-8 {
            edge.spread(&found.at);
            best = minimise::Least { at: edge.whole, value: found.value };
        }
    }
    normalised(frame, best.at)
}

/// Turns columns of the factor so that no diagonal is negative.
fn normalised(frame: &Frame, mut theta: Vec<f64>) -> Vec<f64> {
    let turned: Vec<usize> = frame
        .places
        .iter()
        .zip(&theta)
        .filter(|((row, column), value)| row == column && **value < 0.0)
        .map(|((_, column), _)| *column)
        .collect();
    for (at, value) in theta.iter_mut().enumerate() {
        match frame.places.get(at) {
            Some((_, column)) if turned.contains(column) => *value = -*value,
            Some(_) => {}
            None => *value = value.abs(),
        }
    }
    theta
}

impl Fit {
    fn at(frame: &Arc<Frame>, products: &Arc<Products>, criterion: Criterion, theta: &[f64]) -> Option<Self> {
        let mut scratch = Scratch::default();
        let parts = evaluate(frame, products, theta, &mut scratch)?;
        let size = frame.extra() + frame.kept.len();
        let right = criterion::lines(&scratch.factor).nth(size)?;
        let mut solution = right.get(..size)?.to_vec();
        let factor = scratch.factor.get(..size * (size + 1) / 2)?.to_vec();
        criterion::backward(&factor, &mut solution);
        let df = match criterion {
            Criterion::Reml => frame.rows - frame.kept.len(),
            Criterion::Ml => frame.rows,
        };
        Some(Self {
            frame: frame.clone(),
            products: products.clone(),
            criterion,
            theta: theta.to_vec(),
            objective: parts.criterion(frame, criterion),
            variance: parts.squares / df as f64,
            factor,
            solution,
        })
    }

    /// The criterion that was made least.
    pub fn criterion(&self) -> Criterion {
        self.criterion
    }

    /// -2 log (restricted) likelihood at the fit.
    pub fn objective(&self) -> f64 {
        self.objective
    }

    /// Covariance parameters: cells of Lambda column after column, then the crossed factors' sd over sigma.
    pub fn theta(&self) -> Vec<f64> {
        self.theta.iter().enumerate().map(|(at, value)| value / scale_of(&self.frame, at)).collect()
    }

    /// Residual standard deviation, in units of the response.
    pub fn sigma(&self) -> f64 {
        self.variance.sqrt() * self.frame.response_scale
    }

    /// Rows that were fitted.
    pub fn rows(&self) -> usize {
        self.frame.rows
    }

    /// Labels of the groups, going up.
    pub fn groups(&self) -> &[usize] {
        &self.frame.groups
    }

    /// Fixed columns that were kept.
    pub fn rank(&self) -> usize {
        self.frame.kept.len()
    }

    /// Fixed columns, counted from 0, that were left out because those before them say the same.
    pub fn dropped(&self) -> Vec<usize> {
        (0..self.frame.fixed).filter(|column| !self.frame.kept.contains(column)).collect()
    }
}
