//! Why an act cannot be now: the run's own rules, before the gate is asked.

use super::{Phase, Run, Status};
use crate::couch::{Act, Tint, What};
use crate::course_book::{Stage, Work};
use crate::eye::{Eye, PerEye};
use crate::ids::{PersonId, StageId};
use crate::moment::Seconds;
use crate::product::ProductKind;

impl Run<'_> {
    /// Says why an act cannot be now; `None` when it can.
    pub fn refuses(&self, act: &Act) -> Option<String> {
        let no = |why: &str| Some(why.to_owned());
        match (&self.phase, act) {
            (_, Act::TimeConfirmed { at_tap, seconds, by, what }) => {
                return self.refuses_statement(*at_tap, *seconds, by, what);
            }
            (_, Act::AlarmMayBeLost(_) | Act::SoundChecked(_)) => return None,
            (phase, Act::ClockSeen) if *phase != Phase::Opened => return None,
            (Phase::Finished | Phase::Stopped(_), _) => return no("the service has ended"),
            (Phase::Opened, Act::Begin) => return None,
            (Phase::Opened, _) => return no("the service has not begun"),
            (_, Act::Begin) => return no("the service has begun already"),
            (Phase::Reaction(_), Act::GoOn { .. } | Act::Stop(_)) => return self.refuses_answer(act),
            (Phase::Reaction(_), _) => {
                return no("a reaction was reported: an instructor decides whether to go on");
            }
            (_, Act::GoOn { .. }) => return no("no reaction was reported"),
            (_, Act::Reaction(_) | Act::Stop(_) | Act::AlarmHeard(_) | Act::OffStarts(..)) => {}
            (Phase::Paused(_), Act::Resume) => return None,
            (Phase::Paused(_), _) => return no("the service is paused: tap “Go on” first"),
            (_, Act::Resume) => return no("the service is not paused"),
            (Phase::Checking(_), Act::CheckDone { .. }) => return self.refuses_answer(act),
            (Phase::Checking(_), _) => {
                return no("the instructor is checking: end the check first");
            }
            (_, Act::CheckDone { .. }) => return no("no check is under way"),
            _ => {}
        }
        self.refuses_answer(act).or_else(|| self.refuses_stage(act))
    }

    fn refuses_statement(&self, at_tap: u32, seconds: Seconds, by: &PersonId, what: &str) -> Option<String> {
        let found = self.clock.doubtful().iter().find(|doubtful| doubtful.at_tap == at_tap);
        match found {
            None => Some("that stretch of time is not in doubt".to_owned()),
            Some(_) if what.trim().is_empty() => Some("say in a few words what happened".to_owned()),
            Some(found) if *by == self.opening.trainee && found.shortens(seconds) => {
                Some("less than the clocks count is for an instructor to say".to_owned())
            }
            Some(_) => None,
        }
    }

    /// Says why an answer about the preparation comes too late: what a product on the eye rests on stays.
    fn refuses_answer(&self, act: &Act) -> Option<String> {
        let no = |why: &str| Some(why.to_owned());
        let touched = |kind: ProductKind| self.dwells.iter().any(|dwell| dwell.product == kind);
        match act {
            Act::PracticeModel(id) if self.lotion_begun() && self.prepared.practice_model.as_ref() != Some(id) => {
                no("a product has touched this practice model already")
            }
            Act::WillBeAssessed(yes) if self.lotion_begun() && self.prepared.will_be_assessed != Some(*yes) => {
                no("this is declared before lotion, and lotion has begun")
            }
            Act::TintChosen(tint) if self.prepared.tint != Some(*tint) => {
                let mixed = *tint == Tint::Mixed || self.prepared.tint == Some(Tint::Mixed);
                let late = touched(ProductKind::Tint) || (mixed && touched(ProductKind::Setting));
                late.then(|| "the tint or the setting lotion has touched an eye already".to_owned())
            }
            Act::ProductChosen(_, kind)
                if Eye::BOTH.iter().any(|eye| self.product_on(*eye).is_some_and(|dwell| dwell.product == *kind)) =>
            {
                no("this product is on an eye now")
            }
            Act::DwellSet(_, _, plan) if plan.planned > plan.label_maximum => {
                no("the planned dwell is longer than the label maximum")
            }
            Act::CheckDone { by: Some(by), .. } | Act::GoOn { by, .. } if *by == self.opening.trainee => {
                no("this is for somebody other than the trainee to say")
            }
            Act::Pause(reason) if reason.trim().is_empty() => no("say why the pause"),
            _ => None,
        }
    }

    fn refuses_stage(&self, act: &Act) -> Option<String> {
        let no = |why: &str| Some(why.to_owned());
        let on = |eye: &Eye, stage: &StageId| self.product_on(*eye).is_some_and(|dwell| dwell.stage == *stage);
        match act {
            Act::Work(stage, eye) | Act::Done(stage, eye) => match self.stage(stage) {
                None => no("this stage is not in the course book"),
                Some(found) if found.per_eye != eye.is_some() => no("this stage is not counted that way"),
                Some(found) if found.work != Work::HandsOn => no("this stage has its own taps"),
                Some(_) if matches!(act, Act::Done(..)) && self.status(stage, *eye) == Status::NotStarted => {
                    no("this stage has not begun")
                }
                Some(_) => None,
            },
            Act::SectionDone(stage, eye) => match self.stage(stage) {
                Some(found) if found.by_section && found.per_eye => {
                    let all = self.prepared.sections.get(*eye).map_or(8, |s| usize::from(s.number()));
                    (all <= self.sections_done(stage, *eye)).then(|| "all sections of this eye are finished".to_owned())
                }
                _ => no("this stage is not worked section by section"),
            },
            Act::LotionStarts(stage, eye) => self.refuses_lotion(stage, *eye),
            Act::AllOn(stage, eye) if !on(eye, stage) => no("no product is on this eye"),
            Act::AllOn(_, eye) if self.product_on(*eye).is_some_and(|dwell| dwell.last_contact.is_some()) => {
                no("the product is all on already")
            }
            Act::OffStarts(stage, eye) if !on(eye, stage) => no("no product is on this eye"),
            Act::OffDone(stage, eye) if self.status(stage, Some(*eye)) != Status::ComingOff => {
                no("the product is not being taken off this eye")
            }
            Act::Finish if Eye::BOTH.iter().any(|eye| self.product_on(*eye).is_some()) => {
                no("a product is still on an eye")
            }
            Act::CheckStarts(stage) if self.stage(stage).is_none_or(|stage| stage.work != Work::Check) => {
                no("this stage is not a check")
            }
            _ => None,
        }
    }

    fn refuses_lotion(&self, stage: &StageId, eye: Eye) -> Option<String> {
        let Some(Stage { work: Work::Dwell(kind), .. }) = self.stage(stage) else {
            return Some("this stage has no product".to_owned());
        };
        if self.product_on(eye).is_some() {
            return Some(format!("a product is on the {} eye already", eye.word()));
        }
        if !self.prepared.dwell_plans.contains_key(&(*kind, eye)) {
            return Some(format!("no dwell figures for the {} on the {} eye", kind.word(), eye.word()));
        }
        let missing = self.missing_before_lotion();
        (!missing.is_empty()).then(|| format!("before lotion: {}", missing.join(", ")))
    }

    /// Lists what this run still lacks before any lotion, in words; empty for a drill.
    pub fn missing_before_lotion(&self) -> Vec<&'static str> {
        if self.opening.what != What::Service {
            return Vec::new();
        }
        let prepared = &self.prepared;
        let both = |there: PerEye<bool>| there.left && there.right;
        let needs = [
            (prepared.practice_model.is_some(), "choose the practice model"),
            (prepared.consent_checked, "check the consents"),
            (prepared.screening.is_some(), "answer the screening"),
            (prepared.tests_checked, "check the sensitivity tests"),
            (both(prepared.analysis.map(|_, a| a.is_some())), "analyse the lashes of both eyes"),
            (both(prepared.shields.map(|_, s| s.is_some())), "choose a shield for each eye"),
            (both(prepared.sections.map(|_, s| s.is_some())), "say the sections of each eye"),
            (prepared.tint.is_some(), "say whether there is tint"),
            (prepared.will_be_assessed.is_some(), "say whether an assessor will mark this service"),
            (prepared.check_passed, "have the instructor's check"),
        ];
        needs.into_iter().filter(|(there, _)| !there).map(|(_, what)| what).collect()
    }
}
