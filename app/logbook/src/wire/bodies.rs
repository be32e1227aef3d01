//! From a fact to its stored body, and back by kind and version.

use practicum::ids::{CourseBookId, EntryId};
use practicum::practice_model::ConsentKind;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::couch::OverrideV1;
use super::incident::{ImportBatchV1, IncidentV1};
use super::keys::{AdmissionV1, ChainPlaceV1, OverrideAnswerV1};
use super::outcome::{OutcomeV1, PlanDecisionV1, SignOffV1, SignOffV2, TrialV1};
use super::people::{
    AcademyV1, ConsentKindV1, ConsentKindV2, ContactV1, FollowUpV1, LotV1, PersonV1, PracticeModelV1, ProductV1,
    ReadingV1, ScreeningV1, TestV1,
};
use super::said::{ErasureV1, HoldV1, ReplyV1, ResolutionV1, SettlementV1};
use super::service::ServiceV1;
use super::{Twin, aftercare, coursework};
use crate::fact::Fact;
use crate::kind::Kind;

/// Returns the version in which the body of a fact is written.
pub(crate) fn version(fact: &Fact) -> u32 {
    match fact {
        // One that does not say what it stands on was read from the first version, and goes back into it.
        Fact::SignedOff(sign_off) if sign_off.stands_on.is_some() => 2,
        // The first version knows two kinds of consent.
        Fact::ConsentGiven { kind: ConsentKind::Photos | ConsentKind::Publicity, .. } => 2,
        _ => 1,
    }
}

/// Returns the latest version of a kind that is read.
fn latest(kind: &Kind) -> u32 {
    match kind {
        Kind::SignedOff | Kind::SignOffWithdrawn | Kind::ConsentGiven => 2,
        _ => 1,
    }
}

macro_rules! stored {
    ($($name:ident { $($field:ident : $type:ty),* $(,)? })*) => {$(
        #[derive(Debug, Serialize, Deserialize)]
        struct $name { $($field: $type),* }
    )*};
}

stored! {
    BookAdoptedV1 { id: String, text: String }
    PersonLeftV1 { person: String, on: String }
    TimesShownV1 { trainee: String, shown: bool }
    OverlapAllowedV1 { trainee: String, allowed: bool, why: String }
    DeviceAdmittedV1 { device: String, label: String }
    DeviceEndedV1 { device: String }
    AcademyKeyMadeV1 { adopts: Vec<String> }
    KeyEndedV1 { key: String, last: ChainPlaceV1, why: String }
    LogSeenV1 { device: String, seen: ChainPlaceV1 }
    ConsentGivenV1 { practice_model: String, kind: ConsentKindV1, version: String, given: String }
    ConsentGivenV2 { practice_model: String, kind: ConsentKindV2, version: String, given: String }
    ConsentWithdrawnV1 { consent: String, practice_model: String, at: String }
    TestReadV1 { test: String, reading: ReadingV1 }
    OverrideNotedV1 { service: String, made: OverrideV1 }
    OverrideRefusedV1 { service: String, reason_code: String, by: String, why: String }
    AnswerTypedV1 { challenge: String, answer: String }
    ImportWithdrawnV1 { batch: String, reason: String }
    CorrectionV1 { of: String, reason: String, kind: String, version: u32, content: Value }
    CoachingDismissedV1 { trainee: String, fault: String, why: String }
    HoldLiftedV1 { hold: String, on: String, why: String }
}

