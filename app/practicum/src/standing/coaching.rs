//! Repeated faults turned into one line of coaching.

use super::Sorted;
use crate::evidence::Assessed;
use crate::ids::{FaultId, ServiceId};
use crate::order::{InOrder, set_of};

/// A fault seen again and again, or once where it touches safety.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coaching {
    /// The fault.
    pub fault: FaultId,
    /// Its name on screen.
    pub label: String,
    /// The likeliest cause.
    pub cause: String,
    /// One coaching line.
    pub line: String,
    /// In how many services it was seen...
    pub times: u32,
    /// ... of the last this many assessed live services.
    pub of_last: u32,
    /// It touches safety, so once is enough.
    pub safety: bool,
    /// The services it was seen in.
    pub services: Vec<ServiceId>,
}

pub(super) fn coaching(sorted: &Sorted) -> Vec<Coaching> {
    let rules = &sorted.books.present.rules;
    let counting: Vec<&Assessed> = sorted.counting().collect();
    let mut lines: Vec<Coaching> = Vec::new();
    for fault in &sorted.books.present.faults {
        let seen = |of_last: u32| {
            let skip = counting.len().saturating_sub(usize::try_from(of_last).unwrap_or(usize::MAX));
            let with = counting.iter().skip(skip).filter(|one| one.outcome.faults.iter().any(|f| f.fault == fault.id));
            let services = set_of(with.map(|one| (one.service.began, &one.service.id)));
            services.into_iter().map(|(_, id)| id.clone()).collect::<Vec<ServiceId>>()
        };
        let at_once = fault.safety.then_some((1, rules.fault_short.1.max(1)));
        let windows = [Some(rules.fault_long), Some(rules.fault_short), at_once];
        let found = windows.into_iter().flatten().find_map(|(times, of_last)| {
            let services = seen(of_last);
            let count = u32::try_from(services.len()).unwrap_or(u32::MAX);
            (count >= times.max(1)).then_some((count, of_last, services))
        });
        if let Some((times, of_last, services)) = found {
            let worked = u32::try_from(counting.len()).unwrap_or(u32::MAX);
            lines.push(Coaching {
                fault: fault.id.clone(),
                label: fault.label.clone(),
                cause: fault.causes.first().cloned().unwrap_or_default(),
                line: fault.coaching.clone(),
                times,
                of_last: of_last.min(worked),
                safety: fault.safety,
                services,
            });
        }
    }
    lines.order_by_key(|line| (!line.safety, std::cmp::Reverse(line.times)));
    lines
}
