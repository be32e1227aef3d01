//! Durations as people write them.
//!
//! The rule for `1:25`: in a column of stages or dwells it is minutes and seconds. In a column of service
//! or hands-on times a first number of 10 or more can only be minutes; below 5 the service would have
//! lasted less than five minutes, so a person is asked whether hours and minutes are meant, unless the
//! header says so (`h:mm`, `mm:ss`); from 5 to 9 it is minutes and seconds until a person says otherwise.

use practicum::moment::Seconds;

use crate::spreadsheet::fold::{fold, is_blank};

/// Longest duration that is believed, in seconds: nine hours.
pub const LONGEST: Seconds = 9 * 3600;
/// Longest dwell that is believed, in seconds: one hour.
pub const LONGEST_DWELL: Seconds = 3600;
/// Shortest finished service that is believed, in seconds: five minutes.
pub const SHORTEST_SERVICE: Seconds = 5 * 60;
/// Below this a first number may be hours, in a column of service times.
const MAY_BE_HOURS: u32 = 5;
/// From this on a first number can only be minutes.
const ONLY_MINUTES: u32 = 10;

/// What two numbers with a colon mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TwoPart {
    /// Minutes and seconds.
    MinutesSeconds,
    /// Hours and minutes.
    HoursMinutes,
}

/// What a column holds, as far as durations go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Span {
    /// The service, or hands-on work on the whole of it.
    Whole,
    /// A stage.
    Stage,
    /// A dwell.
    Dwell,
}

/// How a column's durations are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// What it holds.
    pub span: Span,
    /// What the header or a person said about `1:25`.
    pub two_part: Option<TwoPart>,
    /// Bare numbers are seconds, not minutes.
    pub bare_seconds: bool,
}

impl Column {
    /// Makes the column's way of reading from its header and, before that, what a person said.
    pub fn new(span: Span, header: &str, said: Option<TwoPart>) -> Self {
        let header = fold(header);
        let has_hours = header.contains("h:m");
        let has_seconds = header.contains("m:ss");
        let from_header = match (has_hours, has_seconds) {
            (true, false) => Some(TwoPart::HoursMinutes),
            (false, true) => Some(TwoPart::MinutesSeconds),
            _ => None,
        };
        let mut words = header.split(|letter: char| !letter.is_alphanumeric());
        let bare_seconds = !header.contains(':') && words.any(|word| matches!(word, "s" | "sec" | "secs" | "seconds"));
        Self { span, two_part: from_header.or(said), bare_seconds }
    }
}

/// A duration, or that a person has to say which is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Read {
    /// Seconds.
    Seconds(Seconds),
    /// `1:25` may be minutes and seconds or hours and minutes.
    Ask,
}

/// Reads a cell as a duration; `None` when it says nothing.
///
/// `47:30`, `1:12:05`, `47`, `47.5`, `47,5`, `47 min`, `1 h 25 min`, `90 s`. A bare number is minutes.
///
/// # Errors
/// Returns a sentence that says why the cell is no duration, is zero or is too long.
pub fn parse(cell: &str, column: Column) -> Result<Option<Read>, String> {
    if is_blank(cell) {
        return Ok(None);
    }
    let text = fold(cell);
    if text.starts_with('-') {
        return Err("a time cannot be less than nothing".to_owned());
    }
    let read = if text.contains(':') { clock(&text, column)? } else { Read::Seconds(amount(&text, column)?) };
    if let Read::Seconds(seconds) = read {
        check(seconds, column)?;
    }
    Ok(Some(read))
}

fn check(seconds: Seconds, column: Column) -> Result<(), String> {
    match (column.span, seconds) {
        (_, 0) => Err("a time of zero: leave the cell empty when the time is not known".to_owned()),
        (_, seconds) if LONGEST < seconds => Err("longer than 9 hours".to_owned()),
        (Span::Dwell, seconds) if LONGEST_DWELL < seconds => {
            Err("a dwell longer than 60 minutes: seconds are written as 420 s, minutes as 7 or 7:00".to_owned())
        }
        _ => Ok(()),
    }
}

fn not_a_time() -> String {
    "not a time: write it as 47:30 (minutes and seconds), 1:12:05 (hours, minutes, seconds) or 47.5 (minutes)"
        .to_owned()
}

