//! Days as people write them.

use chrono::{Datelike, NaiveDate, NaiveTime};
use practicum::moment::Day;

use crate::spreadsheet::fold::fold;

/// Which comes first in a date of three numbers such as `03/04/2026`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DateOrder {
    /// The day.
    DayFirst,
    /// The month.
    MonthFirst,
}

/// Years that are taken for years of training.
const YEARS: std::ops::RangeInclusive<i32> = 2000..=2200;

/// A day as written, before it is known which number is the month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// Can only be this day.
    Clear(Day),
    /// Two readings, both possible and different: day first, month first.
    Either(Day, Day),
    /// Three numbers that only make a day in one order.
    Only(DateOrder, Day),
}

/// Whether a cell looks like a date, possible or not.
pub fn looks_like_date(cell: &str) -> bool {
    !matches!(parse(cell), Ok(None))
        && 6 <= cell.trim().len()
        && cell.contains(['-', '/', '.', ' '])
        && parse(cell).is_ok()
}

/// Reads a cell as a day, with the time of day when one follows it; `None` when the cell is empty.
///
/// `2026-03-03`, `2026/03/03`, `3/3/2026`, `3-3-26`, `3.3.2026` (always day first), `3 Mar 2026`,
/// `March 3, 2026`, `Tue 3 Mar 2026`. A year of two figures lies in this century.
///
/// # Errors
/// Returns a sentence that says why the cell is not a day.
pub fn parse(cell: &str) -> Result<Option<(Written, Option<NaiveTime>)>, String> {
    let text = fold(cell);
    if text.is_empty() {
        return Ok(None);
    }
    if text.chars().all(|letter| letter.is_ascii_digit()) {
        return Err("a bare number is not a date: write it as 2026-03-31 (a spreadsheet stores dates as numbers; \
                    format the column as a date before saving)"
            .to_owned());
    }
    let (day, time) = part_time(&text)?;
    let parts = parts(day);
    let numbers: Vec<Option<u32>> = parts.iter().map(|part| part.parse().ok()).collect();
    let written = match (parts.as_slice(), numbers.as_slice()) {
        ([year, ..], [Some(y), Some(m), Some(d)]) if year.len() == 4 => calendar(*y, *m, *d).map(Written::Clear),
        ([.., year], [Some(a), Some(b), Some(y)]) => three_numbers(*a, *b, full_year(year, *y), day.contains('.')),
        ([_, name, year], [Some(d), None, Some(y)]) => named(name, *d, full_year(year, *y)),
        ([name, _, year], [None, Some(d), Some(y)]) => named(name, *d, full_year(year, *y)),
        _ => Err(not_a_date()),
    }?;
    Ok(Some((written, time)))
}

fn not_a_date() -> String {
    "not a date: write it as 2026-03-31, 31/3/2026, 31.3.2026 or 31 Mar 2026".to_owned()
}

/// Parts `2026-03-03t14:05` or `3/3/2026 14:05:00` into day and time of day.
fn part_time(text: &str) -> Result<(&str, Option<NaiveTime>), String> {
    let Some(colon) = text.find(':') else {
        return Ok((text, None));
    };
    let before = text.get(..colon).unwrap_or(text);
    let cut = before.rfind([' ', 't']).ok_or_else(not_a_date)?;
    let (day, time) = (text.get(..cut).unwrap_or(""), text.get(cut + 1..).unwrap_or(""));
    let time = parse_time(time)
        .ok_or_else(|| "the time of day behind the date cannot be read: write it as 14:05".to_owned())?;
    Ok((day.trim_end_matches([' ', ',']), Some(time)))
}

/// Reads a time of day, `14:05` or `14:05:30`; an offset behind it is passed over.
pub fn parse_time(text: &str) -> Option<NaiveTime> {
    let text = text.trim().trim_end_matches(['z', 'Z']);
    let text = text.split(['+', '.']).next()?.trim();
    let mut parts = text.split(':').map(|part| part.trim().parse::<u32>().ok());
    let (hour, minute) = (parts.next()??, parts.next()??);
    let second = match parts.next() {
        Some(second) => second?,
        None => 0,
    };
    if parts.next().is_some() { None } else { NaiveTime::from_hms_opt(hour, minute, second) }
}

