//! Any fact, for properties. Names are drawn from few, so that facts speak of one another.

mod beside;

use practicum::competency::{Decision, SignOff, StandsOn};
use practicum::couch::times::{Dwell, SectionTime, StageTime, Times};
use practicum::couch::{
    Act, Analysis, Direction, DwellPlan, LastLift, Opening, Override, ShieldChoice, Stop, Tap, Tint, What,
};
use practicum::course_book::{LashCondition, Mark, Medium, Reach};
use practicum::eye::{Eye, PerEye};
use practicum::moment::{Day, Moment, Reading};
use practicum::outcome::{FaultSeen, Marked, Outcome};
use practicum::person::{Person, Role};
use practicum::practice_model::{
    ConsentKind, Guardian, PracticeModel, Screening, ScreeningAnswer, SensitivityTest, TestReading, TestResult,
};
use practicum::product::{DwellWindow, Lot, Product, ProductKind};
use practicum::section::{Plan, Sections, WorkedPlan};
use practicum::service::{Ending, Origin, Service, WrittenTimes};
use practicum::standing::PlanDecision;
use practicum::trial::{Millionths, ScoreTerms, Terms, Trial};
use proptest::collection::{btree_map, vec};
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

use crate::fact::{
    About, Academy, Admission, ChainPlace, Contact, Erasure, Fact, FollowUp, Ground, Hold, ImportBatch, Incident,
    OnEye, OverrideAnswer, Reply, Resolution, Scope, Settlement, StepDone,
};
use crate::signature::PublicKey;
use crate::subject::Subject;

/// Text with any characters, markup and line breaks included.
pub(crate) fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        vec(any::<char>(), 0..6).prop_map(String::from_iter),
        select(vec!["", "<b>x</b>", "=1+1", "Zoë 🌸", "\"quoted\\\"\n", "\u{202e}back", "\u{0}"])
            .prop_map(str::to_owned),
    ]
}

fn id<T: From<&'static str> + std::fmt::Debug>() -> impl Strategy<Value = T> {
    select(vec!["a", "b", "c"]).prop_map(T::from)
}

fn seconds() -> impl Strategy<Value = u32> {
    prop_oneof![0..5_000_u32, Just(99_999_999)]
}

pub(crate) fn moment() -> impl Strategy<Value = Moment> {
    (0..4_000_000_000_i64, 0..1_000_u32, -14 * 60..14 * 60).prop_map(|(at, ms, offset)| {
        let zone = chrono::FixedOffset::east_opt(offset * 60).unwrap();
        chrono::DateTime::from_timestamp(at, ms * 1_000_000).unwrap().with_timezone(&zone)
    })
}

fn day() -> impl Strategy<Value = Day> {
    moment().prop_map(|at| at.date_naive())
}

fn eye() -> impl Strategy<Value = Eye> {
    select(Eye::BOTH.to_vec())
}

fn eyes<T: std::fmt::Debug + Clone>(value: impl Strategy<Value = T> + Clone) -> impl Strategy<Value = PerEye<T>> {
    (value.clone(), value).prop_map(|(left, right)| PerEye { left, right })
}

fn kind() -> impl Strategy<Value = ProductKind> {
    select(ProductKind::ALL.to_vec())
}

fn tint() -> impl Strategy<Value = Tint> {
    select(vec![Tint::None, Tint::Own, Tint::Mixed])
}

fn sections() -> impl Strategy<Value = Sections> + Clone {
    (1..=8_u8).prop_map(|number| Sections::new(number).unwrap())
}

fn lot() -> impl Strategy<Value = Lot> {
    (id(), text(), option::of(day())).prop_map(|(product, number, opened_on)| Lot { product, number, opened_on })
}

