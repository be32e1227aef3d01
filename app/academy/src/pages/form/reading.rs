//! Reads what was typed: names, numbers, days, moments.

use chrono::{Datelike, Duration, FixedOffset, NaiveDateTime};
use practicum::moment::{Day, Moment};

use crate::browser;

/// Longest line taken, in characters.
const LONGEST: usize = 200;

/// Reads one line of text that may be empty.
pub(crate) fn one_line(typed: &str) -> Result<String, String> {
    if typed.chars().count() > LONGEST {
        return Err(format!("This is longer than {LONGEST} characters: shorten it."));
    }
    if typed.chars().any(char::is_control) {
        return Err("This holds a character that cannot be shown: type it anew.".to_owned());
    }
    Ok(typed.trim().to_owned())
}

/// Reads a name that has to be there; `what` names it, as in "the academy's name".
pub(crate) fn name(what: &str, typed: &str) -> Result<String, String> {
    let line = one_line(typed)?;
    if line.is_empty() { Err(format!("Type {what}.")) } else { Ok(line) }
}

/// Reads a whole number within bounds.
pub(crate) fn whole_number(typed: &str, least: u32, most: u32) -> Result<u32, String> {
    let number = typed.trim().parse::<u32>().ok().filter(|number| (least..=most).contains(number));
    number.ok_or_else(|| format!("Type a whole number from {least} to {most}."))
}

/// Reads a day as `2026-03-29`, with a sensible year.
pub(crate) fn day(typed: &str) -> Result<Option<Day>, String> {
    let typed = typed.trim();
    if typed.is_empty() {
        return Ok(None);
    }
    let day = Day::parse_from_str(typed, "%Y-%m-%d").ok().filter(|day| (1900..2200).contains(&day.year()));
    day.map(Some).ok_or_else(|| format!("“{typed}” is not a day such as 2026-03-29."))
}

/// Writes a day as an input takes it.
pub(crate) fn day_text(day: Option<Day>) -> String {
    day.map(|day| day.format("%Y-%m-%d").to_string()).unwrap_or_default()
}

/// Writes a moment as an input of date and local time takes it.
pub(crate) fn local_text(at: &Moment) -> String {
    at.format("%Y-%m-%dT%H:%M").to_string()
}

/// Reads the date and local time of this device, with the offset that held here then.
pub(crate) fn moment_of_local(typed: &str) -> Result<Moment, String> {
    moment_with(typed, browser::clock::offset_minutes_at)
}

/// Reads a local time; `offset_at` says the minutes ahead of UTC at a moment in milliseconds since 1970.
fn moment_with(typed: &str, offset_at: impl Fn(i64) -> i32) -> Result<Moment, String> {
    let wrong = || "Give the day and the time.".to_owned();
    let short = NaiveDateTime::parse_from_str(typed.trim(), "%Y-%m-%dT%H:%M");
    let local =
        short.or_else(|_| NaiveDateTime::parse_from_str(typed.trim(), "%Y-%m-%dT%H:%M:%S")).map_err(|_| wrong())?;
    // The offset depends on the moment and the moment on the offset: the second guess is right but for the
    // hour that a change of clocks skips, which no clock ever showed.
    let ahead = |milliseconds: i64| Duration::minutes(i64::from(offset_at(milliseconds)));
    let guess = local.and_utc() - ahead(local.and_utc().timestamp_millis());
    let offset = offset_at(guess.timestamp_millis());
    let zone = FixedOffset::east_opt(offset.saturating_mul(60)).ok_or_else(wrong)?;
    local.and_local_timezone(zone).single().ok_or_else(wrong)
}

/// Refuses a moment that lies more than a minute ahead.
pub(crate) fn not_in_the_future(at: Moment, now: &Moment) -> Result<Moment, String> {
    if at > *now + Duration::minutes(1) {
        return Err("This lies in the future: give the time when it was done.".to_owned());
    }
    Ok(at)
}

#[cfg(test)]
mod tests {
    use super::{day, moment_with, name, not_in_the_future, one_line, whole_number};

    /// Minutes ahead of UTC in a place that goes one hour on at 01:00 UTC on 29 March 2026.
    fn spring(milliseconds: i64) -> i32 {
        if milliseconds < 1_774_746_000_000 { 0 } else { 60 }
    }

    #[test]
    fn a_local_time_takes_the_offset_that_held_then() {
        let read = |typed| moment_with(typed, spring).map(|at| at.to_rfc3339());
        assert_eq!(read("2026-03-29T00:30").as_deref(), Ok("2026-03-29T00:30:00+00:00"));
        assert_eq!(read("2026-03-29T02:30").as_deref(), Ok("2026-03-29T02:30:00+01:00"));
        assert_eq!(read("2026-07-01T09:05:07").as_deref(), Ok("2026-07-01T09:05:07+01:00"));
        assert!(read("").is_err());
        assert!(read("2026-02-30T10:00").is_err());
    }

    #[test]
    fn the_future_is_refused() {
        let now = moment_with("2026-07-01T09:00", spring).unwrap();
        let later = moment_with("2026-07-01T09:05", spring).unwrap();
        assert!(not_in_the_future(later, &now).is_err());
        assert_eq!(not_in_the_future(now, &later), Ok(now));
    }

    #[test]
    fn names_of_any_script_are_taken_as_typed() {
        for typed in ["Zoë <b>", "李 💡", "O’Neil \"x\"", "مريم"] {
            assert_eq!(name("a name", typed).as_deref(), Ok(typed));
        }
        assert!(name("a name", "  ").is_err());
        assert!(one_line("a\nb").is_err());
        assert!(one_line(&"x".repeat(201)).is_err());
    }

    #[test]
    fn days_and_numbers_out_of_bounds_are_refused() {
        assert_eq!(day(" "), Ok(None));
        assert!(day("2026-03-29").is_ok_and(|day| day.is_some()));
        for bad in ["29.03.2026", "2026-02-29", "0026-01-01", "2201-01-01", "+12026-01-01"] {
            assert!(day(bad).is_err(), "{bad}");
        }
        assert_eq!(whole_number(" 18 ", 14, 99), Ok(18));
        for bad in ["", "13", "100", "-1", "18.5", "٣٠"] {
            assert!(whole_number(bad, 14, 99).is_err(), "{bad}");
        }
    }
}
