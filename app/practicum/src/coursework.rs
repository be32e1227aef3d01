//! What a course holds beside services: attendance, theory papers, coaching, case studies, samples of marking.

pub mod hours;

use crate::ids::{CompetencyId, EntryId, FaultId, PersonId, ServiceId};
use crate::moment::Day;

/// How time was spent learning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Learning {
    /// Theory in class or from paper.
    Theory,
    /// Watching a demonstration.
    Demonstration,
    /// Practice on strips.
    Strip,
    /// Practice on a practice head.
    Head,
    /// Work on live practice models.
    Live,
}

impl Learning {
    /// All kinds, from theory to live work.
    pub const ALL: [Learning; 5] =
        [Learning::Theory, Learning::Demonstration, Learning::Strip, Learning::Head, Learning::Live];

    /// Returns the plain word.
    pub fn word(self) -> &'static str {
        match self {
            Learning::Theory => "theory",
            Learning::Demonstration => "demonstration",
            Learning::Strip => "strip practice",
            Learning::Head => "practice head",
            Learning::Live => "live practice model",
        }
    }
}

/// Time that a trainee spent learning on one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attendance {
    /// Who.
    pub trainee: PersonId,
    /// On which day.
    pub on: Day,
    /// How the time was spent.
    pub learning: Learning,
    /// Minutes, 1 to 1440.
    pub minutes: u32,
    /// What it was about, in words; may be empty.
    pub title: String,
    /// Who supervised; `None` for time alone.
    pub supervised_by: Option<PersonId>,
}

impl Attendance {
    /// Longest time of one entry, in minutes: a day.
    pub const MOST_MINUTES: u32 = 24 * 60;

    /// Checks the minutes.
    ///
    /// # Errors
    /// Returns a sentence when they are none, or more than a day has.
    pub fn check(&self) -> Result<(), String> {
        match self.minutes {
            1..=Self::MOST_MINUTES => Ok(()),
            other => Err(format!("Minutes go from 1 to {} (a day): {other} is given.", Self::MOST_MINUTES)),
        }
    }
}

/// Result of a theory paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TheoryResult {
    /// Whose.
    pub trainee: PersonId,
    /// Name of the paper.
    pub paper: String,
    /// Day it was written.
    pub on: Day,
    /// Points reached.
    pub points: u32,
    /// Points that could be reached, at least 1.
    pub out_of: u32,
    /// Points needed to pass, at most `out_of`.
    pub needed: u32,
}

impl TheoryResult {
    /// Whether the paper was passed.
    pub fn passed(&self) -> bool {
        self.points >= self.needed
    }

    /// Checks the points against one another.
    ///
    /// # Errors
    /// Returns a sentence.
    pub fn check(&self) -> Result<(), String> {
        if self.paper.trim().is_empty() {
            Err("Name the paper.".to_owned())
        } else if self.out_of == 0 {
            Err("Say how many points could be reached: at least 1.".to_owned())
        } else if self.points > self.out_of {
            Err(format!("{} points of {} is more than could be reached.", self.points, self.out_of))
        } else if self.needed > self.out_of {
            Err(format!("{} points are needed, but only {} could be reached.", self.needed, self.out_of))
        } else {
            Ok(())
        }
    }
}

/// A word to a trainee about what repeats itself, and one thing to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoachingNote {
    /// To whom.
    pub trainee: PersonId,
    /// About which fault, if one.
    pub fault: Option<FaultId>,
    /// Services that show it.
    pub services: Vec<ServiceId>,
    /// The one cause to try, as chosen or typed.
    pub cause: String,
    /// What to do on the next service.
    pub words: String,
}

/// A list of marked services for a second pair of eyes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sample {
    /// Drawn among the services that this assessor marked; `None` for anybody.
    pub assessor: Option<PersonId>,
    /// Drawn among the evidence of this competency; `None` for any.
    pub competency: Option<CompetencyId>,
    /// The services drawn.
    pub services: Vec<ServiceId>,
    /// Day it was drawn.
    pub on: Day,
}

