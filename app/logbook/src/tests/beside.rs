//! What is recorded beside services: who may write it, what counts, who gets it.

use practicum::after_the_couch::{
    Comfort, IncidentFollowed, Licence, LiftFollowUp, LiftSeen, LotRecall, Photo, PhotoStage,
};
use practicum::certificate::{Certificate, CertificatePrint, CertificateScope, CertificateWithdrawal, CredentialKey};
use practicum::coursework::{
    Attendance, CaseFinding, CaseMark, CasePack, CaseState, CaseStudy, CoachingNote, Learning, Sample, SampleFinding,
    SampleLook, TheoryResult,
};
use practicum::eye::{Eye, PerEye};
use practicum::ids::EntryId;
use practicum::moment::Day;
use practicum::practice_model::{ConsentKind, PracticeModel};
use practicum::service::Service;

use super::corrections::late;
use super::rights::outcome;
use super::{at, fresh, reopened, staffed};
use crate::draft::Draft;
use crate::erasure;
use crate::fact::{Aftercare, Certified, Coursework, Fact, Incident};
use crate::logbook::Logbook;
use crate::records::Replied;
use crate::store::MemoryStore;
use crate::subject::Subject;

fn day(text: &str) -> Day {
    text.parse().unwrap()
}

fn by(author: &str, fact: impl Into<Fact>) -> Draft {
    Draft::new(&author.into(), fact.into())
}

impl From<Coursework> for Fact {
    fn from(said: Coursework) -> Self {
        Fact::Coursework(said)
    }
}

impl From<Aftercare> for Fact {
    fn from(said: Aftercare) -> Self {
        Fact::Aftercare(said)
    }
}

impl From<Certified> for Fact {
    fn from(said: Certified) -> Self {
        Fact::Certified(said)
    }
}

fn time(trainee: &str, supervised_by: Option<&str>) -> Coursework {
    Coursework::AttendanceNoted(Attendance {
        trainee: trainee.into(),
        on: day("2026-03-02"),
        learning: Learning::Theory,
        minutes: 90,
        title: "Eye anatomy".to_owned(),
        supervised_by: supervised_by.map(Into::into),
    })
}

fn paper() -> Coursework {
    Coursework::TheoryMarked(TheoryResult {
        trainee: "t".into(),
        paper: "Eye anatomy".to_owned(),
        on: day("2026-03-02"),
        points: 18,
        out_of: 20,
        needed: 14,
    })
}

fn coaching(words: &str) -> Coursework {
    Coursework::CoachingGiven(CoachingNote {
        trainee: "t".into(),
        fault: Some("crossed".into()),
        services: vec!["s".into()],
        cause: String::new(),
        words: words.to_owned(),
    })
}

fn case() -> Coursework {
    Coursework::CaseSet(CaseStudy {
        trainee: "t".into(),
        competency: None,
        title: "Three lifts at home".to_owned(),
        asks: "Photos before and after".to_owned(),
        opens: day("2026-03-01"),
        due: day("2026-03-29"),
        hand_ins: 2,
    })
}

fn pack(case: &EntryId, trainee: &str) -> Coursework {
    let services = vec!["s".into()];
    let words = "What I saw".to_owned();
    Coursework::CaseHandedIn(CasePack {
        case: case.clone(),
        trainee: trainee.into(),
        services,
        words,
        on: day("2026-03-10"),
    })
}

fn case_mark(pack: &EntryId, finding: CaseFinding) -> Coursework {
    Coursework::CaseMarked(CaseMark { pack: pack.clone(), trainee: "t".into(), finding, words: "Seen".to_owned() })
}

fn photo() -> Aftercare {
    Aftercare::PhotoKept(Photo {
        practice_model: "m".into(),
        service: "s".into(),
        eye: Eye::Left,
        stage: PhotoStage::After,
        at: at("2026-03-02T11:00:00+00:00"),
        width: 64,
        height: 48,
        jpeg: "/9j/4AAQ".to_owned(),
    })
}

