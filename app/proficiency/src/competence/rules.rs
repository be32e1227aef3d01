//! Rules that decide on a run of pass or fail, each followed exactly.

mod follow;

use std::collections::BTreeMap;

use super::course::{Bounds, Course};
use super::learning::LearningCusum;
use super::sequential::Sequential;
use super::trial::at_most;
use super::{CompetenceError, MOST_SERVICES, check_path};

/// Longest window of [`Rule::OfLast`].
pub const LONGEST_WINDOW: u32 = 63;
/// Most different pasts of a window that are followed.
const MOST_PASTS: usize = 40_000;

/// A rule that says when a run of services passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// After a fixed number of services, pass with at most so many failures.
    Fixed {
        /// Number of services.
        services: u32,
        /// Most failures.
        failures: u32,
    },
    /// The same, ended as soon as the result is certain.
    Curtailed {
        /// Number of services.
        services: u32,
        /// Most failures.
        failures: u32,
    },
    /// Pass after so many passes in all, whatever lies between them.
    InAll {
        /// Number of passes.
        passes: u32,
    },
    /// Pass after so many passes in a row.
    InARow {
        /// Number of passes.
        passes: u32,
    },
    /// Pass as soon as the last so many services hold at most so many failures.
    OfLast {
        /// Services looked at, at most [`LONGEST_WINDOW`].
        window: u32,
        /// Most failures among them.
        failures: u32,
    },
    /// Pass when the learning CUSUM reaches its limit.
    Learning(LearningCusum),
    /// Pass or end when the sequential test does.
    Sequential(Sequential),
}

impl Rule {
    /// Returns what the rule does over a run of services, each with its own failure rate (0 to 1); exact.
    ///
    /// A rule still undecided at the end of the run has not passed.
    ///
    /// # Errors
    /// When a rate is no chance, the run is longer than [`MOST_SERVICES`], the rule asks for no services, or it
    /// is too large to be followed.
    pub fn course(&self, path: &[f64]) -> Result<Course, CompetenceError> {
        check_path(path)?;
        match *self {
            Rule::Fixed { services, failures } => counted(services, failures, false, path),
            Rule::Curtailed { services, failures } => counted(services, failures, true, path),
            Rule::InAll { passes } => in_all(passes, path),
            Rule::InARow { passes } => in_a_row(passes, path),
            Rule::OfLast { window, failures } => of_last(window, failures, path),
            Rule::Learning(chart) => chart.course(path),
            Rule::Sequential(test) => test.course(path),
        }
    }

    /// Returns the fewest services with which the rule can pass: an unbroken run of passes. `None` when it
    /// cannot within [`MOST_SERVICES`], or cannot be followed.
    pub fn shortest_clean_run(&self) -> Option<u32> {
        match *self {
            Rule::Fixed { services, .. } => Some(services),
            Rule::Curtailed { services, failures } => Some(services.saturating_sub(failures).max(1)),
            Rule::InAll { passes } | Rule::InARow { passes } => Some(passes),
            Rule::OfLast { window, .. } => Some(window),
            Rule::Learning(chart) => chart.shortest_clean_run(),
            Rule::Sequential(test) => (1..=MOST_SERVICES).find(|run| test.bounds(*run).pass_at_most.is_some()),
        }
    }
}

fn asks(services: u32) -> Result<usize, CompetenceError> {
    if services == 0 || services > MOST_SERVICES {
        return Err(CompetenceError::Services(services));
    }
    usize::try_from(services).map_err(|_| CompetenceError::Services(services))
}

fn counted(services: u32, most: u32, curtailed: bool, path: &[f64]) -> Result<Course, CompetenceError> {
    asks(services)?;
    let bounds = |done: u32| {
        let over = done >= services;
        let certain = if curtailed { done.checked_sub(services.saturating_sub(most)) } else { over.then_some(done) };
        Bounds {
            pass_at_most: certain.map(|failures| failures.min(most)),
            reject_at_least: (over || curtailed).then(|| most.saturating_add(1)),
        }
    };
    Ok(Course::by_failures(path, bounds))
}

fn in_all(passes: u32, path: &[f64]) -> Result<Course, CompetenceError> {
    let needed = asks(passes)?;
    let mut course = Course::new(path.len());
    // Chance of each number of passes so far, still going.
    let mut so_far = vec![0.0_f64; needed];
    if let Some(start) = so_far.first_mut() {
        *start = 1.0;
    }
    for (at, failing) in path.iter().enumerate() {
        let mut carried = 0.0;
        for chance in &mut so_far {
            let passed = *chance * (1.0 - failing);
            *chance = *chance * failing + carried;
            carried = passed;
        }
        course.pass_at(at, carried);
    }
    Ok(course)
}

