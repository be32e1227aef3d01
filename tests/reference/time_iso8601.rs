//! Date and time handling against examples that the standards print.
//!
//! Sources: RFC 3339, section 5.8 (July 2002), and ISO 8601:2000(E), section 5.4.1, page 19.

use chrono::{TimeDelta, Timelike};
use practicum::moment::{Moment, format_moment, format_seconds, parse_moment};

fn moment(text: &str) -> Moment {
    parse_moment(text).unwrap_or_else(|problem| panic!("{problem}"))
}

/// RFC 3339, 5.8, first example: 20 minutes and 50.52 seconds after the 23rd hour of 12 April 1985 in UTC.
#[test]
fn a_fraction_of_a_second_is_kept_when_read_and_dropped_when_written() {
    let read = moment("1985-04-12T23:20:50.52Z");
    assert_eq!((read.hour(), read.minute(), read.second(), read.nanosecond()), (23, 20, 50, 520_000_000));
    assert_eq!(format_moment(&read), "1985-04-12T23:20:50+00:00");
}

/// RFC 3339, 5.8, second example: eight hours behind UTC, the same as 1996-12-20T00:39:57Z.
#[test]
fn an_offset_behind_utc_names_the_same_moment() {
    let read = moment("1996-12-19T16:39:57-08:00");
    assert_eq!(read, moment("1996-12-20T00:39:57Z"));
    assert_eq!(format_moment(&read), "1996-12-19T16:39:57-08:00");
}

/// RFC 3339, 5.8, third and fourth example: the leap second at the end of 1990, in UTC and eight hours behind.
///
/// What we do: a leap second is read and written back as `:60`, in both offsets the same moment. It
/// lies after 23:59:59 and not after the next midnight, so that no order is turned round.
#[test]
fn a_leap_second_is_read_and_written_back() {
    let utc = moment("1990-12-31T23:59:60Z");
    let pacific = moment("1990-12-31T15:59:60-08:00");
    assert_eq!(utc, pacific);
    assert_eq!(format_moment(&utc), "1990-12-31T23:59:60+00:00");
    assert_eq!(format_moment(&pacific), "1990-12-31T15:59:60-08:00");
    let (before, after) = (moment("1990-12-31T23:59:59Z"), moment("1991-01-01T00:00:00Z"));
    assert!(before < utc && utc <= after);
    for span in [utc - before, after - utc, after - before] {
        assert!(span >= TimeDelta::zero() && span <= TimeDelta::seconds(2), "{span}");
    }
}

/// RFC 3339, 5.8, fifth example: noon in the Netherlands in 1937, nineteen minutes and some seconds
/// ahead of UTC, written with the nearest offset.
#[test]
fn an_offset_of_twenty_minutes_is_kept() {
    let read = moment("1937-01-01T12:00:27.87+00:20");
    assert_eq!(read.offset().local_minus_utc(), 20 * 60);
    assert_eq!(read, moment("1937-01-01T11:40:27.87Z"));
    assert_eq!(format_moment(&read), "1937-01-01T12:00:27+00:20");
}

/// ISO 8601:2000(E), 5.4.1, extended format: the two forms that name an offset to the minute.
#[test]
fn extended_forms_with_an_offset_are_read() {
    assert_eq!(format_moment(&moment("1985-04-12T10:15:30Z")), "1985-04-12T10:15:30+00:00");
    let read = moment("1985-04-12T10:15:30+04:00");
    assert_eq!(format_moment(&read), "1985-04-12T10:15:30+04:00");
    assert_eq!(read, moment("1985-04-12T06:15:30Z"));
}

/// ISO 8601:2000(E), 5.4.1: basic format, local time and an offset in hours only. RFC 3339, 5.6, leaves
/// these out, and so do we: a moment of a record never depends on where it is read.
#[test]
fn forms_outside_rfc_3339_are_refused_with_a_sentence() {
    for text in [
        "19850412T101530",
        "19850412T101530Z",
        "19850412T101530+0400",
        "19850412T101530+04",
        "1985-04-12T10:15:30",
        "1985-04-12T10:15:30+04",
    ] {
        let problem = parse_moment(text).expect_err(text);
        assert!(problem.contains(text) && problem.contains("such as 2026-03-29T14:05:00+01:00"), "{problem}");
    }
}

/// RFC 3339, 5.7: limits of month, day, hour, minute and offset.
#[test]
fn impossible_dates_and_times_are_refused() {
    for text in [
        "2025-02-29T12:00:00Z",
        "2026-13-01T12:00:00Z",
        "2026-04-31T12:00:00Z",
        "2026-04-30T24:00:00Z",
        "2026-04-30T23:60:00Z",
        "2026-04-30T23:59:61Z",
        "2026-04-30T23:59:59+24:00",
        "",
    ] {
        assert!(parse_moment(text).is_err(), "{text}");
    }
    assert!(parse_moment("2024-02-29T12:00:00Z").is_ok(), "2024 is a leap year: RFC 3339, appendix C");
    assert!(parse_moment("2100-02-29T12:00:00Z").is_err(), "2100 is none: RFC 3339, appendix C");
}

/// The clocks go forward in Great Britain on 29 March 2026 at 01:00 UTC: half an hour later it is 02:30
/// by the wall, and the offset says so.
#[test]
fn a_span_over_the_change_of_clocks_counts_real_time() {
    let (before, after) = (moment("2026-03-29T00:45:00+00:00"), moment("2026-03-29T02:15:00+01:00"));
    assert_eq!((after - before).num_seconds(), 30 * 60);
    assert_eq!(format_seconds(30 * 60), "30:00");
}

/// Durations are written as minutes and seconds, and with hours from one hour on.
#[test]
fn durations_are_written_without_ambiguity() {
    for (seconds, text) in
        [(0, "0:00"), (59, "0:59"), (60, "1:00"), (3599, "59:59"), (3600, "1:00:00"), (86_399, "23:59:59")]
    {
        assert_eq!(format_seconds(seconds), text);
    }
}
