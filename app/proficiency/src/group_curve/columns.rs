//! Which columns a group's learning curve has: practice, steps of the section plan, relearning, medium.

use super::{Dropped, Merged, Service, Shape, Term};

/// The columns of a learning curve, decided from who has worked at which level.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Columns {
    /// Levels that stand alone, finest first; the first is the base without a step.
    levels: Vec<u8>,
    /// Level of the data and the one it stands with.
    stands_with: Vec<(u8, u8)>,
    /// Terms after the intercept and practice.
    pub terms: Vec<Term>,
    /// Relearning stops counting after this many services at a level.
    floor: Option<u32>,
}

/// What was decided, and what is to be said about it.
#[derive(Debug, Clone)]
pub(super) struct Decided {
    pub columns: Columns,
    pub merged: Vec<Merged>,
    pub dropped: Vec<Dropped>,
}

pub(super) fn decide(services: &[&Service], least: usize, floor: Option<u32>) -> Decided {
    let mut present: Vec<u8> = services.iter().map(|service| service.level).collect();
    present.sort_unstable();
    present.dedup();
    let mut stands_with: Vec<(u8, u8)> = present.iter().map(|level| (*level, *level)).collect();
    let mut merged = Vec::new();
    let trainees = |levels: &[u8]| -> usize {
        let mut who: Vec<usize> =
            services.iter().filter(|service| levels.contains(&service.level)).map(|service| service.trainee).collect();
        who.sort_unstable();
        who.dedup();
        who.len()
    };
    let members = |stands: &[(u8, u8)], level: u8| -> Vec<u8> {
        stands.iter().filter(|(_, with)| *with == level).map(|(own, _)| *own).collect()
    };
    // From the coarsest on: a level of few joins its finer neighbour, and the two are then one.
    let mut alone = present.clone();
    while let Some(level) = alone.iter().rev().copied().find(|level| trainees(&members(&stands_with, *level)) < least) {
        let own = members(&stands_with, level);
        let finer = alone.iter().rev().copied().find(|other| *other < level);
        // The finest has no finer neighbour: it joins the next coarser one.
        let coarser = alone.iter().copied().find(|other| *other > level);
        let Some(into) = finer.or(coarser) else { break };
        merged.push(Merged { level, into, trainees: trainees(&own) });
        for (_, with) in stands_with.iter_mut().filter(|(_, with)| *with == level) {
            *with = into;
        }
        alone.retain(|other| *other != level);
    }

    let mut columns = Columns { levels: alone, stands_with, terms: Vec::new(), floor };
    let mut dropped = Vec::new();
    for level in columns.levels.clone().into_iter().skip(1) {
        let both = has_both(services, |service| columns.level(service.level) >= level);
        let term = Term::Step(level);
        if both { columns.terms.push(term) } else { dropped.push(Dropped { term, known: false }) }
    }
    let base = columns.levels.first().copied().unwrap_or(0);
    if columns.levels.len() > 1 {
        let learns = |service: &Service| columns.level(service.level) > base && service.within > 1;
        if services.iter().any(|service| learns(service)) {
            columns.terms.push(Term::Relearning);
        } else {
            dropped.push(Dropped { term: Term::Relearning, known: false });
        }
    }
    if services.iter().any(|service| service.other_medium) {
        if has_both(services, |service| service.other_medium) {
            columns.terms.push(Term::Medium);
        } else {
            dropped.push(Dropped { term: Term::Medium, known: false });
        }
    }
    Decided { columns, merged, dropped }
}

/// Whether some trainee has services on both sides of a question.
fn has_both(services: &[&Service], yes: impl Fn(&Service) -> bool) -> bool {
    let side = |wanted: bool| {
        let mut who: Vec<usize> =
            services.iter().filter(|service| yes(service) == wanted).map(|service| service.trainee).collect();
        who.sort_unstable();
        who.dedup();
        who
    };
    let no = side(false);
    side(true).iter().any(|trainee| no.binary_search(trainee).is_ok())
}

impl Columns {
    /// The level that `level` stands with; itself when the data do not have it.
    pub(super) fn level(&self, level: u8) -> u8 {
        self.stands_with.iter().find(|(own, _)| *own == level).map_or(level, |(_, with)| *with)
    }

    /// Whether the data have a level.
    pub(super) fn knows(&self, level: u8) -> bool {
        self.stands_with.iter().any(|(own, _)| *own == level)
    }

    /// All terms, one per fixed column.
    pub(super) fn all(&self) -> Vec<Term> {
        [Term::Intercept, Term::Practice].into_iter().chain(self.terms.iter().copied()).collect()
    }

    /// Steps at or below a level that the data could not tell, so that it is not known how slow it is.
    pub(super) fn steps_to(&self, level: u8) -> impl Iterator<Item = u8> {
        let level = self.level(level);
        self.levels.iter().skip(1).copied().filter(move |step| *step <= level)
    }

    /// The fixed columns of a service.
    pub(super) fn fixed(&self, shape: Shape, service: &Service) -> Vec<f64> {
        let level = self.level(service.level);
        let base = self.levels.first().copied().unwrap_or(0);
        let one_if = |yes: bool| if yes { 1.0 } else { 0.0 };
        let within = service.within.max(1).min(self.floor.unwrap_or(u32::MAX).max(1));
        let term = |term: &Term| match term {
            Term::Intercept => 1.0,
            Term::Practice => shape.practice(f64::from(service.number.max(1))),
            Term::Step(step) => one_if(level >= *step),
            Term::Relearning => one_if(level > base) * f64::from(within).ln(),
            Term::Medium => one_if(service.other_medium),
        };
        [Term::Intercept, Term::Practice].iter().chain(&self.terms).map(term).collect()
    }

    /// The random columns of a service: intercept and practice.
    pub(super) fn random(shape: Shape, service: &Service) -> [f64; 2] {
        [1.0, shape.practice(f64::from(service.number.max(1)))]
    }
}