fn in_a_row(passes: u32, path: &[f64]) -> Result<Course, CompetenceError> {
    let needed = asks(passes)?;
    let mut course = Course::new(path.len());
    // Chance of each number of passes in a row, still going.
    let mut runs = vec![0.0_f64; needed];
    if let Some(start) = runs.first_mut() {
        *start = 1.0;
    }
    for (at, failing) in path.iter().enumerate() {
        let failed: f64 = runs.iter().sum::<f64>() * failing;
        runs.rotate_right(1);
        let Some((first, longer)) = runs.split_first_mut() else { break };
        course.pass_at(at, *first * (1.0 - failing));
        *first = failed;
        longer.iter_mut().for_each(|chance| *chance *= 1.0 - failing);
    }
    Ok(course)
}

/// The past of a window is a set of places of failures, the latest service the lowest bit. No more than one
/// failure above the number allowed need be remembered: the latest.
fn of_last(window: u32, most: u32, path: &[f64]) -> Result<Course, CompetenceError> {
    let number = asks(window)?;
    let too_large = CompetenceError::TooLarge { window, failures: most };
    if window > LONGEST_WINDOW {
        return Err(too_large);
    }
    let mask = (1_u64 << window) - 1;
    let mut course = Course::new(path.len());
    let mut pasts: BTreeMap<u64, f64> = BTreeMap::from([(0, 1.0)]);
    for (at, failing) in path.iter().enumerate() {
        let mut next: BTreeMap<u64, f64> = BTreeMap::new();
        for (past, chance) in pasts {
            for (failed, share) in [(0_u64, 1.0 - failing), (1, *failing)] {
                let mut past = (past << 1 | failed) & mask;
                if past.count_ones() <= most && at + 1 >= number {
                    course.pass_at(at, chance * share);
                    continue;
                }
                while past.count_ones() > most.saturating_add(1) {
                    past &= !(1 << (63 - past.leading_zeros()));
                }
                *next.entry(past).or_default() += chance * share;
            }
        }
        if next.len() > MOST_PASTS {
            return Err(too_large);
        }
        pasts = next;
    }
    Ok(course)
}

/// A rule for advice: it looks at the last so many assessed services, each time anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Widening {
    /// Services looked at.
    pub last: u32,
    /// Most failures among them.
    pub failures: u32,
}

impl Widening {
    /// Returns the chance, 0 to 1, that one look advises at a failure rate: exact, binomial.
    ///
    /// # Errors
    /// When the rate is no chance or nothing is looked at.
    pub fn one_look(&self, failing: f64) -> Result<f64, CompetenceError> {
        asks(self.last)?;
        at_most(self.failures, self.last, failing).ok_or(CompetenceError::Chance(failing))
    }

    /// Returns the chance, 0 to 1, that it advises at least once within a run of services, looked at after
    /// each; exact.
    ///
    /// # Errors
    /// As [`Rule::course`].
    pub fn within(&self, path: &[f64]) -> Result<f64, CompetenceError> {
        let rule = match self.failures {
            0 => Rule::InARow { passes: self.last },
            failures => Rule::OfLast { window: self.last, failures },
        };
        Ok(rule.course(path)?.passes())
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Rates, steady};
    use super::*;

    /// Follows a rule through every run of `services` services, one by one.
    fn by_hand(services: u32, path: &[f64], passes: impl Fn(&[bool]) -> bool) -> f64 {
        let each = (0_u32..1 << services).map(|bits| {
            let failures: Vec<bool> = (0..services).map(|at| bits >> at & 1 == 1).collect();
            let chance: f64 = failures.iter().zip(path).map(|(f, p)| if *f { *p } else { 1.0 - p }).product();
            if passes(&failures) { chance } else { 0.0 }
        });
        each.sum()
    }

