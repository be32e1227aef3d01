//! What follows a service: how the lift holds, photos, recalls of a lot, what followed an incident, licences.

use crate::eye::{Eye, PerEye};
use crate::ids::{IncidentId, PersonId, PracticeModelId, ProductId, ServiceId};
use crate::moment::{Day, Moment};
use crate::order::InOrder;
use crate::service::Service;

/// How the lift of an eye looks some time later.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LiftSeen {
    /// It holds.
    Held,
    /// Part of it has dropped.
    PartlyDropped,
    /// It has dropped.
    Dropped,
    /// Nobody looked.
    NotSeen,
}

impl LiftSeen {
    /// All, the best first.
    pub const ALL: [LiftSeen; 4] = [LiftSeen::Held, LiftSeen::PartlyDropped, LiftSeen::Dropped, LiftSeen::NotSeen];

    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            LiftSeen::Held => "held",
            LiftSeen::PartlyDropped => "partly dropped",
            LiftSeen::Dropped => "dropped",
            LiftSeen::NotSeen => "not seen",
        }
    }

    /// Whether some or all of it has dropped.
    pub fn dropped(self) -> bool {
        matches!(self, LiftSeen::PartlyDropped | LiftSeen::Dropped)
    }
}

/// What the practice model says of the days since.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Comfort {
    /// No complaint.
    NoComplaint,
    /// Slight discomfort.
    Slight,
    /// Something to be reported as an incident.
    ToReport,
    /// Not asked.
    NotAsked,
}

impl Comfort {
    /// All, the best first.
    pub const ALL: [Comfort; 4] = [Comfort::NoComplaint, Comfort::Slight, Comfort::ToReport, Comfort::NotAsked];

    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            Comfort::NoComplaint => "no complaint",
            Comfort::Slight => "slight discomfort",
            Comfort::ToReport => "more than that: report an incident",
            Comfort::NotAsked => "not asked",
        }
    }
}

/// A lift looked at again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LiftFollowUp {
    /// Of which service.
    pub service: ServiceId,
    /// On which day.
    pub on: Day,
    /// The planned look it stands for, in days after the service; `None` for one beside the plan.
    pub planned_day: Option<u32>,
    /// How each eye looks.
    pub eyes: PerEye<LiftSeen>,
    /// The two eyes, or the lashes of one, have become uneven.
    pub uneven: bool,
    /// What the practice model says.
    pub comfort: Comfort,
    /// In words; may be empty.
    pub words: String,
}

impl LiftFollowUp {
    /// Whether some of the lift was seen dropped.
    pub fn dropped(&self) -> bool {
        Eye::BOTH.into_iter().any(|eye| self.eyes.get(eye).dropped())
    }
}

/// A planned look that is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct LookDue {
    /// Days after the service, as the course book plans it.
    pub planned_day: u32,
    /// The day that makes.
    pub on: Day,
}

/// Returns the planned looks at a lift that are due on a day and not done, the first planned first.
///
/// A look is done when one was noted for it, or when a later planned one was.
pub fn looks_due(planned: &[u32], served_on: Day, done: &[&LiftFollowUp], today: Day) -> Vec<LookDue> {
    let farthest = done.iter().filter_map(|look| look.planned_day).max();
    let day = |after: u32| served_on.checked_add_days(chrono::Days::new(u64::from(after)));
    let due = |after: &&u32| farthest.is_none_or(|farthest| **after > farthest);
    let looks = planned.iter().filter(due).filter_map(|after| Some(LookDue { planned_day: *after, on: day(*after)? }));
    looks.filter(|look| look.on <= today).collect()
}

/// Lifts that had dropped when they were looked at again: a fault of the work as much as one seen at once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DroppedLifts {
    /// The services whose lift had dropped, the earliest first...
    pub services: Vec<ServiceId>,
    /// ... of the last this many that were looked at.
    pub of_last: u32,
}

