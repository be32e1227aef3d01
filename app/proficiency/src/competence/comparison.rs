//! Which rule to choose: what each costs and risks, at the same chance of a false pass.

use super::learning;
use super::rules::{LONGEST_WINDOW, Rule};
use super::sequential::Sequential;
use super::trial::at_most;
use super::{CompetenceError, MOST_SERVICES, Rates, chance, check_path, steady};

/// Two rules whose chance of passing differs by no more are told apart by the services they take.
const AS_GOOD: f64 = 0.01;
/// Longest window tried for a rule of the last so many.
const LONGEST_TRIED: u32 = 14;

/// What a rule does at one run of failure rates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Chance of a pass, 0 to 1.
    pub pass: f64,
    /// Mean services until it passes, ends or the horizon is reached.
    pub services: f64,
    /// Mean services of those who pass; `None` when nobody does.
    pub services_when_passed: Option<f64>,
    /// Chance of a pass while the failure rate is still unacceptable, 0 to 1.
    pub premature: f64,
}

/// A rule and what it does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// The rule.
    pub rule: Rule,
    /// At the unacceptable rate throughout: its pass is the chance of a false pass.
    pub unacceptable: Figures,
    /// At the acceptable rate throughout.
    pub acceptable: Figures,
    /// Along the learner's run.
    pub learner: Figures,
    /// Fewest services with which it can pass, within the horizon.
    pub shortest: Option<u32>,
}

/// Follows rules over a horizon at the unacceptable rate, at the acceptable one, and along a learner's run of
/// failure rates (whose length is the horizon); exact.
///
/// # Errors
/// When the run is empty or holds what is no chance, or a rule cannot be followed.
pub fn compare(rates: Rates, learner: &[f64], rules: &[Rule]) -> Result<Vec<Row>, CompetenceError> {
    check_path(learner)?;
    let horizon = u32::try_from(learner.len()).map_err(|_| CompetenceError::Services(u32::MAX))?;
    let (bad, good) = (steady(rates.unacceptable(), horizon)?, steady(rates.acceptable(), horizon)?);
    let figures = |rule: &Rule, path: &[f64]| -> Result<Figures, CompetenceError> {
        let course = rule.course(path)?;
        Ok(Figures {
            pass: course.passes(),
            services: course.services(),
            services_when_passed: course.services_when_passed(),
            premature: course.premature(path, rates.unacceptable() - 1e-12),
        })
    };
    let row = |rule: &Rule| -> Result<Row, CompetenceError> {
        Ok(Row {
            rule: *rule,
            unacceptable: figures(rule, &bad)?,
            acceptable: figures(rule, &good)?,
            learner: figures(rule, learner)?,
            shortest: rule.shortest_clean_run().filter(|run| *run <= horizon),
        })
    };
    rules.iter().map(row).collect()
}

/// Returns the smallest fixed number of services, and the most failures in it, with a chance of a false pass
/// of at most `alpha` and of passing at the acceptable rate of at least `power`.
///
/// # Errors
/// When a chance is none, or more than [`MOST_SERVICES`] would be needed.
pub fn smallest_fixed(rates: Rates, alpha: f64, power: f64) -> Result<(u32, u32), CompetenceError> {
    let (alpha, power) = (chance(alpha)?, chance(power)?);
    let mut most = 0_u32;
    for services in 1..=MOST_SERVICES {
        let passes = |failures: u32, rate: f64| at_most(failures, services, rate).unwrap_or(1.0);
        if passes(0, rates.unacceptable()) > alpha {
            continue;
        }
        // One service more allows at most one failure more.
        while passes(most + 1, rates.unacceptable()) <= alpha {
            most += 1;
        }
        if passes(most, rates.acceptable()) >= power {
            return Ok((services, most));
        }
    }
    Err(CompetenceError::Services(MOST_SERVICES))
}

/// Returns one rule of each kind within a horizon, each with a chance of a false pass of at most `alpha`: the
/// learning CUSUM, the fixed number that is the whole horizon, the smallest fixed number that passes at the
/// acceptable rate at least as often as the learning CUSUM (or the whole horizon) and its curtailed form, passes
/// in a row, so many of the last, and the sequential test that rejects the acceptable rate with chance `alpha`.
///
/// A kind that has no such rule is left out.
///
/// # Errors
/// When `alpha` or the horizon is out of range, or the horizon too short for any rule.
pub fn at_equal_alpha(rates: Rates, horizon: u32, alpha: f64) -> Result<Vec<Rule>, CompetenceError> {
    let learning = learning::calibrate(rates, horizon, alpha)?;
    let bad = steady(rates.unacceptable(), horizon)?;
    let good = steady(rates.acceptable(), horizon)?;
    let mut rules = vec![Rule::Learning(learning.chart)];
    let whole = (0..horizon).take_while(|c| at_most(*c, horizon, rates.unacceptable()).is_some_and(|p| p <= alpha));
    let whole = whole.last().map(|failures| (horizon, failures));
    rules.extend(whole.map(|(services, failures)| Rule::Fixed { services, failures }));
    let smallest = smallest_fixed(rates, alpha, learning.power).ok().filter(|(services, _)| *services <= horizon);
    if let Some((services, failures)) = smallest.or(whole) {
        let fixed = Rule::Fixed { services, failures };
        if !rules.contains(&fixed) {
            rules.push(fixed);
        }
        rules.push(Rule::Curtailed { services, failures });
    }
    for passes in 1..=horizon {
        let rule = Rule::InARow { passes };
        if rule.course(&bad)?.passes() <= alpha {
            rules.push(rule);
            break;
        }
    }
    rules.extend(best_of_last(&bad, &good, horizon, alpha));
    rules.extend(Sequential::calibrated(rates, horizon, alpha, alpha).ok().map(Rule::Sequential));
    Ok(rules)
}