fn analysis() -> impl Strategy<Value = Analysis> + Clone {
    let lift = prop_oneof![Just(LastLift::Never), Just(LastLift::Unknown), day().prop_map(LastLift::On)].boxed();
    let direction = select(vec![Direction::Up, Direction::Straight, Direction::Down, Direction::Mixed]);
    (1..=25_u8, select(LashCondition::ALL.to_vec()), direction, lift)
        .prop_map(|(length_mm, condition, direction, last_lift)| Analysis {
            length_mm,
            condition,
            direction,
            last_lift,
        })
        .boxed()
}

fn shield() -> impl Strategy<Value = ShieldChoice> + Clone {
    (vec((id(), select(Reach::ALL.to_vec())), 0..3), id())
        .prop_map(|(tried, chosen)| ShieldChoice { tried, chosen })
        .boxed()
}

fn made() -> impl Strategy<Value = Override> {
    (select(vec!["test-early", "other"]), id(), text(), any::<bool>()).prop_map(|(code, by, why, confirmed)| Override {
        reason_code: code.to_owned(),
        by,
        why,
        confirmed,
    })
}

fn dwell_plan() -> impl Strategy<Value = DwellPlan> {
    (seconds(), seconds(), seconds(), seconds()).prop_map(|(planned, minimum, maximum, label_maximum)| DwellPlan {
        planned,
        minimum,
        maximum,
        label_maximum,
    })
}

fn stop() -> impl Strategy<Value = Stop> {
    prop_oneof![
        text().prop_map(Stop::BeforeLotion),
        text().prop_map(Stop::Fault),
        Just(Stop::Reaction),
        text().prop_map(Stop::Other)
    ]
}

fn screening() -> impl Strategy<Value = Screening> {
    let answer = (id(), any::<bool>(), option::of(text()))
        .prop_map(|(question, yes, written_advice)| ScreeningAnswer { question, yes, written_advice });
    (id(), moment(), vec(answer, 0..4), any::<bool>()).prop_map(|(practice_model, at, answers, guardian_present)| {
        Screening { practice_model, at, answers, guardian_present }
    })
}

fn act() -> impl Strategy<Value = Act> {
    let stage = || select(vec!["cleanse", "lift", "rod", "x"]).prop_map(practicum::ids::StageId::from);
    let preparing = prop_oneof![
        Just(Act::Begin),
        id().prop_map(Act::PracticeModel),
        Just(Act::ConsentChecked),
        screening().boxed().prop_map(Act::Screened),
        Just(Act::TestsChecked),
        (eye(), analysis()).prop_map(|(eye, what)| Act::Analysed(eye, what)),
        (eye(), shield()).prop_map(|(eye, what)| Act::ShieldChosen(eye, what)),
        (eye(), sections()).prop_map(|(eye, what)| Act::SectionsSet(eye, what)),
        tint().prop_map(Act::TintChosen),
        (lot(), kind()).prop_map(|(lot, kind)| Act::ProductChosen(lot, kind)),
        (eye(), kind(), dwell_plan()).prop_map(|(eye, kind, plan)| Act::DwellSet(eye, kind, plan)),
        any::<bool>().prop_map(Act::WillBeAssessed),
        made().prop_map(Act::Overridden),
    ];
    let working = prop_oneof![
        (stage(), option::of(eye())).prop_map(|(stage, eye)| Act::Work(stage, eye)),
        (stage(), eye()).prop_map(|(stage, eye)| Act::SectionDone(stage, eye)),
        (stage(), option::of(eye())).prop_map(|(stage, eye)| Act::Done(stage, eye)),
        (stage(), eye()).prop_map(|(stage, eye)| Act::LotionStarts(stage, eye)),
        (stage(), eye()).prop_map(|(stage, eye)| Act::AllOn(stage, eye)),
        (stage(), eye()).prop_map(|(stage, eye)| Act::OffStarts(stage, eye)),
        (stage(), eye()).prop_map(|(stage, eye)| Act::OffDone(stage, eye)),
        text().prop_map(Act::Pause),
        Just(Act::Resume),
        stage().prop_map(Act::CheckStarts),
        (stage(), option::of(id()), any::<bool>(), text()).prop_map(|(stage, by, go_on, note)| Act::CheckDone {
            stage,
            by,
            go_on,
            note
        }),
    ];
    let rest = prop_oneof![
        eye().prop_map(Act::AlarmHeard),
        text().prop_map(Act::AlarmMayBeLost),
        any::<bool>().prop_map(Act::SoundChecked),
        Just(Act::ClockSeen),
        (0..5_u32, seconds(), id(), text()).prop_map(|(at_tap, seconds, by, what)| Act::TimeConfirmed {
            at_tap,
            seconds,
            by,
            what
        }),
        id().prop_map(Act::Reaction),
        (id(), text()).prop_map(|(by, note)| Act::GoOn { by, note }),
        stop().prop_map(Act::Stop),
        Just(Act::Finish),
        Just(Act::TakeBack),
    ];
    prop_oneof![preparing.boxed(), working.boxed(), rest.boxed()]
}

