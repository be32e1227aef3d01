//! The device's clocks: the wall clock, which people set, and the even clock of this page life.

use std::cell::OnceCell;

use chrono::{DateTime, FixedOffset, Utc};
use wasm_bindgen::{JsCast, JsValue};

use super::{property, random};

/// What the two clocks said at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// Milliseconds of the wall clock since 1970-01-01T00:00:00Z.
    pub wall_ms: i64,
    /// Minutes that local time is ahead of UTC at this moment, daylight saving included.
    pub offset_minutes: i32,
    /// Page life: a random number that stays the same until the page is loaded anew.
    pub page: u32,
    /// Milliseconds of the even clock since the page was loaded; may stand still while the device sleeps.
    pub mono_ms: u64,
}

impl Reading {
    /// Returns the wall clock as a moment with its offset.
    pub fn moment(&self) -> DateTime<FixedOffset> {
        moment_of(self.wall_ms, self.offset_minutes)
    }

    /// Returns the reading in the words of the practicum.
    pub fn tap(&self) -> practicum::moment::Reading {
        practicum::moment::Reading { at: self.moment(), page: self.page, mono_ms: self.mono_ms }
    }
}

thread_local! {
    static PAGE: OnceCell<u32> = const { OnceCell::new() };
}

/// Reads both clocks.
pub fn now() -> Reading {
    let date = js_sys::Date::new_0();
    let mono = web_sys::window().and_then(|window| window.performance()).map_or(0.0, |clock| clock.now());
    Reading {
        wall_ms: date.get_time() as i64,
        offset_minutes: offset_of(&date),
        page: PAGE.with(|page| *page.get_or_init(random::number)),
        mono_ms: mono as u64,
    }
}

/// Returns the minutes that local time is, was or will be ahead of UTC at a moment in milliseconds since 1970.
pub fn offset_minutes_at(wall_ms: i64) -> i32 {
    offset_of(&js_sys::Date::new(&JsValue::from_f64(wall_ms as f64)))
}

/// Returns the name of the device's time zone, such as `Europe/Lisbon`, where the browser says it.
pub fn time_zone() -> Option<String> {
    let format = js_sys::Intl::DateTimeFormat::new(&js_sys::Array::new(), &js_sys::Object::new());
    property(&format.resolved_options(), "timeZone")?.as_string()
}

/// Whether the browser knows a time zone by this name; true where it cannot be asked.
pub fn knows_time_zone(name: &str) -> bool {
    let how = js_sys::Object::new();
    let intl = property(&js_sys::global(), "Intl").and_then(|intl| property(&intl, "DateTimeFormat"));
    let Some(format) = intl.and_then(|format| format.dyn_into::<js_sys::Function>().ok()) else { return true };
    if js_sys::Reflect::set(&how, &"timeZone".into(), &JsValue::from_str(name)).is_err() {
        return true;
    }
    // An unknown name is answered with an exception.
    js_sys::Reflect::construct(&format, &js_sys::Array::of2(&"en".into(), &how)).is_ok()
}

fn offset_of(date: &js_sys::Date) -> i32 {
    // The browser counts minutes behind UTC.
    -(date.get_timezone_offset() as i32)
}

fn moment_of(wall_ms: i64, offset_minutes: i32) -> DateTime<FixedOffset> {
    let utc = DateTime::<Utc>::from_timestamp_millis(wall_ms).unwrap_or_default();
    match FixedOffset::east_opt(offset_minutes.saturating_mul(60)) {
        Some(offset) => utc.with_timezone(&offset),
        None => utc.fixed_offset(),
    }
}

#[cfg(test)]
mod tests {
    use super::moment_of;

    #[test]
    fn a_moment_carries_the_offset_it_was_read_with() {
        let summer = moment_of(1_774_747_800_000, 60);
        assert_eq!(summer.to_rfc3339(), "2026-03-29T02:30:00+01:00");
    }

    #[test]
    fn a_clock_beyond_reason_gives_a_moment_all_the_same() {
        assert_eq!(moment_of(i64::MAX, 0).timestamp(), 0);
        assert_eq!(moment_of(0, i32::MAX).timestamp(), 0);
    }
}
