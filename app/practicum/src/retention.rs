//! What falls due for erasure by the years that the course book sets. Nothing is erased by itself.

use chrono::Months;

use crate::course_book::RetentionRules;
use crate::moment::Day;

fn years_after(day: Day, years: u32) -> Option<Day> {
    day.checked_add_months(Months::new(years.checked_mul(12)?))
}

/// Returns the day from which what says who a practice model is falls due: years after the last service or, for
/// somebody who was a minor then, years after coming of age, whichever is later. `None` without a service.
pub fn practice_model_due(rules: &RetentionRules, born: Option<Day>, last: Option<Day>) -> Option<Day> {
    let last = last?;
    let due = years_after(last, rules.practice_model_years)?;
    let of_age = born.and_then(|born| years_after(born, rules.of_age)).filter(|of_age| last < *of_age);
    match of_age {
        Some(of_age) => years_after(of_age, rules.minor_years).map(|minor| minor.max(due)),
        None => Some(due),
    }
}

/// Returns the day from which what says who a trainee was falls due; `None` for who has not left.
pub fn trainee_due(rules: &RetentionRules, left: Option<Day>) -> Option<Day> {
    years_after(left?, rules.trainee_years)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULES: RetentionRules =
        RetentionRules { practice_model_years: 7, minor_years: 7, of_age: 18, trainee_years: 5 };

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    #[test]
    fn records_fall_due_years_after_the_last_service() {
        let due = |born: Option<&str>, last: &str| practice_model_due(&RULES, born.map(day), Some(day(last)));
        assert_eq!(due(None, "2026-03-02"), Some(day("2033-03-02")));
        assert_eq!(due(Some("1990-01-01"), "2026-03-02"), Some(day("2033-03-02")));
        // Leap days end on the last day of February.
        assert_eq!(due(None, "2024-02-29"), Some(day("2031-02-28")));
        assert_eq!(practice_model_due(&RULES, None, None), None);
    }

    #[test]
    fn a_minors_fall_due_years_after_coming_of_age() {
        let due = |born: &str, last: &str| practice_model_due(&RULES, Some(day(born)), Some(day(last))).unwrap();
        assert_eq!(due("2010-05-01", "2026-03-02"), day("2035-05-01"));
        // Of age on the day itself: no minor any more.
        assert_eq!(due("2008-03-02", "2026-03-02"), day("2033-03-02"));
        assert_eq!(due("2008-03-03", "2026-03-02"), day("2033-03-03"));
    }

    #[test]
    fn a_trainees_fall_due_after_leaving_only() {
        assert_eq!(trainee_due(&RULES, None), None);
        assert_eq!(trainee_due(&RULES, Some(day("2026-06-30"))), Some(day("2031-06-30")));
    }
}