/// Returns day, month and year as written, the name of a weekday left out.
fn parts(text: &str) -> Vec<&str> {
    let weekdays = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
    let is_weekday = |part: &str| weekdays.iter().any(|day| part.starts_with(day));
    let parts = text.split(['-', '/', '.', ' ', ',']).filter(|part| !part.is_empty());
    parts.enumerate().filter(|(place, part)| *place != 0 || !is_weekday(part)).map(|(_, part)| part).collect()
}

fn full_year(written: &str, year: u32) -> u32 {
    if written.len() == 2 { 2000 + year } else { year }
}

fn calendar(year: u32, month: u32, day: u32) -> Result<Day, String> {
    let calendar_year = i32::try_from(year).unwrap_or(i32::MAX);
    if !YEARS.contains(&calendar_year) {
        return Err(format!("the year {year} is not a year of training: write the year in full, as 2026"));
    }
    if month == 0 || 12 < month {
        return Err(format!("there is no month {month}"));
    }
    NaiveDate::from_ymd_opt(calendar_year, month, day)
        .ok_or_else(|| format!("there is no day {day} in month {month} of {year}"))
}

fn three_numbers(a: u32, b: u32, year: u32, dotted: bool) -> Result<Written, String> {
    let (day_first, month_first) = (calendar(year, b, a), calendar(year, a, b));
    if dotted {
        return day_first.map(Written::Clear);
    }
    match (day_first, month_first) {
        (Ok(one), Ok(other)) if one == other => Ok(Written::Clear(one)),
        (Ok(one), Ok(other)) => Ok(Written::Either(one, other)),
        (Ok(day), Err(_)) => Ok(Written::Only(DateOrder::DayFirst, day)),
        (Err(_), Ok(day)) => Ok(Written::Only(DateOrder::MonthFirst, day)),
        // Say what is wrong in the order that comes nearest to a date.
        (Err(day_first), Err(month_first)) => Err(if 12 < b { month_first } else { day_first }),
    }
}

fn named(name: &str, day: u32, year: u32) -> Result<Written, String> {
    let months = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let place = months.iter().position(|month| name.starts_with(month)).ok_or_else(not_a_date)?;
    calendar(year, u32::try_from(place + 1).unwrap_or(0), day).map(Written::Clear)
}

/// Returns the order that a column's dates settle: one that can be read in one order only decides for
/// all. `None` when no row decides, or when rows contradict each other.
pub fn settled_order<'a>(cells: impl Iterator<Item = &'a str>) -> Option<DateOrder> {
    let (mut day_first, mut month_first) = (false, false);
    for cell in cells {
        if let Ok(Some((Written::Only(order, _), _))) = parse(cell) {
            day_first |= order == DateOrder::DayFirst;
            month_first |= order == DateOrder::MonthFirst;
        }
    }
    match (day_first, month_first) {
        (true, false) => Some(DateOrder::DayFirst),
        (false, true) => Some(DateOrder::MonthFirst),
        _ => None,
    }
}

/// A day once the order is known, or that a person has to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decided {
    /// The day.
    Day(Day),
    /// Two days are possible.
    Ask,
}

