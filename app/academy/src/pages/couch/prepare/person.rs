//! Who is on the couch.

use leptos::prelude::*;
use practicum::couch::Act;

use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;

/// Chooses the practice model.
#[component]
pub(super) fn PersonStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let known = couch.session().practice_models();
    let options = known.iter().map(|person| (person.id.clone(), person.code.clone())).collect::<Vec<_>>();
    let chosen = RwSignal::new(None);
    Effect::new(move |_| {
        if let Some(id) = chosen.get() {
            couch.tap([Act::PracticeModel(id)]);
        }
    });
    let empty = options.is_empty();
    view! {
        {empty.then(|| view! { <p>"No practice model is known on this device yet."</p> })}
        <Chips legend="Who is on the couch?" name="practice-model" options=options chosen=chosen/>
        <p><a href="#/practice-models">"Add a practice model"</a>" (the clocks run on)"</p>
    }
}
