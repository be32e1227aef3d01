//! Whether two assessors, or several, put the same services into the same categories more often than chance.
//!
//! Kappa: Cohen (1960), Educational and Psychological Measurement 20:37-46; with weights: Cohen (1968),
//! Psychological Bulletin 70:213-220; standard errors: Fleiss, Cohen and Everitt (1969), Psychological
//! Bulletin 72:323-327. Several assessors: Fleiss (1971), Psychological Bulletin 76:378-382; Fleiss, Nee and
//! Landis (1979), Psychological Bulletin 86:974-977. Companions that high pass rates do not fool: Bennett,
//! Alpert and Goldstein (1954); Gwet (2008), British Journal of Mathematical and Statistical Psychology
//! 61:29-48.

use crate::normal;

/// Why agreement cannot be worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// Rows and columns differ in number, or weights are not of the table's size.
    #[error("the table is not square, or the weights are not of its size")]
    NotSquare,
    /// A count is below 0 or not finite, or a weight is not finite.
    #[error("a count is below 0, or a value is not finite")]
    NotACount,
    /// Nothing was marked twice.
    #[error("nothing was marked twice")]
    Empty,
    /// Services were marked by different numbers of assessors.
    #[error("services were marked by different numbers of assessors")]
    Unequal,
    /// All marks fall into one category: agreement by chance is complete and kappa has no value.
    #[error("all marks fall into one category")]
    NoVariation,
}

/// How much of an agreement a pair of categories counts for.
#[derive(Debug, Clone, PartialEq)]
pub enum Weights {
    /// 1 for the same category, 0 otherwise.
    Same,
    /// Falls with the distance between categories.
    Linear,
    /// Falls with the square of the distance: small differences count little.
    Quadratic,
    /// Given row by row; 1 is full agreement.
    Given(Vec<Vec<f64>>),
}

/// How often two assessors used each pair of categories: rows by the first, columns by the second.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    shares: Vec<Vec<f64>>,
    total: f64,
    rows: Vec<f64>,
    columns: Vec<f64>,
}

/// Agreement beyond chance between two assessors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// 1 for full agreement, 0 for what chance gives, below 0 for less.
    pub kappa: f64,
    /// Standard error for many double marks; 0 when they agree throughout.
    pub standard_error: f64,
    /// Standard error if there were no agreement beyond chance.
    pub standard_error_without: f64,
    /// Kappa in standard errors without agreement; `None` when that error is 0.
    pub z: Option<f64>,
    /// Chance of a `z` at least as far from 0 without agreement; `None` as for `z`.
    pub p_two_sided: Option<f64>,
}

impl Kappa {
    /// Returns the interval of kappa for many double marks; its limits may lie above 1. `level` is a confidence
    /// level, 0 to 1.
    pub fn interval(&self, level: f64) -> Option<(f64, f64)> {
        if !(level > 0.0 && level < 1.0) {
            return None;
        }
        let half = normal::exceeded_with((1.0 - level) / 2.0)?.max(0.0) * self.standard_error;
        Some((self.kappa - half, self.kappa + half))
    }
}

/// Agreement by measures that a high pass rate does not fool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Companions {
    /// Share of services put into the same category, 0 to 1.
    pub share_agreed: f64,
    /// Bennett's S, which takes all categories for equally likely; for two categories also called PABAK.
    pub bennett_s: f64,
    /// Gwet's AC1.
    pub ac1: f64,
    /// Standard error of AC1 for many double marks.
    pub ac1_standard_error: f64,
}

/// Takes rounding for what it is: a difference of nearly equal sums that should be 0 is 0.
fn spread(sum: f64, taken: f64) -> f64 {
    let difference = sum - taken;
    if difference <= 1e-14 * taken.abs() { 0.0 } else { difference }
}

