//! Whether assessors give the same services the same scores: the intraclass correlation.
//!
//! Forms: Shrout and Fleiss (1979), Psychological Bulletin 86:420-428; intervals: McGraw and Wong (1996),
//! Psychological Methods 1:30-46, with degrees of freedom after Satterthwaite that need not be whole.

use crate::distribution::{f_above, f_quantile};

/// Why no correlation can be worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// Fewer than 2 services or fewer than 2 assessors.
    #[error("at least 2 services by at least 2 assessors are needed")]
    TooFew,
    /// A service lacks a score, or a score is not finite.
    #[error("a score is missing or not finite")]
    Missing,
    /// All scores are the same.
    #[error("all scores are the same")]
    NoVariation,
    /// The confidence level is not between 0 and 1.
    #[error("the confidence level is not between 0 and 1")]
    Level,
}

/// Mean squares of the scores.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanSquares {
    /// Between services.
    pub services: f64,
    /// Between assessors.
    pub assessors: f64,
    /// What is left after both.
    pub residual: f64,
    /// Within services: assessors and residual together.
    pub within: f64,
}

/// One form of the correlation, tested and with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Form {
    /// The correlation, at most 1; it may fall below 0. `None` where its formula gives no such number,
    /// as for the means of services that do not differ.
    pub value: Option<f64>,
    /// F against no differences between services; infinite when nothing is left over.
    pub f: f64,
    /// Degrees of freedom above, services less one.
    pub freedom_above: f64,
    /// Degrees of freedom below.
    pub freedom_below: f64,
    /// Chance of an F at least as large without differences between services.
    pub p: Option<f64>,
    /// Interval at the level asked for; `None` where none can be worked out.
    pub interval: Option<(f64, f64)>,
}

/// All six forms. The first figure is the design, "one" or "mean" whether one score counts or the mean of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intraclass {
    /// Mean squares behind the forms.
    pub mean_squares: MeanSquares,
    /// (1,1): each service by assessors of its own.
    pub one_way_one: Form,
    /// (2,1): the same assessors, taken for any assessors; leniency counts as disagreement.
    pub two_way_one: Form,
    /// (3,1): these assessors and no others; leniency is taken out.
    pub fixed_one: Form,
    /// (1,k).
    pub one_way_mean: Form,
    /// (2,k).
    pub two_way_mean: Form,
    /// (3,k).
    pub fixed_mean: Form,
    /// Degrees of freedom behind the interval of the (2,1) form, seldom whole.
    pub satterthwaite: Option<f64>,
}

/// Works out the correlations from scores: a row for each service, in it one score by each assessor; `level`
/// is the confidence level of the intervals, 0 to 1.
///
/// # Errors
/// With fewer than 2 services or assessors, a missing or infinite score, all scores the same, or a level
/// outside 0 to 1.
pub fn intraclass(scores: &[Vec<f64>], level: f64) -> Result<Intraclass, Error> {
    if !(level > 0.0 && level < 1.0) {
        return Err(Error::Level);
    }
    let assessors = scores.first().map_or(0, Vec::len);
    if scores.len() < 2 || assessors < 2 {
        return Err(Error::TooFew);
    }
    if scores.iter().any(|row| row.len() != assessors || row.iter().any(|score| !score.is_finite())) {
        return Err(Error::Missing);
    }
    let (n, k) = (scores.len() as f64, assessors as f64);
    let grand = scores.iter().flatten().sum::<f64>() / (n * k);
    let of_service: Vec<f64> = scores.iter().map(|row| row.iter().sum::<f64>() / k).collect();
    let of_assessor: Vec<f64> =
        (0..assessors).map(|place| scores.iter().filter_map(|row| row.get(place)).sum::<f64>() / n).collect();
    let between = k * of_service.iter().map(|mean| (mean - grand).powi(2)).sum::<f64>();
    let leniency = n * of_assessor.iter().map(|mean| (mean - grand).powi(2)).sum::<f64>();
    let left = scores.iter().zip(&of_service).flat_map(|(row, service)| {
        row.iter().zip(&of_assessor).map(move |(score, assessor)| (score - service - assessor + grand).powi(2))
    });
    let left: f64 = left.sum();
    if !(between + leniency + left).is_finite() {
        return Err(Error::Missing);
    }
    let size = scores.iter().flatten().fold(0.0_f64, |size, score| size.max(score.abs()));
    let rounding = n * k * (size * 1e-15).powi(2);
    let clean = |squares: f64| if squares <= rounding { 0.0 } else { squares };
    let (between, leniency, left) = (clean(between), clean(leniency), clean(left));
    if between + leniency + left <= 0.0 {
        return Err(Error::NoVariation);
    }
    let mean_squares = MeanSquares {
        services: between / (n - 1.0),
        assessors: leniency / (k - 1.0),
        residual: left / ((n - 1.0) * (k - 1.0)),
        within: (leniency + left) / (n * (k - 1.0)),
    };
    Ok(forms(mean_squares, n, k, 1.0 - (1.0 - level) / 2.0))
}