pub(crate) fn tap() -> impl Strategy<Value = Tap> {
    let mono = prop_oneof![0..10_000_000_u64, Just(crate::json::LARGEST)];
    (any::<u32>(), moment(), any::<u32>(), mono, act().boxed()).prop_map(|(sequence, at, page, mono_ms, act)| Tap {
        sequence,
        reading: Reading { at, page, mono_ms },
        act,
    })
}

pub(crate) fn opening() -> impl Strategy<Value = Opening> {
    let what = prop_oneof![Just(What::Service), id().prop_map(What::Drill)];
    (id(), id(), what, select(Plan::ALL.to_vec()), text(), vec((kind(), lot()), 0..3), id()).prop_map(
        |(id, trainee, what, plan, room, products, course_book)| Opening {
            id,
            trainee,
            what,
            plan,
            room,
            products,
            course_book,
        },
    )
}

fn written() -> impl Strategy<Value = WrittenTimes> {
    let stages = vec((id(), option::of(eye()), seconds()), 0..3);
    (option::of(seconds()), option::of(seconds()), stages, vec((kind(), eye(), seconds()), 0..3))
        .prop_map(|(service, hands_on, stages, dwells)| WrittenTimes { service, hands_on, stages, dwells })
}

fn times() -> impl Strategy<Value = Times> {
    let maybe = || option::of(seconds());
    let stage =
        (id(), option::of(eye()), seconds()).prop_map(|(stage, eye, hands_on)| StageTime { stage, eye, hands_on });
    let section = (id(), eye(), any::<u8>(), seconds()).prop_map(|(stage, eye, number, hands_on)| SectionTime {
        stage,
        eye,
        number,
        hands_on,
    });
    let dwell = (id(), kind(), eye(), seconds(), maybe(), maybe(), any::<bool>(), option::of(dwell_plan())).prop_map(
        |(stage, product, eye, first_contact, last_contact, off, interrupted, plan)| Dwell {
            stage,
            product,
            eye,
            first_contact,
            last_contact,
            off,
            interrupted,
            plan,
        },
    );
    let sums = (maybe(), maybe(), maybe(), maybe(), maybe());
    let lists = (vec(stage, 0..3), vec(section, 0..3), vec(dwell, 0..3), vec((text(), seconds()), 0..2));
    (sums, lists, vec(text(), 0..2), vec(text(), 0..2), any::<bool>()).prop_map(
        |(sums, lists, doubts, alarms_lost, edited)| {
            let (service, hands_on, pauses, checks, waiting) = sums;
            let (stages, sections, dwells, pause_reasons) = lists;
            Times {
                service,
                hands_on,
                pauses,
                checks,
                waiting,
                stages,
                sections,
                dwells,
                pause_reasons,
                doubts,
                alarms_lost,
                edited,
            }
        },
    )
}

