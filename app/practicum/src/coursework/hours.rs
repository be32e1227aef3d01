//! Hours by type, supervised or not, without counting the same time twice.

use std::collections::{BTreeMap, BTreeSet};

use super::{Attendance, Learning};
use crate::course_book::Medium;
use crate::moment::Day;
use crate::service::Service;

/// Time of one type.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Minutes {
    /// With somebody supervising.
    pub supervised: u32,
    /// Alone.
    pub alone: u32,
}

impl Minutes {
    /// Returns both together.
    pub fn all(self) -> u32 {
        self.supervised.saturating_add(self.alone)
    }
}

/// A run at the couch whose time counts.
#[derive(Debug, Clone, Copy)]
pub struct Run<'a> {
    /// The service or drill.
    pub service: &'a Service,
    /// An assessor watched from end to end.
    pub supervised: bool,
}

fn learning(medium: Medium) -> Learning {
    match medium {
        Medium::Live => Learning::Live,
        Medium::Strip => Learning::Strip,
        Medium::Head => Learning::Head,
    }
}

/// Sums one trainee's time by type, in minutes.
///
/// A logged run counts with its service time, rounded up to the minute; one without a time does not count. Attendance
/// of strips, heads or live work counts only on days without a logged run of that type: what was both noted and
/// logged would count twice otherwise. Theory and demonstrations always count as noted.
pub fn hours(attendance: &[&Attendance], runs: &[Run]) -> BTreeMap<Learning, Minutes> {
    let mut sums: BTreeMap<Learning, Minutes> = BTreeMap::new();
    let mut logged: BTreeSet<(Learning, Day)> = BTreeSet::new();
    for run in runs {
        let Some(seconds) = run.service.times.service.filter(|seconds| *seconds > 0) else { continue };
        let of = learning(run.service.medium);
        logged.insert((of, run.service.day()));
        add(&mut sums, of, seconds.div_ceil(60), run.supervised);
    }
    for time in attendance {
        if !logged.contains(&(time.learning, time.on)) {
            add(&mut sums, time.learning, time.minutes, time.supervised_by.is_some());
        }
    }
    sums
}

fn add(sums: &mut BTreeMap<Learning, Minutes>, of: Learning, minutes: u32, supervised: bool) {
    let sum = sums.entry(of).or_default();
    let part = if supervised { &mut sum.supervised } else { &mut sum.alone };
    *part = part.saturating_add(minutes);
}

/// Says minutes in hours and minutes: `3 h 05 min`.
pub fn say_minutes(minutes: u32) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, minutes) => format!("{hours} h {minutes:02} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::example::{drill, service};
    use crate::section::Plan;

    fn time(on: Day, learning: Learning, minutes: u32, supervised: bool) -> Attendance {
        Attendance {
            trainee: "trainee".into(),
            on,
            learning,
            minutes,
            title: String::new(),
            supervised_by: supervised.then(|| "i".into()),
        }
    }

    #[test]
    fn time_is_summed_by_type_supervised_or_not() {
        let day = service(1, 1, Plan::Quarters, 1800).day();
        let [theory, more] = [time(day, Learning::Theory, 90, true), time(day, Learning::Theory, 30, false)];
        let sums = hours(&[&theory, &more], &[]);
        assert_eq!(sums.get(&Learning::Theory), Some(&Minutes { supervised: 90, alone: 30 }));
        assert_eq!(sums[&Learning::Theory].all(), 120);
    }

    #[test]
    fn what_was_logged_is_not_counted_again_as_attendance() {
        // Service time is twice the hands-on time in the example: 3601 seconds are 61 minutes.
        let mut live = service(1, 1, Plan::Quarters, 1800);
        live.times.service = Some(3601);
        let strip = drill(service(2, 1, Plan::Quarters, 600));
        let noted = [
            time(live.day(), Learning::Live, 180, true),
            time(live.day(), Learning::Head, 45, true),
            time(live.day() + chrono::Days::new(1), Learning::Live, 20, true),
        ];
        let noted: Vec<&Attendance> = noted.iter().collect();
        let runs = [Run { service: &live, supervised: true }, Run { service: &strip, supervised: false }];
        let sums = hours(&noted, &runs);
        assert_eq!(sums[&Learning::Live], Minutes { supervised: 81, alone: 0 });
        assert_eq!(sums[&Learning::Strip], Minutes { supervised: 0, alone: 20 });
        assert_eq!(sums[&Learning::Head], Minutes { supervised: 45, alone: 0 });
    }

    #[test]
    fn a_run_without_a_time_leaves_the_attendance_of_its_day() {
        let mut live = service(1, 1, Plan::Quarters, 1800);
        live.times.service = None;
        let noted = time(live.day(), Learning::Live, 60, true);
        let sums = hours(&[&noted], &[Run { service: &live, supervised: true }]);
        assert_eq!(sums[&Learning::Live].supervised, 60);
    }

    #[test]
    fn minutes_are_said_as_people_say_them() {
        assert_eq!([0, 59, 60, 185].map(say_minutes), ["0 min", "59 min", "1 h 00 min", "3 h 05 min"]);
    }
}
