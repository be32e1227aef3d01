//! The first response to a reaction: what to do now, offline, in large words.

use leptos::prelude::*;
use practicum::couch::fold::Run;
use practicum::couch::{Act, Stop};
use practicum::course_book::CourseBook;
use practicum::moment::format_seconds;
use practicum::product::ProductKind;

use super::context::Couch;
use crate::components::HoldButton;
use crate::session::Session;

/// The first line, should a course book have none.
const FIRST: &str = "Stop. Take the product off both eyes now.";

/// First response inside a run, after a reaction was tapped.
#[component]
pub(crate) fn ReactionScreen() -> impl IntoView {
    let couch = expect_context::<Couch>();
    Effect::new(|_| crate::browser::page::scroll_to_top());
    let since = couch.with_run(|run| {
        let interrupted = run.dwells().iter().filter(|dwell| dwell.interrupted).filter_map(|dwell| dwell.off).max();
        interrupted.unwrap_or_else(|| run.seconds())
    });
    let on_eye = couch.with_run(product_at_reaction);
    let rinsed = Signal::derive(move || couch.live().seconds.saturating_sub(since));
    let by = RwSignal::new(String::new());
    let note = RwSignal::new(String::new());
    let instructors = couch.session().instructors();
    let go_on = move |_| {
        if by.get().is_empty() {
            couch.problem.set(Some("Choose the instructor who decides that the service goes on.".to_owned()));
        } else {
            couch.tap([Act::GoOn { by: by.get().as_str().into(), note: note.get() }]);
        }
    };
    view! {
        <div class="reaction">
            <FirstResponseSteps session=couch.session() on_eye=on_eye rinsed=Some(rinsed)/>
            <ProductsAndTimes/>
            <section class="reaction-decision">
                <h2>"Then"</h2>
                <HoldButton
                    label="Hold to close the service: stopped, reaction"
                    on_hold=Callback::new(move |()| couch.tap([Act::Stop(Stop::Reaction)]))
                />
                <details>
                    <summary>"A named instructor decides that the service goes on"</summary>
                    <label class="field">
                        <span>"Instructor"</span>
                        <select on:change:target=move |event| by.set(event.target().value())>
                            <option value="">"Choose"</option>
                            {instructors.into_iter()
                                .map(|person| view! { <option value=person.id.to_string()>{person.name.clone()}</option> })
                                .collect_view()}
                        </select>
                    </label>
                    <label class="field">
                        <span>"Reason"</span>
                        <input type="text" on:input:target=move |event| note.set(event.target().value())/>
                    </label>
                    <button type="button" class="couch-secondary" on:click=go_on>"The service goes on"</button>
                </details>
            </section>
        </div>
    }
}

fn product_at_reaction(run: &Run<'_>) -> ProductKind {
    let last = run.dwells().iter().rev().find(|dwell| dwell.interrupted).or(run.dwells().last());
    last.map_or(ProductKind::Adhesive, |dwell| dwell.product)
}

/// Names the products in use, with the times an eye doctor will ask for.
#[component]
fn ProductsAndTimes() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let lines = couch.with_run(|run| {
        run.dwells()
            .iter()
            .map(|dwell| {
                let lot = run.prepared().products.get(&dwell.product);
                let name = lot.map_or_else(String::new, |lot| session.product_name(&lot.product));
                let time = format_seconds(dwell.from_first(run.seconds()));
                format!("{} {name}, {} eye, on for {time}", dwell.product.word(), dwell.eye.word())
            })
            .collect::<Vec<_>>()
    });
    view! {
        <section>
            <h2>"Have the product’s name and the times ready"</h2>
            <ul>{lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </section>
    }
}

/// The steps of the first response for what is on the eye.
#[component]
pub(crate) fn FirstResponseSteps(
    /// The session: emergency number and course book.
    session: Session,
    /// What is on the eye, as far as known.
    on_eye: ProductKind,
    /// Seconds since the reaction was tapped; `None` outside a run.
    rinsed: Option<Signal<u32>>,
) -> impl IntoView {
    let chosen = RwSignal::new(on_eye);
    let Some(book) = session.book() else {
        return view! { <p>"No course book."</p> }.into_any();
    };
    let whole = book.rinse_minutes.saturating_mul(60);
    let clock = move |rinsed: Signal<u32>| {
        let left = whole.saturating_sub(rinsed.get());
        if left == 0 {
            "The rinse time is over.".to_owned()
        } else {
            format!("Keep rinsing: {} left", format_seconds(left))
        }
    };
    let swelling = book.swelling_steps.clone();
    let sources = book.first_response_sources.join("; ");
    let first = steps(&book, on_eye).first().cloned().unwrap_or_else(|| FIRST.to_owned());
    let steps = move || steps(&book, chosen.get()).into_iter().skip(1);
    view! {
        <h1 class="reaction-first">{first}</h1>
        {rinsed.map(|rinsed| view! { <p class="reaction-clock" role="timer">{move || clock(rinsed)}</p> })}
        <fieldset class="chips">
            <legend>"What is on the eye?"</legend>
            {ProductKind::ALL.into_iter().map(|kind| view! {
                <label class="chip">
                    <input type="radio" name="on-eye" prop:checked=move || chosen.get() == kind
                        on:change=move |_| chosen.set(kind)/>
                    <span>{kind.word()}</span>
                </label>
            }).collect_view()}
        </fieldset>
        <ol class="reaction-steps">
            {move || steps().map(|step| view! { <li>{step}</li> }).collect_view()}
        </ol>
        <p class="reaction-number">"Emergency number: "<strong>{session.emergency_number()}</strong></p>
        <h2>"Swelling of the face, or trouble breathing"</h2>
        <ol>{swelling.into_iter().map(|step| view! { <li>{step}</li> }).collect_view()}</ol>
        <p class="small">"Sources: "{sources}</p>
    }
    .into_any()
}

fn steps(book: &CourseBook, kind: ProductKind) -> Vec<String> {
    book.first_response.iter().find(|response| response.product == kind).map(|r| r.steps.clone()).unwrap_or_default()
}