fn look() -> Aftercare {
    Aftercare::LiftLookedAt(LiftFollowUp {
        service: "s".into(),
        on: day("2026-03-09"),
        planned_day: Some(7),
        eyes: PerEye { left: LiftSeen::Held, right: LiftSeen::Dropped },
        uneven: true,
        comfort: Comfort::NoComplaint,
        words: String::new(),
    })
}

fn certificate() -> Certified {
    Certified::Issued(Certificate {
        number: "K7Q-0001".to_owned(),
        trainee: "t".into(),
        scope: CertificateScope::Lift,
        sign_offs: Vec::new(),
        assessor: "i".into(),
        on: day("2026-05-30"),
        course_book: "A, edition 1".into(),
        record_hash: "00".repeat(32),
    })
}

fn practice_model() -> Draft {
    let added = PracticeModel { id: "m".into(), code: "PM-001".to_owned(), born: None, guardian: None };
    Draft::practice_model_added(&"t".into(), added)
}

fn consent(kind: ConsentKind) -> Draft {
    Draft::consent_given(&"t".into(), "m".into(), kind, "example 1".to_owned(), at("2026-03-02T08:50:00+00:00"))
}

/// An academy in which `t` has worked the service `s` on `m`, marked by `i`.
fn world() -> (Logbook, MemoryStore) {
    let service = Service { practice_model: Some("m".into()), ..late("s") };
    staffed(&[
        practice_model(),
        consent(ConsentKind::Service),
        Draft::service_logged(&"t".into(), service),
        Draft::outcome_marked(outcome("i", true)),
    ])
}

/// Writes with an author; returns the entry.
fn write((logbook, store): &mut (Logbook, MemoryStore), draft: Draft) -> Result<EntryId, String> {
    let number = u128::try_from(logbook.log().len()).unwrap() + 500;
    let now = at("2026-03-02T12:00:00+00:00") + chrono::TimeDelta::minutes(i64::try_from(number).unwrap());
    logbook.record(store, &[draft], now, &mut fresh(number)).map_err(|error| error.to_string())?;
    let last = logbook.log().entries().next_back().unwrap().header().id.clone();
    assert_eq!(reopened(store).records(), logbook.records(), "told one by one as worked out at once");
    Ok(last)
}

#[test]
fn time_alone_is_noted_by_who_spent_it_and_supervised_time_by_an_assessor() {
    let mut world = world();
    assert!(write(&mut world, by("t", time("t", None))).is_ok());
    assert!(write(&mut world, by("i", time("t", Some("i2")))).is_ok());
    for (author, said) in [
        ("t", time("t", Some("i"))),
        ("t", time("t2", None)),
        ("i", time("t", Some("t2"))),
        ("i", time("nobody", Some("i"))),
    ] {
        assert!(write(&mut world, by(author, said.clone())).is_err(), "{author}: {said:?}");
    }
    let known = world.0.records().attendance_of(&"t".into());
    assert_eq!(known.iter().map(|one| one.value.supervised_by.is_some()).collect::<Vec<_>>(), [false, true]);
}

#[test]
fn only_assessors_mark_papers_coach_and_note_what_they_talked_over() {
    let mut world = world();
    let talked = || Coursework::MarksTalkedOver { service: "s".into(), words: "Both saw it".to_owned() };
    for said in [paper(), coaching("Smaller sections"), talked()] {
        assert!(write(&mut world, by("t", said.clone())).is_err(), "{said:?}");
        assert!(write(&mut world, by("i", said)).is_ok());
    }
    assert!(write(&mut world, by("i", coaching("  "))).is_err());
    let records = world.0.records();
    assert!(records.theory_of(&"t".into())[0].value.passed());
    assert_eq!(records.talked_over(&"s".into()).len(), 1);
    assert_eq!(records.coaching_of(&"t".into()).len(), 1);
}

#[test]
fn a_trainee_takes_note_of_coaching_and_disputes_a_paper() {
    let mut world = world();
    let coached = write(&mut world, by("i", coaching("Smaller sections"))).unwrap();
    let marked = write(&mut world, by("i", paper())).unwrap();
    for (entry, disputed) in [(&coached, false), (&marked, true)] {
        let hash = world.0.log().entry(entry).unwrap().hash().to_owned();
        let about = crate::fact::About { entry: entry.clone(), hash, person: "t".into() };
        let draft = match disputed {
            true => Draft::disputed(about, "Question 4 has two answers".to_owned()),
            false => Draft::acknowledged(about),
        };
        write(&mut world, draft).unwrap();
    }
    assert!(matches!(world.0.records().replied_to(&coached), Replied::Acknowledged(_)));
    assert!(matches!(world.0.records().replied_to(&marked), Replied::Disputed(_)));
}

