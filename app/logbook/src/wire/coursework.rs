//! Stored forms of what is recorded of a course beside services.

use practicum::coursework::{
    Attendance, CaseFinding, CaseMark, CasePack, CaseStudy, CoachingNote, Learning, Sample, SampleFinding, SampleLook,
    TheoryResult,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::Twin;
use super::bodies::{json, twin, typed};
use crate::fact::Coursework;
use crate::kind::Kind;

twin_words!(LearningV1 = Learning {
    Theory "theory",
    Demonstration "demonstration",
    Strip "strip",
    Head "head",
    Live "live",
});
twin!(AttendanceV1 = Attendance {
    trainee: String,
    on: String,
    learning: LearningV1,
    minutes: u32,
    title: String,
    supervised_by: Option<String>,
});
twin!(TheoryV1 = TheoryResult { trainee: String, paper: String, on: String, points: u32, out_of: u32, needed: u32 });
twin!(CoachingV1 = CoachingNote {
    trainee: String,
    fault: Option<String>,
    services: Vec<String>,
    cause: String,
    words: String,
});
twin!(SampleV1 = Sample {
    assessor: Option<String>,
    competency: Option<String>,
    services: Vec<String>,
    on: String,
});
twin_words!(SampleFindingV1 = SampleFinding {
    Holds "holds",
    TalkOver "talk over",
    AssessAgain "assess again",
});
twin!(
    SampleLookV1 = SampleLook { sample: String, service: String, finding: SampleFindingV1, words: String, on: String }
);
twin!(CaseStudyV1 = CaseStudy {
    trainee: String,
    competency: Option<String>,
    title: String,
    asks: String,
    opens: String,
    due: String,
    hand_ins: u32,
});
twin!(CasePackV1 = CasePack {
    case: String,
    trainee: String,
    services: Vec<String>,
    words: String,
    on: String,
});
twin_words!(CaseFindingV1 = CaseFinding {
    Accepted "accepted",
    HandInAgain "hand in again",
    NotAccepted "not accepted",
});
twin!(CaseMarkV1 = CaseMark { pack: String, trainee: String, finding: CaseFindingV1, words: String });

#[derive(Debug, Serialize, Deserialize)]
struct TalkedOverV1 {
    service: String,
    words: String,
}

/// Makes the stored body.
pub(super) fn encode(said: &Coursework) -> Result<Value, String> {
    match said {
        Coursework::AttendanceNoted(attendance) => json(&AttendanceV1::of(attendance)),
        Coursework::TheoryMarked(result) => json(&TheoryV1::of(result)),
        Coursework::CoachingGiven(note) => json(&CoachingV1::of(note)),
        Coursework::MarksTalkedOver { service, words } => {
            json(&TalkedOverV1 { service: Twin::of(service), words: words.clone() })
        }
        Coursework::SampleDrawn(sample) => json(&SampleV1::of(sample)),
        Coursework::SampleLookedAt(look) => json(&SampleLookV1::of(look)),
        Coursework::CaseSet(case) => json(&CaseStudyV1::of(case)),
        Coursework::CaseHandedIn(pack) => json(&CasePackV1::of(pack)),
        Coursework::CaseMarked(mark) => json(&CaseMarkV1::of(mark)),
    }
}

/// Reads a stored body; `None` where the kind is none of these.
pub(super) fn decode(kind: &Kind, content: Value) -> Result<Option<Coursework>, String> {
    Ok(Some(match kind {
        Kind::AttendanceNoted => Coursework::AttendanceNoted(twin::<AttendanceV1, _>(content)?),
        Kind::TheoryMarked => Coursework::TheoryMarked(twin::<TheoryV1, _>(content)?),
        Kind::CoachingGiven => Coursework::CoachingGiven(twin::<CoachingV1, _>(content)?),
        Kind::MarksTalkedOver => {
            let TalkedOverV1 { service, words } = typed(content)?;
            Coursework::MarksTalkedOver { service: service.back()?, words }
        }
        Kind::SampleDrawn => Coursework::SampleDrawn(twin::<SampleV1, _>(content)?),
        Kind::SampleLookedAt => Coursework::SampleLookedAt(twin::<SampleLookV1, _>(content)?),
        Kind::CaseSet => Coursework::CaseSet(twin::<CaseStudyV1, _>(content)?),
        Kind::CaseHandedIn => Coursework::CaseHandedIn(twin::<CasePackV1, _>(content)?),
        Kind::CaseMarked => Coursework::CaseMarked(twin::<CaseMarkV1, _>(content)?),
        _ => return Ok(None),
    }))
}