/// Returns the lifts of a trainee that had dropped often enough to be coached: `rule` is how many times of how many
/// services, as for other faults, counted over services whose lift was looked at. `looks` are those of the trainee's
/// services, each service with all its looks.
pub fn dropped_lifts(services: &[(&Service, Vec<&LiftFollowUp>)], rule: (u32, u32)) -> Option<DroppedLifts> {
    let seen = |looks: &[&LiftFollowUp]| {
        looks.iter().any(|look| Eye::BOTH.into_iter().any(|eye| *look.eyes.get(eye) != LiftSeen::NotSeen))
    };
    let mut looked_at: Vec<_> = services.iter().filter(|(_, looks)| seen(looks)).collect();
    looked_at.order_by_key(|(service, _)| (service.began, service.id.clone()));
    let skip = looked_at.len().saturating_sub(usize::try_from(rule.1).unwrap_or(usize::MAX));
    let last = looked_at.get(skip..).unwrap_or_default();
    let dropped = last.iter().filter(|(_, looks)| looks.iter().any(|look| look.dropped()));
    let services: Vec<ServiceId> = dropped.map(|(service, _)| service.id.clone()).collect();
    let times = u32::try_from(services.len()).unwrap_or(u32::MAX);
    let of_last = u32::try_from(last.len()).unwrap_or(u32::MAX);
    (times >= rule.0.max(1)).then_some(DroppedLifts { services, of_last })
}

/// When a photo was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PhotoStage {
    /// Before the service.
    Before,
    /// With the lashes up on the shield.
    LashUp,
    /// After the service.
    After,
}

impl PhotoStage {
    /// All, in the order of a service.
    pub const ALL: [PhotoStage; 3] = [PhotoStage::Before, PhotoStage::LashUp, PhotoStage::After];

    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            PhotoStage::Before => "before",
            PhotoStage::LashUp => "after lash-up",
            PhotoStage::After => "after",
        }
    }
}

/// A photo of one eye, cropped to it, without place or device in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    /// Of whom.
    pub practice_model: PracticeModelId,
    /// At which service.
    pub service: ServiceId,
    /// Of which eye.
    pub eye: Eye,
    /// When in the service.
    pub stage: PhotoStage,
    /// When it was kept.
    pub at: Moment,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// The picture as JPEG, in Base64 (RFC 4648, section 4).
    pub jpeg: String,
}

impl Photo {
    /// Most characters of the picture in Base64: 96 kB as JPEG.
    pub const MOST_CHARACTERS: usize = 131_072;
    /// Longest side in pixels.
    pub const LONGEST_SIDE: u32 = 1_280;

    /// Checks size and form. What the bytes show is not looked at.
    ///
    /// # Errors
    /// Returns a sentence.
    pub fn check(&self) -> Result<(), String> {
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '+' | '/' | '=');
        if self.jpeg.len() > Self::MOST_CHARACTERS {
            Err("The photo is larger than 96 kB: crop it closer to the eye.".to_owned())
        } else if self.width == 0 || self.height == 0 || self.width.max(self.height) > Self::LONGEST_SIDE {
            Err(format!("A photo has 1 to {} pixels on each side.", Self::LONGEST_SIDE))
        } else if !self.jpeg.starts_with("/9j/") || !self.jpeg.chars().all(plain) {
            Err("The photo is not a JPEG picture.".to_owned())
        } else {
            Ok(())
        }
    }
}

/// A maker or a supplier calls a lot back, or the academy sets it aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotRecall {
    /// The product.
    pub product: ProductId,
    /// Lot number as printed.
    pub number: String,
    /// On which day.
    pub on: Day,
    /// Who said so, and why.
    pub why: String,
}

/// What followed an incident.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IncidentFollowed {
    /// Which incident.
    pub incident: IncidentId,
    /// On which day.
    pub on: Day,
    /// What was done or heard.
    pub words: String,
    /// Nothing more is to follow.
    pub closed: bool,
}

