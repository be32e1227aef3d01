//! How long the two-eye timeline takes: instances solved elsewhere, and random ones of growing length.
//!
//! `cargo bench -p proficiency --bench timeline`; OR-tools on the same instances:
//! `tests/reference/scripts/timeline_ortools.py solve tests/reference/data/timeline_10_operations.json`.
#![allow(clippy::print_stdout, clippy::expect_used, reason = "a bench prints and stops on a broken instance")]

use std::hint::black_box;
use std::time::Instant;

use proficiency::timeline::{Chain, Lag, Timeline};
use serde_json::Value;

const SOLVED: [(&str, &str); 2] = [
    ("6 operations, against CP-SAT", include_str!("../../../tests/reference/data/timeline_6_operations.json")),
    ("10 operations, against CP-SAT", include_str!("../../../tests/reference/data/timeline_10_operations.json")),
];

fn main() {
    for (name, text) in SOLVED {
        let file: Value = serde_json::from_str(text).expect("data is JSON");
        let instances = file["inputs"]["instances"].as_array().expect("instances");
        report(name, &instances.iter().map(read).collect::<Vec<_>>());
    }
    for operations in [8, 10, 12, 16, 24, 32] {
        let mut draw = Draw(operations);
        let instances: Vec<Timeline> = (0..100).map(|_| random(&mut draw, operations)).collect();
        report(&format!("{operations} operations, random"), &instances);
    }
}

fn report(name: &str, instances: &[Timeline]) {
    let (mut took, mut labels, mut unproven) = (Vec::new(), 0, 0);
    for timeline in instances {
        // The fastest of five: the others tell of what else the machine does.
        let mut fastest = f64::INFINITY;
        for _ in 0..5 {
            let began = Instant::now();
            black_box(black_box(timeline).shortest(None).expect("a checked timeline exists"));
            fastest = fastest.min(began.elapsed().as_secs_f64() * 1e3);
        }
        took.push(fastest);
        let solution = timeline.shortest(None).expect("a checked timeline exists");
        labels = labels.max(solution.labels);
        unproven += u32::from(!solution.proven);
    }
    took.sort_by(f64::total_cmp);
    let median = took.get(took.len() / 2).copied().unwrap_or_default();
    let slowest = took.last().copied().unwrap_or_default();
    println!(
        "{name}: {} instances, median {median:.3} ms, slowest {slowest:.3} ms, at most {labels} labels, {unproven} unproven",
        took.len()
    );
}

fn read(instance: &Value) -> Timeline {
    let chain = |at: usize| {
        let chain = &instance["chains"][at];
        let list = |key: &str| chain[key].as_array().expect("a list").iter().map(Value::as_i64).collect::<Vec<_>>();
        let lags = list("min_lag").into_iter().zip(list("max_lag"));
        Chain {
            operations: list("ops").into_iter().flatten().collect(),
            lags: lags.map(|(least, most)| Lag { most, ..Lag::at_least(least.unwrap_or_default()) }).collect(),
            final_dwell: chain["final_dwell"].as_i64().unwrap_or_default(),
        }
    };
    Timeline::new(chain(0), chain(1)).expect("windows can be met")
}

/// A linear congruential generator (Knuth's MMIX constants).
struct Draw(u64);

impl Draw {
    fn below(&mut self, limit: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from(self.0 >> 33).unwrap_or_default() % limit
    }
}

fn random(draw: &mut Draw, operations: u64) -> Timeline {
    let mut chain = || {
        let seconds = (0..operations).map(|_| 10 + draw.below(300)).collect();
        let lag = |_| {
            let least = if draw.below(3) == 0 { 10 + draw.below(500) } else { 0 };
            let most = match draw.below(4) {
                0 => Some(least),
                1 => Some(least + 5 + draw.below(60)),
                2 => Some(least + 60 + draw.below(240)),
                _ => None,
            };
            Lag { most, ..Lag::at_least(least) }
        };
        Chain { operations: seconds, lags: (1..operations).map(lag).collect(), final_dwell: 0 }
    };
    Timeline::new(chain(), chain()).expect("windows can be met")
}
