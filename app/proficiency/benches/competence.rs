//! How long the calibration of a decision takes, and the comparison of rules.
//!
//! `cargo bench -p proficiency --bench competence`
#![allow(clippy::print_stdout, clippy::expect_used, reason = "a bench prints and stops on what cannot be")]

use std::hint::black_box;
use std::time::Instant;

use proficiency::competence::comparison::{at_equal_alpha, compare};
use proficiency::competence::monitor::MonitoringCusum;
use proficiency::competence::rubric::{self, Scores};
use proficiency::competence::{Rates, learner, learning};

fn main() {
    for (unacceptable, acceptable, horizon, alpha) in
        [(0.4, 0.05, 20, 0.1), (0.3, 0.1, 40, 0.05), (0.3, 0.1, 100, 0.05), (0.3, 0.1, 400, 0.05)]
    {
        let rates = Rates::new(unacceptable, acceptable).expect("rates");
        let name = format!("{unacceptable} / {acceptable}, {horizon} services");
        timed(&format!("learning CUSUM, {name}"), || {
            learning::calibrate(rates, horizon, alpha).expect("calibrated");
        });
    }
    let scores = Scores::new(1.5, 2.2, 0.5).expect("scores");
    for horizon in [20, 40, 100] {
        timed(&format!("score CUSUM, {horizon} services"), || {
            rubric::calibrate(scores, horizon, 0.1).expect("calibrated");
        });
    }
    timed("monitoring chart quiet for 300", || {
        MonitoringCusum::quiet_for(0.05, 0.15, 300.0).expect("a chart");
    });
    for horizon in [14, 20, 40] {
        let rates = Rates::new(0.4, 0.05).expect("rates");
        let run = learner(0.6, 0.05, 8.0, horizon).expect("a run");
        timed(&format!("comparison of rules, {horizon} services"), || {
            let rules = at_equal_alpha(rates, horizon, 0.1).expect("rules");
            compare(rates, &run, &rules).expect("rows");
        });
    }
}

fn timed(name: &str, work: impl Fn()) {
    let mut took: Vec<f64> = (0..9)
        .map(|_| {
            let began = Instant::now();
            black_box(&work)();
            began.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    took.sort_by(f64::total_cmp);
    println!("{name}: median {:.3} ms", took.get(took.len() / 2).copied().unwrap_or_default());
}