#[test]
fn a_sample_is_drawn_and_looked_at_by_a_second_pair_of_eyes() {
    let mut world = world();
    let sample = |assessor: &str, services: &[&str]| {
        let services = services.iter().map(|id| (*id).into()).collect();
        let (assessor, on) = (Some(assessor.into()), day("2026-03-05"));
        Coursework::SampleDrawn(Sample { assessor, competency: None, services, on })
    };
    assert!(write(&mut world, by("i", sample("i", &["s"]))).is_err());
    assert!(write(&mut world, by("i2", sample("i", &[]))).is_err());
    let drawn = write(&mut world, by("i2", sample("i", &["s"]))).unwrap();
    let looked = |finding, words: &str| {
        let (sample, on, words) = (drawn.clone(), day("2026-03-06"), words.to_owned());
        Coursework::SampleLookedAt(SampleLook { sample, service: "s".into(), finding, words, on })
    };
    assert!(write(&mut world, by("i", looked(SampleFinding::Holds, ""))).is_err(), "who marked it looks at it");
    assert!(write(&mut world, by("i2", looked(SampleFinding::AssessAgain, ""))).is_err(), "nothing is said");
    write(&mut world, by("i2", looked(SampleFinding::AssessAgain, "The left eye"))).unwrap();
    assert_eq!(world.0.records().looks_at_sample(&drawn).len(), 1);
}

#[test]
fn a_case_study_is_handed_in_by_its_trainee_within_its_window_and_as_often_as_allowed() {
    let mut world = world();
    assert!(write(&mut world, by("t", case())).is_err());
    let set = write(&mut world, by("i", case())).unwrap();
    assert!(write(&mut world, by("t2", pack(&set, "t2"))).is_err());
    assert!(write(&mut world, by("i", pack(&set, "t"))).is_err());
    let first = write(&mut world, by("t", pack(&set, "t"))).unwrap();
    assert!(write(&mut world, by("t", pack(&set, "t"))).is_err(), "one waits to be marked");
    write(&mut world, by("i", case_mark(&first, CaseFinding::HandInAgain))).unwrap();
    let second = write(&mut world, by("t", pack(&set, "t"))).unwrap();
    assert!(write(&mut world, by("t", case_mark(&second, CaseFinding::Accepted))).is_err());
    write(&mut world, by("i2", case_mark(&second, CaseFinding::Accepted))).unwrap();
    let records = world.0.records();
    let known = records.cases_of(&"t".into())[0];
    assert_eq!(records.packs_of(known).len(), 2);
    assert_eq!(records.case_state(known, day("2026-03-12")), CaseState::Accepted);
}

#[test]
fn a_photo_is_kept_only_with_consent_and_goes_when_it_is_erased() {
    let mut world = world();
    assert!(write(&mut world, by("t", photo())).unwrap_err().contains("not consented"));
    write(&mut world, consent(ConsentKind::Photos)).unwrap();
    assert!(write(&mut world, by("t2", photo())).is_err());
    let kept = write(&mut world, by("t", photo())).unwrap();
    assert_eq!(world.0.records().photos_of(&"s".into()).len(), 1);
    let of = Subject::PracticeModel("m".into());
    let bodies = erasure::bodies_of(world.0.log(), &of);
    assert!(bodies.iter().any(|entry| entry.header().id == kept));
    let hash = world.0.log().entry(&kept).unwrap().hash().to_owned();
    let erasure = crate::fact::Erasure { of, hashes: vec![hash], what: "photos".to_owned(), why: "asked".to_owned() };
    write(&mut world, Draft::erased(&"owner".into(), erasure)).unwrap();
    assert!(world.0.records().photos_of(&"s".into()).is_empty());
    let twice = world.0.records().consents_of(&"m".into());
    assert!(twice.iter().any(|one| one.value.kind == ConsentKind::Photos));
}