pub(crate) fn service(live: bool) -> impl Strategy<Value = Service> {
    let origin = prop_oneof![
        (opening().boxed(), vec(tap().boxed(), 0..6)).prop_map(|(opening, taps)| Origin::Live { opening, taps }),
        written().boxed().prop_map(Origin::Late),
        (id(), any::<u32>(), written().boxed()).prop_map(|(batch, line, times)| Origin::Imported {
            batch,
            line,
            times
        }),
    ];
    let medium = if live { vec![Medium::Live] } else { vec![Medium::Strip, Medium::Head] };
    let worked = (sections(), any::<bool>()).prop_map(|(sections, mixed)| WorkedPlan { sections, mixed });
    let ending = prop_oneof![Just(Ending::Finished), stop().prop_map(Ending::Stopped)];
    let who = (id(), id(), select(medium), option::of(id()), option::of(id()), moment(), id(), text());
    let how = (
        eyes(option::of(sections()).boxed()),
        option::of(worked),
        eyes(option::of(analysis()).boxed()),
        eyes(option::of(shield()).boxed()),
        tint(),
        vec((kind(), lot()), 0..3),
        option::of(any::<bool>()),
        vec(made(), 0..2),
    );
    let end = (option::of(id()), ending, option::of(any::<bool>()), text(), text(), times().boxed(), origin);
    (who, how, end).prop_map(|(who, how, end)| {
        let (id, trainee, medium, drill, practice_model, began, course_book, room) = who;
        let (sections, worked, analysis, shields, tint, products, will_be_assessed, overrides) = how;
        let (incident, ending, aftercare_given, comfort, note, times, origin) = end;
        Service {
            id,
            trainee,
            medium,
            drill,
            practice_model,
            began,
            course_book,
            room,
            sections,
            worked,
            analysis,
            shields,
            tint,
            products,
            will_be_assessed,
            overrides,
            incident,
            ending,
            aftercare_given,
            comfort,
            note,
            times,
            origin,
        }
    })
}

fn outcome() -> impl Strategy<Value = Outcome> {
    let marked = prop_oneof![select(Mark::ALL.to_vec()).prop_map(Marked::Level), Just(Marked::NotApplicable)];
    let fault = (id(), eye(), option::of(1..8_u8)).prop_map(|(fault, eye, section)| FaultSeen { fault, eye, section });
    (
        (id(), id(), moment()),
        btree_map(id(), marked, 0..4),
        vec(fault, 0..3),
        text(),
        option::of(0..=6_u8),
        any::<bool>(),
    )
        .prop_map(|((service, marker, at), marks, faults, comment, independence_next, observed)| Outcome {
            service,
            marker,
            at,
            marks,
            faults,
            comment,
            independence_next,
            observed,
        })
}

fn academy() -> impl Strategy<Value = Academy> {
    (text(), id(), text(), any::<u32>(), text(), id(), option::of(text()), any::<bool>()).prop_map(
        |(name, region, emergency_number, minimum_age, time_zone, owner, tint_legal_ground, demo)| Academy {
            name,
            region,
            emergency_number,
            minimum_age,
            time_zone,
            owner,
            tint_legal_ground,
            demo,
        },
    )
}

