//! Sensitivity tests of the products in use, looked at today.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::practice_model::TestResult;

use crate::pages::couch::context::Couch;

/// Lists the tests of this practice model and what the gate says of them.
#[component]
pub(super) fn TestsStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let Some(person) = couch.with_run(|run| run.prepared().practice_model.clone()) else {
        return view! { <p>"Choose the practice model first."</p> }.into_any();
    };
    let link = format!("#/practice-model/{person}");
    let rows = move || {
        session
            .tests_of(&person)
            .into_iter()
            .map(|test| {
                let read = match &test.read {
                    None => "not read yet".to_owned(),
                    Some(reading) => {
                        let result = match reading.result {
                            TestResult::NothingSeen => "nothing seen",
                            TestResult::Positive => "■ positive",
                        };
                        format!(
                            "{result}, read {} by {}",
                            reading.at.format("%Y-%m-%d %H:%M"),
                            session.person_name(&reading.by)
                        )
                    }
                };
                let what = format!("{}, lot {}", session.product_name(&test.product), test.lot);
                let put_on = test.put_on.format("%Y-%m-%d %H:%M").to_string();
                view! { <li><strong>{what}</strong>{format!(": put on {put_on} at {}; {read}", test.site)}</li> }
            })
            .collect_view()
    };
    view! {
        <ul>{rows}</ul>
        <p>"A test in which nothing was seen does not exclude a reaction."</p>
        <p><a href=link>"Put on or read a test"</a></p>
        <button type="button" class="couch-primary" on:click=move |_| couch.tap([Act::TestsChecked])>"Looked at today"</button>
    }
    .into_any()
}
