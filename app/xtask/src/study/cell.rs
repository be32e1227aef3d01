//! One cell of the study: a world, a size of group, a way to fit; many groups, scored.

use proficiency::forecast::{FARTHEST, Gap, Place, Question, ahead_by, answerable, outlooks};
use proficiency::group_curve::{Curve, Options, fit};

use super::draw::Draw;
use super::truth::{Trainee, WHOLE, World, group};

/// Target of the forecasts, in seconds.
pub const TARGET: f64 = 2700.0;
/// Services ahead at which intervals are scored.
pub const AHEAD: [u32; 3] = [1, 5, 10];

/// What a cell is about.
#[derive(Debug, Clone)]
pub struct Cell {
    /// The world.
    pub world: World,
    /// Trainees of a group.
    pub trainees: usize,
    /// Groups drawn.
    pub groups: u32,
    /// Trainees scored of each group, at most.
    pub scored: usize,
    /// How curves are fitted.
    pub options: Options,
}

/// A share counted in groups, so that trainees of one group are not taken for independent.
#[derive(Debug, Clone, Default)]
pub struct Share {
    /// Per group: how many, of how many.
    groups: Vec<(f64, f64)>,
}

impl Share {
    fn add(&mut self, hits: f64, tries: f64) {
        if tries > 0.0 {
            self.groups.push((hits, tries));
        }
    }

    /// Trainees counted.
    pub fn tries(&self) -> f64 {
        self.groups.iter().map(|group| group.1).sum()
    }

    /// The share, 0 to 1.
    pub fn value(&self) -> f64 {
        self.groups.iter().map(|group| group.0).sum::<f64>() / self.tries()
    }

    /// Its standard error by the scatter between groups (ratio estimate: Cochran 1977, Sampling
    /// Techniques, section 6.4).
    pub fn error(&self) -> f64 {
        let (value, count) = (self.value(), self.groups.len() as f64);
        let squares: f64 = self.groups.iter().map(|(hits, tries)| (hits - value * tries).powi(2)).sum();
        (squares * count / (count - 1.0)).sqrt() / self.tries()
    }

    /// Whether the share can lie from `low` to `high`: some value within two standard errors does.
    pub fn can_be_within(&self, low: f64, high: f64) -> bool {
        let (value, reach) = (self.value(), 2.0 * self.error());
        value + reach >= low && value - reach <= high
    }
}

/// Scores of a cell.
#[derive(Debug, Clone, Default)]
pub struct Scores {
    /// Trainees scored.
    pub trainees: u32,
    /// Groups without a curve or an answer.
    pub without: u32,
    /// Coverage of 80 % and 95 % intervals of one service, per [`AHEAD`].
    pub coverage: [[Share; 2]; 3],
    /// Target reached by the service named at 50, 80 and 95 %, of forecasts that name 2 or more.
    pub reached: [Share; 3],
    /// Forecasts that say "not reached", and are right about the next [`FARTHEST`] services.
    pub never: Share,
    /// Absolute errors of ln(seconds), ten services ahead.
    pub errors: Vec<f64>,
    /// Half widths of 95 % intervals on ln(seconds), ten services ahead.
    pub widths: Vec<f64>,
}

/// Runs a cell on two threads; the same seed gives the same scores on any number of them.
pub fn run(cell: &Cell, seed: u64) -> Scores {
    let share = |from: u32| -> Vec<(u32, Scores)> {
        (from..cell.groups).step_by(2).map(|number| (number, one(cell, seed, number))).collect()
    };
    let mut all = std::thread::scope(|scope| {
        let other = scope.spawn(|| share(1));
        let mut own = share(0);
        own.extend(other.join().unwrap_or_default());
        own
    });
    all.sort_by_key(|group| group.0);
    let mut sum = Scores::default();
    for (_, scores) in all {
        sum.trainees += scores.trainees;
        sum.without += scores.without;
        sum.errors.extend(scores.errors);
        sum.widths.extend(scores.widths);
        sum.never.groups.extend(scores.never.groups);
        for (sum, own) in sum.coverage.iter_mut().flatten().zip(scores.coverage.into_iter().flatten()) {
            sum.groups.extend(own.groups);
        }
        for (sum, own) in sum.reached.iter_mut().zip(scores.reached) {
            sum.groups.extend(own.groups);
        }
    }
    sum
}