/// Makes the stored body of a fact, in the present version.
///
/// # Errors
/// Returns why it cannot be written, which no fact gives cause for.
pub(crate) fn encode(fact: &Fact) -> Result<Value, String> {
    match fact {
        Fact::AcademyFounded(academy) | Fact::AcademyAmended(academy) => json(&AcademyV1::of(academy)),
        Fact::BookAdopted { id, text } => json(&BookAdoptedV1 { id: Twin::of(id), text: text.clone() }),
        Fact::ProductEntered(product) => json(&ProductV1::of(product)),
        Fact::LotOpened(lot) => json(&LotV1::of(lot)),
        Fact::PersonEnrolled(person) => json(&PersonV1::of(person)),
        Fact::PersonLeft { person, on } => json(&PersonLeftV1 { person: Twin::of(person), on: Twin::of(on) }),
        Fact::ContactNoted(contact) => json(&ContactV1::of(contact)),
        Fact::TimesShown { trainee, shown } => json(&TimesShownV1 { trainee: Twin::of(trainee), shown: *shown }),
        Fact::DeviceAdmitted { device, label } => {
            json(&DeviceAdmittedV1 { device: Twin::of(device), label: label.clone() })
        }
        Fact::DeviceEnded { device } => json(&DeviceEndedV1 { device: Twin::of(device) }),
        Fact::AcademyKeyMade { adopts } => json(&AcademyKeyMadeV1 { adopts: adopts.clone() }),
        Fact::KeyAsked(admission) | Fact::KeyAdmitted(admission) => json(&AdmissionV1::of(admission)),
        Fact::KeyEnded { key, last, why } => {
            json(&KeyEndedV1 { key: Twin::of(key), last: Twin::of(last), why: why.clone() })
        }
        Fact::LogSeen { device, seen } => json(&LogSeenV1 { device: Twin::of(device), seen: Twin::of(seen) }),
        Fact::PracticeModelAdded(added) => json(&PracticeModelV1::of(added)),
        Fact::ConsentGiven { practice_model, kind, version, given } => {
            let (practice_model, version, given) = (Twin::of(practice_model), version.clone(), Twin::of(given));
            match ConsentKindV1::of_first(*kind) {
                Some(kind) => json(&ConsentGivenV1 { practice_model, kind, version, given }),
                None => json(&ConsentGivenV2 { practice_model, kind: Twin::of(kind), version, given }),
            }
        }
        Fact::ConsentWithdrawn { consent, practice_model, at } => json(&ConsentWithdrawnV1 {
            consent: Twin::of(consent),
            practice_model: Twin::of(practice_model),
            at: Twin::of(at),
        }),
        Fact::ScreeningAnswered(screening) => json(&ScreeningV1::of(screening)),
        Fact::TestPutOn(test) => json(&TestV1::of(test)),
        Fact::TestRead { test, reading } => json(&TestReadV1 { test: Twin::of(test), reading: Twin::of(reading) }),
        Fact::ServiceLogged(service) | Fact::DrillLogged(service) => json(&ServiceV1::of(service)),
        Fact::OutcomeMarked(outcome) => json(&OutcomeV1::of(outcome)),
        Fact::OverlapAllowed { trainee, allowed, why } => {
            json(&OverlapAllowedV1 { trainee: Twin::of(trainee), allowed: *allowed, why: why.clone() })
        }
        Fact::PlanDecided(decision) => json(&PlanDecisionV1::of(decision)),
        Fact::TrialOpened(trial) => json(&TrialV1::of(trial)),
        Fact::IncidentReported(incident) => json(&IncidentV1::of(incident)),
        Fact::SignedOff(sign_off) => match &sign_off.stands_on {
            Some(stands_on) => json(&SignOffV2::of(sign_off, stands_on)),
            None => json(&SignOffV1::of(sign_off)),
        },
        Fact::OverrideNoted { service, made } => {
            json(&OverrideNotedV1 { service: Twin::of(service), made: Twin::of(made) })
        }
        Fact::OverrideRefused { service, reason_code, by, why } => json(&OverrideRefusedV1 {
            service: Twin::of(service),
            reason_code: reason_code.clone(),
            by: Twin::of(by),
            why: why.clone(),
        }),
        Fact::OverrideAnswered(answer) => json(&OverrideAnswerV1::of(answer)),
        Fact::AnswerTyped { challenge, answer } => {
            json(&AnswerTypedV1 { challenge: challenge.clone(), answer: answer.clone() })
        }
        Fact::RowsImported(batch) => json(&ImportBatchV1::of(batch)),
        Fact::ImportWithdrawn { batch, reason } => {
            json(&ImportWithdrawnV1 { batch: Twin::of(batch), reason: reason.clone() })
        }
        Fact::Corrected { of, reason, fact } => json(&CorrectionV1 {
            of: Twin::of(of),
            reason: reason.clone(),
            kind: fact.kind().word().to_owned(),
            version: version(fact),
            content: encode(fact)?,
        }),
        Fact::FollowUpNoted(note) => json(&FollowUpV1::of(note)),
        Fact::CoachingDismissed { trainee, fault, why } => {
            json(&CoachingDismissedV1 { trainee: Twin::of(trainee), fault: Twin::of(fault), why: why.clone() })
        }
        Fact::Replied(answer) => json(&ReplyV1::of(answer)),
        Fact::Resolved(resolution) => json(&ResolutionV1::of(resolution)),
        Fact::DuplicateSettled(settlement) => json(&SettlementV1::of(settlement)),
        Fact::Erased(erasure) => json(&ErasureV1::of(erasure)),
        Fact::HoldPlaced(hold) => json(&HoldV1::of(hold)),
        Fact::HoldLifted { hold, on, why } => {
            json(&HoldLiftedV1 { hold: Twin::of(hold), on: Twin::of(on), why: why.clone() })
        }
        Fact::Coursework(said) => coursework::encode(said),
        Fact::Aftercare(said) => aftercare::encode(said),
        Fact::Certified(said) => aftercare::encode_certified(said),
    }
}

