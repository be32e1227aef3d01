//! Sections of each eye, left and right apart.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::eye::Eye;
use practicum::section::Sections;

use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;

/// Asks for both eyes.
#[component]
pub(super) fn SectionsStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let plan = couch.opening().plan;
    view! {
        <p>{format!("Planned: {}.", plan.word())}</p>
        {Eye::BOTH.into_iter().map(|eye| {
            let chosen = RwSignal::new(None::<Sections>);
            Effect::new(move |_| {
                if let Some(sections) = chosen.get() {
                    couch.tap([Act::SectionsSet(eye, sections)]);
                }
            });
            let now = move || couch.with_run(|run| *run.prepared().sections.get(eye))
                .map(|sections| format!("{} eye: {} ✓", eye.word(), sections.number()));
            view! {
                <Chips legend=format!("Sections, {} eye", eye.word()) name=format!("sections-{}", eye.word())
                    options=numbers() chosen=chosen/>
                <p role="status">{now}</p>
            }
        }).collect_view()}
    }
}

fn numbers() -> Vec<(Sections, String)> {
    let words = |number: u8| match number {
        1 => "1 whole".to_owned(),
        2 => "2 halves".to_owned(),
        3 => "3 thirds".to_owned(),
        4 => "4 quarters".to_owned(),
        other => other.to_string(),
    };
    [4, 3, 2, 1, 5, 6, 7, 8].into_iter().filter_map(|n| Sections::new(n).map(|s| (s, words(n)))).collect()
}
