//! How old somebody is on a day.

use chrono::Datelike;

use crate::moment::Day;

/// Age in whole years from which a person consents alone: 18, the usual age of majority.
pub const ADULT: u32 = 18;

/// Returns the age in whole years; `None` when the birthday lies after `today`.
///
/// Somebody born on 29 February turns a year older on 1 March of a common year.
///
/// ```
/// use practicum::{gate::age::in_years, moment::Day};
/// let born = Day::from_ymd_opt(2008, 2, 29).unwrap();
/// assert_eq!(in_years(born, Day::from_ymd_opt(2026, 2, 28).unwrap()), Some(17));
/// assert_eq!(in_years(born, Day::from_ymd_opt(2026, 3, 1).unwrap()), Some(18));
/// ```
pub fn in_years(born: Day, today: Day) -> Option<u32> {
    let before_birthday = (today.month(), today.day()) < (born.month(), born.day());
    u32::try_from(today.year() - born.year() - i32::from(before_birthday)).ok()
}

#[cfg(test)]
mod tests {
    use super::in_years;
    use crate::moment::Day;

    fn day(year: i32, month: u32, day: u32) -> Day {
        Day::from_ymd_opt(year, month, day).unwrap()
    }

    #[test]
    fn a_birthday_counts_from_the_day_itself() {
        assert_eq!(in_years(day(2008, 6, 15), day(2026, 6, 14)), Some(17));
        assert_eq!(in_years(day(2008, 6, 15), day(2026, 6, 15)), Some(18));
    }

    #[test]
    fn a_leap_birthday_falls_on_29_february_in_a_leap_year() {
        assert_eq!(in_years(day(2008, 2, 29), day(2024, 2, 28)), Some(15));
        assert_eq!(in_years(day(2008, 2, 29), day(2024, 2, 29)), Some(16));
    }

    #[test]
    fn nobody_is_born_tomorrow() {
        assert_eq!(in_years(day(2026, 6, 15), day(2026, 6, 14)), None);
        assert_eq!(in_years(day(2026, 6, 15), day(2026, 6, 15)), Some(0));
    }
}