/// Returns the rule of the last so many, with at least one failure allowed, that passes most often at the
/// acceptable rate.
fn best_of_last(bad: &[f64], good: &[f64], horizon: u32, alpha: f64) -> Option<Rule> {
    let mut best: Option<(f64, Rule)> = None;
    for window in 2..=horizon.min(LONGEST_TRIED).min(LONGEST_WINDOW) {
        for failures in 1..window {
            let rule = Rule::OfLast { window, failures };
            if !rule.course(bad).is_ok_and(|course| course.passes() <= alpha) {
                break;
            }
            let passes = rule.course(good).map_or(0.0, |course| course.passes());
            if best.is_none_or(|(known, _)| passes > known) {
                best = Some((passes, rule));
            }
        }
    }
    best.map(|(_, rule)| rule)
}

/// Returns the place of the rule to recommend: of those with a chance of a false pass of at most `alpha` and
/// of passing at the acceptable rate of at least `power`, the one that the learner passes most often; of those
/// within a hundredth of it, the one that takes the learner the fewest services. Where none has that power, of
/// those that keep `alpha` the one with the most. `None` when no rule keeps `alpha`.
pub fn recommend(rows: &[Row], alpha: f64, power: f64) -> Option<usize> {
    let kept: Vec<(usize, &Row)> = rows.iter().enumerate().filter(|(_, row)| row.unacceptable.pass <= alpha).collect();
    let strong: Vec<(usize, &Row)> = kept.iter().copied().filter(|(_, row)| row.acceptable.pass >= power).collect();
    let (pool, merit): (_, fn(&Row) -> f64) = match strong.is_empty() {
        true => (kept, |row| row.acceptable.pass),
        false => (strong, |row| row.learner.pass),
    };
    let most = pool.iter().map(|(_, row)| merit(row)).max_by(f64::total_cmp)?;
    let close = pool.into_iter().filter(|(_, row)| merit(row) >= most - AS_GOOD);
    close.min_by(|a, b| a.1.learner.services.total_cmp(&b.1.learner.services)).map(|(place, _)| place)
}

#[cfg(test)]
mod tests {
    use super::super::learner;
    use super::*;

    fn rates() -> Rates {
        Rates::new(0.4, 0.05).unwrap()
    }

    #[test]
    fn every_rule_compared_keeps_the_chance_of_a_false_pass() {
        let rules = at_equal_alpha(rates(), 20, 0.1).unwrap();
        assert_eq!(rules.len(), 7, "{rules:?}");
        let run = learner(0.6, 0.05, 8.0, 20).unwrap();
        for row in compare(rates(), &run, &rules).unwrap() {
            assert!(row.unacceptable.pass <= 0.1, "{row:?}");
            assert!(row.acceptable.pass > row.unacceptable.pass, "{row:?}");
            assert!(row.learner.premature <= row.learner.pass + 1e-12, "{row:?}");
            assert!((row.unacceptable.premature - row.unacceptable.pass).abs() < 1e-12, "{row:?}");
            assert!(row.shortest.is_some_and(|run| run <= 20), "{row:?}");
        }
    }

    #[test]
    fn the_smallest_fixed_number_is_smallest() {
        let (services, failures) = smallest_fixed(rates(), 0.1, 0.9).unwrap();
        let fits = |services, failures| {
            at_most(failures, services, 0.4).unwrap() <= 0.1 && at_most(failures, services, 0.05).unwrap() >= 0.9
        };
        assert!(fits(services, failures));
        assert!((1..services).all(|fewer| (0..=fewer).all(|failures| !fits(fewer, failures))));
    }

    #[test]
    fn three_observed_passes_are_shown_for_what_they_are() {
        let rule = Rule::InARow { passes: 3 };
        let rows = compare(rates(), &steady(0.05, 20).unwrap(), &[rule]).unwrap();
        assert!(rows[0].unacceptable.pass > 0.9);
        assert_eq!(recommend(&rows, 0.1, 0.8), None);
    }

    #[test]
    fn the_recommendation_follows_the_stated_order() {
        let run = learner(0.6, 0.05, 8.0, 20).unwrap();
        let rules = at_equal_alpha(rates(), 20, 0.1).unwrap();
        let rows = compare(rates(), &run, &rules).unwrap();
        let chosen = rows[recommend(&rows, 0.1, 0.9).unwrap()];
        assert!(rows.iter().all(|row| row.acceptable.pass < 0.9 || row.learner.pass <= chosen.learner.pass + AS_GOOD));
        let strongest = rows[recommend(&rows, 0.1, 1.0).unwrap()];
        assert!(rows.iter().all(|row| row.acceptable.pass <= strongest.acceptable.pass + AS_GOOD));
        assert_eq!(recommend(&[], 0.1, 0.9), None);
        assert_eq!(recommend(&rows, f64::NAN, 0.9), None);
    }

    #[test]
    fn input_that_makes_no_sense_is_refused() {
        assert!(at_equal_alpha(rates(), 0, 0.1).is_err());
        assert!(at_equal_alpha(rates(), 3, 0.1).is_err());
        assert!(at_equal_alpha(rates(), 20, f64::NAN).is_err());
        assert!(compare(rates(), &[], &[]).is_err());
        assert!(compare(rates(), &[f64::NAN], &[]).is_err());
        assert!(smallest_fixed(rates(), 0.1, 1.0).is_err());
        assert!(smallest_fixed(Rates::new(0.100_001, 0.1).unwrap(), 0.01, 0.99).is_err());
    }
}
