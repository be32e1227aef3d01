//! How two lists of numbers rise together, by their order alone.
//!
//! Kendall (1938), Biometrika 30:81-93, with ties (tau-b) and its exact chances: Kendall (1975), Rank
//! Correlation Methods. Spearman (1904), American Journal of Psychology 15:72-101.

/// Most values for which exact chances are worked out.
const MOST_VALUES: usize = 500;

/// Pairs of points by how they lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Pairs {
    same_way: i64,
    other_way: i64,
    tied_in_x: i64,
    tied_in_y: i64,
}

/// The points of which both numbers are finite.
pub(crate) fn finite(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite()).collect()
}

fn pairs(points: &[(f64, f64)]) -> Pairs {
    let mut pairs = Pairs::default();
    for (number, (x1, y1)) in points.iter().enumerate() {
        for (x2, y2) in points.iter().skip(number + 1) {
            let of_x = i64::from(x2 > x1) - i64::from(x2 < x1);
            let of_y = i64::from(y2 > y1) - i64::from(y2 < y1);
            pairs.same_way += i64::from(of_x * of_y > 0);
            pairs.other_way += i64::from(of_x * of_y < 0);
            pairs.tied_in_x += i64::from(of_x == 0);
            pairs.tied_in_y += i64::from(of_y == 0);
        }
    }
    pairs
}

/// Returns Kendall's tau-b, -1 to 1, over the finite points; `None` with fewer than 2, or when all x or all y
/// are the same.
///
/// Work grows with the square of the number of points.
pub fn kendall_tau_b(points: &[(f64, f64)]) -> Option<f64> {
    let points = finite(points);
    let found = pairs(&points);
    let n = points.len() as f64;
    let all = n * (n - 1.0) / 2.0;
    let bottom = ((all - found.tied_in_x as f64) * (all - found.tied_in_y as f64)).sqrt();
    (bottom > 0.0).then(|| ((found.same_way - found.other_way) as f64 / bottom).clamp(-1.0, 1.0))
}

/// Returns the exact two-sided chance of a Kendall's tau at least as far from 0 without any connection.
///
/// `None` with fewer than 2 finite points, with more than 500, or with ties, where it is not exact.
pub fn kendall_exact_p(points: &[(f64, f64)]) -> Option<f64> {
    let points = finite(points);
    let found = pairs(&points);
    if points.len() < 2 || points.len() > MOST_VALUES || found.tied_in_x > 0 || found.tied_in_y > 0 {
        return None;
    }
    let fewer = usize::try_from(found.same_way.min(found.other_way)).ok()?;
    // Chance of each number of pairs the other way, one value more at a time; beyond `fewer` it is not asked.
    let mut chances = vec![0.0; fewer + 1];
    *chances.first_mut()? = 1.0;
    for n in 2..=points.len() {
        let before = chances.clone();
        let mut window = 0.0;
        for (count, chance) in chances.iter_mut().enumerate() {
            window += before.get(count).copied().unwrap_or(0.0);
            if let Some(left) = count.checked_sub(n) {
                window -= before.get(left).copied().unwrap_or(0.0);
            }
            *chance = window / n as f64;
        }
    }
    Some((2.0 * chances.iter().sum::<f64>()).min(1.0))
}

/// Returns Spearman's correlation of the ranks, -1 to 1, ties sharing their mean rank; `None` as for
/// [`kendall_tau_b`].
pub fn spearman_rho(points: &[(f64, f64)]) -> Option<f64> {
    let points = finite(points);
    let (x, y): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
    let (x, y) = (ranks(&x), ranks(&y));
    let middle = (x.len() as f64 + 1.0) / 2.0;
    let product = |one: &[f64], other: &[f64]| -> f64 {
        one.iter().zip(other).map(|(one, other)| (one - middle) * (other - middle)).sum()
    };
    let bottom = (product(&x, &x) * product(&y, &y)).sqrt();
    (bottom > 0.0).then(|| (product(&x, &y) / bottom).clamp(-1.0, 1.0))
}

fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<f64> = values.to_vec();
    order.sort_by(f64::total_cmp);
    let rank = |value: &f64| {
        let below = order.partition_point(|other| other < value);
        let up_to = order.partition_point(|other| other <= value);
        (below + up_to + 1) as f64 / 2.0
    };
    values.iter().map(rank).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(values: &[f64]) -> Vec<(f64, f64)> {
        values.iter().zip(1..).map(|(y, x)| (f64::from(x), *y)).collect()
    }

    #[test]
    fn exact_chances_are_those_of_all_orders() {
        // All 24 orders of 4 values by their number of pairs the other way: 1, 3, 5, 6, 5, 3, 1.
        assert!((kendall_exact_p(&series(&[1.0, 2.0, 3.0, 4.0])).unwrap() - 2.0 / 24.0).abs() < 1e-15);
        assert!((kendall_exact_p(&series(&[4.0, 3.0, 1.0, 2.0])).unwrap() - 8.0 / 24.0).abs() < 1e-15);
        assert_eq!(kendall_exact_p(&series(&[2.0, 4.0, 1.0, 3.0])), Some(1.0));
        assert_eq!(kendall_exact_p(&series(&[1.0, 1.0, 3.0])), None);
        let long: Vec<f64> = (0..500).map(f64::from).collect();
        assert_eq!(kendall_exact_p(&series(&long)), Some(0.0));
    }

    #[test]
    fn full_order_is_1_and_a_level_list_has_no_correlation() {
        for of in [kendall_tau_b, spearman_rho] {
            assert_eq!(of(&series(&[1.0, 2.0, 9.0])), Some(1.0));
            assert_eq!(of(&series(&[9.0, 2.0, 1.0])), Some(-1.0));
            assert_eq!(of(&series(&[3.0, 3.0, 3.0])), None);
            assert_eq!(of(&series(&[f64::NAN, 3.0])), None);
            assert_eq!(of(&[]), None);
        }
    }
}
