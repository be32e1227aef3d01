//! The two-eye timeline against optima proven by another solver.
//!
//! `checks/10_*`: OR-tools CP-SAT and an exhaustive search; `data/timeline_*`: CP-SAT, made by
//! `scripts/timeline_ortools.py`. Where several timelines are shortest, ours must hold and be as short.

use proficiency::timeline::{Both, Chain, Counted, Lag, Timeline, TimelineError};
use serde_json::Value;

const SOLVED: [&str; 3] = [
    include_str!("checks/10_two_eye_schedule.json"),
    include_str!("data/timeline_6_operations.json"),
    include_str!("data/timeline_10_operations.json"),
];
const EDGES: &str = include_str!("checks/10_schedule_edge_cases.json");

fn seconds(list: &Value) -> Vec<Option<i64>> {
    list.as_array().unwrap().iter().map(Value::as_i64).collect()
}

fn chain(value: &Value) -> Chain {
    let lags = seconds(&value["min_lag"]).into_iter().zip(seconds(&value["max_lag"]));
    Chain {
        operations: seconds(&value["ops"]).into_iter().flatten().collect(),
        lags: lags.map(|(least, most)| Lag { least: least.unwrap(), most, counted: Counted::FromEnd }).collect(),
        final_dwell: value["final_dwell"].as_i64().unwrap_or_default(),
    }
}

fn timeline(instance: &Value) -> Result<Timeline, TimelineError> {
    Timeline::new(chain(&instance["chains"][0]), chain(&instance["chains"][1]))
}

#[test]
fn shortest_timelines_are_those_that_another_solver_proved() {
    let mut counted = 0;
    for text in SOLVED {
        let file: Value = serde_json::from_str(text).unwrap();
        let instances = file["inputs"]["instances"].as_array().unwrap();
        for (instance, expected) in instances.iter().zip(file["expected"]["results"].as_array().unwrap()) {
            let timeline = timeline(instance).unwrap();
            let solution = timeline.shortest(None).unwrap();
            let id = &instance["id"];
            assert!(solution.proven, "{id}");
            assert_eq!(Some(solution.schedule.makespan), expected["optimal_makespan"].as_i64(), "{id}");
            assert_eq!(timeline.check(&solution.schedule.starts), Ok(solution.schedule.makespan), "{id}");
            let theirs = |at: usize| seconds(&expected["one_optimal_start_times"][at]).into_iter().flatten().collect();
            let theirs = Both { first: theirs(0), second: theirs(1) };
            assert_eq!(timeline.check(&theirs), Ok(solution.schedule.makespan), "{id}");
            assert_eq!(Some(solution.sequential), expected["sequential_makespan"].as_i64(), "{id}");
            if let Some(bound) = expected["simple_lower_bound"].as_i64() {
                assert_eq!(solution.lower_bound, bound, "{id}");
            }
            counted += 1;
        }
    }
    assert_eq!(counted, 20 + 60 + 60);
}

#[test]
fn deadlines_and_contradictions_are_answered_as_expected() {
    let file: Value = serde_json::from_str(EDGES).unwrap();
    let cases = file["inputs"]["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 8);
    for (case, expected) in cases.iter().zip(file["expected"]["results"].as_array().unwrap()) {
        let solved = timeline(case).and_then(|timeline| timeline.shortest(case["deadline"].as_i64()));
        let id = &case["id"];
        assert_eq!(solved.is_ok(), expected["feasible"].as_bool().unwrap(), "{id}: {solved:?}");
        let makespan = solved.ok().map(|solution| solution.schedule.makespan);
        assert_eq!(makespan, expected["optimal_makespan"].as_i64(), "{id}");
    }
}
