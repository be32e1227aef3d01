//! Following a rule along one run of services: where it stands, when it passes, what it still takes.

use super::Rule;

/// How far short of a bound a sum counts as having reached it: rounding.
const REACHED: f64 = 1e-12;

impl Rule {
    /// Returns the value of [`Self::path`] at which the rule passes; a fixed number of services also has to be
    /// complete.
    pub fn limit(&self) -> f64 {
        match *self {
            Rule::Fixed { services, failures } | Rule::Curtailed { services, failures } => {
                f64::from(services.saturating_sub(failures))
            }
            Rule::InAll { passes } | Rule::InARow { passes } => f64::from(passes),
            Rule::OfLast { window, failures } => f64::from(window.saturating_sub(failures)),
            Rule::Learning(chart) => chart.limit(),
            Rule::Sequential(test) => -test.pass_bound(),
        }
    }

    /// Returns where the rule stands after each service of a run (`true` is a failure): the passes that it
    /// counts, the chart, or the evidence for the acceptable rate; it rises towards [`Self::limit`].
    pub fn path(&self, failures: &[bool]) -> Vec<f64> {
        let count = |from: usize, to: usize| {
            failures.get(from..to).unwrap_or_default().iter().filter(|failed| !**failed).count() as f64
        };
        let after = |step: &dyn Fn(usize) -> f64| (1..=failures.len()).map(step).collect();
        match *self {
            Rule::Fixed { services, .. } | Rule::Curtailed { services, .. } => {
                after(&|done| count(0, done.min(size(services))))
            }
            Rule::InAll { .. } => after(&|done| count(0, done)),
            Rule::InARow { .. } => {
                after(&|done| failures.iter().take(done).rev().take_while(|failed| !**failed).count() as f64)
            }
            Rule::OfLast { window, .. } => after(&|done| count(done.saturating_sub(size(window)), done)),
            Rule::Learning(chart) => chart.path(failures),
            Rule::Sequential(test) => {
                let mut sum = 0.0;
                let mut next = |failed: &bool| {
                    sum -= if *failed { test.fail_score() } else { test.pass_score() };
                    sum
                };
                failures.iter().map(&mut next).collect()
            }
        }
    }

    /// Returns the service, counted from 1, at which the rule passes along a run (`true` is a failure); `None` when
    /// it does not, or ended before.
    pub fn first_pass(&self, failures: &[bool]) -> Option<usize> {
        let failed = |from: usize, to: usize| {
            failures.get(from..to).unwrap_or_default().iter().filter(|failed| **failed).count()
        };
        let mut services = 1..=failures.len();
        match *self {
            Rule::Fixed { services: all, failures: most } => {
                let all = size(all);
                (all > 0 && all <= failures.len() && failed(0, all) <= size(most)).then_some(all)
            }
            Rule::Curtailed { services: all, failures: most } => {
                let enough = size(all).saturating_sub(size(most)).max(1);
                services.find(|done| done - failed(0, *done) >= enough).filter(|done| failed(0, *done) <= size(most))
            }
            Rule::InAll { .. } | Rule::InARow { .. } => {
                let limit = self.limit();
                self.path(failures).iter().position(|value| *value >= limit).map(|at| at + 1)
            }
            Rule::OfLast { window, failures: most } => {
                let window = size(window).max(1);
                services.find(|done| *done >= window && failed(done - window, *done) <= size(most))
            }
            Rule::Learning(chart) => chart.first_signal(failures),
            Rule::Sequential(test) => {
                let ends =
                    |value: &f64| *value >= -test.pass_bound() - REACHED || *value <= REACHED - test.reject_bound();
                let path = self.path(failures);
                let end = path.iter().position(ends)?;
                path.get(end).filter(|value| **value >= -test.pass_bound() - REACHED).map(|_| end + 1)
            }
        }
    }

    /// Returns how many passes in a row, after a run, lead to a pass; 0 when it has passed, `None` when it takes
    /// more than `most` or the rule has ended without one.
    pub fn passes_needed(&self, failures: &[bool], most: u32) -> Option<u32> {
        let mut run = failures.to_vec();
        (0..=most).find(|_| {
            let passed = self.first_pass(&run).is_some();
            run.push(false);
            passed
        })
    }
}