impl Table {
    /// Takes counts (0 or more, whole or weighted), rows by the first assessor, columns by the second.
    ///
    /// # Errors
    /// When the table is not square, a count is below 0 or not finite, or all are 0.
    pub fn new(counts: &[Vec<f64>]) -> Result<Self, Error> {
        let size = counts.len();
        if counts.iter().any(|row| row.len() != size) {
            return Err(Error::NotSquare);
        }
        if !counts.iter().flatten().all(|count| count.is_finite() && *count >= 0.0) {
            return Err(Error::NotACount);
        }
        let total: f64 = counts.iter().flatten().sum();
        if total <= 0.0 {
            return Err(Error::Empty);
        }
        if !total.is_finite() {
            return Err(Error::NotACount);
        }
        let shares: Vec<Vec<f64>> = counts.iter().map(|row| row.iter().map(|count| count / total).collect()).collect();
        let rows = shares.iter().map(|row| row.iter().sum()).collect();
        let columns = (0..size).map(|place| shares.iter().filter_map(|row| row.get(place)).sum()).collect();
        Ok(Self { shares, total, rows, columns })
    }

    /// Counts pairs of categories, each 0 to `categories` - 1, the first assessor's first.
    ///
    /// # Errors
    /// [`Error::NotACount`] for a category that is too high or above 1000 categories, [`Error::Empty`] without pairs.
    pub fn of_pairs(pairs: &[(usize, usize)], categories: usize) -> Result<Self, Error> {
        if pairs.is_empty() {
            return Err(Error::Empty);
        }
        if pairs.iter().any(|(first, second)| *first >= categories || *second >= categories) {
            return Err(Error::NotACount);
        }
        // A wild number must not ask for a wild table.
        if categories > 1000 {
            return Err(Error::NotACount);
        }
        let mut counts = vec![vec![0.0; categories]; categories];
        for (first, second) in pairs {
            if let Some(count) = counts.get_mut(*first).and_then(|row| row.get_mut(*second)) {
                *count += 1.0;
            }
        }
        Self::new(&counts)
    }

    /// Each cell: share, share of its row, share of its column, place.
    fn cells(&self) -> impl Iterator<Item = (f64, f64, f64, usize, usize)> {
        self.shares.iter().zip(&self.rows).enumerate().flat_map(move |(row, (shares, of_row))| {
            let columns = shares.iter().zip(&self.columns).enumerate();
            columns.map(move |(column, (share, of_column))| (*share, *of_row, *of_column, row, column))
        })
    }

    fn weights(&self, weights: &Weights) -> Result<Vec<Vec<f64>>, Error> {
        let size = self.rows.len();
        let farthest = size.saturating_sub(1).max(1) as f64;
        let by_distance = |of: fn(f64) -> f64| -> Vec<Vec<f64>> {
            let row = |row: usize| (0..size).map(|column| 1.0 - of(row.abs_diff(column) as f64 / farthest)).collect();
            (0..size).map(row).collect()
        };
        Ok(match weights {
            Weights::Same => by_distance(|distance| f64::from(u8::from(distance > 0.0))),
            Weights::Linear => by_distance(|distance| distance),
            Weights::Quadratic => by_distance(|distance| distance * distance),
            Weights::Given(given) => {
                if given.len() != size || given.iter().any(|row| row.len() != size) {
                    return Err(Error::NotSquare);
                }
                if !given.iter().flatten().all(|weight| weight.is_finite()) {
                    return Err(Error::NotACount);
                }
                given.clone()
            }
        })
    }

