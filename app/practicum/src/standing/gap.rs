//! What is due after a time without services.

use super::Sorted;
use crate::course_book::Rules;
use crate::ids::ServiceId;
use crate::moment::{Day, Moment};

/// What is due after a gap, from nothing to the most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Due {
    /// Nothing.
    Nothing,
    /// A refresher.
    Refresher,
    /// A refresher with an instructor present.
    SupervisedRefresher,
    /// To be observed again from end to end.
    Reobserve,
    /// Sign-offs have lapsed; to be observed again from end to end.
    Lapsed,
}

impl Due {
    /// Returns what is due in a few words.
    pub fn say(self) -> &'static str {
        match self {
            Due::Nothing => "nothing due",
            Due::Refresher => "a refresher is due",
            Due::SupervisedRefresher => "a supervised refresher is due",
            Due::Reobserve => "to be observed again from end to end",
            Due::Lapsed => "sign-offs have lapsed; to be observed again from end to end",
        }
    }

    /// Returns what is due after this many days without a service: each limit holds for the day itself.
    pub fn after(days: u32, rules: &Rules) -> Due {
        let limits = [
            (rules.lapse_days, Due::Lapsed),
            (rules.reobserve_days, Due::Reobserve),
            (rules.supervised_days, Due::SupervisedRefresher),
            (rules.refresher_days, Due::Refresher),
        ];
        limits.into_iter().find(|(limit, _)| days > *limit).map_or(Due::Nothing, |(_, due)| due)
    }
}

/// The gap since the last live service, and what is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gap {
    /// The last live service and its day; `None` before the first.
    pub last: Option<(ServiceId, Day)>,
    /// Whole days since; 0 before the first service, or when it lies in the future.
    pub days: u32,
    /// What is due now. After an earlier gap, a supervised refresher or an observation stays due until a
    /// service was observed from end to end.
    pub due: Due,
    /// Day since which it is due.
    pub since: Option<Day>,
    /// What falls due next without a service, and on which day.
    pub next: Option<(Due, Day)>,
}

/// Returns whole days from one day to a later one; 0 when it is not later.
pub(crate) fn days_between(from: Day, to: Day) -> u32 {
    u32::try_from(to.signed_duration_since(from).num_days()).unwrap_or(0)
}

/// Returns the first day on which something is due that is due "after" so many days.
pub(crate) fn day_after(from: Day, days: u32) -> Option<Day> {
    from.checked_add_days(chrono::Days::new(u64::from(days).saturating_add(1)))
}

pub(super) fn gap(sorted: &Sorted, now: &Moment) -> Gap {
    let rules = &sorted.books.present.rules;
    let today = now.date_naive();
    let Some(last) = sorted.live.last() else {
        return Gap { last: None, days: 0, due: Due::Nothing, since: None, next: None };
    };
    let limit = |due: Due| match due {
        Due::Nothing => 0,
        Due::Refresher => rules.refresher_days,
        Due::SupervisedRefresher => rules.supervised_days,
        Due::Reobserve => rules.reobserve_days,
        Due::Lapsed => rules.lapse_days,
    };
    let days = days_between(last.day(), today);
    let observed = |id: &ServiceId| sorted.assessed.iter().any(|one| one.service.id == *id && one.observed);
    let mut pending = (Due::Nothing, None);
    for pair in sorted.live.windows(2) {
        let [before, after] = pair else { continue };
        let due = Due::after(days_between(before.day(), after.day()), rules);
        if due >= Due::SupervisedRefresher && due > pending.0 {
            pending = (due, day_after(before.day(), limit(due)));
        }
        if observed(&after.id) {
            pending = (Due::Nothing, None);
        }
    }
    let present = Due::after(days, rules);
    let (due, since) = if present >= pending.0 { (present, day_after(last.day(), limit(present))) } else { pending };
    let coming = [Due::Refresher, Due::SupervisedRefresher, Due::Reobserve, Due::Lapsed];
    let next = coming.into_iter().find(|coming| *coming > due && limit(*coming) >= days);
    Gap {
        last: Some((last.id.clone(), last.day())),
        days,
        due,
        since: since.filter(|_| due != Due::Nothing),
        next: next.and_then(|coming| Some((coming, day_after(last.day(), limit(coming))?))),
    }
}