/// Reads a stored body; `None` when this version of the app does not know the kind or its version.
///
/// # Errors
/// Returns what is wrong with the body, in words.
pub(crate) fn decode(kind: &Kind, version: u32, content: Value, id: &EntryId) -> Result<Option<Fact>, String> {
    if version == 0 || version > latest(kind) {
        return Ok(None);
    }
    let fact = match kind {
        Kind::AcademyFounded => Fact::AcademyFounded(twin::<AcademyV1, _>(content)?),
        Kind::AcademyAmended => Fact::AcademyAmended(twin::<AcademyV1, _>(content)?),
        Kind::BookAdopted => {
            let BookAdoptedV1 { id, text } = typed(content)?;
            Fact::BookAdopted { id: CourseBookId::new(id), text }
        }
        Kind::ProductEntered => Fact::ProductEntered(twin::<ProductV1, _>(content)?),
        Kind::LotOpened => Fact::LotOpened(twin::<LotV1, _>(content)?),
        Kind::PersonEnrolled => Fact::PersonEnrolled(twin::<PersonV1, _>(content)?),
        Kind::PersonLeft => {
            let PersonLeftV1 { person, on } = typed(content)?;
            Fact::PersonLeft { person: person.back()?, on: on.back()? }
        }
        Kind::ContactNoted => Fact::ContactNoted(twin::<ContactV1, _>(content)?),
        Kind::TimesShown => {
            let TimesShownV1 { trainee, shown } = typed(content)?;
            Fact::TimesShown { trainee: trainee.back()?, shown }
        }
        Kind::DeviceAdmitted => {
            let DeviceAdmittedV1 { device, label } = typed(content)?;
            Fact::DeviceAdmitted { device: device.back()?, label }
        }
        Kind::DeviceEnded => {
            let DeviceEndedV1 { device } = typed(content)?;
            Fact::DeviceEnded { device: device.back()? }
        }
        Kind::AcademyKeyMade => {
            let AcademyKeyMadeV1 { adopts } = typed(content)?;
            Fact::AcademyKeyMade { adopts }
        }
        Kind::KeyAsked => Fact::KeyAsked(twin::<AdmissionV1, _>(content)?),
        Kind::KeyAdmitted => Fact::KeyAdmitted(twin::<AdmissionV1, _>(content)?),
        Kind::KeyEnded => {
            let KeyEndedV1 { key, last, why } = typed(content)?;
            Fact::KeyEnded { key: key.back()?, last: last.back()?, why }
        }
        Kind::LogSeen => {
            let LogSeenV1 { device, seen } = typed(content)?;
            Fact::LogSeen { device: device.back()?, seen: seen.back()? }
        }
        Kind::PracticeModelAdded => Fact::PracticeModelAdded(twin::<PracticeModelV1, _>(content)?),
        Kind::ConsentGiven => {
            let (practice_model, kind, wording, given) = match version {
                1 => {
                    let ConsentGivenV1 { practice_model, kind, version, given } = typed(content)?;
                    (practice_model, kind.back(), version, given)
                }
                _ => {
                    let ConsentGivenV2 { practice_model, kind, version, given } = typed(content)?;
                    (practice_model, kind.back()?, version, given)
                }
            };
            let (practice_model, given) = (practice_model.back()?, given.back()?);
            Fact::ConsentGiven { practice_model, kind, version: wording, given }
        }
        Kind::ConsentWithdrawn => {
            let ConsentWithdrawnV1 { consent, practice_model, at } = typed(content)?;
            let (consent, practice_model, at) = (consent.back()?, practice_model.back()?, at.back()?);
            Fact::ConsentWithdrawn { consent, practice_model, at }
        }
        Kind::ScreeningAnswered => Fact::ScreeningAnswered(twin::<ScreeningV1, _>(content)?),
        Kind::TestPutOn => Fact::TestPutOn(twin::<TestV1, _>(content)?),
        Kind::TestRead => {
            let TestReadV1 { test, reading } = typed(content)?;
            Fact::TestRead { test: test.back()?, reading: reading.back()? }
        }
        Kind::ServiceLogged => Fact::ServiceLogged(twin::<ServiceV1, _>(content)?),
        Kind::DrillLogged => Fact::DrillLogged(twin::<ServiceV1, _>(content)?),
        Kind::OutcomeMarked => Fact::OutcomeMarked(twin::<OutcomeV1, _>(content)?),
        Kind::OverlapAllowed => {
            let OverlapAllowedV1 { trainee, allowed, why } = typed(content)?;
            Fact::OverlapAllowed { trainee: trainee.back()?, allowed, why }
        }
        Kind::PlanDecided => Fact::PlanDecided(typed::<PlanDecisionV1>(content)?.back(id)?),
        Kind::TrialOpened => Fact::TrialOpened(typed::<TrialV1>(content)?.back(id)?),
        Kind::IncidentReported => Fact::IncidentReported(twin::<IncidentV1, _>(content)?),
        Kind::SignedOff | Kind::SignOffWithdrawn => Fact::SignedOff(match version {
            1 => typed::<SignOffV1>(content)?.back(id)?,
            _ => typed::<SignOffV2>(content)?.back(id)?,
        }),
        Kind::OverrideNoted => {
            let OverrideNotedV1 { service, made } = typed(content)?;
            Fact::OverrideNoted { service: service.back()?, made: made.back()? }
        }
        Kind::OverrideRefused => {
            let OverrideRefusedV1 { service, reason_code, by, why } = typed(content)?;
            Fact::OverrideRefused { service: service.back()?, reason_code, by: by.back()?, why }
        }
        Kind::OverrideAnswered => Fact::OverrideAnswered(twin::<OverrideAnswerV1, _>(content)?),
        Kind::AnswerTyped => {
            let AnswerTypedV1 { challenge, answer } = typed(content)?;
            Fact::AnswerTyped { challenge, answer }
        }
        Kind::RowsImported => Fact::RowsImported(twin::<ImportBatchV1, _>(content)?),
        Kind::ImportWithdrawn => {
            let ImportWithdrawnV1 { batch, reason } = typed(content)?;
            Fact::ImportWithdrawn { batch: batch.back()?, reason }
        }
        Kind::Correction => match correction(typed(content)?, id)? {
            Some(fact) => fact,
            None => return Ok(None),
        },
        Kind::FollowUpNoted => Fact::FollowUpNoted(twin::<FollowUpV1, _>(content)?),
        Kind::CoachingDismissed => {
            let CoachingDismissedV1 { trainee, fault, why } = typed(content)?;
            Fact::CoachingDismissed { trainee: trainee.back()?, fault: fault.back()?, why }
        }
        Kind::Acknowledged | Kind::Disputed => Fact::Replied(twin::<ReplyV1, _>(content)?),
        Kind::Resolved => Fact::Resolved(twin::<ResolutionV1, _>(content)?),
        Kind::DuplicateSettled => Fact::DuplicateSettled(twin::<SettlementV1, _>(content)?),
        Kind::Erased => Fact::Erased(twin::<ErasureV1, _>(content)?),
        Kind::HoldPlaced => Fact::HoldPlaced(twin::<HoldV1, _>(content)?),
        Kind::HoldLifted => {
            let HoldLiftedV1 { hold, on, why } = typed(content)?;
            Fact::HoldLifted { hold: hold.back()?, on: on.back()?, why }
        }
        Kind::Other(_) => return Ok(None),
        kind => match beside(kind, content)? {
            Some(fact) => fact,
            None => return Ok(None),
        },
    };
    match fact.kind() == *kind {
        true => Ok(Some(fact)),
        false => Err(format!("the body belongs to “{}”, not to “{kind}”", fact.kind())),
    }
}

