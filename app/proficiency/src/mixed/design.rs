//! What a mixed fit keeps of its rows: checked, scaled and orthogonal columns, and products per group.
//!
//! The fixed columns are made orthonormal one after the other (modified Gram-Schmidt, each column twice:
//! Giraud, Langou and Rozloznik 2005, Computers and Mathematics with Applications 50:1069-1075), and the
//! response is replaced by what they leave of it. So products of close columns do not cancel, and a column
//! that says nothing new is found and left out.

use super::{MixedError, Rows, Structure};

/// Share of a column's length that must remain after the columns before it, or it is left out.
const NEW_SHARE: f64 = 1e-9;
/// Share of the response's length that must remain after the fixed columns, or there is no scatter to fit.
const SCATTER_SHARE: f64 = 1e-13;
/// Most random columns per group: enough for intercept, practice and two steps of each group's own.
pub(super) const MOST_RANDOM: usize = 4;

/// The small part of a design, kept by every fit: what leads back from scaled to given columns.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Frame {
    /// Rows.
    pub rows: usize,
    /// Random columns per group.
    pub random: usize,
    /// Length by which each random column was divided.
    pub random_scale: Vec<f64>,
    /// Place (row, column) in the factor of each leading parameter.
    pub places: Vec<(usize, usize)>,
    /// Labels of the groups, going up.
    pub groups: Vec<usize>,
    /// Per crossed factor: its labels, going up.
    pub crossed: Vec<Vec<usize>>,
    /// Fixed columns as given.
    pub fixed: usize,
    /// Fixed columns kept, in the order given.
    pub kept: Vec<usize>,
    /// Upper triangle that leads from orthonormal to given columns: column after column, packed.
    pub triangle: Vec<f64>,
    /// Fixed effects on the orthonormal columns by least squares.
    pub start: Vec<f64>,
    /// Length by which what remains of the response was divided.
    pub response_scale: f64,
}

impl Frame {
    /// Effects of crossed factors: columns before the fixed ones.
    pub(super) fn extra(&self) -> usize {
        self.crossed.iter().map(Vec::len).sum()
    }

    /// Columns of a group's products: crossed, fixed, response.
    pub(super) fn columns(&self) -> usize {
        self.extra() + self.kept.len() + 1
    }

    /// Parameters of the covariance.
    pub(super) fn parameters(&self) -> usize {
        self.places.len() + self.crossed.len()
    }

    /// What each column of a group's products is multiplied by: its factor's parameter, or 1.
    pub(super) fn scales(&self, theta: &[f64]) -> impl Iterator<Item = f64> {
        let crossed = self.crossed.iter().zip(theta.iter().skip(self.places.len()));
        let crossed = crossed.flat_map(|(labels, theta)| std::iter::repeat_n(*theta, labels.len()));
        crossed.chain(std::iter::repeat_n(1.0, self.kept.len() + 1))
    }

    /// Covariance parameters to start a search from: standard deviation over sigma of the first random column (and
    /// of crossed factors) and of the later ones, and the cells beside them.
    pub(super) fn start(&self, first: f64, later: f64, beside: f64) -> Vec<f64> {
        let value = |parameter: usize| match self.places.get(parameter) {
            Some((0, 0)) | None => first,
            Some((row, column)) if row == column => later,
            Some(_) => beside,
        };
        (0..self.parameters()).map(value).collect()
    }

    /// Sum of the logarithms of the triangle's diagonal.
    pub(super) fn log_triangle(&self) -> f64 {
        self.triangle_columns().filter_map(|column| column.last()).map(|cell| cell.ln()).sum()
    }

    fn triangle_columns(&self) -> impl Iterator<Item = &[f64]> {
        let place = |column: usize| column * (column + 1) / 2;
        (0..self.kept.len()).map(move |column| self.triangle.get(place(column)..place(column + 1)).unwrap_or_default())
    }

    /// Turns a row of given fixed columns into one of the orthonormal columns (solves with the triangle).
    pub(super) fn to_orthonormal(&self, given: &[f64]) -> Vec<f64> {
        let mut solved: Vec<f64> = Vec::with_capacity(self.kept.len());
        for (column, kept) in self.triangle_columns().zip(&self.kept) {
            let before: f64 = column.iter().zip(&solved).map(|(cell, value)| cell * value).sum();
            let diagonal = column.last().copied().unwrap_or(f64::NAN);
            solved.push((given.get(*kept).copied().unwrap_or(0.0) - before) / diagonal);
        }
        solved
    }

    /// Turns effects of the orthonormal columns into effects of the given ones; 0 for those left out.
    pub(super) fn to_given(&self, effects: &[f64]) -> Vec<f64> {
        let mut rest = effects.to_vec();
        let mut given = vec![0.0; self.fixed];
        for (place, column) in self.triangle_columns().collect::<Vec<_>>().into_iter().enumerate().rev() {
            let Some((diagonal, above)) = column.split_last() else { continue };
            let value = rest.get(place).copied().unwrap_or(f64::NAN) / diagonal;
            for (left, cell) in rest.iter_mut().zip(above) {
                *left -= cell * value;
            }
            if let Some(cell) = self.kept.get(place).and_then(|kept| given.get_mut(*kept)) {
                *cell = value;
            }
        }
        given
    }
}