    /// Returns kappa, the agreement beyond chance, under these weights.
    ///
    /// # Errors
    /// [`Error::NoVariation`] when chance alone gives full agreement; for given weights also when they are not
    /// of the table's size or not finite.
    pub fn kappa(&self, weights: &Weights) -> Result<Kappa, Error> {
        let weights = self.weights(weights)?;
        let weight =
            |row: usize, column: usize| weights.get(row).and_then(|all| all.get(column)).copied().unwrap_or(0.0);
        let observed: f64 = self.cells().map(|(share, _, _, row, column)| share * weight(row, column)).sum();
        let by_chance: f64 = self.cells().map(|(_, p, q, row, column)| p * q * weight(row, column)).sum();
        let room = 1.0 - by_chance;
        if room.abs() <= 1e-14 {
            return Err(Error::NoVariation);
        }
        // Mean weight of each category against the other assessor's use of categories.
        let of_row: Vec<f64> = (0..self.rows.len())
            .map(|row| self.columns.iter().enumerate().map(|(column, share)| share * weight(row, column)).sum())
            .collect();
        let of_column: Vec<f64> = (0..self.rows.len())
            .map(|column| self.rows.iter().enumerate().map(|(row, share)| share * weight(row, column)).sum())
            .collect();
        let means = |row: usize, column: usize| {
            of_row.get(row).copied().unwrap_or(0.0) + of_column.get(column).copied().unwrap_or(0.0)
        };
        let squares: f64 = self
            .cells()
            .map(|(share, _, _, row, column)| {
                share * (weight(row, column) * room - means(row, column) * (1.0 - observed)).powi(2)
            })
            .sum();
        let taken = (observed * by_chance - 2.0 * by_chance + observed).powi(2);
        let standard_error = (spread(squares, taken) / self.total).sqrt() / (room * room);
        let squares: f64 =
            self.cells().map(|(_, p, q, row, column)| p * q * (weight(row, column) - means(row, column)).powi(2)).sum();
        let standard_error_without = (spread(squares, by_chance * by_chance) / self.total).sqrt() / room.abs();
        let kappa = (observed - by_chance) / room;
        let z = (standard_error_without > 0.0).then(|| kappa / standard_error_without);
        let p_two_sided = z.map(|z| (2.0 * normal::above(z.abs())).min(1.0));
        Ok(Kappa { kappa, standard_error, standard_error_without, z, p_two_sided })
    }

    /// Returns the companions of kappa.
    ///
    /// # Errors
    /// [`Error::NoVariation`] when the table has one category only.
    pub fn companions(&self) -> Result<Companions, Error> {
        let categories = self.rows.len() as f64;
        if categories < 2.0 {
            return Err(Error::NoVariation);
        }
        let share_agreed: f64 = self.cells().filter(|cell| cell.3 == cell.4).map(|cell| cell.0).sum();
        let use_of: Vec<f64> = self.rows.iter().zip(&self.columns).map(|(p, q)| (p + q) / 2.0).collect();
        let by_chance = use_of.iter().map(|share| share * (1.0 - share)).sum::<f64>() / (categories - 1.0);
        let ac1 = (share_agreed - by_chance) / (1.0 - by_chance);
        // First-order (delta) variance of AC1 over the cells.
        let pull = |row: usize, column: usize| {
            let pair = use_of.get(row).copied().unwrap_or(0.0) + use_of.get(column).copied().unwrap_or(0.0);
            f64::from(u8::from(row == column)) - 2.0 * (1.0 - ac1) * (1.0 - pair / 2.0) / (categories - 1.0)
        };
        let squares: f64 = self.cells().map(|(share, _, _, row, column)| share * pull(row, column).powi(2)).sum();
        let taken = (share_agreed - 2.0 * (1.0 - ac1) * by_chance).powi(2);
        let ac1_standard_error = (spread(squares, taken) / self.total).sqrt() / (1.0 - by_chance);
        Ok(Companions { share_agreed, bennett_s: against_even(share_agreed, categories), ac1, ac1_standard_error })
    }
}

fn against_even(share_agreed: f64, categories: f64) -> f64 {
    (share_agreed - 1.0 / categories) / (1.0 - 1.0 / categories)
}

/// Agreement beyond chance among several assessors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fleiss {
    /// Fleiss's kappa: 1 for full agreement, 0 for what chance gives.
    pub kappa: f64,
    /// Standard error if there were no agreement beyond chance.
    pub standard_error_without: f64,
    /// Share of pairs of marks that agree, 0 to 1.
    pub share_agreed: f64,
    /// Kappa with all categories taken for equally likely (Randolph 2005).
    pub free_marginal: f64,
    /// Gwet's AC1.
    pub ac1: f64,
}