/// What the second pair of eyes found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SampleFinding {
    /// The marking holds.
    Holds,
    /// To be talked over with the assessor.
    TalkOver,
    /// To be assessed again.
    AssessAgain,
}

impl SampleFinding {
    /// All findings.
    pub const ALL: [SampleFinding; 3] = [SampleFinding::Holds, SampleFinding::TalkOver, SampleFinding::AssessAgain];

    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            SampleFinding::Holds => "the marking holds",
            SampleFinding::TalkOver => "to be talked over",
            SampleFinding::AssessAgain => "to be assessed again",
        }
    }
}

/// A service of a sample was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SampleLook {
    /// The entry that drew the sample.
    pub sample: EntryId,
    /// The service.
    pub service: ServiceId,
    /// What was found.
    pub finding: SampleFinding,
    /// In words; may be empty where the marking holds.
    pub words: String,
    /// On which day.
    pub on: Day,
}

/// A case study set for a trainee: an evidence pack about work away from the academy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseStudy {
    /// For whom.
    pub trainee: PersonId,
    /// For which competency, if one.
    pub competency: Option<CompetencyId>,
    /// Its name.
    pub title: String,
    /// What the pack must hold, in words.
    pub asks: String,
    /// First day on which it may be handed in.
    pub opens: Day,
    /// Last day on which it may be handed in.
    pub due: Day,
    /// How often it may be handed in, the first time counted; at least 1.
    pub hand_ins: u32,
}

impl CaseStudy {
    /// Checks the window.
    ///
    /// # Errors
    /// Returns a sentence.
    pub fn check(&self) -> Result<(), String> {
        if self.title.trim().is_empty() {
            Err("Name the case study.".to_owned())
        } else if self.due < self.opens {
            Err(format!("The last day ({}) is before the first ({}).", self.due, self.opens))
        } else if self.hand_ins == 0 {
            Err("It must be possible to hand it in at least once.".to_owned())
        } else {
            Ok(())
        }
    }
}

/// An evidence pack, handed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CasePack {
    /// The entry that set the case study.
    pub case: EntryId,
    /// Whose.
    pub trainee: PersonId,
    /// Services that stand as evidence.
    pub services: Vec<ServiceId>,
    /// What the trainee writes about them.
    pub words: String,
    /// Day it was handed in.
    pub on: Day,
}

/// What an assessor made of a pack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CaseFinding {
    /// Accepted.
    Accepted,
    /// To be handed in again.
    HandInAgain,
    /// Not accepted, and not to be handed in again.
    NotAccepted,
}

impl CaseFinding {
    /// All findings.
    pub const ALL: [CaseFinding; 3] = [CaseFinding::Accepted, CaseFinding::HandInAgain, CaseFinding::NotAccepted];

    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            CaseFinding::Accepted => "accepted",
            CaseFinding::HandInAgain => "to be handed in again",
            CaseFinding::NotAccepted => "not accepted",
        }
    }
}

/// A pack was marked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseMark {
    /// The entry that handed the pack in.
    pub pack: EntryId,
    /// Whose.
    pub trainee: PersonId,
    /// What was found.
    pub finding: CaseFinding,
    /// In words.
    pub words: String,
}

/// Where a case study stands on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CaseState {
    /// Its window is not open yet.
    NotOpen,
    /// To be handed in.
    Open,
    /// The window is over, and nothing waits to be marked.
    Missed,
    /// A pack waits to be marked.
    ToMark,
    /// To be handed in again.
    Again,
    /// Accepted.
    Accepted,
    /// Not accepted, or handed in as often as allowed.
    NotAccepted,
}