fn people() -> impl Strategy<Value = Fact> {
    let role = select(vec![Role::Trainee, Role::Instructor, Role::Owner]);
    let person = (id(), text(), role, text(), option::of(day()), option::of(day()), any::<bool>()).prop_map(
        |(id, name, role, group, since, left, show_times_early)| Person {
            id,
            name,
            role,
            group,
            since,
            left,
            show_times_early,
        },
    );
    let guardian = (text(), any::<bool>()).prop_map(|(name, consented)| Guardian { name, consented });
    let practice_model = (id(), text(), option::of(day()), option::of(guardian))
        .prop_map(|(id, code, born, guardian)| PracticeModel { id, code, born, guardian });
    let subject = || {
        prop_oneof![
            Just(Subject::Academy),
            id().prop_map(Subject::Person),
            id().prop_map(Subject::PracticeModel),
            id().prop_map(Subject::Service)
        ]
    };
    prop_oneof![
        person.prop_map(Fact::PersonEnrolled),
        (id(), day()).prop_map(|(person, on)| Fact::PersonLeft { person, on }),
        (subject(), text(), text()).prop_map(|(of, name, contact)| Fact::ContactNoted(Contact { of, name, contact })),
        (id(), any::<bool>()).prop_map(|(trainee, shown)| Fact::TimesShown { trainee, shown }),
        (id(), text()).prop_map(|(device, label)| Fact::DeviceAdmitted { device, label }),
        id().prop_map(|device| Fact::DeviceEnded { device }),
        keys(),
        practice_model.prop_map(Fact::PracticeModelAdded),
        (subject(), text(), option::of(day())).prop_map(|(about, text, due)| Fact::FollowUpNoted(FollowUp {
            about,
            text,
            due
        })),
        (id(), id(), text()).prop_map(|(trainee, fault, why)| Fact::CoachingDismissed { trainee, fault, why }),
    ]
}

/// Any key.
pub(crate) fn key() -> impl Strategy<Value = PublicKey> {
    any::<[u8; 32]>().prop_map(|seed| {
        let secret = ed25519_dalek::SigningKey::from_bytes(&seed);
        PublicKey::of_bytes(secret.verifying_key().as_bytes()).unwrap()
    })
}

fn keys() -> impl Strategy<Value = Fact> {
    let place = || (0..1_u64 << 53, "[0-9a-f]{64}").prop_map(|(sequence, head)| ChainPlace { sequence, head });
    let scope = select(vec![Scope::Records, Scope::Assessing, Scope::Owning]);
    let admission = (key(), id(), option::of(id()), scope, text())
        .prop_map(|(key, device, person, scope, label)| Admission { key, device, person, scope, label })
        .boxed();
    prop_oneof![
        vec("[0-9a-f]{64}", 0..4).prop_map(|adopts| Fact::AcademyKeyMade { adopts }),
        admission.clone().prop_map(Fact::KeyAsked),
        admission.prop_map(Fact::KeyAdmitted),
        (text(), text(), id(), any::<bool>(), text()).prop_map(|(challenge, reason_code, trainee, allowed, why)| {
            Fact::OverrideAnswered(OverrideAnswer { challenge, reason_code, trainee, allowed, why })
        }),
        (text(), text()).prop_map(|(challenge, answer)| Fact::AnswerTyped { challenge, answer }),
        (key(), place(), text()).prop_map(|(key, last, why)| Fact::KeyEnded { key, last, why }),
        (id(), place()).prop_map(|(device, seen)| Fact::LogSeen { device, seen }),
    ]
}

fn consents_and_tests() -> impl Strategy<Value = Fact> {
    let consent = select(ConsentKind::ALL.to_vec());
    let test = (id(), id(), id(), text(), text(), moment(), id()).prop_map(
        |(id, practice_model, product, lot, site, put_on, put_on_by)| SensitivityTest {
            id,
            practice_model,
            product,
            lot,
            site,
            put_on,
            put_on_by,
            read: None,
        },
    );
    let reading = (moment(), id(), select(vec![TestResult::NothingSeen, TestResult::Positive]))
        .prop_map(|(at, by, result)| TestReading { at, by, result });
    prop_oneof![
        (id(), consent, text(), moment()).prop_map(|(practice_model, kind, version, given)| Fact::ConsentGiven {
            practice_model,
            kind,
            version,
            given
        }),
        (entry_id(), id(), moment()).prop_map(|(consent, practice_model, at)| Fact::ConsentWithdrawn {
            consent,
            practice_model,
            at
        }),
        screening().boxed().prop_map(Fact::ScreeningAnswered),
        test.prop_map(Fact::TestPutOn),
        (id(), reading).prop_map(|(test, reading)| Fact::TestRead { test, reading }),
    ]
}