fn size(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::super::super::learning::LearningCusum;
    use super::super::super::sequential::Sequential;
    use super::super::super::{Rates, steady};
    use super::*;

    fn rules() -> Vec<Rule> {
        let rates = Rates::new(0.4, 0.1).unwrap();
        vec![
            Rule::Fixed { services: 9, failures: 2 },
            Rule::Fixed { services: 12, failures: 3 },
            Rule::Curtailed { services: 9, failures: 2 },
            Rule::InAll { passes: 6 },
            Rule::InARow { passes: 4 },
            Rule::OfLast { window: 5, failures: 1 },
            Rule::Learning(LearningCusum::new(rates, 2.1).unwrap()),
            Rule::Sequential(Sequential::wald(rates, 0.2, 0.2).unwrap()),
        ]
    }

    #[test]
    fn followed_run_by_run_every_rule_passes_as_often_as_its_exact_course_says() {
        let (services, rate) = (12_u32, 0.3_f64);
        let runs: Vec<Vec<bool>> =
            (0_u32..1 << services).map(|bits| (0..services).map(|at| bits >> at & 1 == 1).collect()).collect();
        for rule in rules() {
            let course = rule.course(&steady(rate, services).unwrap()).unwrap();
            let mut by = [0.0; 12];
            for run in &runs {
                let chance: f64 = run.iter().map(|failed| if *failed { rate } else { 1.0 - rate }).product();
                if let Some(passed) = rule.first_pass(run) {
                    by[passed - 1] += chance;
                }
            }
            for at in 1..=12 {
                let counted: f64 = by[..at].iter().sum();
                assert!((counted - course.pass_by(at)).abs() < 1e-9, "{rule:?} by {at}: {counted}");
            }
        }
    }

    #[test]
    fn a_pass_stands_where_the_path_first_reaches_the_limit() {
        let run = [false, true, false, false, false, true, false, false, false, false, false, false];
        for rule in rules().into_iter().filter(|rule| !matches!(rule, Rule::Fixed { .. } | Rule::OfLast { .. })) {
            let reached = rule.path(&run).iter().position(|value| *value >= rule.limit() - 1e-9).map(|at| at + 1);
            assert_eq!(rule.first_pass(&run), reached, "{rule:?}");
            assert_eq!(rule.path(&run).len(), run.len());
        }
    }

    #[test]
    fn the_passes_still_needed_lead_to_a_pass_and_one_fewer_does_not() {
        for rule in rules() {
            assert_eq!(rule.passes_needed(&[], 50), rule.shortest_clean_run(), "{rule:?}");
            let run = [false, true, false];
            let needed = rule.passes_needed(&run, 50).unwrap();
            let with = |more: u32| [&run[..], &vec![false; more as usize]].concat();
            assert!(
                rule.first_pass(&with(needed)).is_some() && rule.first_pass(&with(needed - 1)).is_none(),
                "{rule:?}"
            );
        }
        let ended = [true; 4];
        assert_eq!(Rule::Curtailed { services: 9, failures: 2 }.passes_needed(&ended, 50), None);
        assert_eq!(Rule::Fixed { services: 9, failures: 2 }.passes_needed(&ended, 50), None);
        assert_eq!(Rule::InARow { passes: 4 }.passes_needed(&ended, 3), None, "more than may be counted");
        assert_eq!(Rule::InARow { passes: 4 }.passes_needed(&[false; 9], 3), Some(0));
    }

    #[test]
    fn rules_that_ask_for_nothing_or_too_much_do_not_break() {
        for rule in [
            Rule::Fixed { services: 0, failures: 0 },
            Rule::Fixed { services: u32::MAX, failures: 0 },
            Rule::Curtailed { services: 0, failures: u32::MAX },
            Rule::InAll { passes: 0 },
            Rule::OfLast { window: 0, failures: 3 },
            Rule::OfLast { window: u32::MAX, failures: 3 },
        ] {
            let _ = (rule.limit(), rule.path(&[true, false]), rule.first_pass(&[false]), rule.passes_needed(&[], 3));
            assert_eq!(rule.first_pass(&[]), None, "{rule:?}");
        }
    }
}
