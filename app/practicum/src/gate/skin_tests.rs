//! The sensitivity tests' part of the gate.
//!
//! Lotions and tint each need a test of their own, of the product and the lot in use. A positive reading
//! of a product shuts the gate whatever lot it was and whatever a later test says. The adhesive needs none.

use super::{GateInput, InUse, OnProduct, Reason, products};
use crate::moment::Moment;
use crate::practice_model::{SensitivityTest, TestResult};

const HOUR: i64 = 3600;
const DAY: i64 = 24 * HOUR;

pub(super) fn look_at(input: &GateInput, reasons: &mut Vec<Reason>) {
    let Some(person) = input.practice_model else { return };
    if !input.tests_checked {
        reasons.push(Reason::TestsNotChecked);
    }
    for in_use in input.products.iter().filter(|in_use| products::is_used(in_use.product.kind, input.tint)) {
        let of_product =
            |test: &&&SensitivityTest| test.practice_model == person.id && test.product == in_use.product.id;
        let tests: Vec<&SensitivityTest> = input.tests.iter().filter(of_product).copied().collect();
        one_product(input, in_use, &tests, reasons);
    }
}

fn one_product(input: &GateInput, in_use: &InUse, tests: &[&SensitivityTest], reasons: &mut Vec<Reason>) {
    let on = OnProduct::of(in_use);
    let positive =
        |test: &&&SensitivityTest| test.read.as_ref().is_some_and(|reading| reading.result == TestResult::Positive);
    if tests.iter().any(|test| positive(&test)) {
        reasons.push(Reason::TestPositive(on));
        return;
    }
    let same_lot = |test: &&&SensitivityTest| test.lot.trim() == in_use.lot.number.trim();
    let mut of_lot: Vec<&SensitivityTest> = tests.iter().filter(same_lot).copied().collect();
    of_lot.sort_by(|a, b| b.put_on.cmp(&a.put_on).then_with(|| b.id.cmp(&a.id)));
    // The test with the fewest reasons against it counts, the later one first: reasons never to be
    // overridden weigh more than all others together.
    let judged = of_lot.into_iter().map(|test| against(input, in_use, test));
    let weight = |found: &Vec<Reason>| (found.iter().filter(|r| r.never_overridable()).count(), found.len());
    match judged.min_by_key(weight) {
        Some(found) => reasons.extend(found),
        None => {
            let other = tests.iter().max_by_key(|test| (test.put_on, &test.id)).map(|test| test.lot.clone());
            reasons.push(match other {
                Some(tested) => Reason::TestOfOtherLot(on, tested),
                None => Reason::TestMissing(on),
            });
        }
    }
}

/// Returns the reasons that speak against relying on one test that is not positive.
fn against(input: &GateInput, in_use: &InUse, test: &SensitivityTest) -> Vec<Reason> {
    let on = OnProduct::of(in_use).with_test(&test.id);
    let rule = input.book.test_rule;
    let since = |moment: &Moment| moment.signed_duration_since(test.put_on).num_seconds();
    let label = in_use.product.label_test_hours;
    let bound = rule.insurer_hours.max(label.unwrap_or(0));
    let mut found = Vec::new();
    let Some(reading) = test.read.as_ref().filter(|reading| reading.at <= *input.now) else {
        return vec![Reason::TestUnread(on)];
    };
    if reading.by.as_str().trim().is_empty() {
        found.push(Reason::TestReaderMissing(on.clone()));
    }
    let (waited, looked) = (since(input.now), since(&reading.at));
    let hours = |count: u32| i64::from(count) * HOUR;
    if waited < hours(bound) || waited < 0 {
        found.push(Reason::IntervalTooShort { on: on.clone(), needed_hours: bound });
    } else if looked < hours(bound) || looked < 0 {
        found.push(Reason::TestReadTooEarly { on: on.clone(), needed_hours: bound });
    } else if waited.min(looked) < hours(rule.academy_hours) {
        found.push(if label.is_none() {
            Reason::IntervalLabelUnknown(on.clone())
        } else {
            Reason::IntervalShorterThanAcademy { on: on.clone(), needed_hours: rule.academy_hours }
        });
    }
    if waited > i64::from(rule.expires_days) * DAY {
        found.push(Reason::TestExpired { on, after_days: rule.expires_days });
    }
    found
}
