//! Check files 10: the shortest two-eye timeline.

use proficiency::timeline::{Both, Chain, Counted, Lag, Timeline, TimelineError};
use serde_json::{Map, Value, json};

use super::support::Tolerance;

pub(crate) fn compute(file: &Value) -> Result<Value, String> {
    let instances = ["instances", "cases"].iter().find_map(|key| file["inputs"][key].as_array());
    let instances = instances.ok_or("no `instances` and no `cases` in `inputs`")?;
    let expected = file["expected"]["results"].as_array().ok_or("no `results` in `expected`")?;
    let results: Result<Vec<Value>, String> = expected
        .iter()
        .enumerate()
        .map(|(place, expected)| {
            let same = |instance: &&Value| !expected["id"].is_null() && instance["id"] == expected["id"];
            let instance = instances.iter().find(same).or_else(|| instances.get(place));
            let instance = instance.ok_or_else(|| format!("no instance for result {place}"))?;
            solve(instance, expected).map_err(|why| format!("{}: {why}", instance["id"]))
        })
        .collect();
    Ok(json!({ "results": results? }))
}

pub(crate) fn tolerance(_: &Value, _: &str) -> Tolerance {
    Tolerance::EXACT
}

fn solve(instance: &Value, expected: &Value) -> Result<Value, String> {
    let chains = instance["chains"].as_array().ok_or("no `chains`")?;
    if chains.len() > 2 {
        return Err(format!("{} chains, at most 2", chains.len()));
    }
    let read = |at: usize| chains.get(at).map_or_else(|| Ok(Chain::default()), chain);
    let deadline = optional(&instance["deadline"])?;
    let solved = Timeline::new(read(0)?, read(1)?)
        .and_then(|timeline| timeline.shortest(deadline).map(|solution| (timeline, solution)));
    let mut found = Map::new();
    found.insert("id".to_owned(), instance["id"].clone());
    let (timeline, solution) = match solved {
        Ok(solved) => solved,
        Err(TimelineError::Window { .. } | TimelineError::Operation { .. } | TimelineError::Deadline { .. }) => {
            for key in ["optimal_makespan", "one_optimal_start_times"] {
                found.insert(key.to_owned(), Value::Null);
            }
            found.insert("feasible".to_owned(), json!(false));
            return Ok(Value::Object(found));
        }
        Err(other) => return Err(other.to_string()),
    };
    let makespan = solution.schedule.makespan;
    if timeline.check(&solution.schedule.starts) != Ok(makespan) || !solution.proven {
        return Err("the timeline found does not hold".to_owned());
    }
    // Any timeline that holds and is as short is right; the file's own is looked at by the same rules.
    let theirs = starts(&expected["one_optimal_start_times"]);
    let starts = match theirs {
        Some(theirs) if timeline.check(&theirs) == Ok(makespan) => theirs,
        _ => solution.schedule.starts,
    };
    found.insert("feasible".to_owned(), json!(true));
    found.insert("optimal_makespan".to_owned(), json!(makespan));
    found.insert("one_optimal_start_times".to_owned(), json!([starts.first, starts.second]));
    found.insert("sequential_makespan".to_owned(), json!(solution.sequential));
    found.insert("simple_lower_bound".to_owned(), json!(solution.lower_bound));
    Ok(Value::Object(found))
}

fn starts(value: &Value) -> Option<Both<Vec<i64>>> {
    let of = |at: usize| whole(&value[at]).ok();
    Some(Both { first: of(0)?, second: of(1)? })
}

fn chain(value: &Value) -> Result<Chain, String> {
    let operations = whole(&value["ops"])?;
    let limits = |key: &str| -> Result<Vec<Option<i64>>, String> {
        let all = value[key].as_array().ok_or_else(|| format!("`{key}` is no list"))?;
        all.iter().map(optional).collect()
    };
    let (least, most) = (limits("min_lag")?, limits("max_lag")?);
    if least.len() != most.len() {
        return Err("as many of `min_lag` as of `max_lag`".to_owned());
    }
    let lag = |(least, most): (Option<i64>, Option<i64>)| Lag {
        least: least.unwrap_or_default(),
        most,
        counted: Counted::FromEnd,
    };
    let lags = least.into_iter().zip(most).map(lag).collect();
    Ok(Chain { operations, lags, final_dwell: optional(&value["final_dwell"])?.unwrap_or_default() })
}

fn whole(value: &Value) -> Result<Vec<i64>, String> {
    let all = value.as_array().ok_or_else(|| format!("no list of seconds: {value}"))?;
    all.iter().map(|seconds| optional(seconds)?.ok_or_else(|| "null among the seconds".to_owned())).collect()
}

/// Whole seconds, also written as `120.0`; `None` for null or nothing.
fn optional(value: &Value) -> Result<Option<i64>, String> {
    match value {
        Value::Null => Ok(None),
        value => {
            let real = || value.as_f64().filter(|seconds| seconds.fract() == 0.0);
            let whole = value.as_i64().or_else(|| real().and_then(|seconds| format!("{seconds:.0}").parse().ok()));
            whole.map(Some).ok_or_else(|| format!("no whole seconds: {value}"))
        }
    }
}
