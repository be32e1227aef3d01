//! Sensitivity tests of a practice model: put on, read, with what speaks against relying on them.

use leptos::prelude::*;
use practicum::ids::{PracticeModelId, TestId};
use practicum::practice_model::{SensitivityTest, TestResult};

use super::put_on::PutOnForm;
use super::reading::{ReadForm, Waits};
use crate::components::When;
use crate::session::{Session, session};

/// Returns the words for a result; never more than was seen.
pub(super) fn result_in_words(result: TestResult) -> &'static str {
    match result {
        TestResult::NothingSeen => "nothing seen; this does not exclude a reaction",
        TestResult::Positive => "■ a reaction was seen: this product is not used on this practice model",
    }
}

/// All tests, and putting on another.
#[component]
pub(super) fn TestsPart(
    /// On whom.
    id: PracticeModelId,
) -> impl IntoView {
    let session = session();
    let known = id.clone();
    let tests = Memo::new(move |_| session.tests_of(&known));
    let keys = Memo::new(move |_| tests.get().into_iter().map(|test| test.id).collect::<Vec<_>>());
    // Each line follows its own test only, so that a half-typed reading of another one stays.
    let line = move |id: TestId| {
        let test = Memo::new(move |_| tests.get().into_iter().find(|test| test.id == id));
        move || test.get().map(|test| view! { <TestLine test=test/> })
    };
    let ids = StoredValue::new(id);
    view! {
        <section>
            <h2>"Sensitivity tests"</h2>
            <p>"A test in which nothing was seen does not exclude a reaction."</p>
            <When when=move || keys.with(Vec::is_empty)><p>"No test has been put on."</p></When>
            <ul class="plain-list">
                <For each=move || keys.get() key=|id| id.clone() children=line/>
            </ul>
            <When when=move || session.who().is_some()
                fallback=|| view! { <p class="small">"Say at the top who is using this device, to put on or read a test."</p> }>
                <details class="form-part">
                    <summary>"Put on a test"</summary>
                    <PutOnForm practice_model=ids.get_value()/>
                </details>
            </When>
        </section>
    }
}

fn in_words(session: Session, test: &SensitivityTest) -> String {
    let product = session.product_name(&test.product);
    let (at, by) = (test.put_on.format("%Y-%m-%d %H:%M"), session.person_name(&test.put_on_by));
    format!("{product}, lot {}: put on {at} at “{}” by {by}.", test.lot, test.site)
}

/// One test; an unread one carries the form that reads it.
#[component]
fn TestLine(
    /// The test.
    test: SensitivityTest,
) -> impl IntoView {
    let session = session();
    let words = in_words(session, &test);
    let waits = Waits::of(session, &test);
    let read = test.read.as_ref().map(|reading| {
        let (at, by) = (reading.at.format("%Y-%m-%d %H:%M"), session.person_name(&reading.by));
        let against = waits.against(&reading.at);
        view! {
            <p>{format!("Read {at} by {by}: {}.", result_in_words(reading.result))}</p>
            {against.map(|sentence| view! { <p class="notice notice-caution">"▲ "{sentence}</p> })}
        }
    });
    let unread = test.read.is_none();
    let waiting = waits.clone();
    let form = StoredValue::new((test, waiting));
    view! {
        <li class="skin-test">
            <p>{words}</p>
            {read}
            {unread.then(|| view! {
                <p>"○ Not read yet. "{waits.in_words()}</p>
                <When when=move || session.who().is_some()>
                    <details class="form-part">
                        <summary>"Read this test"</summary>
                        <ReadForm test=form.get_value().0 waits=form.get_value().1/>
                    </details>
                </When>
            })}
        </li>
    }
}