    #[test]
    fn every_rule_agrees_with_counting_all_runs() {
        let path: Vec<f64> = (0..12).map(|at| 0.45 - 0.03 * f64::from(at)).collect();
        let failed = |run: &[bool]| run.iter().filter(|failed| **failed).count();
        let check = |rule: Rule, passes: &dyn Fn(&[bool]) -> bool| {
            let found = rule.course(&path).unwrap().passes();
            let counted = by_hand(12, &path, passes);
            assert!((found - counted).abs() < 1e-12, "{rule:?}: {found} instead of {counted}");
        };
        let first_ten = |run: &[bool]| failed(&run[..10]) <= 2;
        check(Rule::Fixed { services: 10, failures: 2 }, &first_ten);
        check(Rule::Curtailed { services: 10, failures: 2 }, &first_ten);
        check(Rule::InAll { passes: 7 }, &|run| failed(run) <= 5);
        check(Rule::InARow { passes: 5 }, &|run| run.windows(5).any(|five| failed(five) == 0));
        check(Rule::OfLast { window: 5, failures: 0 }, &|run| run.windows(5).any(|five| failed(five) == 0));
        check(Rule::OfLast { window: 6, failures: 2 }, &|run| run.windows(6).any(|six| failed(six) <= 2));
        let test = Sequential::wald(Rates::new(0.4, 0.1).unwrap(), 0.2, 0.2).unwrap();
        check(Rule::Sequential(test), &|run| {
            let mut sum = 0.0;
            for failed in run {
                sum += if *failed { test.fail_score() } else { test.pass_score() };
                if sum <= test.pass_bound() || sum >= test.reject_bound() {
                    return sum <= test.pass_bound();
                }
            }
            false
        });
    }

    #[test]
    fn a_curtailed_rule_decides_the_same_with_fewer_services() {
        let path = steady(0.3, 20).unwrap();
        let fixed = Rule::Fixed { services: 12, failures: 1 }.course(&path).unwrap();
        let curtailed = Rule::Curtailed { services: 12, failures: 1 }.course(&path).unwrap();
        assert!((fixed.passes() - curtailed.passes()).abs() < 1e-14);
        assert!((fixed.services() - 12.0).abs() < 1e-9);
        assert!(curtailed.services() < 7.0);
    }

    #[test]
    fn the_fewest_services_of_a_clean_run_are_those_it_takes() {
        let rates = Rates::new(0.4, 0.05).unwrap();
        for rule in [
            Rule::Fixed { services: 8, failures: 1 },
            Rule::Curtailed { services: 8, failures: 1 },
            Rule::InAll { passes: 8 },
            Rule::InARow { passes: 8 },
            Rule::OfLast { window: 8, failures: 1 },
            Rule::Learning(LearningCusum::new(rates, 3.435).unwrap()),
            Rule::Sequential(Sequential::wald(rates, 0.1, 0.1).unwrap()),
        ] {
            let course = rule.course(&steady(0.0, 40).unwrap()).unwrap();
            assert_eq!(course.earliest_pass(), rule.shortest_clean_run(), "{rule:?}");
            assert!((course.passes() - 1.0).abs() < 1e-12, "{rule:?}");
        }
    }

    #[test]
    fn three_in_a_row_advise_about_once_in_five_at_two_failures_in_five() {
        let rule = Widening { last: 3, failures: 0 };
        assert!((rule.one_look(0.4).unwrap() - 0.216).abs() < 1e-12);
        assert!(rule.within(&steady(0.4, 20).unwrap()).unwrap() > 0.9);
        let looser = Widening { last: 4, failures: 1 };
        assert!((looser.one_look(0.4).unwrap() - (0.1296 + 4.0 * 0.4 * 0.216)).abs() < 1e-12);
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        let path = steady(0.1, 5).unwrap();
        for rule in [
            Rule::Fixed { services: 0, failures: 0 },
            Rule::Fixed { services: u32::MAX, failures: 0 },
            Rule::Curtailed { services: 0, failures: u32::MAX },
            Rule::InAll { passes: 0 },
            Rule::InARow { passes: 0 },
            Rule::OfLast { window: 0, failures: 0 },
            Rule::OfLast { window: 64, failures: 1 },
        ] {
            assert!(rule.course(&path).is_err(), "{rule:?}");
        }
        assert!(Rule::OfLast { window: 40, failures: 12 }.course(&steady(0.5, 60).unwrap()).is_err(), "too large");
        assert!(Rule::InARow { passes: 1 }.course(&[f64::NAN]).is_err());
        assert!(Widening { last: 0, failures: 0 }.one_look(0.1).is_err());
        assert!(Widening { last: 3, failures: 0 }.one_look(2.0).is_err());
        assert_eq!(Widening { last: 3, failures: 9 }.one_look(0.5), Ok(1.0));
    }
}