/// Works out the agreement of several assessors from counts: a row for each service, in it how many assessors
/// chose each category. Every service has the same number of marks, at least 2.
///
/// # Errors
/// When rows differ in length or in their number of marks, a count is not a whole number of at least 0, nothing was
/// marked twice, or all marks fall into one category.
pub fn fleiss(counts: &[Vec<f64>]) -> Result<Fleiss, Error> {
    let categories = counts.first().ok_or(Error::Empty)?.len();
    if counts.iter().any(|row| row.len() != categories) {
        return Err(Error::NotSquare);
    }
    if !counts.iter().flatten().all(|count| (0.0..=1e9).contains(count) && count.fract() == 0.0) {
        return Err(Error::NotACount);
    }
    let marks: f64 = counts.first().into_iter().flatten().sum();
    if counts.iter().any(|row| row.iter().sum::<f64>() != marks) {
        return Err(Error::Unequal);
    }
    if marks < 2.0 {
        return Err(Error::Empty);
    }
    let services = counts.len() as f64;
    let pairs: f64 = counts.iter().flatten().map(|count| count * (count - 1.0)).sum();
    let share_agreed = pairs / (services * marks * (marks - 1.0));
    let use_of: Vec<f64> = (0..categories)
        .map(|place| counts.iter().filter_map(|row| row.get(place)).sum::<f64>() / (services * marks))
        .collect();
    let by_chance: f64 = use_of.iter().map(|share| share * share).sum();
    let room: f64 = use_of.iter().map(|share| share * (1.0 - share)).sum();
    if room <= 1e-14 {
        return Err(Error::NoVariation);
    }
    let skew: f64 = use_of.iter().map(|share| share * (1.0 - share) * (1.0 - 2.0 * share)).sum();
    let variance = 2.0 / (services * marks * (marks - 1.0)) * spread(room * room, skew) / (room * room);
    let categories = categories as f64;
    let ac1_chance = room / (categories - 1.0);
    Ok(Fleiss {
        kappa: (share_agreed - by_chance) / (1.0 - by_chance),
        standard_error_without: variance.sqrt(),
        share_agreed,
        free_marginal: against_even(share_agreed, categories),
        ac1: (share_agreed - ac1_chance) / (1.0 - ac1_chance),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: [[f64; 3]; 3] = [[22.0, 3.0, 1.0], [4.0, 11.0, 2.0], [0.0, 5.0, 6.0]];

    fn table(shift: Option<(usize, usize, f64)>) -> Table {
        let mut counts: Vec<Vec<f64>> = TABLE.map(|row| row.to_vec()).to_vec();
        if let Some((row, column, by)) = shift {
            counts[row][column] += by;
        }
        Table::new(&counts).unwrap()
    }

    /// Standard error of any measure by numeric first-order error propagation over a multinomial table.
    fn propagated(measure: impl Fn(&Table) -> f64) -> f64 {
        let total: f64 = TABLE.iter().flatten().sum();
        let mut variance = 0.0;
        // The measure does not depend on the total, so a shift of one count is a slope along its share.
        let mut mean = 0.0;
        let mut slopes = Vec::new();
        for (row, counts) in TABLE.iter().enumerate() {
            for (column, count) in counts.iter().enumerate() {
                let step = 1e-4;
                let up = measure(&table(Some((row, column, step))));
                let down =
                    if *count > 0.0 { measure(&table(Some((row, column, -step)))) } else { measure(&table(None)) };
                let slope = (up - down) / if *count > 0.0 { 2.0 * step } else { step } * total;
                slopes.push((count / total, slope));
                mean += count / total * slope;
            }
        }
        for (share, slope) in slopes {
            variance += share * (slope - mean).powi(2);
        }
        (variance / total).sqrt()
    }

    #[test]
    fn standard_errors_are_those_of_first_order_propagation() {
        let given = Weights::Given(vec![vec![1.0, 0.3, 0.1], vec![0.2, 0.9, 0.5], vec![0.0, 0.6, 1.0]]);
        for weights in [Weights::Same, Weights::Linear, Weights::Quadratic, given] {
            let found = table(None).kappa(&weights).unwrap().standard_error;
            let numeric = propagated(|table| table.kappa(&weights).unwrap().kappa);
            assert!((found - numeric).abs() < 1e-6, "{weights:?}: {found} {numeric}");
        }
        let found = table(None).companions().unwrap().ac1_standard_error;
        let numeric = propagated(|table| table.companions().unwrap().ac1);
        assert!((found - numeric).abs() < 1e-6, "AC1: {found} {numeric}");
    }

    #[test]
    fn full_agreement_is_1_with_no_error() {
        let table = Table::new(&[vec![12.0, 0.0, 0.0], vec![0.0, 7.0, 0.0], vec![0.0, 0.0, 1.0]]).unwrap();
        for weights in [Weights::Same, Weights::Linear, Weights::Quadratic] {
            let found = table.kappa(&weights).unwrap();
            assert_eq!((found.kappa, found.standard_error), (1.0, 0.0));
            assert!(found.p_two_sided.unwrap() < 1e-4);
        }
        assert_eq!(table.companions().unwrap().ac1, 1.0);
        assert_eq!(fleiss(&[vec![3.0, 0.0], vec![0.0, 3.0]]).unwrap().kappa, 1.0);
    }

    #[test]
    fn one_category_for_all_has_no_kappa_but_companions() {
        let table = Table::new(&[vec![20.0, 0.0], vec![0.0, 0.0]]).unwrap();
        assert_eq!(table.kappa(&Weights::Same), Err(Error::NoVariation));
        let found = table.companions().unwrap();
        assert_eq!((found.share_agreed, found.bennett_s, found.ac1), (1.0, 1.0, 1.0));
        assert_eq!(fleiss(&[vec![3.0, 0.0], vec![3.0, 0.0]]), Err(Error::NoVariation));
    }

    #[test]
    fn an_assessor_who_passes_everyone_agrees_by_chance_only() {
        let table = Table::new(&[vec![12.0, 8.0], vec![0.0, 0.0]]).unwrap();
        let found = table.kappa(&Weights::Same).unwrap();
        assert!(found.kappa.abs() < 1e-15);
        assert_eq!((found.z, found.p_two_sided), (None, None));
    }

    #[test]
    fn what_is_no_table_is_refused() {
        assert_eq!(Table::new(&[]), Err(Error::Empty));
        assert_eq!(Table::new(&[vec![0.0]]), Err(Error::Empty));
        assert_eq!(Table::new(&[vec![1.0, 2.0]]), Err(Error::NotSquare));
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(Table::new(&[vec![bad]]), Err(Error::NotACount));
        }
        assert_eq!(Table::of_pairs(&[], 3), Err(Error::Empty));
        assert_eq!(Table::of_pairs(&[(0, 3)], 3), Err(Error::NotACount));
        assert_eq!(Table::of_pairs(&[(0, 1)], usize::MAX), Err(Error::NotACount));
        let pairs = Table::of_pairs(&[(0, 0), (0, 1), (1, 1), (1, 1)], 2).unwrap();
        assert_eq!(pairs, Table::new(&[vec![1.0, 1.0], vec![0.0, 2.0]]).unwrap());
        assert_eq!(pairs.kappa(&Weights::Given(vec![vec![1.0]])), Err(Error::NotSquare));
        assert_eq!(fleiss(&[]), Err(Error::Empty));
        assert_eq!(fleiss(&[vec![1.0, 0.0]]), Err(Error::Empty));
        assert_eq!(fleiss(&[vec![2.0, 0.0], vec![1.0, 2.0]]), Err(Error::Unequal));
        assert_eq!(fleiss(&[vec![0.5, 1.5]]), Err(Error::NotACount));
    }
}