/// A licence, registration or certificate that local rules ask for, as its holder shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Licence {
    /// Whose.
    pub person: PersonId,
    /// What it is called.
    pub name: String,
    /// Its number.
    pub number: String,
    /// Who gave it.
    pub issuer: String,
    /// Last day on which it holds; `None` where it does not end.
    pub expires: Option<Day>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    fn look(planned_day: Option<u32>) -> LiftFollowUp {
        LiftFollowUp {
            service: "s".into(),
            on: day("2026-03-08"),
            planned_day,
            eyes: PerEye { left: LiftSeen::Held, right: LiftSeen::Held },
            uneven: false,
            comfort: Comfort::NoComplaint,
            words: String::new(),
        }
    }

    #[test]
    fn looks_fall_due_day_by_day_and_a_later_one_stands_for_those_before() {
        let planned = [7, 28, 42];
        let served = day("2026-03-01");
        let due = |done: &[&LiftFollowUp], today: &str| {
            looks_due(&planned, served, done, day(today)).iter().map(|look| look.planned_day).collect::<Vec<_>>()
        };
        assert_eq!(due(&[], "2026-03-07"), Vec::<u32>::new());
        assert_eq!(due(&[], "2026-03-08"), [7]);
        assert_eq!(due(&[], "2026-04-12"), [7, 28, 42]);
        assert_eq!(due(&[&look(Some(7))], "2026-03-29"), [28]);
        assert_eq!(due(&[&look(Some(28))], "2026-03-29"), Vec::<u32>::new());
        assert_eq!(due(&[&look(None)], "2026-03-08"), [7]);
    }

    #[test]
    fn dropped_lifts_count_among_those_that_were_looked_at() {
        let served = |number: u32| {
            crate::evidence::example::service(number, u64::from(number), crate::section::Plan::Quarters, 1_200)
        };
        let services: Vec<Service> = (1..=5).map(served).collect();
        let dropped =
            LiftFollowUp { eyes: PerEye { left: LiftSeen::Held, right: LiftSeen::PartlyDropped }, ..look(Some(7)) };
        let held = look(Some(7));
        let unseen =
            LiftFollowUp { eyes: PerEye { left: LiftSeen::NotSeen, right: LiftSeen::NotSeen }, ..look(Some(7)) };
        let of = |looks: [&[&LiftFollowUp]; 5]| {
            let known: Vec<_> = services.iter().zip(looks).map(|(service, looks)| (service, looks.to_vec())).collect();
            dropped_lifts(&known, (2, 3)).map(|found| (found.services.len(), found.of_last))
        };
        assert_eq!(of([&[], &[], &[], &[], &[]]), None);
        assert_eq!(of([&[&dropped], &[&held], &[], &[&held], &[&dropped]]), None, "one of the last three");
        assert_eq!(of([&[&held], &[&dropped], &[], &[&unseen], &[&dropped]]), Some((2, 3)));
        assert_eq!(of([&[&dropped], &[&held], &[&held, &dropped], &[], &[&dropped]]), Some((2, 3)));
    }

    #[test]
    fn a_photo_is_a_small_jpeg() {
        let photo = Photo {
            practice_model: "m".into(),
            service: "s".into(),
            eye: Eye::Left,
            stage: PhotoStage::After,
            at: crate::moment::parse_moment("2026-03-01T10:00:00+00:00").unwrap(),
            width: 640,
            height: 480,
            jpeg: "/9j/4AAQ".to_owned(),
        };
        assert!(photo.check().is_ok());
        assert!(Photo { width: 0, ..photo.clone() }.check().is_err());
        assert!(Photo { width: 1281, ..photo.clone() }.check().is_err());
        assert!(Photo { jpeg: "iVBORw0KGgo".to_owned(), ..photo.clone() }.check().is_err());
        assert!(Photo { jpeg: "/9j/\"><script>".to_owned(), ..photo.clone() }.check().is_err());
        assert!(Photo { jpeg: format!("/9j/{}", "A".repeat(131_072)), ..photo }.check().is_err());
    }
}
