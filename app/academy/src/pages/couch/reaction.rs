//! The first response to a reaction: what to do now, offline, in large words.

use leptos::prelude::*;
use practicum::couch::fold::Run;
use practicum::couch::{Act, Stop, Tint};
use practicum::course_book::CourseBook;
use practicum::moment::format_seconds;
use practicum::product::ProductKind;

use super::context::Couch;
use super::lane::capital;
use crate::components::HoldButton;
use crate::session::Session;

/// Id of the first line, which takes the focus.
const FIRST_ID: &str = "reaction-first";

/// The first line, should a course book have none.
const FIRST: &str = "Stop. Take the product off both eyes now.";

/// First response inside a run, after a reaction was tapped.
#[component]
pub(crate) fn ReactionScreen() -> impl IntoView {
    let couch = expect_context::<Couch>();
    Effect::new(|_| {
        crate::browser::page::scroll_to_top();
        crate::browser::page::focus(FIRST_ID);
    });
    let on_eye = couch.with_run(products_at_reaction);
    let rinsed = Signal::derive(move || {
        let since = couch.with_run(|run| run.reacted_at().unwrap_or_else(|| run.seconds()));
        couch.live().seconds.saturating_sub(since)
    });
    let by = RwSignal::new(String::new());
    let note = RwSignal::new(String::new());
    let instructors = couch.session().instructors();
    let go_on = move |_| {
        if by.get().is_empty() {
            couch.problem.set(Some("Choose the instructor who decides that the service goes on.".to_owned()));
        } else if note.get().trim().is_empty() {
            couch.problem.set(Some("Say in a few words why the service goes on.".to_owned()));
        } else {
            couch.tap([Act::GoOn { by: by.get().as_str().into(), note: note.get().trim().to_owned() }]);
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

/// Returns what was on the eyes when the reaction was tapped; before any lotion that is the adhesive.
fn products_at_reaction(run: &Run<'_>) -> Vec<ProductKind> {
    let at = run.reacted_at();
    let mut on: Vec<ProductKind> =
        run.dwells().iter().filter(|dwell| dwell.interrupted && dwell.off == at).map(|dwell| dwell.product).collect();
    if on.is_empty() {
        on.push(run.dwells().last().map_or(ProductKind::Adhesive, |dwell| dwell.product));
    }
    if on.contains(&ProductKind::Setting) && run.prepared().tint == Some(Tint::Mixed) {
        on.push(ProductKind::Tint);
    }
    on.sort_unstable();
    on.dedup();
    on
}

/// Names the products in use, with the times an eye doctor will ask for.
#[component]
fn ProductsAndTimes() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let adhesive = couch.with_run(|run| run.prepared().products.get(&ProductKind::Adhesive).cloned());
    let adhesive = adhesive.map(|lot| format!("Adhesive: {}, lot {}", session.product_name(&lot.product), lot.number));
    let began = Run::began(&couch.taps());
    let lines = couch.with_run(|run| {
        run.dwells()
            .iter()
            .map(|dwell| {
                let lot = run.prepared().products.get(&dwell.product);
                let name = lot.map_or_else(String::new, |lot| session.product_name(&lot.product));
                let lot = lot.map_or_else(String::new, |lot| format!(", lot {}", lot.number));
                let time = format_seconds(dwell.from_first(run.seconds()));
                let began = began.map(|began| began + chrono::TimeDelta::seconds(i64::from(dwell.first_contact)));
                let since = began.map(|at| format!(" from {}", at.format("%H:%M"))).unwrap_or_default();
                format!("{}: {name}{lot}, {} eye,{since} for {time}", capital(dwell.product.word()), dwell.eye.word())
            })
            .collect::<Vec<_>>()
    });
    view! {
        <section>
            <h2>"Have the product’s name and the times ready"</h2>
            <ul>{lines.into_iter().chain(adhesive).map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </section>
    }
}

/// The steps of the first response for what is on the eye.
#[component]
pub(crate) fn FirstResponseSteps(
    /// The session: emergency number and course book.
    session: Session,
    /// What is on the eyes, as far as known; the steps for each are shown.
    on_eye: Vec<ProductKind>,
    /// Seconds since the reaction was tapped; `None` outside a run.
    rinsed: Option<Signal<u32>>,
) -> impl IntoView {
    let known = on_eye.first().copied().unwrap_or(ProductKind::Adhesive);
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
    let first = steps(&book, known).first().cloned().unwrap_or_else(|| FIRST.to_owned());
    let steps = move || together(chosen.get().into_iter().map(|kind| steps(&book, kind)));
    let number = session.emergency_number();
    let dial: String = number.chars().filter(|sign| sign.is_ascii_digit() || *sign == '+').collect();
    let callable = !dial.is_empty() && number.chars().all(|sign| sign.is_ascii_digit() || " +-/().".contains(sign));
    view! {
        <h1 class="reaction-first" id=FIRST_ID tabindex="-1">{first}</h1>
        {rinsed.map(|rinsed| view! { <p class="reaction-clock" role="timer">{move || clock(rinsed)}</p> })}
        <p class="reaction-number">
            "Emergency number: "
            {if callable { view! { <a href=format!("tel:{dial}")><strong>{number}</strong></a> }.into_any() } else { view! { <strong>{number}</strong> }.into_any() }}
        </p>
        <fieldset class="chips">
            <legend>"What is on the eye?"</legend>
            {ProductKind::ALL.into_iter().map(|kind| view! {
                <label class="chip">
                    <input type="checkbox" name="on-eye" prop:checked=move || chosen.with(|chosen| chosen.contains(&kind))
                        on:change:target=move |event| {
                            let on = event.target().checked();
                            chosen.update(|chosen| {
                                chosen.retain(|known| *known != kind);
                                if on {
                                    chosen.push(kind);
                                }
                                chosen.sort_unstable();
                            });
                        }/>
                    <span>{kind.word()}</span>
                </label>
            }).collect_view()}
        </fieldset>
        <ol class="reaction-steps">
            {move || steps().into_iter().map(|step| view! { <li>{step}</li> }).collect_view()}
        </ol>
        <h2>"Swelling of the face, or trouble breathing"</h2>
        <ol>{swelling.into_iter().map(|step| view! { <li>{step}</li> }).collect_view()}</ol>
        <p class="small">"Sources: "{sources}</p>
    }
    .into_any()
}

fn steps(book: &CourseBook, kind: ProductKind) -> Vec<String> {
    book.first_response.iter().find(|response| response.product == kind).map(|r| r.steps.clone()).unwrap_or_default()
}

/// Joins the steps for several products, but for their first line: what holds for two is said once, and what each
/// ends with comes last.
fn together(lists: impl Iterator<Item = Vec<String>>) -> Vec<String> {
    let (mut all, mut last): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let push = |list: &mut Vec<String>, step: String| {
        if !list.contains(&step) {
            list.push(step);
        }
    };
    for steps in lists {
        let mut steps: Vec<String> = steps.into_iter().skip(1).collect();
        let end = steps.pop();
        steps.into_iter().for_each(|step| push(&mut all, step));
        end.into_iter().for_each(|step| push(&mut last, step));
    }
    all.retain(|step| !last.contains(step));
    all.extend(last);
    all
}

#[cfg(test)]
mod tests {
    use super::together;

    #[test]
    fn steps_for_two_products_are_said_once_and_end_with_getting_help() {
        let list = |steps: &[&str]| steps.iter().map(|step| (*step).to_owned()).collect::<Vec<_>>();
        let (lift, tint) = (["first", "wipe", "rinse", "help"], ["first", "wipe the tint", "rinse", "help"]);
        let joined = together([list(&lift), list(&tint)].into_iter());
        assert_eq!(joined, list(&["wipe", "rinse", "wipe the tint", "help"]));
        assert_eq!(together([list(&lift)].into_iter()), list(&["wipe", "rinse", "help"]));
    }
}