fn forms(squares: MeanSquares, n: f64, k: f64, quantile: f64) -> Intraclass {
    let MeanSquares { services: row, assessors: column, residual: rest, within } = squares;
    let above = n - 1.0;
    // One error term: (row - q error) / (row + (k-1) q error) and its mirror image.
    let simple = |error: f64, below: f64| {
        let ratio = |row: f64, error: f64| (row - error) / (row + (k - 1.0) * error);
        let low = f_quantile(quantile, above, below).map(|q| ratio(row, q * error));
        let high = f_quantile(quantile, below, above).map(|q| ratio(q * row, error));
        form(ratio(row, error), row / error, above, below, low.zip(high))
    };
    let one_way_one = simple(within, n * (k - 1.0));
    let fixed_one = simple(rest, above * (k - 1.0));
    let value = (row - rest) / (row + (k - 1.0) * rest + k * (column - rest) / n);
    let part = n * (1.0 + (k - 1.0) * value) - k * value;
    let top = above * (k - 1.0) * (k * value * column + part * rest).powi(2);
    let bottom = above * (k * value * column).powi(2) + (part * rest).powi(2);
    let satterthwaite = Some(top / bottom).filter(|freedom| freedom.is_finite() && *freedom > 0.0);
    let spread = k * column + (k * n - k - n) * rest;
    let low = satterthwaite
        .and_then(|v| f_quantile(quantile, above, v))
        .map(|q| n * (row - q * rest) / (q * spread + n * row));
    let high = satterthwaite
        .and_then(|v| f_quantile(quantile, v, above))
        .map(|q| n * (q * row - rest) / (spread + n * q * row));
    let two_way_one = form(value, row / rest, above, above * (k - 1.0), low.zip(high));
    let mean = |one: Form, value: f64| {
        // Spearman and Brown's step from one score to the mean of k.
        let step = |one: f64| one * k / (1.0 + one * (k - 1.0));
        let limits = one.interval.map(|(low, high)| (step(low), step(high)));
        form(value, one.f, one.freedom_above, one.freedom_below, limits)
    };
    Intraclass {
        mean_squares: squares,
        one_way_mean: mean(one_way_one, (row - within) / row),
        two_way_mean: mean(two_way_one, (row - rest) / (row + (column - rest) / n)),
        fixed_mean: mean(fixed_one, (row - rest) / row),
        one_way_one,
        two_way_one,
        fixed_one,
        satterthwaite,
    }
}

fn form(value: f64, f: f64, above: f64, below: f64, interval: Option<(f64, f64)>) -> Form {
    let value = Some(value).filter(|value| *value <= 1.0 + 1e-9 && value.is_finite());
    Form {
        value,
        f,
        freedom_above: above,
        freedom_below: below,
        p: f_above(f, above, below),
        interval: interval.filter(|(low, high)| value.is_some() && low.is_finite() && high.is_finite()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn leniency_lowers_the_second_form_and_not_the_third() {
        let base = [2.0, 5.0, 7.0, 4.0, 9.0];
        let lenient: Vec<Vec<f64>> = base.iter().map(|score| vec![*score, score + 3.0]).collect();
        let found = intraclass(&lenient, 0.95).unwrap();
        assert!((found.fixed_one.value.unwrap() - 1.0).abs() < 1e-12, "{found:?}");
        assert!(found.two_way_one.value.unwrap() < 0.8);
        let (low, high) = found.fixed_one.interval.unwrap();
        assert!((low - 1.0).abs() < 1e-12 && (high - 1.0).abs() < 1e-12);
        assert_eq!(found.fixed_one.p, Some(0.0));
    }

    #[test]
    fn a_lower_level_gives_a_narrower_interval() {
        let scores = [[9.0, 7.0, 8.0], [6.0, 5.0, 7.0], [8.0, 8.0, 6.0], [3.0, 2.0, 4.0], [5.0, 6.0, 4.0]];
        let scores = scores.map(|row| row.to_vec());
        let width = |level: f64| {
            let found = intraclass(&scores, level).unwrap();
            let (low, high) = found.two_way_one.interval.unwrap();
            assert!(low < found.two_way_one.value.unwrap() && found.two_way_one.value.unwrap() < high);
            high - low
        };
        assert!(width(0.8) < width(0.95) && width(0.95) < width(0.99));
    }

    #[test]
    fn what_cannot_be_compared_is_refused() {
        assert_eq!(intraclass(&[], 0.95), Err(Error::TooFew));
        assert_eq!(intraclass(&[vec![1.0, 2.0]], 0.95), Err(Error::TooFew));
        assert_eq!(intraclass(&[vec![1.0], vec![2.0]], 0.95), Err(Error::TooFew));
        assert_eq!(intraclass(&[vec![1.0, 2.0], vec![1.0]], 0.95), Err(Error::Missing));
        assert_eq!(intraclass(&[vec![1.0, f64::NAN], vec![1.0, 2.0]], 0.95), Err(Error::Missing));
        assert_eq!(intraclass(&[vec![0.1, 0.1], vec![0.1, 0.1]], 0.95), Err(Error::NoVariation));
        assert_eq!(intraclass(&[vec![1e200, 0.0], vec![0.0, 1e200]], 0.95), Err(Error::Missing));
        assert_eq!(intraclass(&[vec![1.0, 2.0], vec![2.0, 2.0]], 1.0), Err(Error::Level));
    }

    #[test]
    fn services_that_do_not_differ_have_no_correlation() {
        let found = intraclass(&[vec![1.0, 3.0], vec![3.0, 1.0], vec![2.0, 2.0]], 0.9).unwrap();
        assert!(found.two_way_one.value.unwrap() <= 0.0);
        assert_eq!((found.two_way_mean.value, found.fixed_mean.interval), (None, None));
        assert_eq!(found.mean_squares.services, 0.0);
    }
}