impl CaseState {
    /// Returns it in plain words.
    pub fn word(self) -> &'static str {
        match self {
            CaseState::NotOpen => "not open yet",
            CaseState::Open => "to be handed in",
            CaseState::Missed => "the last day has passed",
            CaseState::ToMark => "waits to be marked",
            CaseState::Again => "to be handed in again",
            CaseState::Accepted => "accepted",
            CaseState::NotAccepted => "not accepted",
        }
    }

    /// Whether the trainee may hand a pack in.
    pub fn may_hand_in(self) -> bool {
        matches!(self, CaseState::Open | CaseState::Again)
    }
}

/// Works out where a case study stands. `packs` are its packs in the order handed in, each with its last mark.
pub fn case_state(case: &CaseStudy, packs: &[Option<CaseFinding>], today: Day) -> CaseState {
    if packs.contains(&Some(CaseFinding::Accepted)) {
        return CaseState::Accepted;
    }
    let used_up = u32::try_from(packs.len()).unwrap_or(u32::MAX) >= case.hand_ins;
    let over = today > case.due;
    match packs.last() {
        Some(None) => CaseState::ToMark,
        Some(Some(CaseFinding::NotAccepted)) => CaseState::NotAccepted,
        Some(_) if used_up => CaseState::NotAccepted,
        _ if over => CaseState::Missed,
        Some(_) => CaseState::Again,
        None if today < case.opens => CaseState::NotOpen,
        None => CaseState::Open,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    fn case() -> CaseStudy {
        CaseStudy {
            trainee: "t".into(),
            competency: None,
            title: "Three lifts at home".to_owned(),
            asks: String::new(),
            opens: day("2026-03-01"),
            due: day("2026-03-29"),
            hand_ins: 2,
        }
    }

    #[test]
    fn a_case_study_goes_through_its_window_and_its_hand_ins() {
        let (case, within) = (case(), day("2026-03-10"));
        assert_eq!(case_state(&case, &[], day("2026-02-28")), CaseState::NotOpen);
        assert_eq!(case_state(&case, &[], day("2026-03-01")), CaseState::Open);
        assert_eq!(case_state(&case, &[], day("2026-03-29")), CaseState::Open);
        assert_eq!(case_state(&case, &[], day("2026-03-30")), CaseState::Missed);
        assert_eq!(case_state(&case, &[None], day("2026-04-30")), CaseState::ToMark);
        let again = Some(CaseFinding::HandInAgain);
        assert_eq!(case_state(&case, &[again], within), CaseState::Again);
        assert_eq!(case_state(&case, &[again], day("2026-03-30")), CaseState::Missed);
        assert_eq!(case_state(&case, &[again, again], within), CaseState::NotAccepted);
        assert_eq!(case_state(&case, &[Some(CaseFinding::NotAccepted)], within), CaseState::NotAccepted);
        assert_eq!(case_state(&case, &[again, Some(CaseFinding::Accepted)], day("2027-01-01")), CaseState::Accepted);
    }

    #[test]
    fn figures_that_cannot_be_are_refused() {
        let paper = |points, out_of, needed| TheoryResult {
            trainee: "t".into(),
            paper: "Eye anatomy".to_owned(),
            on: day("2026-03-01"),
            points,
            out_of,
            needed,
        };
        assert!(paper(18, 20, 14).check().is_ok() && paper(18, 20, 14).passed());
        assert!(!paper(13, 20, 14).passed());
        for wrong in [paper(21, 20, 14), paper(0, 0, 0), paper(1, 20, 21)] {
            assert!(wrong.check().is_err());
        }
        assert!(CaseStudy { due: day("2026-02-28"), ..case() }.check().is_err());
        assert!(CaseStudy { hand_ins: 0, ..case() }.check().is_err());
        let time = |minutes| Attendance {
            trainee: "t".into(),
            on: day("2026-03-01"),
            learning: Learning::Theory,
            minutes,
            title: String::new(),
            supervised_by: None,
        };
        assert!(time(90).check().is_ok());
        assert!(time(0).check().is_err() && time(1441).check().is_err());
    }
}
