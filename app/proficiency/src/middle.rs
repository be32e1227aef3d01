//! The middle of a list of numbers.

/// Returns the median of the finite values; `None` when there is none.
///
/// An even number of values gives the mean of the two in the middle.
///
/// ```
/// assert_eq!(proficiency::middle::median(&[3.0, f64::NAN, 1.0, 2.0, 10.0]), Some(2.5));
/// assert_eq!(proficiency::middle::median(&[]), None);
/// ```
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = *sorted.get((sorted.len() / 2).checked_sub(1)?)?;
    Some(lower + (upper - lower) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::median;

    #[test]
    fn the_median_does_not_depend_on_order() {
        assert_eq!(median(&[5.0, 1.0, 3.0]), Some(3.0));
        assert_eq!(median(&[3.0, 5.0, 1.0]), Some(3.0));
    }

    #[test]
    fn nothing_finite_has_no_median() {
        assert_eq!(median(&[f64::NAN, f64::INFINITY]), None);
    }
}
