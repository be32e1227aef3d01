//! Every fact comes back from its stored form as it went in.

use std::collections::BTreeSet;

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use super::{any, decode, encode, version};
use crate::json;
use crate::kind::Kind;

proptest! {
    #[test]
    fn every_fact_comes_back_from_its_text(fact in any::fact()) {
        let text = json::canonical(&encode(&fact).unwrap()).unwrap();
        let value = json::read(&text).unwrap();
        prop_assert_eq!(&json::canonical(&value).unwrap(), &text);
        let back = decode(&fact.kind(), version(&fact), value, &"the-entry".into()).unwrap().unwrap();
        prop_assert_eq!(format!("{back:?}"), format!("{fact:?}"));
    }

    #[test]
    fn a_fact_is_not_read_as_another_kind(fact in any::fact(), other in 0..Kind::KNOWN.len()) {
        let kind = &Kind::KNOWN[other];
        if let Ok(Some(read)) = decode(kind, version(&fact), encode(&fact).unwrap(), &"e".into()) {
            prop_assert_eq!(read.kind(), kind.clone());
        }
    }
}

#[test]
fn the_properties_reach_every_kind() {
    let mut runner = TestRunner::deterministic();
    let strategy = any::fact();
    let drawn: BTreeSet<Kind> = (0..3_000).map(|_| strategy.new_tree(&mut runner).unwrap().current().kind()).collect();
    assert_eq!(drawn, Kind::KNOWN.iter().cloned().collect());
}

#[test]
fn a_later_version_of_a_known_kind_is_not_guessed_at() {
    let fact = crate::fact::Fact::DeviceEnded { device: "d".into() };
    assert_eq!(decode(&Kind::DeviceEnded, version(&fact) + 1, encode(&fact).unwrap(), &"e".into()), Ok(None));
}

#[test]
fn a_duration_beyond_reason_is_refused() {
    let fact = crate::fact::Fact::RowsImported(crate::fact::ImportBatch {
        id: "b".into(),
        file_name: String::new(),
        rows: Vec::new(),
        outcomes: Vec::new(),
        rejected: 0,
    });
    let mut incident = encode(&fact).unwrap();
    incident["rejected"] = serde_json::json!(-1);
    assert!(decode(&Kind::RowsImported, 1, incident, &"b".into()).is_err());
    let product = serde_json::json!({
        "id": "p", "name": "", "kind": "lift", "label_maximum": 100_000_000, "label_test_hours": null,
        "may_carry_tint": false, "windows": [{}, {}, {}],
    });
    let why = decode(&Kind::ProductEntered, 1, product, &"p".into()).unwrap_err();
    assert!(why.contains("three years"), "{why}");
}