/// Checked rows, sorted by group, and the frame around them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Design {
    pub frame: Frame,
    /// Given row of each sorted one.
    pub order: Vec<usize>,
    /// Rows of each group.
    sizes: Vec<usize>,
    /// Random columns, row after row.
    random: Vec<f64>,
    /// Crossed and fixed columns and what remains of the response, row after row.
    columns: Vec<f64>,
}

/// Sums of products of columns: per group, and over all rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Products {
    /// Per group: random by random, then each other column by random.
    pub groups: Vec<f64>,
    /// Other columns by other columns, packed lower triangle.
    pub base: Vec<f64>,
}

impl Design {
    pub(super) fn new(rows: &Rows<'_>) -> Result<Self, MixedError> {
        let n = rows.response.len();
        check(rows)?;
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by_key(|row| rows.group.get(*row).copied());
        let sorted = |values: &[f64]| -> Vec<f64> {
            order.iter().map(|row| values.get(*row).copied().unwrap_or(f64::NAN)).collect()
        };
        let labels: Vec<usize> = order.iter().filter_map(|row| rows.group.get(*row).copied()).collect();
        let sizes: Vec<usize> = labels.chunk_by(|a, b| a == b).map(<[usize]>::len).collect();
        let mut groups = labels;
        groups.dedup();
        if groups.len() < 2 {
            return Err(MixedError::OneGroup);
        }

        let mut random_scale = Vec::new();
        let mut random_columns = Vec::new();
        for (place, column) in rows.random.iter().enumerate() {
            let scale = length(column) / (n as f64).sqrt();
            if !scale.is_finite() {
                return Err(MixedError::TooLarge);
            }
            if scale <= 0.0 {
                return Err(MixedError::EmptyRandomColumn(place));
            }
            random_scale.push(scale);
            random_columns.push(sorted(column).iter().map(|value| value / scale).collect::<Vec<f64>>());
        }

        let mut crossed_labels = Vec::new();
        let mut crossed_columns = Vec::new();
        for factor in rows.crossed {
            let mut labels = factor.level.clone();
            labels.sort_unstable();
            labels.dedup();
            if labels.len() < 2 {
                return Err(MixedError::OneGroup);
            }
            let values = factor.column.as_ref().map_or_else(|| vec![1.0; n], |column| sorted(column));
            for label in &labels {
                let cell = |(row, value): (&usize, &f64)| match factor.level.get(*row) {
                    Some(level) if level == label => *value,
                    _ => 0.0,
                };
                crossed_columns.push(order.iter().zip(&values).map(cell).collect::<Vec<f64>>());
            }
            crossed_labels.push(labels);
        }

        let given: Vec<Vec<f64>> = rows.fixed.iter().map(|column| sorted(column)).collect();
        let orthonormal = Orthonormal::new(&given)?;
        if n <= orthonormal.columns.len() {
            return Err(MixedError::TooFewRows { rows: n, columns: orthonormal.columns.len() });
        }
        let mut response = sorted(rows.response);
        let before = length(&response);
        let start = orthonormal.take_out_of(&mut response);
        let left = length(&response);
        if !(before.is_finite() && left.is_finite()) {
            return Err(MixedError::TooLarge);
        }
        if left <= SCATTER_SHARE * before {
            return Err(MixedError::NoScatter);
        }
        let response_scale = left / (n as f64).sqrt();
        response.iter_mut().for_each(|value| *value /= response_scale);

        let frame = Frame {
            rows: n,
            random: rows.random.len(),
            random_scale,
            places: places(rows.random.len(), rows.structure),
            groups,
            crossed: crossed_labels,
            fixed: rows.fixed.len(),
            kept: orthonormal.kept,
            triangle: orthonormal.triangle,
            start,
            response_scale,
        };
        let others: Vec<Vec<f64>> =
            crossed_columns.into_iter().chain(orthonormal.columns).chain(std::iter::once(response)).collect();
        Ok(Self { random: interleave(&random_columns, n), columns: interleave(&others, n), frame, order, sizes })
    }

    /// Sums the products of the columns, each row counted with its weight (in the order given; 1 without).
    pub(super) fn products(&self, weights: Option<&[f64]>) -> Products {
        match self.frame.random {
            1 => self.sum::<1>(weights),
            2 => self.sum::<2>(weights),
            3 => self.sum::<3>(weights),
            _ => self.sum::<MOST_RANDOM>(weights),
        }
    }