fn academy_and_products() -> impl Strategy<Value = Fact> {
    let window = (option::of(seconds()), option::of(seconds()), option::of(seconds()))
        .prop_map(|(planned, minimum, maximum)| DwellWindow { planned, minimum, maximum });
    let product =
        (id(), text(), kind(), vec(window, 3), option::of(seconds()), option::of(any::<u32>()), any::<bool>())
            .prop_map(|(id, name, kind, windows, label_maximum, label_test_hours, may_carry_tint)| Product {
                id,
                name,
                kind,
                windows: windows.try_into().unwrap(),
                label_maximum,
                label_test_hours,
                may_carry_tint,
            });
    prop_oneof![
        academy().prop_map(Fact::AcademyFounded),
        academy().prop_map(Fact::AcademyAmended),
        (id(), text()).prop_map(|(id, text)| Fact::BookAdopted { id, text }),
        product.prop_map(Fact::ProductEntered),
        lot().prop_map(Fact::LotOpened),
    ]
}

fn incident() -> impl Strategy<Value = Incident> {
    let on_eye = (eye(), kind(), option::of(id()), text(), text(), option::of(seconds()))
        .prop_map(|(eye, kind, product, name, lot, seconds_on)| OnEye { eye, kind, product, name, lot, seconds_on });
    let step = (text(), option::of(moment())).prop_map(|(step, at)| StepDone { step, at });
    (
        (id(), option::of(id()), option::of(id()), option::of(id()), moment()),
        vec(on_eye, 0..3),
        vec(step, 0..3),
        option::of(seconds()),
        any::<bool>(),
        option::of(id()),
        text(),
    )
        .prop_map(|(who, on_the_eye, steps, rinsed, swelling_or_breathing, instructor, note)| {
            let (id, service, practice_model, trainee, at) = who;
            Incident {
                id,
                service,
                practice_model,
                trainee,
                at,
                on_the_eye,
                steps,
                rinsed,
                swelling_or_breathing,
                instructor,
                note,
            }
        })
}

fn trial() -> impl Strategy<Value = Trial> {
    let millionths = || any::<u32>().prop_map(Millionths);
    let score = (millionths(), millionths(), millionths()).prop_map(|(unacceptable, acceptable, spread)| ScoreTerms {
        unacceptable,
        acceptable,
        spread,
    });
    let rates = (millionths(), millionths(), millionths(), millionths(), millionths(), millionths());
    let terms = (select(Plan::ALL.to_vec()), rates, any::<u32>(), any::<u32>(), option::of(score));
    (id(), id(), moment(), id(), terms).prop_map(|(trainee, by, at, course_book, terms)| {
        let (plan, rates, horizon, breach_free_last, score) = terms;
        let (unacceptable, acceptable, alpha, unassessed_share, false_accept, false_reject) = rates;
        let terms = Terms {
            plan,
            unacceptable,
            acceptable,
            horizon,
            alpha,
            unassessed_share,
            breach_free_last,
            score,
            false_accept,
            false_reject,
        };
        Trial { id: "the-entry".into(), trainee, by, at, terms, course_book }
    })
}

