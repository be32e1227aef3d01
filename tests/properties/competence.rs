//! Decisions on competence with thresholds made at random, and trainees made up one by one.

use proficiency::competence::comparison::{at_equal_alpha, compare};
use proficiency::competence::learning::{LearningCusum, calibrate};
use proficiency::competence::rubric::{self, ScoreCusum, Scores};
use proficiency::competence::trial::AssessorErrors;
use proficiency::competence::{Rates, learner, steady};
use proptest::prelude::*;

/// SplitMix64 with a fixed seed.
struct Draw(u64);

impl Draw {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.uniform()).ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

const TRAINEES: u32 = 10_000;

/// Share of trainees that pass, against the chance worked out: within four standard errors.
fn agrees(passed: u32, chance: f64, what: &str) {
    let share = f64::from(passed) / f64::from(TRAINEES);
    let error = (chance * (1.0 - chance) / f64::from(TRAINEES)).sqrt().max(1e-4);
    assert!((share - chance).abs() < 4.0 * error, "{what}: {share} of the trainees, {chance} worked out");
}

fn count(chart: &LearningCusum, path: &[f64], draw: &mut Draw) -> u32 {
    let passes = |draw: &mut Draw| {
        let failures: Vec<bool> = path.iter().map(|rate| draw.uniform() < *rate).collect();
        u32::from(chart.first_signal(&failures).is_some())
    };
    (0..TRAINEES).map(|_| passes(draw)).sum()
}

#[test]
fn ten_thousand_trainees_pass_as_often_as_worked_out() {
    let mut draw = Draw(20);
    let rates = Rates::new(0.4, 0.05).unwrap();
    let found = calibrate(rates, 20, 0.1).unwrap();
    let paths = [steady(0.4, 20).unwrap(), steady(0.05, 20).unwrap(), learner(0.6, 0.05, 8.0, 20).unwrap()];
    for path in paths {
        let passed = count(&found.chart, &path, &mut draw);
        agrees(passed, found.chart.course(&path).unwrap().passes(), &format!("{path:?}"));
    }
}

#[test]
fn ten_thousand_trainees_score_their_way_as_often_as_worked_out() {
    let mut draw = Draw(21);
    let scores = Scores::new(1.5, 2.2, 0.5).unwrap();
    let chart: ScoreCusum = rubric::calibrate(scores, 20, 0.1).unwrap().chart;
    let rising: Vec<f64> = (0..20).map(|at| 1.0 + 0.08 * f64::from(at)).collect();
    for means in [vec![1.5; 20], vec![2.2; 20], rising] {
        let chance: f64 = chart.signals(&means).unwrap().iter().sum();
        let passes = |draw: &mut Draw| {
            let run: Vec<f64> = means.iter().map(|mean| mean + 0.5 * draw.normal()).collect();
            u32::from(chart.first_signal(&run).is_some())
        };
        let passed = (0..TRAINEES).map(|_| passes(&mut draw)).sum();
        agrees(passed, chance, &format!("{means:?}"));
    }
}

#[test]
fn assessors_who_err_as_assumed_keep_the_chance_of_a_false_pass() {
    let errors = AssessorErrors { false_accept: 0.1, false_reject: 0.05 };
    let seen = errors.rates(Rates::new(0.4, 0.05).unwrap()).unwrap();
    let found = calibrate(seen, 20, 0.1).unwrap();
    let mut draw = Draw(22);
    let truly_bad = |draw: &mut Draw| {
        let failures: Vec<bool> =
            (0..20).map(|_| if draw.uniform() < 0.4 { draw.uniform() >= 0.1 } else { draw.uniform() < 0.05 }).collect();
        u32::from(found.chart.first_signal(&failures).is_some())
    };
    let passed = (0..TRAINEES).map(|_| truly_bad(&mut draw)).sum();
    agrees(passed, found.false_pass, "assessors who err");
}

fn rates() -> impl Strategy<Value = Rates> {
    (0.02..0.9_f64, 0.0..0.95_f64).prop_map(|(bad, share)| Rates::new(bad, bad * share).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn a_calibrated_limit_is_the_smallest_that_keeps_its_promise(
        rates in rates(), horizon in 1..60_u32, alpha in 0.01..0.4_f64,
    ) {
        match calibrate(rates, horizon, alpha) {
            Ok(found) => {
                prop_assert!(found.false_pass <= alpha);
                prop_assert!(alpha < found.false_pass_below);
                let bad = steady(rates.unacceptable(), horizon).unwrap();
                let at = |limit| LearningCusum::new(rates, limit).unwrap().course(&bad).unwrap().passes();
                prop_assert!((at(found.chart.limit()) - found.false_pass).abs() < 1e-12);
                // The limit returned lies at most a millionth above the value at which the chance is too large.
                let below = found.chart.limit() - 1.1e-6;
                prop_assert!(below <= 0.0 || at(below) > alpha);
                prop_assert!(found.false_pass <= found.power + 1e-12);
                prop_assert!(found.shortest_clean_run <= horizon);
            }
            Err(_) => prop_assert!(rates.fewest_services(alpha).is_none_or(|needed| needed > horizon)),
        }
    }

    #[test]
    fn a_worse_trainee_passes_less_often(rates in rates(), better in 0.0..1.0_f64, worse in 0.0..1.0_f64) {
        if let Ok(found) = calibrate(rates, 20, 0.1) {
            let passes = |rate| found.chart.course(&steady(rate, 20).unwrap()).unwrap().passes();
            prop_assert!(passes(better.max(worse)) <= passes(better.min(worse)) + 1e-12);
        }
    }

    #[test]
    fn nothing_given_makes_it_panic(
        a in any::<f64>(), b in any::<f64>(), c in any::<f64>(), horizon in any::<u32>(), path in prop::collection::vec(any::<f64>(), 0..5),
    ) {
        if let Ok(rates) = Rates::new(a, b) {
            let _ = calibrate(rates, horizon, c);
        }
        if let Ok(scores) = Scores::new(a, b, c) {
            let _ = rubric::calibrate(scores, horizon % 10, 0.1);
        }
        let rates = Rates::new(0.4, 0.05).unwrap();
        if let Ok(chart) = LearningCusum::new(rates, a) {
            let _ = chart.course(&path);
            let _ = chart.passes_needed(b);
        }
        let _ = (learner(a, b, c, horizon), steady(a, horizon));
        let _ = AssessorErrors { false_accept: a, false_reject: b }.seen(c);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn rules_compared_keep_their_promise(rates in rates(), horizon in 1..25_u32, alpha in 0.02..0.3_f64) {
        if let Ok(rules) = at_equal_alpha(rates, horizon, alpha) {
            let run = learner(0.9, rates.acceptable(), 5.0, horizon).unwrap();
            for row in compare(rates, &run, &rules).unwrap() {
                prop_assert!(row.unacceptable.pass <= alpha + 1e-12, "{row:?}");
                for figures in [row.unacceptable, row.acceptable, row.learner] {
                    prop_assert!((-1e-12..=1.0 + 1e-12).contains(&figures.pass), "{row:?}");
                    prop_assert!(figures.services <= f64::from(horizon) + 1e-9, "{row:?}");
                }
            }
        }
    }
}
