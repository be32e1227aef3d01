//! Opening a service or drill: two taps from the start page to a running clock.

use leptos::prelude::*;
use practicum::couch::{Opening, What};
use practicum::ids::{DrillKindId, ServiceId};
use practicum::product::ProductKind;
use practicum::section::Plan;

use super::chips::Chips;
use super::lane::capital;
use crate::browser;
use crate::session::{Session, session};

/// The choices on the opening form.
#[derive(Clone, Copy)]
struct Choices {
    what: RwSignal<Option<What>>,
    plan: RwSignal<Option<Plan>>,
    room: RwSignal<String>,
    problem: RwSignal<Option<String>>,
}

/// The opening form: everything has the last choice, so that one tap begins.
#[component]
pub(crate) fn StartForm() -> impl IntoView {
    let session = session();
    let choices = Choices {
        what: RwSignal::new(None),
        plan: RwSignal::new(None),
        room: RwSignal::new(String::new()),
        problem: RwSignal::new(None),
    };
    let who_id = Memo::new(move |_| session.who().map(|person| person.id));
    Effect::new(move |_| {
        // Whoever takes the device finds their own last choices.
        let last = who_id.get().and_then(|who| session.last_opening(&who));
        choices.plan.set(Some(last.as_ref().map_or_else(|| session.present_plan(), |last| last.plan)));
        choices.what.set(Some(last.as_ref().map_or(What::Service, |last| known(session, &last.what))));
        choices.room.set(last.map(|last| last.room).unwrap_or_default());
    });
    let drills = session.book().map(|book| book.drills.clone()).unwrap_or_default();
    let mut whats = vec![(What::Service, "Service on a live practice model".to_owned())];
    whats.extend(drills.into_iter().map(|drill| (What::Drill(drill.id), format!("Drill: {}", drill.label))));
    let plans = Plan::ALL.map(|plan| (plan, capital(plan.word()))).to_vec();
    let who = move || session.who().map(|person| person.name).unwrap_or_default();
    let begin = move |_| begin(session, choices);
    view! {
        <section class="page couch-start">
            <h1>"At the couch"</h1>
            <p>"Working: "<strong>{who}</strong></p>
            <crate::pages::coach::OpenCoaching/>
            <div role="alert">
                {move || choices.problem.get().map(|sentence| view! { <p class="notice notice-danger">{sentence}</p> })}
            </div>
            <button type="button" class="couch-primary" on:click=begin>"Begin: the clock starts"</button>
            <p class="small">
                "Practice model, consent, screening, test, lashes and shields are asked while the consultation clock runs."
            </p>
            <Chips legend="What" name="what" options=whats chosen=choices.what/>
            <Chips legend="Plan" name="plan" options=plans chosen=choices.plan/>
            <label class="field">
                <span>"Room"</span>
                <input type="text" prop:value=move || choices.room.get()
                    on:input:target=move |event| choices.room.set(event.target().value())/>
            </label>
            <LastProducts/>
            <super::plan::PlanAhead plan=choices.plan/>
            <p><a href="#/late-entry">"Write down yesterday’s service instead"</a></p>
        </section>
    }
}

/// Names the products that will be taken over; they can be changed in the run.
#[component]
fn LastProducts() -> impl IntoView {
    let session = session();
    let words = move || {
        let lots = session.last_products();
        let say = |(kind, lot): &(ProductKind, practicum::product::Lot)| {
            format!("{}: {}, lot {}", kind.word(), session.product_name(&lot.product), lot.number)
        };
        if lots.is_empty() {
            "Products: chosen in the run".to_owned()
        } else {
            lots.iter().map(say).collect::<Vec<_>>().join(" · ")
        }
    };
    view! { <p class="small">{words}</p> }
}

/// A drill that the course book no longer has gives way to a service.
fn known(session: Session, what: &What) -> What {
    let there = |kind: &DrillKindId| session.book().is_some_and(|book| book.drill(kind).is_some());
    match what {
        What::Drill(kind) if there(kind) => what.clone(),
        _ => What::Service,
    }
}

fn begin(session: Session, choices: Choices) {
    // A tap unlocks the sound: browsers are silent before the first one.
    leptos::task::spawn_local(async {
        let _ = browser::alarm::unlock().await;
    });
    let (Some(what), Some(plan)) = (choices.what.get(), choices.plan.get()) else {
        choices.problem.set(Some("Choose what, and the plan.".to_owned()));
        return;
    };
    let Some(trainee) = session.who().filter(|person| !person.role.may_assess()) else {
        choices
            .problem
            .set(Some("A service is worked by a trainee: switch to the trainee at the top first.".to_owned()));
        return;
    };
    let Some(book) = session.book() else {
        choices.problem.set(Some("No course book is in force: the owner adopts one first.".to_owned()));
        return;
    };
    let room = choices.room.get().trim().to_owned();
    let products = if what == What::Service { session.last_products() } else { Vec::new() };
    let id = ServiceId::new(browser::random::hex_id());
    let opening = Opening { id, trainee: trainee.id, what, plan, room, products, course_book: book.id.clone() };
    leptos::task::spawn_local(async move {
        match session.open_run(opening).await {
            Ok(()) => browser::page::set_hash("#/couch/run"),
            Err(sentence) => choices.problem.set(Some(sentence)),
        }
    });
}