/// Reads figures only; five at most, so that no sum can overflow.
fn figures(text: &str) -> Option<u32> {
    let fits = (1..=5).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    fits.then(|| text.parse().ok()).flatten()
}

fn below_sixty(text: &str) -> Result<u32, String> {
    match figures(text).ok_or_else(not_a_time)? {
        number if number < 60 => Ok(number),
        number => Err(format!("{number} behind a colon: minutes and seconds go up to 59")),
    }
}

fn clock(text: &str, column: Column) -> Result<Read, String> {
    let text = ["min", "mins", "minutes", "h", "hrs", "m"]
        .iter()
        .fold(text, |text, unit| text.strip_suffix(unit).map_or(text, str::trim_end));
    let parts: Vec<&str> = text.split(':').map(str::trim).collect();
    match parts.as_slice() {
        [first, second] => {
            let (first, second) = (figures(first).ok_or_else(not_a_time)?, below_sixty(second)?);
            Ok(two_numbers(first, second, column))
        }
        [hours, minutes, seconds] => {
            let hours = figures(hours).ok_or_else(not_a_time)?;
            Ok(Read::Seconds(hours * 3600 + below_sixty(minutes)? * 60 + below_sixty(seconds)?))
        }
        _ => Err(not_a_time()),
    }
}

fn two_numbers(first: u32, second: u32, column: Column) -> Read {
    let (as_minutes, as_hours) = (Read::Seconds(first * 60 + second), Read::Seconds(first * 3600 + second * 60));
    match (column.span, column.two_part) {
        (Span::Stage | Span::Dwell, _) => as_minutes,
        (Span::Whole, _) if ONLY_MINUTES <= first => as_minutes,
        (Span::Whole, Some(TwoPart::HoursMinutes)) => as_hours,
        (Span::Whole, Some(TwoPart::MinutesSeconds)) => as_minutes,
        // Nothing in either reading: zero, which is refused.
        (Span::Whole, None) if first == 0 && second == 0 => as_minutes,
        (Span::Whole, None) if first < MAY_BE_HOURS => Read::Ask,
        (Span::Whole, None) => as_minutes,
    }
}

/// Reads numbers with units, or one bare number.
fn amount(text: &str, column: Column) -> Result<Seconds, String> {
    let bare = if column.bare_seconds { 1 } else { 60 };
    if let Some(seconds) = number(text, bare) {
        return Ok(seconds);
    }
    let (mut total, mut rest, mut least) = (0_u32, text.trim(), u32::MAX);
    while !rest.is_empty() {
        let end =
            rest.find(|letter: char| !letter.is_ascii_digit() && letter != '.' && letter != ',').unwrap_or(rest.len());
        let (figure, behind) = (rest.get(..end).unwrap_or(""), rest.get(end..).unwrap_or("").trim_start());
        let stop = behind.find(|letter: char| letter.is_ascii_digit()).unwrap_or(behind.len());
        let (unit, next) = (behind.get(..stop).unwrap_or(""), behind.get(stop..).unwrap_or(""));
        let unit = match unit.trim().trim_end_matches('.') {
            "h" | "hr" | "hrs" | "hour" | "hours" => 3600,
            "m" | "min" | "mins" | "minute" | "minutes" | "'" => 60,
            "s" | "sec" | "secs" | "second" | "seconds" | "\"" | "''" => 1,
            // `1h25`: what follows hours is minutes.
            "" if least == 3600 && next.is_empty() => 60,
            _ => return Err(not_a_time()),
        };
        // Units only become smaller, each once.
        if least <= unit {
            return Err(not_a_time());
        }
        least = unit;
        total = total.saturating_add(number(figure, unit).ok_or_else(not_a_time)?);
        rest = next;
    }
    Ok(total)
}

