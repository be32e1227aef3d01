//! Which crate of the workspace may use which.

use std::collections::BTreeMap;

use serde_json::Value;

/// What each crate may depend on. `tests` and its benches may use all and are not listed; examples and development
/// dependencies are exempt.
const ALLOWED: [(&str, &[&str]); 5] = [
    ("proficiency", &[]),
    ("practicum", &["proficiency"]),
    ("logbook", &["practicum"]),
    ("academy", &["logbook", "practicum"]),
    ("xtask", &["practicum", "proficiency"]),
];
/// Crates from outside that one of ours must never use, with the reason.
const FORBIDDEN: [(&str, &str, &str); 4] = [
    ("practicum", "serde", "stored forms are the logbook's, the domain is free to change"),
    ("practicum", "web-sys", "the domain never knows the browser"),
    ("logbook", "web-sys", "stored bytes never know the browser"),
    ("academy", "regex", "it would more than double the site"),
];

/// Every edge that is not allowed, given the answer of `cargo metadata`.
pub fn problems(metadata: &Value) -> Vec<String> {
    let edges = edges(metadata);
    let mut problems = Vec::new();
    for (package, uses) in &edges {
        if package == "system-tests" || package == "log-benches" {
            continue;
        }
        let Some((_, allowed)) = ALLOWED.iter().find(|(name, _)| name == package) else {
            problems.push(format!("{package} is not in the table of directions (xtask/src/directions.rs)"));
            continue;
        };
        for used in uses.iter().filter(|used| edges.contains_key(*used)) {
            if !allowed.contains(&used.as_str()) {
                problems.push(format!("{package} must not depend on {used}"));
            }
        }
        for (_, used, why) in
            FORBIDDEN.iter().filter(|(name, used, _)| name == package && uses.iter().any(|u| u == used))
        {
            problems.push(format!("{package} must not depend on {used}: {why}"));
        }
    }
    problems
}

/// Direct dependencies of each crate of the workspace, development ones left out.
fn edges(metadata: &Value) -> BTreeMap<String, Vec<String>> {
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let ours = list(&metadata["workspace_members"]);
    list(&metadata["packages"])
        .iter()
        .filter(|package| ours.contains(&package["id"]))
        .map(|package| {
            let uses = list(&package["dependencies"])
                .iter()
                .filter(|dependency| dependency["kind"] != "dev")
                .filter_map(|dependency| dependency["name"].as_str().map(str::to_owned))
                .collect();
            (package["name"].as_str().unwrap_or_default().to_owned(), uses)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn metadata(package: &str, uses: &str, kind: Value) -> Value {
        let names = ["proficiency", "practicum", "logbook", "academy", "xtask", "system-tests"];
        let packages: Vec<Value> = names
            .iter()
            .map(|name| {
                let uses = if *name == package { json!([{ "name": uses, "kind": kind }]) } else { json!([]) };
                json!({ "id": name, "name": name, "dependencies": uses })
            })
            .collect();
        json!({ "workspace_members": names, "packages": packages })
    }

    #[test]
    fn the_allowed_edges_pass() {
        for (package, uses) in [
            ("academy", "logbook"),
            ("academy", "practicum"),
            ("logbook", "practicum"),
            ("practicum", "proficiency"),
            ("xtask", "practicum"),
            ("system-tests", "proficiency"),
        ] {
            assert_eq!(problems(&metadata(package, uses, Value::Null)), Vec::<String>::new(), "{package} -> {uses}");
        }
    }

    #[test]
    fn an_edge_past_or_against_the_direction_fails() {
        for (package, uses) in [
            ("academy", "proficiency"),
            ("academy", "xtask"),
            ("logbook", "academy"),
            ("practicum", "logbook"),
            ("proficiency", "practicum"),
            ("practicum", "serde"),
        ] {
            assert_eq!(problems(&metadata(package, uses, Value::Null)).len(), 1, "{package} -> {uses}");
            assert_eq!(problems(&metadata(package, uses, json!("build"))).len(), 1, "{package} -> {uses}");
        }
    }

    #[test]
    fn development_dependencies_are_exempt() {
        assert!(problems(&metadata("proficiency", "practicum", json!("dev"))).is_empty());
    }

    #[test]
    fn a_crate_missing_from_the_table_fails() {
        let metadata = json!({
            "workspace_members": ["new"],
            "packages": [{ "id": "new", "name": "new", "dependencies": [] }],
        });
        assert_eq!(problems(&metadata).len(), 1);
    }
}