/// Reads the body of a kind that is recorded beside services.
fn beside(kind: &Kind, content: Value) -> Result<Option<Fact>, String> {
    if let Some(said) = coursework::decode(kind, content.clone())? {
        return Ok(Some(Fact::Coursework(said)));
    }
    if let Some(said) = aftercare::decode(kind, content.clone())? {
        return Ok(Some(Fact::Aftercare(said)));
    }
    Ok(aftercare::decode_certified(kind, content)?.map(Fact::Certified))
}

fn correction(stored: CorrectionV1, id: &EntryId) -> Result<Option<Fact>, String> {
    let CorrectionV1 { of, reason, kind, version, content } = stored;
    let kind = Kind::of(&kind);
    if kind == Kind::Correction {
        return Err("a correction must say what holds instead, not correct another correction".to_owned());
    }
    let Some(fact) = decode(&kind, version, content, id)? else { return Ok(None) };
    Ok(Some(Fact::Corrected { of: of.back()?, reason, fact: Box::new(fact) }))
}

pub(super) fn json<T: Serialize>(twin: &T) -> Result<Value, String> {
    serde_json::to_value(twin).map_err(|error| error.to_string())
}

pub(super) fn typed<T: DeserializeOwned>(content: Value) -> Result<T, String> {
    crate::json::typed(content)
}

pub(super) fn twin<T: DeserializeOwned + Twin<D>, D>(content: Value) -> Result<D, String> {
    typed::<T>(content)?.back()
}
