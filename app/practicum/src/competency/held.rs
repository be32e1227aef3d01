//! Whether a trainee holds a competency now.

use super::{Decision, EvidenceInput, SignOff};
use crate::course_book::Competency;
use crate::evidence;
use crate::ids::ServiceId;
use crate::moment::{Day, Moment};
use crate::service::Service;
use crate::standing::gap::{day_after, days_between};

/// How a competency stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Held {
    /// Nobody decided yet.
    Undecided,
    /// Looked at, and not yet.
    NotYet,
    /// Signed off and in force.
    Signed,
    /// Signed off, then withdrawn.
    Withdrawn,
    /// Lapsed after too long without a service, since this day.
    Lapsed(Day),
    /// Suspended by these services with a safety breach, until an acceptable service was observed.
    Suspended(Vec<ServiceId>),
}

/// How a competency stands, with the decision it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldSignOff<'a> {
    /// How it stands.
    pub state: Held,
    /// The last decision by somebody other than the trainee.
    pub last: Option<&'a SignOff>,
}

/// Works out whether a trainee holds a competency at a moment.
///
/// A sign-off lapses for good when more days than the course book allows pass between it and the next live
/// service, or between two later ones. A safety breach after the sign-off of the whole service suspends it.
pub fn held<'a>(
    competency: &Competency,
    sign_offs: &[&'a SignOff],
    input: &EvidenceInput,
    now: &Moment,
) -> HeldSignOff<'a> {
    let about =
        |one: &&&SignOff| one.competency == competency.id && one.trainee == *input.trainee && one.by != *input.trainee;
    let last = sign_offs.iter().filter(about).copied().max_by(|a, b| (a.at, &a.id).cmp(&(b.at, &b.id)));
    let state = match last.map(|one| one.decision) {
        None => Held::Undecided,
        Some(Decision::NotYet) => Held::NotYet,
        Some(Decision::Withdrawn) => Held::Withdrawn,
        Some(Decision::Signed) => last.map_or(Held::Undecided, |signed| in_force(competency, signed, input, now)),
    };
    HeldSignOff { state, last }
}

fn in_force(competency: &Competency, signed: &SignOff, input: &EvidenceInput, now: &Moment) -> Held {
    let records = evidence::records_of(input.trainee, input.services);
    let live: Vec<&Service> = records.iter().copied().filter(|service| service.is_service()).collect();
    let since: Vec<&Service> = live.iter().copied().filter(|service| service.began > signed.at).collect();
    let allowed = input.books.present.rules.lapse_days;
    let mut before = signed.at.date_naive();
    for day in since.iter().map(|service| service.day()).chain([now.date_naive()]) {
        if days_between(before, day) > allowed {
            return Held::Lapsed(day_after(before, allowed).unwrap_or(day));
        }
        before = before.max(day);
    }
    let assessed = evidence::assessed(&live, input.outcomes, &input.books);
    let breaches = evidence::breaches(&since, &assessed, &input.books);
    let Some(last_breach) = breaches.last().filter(|_| competency.whole_service) else { return Held::Signed };
    let seen_again = assessed
        .iter()
        .any(|one| one.service.began > last_breach.service.began && one.counts() && one.observed && one.acceptable());
    match seen_again {
        true => Held::Signed,
        false => Held::Suspended(breaches.iter().map(|breach| breach.service.id.clone()).collect()),
    }
}