#[test]
fn looks_recalls_licences_and_what_followed_are_written_by_whom_they_are_for() {
    let mut world = world();
    assert!(write(&mut world, by("t2", look())).is_err());
    write(&mut world, by("t", look())).unwrap();
    let recall = || {
        let (number, why) = ("L-9".to_owned(), "The maker’s letter".to_owned());
        Aftercare::LotRecalled(LotRecall { product: "p".into(), number, on: day("2026-04-01"), why })
    };
    let licence = || {
        let (name, number, issuer) = ("Esthetician".to_owned(), "E-12".to_owned(), "State board".to_owned());
        let expires = Some(day("2027-01-31"));
        Aftercare::LicenceNoted(Licence { person: "t".into(), name, number, issuer, expires })
    };
    let incident = Incident {
        id: "x".into(),
        service: Some("s".into()),
        practice_model: Some("m".into()),
        trainee: Some("t".into()),
        at: at("2026-03-02T09:20:00+00:00"),
        on_the_eye: Vec::new(),
        steps: Vec::new(),
        rinsed: Some(900),
        swelling_or_breathing: false,
        instructor: Some("i".into()),
        note: String::new(),
    };
    write(&mut world, by("t", Fact::IncidentReported(incident))).unwrap();
    let followed = |closed| {
        let words = "Called: no complaint".to_owned();
        Aftercare::IncidentFollowed(IncidentFollowed { incident: "x".into(), on: day("2026-03-03"), words, closed })
    };
    for said in [recall(), licence(), followed(false), followed(true)] {
        assert!(write(&mut world, by("t", said.clone())).is_err(), "{said:?}");
        write(&mut world, by("i", said)).unwrap();
    }
    let records = world.0.records();
    assert!(records.recall_of(&"p".into(), " l-9 ").is_some() && records.recall_of(&"p".into(), "L-8").is_none());
    assert!(records.incident_closed(&"x".into()));
    assert!(records.lift_looks_of(&"s".into())[0].value.dropped());
    assert_eq!(records.licences_of(&"t".into()).len(), 1);
}

#[test]
fn only_the_owner_issues_prints_and_withdraws_certificates() {
    let mut world = world();
    assert!(write(&mut world, by("i", certificate())).is_err());
    let issued = write(&mut world, by("owner", certificate())).unwrap();
    let print = CertificatePrint { certificate: issued.clone(), trainee: "t".into(), copy: 1 };
    write(&mut world, by("owner", Certified::Printed(print))).unwrap();
    let withdrawal = |why: &str| {
        let (certificate, trainee) = (issued.clone(), "t".into());
        Certified::Withdrawn(CertificateWithdrawal { certificate, trainee, why: why.to_owned() })
    };
    assert!(write(&mut world, by("owner", withdrawal(" "))).is_err());
    assert!(world.0.records().withdrawal_of(&issued).is_none());
    write(&mut world, by("owner", withdrawal("Issued by mistake"))).unwrap();
    let key = CredentialKey { algorithm: "RS256".to_owned(), jwk: "{}".to_owned() };
    write(&mut world, by("owner", Certified::CredentialKeyMade(key))).unwrap();
    let records = world.0.records();
    assert_eq!(records.prints_of(&issued).len(), 1);
    assert!(records.withdrawal_of(&issued).is_some());
    assert_eq!(records.credential_keys().len(), 1);
}

#[test]
fn what_stands_beside_services_is_corrected_only_about_the_same_person() {
    let mut world = world();
    let noted = write(&mut world, by("i", time("t", Some("i")))).unwrap();
    let correct = |said: Coursework| Draft::correction(&"i".into(), noted.clone(), "wrong day".to_owned(), said.into());
    assert!(
        write(&mut world, correct(time("t2", Some("i")))).is_err() || {
            world.0.records().attendance_of(&"t2".into()).is_empty()
        }
    );
    write(&mut world, correct(time("t", Some("i2")))).unwrap();
    let known = world.0.records().attendance_of(&"t".into());
    assert_eq!(known[0].value.supervised_by, Some("i2".into()));
    assert!(known[0].corrected);
}
