//! Shields tried and chosen for each eye, with the reach rule.

use leptos::prelude::*;
use practicum::couch::{Act, ShieldChoice};
use practicum::course_book::Reach;
use practicum::eye::Eye;
use practicum::ids::ShieldId;

use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;
use crate::pages::couch::lane::capital;

/// Asks for both eyes.
#[component]
pub(super) fn ShieldStep() -> impl IntoView {
    view! {
        <p>"Hold a shield to the lid and look where the tips end."</p>
        {Eye::BOTH.into_iter().map(|eye| view! { <EyeForm eye=eye/> }).collect_view()}
    }
}

/// Asks for one eye.
#[component]
fn EyeForm(
    /// The eye.
    eye: Eye,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let book = couch.book();
    let size = RwSignal::new(None::<ShieldId>);
    let reach = RwSignal::new(None::<Reach>);
    let tried = RwSignal::new(Vec::<(ShieldId, Reach)>::new());
    let sizes = book.shields.iter().map(|shield| (shield.id.clone(), shield.label.clone())).collect::<Vec<_>>();
    let reaches = [
        (Reach::OverTop, "Over the top"),
        (Reach::TwoThirds, "About two thirds up"),
        (Reach::BarelyHalf, "Barely half"),
    ];
    let advice = book.reach_advice.clone();
    let said = move || {
        let [over, fits, barely] = advice.clone();
        reach.get().map(|reach| match reach {
            Reach::OverTop => over,
            Reach::TwoThirds => fits,
            Reach::BarelyHalf => barely,
        })
    };
    let note = move || {
        if let (Some(size), Some(reach)) = (size.get(), reach.get()) {
            tried.update(|tried| {
                tried.retain(|(known, _)| *known != size);
                tried.push((size, reach));
            });
        }
    };
    let another = move |_| {
        note();
        size.set(None);
        reach.set(None);
    };
    let choose = move |_| {
        note();
        match (size.get(), reach.get()) {
            (Some(chosen), Some(_)) => couch.tap([Act::ShieldChosen(eye, ShieldChoice { tried: tried.get(), chosen })]),
            _ => couch.problem.set(Some(format!("Say the size and where the tips end on the {} eye.", eye.word()))),
        }
    };
    let chosen = move || couch.with_run(|run| run.prepared().shields.get(eye).clone());
    let chosen_word = move || chosen().and_then(|c| couch.book().shield(&c.chosen).map(|s| format!(" ✓ {}", s.label)));
    let word = eye.word();
    view! {
        <section class="eye-form">
            <h3>{capital(word)}" eye"{chosen_word}</h3>
            <Chips legend=format!("Size tried, {word} eye") name=format!("shield-{word}") options=sizes chosen=size/>
            <Chips legend=format!("Where do the tips end, {word} eye") name=format!("reach-{word}")
                options=reaches.map(|(r, w)| (r, w.to_owned())).to_vec() chosen=reach/>
            <p role="status">{said}</p>
            <div class="couch-row">
                <button type="button" class="couch-secondary" on:click=another>"Try another size"</button>
                <button type="button" class="couch-primary" on:click=choose>{format!("Use this size, {word} eye")}</button>
            </div>
        </section>
    }
}