/// Decides on a day by the order in force; `asked` is the order that a person named.
///
/// # Errors
/// Returns a sentence when the order that a person named makes no day of it, or when the day lies after `today`.
pub fn decide(
    written: Written,
    settled: Option<DateOrder>,
    asked: Option<DateOrder>,
    today: Day,
) -> Result<Decided, String> {
    let day = match (written, asked.or(settled)) {
        (Written::Clear(day), _) => day,
        (Written::Either(day, _), Some(DateOrder::DayFirst)) => day,
        (Written::Either(_, day), Some(DateOrder::MonthFirst)) => day,
        (Written::Either(..), None) => return Ok(Decided::Ask),
        (Written::Only(order, _), _) if asked.is_some_and(|asked| asked != order) => {
            return Err(match order {
                DateOrder::MonthFirst => "not a date with the day first: write it as 2026-03-31".to_owned(),
                DateOrder::DayFirst => "not a date with the month first: write it as 2026-03-31".to_owned(),
            });
        }
        (Written::Only(_, day), _) => day,
    };
    if today < day {
        return Err(format!("{}-{:02}-{:02} lies in the future", day.year(), day.month(), day.day()));
    }
    Ok(Decided::Day(day))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(year: i32, month: u32, day: u32) -> Day {
        NaiveDate::from_ymd_opt(year, month, day).unwrap()
    }

    fn clear(cell: &str) -> Day {
        match parse(cell) {
            Ok(Some((Written::Clear(day) | Written::Only(_, day), _))) => day,
            other => panic!("{cell}: {other:?}"),
        }
    }

    #[test]
    fn many_ways_to_write_one_day() {
        for cell in [
            "2026-03-31",
            "2026/3/31",
            "31/3/2026",
            "31-03-26",
            "31.3.2026",
            "31.03.26",
            "3/31/2026",
            "31 Mar 2026",
            "31 March 2026",
            "31-Mar-26",
            "March 31, 2026",
            "Tue 31 Mar 2026",
            "Tuesday, 31 March 2026",
            " 2026-03-31T14:05:00Z ",
            "31/3/2026 14:05",
        ] {
            assert_eq!(clear(cell), day(2026, 3, 31), "{cell}");
        }
    }

    #[test]
    fn a_time_behind_the_day_is_kept() {
        let (_, time) = parse("31/3/2026 14:05").unwrap().unwrap();
        assert_eq!(time, NaiveTime::from_hms_opt(14, 5, 0));
    }

    #[test]
    fn a_dotted_date_has_the_day_first_and_a_slashed_one_may_be_either() {
        assert_eq!(parse("3.4.2026"), Ok(Some((Written::Clear(day(2026, 4, 3)), None))));
        assert_eq!(parse("3/4/2026"), Ok(Some((Written::Either(day(2026, 4, 3), day(2026, 3, 4)), None))));
        assert_eq!(parse("4/4/2026"), Ok(Some((Written::Clear(day(2026, 4, 4)), None))));
    }

    #[test]
    fn impossible_days_say_why() {
        for (cell, part) in [
            ("31/02/2026", "no day 31 in month 2"),
            ("2026-13-01", "no month 13"),
            ("0/1/2026", "no day 0"),
            ("46112", "bare number"),
            ("next week", "not a date"),
            ("3/4/1026", "year 1026"),
            ("2025-02-29", "no day 29"),
            ("=TODAY()", "not a date"),
        ] {
            let reason = parse(cell).unwrap_err();
            assert!(reason.contains(part), "{cell}: {reason}");
        }
    }

    #[test]
    fn one_row_settles_the_order_and_an_impossible_one_does_not() {
        assert_eq!(settled_order(["3/4/2026", "25/4/2026"].into_iter()), Some(DateOrder::DayFirst));
        assert_eq!(settled_order(["3/4/2026", "4/25/2026"].into_iter()), Some(DateOrder::MonthFirst));
        assert_eq!(settled_order(["3/4/2026", "31/2/2026"].into_iter()), None);
        assert_eq!(settled_order(["25/4/2026", "4/25/2026"].into_iter()), None);
    }

    #[test]
    fn the_future_is_refused_and_today_is_not() {
        let today = day(2026, 3, 31);
        assert_eq!(decide(Written::Clear(today), None, None, today), Ok(Decided::Day(today)));
        assert!(decide(Written::Clear(day(2026, 4, 1)), None, None, today).is_err());
    }

    #[test]
    fn the_order_a_person_names_holds_against_the_row() {
        let only = Written::Only(DateOrder::MonthFirst, day(2026, 3, 31));
        assert!(decide(only, None, Some(DateOrder::DayFirst), day(2026, 6, 1)).is_err());
    }
}
