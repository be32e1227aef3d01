//! Any fact recorded beside services, for properties.

use practicum::after_the_couch::{
    Comfort, IncidentFollowed, Licence, LiftFollowUp, LiftSeen, LotRecall, Photo, PhotoStage,
};
use practicum::certificate::{Certificate, CertificatePrint, CertificateScope, CertificateWithdrawal, CredentialKey};
use practicum::coursework::{
    Attendance, CaseFinding, CaseMark, CasePack, CaseStudy, CoachingNote, Learning, Sample, SampleFinding, SampleLook,
    TheoryResult,
};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

use super::{day, entry_id, eye, eyes, id, moment, text};
use crate::fact::{Aftercare, Certified, Coursework, Fact};

fn attendance() -> impl Strategy<Value = Coursework> {
    (id(), day(), select(Learning::ALL.to_vec()), 0..2_000_u32, text(), option::of(id())).prop_map(
        |(trainee, on, learning, minutes, title, supervised_by)| {
            Coursework::AttendanceNoted(Attendance { trainee, on, learning, minutes, title, supervised_by })
        },
    )
}

fn theory() -> impl Strategy<Value = Coursework> {
    (id(), text(), day(), 0..50_u32, 0..50_u32, 0..50_u32).prop_map(|(trainee, paper, on, points, out_of, needed)| {
        Coursework::TheoryMarked(TheoryResult { trainee, paper, on, points, out_of, needed })
    })
}

fn coaching() -> impl Strategy<Value = Coursework> {
    (id(), option::of(id()), vec(id(), 0..3), text(), text()).prop_map(|(trainee, fault, services, cause, words)| {
        Coursework::CoachingGiven(CoachingNote { trainee, fault, services, cause, words })
    })
}

fn samples() -> impl Strategy<Value = Coursework> {
    let drawn = (option::of(id()), option::of(id()), vec(id(), 0..3), day()).prop_map(
        |(assessor, competency, services, on)| Coursework::SampleDrawn(Sample { assessor, competency, services, on }),
    );
    let look = (entry_id(), id(), select(SampleFinding::ALL.to_vec()), text(), day()).prop_map(
        |(sample, service, finding, words, on)| {
            Coursework::SampleLookedAt(SampleLook { sample, service, finding, words, on })
        },
    );
    let talked = (id(), text()).prop_map(|(service, words)| Coursework::MarksTalkedOver { service, words });
    prop_oneof![drawn.boxed(), look.boxed(), talked.boxed()]
}

fn cases() -> impl Strategy<Value = Coursework> {
    let set = (id(), option::of(id()), text(), text(), day(), day(), 0..4_u32).prop_map(
        |(trainee, competency, title, asks, opens, due, hand_ins)| {
            Coursework::CaseSet(CaseStudy { trainee, competency, title, asks, opens, due, hand_ins })
        },
    );
    let pack = (entry_id(), id(), vec(id(), 0..3), text(), day()).prop_map(|(case, trainee, services, words, on)| {
        Coursework::CaseHandedIn(CasePack { case, trainee, services, words, on })
    });
    let mark = (entry_id(), id(), select(CaseFinding::ALL.to_vec()), text())
        .prop_map(|(pack, trainee, finding, words)| Coursework::CaseMarked(CaseMark { pack, trainee, finding, words }));
    prop_oneof![set.boxed(), pack.boxed(), mark.boxed()]
}

fn aftercare() -> impl Strategy<Value = Aftercare> {
    let seen = select(LiftSeen::ALL.to_vec());
    let look =
        ((id(), day(), option::of(0..400_u32)), (eyes(seen), any::<bool>(), select(Comfort::ALL.to_vec()), text()))
            .prop_map(|((service, on, planned_day), (eyes, uneven, comfort, words))| {
                Aftercare::LiftLookedAt(LiftFollowUp { service, on, planned_day, eyes, uneven, comfort, words })
            });
    let photo = ((id(), id(), eye(), select(PhotoStage::ALL.to_vec())), (moment(), 0..2_000_u32, 0..2_000_u32, text()))
        .prop_map(|((practice_model, service, eye, stage), (at, width, height, jpeg))| {
            Aftercare::PhotoKept(Photo { practice_model, service, eye, stage, at, width, height, jpeg })
        });
    let recall = (id(), text(), day(), text())
        .prop_map(|(product, number, on, why)| Aftercare::LotRecalled(LotRecall { product, number, on, why }));
    let followed = (id(), day(), text(), any::<bool>()).prop_map(|(incident, on, words, closed)| {
        Aftercare::IncidentFollowed(IncidentFollowed { incident, on, words, closed })
    });
    let licence =
        (id(), text(), text(), text(), option::of(day())).prop_map(|(person, name, number, issuer, expires)| {
            Aftercare::LicenceNoted(Licence { person, name, number, issuer, expires })
        });
    prop_oneof![look.boxed(), photo.boxed(), recall.boxed(), followed.boxed(), licence.boxed()]
}

fn certified() -> impl Strategy<Value = Certified> {
    let scope = select(vec![CertificateScope::Lift, CertificateScope::LiftAndTint]);
    let issued = ((text(), id(), scope, vec(entry_id(), 0..3)), (id(), day(), id(), text())).prop_map(
        |((number, trainee, scope, sign_offs), (assessor, on, course_book, record_hash))| {
            Certified::Issued(Certificate { number, trainee, scope, sign_offs, assessor, on, course_book, record_hash })
        },
    );
    let printed = (entry_id(), id(), 0..9_u32)
        .prop_map(|(certificate, trainee, copy)| Certified::Printed(CertificatePrint { certificate, trainee, copy }));
    let withdrawn = (entry_id(), id(), text()).prop_map(|(certificate, trainee, why)| {
        Certified::Withdrawn(CertificateWithdrawal { certificate, trainee, why })
    });
    let key =
        (text(), text()).prop_map(|(algorithm, jwk)| Certified::CredentialKeyMade(CredentialKey { algorithm, jwk }));
    prop_oneof![issued.boxed(), printed.boxed(), withdrawn.boxed(), key.boxed()]
}

/// Any of them.
pub(super) fn beside() -> impl Strategy<Value = Fact> {
    let coursework =
        prop_oneof![attendance().boxed(), theory().boxed(), coaching().boxed(), samples().boxed(), cases().boxed()];
    prop_oneof![
        2 => coursework.prop_map(Fact::Coursework).boxed(),
        1 => aftercare().prop_map(Fact::Aftercare).boxed(),
        1 => certified().prop_map(Fact::Certified).boxed(),
    ]
}