    fn sum<const Q: usize>(&self, weights: Option<&[f64]>) -> Products {
        let c = self.frame.columns();
        let mut groups = vec![0.0; self.sizes.len() * Q * (Q + c)];
        let mut square = vec![0.0; c * c];
        let (random, _) = self.random.as_chunks::<Q>();
        let mut rows = self.order.iter().zip(random).zip(self.columns.chunks_exact(c));
        for (size, group) in self.sizes.iter().zip(groups.chunks_exact_mut(Q * (Q + c))) {
            let (group, _) = group.as_chunks_mut::<Q>();
            for ((row, z), w) in rows.by_ref().take(*size) {
                let weight = weights.map_or(1.0, |all| all.get(*row).copied().unwrap_or(1.0));
                let weighted = z.map(|cell| cell * weight);
                for (cells, value) in group.iter_mut().zip(z.iter().chain(w)) {
                    for (cell, other) in cells.iter_mut().zip(&weighted) {
                        *cell += value * other;
                    }
                }
                for (line, value) in square.chunks_exact_mut(c).zip(w) {
                    let value = value * weight;
                    line.iter_mut().zip(w).for_each(|(cell, other)| *cell += value * other);
                }
            }
        }
        let lower = square.chunks_exact(c).enumerate().flat_map(|(at, line)| line.iter().take(at + 1)).copied();
        Products { groups, base: lower.collect() }
    }

    /// Calls `each` for every row with its given place, its group, its random and its other columns.
    pub(super) fn each_row(&self, mut each: impl FnMut(usize, usize, &[f64], &[f64])) {
        let (q, c) = (self.frame.random, self.frame.columns());
        let mut rows = self.order.iter().zip(self.random.chunks_exact(q)).zip(self.columns.chunks_exact(c));
        for (group, size) in self.sizes.iter().enumerate() {
            for ((row, z), w) in rows.by_ref().take(*size) {
                each(*row, group, z, w);
            }
        }
    }
}

/// Length of a column, safe from overflow of its squares only as far as they are finite.
fn length(column: &[f64]) -> f64 {
    column.iter().map(|value| value * value).sum::<f64>().sqrt()
}

fn interleave(columns: &[Vec<f64>], rows: usize) -> Vec<f64> {
    (0..rows).flat_map(|row| columns.iter().map(move |column| column.get(row).copied().unwrap_or(f64::NAN))).collect()
}

fn places(random: usize, structure: Structure) -> Vec<(usize, usize)> {
    match structure {
        Structure::Diagonal => (0..random).map(|at| (at, at)).collect(),
        Structure::Full => (0..random).flat_map(|column| (column..random).map(move |row| (row, column))).collect(),
    }
}

fn check(rows: &Rows<'_>) -> Result<(), MixedError> {
    let n = rows.response.len();
    if n == 0 {
        return Err(MixedError::NoRows);
    }
    if rows.random.is_empty() || rows.random.len() > MOST_RANDOM {
        return Err(MixedError::RandomColumns(rows.random.len()));
    }
    let crossed_columns = rows.crossed.iter().filter_map(|factor| factor.column.as_ref());
    let columns = || rows.fixed.iter().chain(rows.random).chain(crossed_columns.clone());
    let labels = std::iter::once(rows.group.len()).chain(rows.crossed.iter().map(|factor| factor.level.len()));
    if let Some(found) = columns().map(Vec::len).chain(labels).find(|found| *found != n) {
        return Err(MixedError::Ragged { expected: n, found });
    }
    for column in std::iter::once(rows.response).chain(columns().map(Vec::as_slice)) {
        if let Some(row) = column.iter().position(|value| !value.is_finite()) {
            return Err(MixedError::NotFinite { row });
        }
    }
    Ok(())
}

/// Orthonormal columns in the span of given ones.
struct Orthonormal {
    columns: Vec<Vec<f64>>,
    kept: Vec<usize>,
    triangle: Vec<f64>,
}

impl Orthonormal {
    fn new(given: &[Vec<f64>]) -> Result<Self, MixedError> {
        let mut found = Self { columns: Vec::new(), kept: Vec::new(), triangle: Vec::new() };
        for (place, column) in given.iter().enumerate() {
            let before = length(column);
            if !before.is_finite() {
                return Err(MixedError::TooLarge);
            }
            let mut rest = column.clone();
            let shares = found.take_out_of(&mut rest);
            let left = length(&rest);
            if left > NEW_SHARE * before {
                rest.iter_mut().for_each(|value| *value /= left);
                found.triangle.extend(shares);
                found.triangle.push(left);
                found.columns.push(rest);
                found.kept.push(place);
            }
        }
        Ok(found)
    }

    /// Takes the share of every column out of `rest`, twice, and returns the shares.
    fn take_out_of(&self, rest: &mut [f64]) -> Vec<f64> {
        let mut shares = vec![0.0; self.columns.len()];
        for _ in 0..2 {
            for (share, column) in shares.iter_mut().zip(&self.columns) {
                let product: f64 = column.iter().zip(rest.iter()).map(|(a, b)| a * b).sum();
                rest.iter_mut().zip(column).for_each(|(left, value)| *left -= product * value);
                *share += product;
            }
        }
        shares
    }
}