fn work() -> impl Strategy<Value = Fact> {
    let plan = (id(), select(Plan::ALL.to_vec()), moment(), id(), text())
        .prop_map(|(trainee, plan, at, by, why)| PlanDecision { id: "the-entry".into(), trainee, plan, at, by, why });
    let decision = select(vec![Decision::Signed, Decision::NotYet, Decision::Withdrawn]);
    let stands_on =
        (id(), vec("[0-9a-f]{64}", 0..4)).prop_map(|(course_book, evidence)| StandsOn { course_book, evidence });
    let stands_on = option::of(stands_on);
    let sign_off = (id(), id(), id(), moment(), decision, 0..=6_u8, text(), vec(id(), 0..3), stands_on).prop_map(
        |(competency, trainee, by, at, decision, level, comment, services, stands_on)| SignOff {
            id: "the-entry".into(),
            competency,
            trainee,
            by,
            at,
            decision,
            level,
            comment,
            services,
            stands_on,
        },
    );
    let batch = (id(), text(), vec(service(true).boxed(), 0..3), vec(outcome().boxed(), 0..2), any::<u32>())
        .prop_map(|(id, file_name, rows, outcomes, rejected)| ImportBatch { id, file_name, rows, outcomes, rejected });
    prop_oneof![
        service(true).boxed().prop_map(Fact::ServiceLogged),
        service(false).boxed().prop_map(Fact::DrillLogged),
        outcome().boxed().prop_map(Fact::OutcomeMarked),
        (id(), any::<bool>(), text()).prop_map(|(trainee, allowed, why)| Fact::OverlapAllowed {
            trainee,
            allowed,
            why
        }),
        plan.prop_map(Fact::PlanDecided),
        trial().prop_map(Fact::TrialOpened),
        incident().boxed().prop_map(Fact::IncidentReported),
        sign_off.prop_map(Fact::SignedOff),
        (id(), made()).prop_map(|(service, made)| Fact::OverrideNoted { service, made }),
        (id(), text(), id(), text()).prop_map(|(service, reason_code, by, why)| Fact::OverrideRefused {
            service,
            reason_code,
            by,
            why
        }),
        batch.prop_map(Fact::RowsImported),
        (id(), text()).prop_map(|(batch, reason)| Fact::ImportWithdrawn { batch, reason }),
    ]
}

fn about_somebody() -> impl Strategy<Value = Subject> {
    prop_oneof![id().prop_map(Subject::Person), id().prop_map(Subject::PracticeModel)]
}

fn said() -> impl Strategy<Value = Fact> {
    let about = (entry_id(), "[0-9a-f]{64}", id()).prop_map(|(entry, hash, person)| About { entry, hash, person });
    let erasure = (about_somebody(), vec("[0-9a-f]{64}", 0..4), text(), text())
        .prop_map(|(of, hashes, what, why)| Erasure { of, hashes, what, why });
    let hold = (about_somebody(), select(vec![Ground::Claim, Ground::Law]), text())
        .prop_map(|(on, ground, why)| Hold { on, ground, why });
    prop_oneof![
        (about, option::of(text())).prop_map(|(about, disputed)| Fact::Replied(Reply { about, disputed })),
        (entry_id(), id(), text()).prop_map(|(dispute, person, words)| Fact::Resolved(Resolution {
            dispute,
            person,
            words
        })),
        (id(), id(), any::<bool>(), text()).prop_map(|(keep, other, same, why)| Fact::DuplicateSettled(Settlement {
            keep,
            other,
            same,
            why
        })),
        erasure.prop_map(Fact::Erased),
        hold.prop_map(Fact::HoldPlaced),
        (entry_id(), about_somebody(), text()).prop_map(|(hold, on, why)| Fact::HoldLifted { hold, on, why }),
    ]
}

/// Identifiers of entries as the tests number them.
fn entry_id() -> impl Strategy<Value = practicum::ids::EntryId> {
    (0..12_u32).prop_map(|number| practicum::ids::EntryId::new(format!("e{number}")))
}

/// Any fact of any kind.
pub(crate) fn fact() -> impl Strategy<Value = Fact> {
    let plain = || {
        prop_oneof![
            people().boxed(),
            consents_and_tests().boxed(),
            academy_and_products().boxed(),
            work().boxed(),
            said().boxed(),
            beside::beside().boxed()
        ]
        .boxed()
    };
    let correction = (entry_id(), text(), plain().prop_map(Box::new)).prop_map(|(of, reason, fact)| Fact::Corrected {
        of,
        reason,
        fact,
    });
    prop_oneof![5 => plain(), 1 => correction.boxed()].boxed()
}