/// Reads a number with an optional fraction of one to four figures, as seconds of a unit, rounded.
fn number(text: &str, unit: u32) -> Option<Seconds> {
    let (whole, fraction) = match text.trim().split_once(['.', ',']) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text.trim(), None),
    };
    let whole = figures(whole)?.saturating_mul(unit);
    let Some(fraction) = fraction else {
        return Some(whole);
    };
    if 4 < fraction.len() {
        return None;
    }
    let scale = 10_u32.checked_pow(u32::try_from(fraction.len()).ok()?)?;
    let part = u64::from(figures(fraction)?) * u64::from(unit);
    let rounded = (part + u64::from(scale) / 2) / u64::from(scale);
    whole.checked_add(u32::try_from(rounded).ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: Column = Column { span: Span::Whole, two_part: None, bare_seconds: false };
    const STAGE: Column = Column { span: Span::Stage, ..WHOLE };
    const DWELL: Column = Column { span: Span::Dwell, ..WHOLE };

    #[test]
    fn many_ways_to_write_a_time() {
        for (cell, seconds) in [
            ("47:30", 2850),
            ("1:12:05", 4325),
            ("0:47:30", 2850),
            ("47", 2820),
            ("47.5", 2850),
            ("47,5", 2850),
            ("47 min", 2820),
            ("47min", 2820),
            ("47 mins.", 2820),
            ("1 h 25 min", 5100),
            ("1h25", 5100),
            ("1h 25m", 5100),
            ("1.5 h", 5400),
            ("90 s", 90),
            ("47 min 30 s", 2850),
            ("４７：３０", 2850),
            ("9:15", 555),
            ("100:00", 6000),
            ("9:00:00", 32400),
            (" 47 ", 2820),
            ("47:30 min", 2850),
        ] {
            assert_eq!(parse(cell, WHOLE), Ok(Some(Read::Seconds(seconds))), "{cell}");
        }
    }

    #[test]
    fn a_whole_service_of_one_colon_twenty_five_is_asked_about() {
        assert_eq!(parse("1:25", WHOLE), Ok(Some(Read::Ask)));
        assert_eq!(parse("1:25", STAGE), Ok(Some(Read::Seconds(85))));
        let hours = Column { two_part: Some(TwoPart::HoursMinutes), ..WHOLE };
        assert_eq!(parse("1:25", hours), Ok(Some(Read::Seconds(5100))));
        assert_eq!(parse("85:10", hours), Ok(Some(Read::Seconds(5110))));
        let minutes = Column { two_part: Some(TwoPart::MinutesSeconds), ..WHOLE };
        assert_eq!(parse("1:25", minutes), Ok(Some(Read::Seconds(85))));
    }

    #[test]
    fn the_header_may_answer() {
        assert_eq!(Column::new(Span::Whole, "Service time (h:mm)", None).two_part, Some(TwoPart::HoursMinutes));
        assert_eq!(Column::new(Span::Whole, "Total mm:ss", None).two_part, Some(TwoPart::MinutesSeconds));
        assert_eq!(Column::new(Span::Whole, "Total (h:mm:ss)", None).two_part, None);
        assert!(Column::new(Span::Dwell, "Dwell L (sec)", None).bare_seconds);
        assert!(!Column::new(Span::Dwell, "Dwell L (mm:ss)", None).bare_seconds);
    }

    #[test]
    fn what_is_no_time_says_why() {
        for (cell, part) in [
            ("0", "zero"),
            ("0:00", "zero"),
            ("0:00:00", "zero"),
            ("9:00:01", "9 hours"),
            ("600", "9 hours"),
            ("47:75", "up to 59"),
            ("1:60:00", "up to 59"),
            ("about an hour", "not a time"),
            ("=B2-C2", "not a time"),
            ("-5", "less than nothing"),
            ("1:2:3:4", "not a time"),
            ("99999999999", "not a time"),
            ("12 parsecs", "not a time"),
            ("5 min 5 min", "not a time"),
            ("1.", "not a time"),
            ("#VALUE!", "not a time"),
        ] {
            let reason = parse(cell, WHOLE).unwrap_err();
            assert!(reason.contains(part), "{cell}: {reason}");
        }
        assert!(parse("420", DWELL).unwrap_err().contains("420 s"));
    }

    #[test]
    fn a_sign_for_nothing_is_nothing() {
        for cell in ["", "  ", "-", "–", "n/a", "?"] {
            assert_eq!(parse(cell, WHOLE), Ok(None), "{cell}");
        }
    }
}
