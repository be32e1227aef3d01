//! How long each piece of a trainee's work takes at present, and how much that varies.

use super::{Books, standard_time};
use crate::couch::times::Dwell;
use crate::course_book::{Stage, Work};
use crate::eye::Eye;
use crate::ids::StageId;
use crate::moment::Seconds;
use crate::section::Plan;
use crate::service::Service;

/// Least spread that is planned with, on the natural logarithm of the time: a tenth up or down. Proposal, no
/// source; a handful of equal times says little of the next one.
const LEAST_LOG_SD: f64 = 0.1;

/// A piece of hands-on work inside a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Piece {
    /// All of a hands-on stage.
    Work,
    /// Putting a product on: first to last contact.
    PutOn,
    /// Taking it off.
    TakeOff,
}

impl Piece {
    /// Returns the plain words, to stand before or after a stage's name.
    pub fn word(self) -> &'static str {
        match self {
            Piece::Work => "work",
            Piece::PutOn => "put on",
            Piece::TakeOff => "take off",
        }
    }
}

/// How long a piece of work takes: on one eye where the stage is per eye, else on both.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    /// The stage.
    pub stage: StageId,
    /// The piece of it.
    pub piece: Piece,
    /// Median in seconds, above 0.
    pub typical: f64,
    /// Standard deviation of the natural logarithm of the time, 0.1 or more.
    pub log_sd: f64,
    /// Number of times it stands on: up to two a service where the stage is per eye.
    pub times: usize,
}

/// Works out the paces from a trainee's last `last` services at a plan whose time stands.
///
/// `services` are in the order begun. A stage that was never worked there has no pace.
pub fn paces(services: &[&Service], books: &Books, plan: Plan, last: usize) -> Vec<Pace> {
    let stands = |service: &&&Service| service.plan() == Some(plan) && standard_time(service, books).is_ok();
    let chosen: Vec<&&Service> = services.iter().rev().filter(stands).take(last).collect();
    let mut paces = Vec::new();
    for stage in &books.present.stages {
        let pieces: &[Piece] = match stage.work {
            Work::HandsOn => &[Piece::Work],
            Work::Dwell(_) => &[Piece::PutOn, Piece::TakeOff],
            Work::Check => &[],
        };
        for piece in pieces {
            let seconds = chosen.iter().flat_map(|service| seconds(service, stage, *piece));
            paces.extend(pace(stage, *piece, seconds.filter(|seconds| *seconds > 0).map(f64::from).collect()));
        }
    }
    paces
}

fn pace(stage: &Stage, piece: Piece, seconds: Vec<f64>) -> Option<Pace> {
    let typical = proficiency::middle::median(&seconds)?;
    let logs: Vec<f64> = seconds.iter().map(|seconds| seconds.ln()).collect();
    let count = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / count;
    let square = logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>();
    let log_sd = if count > 1.0 { (square / (count - 1.0)).sqrt() } else { 0.0 };
    Some(Pace { stage: stage.id.clone(), piece, typical, log_sd: log_sd.max(LEAST_LOG_SD), times: seconds.len() })
}

fn seconds(service: &Service, stage: &Stage, piece: Piece) -> Vec<Seconds> {
    let worked = |eye: Option<Eye>| -> Seconds {
        let parts = service.times.stages.iter().filter(|time| time.stage == stage.id && time.eye == eye);
        parts.map(|time| time.hands_on).fold(0, Seconds::saturating_add)
    };
    let on = |eye: Eye| -> Option<Seconds> {
        let of_eye = |dwell: &&Dwell| dwell.stage == stage.id && dwell.eye == eye && !dwell.interrupted;
        let dwell = service.times.dwells.iter().find(of_eye)?;
        Some(dwell.last_contact?.saturating_sub(dwell.first_contact))
    };
    match piece {
        Piece::Work if !stage.per_eye => vec![worked(None)],
        Piece::Work => Eye::BOTH.iter().map(|eye| worked(Some(*eye))).collect(),
        Piece::PutOn => Eye::BOTH.iter().filter_map(|eye| on(*eye)).collect(),
        Piece::TakeOff => {
            Eye::BOTH.iter().filter_map(|eye| Some(worked(Some(*eye)).saturating_sub(on(*eye)?))).collect()
        }
    }
}
