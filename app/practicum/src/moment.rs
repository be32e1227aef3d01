//! Moments with their offset, readings of a device's clocks, and durations that cannot go wrong in silence.

use chrono::{DateTime, FixedOffset};

/// A moment with the offset of the place where it was read (RFC 3339).
pub type Moment = DateTime<FixedOffset>;

/// A calendar day without a time zone.
pub type Day = chrono::NaiveDate;

/// Whole seconds.
pub type Seconds = u32;

/// What a device's two clocks said when a tap was made.
///
/// `mono_ms` runs evenly but starts anew with each page life and may stand still while the device
/// sleeps; `at` can be set by hand. Both are kept, so that a disagreement can be seen later.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// Wall clock with offset.
    pub at: Moment,
    /// Page life: any number that differs from one page life to the next.
    pub page: u32,
    /// Milliseconds on the even clock of this page life.
    pub mono_ms: u64,
}

/// Reads a moment written as RFC 3339 / ISO 8601 with an offset, e.g. `2026-03-29T01:30:00+01:00`.
///
/// # Errors
/// Returns a sentence when the text is not such a moment.
pub fn parse_moment(text: &str) -> Result<Moment, String> {
    DateTime::parse_from_rfc3339(text.trim())
        .map_err(|_| format!("“{text}” is not a date and time with an offset, such as 2026-03-29T14:05:00+01:00"))
}

/// Writes a moment as RFC 3339 in whole seconds.
pub fn format_moment(moment: &Moment) -> String {
    moment.to_rfc3339_opts(chrono::SecondsFormat::Secs, false)
}

/// Writes seconds as `m:ss`, or `h:mm:ss` from one hour on.
pub fn format_seconds(seconds: Seconds) -> String {
    let (h, m, s) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if h > 0 { format!("{h}:{m:02}:{s:02}") } else { format!("{m}:{s:02}") }
}
