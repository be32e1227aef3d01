//! The gate before lotion on the screen: open, or why not and what to do.

use leptos::prelude::*;
use practicum::couch::{Act, Override};
use practicum::gate::Block;

use super::context::Couch;
use super::flow::{Lane, Offer};
use super::lane::capital;
use crate::components::When;

/// Whether an offer puts a product on while something speaks against it: the gate, or the run's own order.
pub(super) fn locked(couch: Couch, offer: &Offer) -> bool {
    let puts_on = |act: &&Act| matches!(act, Act::LotionStarts(..));
    let Some(act) = offer.acts.iter().find(puts_on) else { return false };
    !couch.gate().open || couch.with_run(|run| run.refuses(act)).is_some()
}

/// Shows once, for both lanes, why lotion is locked, with the overrides that the gate allows.
#[component]
pub(crate) fn GateView(
    /// The lanes that are shown.
    lanes: Memo<Vec<Lane>>,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let gate = Memo::new(move |_| couch.gate());
    let starts = move || {
        let offers = lanes.get().into_iter().filter_map(|lane| lane.primary);
        offers.flat_map(|offer| offer.acts).filter(|act| matches!(act, Act::LotionStarts(..))).collect::<Vec<_>>()
    };
    let offered = Memo::new(move |_| !starts().is_empty());
    let missing = Memo::new(move |_| {
        let mut all: Vec<String> = couch.with_run(|run| starts().iter().filter_map(|act| run.refuses(act)).collect());
        all.dedup();
        all
    });
    // An override stays in sight also when it opens the gate.
    let blocks = Memo::new(move |_| gate.with(|gate| gate.blocks.clone()));
    let notes = Memo::new(move |_| gate.with(|gate| gate.notes.clone()));
    let shut = Memo::new(move |_| !gate.with(|gate| gate.open) || !missing.with(Vec::is_empty));
    let something = move || shut.get() || !blocks.with(Vec::is_empty) || !notes.with(Vec::is_empty);
    view! {
        <When when=move || offered.get() && something()>
            <section class="gate" class:gate-open=move || !shut.get() aria-label="Before lotion">
                <p class="gate-word" role="status">{move || if shut.get() { "■ Lotion is locked because" } else { "● Lotion may go on. Read first" }}</p>
                <ul>
                    {move || blocks.get().into_iter().map(|block| view! { <BlockView block=block/> }).collect_view()}
                    {move || missing.get().into_iter().map(|why| view! { <li>{capital(&why)}"."</li> }).collect_view()}
                </ul>
                {move || notes.get().into_iter().map(|note| view! { <p class="small">{note}</p> }).collect_view()}
            </section>
        </When>
    }
}

/// One reason.
#[component]
fn BlockView(
    /// The reason.
    block: Block,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let key = block.reason.key();
    let open = block.overridden.is_some();
    let state = match (&block.overridden, block.confirmed) {
        (Some(_), true) => "Let pass by an instructor. ",
        (Some(_), false) => "Override claimed, not confirmed. ",
        _ => "",
    };
    let claimed = block.overridden.clone().filter(|_| !block.confirmed);
    let asked = claimed.and_then(|made| untrack(|| couch.asked(&made)).map(|asked| (asked, made.by)));
    let by = RwSignal::new(String::new());
    let why = RwSignal::new(String::new());
    let instructors = session.instructors();
    let allow = move |_| {
        if by.get().is_empty() || why.get().trim().is_empty() {
            couch.problem.set(Some("An override needs a named instructor and a reason.".to_owned()));
            return;
        }
        let confirmed = session.may_assess() && session.who().is_some_and(|who| who.id.as_str() == by.get());
        let reason_code = key.clone();
        couch.tap([Act::Overridden(Override {
            reason_code,
            by: by.get().as_str().into(),
            why: why.get().trim().to_owned(),
            confirmed,
        })]);
    };
    view! {
        <li>
            <strong>{state}{block.reason.say()}</strong>" "{block.reason.what_to_do()}
            {asked.map(|(asked, by)| view! { <super::override_code::OverrideCode asked=asked by=by/> })}
            {(block.overridable && !open).then(|| view! {
                <details>
                    <summary>"A named instructor lets this pass"</summary>
                    <label class="field"><span>"Instructor"</span>
                        <select on:change:target=move |event| by.set(event.target().value())>
                            <option value="">"Choose"</option>
                            {instructors.into_iter()
                                .map(|person| view! { <option value=person.id.to_string()>{person.name.clone()}</option> })
                                .collect_view()}
                        </select>
                    </label>
                    <label class="field"><span>"Reason"</span>
                        <input type="text" on:input:target=move |event| why.set(event.target().value())/>
                    </label>
                    <button type="button" class="couch-secondary" on:click=allow>"Let it pass"</button>
                </details>
            })}
        </li>
    }
}