/// Draws and scores one group.
fn one(cell: &Cell, seed: u64, number: u32) -> Scores {
    let mut draw = Draw::new(seed, u64::from(number));
    let (people, services) = group(cell.world, cell.trainees, &mut draw);
    let mut scores = Scores::default();
    let Ok(curve) = fit(&services, &cell.options) else {
        scores.without += 1;
        return scores;
    };
    let mut covered = [[0.0; 2]; 3];
    let mut reached = [(0.0, 0.0); 3];
    let mut never = (0.0, 0.0);
    let mut counted = 0.0;
    for (trainee, person) in people.iter().enumerate().take(cell.scored) {
        let question = Question {
            trainee: Some(trainee),
            done: person.done,
            level: WHOLE,
            done_at_level: person.done_whole,
            target: TARGET,
            gap: Gap::NONE,
        };
        let Some(named) = needed(&curve, &question) else { continue };
        counted += 1.0;
        let truth = person.needs(TARGET, FARTHEST);
        let [even, ..] = named;
        for ((hits, tries), named) in reached.iter_mut().zip(named) {
            if let Some(named) = named.filter(|named| *named > 1) {
                *tries += 1.0;
                *hits += if truth.is_some_and(|needs| needs <= named) { 1.0 } else { 0.0 };
            }
        }
        if even.is_none() {
            never.1 += 1.0;
            never.0 += if truth.is_none() { 1.0 } else { 0.0 };
        }
        let outlooks = outlooks(&curve, Some(trainee));
        for (ahead, covered) in AHEAD.iter().zip(&mut covered) {
            let outlook = outlooks.at(place(person, *ahead), Gap::NONE);
            let Place { number, level, within, .. } = place(person, *ahead);
            let seconds = person.service(number, level, within, &mut draw);
            for (hits, level) in covered.iter_mut().zip([0.8, 0.95]) {
                let inside = outlook.single_band(level).is_some_and(|(low, high)| low <= seconds && seconds <= high);
                *hits += if inside { 1.0 } else { 0.0 };
            }
            if *ahead == 10 {
                scores.errors.push((outlook.mean_log() - person.typical(number, level, within)).abs());
                let width = outlook.single_band(0.95).map_or(f64::NAN, |(low, high)| (high / low).ln() / 2.0);
                scores.widths.push(width);
            }
        }
    }
    scores.trainees = counted as u32;
    for (share, hits) in scores.coverage.iter_mut().flatten().zip(covered.iter().flatten()) {
        share.add(*hits, counted);
    }
    for (share, (hits, tries)) in scores.reached.iter_mut().zip(reached) {
        share.add(hits, tries);
    }
    scores.never.add(never.0, never.1);
    scores
}

/// Services named at 50, 80 and 95 %, for the typical service: what [`proficiency::forecast::forecast`] says of it,
/// without the far longer work on single services.
fn needed(curve: &Curve, question: &Question) -> Option<[Option<u32>; 3]> {
    answerable(curve, question).ok()?;
    let outlooks = outlooks(curve, question.trainee);
    let mut found = [None; 3];
    for ahead in 1..=FARTHEST {
        let chance = outlooks.at(ahead_by(question, ahead), question.gap).chance_typical(question.target);
        for (needed, level) in found.iter_mut().zip([0.5, 0.8, 0.95]) {
            if needed.is_none() && chance >= level {
                *needed = Some(ahead);
            }
        }
        if found.iter().all(Option::is_some) {
            break;
        }
    }
    Some(found)
}

fn place(person: &Trainee, ahead: u32) -> Place {
    Place { number: person.done + ahead, level: WHOLE, within: person.done_whole + ahead, other_medium: false }
}

/// The middle of a list.
pub fn middle(values: &[f64]) -> f64 {
    proficiency::middle::median(values).unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn services_named_are_those_of_the_forecast() {
        let (people, services) = group(World::Plateau, 4, &mut Draw::new(9, 9));
        let options = Options { shapes: vec![proficiency::group_curve::Shape::Exponential(0.1)], ..Options::default() };
        let curve = fit(&services, &options).unwrap();
        for (trainee, person) in people.iter().enumerate() {
            for target in [2000.0, 3000.0, 4500.0] {
                let (done, done_at_level) = (person.done, person.done_whole);
                let question =
                    Question { trainee: Some(trainee), done, level: WHOLE, done_at_level, target, gap: Gap::NONE };
                let said = proficiency::forecast::forecast(&curve, &question).ok();
                let said =
                    said.map(|said| [said.typical.even, said.typical.four_in_five, said.typical.nineteen_in_twenty]);
                assert_eq!(needed(&curve, &question), said, "{trainee} {target}");
            }
        }
    }
}
