//! Two devices that log the same service: which records look alike. Only a person says whether they are the same.

use std::collections::BTreeMap;

use practicum::ids::{DeviceId, PersonId};
use practicum::moment::Moment;
use practicum::service::Service;

use crate::log::Log;
use crate::records::{Recorded, Records};

/// Seconds within which two records that say no duration count as the same minute.
const SAME_MINUTE: i64 = 60;

/// Two records that look like the same service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alike<'a> {
    /// The one that began first.
    pub first: &'a Service,
    /// The other.
    pub second: &'a Service,
    /// Why they look alike, in a sentence.
    pub why: &'static str,
}

/// Returns the records of one trainee from two devices that look like one service, and about which nobody has said
/// anything yet: the same practice model on the same day, or times that overlap. Withdrawn ones are left out.
pub fn alike<'a>(log: &Log, records: &'a Records) -> Vec<Alike<'a>> {
    let mut by_trainee: BTreeMap<&PersonId, Vec<(&Recorded<Service>, DeviceId)>> = BTreeMap::new();
    for service in records.services().into_iter().filter(|service| service.withdrawn.is_none()) {
        let device = log.entry(&service.entry).map(|entry| entry.header().device.clone());
        if let Some(device) = device {
            by_trainee.entry(&service.value.trainee).or_default().push((service, device));
        }
    }
    let mut found = Vec::new();
    for services in by_trainee.values() {
        for (place, (first, device)) in services.iter().enumerate() {
            // In the order begun: whatever began more than a day later is another service.
            let later = services.iter().skip(place + 1);
            let near =
                later.take_while(|(second, _)| second.value.began - first.value.began < chrono::TimeDelta::days(1));
            for (second, other) in near.filter(|(_, other)| other != device) {
                let _ = other;
                let asked = records.settled(&first.value.id, &second.value.id).is_some();
                if !asked && let Some(why) = looks_alike(&first.value, &second.value) {
                    found.push(Alike { first: &first.value, second: &second.value, why });
                }
            }
        }
    }
    found
}

fn looks_alike(first: &Service, second: &Service) -> Option<&'static str> {
    if first.is_service() != second.is_service() {
        return None;
    }
    let same_person = first.practice_model.is_some() && first.practice_model == second.practice_model;
    if same_person && first.day() == second.day() {
        return Some("the same trainee and practice model on the same day, from two devices");
    }
    let overlap = second.began < end(first);
    overlap.then_some("the same trainee at the same time, from two devices")
}

/// Returns when a record ended as far as it says, at least a minute after it began.
fn end(service: &Service) -> Moment {
    let seconds = i64::from(service.times.service.unwrap_or(0)).max(SAME_MINUTE);
    service.began + chrono::TimeDelta::seconds(seconds)
}
