//! Dwell figures as they are typed: read, and held against each other.

use practicum::course_book::LashCondition;
use practicum::moment::{Seconds, format_seconds};
use practicum::product::DwellWindow;

/// Longest dwell that can be typed: two hours.
const LONGEST: Seconds = 2 * 60 * 60;

/// Reads a dwell typed as `m:ss` or in minutes; nothing when the field is empty.
pub(super) fn read(typed: &str) -> Result<Option<Seconds>, String> {
    let typed = typed.trim();
    if typed.is_empty() {
        return Ok(None);
    }
    let wrong = || format!("“{typed}” is not a time: type minutes and seconds such as 6:30, or minutes such as 6.");
    let seconds = match typed.split_once(':') {
        Some((minutes, seconds)) => {
            let two = Some(seconds).filter(|text| text.len() == 2).and_then(number).filter(|seconds| *seconds < 60);
            number(minutes).zip(two).map(|(minutes, seconds)| minutes * 60 + seconds)
        }
        None => minutes(typed),
    };
    let seconds = seconds.ok_or_else(wrong)?;
    match seconds {
        0 => Err("A dwell of nothing is no dwell: leave the field empty instead.".to_owned()),
        seconds if seconds > LONGEST => {
            Err(format!("A dwell above {} is not taken: look at the label again.", format_seconds(LONGEST)))
        }
        seconds => Ok(Some(seconds)),
    }
}

/// Reads one to three digits.
fn number(text: &str) -> Option<Seconds> {
    let digits = (1..=3).contains(&text.len()) && text.bytes().all(|digit| digit.is_ascii_digit());
    if digits { text.parse().ok() } else { None }
}

/// Reads minutes with at most two places, after a point or a comma; to the nearest second.
fn minutes(text: &str) -> Option<Seconds> {
    let (whole, part) = text.split_once(['.', ',']).unwrap_or((text, "0"));
    let hundredths = match part.len() {
        1 => number(part)? * 10,
        2 => number(part)?,
        _ => return None,
    };
    Some(number(whole)? * 60 + (hundredths * 60 + 50) / 100)
}

/// Writes a dwell as it is typed.
pub(super) fn write(seconds: Option<Seconds>) -> String {
    seconds.map(format_seconds).unwrap_or_default()
}

/// What is wrong with each of planned, minimum and maximum, as sentences.
pub(super) type Wrong = [Option<String>; 3];

/// Holds one window against itself and against the label's maximum.
pub(super) fn judge(window: &DwellWindow, label_maximum: Option<Seconds>, condition: LashCondition) -> Wrong {
    let word = condition.word();
    let label = label_maximum.map(format_seconds).unwrap_or_default();
    let above = |seconds: Option<Seconds>, limit: Option<Seconds>| {
        seconds.zip(limit).is_some_and(|(seconds, limit)| limit < seconds)
    };
    let (planned, minimum, maximum) = (window.planned, window.minimum, window.maximum);
    let planned_wrong = if above(planned, label_maximum) {
        Some(format!("The planned dwell for {word} lashes may not be above the label maximum of {label}."))
    } else if above(minimum, planned) {
        Some(format!("The planned dwell for {word} lashes is below their minimum of {}.", write(minimum)))
    } else if above(planned, maximum) {
        Some(format!("The planned dwell for {word} lashes is above their maximum of {}.", write(maximum)))
    } else {
        None
    };
    let minimum_wrong = above(minimum, maximum)
        .then(|| format!("The minimum for {word} lashes is above their maximum of {}.", write(maximum)));
    let maximum_wrong = above(maximum, label_maximum)
        .then(|| format!("The maximum for {word} lashes may not be above the label maximum of {label}."));
    [planned_wrong, minimum_wrong, maximum_wrong]
}

#[cfg(test)]
mod tests {
    use practicum::course_book::LashCondition;
    use practicum::product::DwellWindow;

    use super::{judge, read};

    #[test]
    fn a_dwell_is_typed_as_minutes_and_seconds_or_as_minutes() {
        let cases = [
            ("6:30", 390),
            ("6", 360),
            ("6.5", 390),
            ("6,5", 390),
            (" 0:45 ", 45),
            ("05:00", 300),
            ("0.25", 15),
            ("120", 7200),
        ];
        for (typed, seconds) in cases {
            assert_eq!(read(typed), Ok(Some(seconds)), "{typed}");
        }
        assert_eq!(read("  "), Ok(None));
    }

    #[test]
    fn what_is_no_dwell_is_refused() {
        for typed in
            ["6:3", "6:60", "-1", "6:", ":30", "six", "6:30:00", "6.555", "1e3", "0", "0:00", "121", "999:59", "٦"]
        {
            assert!(read(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn a_planned_dwell_stays_inside_its_window_and_below_the_label_maximum() {
        let window = |planned, minimum, maximum| DwellWindow { planned, minimum, maximum };
        let wrong =
            |window: DwellWindow, label| judge(&window, label, LashCondition::Weak).map(|wrong| wrong.is_some());
        assert_eq!(wrong(window(Some(300), Some(300), Some(420)), Some(420)), [false, false, false]);
        assert_eq!(wrong(window(Some(421), None, None), Some(420)), [true, false, false]);
        assert_eq!(wrong(window(Some(299), Some(300), None), None), [true, false, false]);
        assert_eq!(wrong(window(Some(430), None, Some(420)), None), [true, false, false]);
        assert_eq!(wrong(window(None, Some(430), Some(420)), None), [false, true, false]);
        assert_eq!(wrong(window(None, None, Some(430)), Some(420)), [false, false, true]);
        assert_eq!(wrong(DwellWindow::default(), None), [false, false, false]);
    }
}
